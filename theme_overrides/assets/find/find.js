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
  var list = document.getElementById("ask-answers"), lines = document.getElementById("ask-lines");
  var more = document.getElementById("ask-more"), clear = document.getElementById("ask-clear");
  var examples = document.getElementById("ask-examples");
  var PAGE = 10;

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
    var facets = {};
    Object.keys(plain.facets).forEach(function (key) {
      var figures = F.unpack(plain.facets[key].rows), values = plain.facets[key].values, rows = [], at = 0;
      for (var sheet = 0; sheet < plain.sheets; sheet++) {
        var size = figures[at++];
        rows.push(figures.slice(at, at + size).map(function (number) { return values[number]; }));
        at += size;
      }
      facets[key] = rows;
    });
    var day = Date.parse(plain.first_date || "2000-01-01");
    var gaps = F.unpack(plain.days);
    var dates = [];
    for (var sheet = 0; sheet < plain.sheets; sheet++) {
      if (sheet) day += gaps[sheet - 1] * 86400000;
      dates.push(new Date(day).toISOString().slice(0, 10));
    }
    facets.year = dates.map(function (date) { return [date.slice(0, 4)]; });
    var lexicon = new F.Lexicon(plain, tokenizer);
    return {
      plain: plain,
      tokenizer: tokenizer,
      lexicon: lexicon,
      ranker: new F.Ranker(lexicon, postings),
      shelf: shelf(lexicon),
      facets: facets,
      dates: dates,
      titles: plain.titles.split("\n"),
      shardEnds: running(plain.shards),
      deckEnds: running(plain.decks)
    };
  }

  // Where the postings of each term lie: synonyms first, group by group, as scripts.py lays them.
  function shelf(lexicon) {
    var order = new Map();
    lexicon.groups.forEach(function (group) {
      group[1].forEach(function (phrase) {
        phrase.forEach(function (term) { if (lexicon.has(term) && !order.has(term)) order.set(term, order.size); });
      });
    });
    lexicon.terms.forEach(function (term) { if (!order.has(term)) order.set(term, order.size); });
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
      cover: row[10], passages: row[11], thumbs: row[12]
    };
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

  var asked = 0, shown = PAGE, sayLater = 0;

  function ask(reset) {
    var question = readForm(), turn = ++asked;
    if (reset) shown = PAGE;
    if (headerField && document.activeElement !== headerField) headerField.value = question.q;
    selects.forEach(function (select) { select.parentNode.classList.toggle("picked", Boolean(select.value)); });
    clear.hidden = !selects.some(function (select) { return select.value; });
    var filtered = selects.some(function (select) { return select.value; });
    if (!question.q && !filtered) {
      empty();
      return;
    }
    step(turn, question);
  }

  // As far as the parts at hand allow at once, so that an answer costs no turn of the event loop.
  function step(turn, question) {
    if (turn !== asked) return;
    if (!index) {
      wait(load("lexicon"), turn, question, function (plain) { if (!index) index = openIndex(plain); });
      return;
    }
    var plan = F.readQuery(question.q, index.lexicon);
    var missing = loadAll(shardsOf(F.planTerms(plan)));
    if (missing) {
      wait(missing, turn, question);
      return;
    }
    var allowed = filterOf(question), answer;
    if (plan.slots.length) answer = index.ranker.answer(plan, allowed);
    else answer = { sheets: question.q ? [] : everything(allowed), lines: [], rarity: [] };
    var filtered = selects.some(function (select) { return select.value; });
    var hits = answer.sheets.slice(0, shown), lineHits = filtered ? [] : answer.lines.slice(0, 4);
    missing = loadAll(unique(hits.concat(lineHits).map(function (hit) { return deckOf(hit.document); })));
    show(question, plan, answer, hits, missing ? [] : lineHits);
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
      say(error.message === "rebuilt"
        ? _("The journal was made anew since this page was opened. Load the page again to search it.")
        : _("The index of the search could not be loaded. Load the page again; if that does not help, build the site again."));
    });
  }

  function everything(allowed) {
    var hits = [];
    for (var sheet = index.plain.sheets - 1; sheet >= 0; sheet--) {
      if (allowed(sheet)) hits.push({ document: sheet, score: 0, mentions: new Map() });
    }
    return hits;
  }

  function filterOf(question) {
    var picked = selects.filter(function (select) { return select.value; }).map(function (select) {
      return { rows: index.facets[select.name], value: question[select.name] };
    });
    return function (sheet) {
      return picked.every(function (one) { return one.rows[sheet].indexOf(one.value) >= 0; });
    };
  }

  function empty() {
    list.textContent = "";
    list.removeAttribute("aria-busy");
    lines.hidden = more.hidden = note.hidden = true;
    if (examples) examples.hidden = false;
    say("");
  }

  function say(text) {
    // Said after a pause, or a screen reader would read every letter's count.
    clearTimeout(sayLater);
    sayLater = setTimeout(function () { if (count.textContent !== text) count.textContent = text; }, text ? 250 : 0);
  }

  function make(tag, name, text) {
    var element = document.createElement(tag);
    if (name) element.className = name;
    if (text) element.textContent = text;
    return element;
  }

  function marked(element, snippet) {
    var at = 0;
    snippet.marks.forEach(function (pair) {
      element.append(snippet.text.slice(at, pair[0]), make("mark", "", snippet.text.slice(pair[0], pair[1])));
      at = pair[1];
    });
    element.append(snippet.text.slice(at));
    return element;
  }

  function link(to) {
    var hash = to.indexOf("#"), path = hash < 0 ? to : to.slice(0, hash);
    if (indexFile && (!path || path.endsWith("/"))) path += indexFile;
    return siteRoot + encodeURI(path) + (hash < 0 ? "" : to.slice(hash));
  }

  var language = document.documentElement.lang;
  var dates = new Intl.DateTimeFormat(/^en/.test(language) ? "en-GB" : language, { dateStyle: "long", timeZone: "UTC" });

  function sayDate(iso) { return dates.format(new Date(iso)); }

  function show(question, plan, answer, hits, lineHits) {
    var terms = F.markedTerms(plan);
    var items = document.createDocumentFragment();
    hits.forEach(function (hit) { items.append(answerOf(hit, terms, answer.rarity)); });
    list.replaceChildren(items);
    list.removeAttribute("aria-busy");
    if (examples) examples.hidden = true;
    showLines(lineHits, terms);
    more.hidden = answer.sheets.length <= shown;
    note.hidden = true;
    var total = answer.sheets.length;
    if (plan.unknown.length) unknown(plan, question);
    else if (question.q && !plan.slots.length) tell(_("Only words that stand everywhere. Add one that tells more."));
    say(total ? ngettext("{count} entry", "{count} entries", total) : _("Nothing found"));
  }

  function tell(text) {
    note.hidden = false;
    note.textContent = text;
  }

  function unknown(plan, question) {
    tell("");
    plan.unknown.forEach(function (word) {
      var guess = F.nearestWord(word, index.lexicon);
      note.append(_("No entry has “{word}”.", { word: word }), " ");
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

  // What is known of an entry while its card is on the way.
  function headOf(hit, terms) {
    var item = make("li", "answer waiting"), text = make("div", "answer-words"), line = make("p", "strip-line");
    line.append(make("time", "", sayDate(index.dates[hit.document])));
    text.append(line, marked(make("h2"), F.mark(index.titles[hit.document], terms, index.tokenizer)));
    item.append(make("span", "answer-picture"), text);
    return item;
  }

  function answerOf(hit, terms, rarity) {
    if (!parts.has(deckOf(hit.document))) return headOf(hit, terms);
    var card = cardOf(hit.document), item = make("li", "answer"), text = make("div", "answer-words");
    var passages = card.passages;
    var best = F.bestPassage(passages.map(function (one) { return one[0]; }), passages.map(function (one) { return one[1]; }), hit.mentions, rarity);
    var passage = best === null ? null : passages[best];
    var line = make("p", "strip-line"), time = make("time", "", sayDate(card.date));
    time.dateTime = card.date;
    line.append(make("span", "daymark", card.kind !== "entry" ? LABELS[card.kind] : card.day ? _("Day {day}", { day: card.day }) : _("Draft")), " ", time);
    var heading = make("h2"), to = make("a");
    to.href = link(card.address);
    heading.append(marked(to, F.mark(card.title, terms, index.tokenizer)));
    var facts = [card.assembly];
    if (card.steps) facts.push(card.steps.indexOf(" ") < 0 ? _("step {step}", { step: card.steps }) : _("steps {steps}", { steps: card.steps }));
    if (card.photos) facts.push(ngettext("{count} photo", "{count} photos", card.photos));
    if (card.redone) facts.push(_("done over"));
    if (card.isPrivate) facts.push(_("private"));
    text.append(line, heading, make("p", "facts", facts.filter(Boolean).join(" · ")));
    var sentence = passage ? passage[2] : firstSentence(passages);
    if (sentence) text.append(marked(make("p", "said-there"), F.mark(sentence, terms, index.tokenizer)));
    item.append(pictureOf(card, passages, passage, hit) || numberOf(card), text);
    item.dataset.id = card.id;
    return item;
  }

  function firstSentence(passages) {
    var found = "";
    [11, 10, 6].some(function (wanted) {
      return passages.some(function (one) {
        if (one[0] === wanted) found = one[2];
        return found;
      });
    });
    return found;
  }

  // The picture whose caption says most of the question, else the entry's own.
  function pictureOf(card, passages, passage, hit) {
    var at = passage && passage[3] !== null ? passage[3] : null, most = 0;
    if (at === null) {
      passages.forEach(function (one, number) {
        if (one[0] !== 10 || !(one[3] in card.thumbs)) return;
        var end = number + 1 < passages.length ? passages[number + 1][1] : Infinity, said = 0;
        hit.mentions.forEach(function (mentions) {
          if (mentions.positions.some(function (position) { return position >= one[1] && position < end; })) said++;
        });
        if (said > most) {
          most = said;
          at = one[3];
        }
      });
    }
    if (at === null || !(at in card.thumbs)) at = card.cover;
    var thumb = at === null ? null : card.thumbs[at];
    if (!thumb) return null;
    var to = make("a", "answer-picture"), image = make("img");
    image.src = siteRoot + "pictures/" + encodeURIComponent(thumb[0]);
    image.width = thumb[1];
    image.height = thumb[2];
    image.loading = "lazy";
    image.alt = "";
    // The heading is the same link: this one is for the eye and the thumb.
    to.href = link(card.address);
    to.tabIndex = -1;
    to.setAttribute("aria-hidden", "true");
    to.append(image);
    return to;
  }

  // An entry without a picture shows its number in the picture's place.
  function numberOf(card) {
    var number = make("span", "answer-picture answer-number", card.day ? String(card.day) : "");
    number.setAttribute("aria-hidden", "true");
    return number;
  }

  var LABELS = {
    step: _("Step"), part: _("Part"), term: _("Term"), inspection: _("Inspection"), measurement: _("Measurement")
  };

  function showLines(hits, terms) {
    lines.replaceChildren();
    lines.hidden = !hits.length;
    hits.forEach(function (hit) {
      var card = cardOf(hit.document), line = make("p"), to = make("a");
      var told = card.passages.filter(function (one) { return one[0] === 11; }).map(function (one) { return one[2]; }).join(" ");
      to.href = link(card.address);
      to.append(marked(make("span"), F.mark(card.kind === "term" ? card.title : card.id, terms, index.tokenizer)));
      line.append(make("span", "label", LABELS[card.kind]), to);
      if (card.kind !== "term" && card.title !== card.id) line.append(" ", marked(make("span"), F.mark(card.title, terms, index.tokenizer)));
      if (told) line.append(make("span", "count", " — " + F.cut(told, []).text));
      lines.append(line);
    });
  }

  // --- what the reader does ----------------------------------------------------------------------

  var pause = 0;

  field.addEventListener("input", function () {
    ask(true);
    clearTimeout(pause);
    pause = setTimeout(keepAddress, 900);
  });
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
    var before = shown;
    shown += PAGE;
    ask(false);
    var next = list.children[before];
    if (next) next.querySelector("h2 a").focus();
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
