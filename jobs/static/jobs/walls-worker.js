// Keeps the last copy of one hand's page, for when there is no line. Network first: a
// link that was switched off answers 404 or 410, and everything kept of it goes.
"use strict";

var SCOPE = self.registration.scope;
var COPY = "my-walls " + SCOPE;
var PATIENCE_MS = 6000;
var OLDEST_MS = 7 * 24 * 3600 * 1000;

self.addEventListener("install", function (event) {
  self.skipWaiting();
  event.waitUntil(fetch(SCOPE, { cache: "no-store" }).then(keep));
});

self.addEventListener("activate", function (event) {
  event.waitUntil(self.clients.claim());
});

self.addEventListener("fetch", function (event) {
  var request = event.request;
  if (request.method !== "GET") {
    return; // the page keeps its own taps
  }
  if (request.url.split(/[?#]/)[0] === SCOPE) {
    event.respondWith(page(request));
  } else if (new URL(request.url).pathname.indexOf("/static/") === 0) {
    event.respondWith(file(request));
  }
});

function page(request) {
  var asked = fetch(request).then(keep);
  var patience = new Promise(function (resolve) {
    setTimeout(resolve, PATIENCE_MS);
  }).then(copy);
  return Promise.race([
    asked.then(function (answer) {
      return answer.status < 500 ? answer : copy().then(function (old) {
        return old || answer;
      });
    }, function () {
      return copy();
    }),
    patience.then(function (old) {
      return old || asked;
    })
  ]).then(function (answer) {
    return answer || Response.error();
  });
}

// What came is kept together with the files it names; or all is forgotten.
function keep(answer) {
  if (answer.status === 404 || answer.status === 410) {
    return forget().then(function () {
      return answer;
    });
  }
  if (answer.status !== 200) {
    return answer;
  }
  var kept = answer.clone();
  return caches.open(COPY).then(function (store) {
    return kept.clone().text().then(function (text) {
      var files = text.match(/\/static\/[^"' ]+\.(?:css|js|svg)/g) || [];
      return Promise.all([store.put(SCOPE, kept)].concat(files.map(function (name) {
        return store.match(name).then(function (there) {
          return there || store.add(name);
        });
      })));
    });
  }).catch(function () {
    // A full phone keeps no copy; the page itself is there.
  }).then(function () {
    return answer;
  });
}

function forget() {
  return caches.delete(COPY).then(function () {
    return self.registration.unregister();
  });
}

// The kept page with its sentence that it is old uncovered.
function copy() {
  return caches.open(COPY).then(function (store) {
    return store.match(SCOPE);
  }).then(function (old) {
    if (!old || Date.now() - Date.parse(old.headers.get("Date")) > OLDEST_MS) {
      return undefined;
    }
    return old.text().then(function (text) {
      var headers = new Headers(old.headers);
      headers.delete("Content-Encoding");
      headers.delete("Content-Length");
      text = text.replace('id="old-copy" hidden', 'id="old-copy"');
      return new Response(text, { status: 200, headers: headers });
    });
  });
}

// Files have their content in their names: what is kept is right for good.
function file(request) {
  return caches.open(COPY).then(function (store) {
    return store.match(request).then(function (there) {
      return there || fetch(request).then(function (answer) {
        if (answer.ok) {
          store.put(request, answer.clone());
        }
        return answer;
      });
    });
  });
}
