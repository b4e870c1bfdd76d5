// Tells the first page when the inbox was last looked at, in words; rewritten by every sign of life.
(function () {
  "use strict";
  var looked = /*LOOKED*/ null;
  function ago(seconds) {
    if (seconds < 90) { return "less than two minutes ago"; }
    if (seconds < 5400) { return Math.round(seconds / 60) + " minutes ago"; }
    if (seconds < 172800) { return Math.round(seconds / 3600) + " hours ago"; }
    return Math.round(seconds / 86400) + " days ago";
  }
  function tell() {
    var place = document.getElementById("looked");
    if (!place || !looked) { return; }
    var at = new Date(looked.at), seconds = (Date.now() - at.getTime()) / 1000;
    var when = at.toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
    var words = "The inbox was last looked at " + when + ", " + ago(seconds) + ".";
    var old = seconds > 6 * looked.every_seconds;
    if (!looked.watching) {
      words += " The watcher was stopped then: new files wait until vatting watch or vatting run is started.";
    } else if (old) {
      words += " That is too long: the watcher has ended or hangs. New files wait; start vatting watch again.";
    } else if (looked.trouble) {
      words += " Trouble: " + looked.trouble;
    }
    place.textContent = words;
    place.className = !looked.watching || old || looked.trouble ? "looked warns" : "looked";
  }
  document.addEventListener("DOMContentLoaded", tell);
  window.setInterval(tell, 30000);
})();
