// The secret comes behind the # of the address, which no browser sends anywhere: into the field, and out of sight.
function take() {
  var secret = decodeURIComponent(location.hash.slice(1));
  if (!secret) { return; }
  history.replaceState(null, "", location.pathname);
  document.getElementById("secret").value = secret;
  document.getElementById("name").focus();
}
take();
addEventListener("hashchange", take);  // the code was read while this page was open
