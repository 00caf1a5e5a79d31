// My walls on a bad line: a tap is kept on the phone first and then sent, once.
// Without script every form is an ordinary one.
(function () {
  "use strict";

  var PAGE = location.pathname;
  var STORE = "taps " + PAGE;
  var AGAIN_MS = 20000;
  var PATIENCE_MS = 15000;
  var old = document.getElementById("old-copy");
  var shown = document.getElementById("taps");
  var sending = false;

  function load() {
    try {
      return JSON.parse(localStorage.getItem(STORE)) || [];
    } catch (error) {
      return [];
    }
  }

  function save(taps) {
    if (taps.length) {
      localStorage.setItem(STORE, JSON.stringify(taps));
    } else {
      localStorage.removeItem(STORE);
    }
    show(taps);
  }

  function newKey() {
    var bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    var hex = Array.from(bytes, function (byte) {
      return (byte + 256).toString(16).slice(1);
    }).join("");
    return hex.replace(/(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  }

  // What is still on the phone, and what was refused, until it is looked at.
  function show(taps) {
    shown.textContent = "";
    shown.hidden = taps.length === 0;
    taps.forEach(function (tap) {
      var line = document.createElement("p");
      line.className = tap.refused ? "tap-line refused" : "tap-line";
      line.textContent = tap.refused
        ? tap.says + " was not kept. " + tap.refused
        : tap.says + ": kept on this phone, sent as soon as there is a line.";
      if (tap.refused) {
        var button = document.createElement("button");
        button.type = "button";
        button.className = "plain";
        button.textContent = "Read it";
        button.addEventListener("click", function () {
          drop(tap.key);
        });
        line.append(" ", button);
      }
      shown.append(line);
    });
  }

  function drop(key) {
    save(load().filter(function (tap) {
      return tap.key !== key;
    }));
  }

  function refuse(key, why) {
    save(load().map(function (tap) {
      return tap.key === key ? Object.assign(tap, { refused: why }) : tap;
    }));
  }

  // One after the other; the same key makes one record however often it is sent.
  function send() {
    var tap = load().filter(function (row) {
      return !row.refused;
    })[0];
    if (sending || !tap) {
      return;
    }
    sending = true;
    var waiting = new AbortController();
    var patience = setTimeout(function () {
      waiting.abort();
    }, PATIENCE_MS);
    var body = new URLSearchParams(tap.fields);
    body.set("key", tap.key);
    body.set("ago_s", Math.max(0, Math.round((Date.now() - tap.at) / 1000)));
    fetch(PAGE, {
      method: "POST",
      body: body,
      headers: { Accept: "application/json" },
      credentials: "omit",
      signal: waiting.signal,
      cache: "no-store"
    }).then(function (answer) {
      if (answer.status === 404 || answer.status === 410) {
        localStorage.removeItem(STORE);
        location.reload();
        return undefined;
      }
      if (answer.status === 422) {
        return answer.json().then(function (said) {
          refuse(tap.key, said.status);
          return true;
        });
      }
      if (!answer.ok) {
        return false; // the service is busy: it stays kept
      }
      drop(tap.key);
      return true;
    }).catch(function () {
      return false;
    }).then(function (went) {
      sending = false;
      clearTimeout(patience);
      if (went) {
        if (load().some(function (row) { return !row.refused; })) {
          send();
        } else {
          location.reload();
        }
      }
    });
  }

  document.querySelectorAll(".tap-form").forEach(function (form) {
    form.elements.key.value = newKey(); // a kept copy is opened more than once
    form.addEventListener("submit", function (event) {
      event.preventDefault();
      if (form.hasAttribute("data-sent")) {
        return;
      }
      var fields = Array.from(new FormData(form).entries());
      var taps = load();
      var tap = {
        key: form.elements.key.value,
        at: Date.now(),
        says: form.getAttribute("data-says"),
        fields: fields
      };
      try {
        save(taps.concat(tap));
      } catch (error) { // private windows may keep nothing: send it as a form does
        form.submit();
        return;
      }
      form.setAttribute("data-sent", "");
      form.closest("details").open = false;
      setTimeout(function () {
        form.elements.key.value = newKey();
        form.removeAttribute("data-sent");
      }, 1500);
      send();
    });
  });

  // Long lists of numbers move by big steps of one.
  document.querySelectorAll(".tap-form select").forEach(function (select) {
    if (select.options.length < 15) {
      return;
    }
    var row = document.createElement("div");
    row.className = "by-one";
    select.before(row);
    [["−", -1], ["+", 1]].forEach(function (step) {
      var button = document.createElement("button");
      button.type = "button";
      button.className = "button quiet";
      button.textContent = step[0];
      button.setAttribute("aria-label", (step[1] < 0 ? "Less: " : "More: ") +
        select.labels[0].textContent);
      button.addEventListener("click", function () {
        if (select.value === "") {
          select.value = select.getAttribute("data-from");
          return;
        }
        var at = select.selectedIndex + step[1];
        select.selectedIndex = Math.min(Math.max(at, 1), select.options.length - 1);
      });
      row.append(button);
    });
    row.firstChild.after(select);
  });

  show(load());
  send();
  setInterval(send, AGAIN_MS);
  window.addEventListener("online", function () {
    if (load().some(function (row) { return !row.refused; })) {
      send();
    } else if (!old.hidden) {
      location.reload();
    }
  });
  if ("serviceWorker" in navigator) {
    navigator.serviceWorker.register("worker.js").catch(function () {
      // Without one the page needs a line to be opened; taps are kept all the same.
    });
  }
})();
