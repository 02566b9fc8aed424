/* Small helps; every page reads without them. */

/* What scripts say: the words as they stand, or those that the page brings along in its own language. */
window.journalWords = (function () {
  "use strict";
  var brought = document.getElementById("words"), said = brought ? JSON.parse(brought.textContent) : {};
  function filled(text, places) {
    return text.replace(/\{(\w+)\}/g, function (all, name) { return name in (places || {}) ? places[name] : all; });
  }
  return {
    _: function (text, places) { return filled(said[text] || text, places); },
    ngettext: function (one, many, number) {
      var forms = said[one], form = number < 200 ? number : 100 + number % 100;
      return filled(forms ? forms[said[""][form]] : number === 1 ? one : many, { count: number });
    }
  };
})();
(function () {
  "use strict";
  var root = document.documentElement, _ = window.journalWords._;

  /* paper or blueprint, remembered */
  var button = document.querySelector(".paper-switch");
  var dark = window.matchMedia("(prefers-color-scheme: dark)");
  function isBlueprint() {
    var said = root.getAttribute("data-md-color-scheme");
    return said ? said === "slate" : dark.matches;
  }
  function tell() {
    button.textContent = isBlueprint() ? _("Paper") : _("Blueprint");
    button.setAttribute("aria-label", isBlueprint() ? _("Show on paper") : _("Show as a blueprint"));
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
})();
