/* Small helps; every page reads without them. */
(function () {
  "use strict";
  var root = document.documentElement;

  /* paper or blueprint, remembered */
  var button = document.querySelector(".paper-switch");
  var dark = window.matchMedia("(prefers-color-scheme: dark)");
  function isBlueprint() {
    var said = root.getAttribute("data-md-color-scheme");
    return said ? said === "slate" : dark.matches;
  }
  function tell() {
    button.textContent = isBlueprint() ? "Paper" : "Blueprint";
    button.setAttribute("aria-label", isBlueprint() ? "Show on paper" : "Show as a blueprint");
  }
  if (button) {
    button.hidden = false;
    tell();
    button.addEventListener("click", function () {
      var next = isBlueprint() ? "default" : "slate";
      root.setAttribute("data-md-color-scheme", next);
      try { localStorage.setItem("journal-paper", next); } catch (e) { /* private window: not remembered */ }
      tell();
    });
    dark.addEventListener("change", tell);
  }

  /* films: nothing is fetched from their host until the reader presses */
  document.querySelectorAll(".film[data-embed] > a").forEach(function (link) {
    link.addEventListener("click", function (event) {
      if (event.metaKey || event.ctrlKey || event.shiftKey) { return; }
      event.preventDefault();
      var frame = document.createElement("iframe");
      frame.src = link.parentNode.getAttribute("data-embed");
      frame.title = link.parentNode.getAttribute("data-title");
      frame.allow = "autoplay; fullscreen; picture-in-picture";
      frame.allowFullscreen = true;
      frame.referrerPolicy = "strict-origin-when-cross-origin";
      link.replaceWith(frame);
      frame.focus();
    });
  });

  /* addresses to copy */
  document.querySelectorAll("[data-copy]").forEach(function (copy) {
    if (!navigator.clipboard) { return; }
    copy.hidden = false;
    copy.addEventListener("click", function () {
      navigator.clipboard.writeText(copy.getAttribute("data-copy")).then(function () { copy.textContent = "Copied"; });
    });
  });

  /* Opened from a disk: no server adds the page to the address of a folder. */
  if (location.protocol === "file:") {
    var lead = function (event) {
      var link = event.target.closest && event.target.closest("a[href]");
      var form = event.type === "submit" && event.target;
      if (!link && !form) { return; }
      var name = form ? "action" : "href";
      var said = (form || link).getAttribute(name);
      var parts = /^([^?#]*)(.*)$/.exec(said);
      if (/^[a-z][a-z0-9+.-]*:|^\/\//i.test(said) || (parts[1] && !/(^|\/)\.{0,2}$/.test(parts[1]))) { return; }
      if (parts[1]) { (form || link).setAttribute(name, parts[1].replace(/\/?$/, "/") + "index.html" + parts[2]); }
    };
    ["mousedown", "click", "submit"].forEach(function (kind) { document.addEventListener(kind, lead, true); });
  }
})();
