(function () {
  "use strict";
  var body = document.body, at = body.dataset.at, version = body.dataset.version;
  var PAUSE = 180, asked = 0, shownNow = 0, timer = 0, sheets = {};
  function id(name) { return document.getElementById(name); }
  function say(words) { var p = id("say"); p.textContent = words || ""; p.hidden = !words; }
  function saved(words) { id("saved").textContent = words; }
  function style(name, text) {
    if (!sheets[name]) { sheets[name] = new CSSStyleSheet(); document.adoptedStyleSheets = document.adoptedStyleSheets.concat(sheets[name]); }
    sheets[name].replaceSync(text || "");
  }
  function post(what, data, then) {
    data.version = version; data.at = data.at === undefined ? at : data.at;
    return fetch("/" + what, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(data), credentials: "same-origin", keepalive: what === "set" })
      .then(function (r) { if (!r.ok) { throw new Error(r.status + " " + r.statusText); } return r.json(); })
      .then(then, function (e) { say(e instanceof TypeError ? "fabplan does not answer any more: was it ended? Nothing typed since is written." : "Refused: " + e.message); });
  }
  function get(url, then, missed) {
    fetch(url, { credentials: "same-origin" }).then(function (r) { if (!r.ok) { throw new Error(r.statusText); } return r.json(); }).then(then, missed || function () { });
  }
  function go(where) { leaving = true; if (where) { location.assign(where); } else { location.reload(); } }
  var leaving = false;

  // faults beside their fields
  function faults(found) {
    var boxes = document.querySelectorAll("#form .fault");
    for (var i = 0; i < boxes.length; i++) {
      var name = boxes[i].id.slice("fault-".length), words = found[name] || [], field = id("i-" + name);
      var now = words.join("\n");
      if (boxes[i].dataset.now !== now) {
        boxes[i].dataset.now = now; boxes[i].textContent = "";
        words.forEach(function (w) { var p = document.createElement("p"); p.textContent = w; boxes[i].appendChild(p); });
      }
      if (field) { if (words.length) { field.setAttribute("aria-invalid", "true"); } else { field.removeAttribute("aria-invalid"); } }
      if (words.length) { var d = boxes[i].closest("details"); if (d) { d.open = true; } }
    }
  }
  function sections(found) {
    var all = document.querySelectorAll("[data-bad]");
    for (var i = 0; i < all.length; i++) { var n = found[all[i].dataset.bad]; all[i].textContent = n ? n + " to mend" : ""; }
  }
  var own = {};
  function answer(r, number) {
    if (number < shownNow) { return; }
    shownNow = number;
    own = r.faults; faults(own); sections(r.sections);
    id("told").innerHTML = r.told;
    if (r.board.trim() || r.sound) { style("board", r.style); id("board").innerHTML = r.board; id("beside").classList.remove("old"); } else { id("beside").classList.add("old"); }
    if (r.serial) { whole(r.serial); }
  }
  function field(el, what) {
    var number = ++asked, text = el.value, mine = version;
    return post(what, { name: el.name, text: text }, function (r) {
      if (!r) { return; }
      if (!r.ok) {
        if (r.stale && what === "try") {  // a change of this page's own was written meanwhile: look again; else load again
          queue.then(function () { if (version !== mine) { if (number === asked) { field(el, "try"); } } else { stale(r); } });
          return;
        }
        if (r.stale) { stale(r); return; }
        var one = {}; one[el.name] = [r.say]; if (number >= shownNow) { shownNow = number; faults(Object.assign({}, own, one)); }
        if (what === "set") { saved("not written"); look(); }
        return;
      }
      say("");
      if (what === "set") { version = r.version; el.dataset.was = text; saved(new Date().toTimeString().slice(0, 8)); document.querySelector("[data-do=back]").disabled = !r.steps; }
      answer(r, number);
      if (what === "set" && el.dataset.newForm) { go(""); }
    });
  }
  function stale(r) { say(r.say); setTimeout(function () { go(""); }, 1800); }
  var form = id("form"), queue = Promise.resolve(), writing = 0;
  if (form) {
    form.addEventListener("submit", function (e) { e.preventDefault(); });
    form.addEventListener("input", function (e) {
      var el = e.target; if (!el.name) { return; }
      clearTimeout(timer); saved("typing");
      timer = setTimeout(function () { field(el, "try"); }, PAUSE);
    });
    form.addEventListener("change", function (e) {
      var el = e.target; if (!el.name) { return; }
      clearTimeout(timer);
      body.dataset.writing = ++writing;
      queue = queue.then(function () { return field(el, "set"); }).then(function () { body.dataset.writing = --writing; });
    });
    document.addEventListener("click", function (e) {  // a link waits until what was typed is written
      var link = e.target.closest("a[href]");
      if (link && writing && !e.ctrlKey && !e.metaKey && link.getAttribute("href")[0] !== "#") { e.preventDefault(); queue.then(function () { go(link.href); }); }
    });
  }
  var add = id("add");
  if (add) { add.addEventListener("submit", function (e) { e.preventDefault(); add.querySelector("button").click(); }); }

  // the slower part of what check says back
  var waiting = 0, watch = 0;
  function whole(serial) {
    waiting = serial; clearTimeout(watch); body.dataset.whole = "going";
    (function ask(seen, pause) {  // the answer comes when there is news
      get("/whole?serial=" + serial + "&seen=" + seen + "&at=" + encodeURIComponent(at), function (r) {
        if (serial !== waiting || r.gone) { return; }
        if (r.html && r.html.trim()) { id("whole").innerHTML = r.html; }
        if (r.pictures !== null && r.pictures !== undefined) { style("whole", r.style); id("whole-pictures").innerHTML = r.pictures; }
        if (r.faults && Object.keys(r.faults).length) { faults(Object.assign({}, own, r.faults)); }
        if (r.told && r.told.trim()) { id("told").innerHTML = r.told; }
        body.dataset.whole = r.done ? "done" : "going";
        pause = r.seen === seen ? Math.min(400, pause * 1.4) : 30;
        if (!r.done) { watch = setTimeout(function () { ask(r.seen, pause); }, pause); }
      }, function () { if (serial === waiting) { watch = setTimeout(function () { ask(seen, 400); }, 1000); } });
    })(-1, 30);
  }
  if (id("whole") && Number(body.dataset.serial)) { whole(Number(body.dataset.serial)); }

  // buttons
  var doing = {
    again: function () { post("again", {}, function (r) { if (r) { go(r.go); } }); },
    back: function () { post("back", {}, done); },
    text: function (b) { var t = id(b.dataset.of); post("text", { at: t.dataset.text, text: t.value }, done); },
    add: function (b) { var w = id("new-what"); post("add", { table: b.dataset.of, name: id("new-name").value, what: w ? w.value : "" }, done); },
    like: function () { var p = at.split("."); post("add", { table: p[0], like: Number(p[1]), name: id("like-name").value }, done); },
    drop: function (b) { if (window.confirm(b.textContent + "?")) { post("drop", {}, done); } },
    group: function (b) { post("group", { name: b.dataset.of, begin: b.dataset.begin ? 1 : 0 }, done); },
    begin: function () { id("begin").disabled = true; post("begin", {}, function (r) { if (r && !r.ok) { say(r.say); id("begin").disabled = false; } else { run(r); } }); },
    stop: function () { id("stop").disabled = true; post("stop", {}, run); }
  };
  function done(r) { if (!r) { return; } if (r.stale) { stale(r); } else if (r.ok) { go(r.go); } else { say(r.say); look(); } }
  document.addEventListener("click", function (e) {
    var b = e.target.closest("[data-do]"); if (b && doing[b.dataset.do]) { say(""); queue.then(function () { doing[b.dataset.do](b); }); }
  });
  ["new-name", "like-name"].forEach(function (name) {
    var el = id(name); if (el) { el.addEventListener("keydown", function (e) { if (e.key === "Enter") { e.preventDefault(); el.closest("fieldset").querySelector("button").click(); } }); }
  });

  // the plan under way
  var runTimer = 0;
  function run(r) {
    if (!r || !id("run")) { return; }
    if (r.html !== undefined) { id("run").innerHTML = r.html; }
    body.dataset.run = r.going ? "going" : "done";
    id("stop").disabled = !r.going || r.stopping; if (!r.going) { id("begin").disabled = false; }
    clearTimeout(runTimer);
    if (r.going) { runTimer = setTimeout(runAgain, 300); }
  }
  function runAgain() { get("/plan", run, function () { runTimer = setTimeout(runAgain, 1500); }); }
  if (id("run")) { runAgain(); }

  // another program at the same file
  function look() {
    if (document.hidden || leaving) { return; }
    get("/state", function (r) {
      id("changed").hidden = !r.changed.length;
      id("changed-lines").textContent = r.changed.join("\n");
    });
  }
  setInterval(look, 2000);
  // lines typed as text are written by their button: leaving them is asked about
  var loose = 0;
  document.addEventListener("input", function (e) { if (e.target.dataset.text !== undefined) { loose = 1; saved("not yet"); } });
  window.addEventListener("beforeunload", function (e) { if (loose && !leaving) { e.preventDefault(); } });
})();
