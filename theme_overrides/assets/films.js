/* Films play where their poster stands; without this the browser opens them by themselves. */
(function () {
  "use strict";
  document.querySelectorAll("a.clip").forEach(function (link) {
    link.addEventListener("click", function (event) {
      if (event.metaKey || event.ctrlKey || event.shiftKey) { return; }
      event.preventDefault();
      var image = link.querySelector("img"), film = document.createElement("video");
      film.src = link.href;
      film.controls = true;
      film.playsInline = true;
      film.width = image.width;
      film.height = image.height;
      film.poster = image.currentSrc || image.src;
      film.setAttribute("aria-label", image.alt);
      link.replaceWith(film);
      film.focus();
      film.play().catch(function () { /* the reader presses play */ });
    });
  });
})();
