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
    now();
  }
  function count(within, selector) { return within.querySelectorAll(selector).length; }
  function now() {
    var cards = document.querySelectorAll("#now .station");
    for (var c = 0; c < cards.length; c++) {
      var station = cards[c].getAttribute("data-station");
      var next = null, open = 0, all = 0;
      for (var s = 0; s < sections.length; s++) {
        if (sections[s].getAttribute("data-station") !== station || !sections[s].hasAttribute("data-work")) { continue; }
        var total = count(sections[s], "input[type=checkbox]");
        if (!total) { continue; }
        all += 1;
        if (count(sections[s], "input[type=checkbox]:checked") < total) { open += 1; next = next || sections[s]; }
      }
      var link = cards[c].querySelector(".next"), left = cards[c].querySelector(".left");
      var old = link.querySelector("svg");
      if (old) { link.removeChild(old); }
      if (!all) { continue; }
      left.textContent = open ? open + " of " + all + (all > 1 ? " sheets" : " sheet") + " to tick" : "Every box is ticked.";
      if (!next) { continue; }
      link.setAttribute("href", "#" + next.id);
      var what = link.querySelector(".what"), title = next.querySelector("h2").cloneNode(true);
      what.textContent = "";
      while (title.firstChild) { what.appendChild(title.firstChild); }
      var picture = next.querySelector("svg");
      if (picture) {
        picture = picture.cloneNode(true);
        picture.setAttribute("aria-hidden", "true");
        picture.removeAttribute("aria-label");
        picture.setAttribute("class", "small");
        link.appendChild(picture);
      }
    }
  }
  function only(station) {
    var parts = document.querySelectorAll("section.page, #contents [data-station]");
    for (var p = 0; p < parts.length; p++) {
      var away = station && parts[p].getAttribute("data-station") !== station;
      parts[p].classList[away ? "add" : "remove"]("away");
    }
    var buttons = document.querySelectorAll(".only button");
    for (var b = 0; b < buttons.length; b++) {
      buttons[b].setAttribute("aria-pressed", String(buttons[b].getAttribute("data-only") === station));
    }
  }
  var row = document.querySelector(".only");
  if (row) {
    row.hidden = false;
    row.addEventListener("click", function (event) {
      var button = event.target.closest("button");
      if (!button) { return; }
      read();
      kept.only = button.getAttribute("data-only");
      write();
      only(kept.only);
    });
  }
  if (!read()) { say("This browser does not remember ticks: tick on paper too."); }
  if (kept.plan && kept.plan !== plan) { say("The plan has changed since the ticks shown here were made: look them over, or clear them."); }
  show();
  if (typeof kept.only === "string" && document.querySelector('section.page[data-station="' + kept.only.replace(/\W/g, "") + '"]')) { only(kept.only); }
  document.addEventListener("click", function (event) {
    var link = event.target.closest ? event.target.closest("a[href^='#']") : null;
    var goal = link && document.getElementById(link.getAttribute("href").slice(1));
    if (goal && goal.classList.contains("away")) { only(""); }
    var fold = link && link.getAttribute("href") === "#contents" && document.querySelector("#contents details");
    if (fold) { fold.open = true; }
  });
  document.addEventListener("change", function (event) {
    var box = event.target;
    if (!box || box.type !== "checkbox") { return; }
    read();
    kept.plan = plan;
    if (box.checked) { kept[box.id] = 1; } else { delete kept[box.id]; }
    say(write() ? "Kept." : "This browser does not remember ticks: tick on paper too.");
    now();
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
