/* Enlarges the pictures of a page in place: keys, swipe, caption, next and previous.
 *
 * A picture is a link `a.photo` to its largest rendition, with `data-pswp-width` and
 * `data-pswp-height`; its caption, capture day included, is the figcaption of its figure. Without
 * this script, or if the viewer cannot be loaded, the link opens the picture itself.
 *
 * A classic script on purpose: browsers load no modules from file addresses, where the archive is
 * read. The viewer (PhotoSwipe, MIT) is fetched when the first picture is pressed, not before.
 */
(function () {
  "use strict";
  var _ = window.journalWords ? window.journalWords._ : function (words) { return words; };

  var here = document.currentScript.src.replace(/[^/]*$/, "");
  var viewer = null;

  function fetchViewer() {
    viewer = viewer || new Promise(function (resolve, reject) {
      var style = document.createElement("link");
      style.rel = "stylesheet";
      style.href = here + "photoswipe.css";
      var script = document.createElement("script");
      script.src = here + "photoswipe.umd.min.js";
      var styled = new Promise(function (done) { style.onload = style.onerror = done; });
      script.onload = function () { styled.then(function () { resolve(window.PhotoSwipe); }); };
      script.onerror = function () { viewer = null; reject(new Error("the picture viewer is missing")); };
      document.head.append(style, script);
    });
    return viewer;
  }

  /* The words under a picture: its figcaption without the notes that explain terms. */
  function captionOf(link) {
    var figure = link.closest("figure");
    var caption = figure && figure.querySelector("figcaption");
    if (!caption) { return ""; }
    var words = caption.cloneNode(true);
    words.querySelectorAll("[popover]").forEach(function (note) { note.remove(); });
    return words.textContent.replace(/\s+/g, " ").trim();
  }

  function open(PhotoSwipe, links, pressed) {
    var still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
    var pictures = links.map(function (link) {
      var small = link.querySelector("img");
      return {
        src: link.href,
        width: Number(link.dataset.pswpWidth),
        height: Number(link.dataset.pswpHeight),
        msrc: small ? small.currentSrc || small.src : undefined,
        alt: small ? small.alt : "",
        element: link,
        caption: captionOf(link)
      };
    });
    var shown = new PhotoSwipe({
      dataSource: pictures,
      index: links.indexOf(pressed),
      loop: false,
      bgOpacity: 1,
      showHideAnimationType: still ? "none" : "zoom",
      zoomAnimationDuration: still ? 0 : 250,
      showAnimationDuration: still ? 0 : 250,
      hideAnimationDuration: still ? 0 : 250,
      easing: "ease-out",
      closeTitle: _("Close"),
      zoomTitle: _("Zoom"),
      arrowPrevTitle: _("Previous picture"),
      arrowNextTitle: _("Next picture"),
      errorMsg: _("This picture cannot be loaded."),
      paddingFn: function (screen) {
        return { top: 48, bottom: screen.x < 700 ? 120 : 84, left: 0, right: 0 };
      }
    });
    shown.on("uiRegister", function () {
      shown.ui.registerElement({
        name: "caption",
        order: 9,
        isButton: false,
        appendTo: "root",
        onInit: function (box) {
          box.setAttribute("aria-live", "polite");
          shown.on("change", function () { box.textContent = shown.currSlide.data.caption || ""; });
        }
      });
    });
    shown.on("bindEvents", function () {
      shown.element.setAttribute("aria-label", _("Pictures of this page"));
      shown.element.setAttribute("aria-modal", "true");
    });

    /* On a phone the way back is the way out of the picture, not out of the page. */
    var wentBack = false;
    function back() { wentBack = true; shown.close(); }
    history.pushState({ picture: true }, "");
    window.addEventListener("popstate", back);
    shown.on("destroy", function () {
      window.removeEventListener("popstate", back);
      if (!wentBack) { history.back(); }
      links[shown.currIndex].focus({ preventScroll: true });
      links[shown.currIndex].scrollIntoView({ block: "nearest", behavior: "auto" });
    });
    shown.init();
  }

  document.addEventListener("click", function (press) {
    var link = press.target.closest && press.target.closest("a.photo[data-pswp-width]");
    if (!link || press.defaultPrevented || press.button || press.metaKey || press.ctrlKey || press.shiftKey || press.altKey) { return; }
    press.preventDefault();
    var entry = link.closest("article, main") || document.body;
    var links = Array.from(entry.querySelectorAll("a.photo[data-pswp-width]"));
    fetchViewer().then(
      function (PhotoSwipe) { open(PhotoSwipe, links, link); },
      function () { window.location.href = link.href; }
    );
  });
})();
