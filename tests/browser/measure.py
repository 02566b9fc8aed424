"""What is wrong with the layout of a page, measured in the browser: sentences, none where all is well."""

from __future__ import annotations

from playwright.sync_api import Page

MEASURE = r"""() => {
  const wrong = [], root = document.documentElement;
  const say = (what, element, text) => wrong.push(
    `${what}: ${(text || element.textContent || "").trim().replace(/\s+/g, " ").slice(0, 60)}`
    + ` (${element.tagName.toLowerCase()}.${[...element.classList].join(".")})`);
  const shown = element => element.checkVisibility({checkVisibilityCSS: true, checkOpacity: true});
  const unseen = new Set(
    [...document.querySelectorAll("body *")].filter(one => getComputedStyle(one).clipPath.startsWith("inset(50%")));
  const hidden = element => {
    if (element.closest(".skip, [popover], svg, .pswp, .film-words")) return true;
    for (let at = element; at; at = at.parentElement) if (unseen.has(at)) return true;
    return false;
  };
  // A word that even most of the page's width could not hold has to be broken.
  const pen = document.createElement("canvas").getContext("2d");
  const page = document.querySelector("main").clientWidth;
  const fits = (word, style) => {
    pen.font = style.font; pen.letterSpacing = style.letterSpacing === "normal" ? "0px" : style.letterSpacing;
    return pen.measureText(style.textTransform === "uppercase" ? word.toUpperCase() : word).width < page * 0.8;
  };

  const over = root.scrollWidth - root.clientWidth;
  if (over > 0) wrong.push(`${over} px too wide`);

  // Words: every run of letters in one piece. Breaks are allowed after a hyphen, a slash, a dash.
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const range = document.createRange(), lines = [];
  for (let node; node = walker.nextNode();) {
    const parent = node.parentElement;
    if (!node.data.trim() || !shown(parent) || hidden(parent)) continue;
    if (!parent.closest("code, pre"))
      for (const word of node.data.matchAll(/[\p{L}\p{M}\p{N}.,:’']+/gu)) {
        range.setStart(node, word.index); range.setEnd(node, word.index + word[0].length);
        const tops = new Set([...range.getClientRects()].filter(r => r.width > 0.5).map(r => Math.round(r.top / 4)));
        if (tops.size > 1 && fits(word[0], getComputedStyle(parent))) say("a word is broken", parent, word[0]);
      }
    range.selectNodeContents(node);
    for (const r of range.getClientRects())
      if (r.width > 1 && r.height > 1) lines.push({r, parent, text: node.data});
  }

  // Lines of text over one another: a quarter of the smaller one's height in common, and some width.
  lines.sort((a, b) => a.r.top - b.r.top);
  for (let i = 0; i < lines.length; i++)
    for (let j = i + 1; j < lines.length && lines[j].r.top < lines[i].r.bottom - 1; j++) {
      const a = lines[i].r, b = lines[j].r;
      const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      const less = Math.min(a.height, b.height);
      // Boxes of lines are taller than letters: neighbours of one paragraph may share a little.
      if (wide > 2 && high > less * 0.45) {
        say("text over text", lines[j].parent, lines[i].text + " / " + lines[j].text);
        break;
      }
    }

  for (const dd of document.querySelectorAll("dd, .cells dd, figcaption .caption, .step-title, .row-title")) {
    if (!shown(dd) || hidden(dd)) continue;
    const style = getComputedStyle(dd), size = parseFloat(style.fontSize);
    const room = dd.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
    const letter = dd.textContent.trim().length;
    // Twelve figures of the label face are about 5.2 of its size wide.
    if (letter > 12 && dd.clientHeight > size * 2.2 && room < size * 5.2)
      say(`a value is ${Math.round(room)} px narrow`, dd);
  }

  for (const box of document.querySelectorAll("main *")) {
    if (hidden(box) || !shown(box)) continue;
    const style = getComputedStyle(box);
    const down = box.scrollHeight - box.clientHeight, side = box.scrollWidth - box.clientWidth;
    if (style.display === "inline" || box.tagName === "IMG") continue;
    if (["auto", "scroll", "hidden", "clip"].includes(style.overflowY) && down > 3 && style.overflowY !== "visible"
        && !(style.overflowX === "auto" && down < 20)) say(`${down} px hidden below`, box);
    if (["hidden", "clip"].includes(style.overflowX) && side > 3) say(`${side} px hidden at the side`, box);
    // What scrolls sideways has to show that it does.
    if (style.overflowX === "auto" && side > 3 && !style.backgroundImage.includes("gradient")
        && style.borderRightStyle !== "dashed" && !box.matches("pre, .prose-table"))
      say("scrolls sideways without a sign", box);
  }

  // The picture of an entry is no thumbnail, and the story of the front page comes before any list.
  const text = document.querySelector(".entry .text"), lead = text && text.querySelector("img");
  if (lead && lead.clientWidth < text.clientWidth * 0.5 && lead.clientHeight < window.innerHeight * 0.4)
    say(`a lead picture is ${lead.clientWidth} px wide`, lead, lead.alt);
  const newest = document.querySelector(".newest"), list = document.querySelector(".shares, .aircraft");
  if (newest && list && list.getBoundingClientRect().top < newest.getBoundingClientRect().bottom)
    say("a list or the drawing stands before the story", list);
  // More than a hundred steps are folded, but where work is going on.
  if (document.body.matches(".page-steps") && document.querySelectorAll(".steps li").length > 100
      && document.querySelectorAll("details").length > 1 && !document.querySelector("details:not([open])"))
    say("steps without a fold", document.querySelector("details"));
  return [...new Set(wrong)];
}"""

WATCH_SHIFT = """window.shift = 0; new PerformanceObserver(list => { for (const one of list.getEntries())
if (!one.hadRecentInput) window.shift += one.value; }).observe({type: "layout-shift", buffered: true});"""

ON_THE_FIRST_SCREEN = """() => {
  const high = window.innerHeight;
  const prose = [...document.querySelectorAll(".entry .prose > *")].find(one => !one.matches(".figures, figure"));
  const pictures = [...document.querySelectorAll(".entry .text img")];
  return {
    words: prose ? prose.getBoundingClientRect().top + 24 < high : true,
    picture: pictures.length ? pictures.some(one => one.getBoundingClientRect().top + 60 < high) : true,
  };
}"""


def wrong_on(page: Page) -> list[str]:
    """Everything that is wrong with the page as it stands."""
    return list(page.evaluate(MEASURE))
