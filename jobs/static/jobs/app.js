// What a page does beyond plain links and forms. Every page works without it.
(function () {
  "use strict";

  // A part that keeps itself fresh must not be swapped away under someone's hands:
  // wait while a field or an opened detail inside it is in use.
  function inUse(part) {
    var active = document.activeElement;
    var typing = active && part.contains(active) &&
      /^(INPUT|SELECT|TEXTAREA)$/.test(active.tagName);
    return typing || part.querySelector("details[open]") !== null;
  }

  document.addEventListener("htmx:beforeRequest", function (event) {
    var part = event.target;
    if (part.hasAttribute("data-fresh") && inUse(part)) {
      event.preventDefault();
    }
  });

  // Focus stays where it was when a fresh part replaces the old one.
  var focused = "";
  document.addEventListener("htmx:beforeSwap", function () {
    focused = document.activeElement ? document.activeElement.id : "";
  });
  document.addEventListener("htmx:afterSwap", function () {
    var again = focused && document.getElementById(focused);
    if (again && document.activeElement !== again) {
      again.focus({ preventScroll: true });
    }
  });

  // One click is one wish: a form that was sent is not sent twice.
  document.addEventListener("submit", function (event) {
    if (event.defaultPrevented) {
      return;
    }
    var form = event.target;
    if (form.hasAttribute("data-sent")) {
      event.preventDefault();
      return;
    }
    form.setAttribute("data-sent", "");
  });
  // Coming back with the browser's own button, the form may be sent again.
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) {
      form.removeAttribute("data-sent");
    });
  });

  document.addEventListener("click", function (event) {
    var button = event.target.closest("[data-print], [data-copy]");
    if (!button) {
      return;
    }
    if (button.hasAttribute("data-print")) {
      window.print();
      return;
    }
    var field = document.getElementById(button.getAttribute("data-copy"));
    field.select();
    if (navigator.clipboard) {
      navigator.clipboard.writeText(field.value).then(function () {
        button.textContent = "Copied";
      });
    }
  });

  // A kind of surface brings its own usual recipe, until one was chosen by hand.
  document.addEventListener("change", function (event) {
    var recipe = document.querySelector("[data-by-kind]");
    if (!recipe) {
      return;
    }
    if (event.target === recipe) {
      recipe.setAttribute("data-chosen", "");
    }
    var usual = JSON.parse(recipe.getAttribute("data-by-kind"))[event.target.value];
    if (event.target.name === "kind" && usual && !recipe.hasAttribute("data-chosen")) {
      recipe.value = usual;
    }
  });

  // A new job's zone begins as the phone's own, where no job before says otherwise.
  document.querySelectorAll("[data-zone]").forEach(function (field) {
    if (!field.value && !field.hasAttribute("aria-invalid")) {
      field.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
    }
  });

  // Buttons that only work with script appear only with script.
  document.querySelectorAll("[data-needs-script]").forEach(function (element) {
    element.hidden = false;
  });
})();
