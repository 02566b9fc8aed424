// Asks whether there is something newer than this page, and shows it.
(function () {
  var own = document.currentScript, seen = Number(own.dataset.seen);
  function ask() {
    fetch("/preview-wait?seen=" + seen).then(function (answer) { return answer.json(); }).then(function (told) {
      if (told.version !== seen) { location.reload(); } else { ask(); }
    }).catch(function () { setTimeout(ask, 1000); });
  }
  ask();
})();
