/* The page at the bench. What is written here is kept in this browser first, then sent, each thing once, and taken out
   when the computer has said that it is written. Plain script of 2021: phones at benches are old. */
(function () {
  "use strict";

  var PIECE = 512 * 1024;
  var WAITS = [1, 2, 4, 8, 15, 30];
  var page = newKey();
  var state = null;
  var shown = "";
  var answered = false;
  var tries = 0;
  var timer = 0;
  var sending = false;
  var elsewhere = false;
  var waitingNow = [];
  var coming = 0;
  var last = "";

  function byId(id) { return document.getElementById(id); }

  function newKey() {
    var bytes = new Uint8Array(12);
    crypto.getRandomValues(bytes);
    return Array.from(bytes, function (one) { return one.toString(16).padStart(2, "0"); }).join("");
  }

  /* make("p", {class: "fine"}, "words", node …): never from HTML, so that nothing a file says can become a script */
  function make(name, given) {
    var node = document.createElement(name);
    Object.entries(given || {}).forEach(function (pair) {
      if (pair[0] === "onclick") { node.addEventListener("click", pair[1]); }
      else if (pair[1] !== false && pair[1] !== undefined) { node.setAttribute(pair[0], pair[1] === true ? "" : pair[1]); }
    });
    for (var at = 2; at < arguments.length; at += 1) { node.append(arguments[at]); }
    return node;
  }

  function press(words, does, kind) {
    return make("button", { type: "button", class: "press " + (kind || ""), onclick: does }, words);
  }

  // -- what waits, kept in the browser's own database ------------------------------------------------

  var store = (function () {
    var memory = new Map();
    var opened = new Promise(function (resolve) {
      var fails = function () { byId("no-store").hidden = false; resolve(null); };
      try {
        var request = indexedDB.open("bench", 1);
        request.onupgradeneeded = function () { request.result.createObjectStore("waiting", { keyPath: "key" }); };
        request.onsuccess = function () { resolve(request.result); };
        request.onerror = fails;
      } catch (trouble) { fails(); }
    });
    function act(mode, does) {
      return opened.then(function (database) {
        return database && new Promise(function (resolve, reject) {
          var change = database.transaction("waiting", mode);
          var request = does(change.objectStore("waiting"));
          change.oncomplete = function () { resolve(request.result); };
          change.onerror = change.onabort = function () { reject(change.error); };
        });
      });
    }
    return {
      put: function (thing) {
        return act("readwrite", function (kept) { return kept.put(thing); }).then(function (done) {
          if (done === null) { memory.set(thing.key, thing); } else { memory.delete(thing.key); }
        }, function () { memory.set(thing.key, thing); byId("no-store").hidden = false; });
      },
      drop: function (key) {
        memory.delete(key);
        return act("readwrite", function (kept) { return kept.delete(key); });
      },
      all: function () {
        return act("readonly", function (kept) { return kept.getAll(); }).catch(function () { return []; }).then(function (kept) {
          return (kept || []).concat(Array.from(memory.values())).sort(function (one, other) { return one.order - other.order; });
        });
      },
    };
  }());

  if (navigator.storage && navigator.storage.persist) { navigator.storage.persist().catch(function () { return false; }); }

  /* thing: {key, kind, at, …}; file: what the camera gave; said: how it is called here until it is sent */
  function keep(thing, said, file, fields) {
    var now = Date.now();
    var whole = Object.assign({ key: newKey(), at: now, assembly: byId("assembly").value || remembered("assembly") || "", private: byId("private").checked }, thing);
    if (file) { whole.size = file.size; }
    return store.put({ key: whole.key, order: now, sent: whole, said: said, file: file || null, fields: fields || [], refused: "" }).then(function () {
      return drawWaiting();
    }).then(function () { tries = 0; send(); });
  }

  // -- sending ------------------------------------------------------------------------------------

  function ask(address, given) {
    var stop = new AbortController();
    var late = setTimeout(function () { stop.abort(); }, 40000);
    var options = Object.assign({ signal: stop.signal, cache: "no-store", headers: {} }, given);
    options.headers = Object.assign({ "X-Page": page }, options.headers);
    return fetch(address, options).then(function (answer) {
      return answer.json().catch(function () { return {}; }).then(function (told) {
        if (answer.status === 401) { location.assign("/let-in"); }
        return { status: answer.status, told: told };
      });
    }).finally(function () { clearTimeout(late); });
  }

  function post(address, body) {
    return ask(address, { method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json" } });
  }

  function send() {
    if (sending || elsewhere) { return; }
    sending = true;
    clearTimeout(timer);
    sendAll().then(function (moved) {
      sending = false;
      tries = 0;
      online(true);
      if (moved) { refresh(); }
    }, function () {
      sending = false;
      online(false);
      timer = setTimeout(send, 1000 * WAITS[Math.min(tries, WAITS.length - 1)]);
      tries += 1;
    });
  }

  /* Words before pictures: a tick need not wait for a film. Resolves to whether anything was taken. */
  async function sendAll() {
    var moved = false;
    for (;;) {
      var waiting = (await store.all()).filter(function (one) { return !one.refused; });
      var next = waiting.find(function (one) { return !one.file; }) || waiting[0];
      if (!next) { return moved; }
      var answer = await sendOne(next);
      if (answer.status === 200) {
        await store.drop(next.key);
        (next.fields || []).forEach(empty);
        say(answer.told.said, answer.told.told);
        moved = true;
      } else if (answer.status === 409) {
        elsewhere = true;
        drawElsewhere();
        return moved;
      } else if (answer.status === 422 || answer.status === 413) {
        if (answer.told.asks === "upload") { throw new Error("again"); }
        next.refused = answer.told.message || "It was not taken.";
        next.asks = answer.told.asks || "";
        await store.put(next);
        say(next.refused, [], true);
      } else {
        if (answer.told.message) { say(answer.told.message + ". It waits here and is sent again.", [], true); }
        throw new Error("status " + answer.status);
      }
      await drawWaiting();
    }
  }

  async function sendOne(one) {
    if (one.file) {
      var come = (await ask("/arriving/" + one.key)).told.size || 0;
      while (come < one.file.size) {
        var piece = one.file.slice(come, come + PIECE);
        var told = await ask("/arriving/" + one.key + "?offset=" + come, { method: "POST", body: piece });
        if (told.status !== 200) { return told; }
        come = told.told.size;
        showPart(one.key, come / one.file.size);
      }
    }
    return post("/sent", Object.assign({ now: Date.now() }, one.sent));
  }

  function refresh() {
    return ask("/state").then(function (answer) {
      if (answer.status !== 200) { throw new Error("status " + answer.status); }
      state = answer.told;
      drawnAt = Date.now();
      online(true);
      draw();
    }).catch(function () { online(false); });
  }

  function online(yes) {
    answered = yes;
    drawLink();
  }

  // -- drawing ------------------------------------------------------------------------------------

  /* What was done stands in the line that stays on the screen; what is wrong stays until it was read. */
  function say(words, more, wrong) {
    last = words;
    drawLink();
    if (!wrong && !(more && more.length)) { return; }
    var box = byId("outcome");
    if (box.hidden) { box.replaceChildren(); }
    box.hidden = false;
    box.className = "outcome wrong";
    var told = make("div", {}, words);
    (more || []).forEach(function (one) { told.append(make("p", { class: "wrong-words" }, one)); });
    if (more && more.length && state) { told.append(make("p", { class: "fine" }, state.caution)); }
    box.querySelectorAll("button").forEach(function (one) { one.remove(); });
    box.append(told, press("I have read it", function () { box.hidden = true; }, "small"));
  }

  function drawLink() {
    store.all().then(function (waiting) {
      var count = waiting.length + coming;
      var words = count ? count + " not yet sent" : "All is written down";
      if (coming) { words += ", " + coming + " of them not yet kept: leave the page open"; }
      byId("link").className = answered ? "link" : "link off";
      byId("link").textContent = answered ? [words, last].filter(Boolean).join(". ") : "The computer does not answer; " + (count ? count + " kept here" : "what you write is kept here");
    });
  }

  function drawElsewhere() {
    say("This page is open a second time on this phone, and goes on there.", [], true);
    byId("outcome").lastChild.replaceWith(press("Go on here", function () {
      post("/page", { page: page }).then(function () { elsewhere = false; byId("outcome").hidden = true; refresh(); send(); });
    }, "small"));
  }

  async function drawWaiting() {
    var waiting = await store.all();
    waitingNow = waiting;
    if (state) { drawClocks(); drawSteps(); }
    byId("waiting-part").hidden = !waiting.length;
    byId("waiting").replaceChildren.apply(byId("waiting"), waiting.map(function (one) {
      var row = make("li", { "data-key": one.key }, one.said);
      if (one.file) { row.append(make("span", { class: "when part" }, " " + size(one.file.size))); }
      if (one.refused) {
        row.append(make("p", { class: "wrong-words" }, one.refused));
        if (one.asks === "until") { row.append(untilField(one)); }
        if (one.sent.text && !one.file) {
          row.append(press("Back into the note", function () {
            byId("note").value = [byId("note").value, one.sent.text].filter(Boolean).join("\n");
            remember("note", byId("note").value);
            store.drop(one.key).then(drawWaiting);
          }, "small"));
        }
        row.append(press("Send it again", function () { one.refused = ""; store.put(one).then(drawWaiting).then(send); }, "small"));
        row.append(press("Take it out", function () {
          if (confirm("Take this out? It is not written down anywhere else.")) { store.drop(one.key).then(drawWaiting); }
        }, "small"));
      }
      return row;
    }));
    document.querySelectorAll("[data-form]").forEach(function (place) {
      var one = waiting.find(function (kept) { return kept.fields && kept.fields[0] === place.dataset.form; });
      place.textContent = one ? one.refused || "This waits to be sent." : "";
      place.previousSibling.disabled = Boolean(one && !one.refused);
    });
    drawLink();
  }

  function untilField(one) {
    var id = "until-" + one.key;
    var field = make("input", { id: id, type: "text", inputmode: "numeric", placeholder: "21:15" });
    return make("div", {}, make("label", { for: id }, "When did it end?"), field, press("That was it", function () {
      one.sent.until = field.value.trim();
      one.refused = "";
      store.put(one).then(drawWaiting).then(send);
    }, "small"));
  }

  function showPart(key, part) {
    var place = document.querySelector('[data-key="' + key + '"] .part');
    if (place) { place.textContent = " " + Math.round(100 * part) + " % sent"; }
  }

  function size(bytes) { return bytes < 1e6 ? Math.ceil(bytes / 1e3) + " kB" : (bytes / 1e6).toFixed(1) + " MB"; }

  function draw() {
    byId("name").textContent = state.name;
    byId("caution").textContent = state.caution;
    drawClocks();
    drawAssemblies();
    drawSteps();
    drawWritten();
    drawDrafts();
  }

  function ran(clock) {
    var before = clock.from ? Date.now() - clock.from : new Date(state.at) - new Date(clock.since) + Date.now() - drawnAt;
    var minutes = Math.max(0, Math.floor(before / 60000));
    return Math.floor(minutes / 60) + " h " + String(minutes % 60).padStart(2, "0") + " min";
  }
  var drawnAt = Date.now();

  function drawClocks() {
    if (byId("clocks").contains(document.activeElement) && document.activeElement.tagName === "INPUT") { return; }
    var buttons = state.people.filter(function (one) { return one.builder || runs(one.id); }).map(clockOf);
    byId("clocks").replaceChildren.apply(byId("clocks"), buttons);
    var others = state.people.filter(function (one) { return !one.builder && !runs(one.id); });
    byId("others").replaceChildren();
    if (others.length) {
      byId("others").append(make("details", {}, make("summary", {}, "Somebody else"), make("div", { class: "clocks inside" })));
      others.forEach(function (one) { byId("others").querySelector(".clocks").append(clockOf(one)); });
    }
  }

  /* As the computer has it, and as it will be once what waits is sent. */
  function runs(person) {
    var clock = state.clocks.find(function (one) { return one.person === person; });
    waitingNow.forEach(function (one) {
      var turns = ["start", "stop"].includes(one.sent.kind) && !one.refused && (one.sent.people || []).includes(person);
      if (turns) { clock = one.sent.kind === "start" ? { person: person, from: one.sent.at, assembly: one.sent.assembly } : undefined; }
    });
    return clock;
  }

  function titleOf(assembly) {
    var one = state.assemblies.find(function (known) { return known.id === assembly; });
    return one ? one.title : "";
  }

  function clockOf(person) {
    var clock = runs(person.id);
    if (clock && clock.forgotten) { return forgottenOf(person, clock); }
    var said = clock ? "Stop (" + [titleOf(clock.assembly), ran(clock)].filter(Boolean).join(", ") + ")" : "Start";
    var turn = function (kind) { return keep({ kind: kind, people: [person.id] }, person.name + ": " + kind); };
    var button = press(person.name, function () {
      button.disabled = true;
      turn(clock ? "stop" : "start");
    }, clock ? "runs" : "");
    button.append(make("span", {}, said));
    var box = make("div", {}, button);
    if (clock && clock.assembly && clock.assembly !== byId("assembly").value) {
      box.append(press("Go on with " + titleOf(byId("assembly").value), function () {
        turn("stop").then(function () { turn("start"); });
      }, "small"));
    }
    return box;
  }

  function forgottenOf(person, clock) {
    var id = "ended-" + person.id;
    var field = lasting(make("input", { id: id, type: "text", inputmode: "numeric", placeholder: "21:15" }));
    return make("div", {}, make("label", { for: id }, person.name + "’s clock has run since " + clock.said + ". When did it end?"), field, press("It ended then", function () {
      if (!field.value.trim()) { field.focus(); return; }
      keep({ kind: "stop", people: [person.id], until: field.value.trim() }, person.name + ": stop", null, [id]);
    }));
  }

  function drawAssemblies() {
    var list = byId("assembly");
    var listed = JSON.stringify(state.assemblies);
    if (listed === shown) { return; }
    var before = list.value || remembered("assembly") || state.assembly;
    shown = listed;
    list.replaceChildren.apply(list, state.assemblies.map(function (one) { return make("option", { value: one.id }, one.title); }));
    list.value = state.assemblies.some(function (one) { return one.id === before; }) ? before : state.assembly;
  }

  /* What stands already stays where it is, opened and filled in as it was; while a finger is in it nothing moves. */
  function drawSteps() {
    var steps = state.steps.filter(function (one) { return one.assembly === byId("assembly").value; });
    var left = steps.filter(function (one) { return one.state !== "done"; });
    var first = left.filter(function (one) { return one.state === "begun" || one.marks.length; });
    var next = left.filter(function (one) { return !first.includes(one); });
    var near = first.concat(next.slice(0, 6));
    var rest = steps.filter(function (one) { return !near.includes(one); });
    var box = byId("steps");
    var there = new Map(Array.from(box.querySelectorAll("details[data-step]"), function (one) { return [one.dataset.step, one]; }));
    var nodeOf = function (step) {
      var node = there.get(step.id) || stepOf(step);
      drawMarks(node, step);
      return node;
    };
    var nodes = near.map(nodeOf);
    var others = rest.map(nodeOf);
    var order = byId("assembly").value + " " + near.concat(["/"], rest).map(function (one) { return one.id; }).join(" ");
    if (box.dataset.order === order || (box.contains(document.activeElement) && box.dataset.order && box.dataset.order.startsWith(byId("assembly").value + " "))) { return; }
    box.dataset.order = order;
    box.replaceChildren.apply(box, nodes);
    if (others.length) {
      var inside = make("div", { class: "inside" });
      inside.append.apply(inside, others);
      box.append(make("details", {}, make("summary", {}, "All other steps of this assembly (" + others.length + ")"), inside));
    }
    if (!steps.length) { box.append(make("p", { class: "fine" }, "steps.csv names no steps of this assembly.")); }
  }

  function drawMarks(node, step) {
    var marks = step.marks.concat(waitingNow.filter(function (one) {
      return one.sent.kind === "step" && one.sent.step === step.id && !one.refused;
    }).map(function (one) { return { begun: "begun", steps: "done", redone: "done again" }[one.sent.mark]; }));
    var states = marks.length ? Array.from(new Set(marks)) : step.state ? [step.state] : [];
    var place = node.querySelector(".states");
    node.querySelectorAll("[data-mark]").forEach(function (button) {
      button.classList.toggle("runs", states.includes(button.dataset.mark));
      button.hidden = button.dataset.mark === "done again" && step.state !== "done" && !states.includes("done again");
    });
    place.replaceChildren.apply(place, states.map(function (one) { return make("span", { class: "state " + one }, one); }));
  }

  function stepOf(step) {
    var head = make("summary", {}, make("span", { class: "number" }, step.id), make("span", { class: "what" }, step.title), make("span", { class: "states" }));
    var whole = make("details", { "data-step": step.id }, head);
    whole.addEventListener("toggle", function () { if (whole.open) { fill(whole); } });
    return whole;
  }

  /* What is inside a step is made when it is opened: a build has hundreds. */
  function fill(whole) {
    var step = state.steps.find(function (one) { return one.id === whole.dataset.step; });
    if (!step || whole.querySelector(".inside")) { return; }
    var box = make("div", { class: "inside" });
    if (step.page) { box.append(make("p", { class: "fine" }, "Manual, page " + step.page)); }
    if (step.closes) { box.append(make("p", { class: "wrong-words" }, "This closes " + step.closes + ": look inside and take the pictures first.")); }
    var marks = make("div", { class: "marks" });
    [["begun", "Begun"], ["steps", "Done"], ["redone", "Done again"]].forEach(function (mark) {
      var button = press(mark[1], function () {
        keep({ kind: "step", step: step.id, mark: mark[0] }, "Step " + step.id + ": " + mark[1].toLowerCase());
      });
      button.dataset.mark = mark[1].toLowerCase();
      marks.append(button);
    });
    box.append(marks, stepNote(step), stepPicture(step));
    step.asked.forEach(function (asked, number) { box.append(askedOf(step, asked, number)); });
    box.append(folded("Another bolt torqued", torqueForm(step, { name: "bolt", part: "" }, "t")));
    box.append(folded("Other rivets set", rivetForm(step, { name: "rivet", part: "" }, "r")));
    whole.append(box);
    drawMarks(whole, step);
  }

  function folded(words, form) { return make("details", {}, make("summary", {}, words), form); }

  function stepNote(step) {
    var id = "note-" + step.id;
    var field = lasting(make("textarea", { id: id, rows: "2", maxlength: "20000" }));
    return make("div", {}, make("label", { for: id }, "Note on this step"), field, press("Write it down", function () {
      if (!field.value.trim()) { return; }
      keep({ kind: "note", step: step.id, text: field.value }, "Note on step " + step.id).then(function () { empty(field.id); });
    }));
  }

  function stepPicture(step) {
    var id = "picture-" + step.id;
    var input = make("input", { id: id, type: "file", accept: "image/*,video/*", multiple: true });
    input.addEventListener("change", function () { takeFiles(input, step); });
    return make("p", {}, make("label", { class: "press", for: id }, "Picture or film of this step", input));
  }

  function askedOf(step, asked, number) {
    var form = { torque: torqueForm, fasteners: rivetForm, material: materialForm, measured: measuredForm }[asked.kind];
    var words = "The manual asks: " + asked.what + " " + asked.said;
    return form ? folded(words, form(step, asked, "a" + number)) : make("p", {}, words);
  }

  function fields(step, prefix, rows) {
    return rows.map(function (row) {
      var id = prefix + "-" + row[0] + "-" + step.id;
      var field = make("input", { id: id, type: "text", maxlength: "200", autocomplete: "off", placeholder: row[2] || "", "data-name": row[0] });
      field.value = row[3] || "";
      lasting(field);
      return [make("label", { for: id }, row[1]), field];
    });
  }

  function lineForm(step, kind, pairs, words) {
    var box = make("div", {});
    pairs.forEach(function (pair) { box.append(pair[0], pair[1]); });
    var ids = pairs.map(function (pair) { return pair[1].id; });
    box.append(press("Write it down", function () {
      var row = {};
      pairs.forEach(function (pair) { if (pair[1].value.trim()) { row[pair[1].dataset.name] = pair[1].value.trim(); } });
      var refused = waitingNow.filter(function (one) { return one.refused && one.fields && one.fields[0] === ids[0]; });
      Promise.all(refused.map(function (one) { return store.drop(one.key); })).then(function () {
        keep({ kind: kind, step: step.id, row: row }, words + ": " + Object.values(row).join(", "), null, ids);
      });
    }), make("p", { class: "wrong-words", "data-form": ids[0] }));
    return box;
  }

  function torqueForm(step, asked, prefix) {
    return lineForm(step, "torque", fields(step, prefix + "t", [
      [asked.name, "Bolt, screw or fitting", "its part number", asked.part], ["value", "What the wrench shows, with its unit", "62 in-lb, 7.0 N m"],
      ["drag", "Of it the drag of the nut, if felt", "8 in-lb"], ["nut", "Nut", "part number, or self-locking"], ["wrench", "Wrench", ""],
    ]), "Torque");
  }

  function rivetForm(step, asked, prefix) {
    return lineForm(step, "fasteners", fields(step, prefix + "f", [
      [asked.name, asked.name[0].toUpperCase() + asked.name.slice(1), "its part number", asked.part], ["count", "How many", "48"], ["grip", "Grip", "0.125 in"], ["edge", "Edge distance", "0.28 in"],
      ["shop_head", "Shop head, width x height", "0.19 in x 0.06 in"],
    ]), "Rivets");
  }

  function measuredForm(step, asked, prefix) {
    return lineForm(step, "measured", fields(step, prefix + "m", [["what", "What", "", asked.what], ["value", "The figure, with its unit", ""]]), "Measured");
  }

  function materialForm(step, asked, prefix) {
    if (!state.materials.length) { return make("p", { class: "fine" }, "materials.csv names no batch that is at hand."); }
    var id = prefix + "-material-" + step.id;
    var list = make("select", { id: id });
    state.materials.forEach(function (one) {
      list.append(make("option", { value: one.id }, one.name + (one.past ? " (" + one.past + ")" : "")));
    });
    return make("div", {}, make("label", { for: id }, "Batch used"), list, press("Write it down", function () {
      keep({ kind: "material", step: step.id, items: [list.value] }, "Used: " + list.selectedOptions[0].textContent);
    }));
  }

  function drawWritten() {
    var list = byId("written");
    list.replaceChildren.apply(list, state.written.map(function (one) {
      var row = make("li", {}, make("span", { class: "when" }, one.at + " "), make("span", { class: one.back ? "gone" : "" }, one.said));
      row.append(make("span", { class: "when" }, " " + one.by + (one.back ? ", taken back" : "")));
      if (!one.back) {
        row.append(make("div", {}, press("Take back", function () {
          if (!confirm("Take this back? " + one.said)) { return; }
          post("/take-back", { key: one.key }).then(function (answer) {
            say(answer.told.said || answer.told.message || "That did not work.", [], answer.status !== 200);
            return refresh();
          }, function () { online(false); });
        }, "small")));
      }
      return row;
    }));
    if (!state.written.length) { list.append(make("li", { class: "fine" }, "Nothing yet.")); }
  }

  function drawDrafts() {
    var box = byId("drafts");
    var typed = new Map(Array.from(box.querySelectorAll("input"), function (one) { return [one.id, one]; }));
    if (box.contains(document.activeElement)) { return; }
    box.replaceChildren.apply(box, state.drafts.map(function (one) {
      var id = "title-" + one.id;
      var field = typed.get(id);
      if (!field) {
        field = make("input", { id: id, type: "text", maxlength: "200" });
        field.value = one.title;
        lasting(field);
      }
      var tick = make("input", { id: "finished-" + one.id, type: "checkbox" });
      tick.checked = typed.has(tick.id) && typed.get(tick.id).checked;
      var facts = [one.day, one.hours || "no hours yet", one.pictures === 1 ? "1 picture" : one.pictures + " pictures"].filter(Boolean).join(", ");
      var box = make("div", {}, make("label", { for: id }, "What was done: " + one.assembly + " (" + facts + ")"), field);
      if (!one.hours) {
        var told = typed.get("hours-" + one.id) || lasting(make("input", { id: "hours-" + one.id, type: "text", placeholder: "2:45 or 18:30-21:15" }));
        box.append(make("label", { for: told.id }, "How long did each work?"), told);
      }
      box.append(make("label", { class: "tick" }, tick, " Finished: it counts from now on"));
      return box;
    }));
    byId("close").disabled = !state.drafts.length;
    if (!state.drafts.length) { box.append(make("p", { class: "fine" }, "There is no draft.")); }
  }

  function drawToday(all) {
    return ask("/today" + (all ? "?private=yes" : "")).then(function (answer) {
      var box = byId("today");
      box.replaceChildren();
      (answer.told.parts || []).forEach(function (part) {
        var list = make("ul", { class: "list" });
        part.lines.forEach(function (line) { list.append(make("li", {}, line)); });
        box.append(make("h3", {}, part.heading), list);
      });
      if (!box.childNodes.length) { box.append(make("p", { class: "fine" }, "Nothing that waits for you.")); }
    }, function () { online(false); });
  }

  // -- what is pressed ------------------------------------------------------------------------------

  function remember(name, value) { try { localStorage.setItem("bench-" + name, value); } catch (trouble) { return; } }
  function remembered(name) { try { return localStorage.getItem("bench-" + name); } catch (trouble) { return null; } }

  /* What is typed is kept as it is typed: a phone that runs short of memory throws pages away. */
  function lasting(field) {
    var usual = field.value;
    field.value = remembered(field.id) || usual;
    field.dataset.usual = usual;
    field.addEventListener("input", function () { remember(field.id, field.value); });
    return field;
  }
  function empty(id) {
    if (byId(id)) { byId(id).value = byId(id).dataset.usual || ""; }
    try { localStorage.removeItem("bench-" + id); } catch (trouble) { return; }
  }

  function takeFiles(input, step) {
    var caption = byId("caption").value.trim();
    var files = Array.from(input.files);
    coming += files.length;
    drawLink();
    files.reduce(function (before, file, number) {
      return before.then(function () {
        var words = number === 0 ? caption : "";
        return keep({ kind: "picture", step: step ? step.id : "", text: words, at: Date.now() }, (file.type.startsWith("video") ? "Film" : "Picture") + (words ? ": " + words : ""), file);
      }).then(function () { coming -= 1; drawLink(); });
    }, Promise.resolve()).then(function () { empty("caption"); input.value = ""; });
  }

  ["camera", "film", "gallery"].forEach(function (id) {
    byId(id).addEventListener("change", function () { takeFiles(byId(id)); });
  });
  lasting(byId("note"));
  lasting(byId("caption"));
  byId("write").addEventListener("click", function () {
    var text = byId("note").value;
    if (!text.trim()) { byId("note").focus(); return; }
    keep({ kind: "note", text: text }, "Note").then(function () { empty("note"); });
  });
  byId("assembly").addEventListener("change", function () { remember("assembly", byId("assembly").value); drawClocks(); drawSteps(); });
  byId("private").checked = remembered("private") === "yes";
  byId("secrecy").hidden = !byId("private").checked;
  byId("private").addEventListener("change", function () {
    remember("private", byId("private").checked ? "yes" : "");
    byId("secrecy").hidden = !byId("private").checked;
  });
  byId("show-private").addEventListener("click", function () { drawToday(true); byId("show-private").hidden = true; });
  byId("close").addEventListener("click", function () {
    var titles = {};
    var hours = {};
    var fields = [];
    var finished = [];
    var bare = [];
    state.drafts.forEach(function (one) {
      var told = byId("hours-" + one.id);
      var clocked = state.people.some(function (person) { var clock = runs(person.id); return clock && clock.entry === one.id; });
      titles[one.id] = byId("title-" + one.id).value.trim();
      if (told && told.value.trim()) { hours[one.id] = told.value.trim(); }
      if (byId("finished-" + one.id).checked) {
        finished.push(one.id);
        if (!titles[one.id] || !(one.hours || hours[one.id] || clocked)) { bare.push(one.assembly); }
      }
      fields.push("title-" + one.id, "hours-" + one.id);
    });
    var asked = bare.length ? "No title, or no hours, are told of: " + bare.join(", ") + ". Let it count all the same?" : "";
    if (asked && !confirm(asked)) { return; }
    keep({ kind: "close", titles: titles, hours: hours, items: finished }, "Close the day", null, fields);
  });

  window.addEventListener("online", function () { tries = 0; send(); });
  document.addEventListener("visibilitychange", function () { if (!document.hidden) { tries = 0; refresh().then(send); } });
  setInterval(function () { if (state && !document.hidden) { drawClocks(); } }, 30000);
  byId("plain-http").hidden = location.protocol === "https:";
  drawWaiting();
  post("/page", { page: page }).then(refresh, refresh).then(function () { send(); return drawToday(false); });
}());
