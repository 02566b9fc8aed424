// In a preview: a rectangle is drawn on a picture, and the line that says it under `photos:` is given. Nothing is written.
(function () {
  "use strict";
  const TURNS = ["", "right", "half", "left"]; // quarters of a turn with the clock
  const WHOLE = [0, 0, 1, 1], FINEST = 1000;

  function make(tag, attributes, ...inside) {
    const one = document.createElement(tag);
    Object.entries(attributes || {}).forEach(([name, value]) => one.setAttribute(name, value));
    one.append(...inside);
    return one;
  }
  const numbers = text => text.split(" ").map(Number);
  // What is filled in grows to the next thousandth, what is kept shrinks: neither shows more than was drawn.
  function rounded(part, grows) {
    const low = grows ? Math.floor : Math.ceil, high = grows ? Math.ceil : Math.floor, slip = grows ? 1e-6 : -1e-6;
    return part.map((edge, at) => {
      const steps = at < 2 ? low(edge * FINEST + slip) : high(edge * FINEST - slip);
      return Math.min(FINEST, Math.max(0, steps)) / FINEST;
    });
  }
  const holds = part => part[0] < part[2] && part[1] < part[3];

  // A place of the picture as it is turned on the page, as a place of the part that is shown, upright; and back.
  function upright(u, v, quarters) { return [[u, v], [v, 1 - u], [1 - u, 1 - v], [1 - v, u]][quarters]; }
  function turned(x, y, quarters) { return [[x, y], [1 - y, x], [1 - x, 1 - y], [y, 1 - x]][quarters]; }
  function between(one, other) {
    return [Math.min(one[0], other[0]), Math.min(one[1], other[1]), Math.max(one[0], other[0]), Math.max(one[1], other[1])];
  }

  function begin(link, button) {
    const query = new URLSearchParams({ shown: link.pathname, page: location.pathname });
    fetch("/preview-picture?" + query).then(answer => answer.json()).then(told => {
      if (!told.name) { return; }
      const image = new Image();
      image.onload = () => open(told, image, button);
      image.src = link.href;
    });
  }

  function open(told, image, button) {
    const had = told.edits, kept = had.crop ? numbers(had.crop) : WHOLE, was = TURNS.indexOf(had.turn || "");
    const state = { turn: was, crop: had.crop || "", blur: had.blur ? had.blur.split("; ") : [] };
    let drawn = null, from = null;

    const canvas = make("canvas", { role: "img", "aria-label": "The picture, to draw a rectangle on; the four fields below do the same" });
    const what = [["blur", "Fill in"], ["crop", "Crop"]].map(([value, words], at) => make("label", {},
      make("input", { type: "radio", name: "what", value, ...(at ? {} : { checked: "" }) }), words));
    const turn = make("select", {}, ...[["", "As it was taken"], ["left", "To the left"], ["right", "To the right"], ["half", "Half round"]]
      .map(([value, words]) => make("option", { value }, words)));
    const edges = ["Left", "Top", "Right", "Bottom"].map((words, at) =>
      [words, make("input", { type: "number", min: "0", max: "1", step: "0.001", value: at < 2 ? "0" : "1" })]);
    const add = make("button", { type: "button" }, "Add this rectangle");
    const list = make("ul", { "aria-label": "Rectangles" });
    const line = make("textarea", { readonly: "", rows: "3", spellcheck: "false" });
    const copy = make("button", { type: "button" }, "Copy");
    const said = make("span", { role: "status" });
    const close = make("button", { type: "button" }, "Close");
    const dialog = make("dialog", { class: "picture-tool", "aria-labelledby": "picture-tool-title" },
      make("h2", { id: "picture-tool-title" }, "Crop, fill in or turn " + told.name),
      canvas,
      make("div", { class: "row" }, make("fieldset", {}, make("legend", {}, "A rectangle is to"), ...what), make("label", { class: "edge" }, "Turn", turn)),
      make("div", { class: "row" }, ...edges.map(([words, input]) => make("label", { class: "edge" }, words, input)), add),
      make("p", {}, "Draw on the picture, or write the edges as fractions of the upright original, from 0 to 1. What is filled in cannot be brought back in any copy; the original stays as it is."),
      list,
      make("label", { class: "edge" }, told.whole
        ? "Under photos: in " + told.file + ", in place of what is said of this picture"
        : "Under photos: in " + told.file + ", beside what is said of " + told.name, line),
      make("div", { class: "row" }, copy, close, said));
    turn.value = TURNS[was];

    const drawing = () => dialog.querySelector("[name=what]:checked").value;
    function place(event) { // of the upright original
      const box = canvas.getBoundingClientRect();
      const share = (at, start, length) => Math.min(1, Math.max(0, (at - start) / length));
      const [x, y] = upright(share(event.clientX, box.left, box.width), share(event.clientY, box.top, box.height), state.turn);
      return [kept[0] + x * (kept[2] - kept[0]), kept[1] + y * (kept[3] - kept[1])];
    }
    function on(part) { // left, top, width and height on the canvas
      const corner = (x, y) => turned((x - kept[0]) / (kept[2] - kept[0]), (y - kept[1]) / (kept[3] - kept[1]), state.turn);
      const [left, top, right, bottom] = between(corner(part[0], part[1]), corner(part[2], part[3]));
      return [left * canvas.width, top * canvas.height, (right - left) * canvas.width, (bottom - top) * canvas.height];
    }
    function paint() {
      const quarters = (state.turn - was + 4) % 4;
      canvas.width = quarters % 2 ? image.naturalHeight : image.naturalWidth;
      canvas.height = quarters % 2 ? image.naturalWidth : image.naturalHeight;
      const pen = canvas.getContext("2d");
      pen.save();
      pen.translate(canvas.width / 2, canvas.height / 2);
      pen.rotate(quarters * Math.PI / 2);
      pen.drawImage(image, -image.naturalWidth / 2, -image.naturalHeight / 2);
      pen.restore();
      const frame = (part, fill) => {
        const box = on(part), thick = Math.max(2, canvas.width / 240);
        pen.fillStyle = fill;
        pen.fillRect(...box);
        [["#000", thick * 2], ["#fff", thick]].forEach(([colour, width]) => {
          pen.strokeStyle = colour;
          pen.lineWidth = width;
          pen.strokeRect(...box);
        });
      };
      state.blur.forEach(part => frame(numbers(part), "rgb(128 128 128)"));
      if (state.crop) {
        const [left, top, width, height] = on(numbers(state.crop));
        pen.fillStyle = "rgb(0 0 0 / .6)";
        pen.fillRect(0, 0, canvas.width, top);
        pen.fillRect(0, top + height, canvas.width, canvas.height);
        pen.fillRect(0, top, left, height);
        pen.fillRect(left + width, top, canvas.width, height);
      }
      if (drawn) { frame(drawn, drawing() === "crop" ? "rgb(255 255 255 / .2)" : "rgb(128 128 128 / .8)"); }
    }
    function tell() {
      const pairs = [["turn", TURNS[state.turn]], ["crop", state.crop], ["blur", state.blur.join("; ")]]
        .filter(pair => pair[1]).map(([key, value]) => key + ": " + value);
      const all = told.said.concat(pairs), alone = all.length === 1 && told.caption && !pairs.length;
      line.value = !told.whole ? pairs.join(", ")
        : !all.length ? told.name + ': ""' : told.name + ": " + (alone ? told.caption : "{" + all.join(", ") + "}");
      const entry = (words, part, remove) => {
        const button = make("button", { type: "button", "aria-label": "Take out: " + words + " " + part }, "Take out");
        button.addEventListener("click", () => { remove(); show(); add.focus(); });
        return make("li", {}, words + " " + part, button);
      };
      list.replaceChildren(...(state.crop ? [entry("Crop", state.crop, () => { state.crop = ""; })] : []),
        ...state.blur.map((part, at) => entry("Fill in", part, () => state.blur.splice(at, 1))));
      said.textContent = "";
    }
    function show() { paint(); tell(); }
    function put(part) {
      const fair = rounded(part, drawing() === "blur");
      if (!holds(fair)) { said.textContent = "This rectangle holds nothing."; return; }
      edges.forEach(([, input], at) => { input.value = fair[at]; });
      if (drawing() === "crop") { state.crop = fair.join(" "); } else { state.blur.push(fair.join(" ")); }
      show();
    }
    canvas.addEventListener("pointerdown", event => {
      if (event.isPrimary && !event.button) { canvas.setPointerCapture(event.pointerId); from = place(event); }
    });
    canvas.addEventListener("pointermove", event => {
      if (from && event.isPrimary) { drawn = between(from, place(event)); paint(); }
    });
    function end(event) {
      if (!event.isPrimary) { return; }
      const part = event.type === "pointerup" ? drawn : null;
      from = drawn = null;
      if (part && part[2] - part[0] > .004 && part[3] - part[1] > .004) { put(part); } else { paint(); }
    }
    canvas.addEventListener("pointerup", end);
    canvas.addEventListener("pointercancel", end);
    add.addEventListener("click", () => put(edges.map(([, input]) => Number(input.value))));
    turn.addEventListener("change", () => { state.turn = TURNS.indexOf(turn.value); show(); });
    copy.addEventListener("click", () => {
      line.focus();
      line.select();
      // Over plain http from another machine the browser has no clipboard for a page.
      const done = navigator.clipboard ? navigator.clipboard.writeText(line.value) : Promise.resolve(document.execCommand("copy"));
      done.then(() => { said.textContent = "Copied."; }, () => { said.textContent = "Copy the marked line yourself."; });
    });
    close.addEventListener("click", () => dialog.close());
    dialog.addEventListener("close", () => { dialog.remove(); button.focus(); });
    document.body.append(dialog);
    dialog.showModal();
    show();
  }

  document.querySelectorAll("figure.shot[id] > a.photo").forEach(link => {
    const button = make("button", { type: "button", class: "picture-edit" }, "Crop, fill in or turn");
    const image = link.querySelector("img");
    if (image && image.alt) { button.setAttribute("aria-label", "Crop, fill in or turn: " + image.alt); }
    button.addEventListener("click", () => begin(link, button));
    link.after(button);
  });
})();
