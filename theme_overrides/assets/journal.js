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
  var root = document.documentElement, _ = window.journalWords._, ngettext = window.journalWords.ngettext;

  /* light or dark, remembered */
  var button = document.querySelector(".paper-switch");
  var dark = window.matchMedia("(prefers-color-scheme: dark)");
  function isDark() {
    var said = root.getAttribute("data-md-color-scheme");
    return said ? said === "slate" : dark.matches;
  }
  function tell() {
    button.textContent = isDark() ? _("Light") : _("Dark");
  }
  if (button) {
    button.hidden = false;
    tell();
    button.addEventListener("click", function () {
      var next = isDark() ? "default" : "slate";
      root.setAttribute("data-md-color-scheme", next);
      try { localStorage.setItem("journal-paper", next); } catch (e) { /* private window: not remembered */ }
      tell();
    });
    dark.addEventListener("change", tell);
  }

  /* what is new since the last visit: kept in this browser alone */
  var since = document.querySelector(".since");
  if (since) {
    var shown = [].map.call(document.querySelectorAll(".newest h2 a, .cards h3 a"), function (link) { return link.pathname; });
    var last = null;
    try {
      /* For as long as the tab is open the visit before it counts. */
      last = sessionStorage.getItem("journal-before") || localStorage.getItem("journal-newest");
      if (last) { sessionStorage.setItem("journal-before", last); }
      localStorage.setItem("journal-newest", shown[0]);
    } catch (e) { /* private window: not remembered */ }
    if (last) {
      var fresh = shown.indexOf(last);
      since.textContent = fresh === 0 ? _("Nothing is new since your last visit.")
        : fresh < 0 ? _("More than {count} entries are new since your last visit.", { count: shown.length - 1 })
        : ngettext("{count} entry is new since your last visit.", "{count} entries are new since your last visit.", fresh);
      since.hidden = false;
      [].slice.call(document.querySelectorAll(".card"), 0, fresh < 0 ? shown.length : Math.max(fresh - 1, 0)).forEach(function (card) {
        card.classList.add("is-new");
      });
    }
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

  /* the picture that the address leads to can be printed, alone on a sheet (journal.css says how) */
  function offerPrint() {
    var before = document.querySelector(".print-picture"), told = document.querySelector(".sheet-address code");
    var figure = /^#photo-\d+$/.test(location.hash) && document.getElementById(location.hash.slice(1));
    if (before) { before.remove(); }
    if (!figure || !told || !figure.querySelector("img")) { return; }
    var offer = document.createElement("button"), image = figure.querySelector("img");
    told.textContent = told.textContent.replace(/#.*/, "") + location.hash;
    offer.type = "button";
    offer.className = "plain print-picture";
    offer.textContent = _("Print this picture");
    offer.addEventListener("click", function () {
      /* A sheet is wider than a screen in the hand: a larger form first, where there is one. */
      image.sizes = "60rem";
      image.loading = "eager";
      image.decode().catch(function () { /* printed as it stands */ }).then(function () { window.print(); });
    });
    figure.append(offer);
  }
  offerPrint();
  window.addEventListener("hashchange", offerPrint);

  /* addresses to copy */
  document.querySelectorAll("[data-copy]").forEach(function (copy) {
    if (!navigator.clipboard) { return; }
    copy.hidden = false;
    copy.addEventListener("click", function () {
      navigator.clipboard.writeText(copy.getAttribute("data-copy")).then(function () { copy.textContent = _("Copied"); });
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
