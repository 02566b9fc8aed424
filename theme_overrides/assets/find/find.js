// The Find page: loads the index when it is needed, keeps the address in step with the question,
// shows the answers. What the answers are is decided in engine.js.
(function () {
  "use strict";
  var _ = window.journalWords._, ngettext = window.journalWords.ngettext;

  var F = window.JournalFinding, form = document.getElementById("ask");
  if (!form || !F) return;

  var lexiconAddress = form.dataset.lexicon, version = form.dataset.version, indexFile = form.dataset.index || "";
  var folder = lexiconAddress.replace(/lexicon\.js$/, ""), siteRoot = folder.replace(/find\/data\/$/, "");
  var field = document.getElementById("ask-q"), headerField = document.getElementById("seek");
  var selects = Array.from(form.querySelectorAll("select"));
  var count = document.getElementById("ask-count"), note = document.getElementById("ask-note");
  var said = document.getElementById("ask-said"), list = document.getElementById("ask-answers");
  var more = document.getElementById("ask-more"), clear = document.getElementById("ask-clear");
  var chosen = document.getElementById("ask-picked");
  var PAGE = 10, AT_ONCE = 3, CAPTION = 10, TEXT = 11;

  // --- parts of the index ------------------------------------------------------------------------

  var parts = new Map(), waiting = new Map(), index = null;

  // Every script of the index calls this: its name, the version it belongs to, what it holds.
  window.journalFind = function (name, of, value) {
    if (of === version) parts.set(name, value);
  };

  function load(name) {
    if (parts.has(name)) return Promise.resolve(parts.get(name));
    if (waiting.has(name)) return waiting.get(name);
    var promise = new Promise(function (resolve, reject) {
      var script = document.createElement("script");
      // A file address takes no notice of what follows the question mark; a server's caches do.
      script.src = folder + name + ".js?v=" + version;
      script.async = true;
      script.onload = function () {
        script.remove();
        if (parts.has(name)) resolve(parts.get(name));
        else reject(new Error("rebuilt"));
      };
      script.onerror = function () {
        script.remove();
        waiting.delete(name);
        reject(new Error("missing"));
      };
      document.head.appendChild(script);
    });
    waiting.set(name, promise);
    return promise;
  }

  function running(packed) {
    var total = 0, ends = F.unpack(packed).map(function (size) { return (total += size); });
    return ends;
  }

  function openIndex(plain) {
    var stemmer = new window.EnglishStemmer();
    var rules = new F.Rules(plain.rules, function (word) { return stemmer.stemWord(word); });
    var tokenizer = new F.Tokenizer(rules);
    plain.terms = F.unfront(plain.terms);
    plain.words = F.unfront(plain.words);
    plain.counts = F.unpack(plain.counts);
    plain.lengths = F.unpack(plain.lengths);
    plain.kinds = plain.kinds.flatMap(function (run) { return Array(run[1]).fill(run[0]); });
    var day = Date.parse(plain.first_date || "2000-01-01");
    var gaps = F.unpack(plain.days);
    var dates = [];
    for (var number = 0; number < plain.dated; number++) {
      if (number) day += gaps[number - 1] * 86400000;
      dates.push(new Date(day).toISOString().slice(0, 10));
    }
    plain.dates = dates;
    var lexicon = new F.Lexicon(plain, tokenizer);
    var read = new Map();
    return {
      plain: plain,
      // The same sentences come with every letter of a question: each is read once.
      tokens: function (text) {
        if (!read.has(text)) read.set(text, tokenizer.tokens(text));
        return read.get(text);
      },
      lexicon: lexicon,
      ranker: new F.Ranker(lexicon, postings),
      shelf: shelf(lexicon, rules.groups),
      facets: null,
      dates: dates,
      photos: F.unpack(plain.photos),
      shardEnds: running(plain.shards),
      deckEnds: running(plain.decks)
    };
  }

  // What can be picked, by document; loaded for the first question that is narrowed.
  function openFacets(plain) {
    var facets = { year: index.dates.map(function (date) { return [date.slice(0, 4)]; }) };
    Object.keys(plain).forEach(function (key) {
      var figures = F.unpack(plain[key].rows), values = plain[key].values, rows = [], at = 0;
      for (var number = 0; number < index.plain.dated; number++) {
        var size = figures[at++];
        rows.push(figures.slice(at, at + size).map(function (number) { return values[number]; }));
        at += size;
      }
      facets[key] = rows;
    });
    return facets;
  }

  // Where the postings of each term lie: what goes by several names first, as scripts.py lays it.
  function shelf(lexicon, groups) {
    var order = new Map();
    function lay(term) { if (lexicon.has(term) && !order.has(term)) order.set(term, order.size); }
    groups.forEach(function (group) { group[1].forEach(lay); });
    lexicon.terms.forEach(lay);
    return order;
  }

  function place(ends, number) {
    var low = 0, high = ends.length;
    while (low < high) {
      var middle = (low + high) >> 1;
      if (ends[middle] <= number) low = middle + 1;
      else high = middle;
    }
    return { part: low, at: number - (low ? ends[low - 1] : 0) };
  }

  function postings(term) {
    if (!index.shelf.has(term)) return null;
    var where = place(index.shardEnds, index.shelf.get(term));
    return parts.get("postings-" + where.part)[where.at];
  }

  function loadAll(names) {
    var missing = names.filter(function (name) { return !parts.has(name); });
    return missing.length ? Promise.all(missing.map(load)) : null;
  }

  function shardsOf(terms) {
    return unique(terms.filter(index.lexicon.has, index.lexicon).map(function (term) {
      return "postings-" + place(index.shardEnds, index.shelf.get(term)).part;
    }));
  }

  function unique(items) {
    return Array.from(new Set(items));
  }

  function deckOf(document) {
    return "cards-" + place(index.deckEnds, document).part;
  }

  // A card's places, as journal/finding/scripts.py writes them.
  function cardOf(document) {
    var where = place(index.deckEnds, document), row = parts.get("cards-" + where.part)[where.at];
    return {
      kind: row[0], id: row[1], address: row[2], title: row[3], date: row[4], day: row[5], assembly: row[6],
      steps: row[7], photos: row[8], isPrivate: row[9] & 1, draft: row[9] & 2, redone: row[9] & 4,
      cover: row[10], passages: passagesOf(row[11]), thumbs: row[12]
    };
  }

  // A caption's last place is that of its picture; another passage's is its anchor, 0 where that is the one before.
  function passagesOf(rows) {
    var anchor = "";
    return rows.map(function (row) {
      var caption = row[0] === CAPTION;
      if (row[3] !== 0 || caption) anchor = caption ? "photo-" + (row[3] + 1) : row[3] || "";
      if (/^[0-9a-f]{8}$/.test(anchor)) anchor = "said-" + anchor;
      return [row[0], row[1], row[2], caption ? row[3] : null, anchor];
    });
  }

  // --- the question and the address --------------------------------------------------------------

  function readForm() {
    var question = { q: field.value.trim().replace(/\s+/g, " ") };
    selects.forEach(function (select) { question[select.name] = select.value; });
    return question;
  }

  function fromAddress() {
    var told = new URLSearchParams(location.search);
    field.value = told.get("q") || "";
    selects.forEach(function (select) {
      var value = told.get(select.name) || "";
      select.value = value;
      // A choice that this journal does not have is no choice.
      if (select.value !== value) select.value = "";
    });
  }

  function address(question) {
    var told = new URLSearchParams();
    Object.keys(question).forEach(function (key) { if (question[key]) told.set(key, question[key]); });
    var text = told.toString();
    return location.pathname + (text ? "?" + text : "");
  }

  // A pause makes a place to come back to; letters in between do not.
  function keepAddress() {
    var question = readForm(), here = address(question);
    clearTimeout(pause);
    try {
      if (here !== location.pathname + location.search) history.pushState(null, "", here);
    } catch (error) {
      // Some browsers keep no history for file addresses: the answers come all the same.
    }
    var words = document.title.split(" · ").pop();
    document.title = (question.q ? question.q + " · Find" : "Find") + " · " + words;
  }

  // --- answers -----------------------------------------------------------------------------------

  var asked = 0, shown = PAGE, sayLater = 0, others = 0, focusNext = 0;

  function ask(reset) {
    var question = readForm(), turn = ++asked, picked = selects.filter(function (select) { return select.value; });
    if (reset) shown = PAGE;
    if (headerField && document.activeElement !== headerField) headerField.value = question.q;
    selects.forEach(function (select) { select.parentNode.classList.toggle("picked", Boolean(select.value)); });
    chosen.textContent = picked.length ? ": " + picked.map(function (select) { return select.selectedOptions[0].text; }).join(", ") : "";
    clear.hidden = !picked.length;
    document.documentElement.toggleAttribute("data-asked", Boolean(question.q || picked.length));
    // What was about to be said of another question is not said any more.
    clearTimeout(sayLater);
    if (question.q || picked.length) step(turn, question);
    else empty();
  }

  // As far as the parts at hand allow at once, so that an answer costs no turn of the event loop.
  function step(turn, question) {
    if (turn !== asked) return;
    if (!index) {
      wait(load("lexicon"), turn, question, function (plain) { if (!index) index = openIndex(plain); });
      return;
    }
    var narrowed = selects.some(function (select) { return select.value; });
    if (narrowed && !index.facets) {
      wait(load("facets"), turn, question, function (plain) { index.facets = openFacets(plain); });
      return;
    }
    var plan = F.readQuery(question.q, index.lexicon);
    var missing = loadAll(shardsOf(F.planTerms(plan)));
    if (missing) {
      wait(missing, turn, question);
      return;
    }
    var allowed = filterOf(question), answer = { hits: question.q ? [] : everything(allowed), rarity: [] };
    if (plan.slots.length) answer = index.ranker.answer(plan, allowed);
    var seen = answer.hits.slice(0, shown);
    var decks = unique(seen.map(function (hit) { return deckOf(hit.document); }));
    missing = loadAll(decks.slice(0, AT_ONCE)) || loadAll(decks);
    show(turn, question, plan, answer, seen, !missing);
    if (missing) wait(missing, turn, question);
  }

  function wait(promise, turn, question, then) {
    list.setAttribute("aria-busy", "true");
    promise.then(function (value) {
      if (then) then(value);
      step(turn, question);
    }).catch(function (error) {
      if (turn !== asked) return;
      list.removeAttribute("aria-busy");
      note.hidden = true;
      tell(error.message === "rebuilt"
        ? _("The journal was made anew since this page was opened. Load the page again to search it.")
        : _("The index of the search could not be loaded. Load the page again; if that does not help, build the site again."));
      say("");
    });
  }

  function everything(allowed) {
    var hits = [];
    for (var number = index.plain.dated - 1; number >= 0; number--) {
      if (allowed(number)) hits.push({ document: number, score: 0, mentions: new Map() });
    }
    return hits;
  }

  function filterOf(question) {
    var picked = selects.filter(function (select) { return select.value; }).map(function (select) {
      return { rows: index.facets[select.name], value: question[select.name] };
    });
    return function (number) {
      return picked.every(function (one) { return one.rows[number] && one.rows[number].indexOf(one.value) >= 0; });
    };
  }

  function empty() {
    list.textContent = count.textContent = said.textContent = "";
    list.removeAttribute("aria-busy");
    more.hidden = note.hidden = true;
  }

  // Seen at once; told to a screen reader after a pause, or it would read every letter's count, and together with what
  // else there is to say of the question.
  function say(text) {
    count.textContent = text;
    var whole = [text, note.hidden ? "" : note.textContent.trim()].filter(Boolean).join(". ");
    sayLater = setTimeout(function () { if (said.textContent !== whole) said.textContent = whole; }, 600);
  }

  function make(tag, name, text) {
    var element = document.createElement(tag);
    if (name) element.className = name;
    if (text) element.textContent = text;
    return element;
  }

  function marked(element, text, plan) {
    var at = 0, snippet = F.mark(text, plan, index);
    snippet.marks.forEach(function (pair) {
      element.append(snippet.text.slice(at, pair[0]), make("mark", "", snippet.text.slice(pair[0], pair[1])));
      at = pair[1];
    });
    element.append(snippet.text.slice(at));
    return element;
  }

  function link(address, anchor, words) {
    var hash = address.indexOf("#"), path = hash < 0 ? address : address.slice(0, hash);
    var at = anchor || (hash < 0 ? "" : address.slice(hash + 1));
    if (indexFile && (!path || path.endsWith("/"))) path += indexFile;
    return siteRoot + encodeURI(path) + (at ? "#" + at : "") + (words ? ":~:text=" + words : "");
  }

  // A sentence as a text directive (URL fragment text directives): from its first word to its last, each told apart by
  // the word of the same block that stands beside it. Few words, because a term explained is a button on the page, and
  // no run of words is found across its edge; the first of a block by so many that the page says them here first.
  function directive(card, number) {
    var passage = card.passages[number], before = card.passages[number - 1], after = card.passages[number + 1];
    var words = passage[2].split(" "), many = 1, few = 1;
    function isBeside(other) { return other && other[0] === TEXT && other[4] === passage[4]; }
    var told = isBeside(before) ? encoded(before[2].split(" ").pop()) + "-," : "";
    var above = card.passages.filter(function (one, place) { return place < number || one[3] !== null; });
    above = [card.title, card.assembly].concat(above.map(function (one) { return one[2]; })).join(" ").toLowerCase();
    while (!told && many < 4 && above.indexOf(words.slice(0, many).join(" ").toLowerCase()) >= 0) many++;
    // A heading is told with a colon that its page does not have.
    told += encoded(words.slice(0, many).join(" ").replace(/:$/, ""));
    // The end by so many that nothing before it says them.
    while (few < 3 && passage[2].indexOf(words.slice(-few).join(" ")) < passage[2].length - words.slice(-few).join(" ").length) few++;
    if (words.length >= many + few) told += "," + encoded(words.slice(-few).join(" "));
    return told + (isBeside(after) ? ",-" + encoded(after[2].split(" ")[0]) : "");
  }

  function encoded(words) { return encodeURIComponent(words).replace(/-/g, "%2D"); }

  var language = document.documentElement.lang;
  var dates = new Intl.DateTimeFormat(/^en/.test(language) ? "en-GB" : language, { dateStyle: "long", timeZone: "UTC" });

  function sayDate(iso) { return dates.format(new Date(iso)); }

  // The first at once, which is what the eye meets; the others as soon as the page has been drawn.
  function show(turn, question, plan, answer, seen, whole) {
    var total = answer.hits.length, first = focusNext ? seen.length : AT_ONCE;
    function render(hits) {
      var items = document.createDocumentFragment();
      hits.forEach(function (hit) { items.append(answerOf(hit, plan, answer.rarity)); });
      return items;
    }
    function finish() {
      if (turn !== asked) return;
      list.append(render(seen.slice(first)));
      if (!whole) return;
      var next = focusNext && list.children[focusNext];
      if (next) next.querySelector("h2 a").focus();
      focusNext = 0;
      more.hidden = total <= shown;
      list.removeAttribute("aria-busy");
    }
    // The same question may be shown again, with the cards that have come, before the rest of what was shown first.
    clearTimeout(others);
    list.setAttribute("aria-busy", "true");
    list.replaceChildren(render(seen.slice(0, first)));
    note.hidden = true;
    if (plan.unknown.length) unknown(plan, question);
    else if (question.q && !plan.slots.length) tell(_("Only words that stand everywhere. Add one that tells more."));
    if (whole) say(total ? ngettext("{count} answer", "{count} answers", total) : _("Nothing found"));
    if (seen.length > first) others = setTimeout(finish);
    else finish();
  }

  function tell(text) {
    note.hidden = false;
    note.textContent = text;
  }

  function unknown(plan, question) {
    tell("");
    // The nearest word of a large index takes a while to find: of a text pasted in, not for all.
    plan.unknown.slice(0, 3).forEach(function (word) {
      var guess = F.nearestWord(word, index.lexicon);
      note.append(_("Nothing here says “{word}”.", { word: word }), " ");
      if (!guess) return;
      var other = Object.assign({}, question);
      other.q = question.q.toLowerCase().split(" ").map(function (one) {
        return one.replace(/^[^0-9a-z]+|[^0-9a-z]+$/g, "") === word ? guess : one;
      }).join(" ");
      var again = make("a", "", guess);
      again.href = address(other);
      var around = _("Did you mean {word}?").split("{word}");
      note.append(around[0], again, around[1] + " ");
    });
  }

  // What is known of an answer while its card is on the way.
  function headOf(hit) {
    var item = make("li", "answer waiting"), text = make("div", "answer-words"), date = index.dates[hit.document];
    text.append(make("p", "strip-line", date ? sayDate(date) : LABELS[index.plain.kinds[hit.document]]));
    item.append(text);
    if (index.photos[hit.document]) item.append(make("div", "answer-picture"));
    return item;
  }

  function answerOf(hit, plan, rarity) {
    if (!parts.has(deckOf(hit.document))) return headOf(hit);
    var card = cardOf(hit.document), item = make("li", "answer"), text = make("div", "answer-words"), to = make("a");
    var worth = F.weighPassages(card.passages, hit, rarity), best = F.shownPassage(card, worth);
    var photo = F.bestPicture(card.passages, worth, card.cover), heading = make("h2"), facts = factsOf(card);
    if (!(photo in card.thumbs)) photo = null;
    to.href = link(card.address);
    heading.append(marked(to, card.title, plan));
    text.append(lineOf(card, plan), heading);
    if (facts) text.append(make("p", "facts", facts));
    // A caption is said under its picture.
    if (best !== null && (photo === null || card.passages[best][3] !== photo)) text.append(sentenceOf(card, best, plan));
    item.append(text);
    if (photo !== null) item.append(pictureOf(card, photo, plan));
    item.dataset.id = card.id;
    return item;
  }

  // What the answer is and where it belongs: a day, or the kind of thing and its number.
  function lineOf(card, plan) {
    var line = make("p", "strip-line"), mark = make("span", "daymark");
    if (card.kind === "entry") mark.append(card.day ? _("Day {day}", { day: card.day }) : _("Draft"));
    else mark.append(LABELS[card.kind] || card.kind);
    if (NUMBERED.indexOf(card.kind) >= 0 && card.id !== card.title) mark.append(" ", marked(make("span"), card.id, plan));
    line.append(mark);
    if (card.date) {
      var time = make("time", "", sayDate(card.date));
      time.dateTime = card.date;
      line.append(" ", time);
    }
    return line;
  }

  function factsOf(card) {
    var facts = [card.assembly];
    if (card.steps && card.kind !== "step") facts.push(card.steps.indexOf(" ") < 0 ? _("step {step}", { step: card.steps }) : _("steps {steps}", { steps: card.steps }));
    if (card.photos) facts.push(ngettext("{count} photo", "{count} photos", card.photos));
    if (card.redone) facts.push(_("done over"));
    if (card.isPrivate) facts.push(_("private"));
    return facts.filter(Boolean).join(" · ");
  }

  // The sentence, leading to where it stands; of what has no such place the words alone: the title leads there.
  function sentenceOf(card, best, plan) {
    var passage = card.passages[best], anchor = passage[4], line = make("p", "said-there"), to = make("a");
    if (!anchor) return marked(line, passage[2], plan);
    to.href = link(card.address, anchor, /^said-/.test(anchor) ? directive(card, best) : "");
    line.append(marked(to, passage[2], plan));
    return line;
  }

  // Kept from letter to letter, so that none is fetched, read and drawn anew.
  var images = new Map();

  // The picture with its words under it, one link to where it stands.
  function pictureOf(card, at, plan) {
    var thumb = card.thumbs[at], figure = make("figure", "answer-picture"), to = make("a");
    var image = images.get(thumb[0]) || make("img");
    var caption = card.passages.find(function (one) { return one[3] === at; }), under = make("figcaption");
    if (!images.has(thumb[0])) {
      image.loading = "lazy";
      image.width = thumb[1];
      image.height = thumb[2];
      image.src = siteRoot + "pictures/" + encodeURIComponent(thumb[0]);
      images.set(thumb[0], image);
    }
    image.alt = caption ? "" : _("Picture of {title}", { title: card.title });
    to.href = link(card.address, "photo-" + (at + 1));
    to.append(image);
    if (caption) under.append(marked(make("span", "caption"), caption[2], plan));
    if (thumb[3]) under.append(make("span", "facts", thumb[3]));
    if (under.firstChild) to.append(under);
    figure.append(to);
    return figure;
  }

  var LABELS = {
    inspection: _("Inspection"), measurement: _("Measurement"), page: _("Page"), step: _("Step"), part: _("Part"),
    term: _("Term"), "call-out": _("Call-out"), task: _("Task"), material: _("Material"), bulletin: _("Bulletin"),
    record: _("Record"), cost: _("Cost"), tool: _("Tool")
  };
  var NUMBERED = ["step", "part", "task", "bulletin"];

  // --- what the reader does ----------------------------------------------------------------------

  var pause = 0;

  field.addEventListener("input", function () {
    ask(true);
    clearTimeout(pause);
    pause = setTimeout(keepAddress, 900);
  });
  // Who follows an answer before the pause is over comes back to the question as well.
  list.addEventListener("click", keepAddress);
  form.addEventListener("submit", function (event) {
    event.preventDefault();
    keepAddress();
    ask(true);
  });
  form.addEventListener("change", function (event) {
    if (event.target === field) return;
    keepAddress();
    ask(true);
  });
  clear.addEventListener("click", function () {
    selects.forEach(function (select) { select.value = ""; });
    keepAddress();
    ask(true);
    field.focus();
  });
  more.addEventListener("click", function () {
    focusNext = shown;
    shown += PAGE;
    ask(false);
  });
  window.addEventListener("popstate", function () {
    clearTimeout(pause);
    fromAddress();
    ask(true);
  });

  fromAddress();
  ask(true);
  if (!field.value) field.focus({ preventScroll: true });
  // The lexicon is wanted for the first letter; the rest waits for a question.
  if (!index) load("lexicon").then(function (plain) { if (!index) index = openIndex(plain); }, function () {});
})();
