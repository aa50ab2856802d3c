(function () {
  "use strict";
  var key = document.documentElement.getAttribute("data-keep");
  var boxes = document.querySelectorAll("input[type=checkbox]");
  var plan = document.documentElement.getAttribute("data-plan");
  var told = document.getElementById("kept");
  var kept = {};
  var sections = document.querySelectorAll("section.page");
  for (var s = 0; s < sections.length; s++) {
    var inside = sections[s].querySelectorAll("input[type=checkbox]");
    for (var n = 0; n < inside.length; n++) { inside[n].id = sections[s].id + "." + (n + 1); }
  }
  function say(words) { if (told) { told.textContent = words; } }
  function read() {
    try { kept = JSON.parse(window.localStorage.getItem(key) || "{}") || {}; return true; } catch (e) { kept = {}; return false; }
  }
  function write() {
    try { window.localStorage.setItem(key, JSON.stringify(kept)); return true; } catch (e) { return false; }
  }
  function show() {
    for (var i = 0; i < boxes.length; i++) { boxes[i].checked = kept[boxes[i].id] === 1; }
  }
  if (!read()) { say("This browser does not remember ticks: tick on paper too."); }
  if (kept.plan && kept.plan !== plan) { say("The plan has changed since the ticks shown here were made: look them over, or clear them."); }
  show();
  document.addEventListener("change", function (event) {
    var box = event.target;
    if (!box || box.type !== "checkbox") { return; }
    read();
    kept.plan = plan;
    if (box.checked) { kept[box.id] = 1; } else { delete kept[box.id]; }
    say(write() ? "Kept." : "This browser does not remember ticks: tick on paper too.");
  });
  window.addEventListener("storage", function (event) { if (event.key === key) { read(); show(); } });
  var clear = document.getElementById("clear");
  if (clear) {
    clear.hidden = false;
    clear.addEventListener("click", function () {
      if (window.confirm("Clear every tick of this job on this device?")) { kept = {}; write(); show(); say("All ticks cleared."); }
    });
  }
})();
