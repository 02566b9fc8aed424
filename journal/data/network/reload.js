// Asks whether there is something newer than this page, and shows it.
(function () {
  var own = document.currentScript, seen = Number(own.dataset.seen);
  function ask() {
    fetch("/preview-wait?seen=" + seen).then(function (answer) { return answer.json(); }).then(function (told) {
      var open = document.querySelector("dialog[open]"); // what is drawn there would be lost
      if (told.version === seen) { ask(); } else if (open) { open.addEventListener("close", function () { location.reload(); }); } else { location.reload(); }
    }).catch(function () { setTimeout(ask, 1000); });
  }
  ask();
})();
