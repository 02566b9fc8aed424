// Finding in the browser: the same rules, the same index and the same figures as journal/finding/
// (tokens.py, query.py, ranking.py, cards.py). What changes there changes here; tests hold
// both against each other. No page, no network: see find.js.
(function (root) {
  "use strict";

  var WORD = "w", NUMBER = "n", PART = "p", FRACTION = "f", DRILL = "d", DATE = "t", STOP = "s", JOINED = "j";
  var QUANTITY = "q", PHRASE = "g", SCALE = 10000;

  // --- packed figures (index.py) ---------------------------------------------------------------

  var DIGITS = "";
  for (var code = 35; code < 127; code++) {
    if ("\\`<&".indexOf(String.fromCharCode(code)) < 0) DIGITS += String.fromCharCode(code);
  }
  var BASE = DIGITS.length >> 1;
  var VALUES = new Uint8Array(128);
  for (var i = 0; i < DIGITS.length; i++) VALUES[DIGITS.charCodeAt(i)] = i;

  function unpack(text) {
    var out = [], figure = 0, scale = 1;
    for (var i = 0; i < text.length; i++) {
      var value = VALUES[text.charCodeAt(i)];
      if (value < BASE) {
        out.push(figure + value * scale);
        figure = 0;
        scale = 1;
      } else {
        figure += (value - BASE) * scale;
        scale *= BASE;
      }
    }
    return out;
  }

  // Sorted words, each told as how many letters it shares with the one before (U+0250 is none), and its rest.
  function unfront(text) {
    if (!text) return [];
    var before = "";
    return text.split("|").map(function (coded) {
      before = before.slice(0, coded.charCodeAt(0) - 0x250) + coded.slice(1);
      return before;
    });
  }

  function readPostings(packed) {
    var figures = unpack(packed), found = new Map(), document = -1, at = 0;
    while (at < figures.length) {
      document += figures[at++] + 1;
      var count = figures[at++], position = 0, positions = new Array(count);
      for (var i = 0; i < count; i++) {
        position += figures[at++];
        positions[i] = position;
      }
      found.set(document, positions);
    }
    return found;
  }

  // --- rules (rules.py) ------------------------------------------------------------------------

  function words(text) { return new Set(text.split(" ")); }

  function Rules(plain, stemmer) {
    this.plain = plain;
    this.chunk = new RegExp(plain.chunk.replace(/\[W\]/g, "[" + plain.word_characters + "]"), "g");
    ["stop_words", "question_words", "step_words", "page_words", "negations", "drill_leads", "between_figures",
      "between_halves", "before_dates", "last_words", "this_words", "unsure_months"].forEach(function (name) {
      this[name] = words(plain[name]);
    }, this);
    this.units = new Map(Object.entries(plain.units));
    this.figures = new Map(Object.entries(plain.figures));
    this.seasons = new Map(Object.entries(plain.seasons));
    this.months = new Map([["sept", 9]]);
    plain.months.split(" ").forEach(function (name, at) { this.months.set(name.slice(0, 3), at + 1).set(name, at + 1); }, this);
    this.wholeMonths = words(plain.months);
    this.spans = new Map();
    Object.keys(plain.spans).forEach(function (span) {
      words(plain.spans[span]).forEach(function (word) { this.spans.set(word, span); }, this);
    }, this);
    this.asking = Object.keys(plain.asking).map(function (kind) { return [kind, new RegExp(plain.asking[kind])]; });
    this.words = new Map(plain.spellings.word);
    this.starts = plain.spellings.start;
    this.endings = plain.endings.map(function (pair) { return [new RegExp(pair[0]), pair[1]]; });
    this.undouble = new RegExp(plain.undouble);
    this.weights = plain.alternatives;
    this.fieldWeights = plain.field_names.map(function (name) { return plain.fields[name] || 1; });
    this.kinds = Object.assign({}, plain.kinds);
    words(plain.whole_kinds).forEach(function (kind) { this.kinds[kind] = 1; }, this);
    this.groups = plain.groups.concat(plain.kin);
    this.phrases = new Map();
    new Set(this.groups.flatMap(function (group) { return group[1]; })).forEach(function (term) {
      var stems = term.split("+");
      if (stems.length > 1) listOf(this.phrases, stems[0]).push(stems);
    }, this);
    this._stems = new Map();
    this._stemmer = stemmer;
  }

  function listOf(map, key) {
    if (!map.has(key)) map.set(key, []);
    return map.get(key);
  }

  Rules.prototype.fold = function (word) {
    var folded = this.words.get(word);
    if (folded) return folded;
    var start = this.starts.find(function (pair) { return word.startsWith(pair[0]); });
    if (start) word = start[1] + word.slice(start[0].length);
    var ending = this.endings.find(function (pair) { return pair[0].test(word); });
    return ending ? word.replace(ending[0], ending[1]) : word;
  };

  Rules.prototype.stem = function (word) {
    var stem = this._stems.get(word);
    if (stem === undefined) {
      stem = word.length < 3 ? word : this._stemmer(this.fold(word)).replace(this.undouble, "$1");
      this._stems.set(word, stem);
    }
    return stem;
  };

  // --- tokens (tokens.py) ----------------------------------------------------------------------

  var NUMERIC = /^[0-9]*\.?[0-9]+(?:\.[0-9]+)*$/;
  var UNIT_GAP = /^[ .\u00a0\u202f\u00b7\u22c5\u00b0\u00ba-]{0,3}$/, WORD_GAP = /^[ .,\u00a0]{1,2}$/;
  var DAY = /^([0-3]?[0-9])(?:st|nd|rd|th)?$/, YEAR = /^[12][0-9]{3}$/;

  function normalChunk(chunk) {
    if (/^[\x00-\x7f]*$/.test(chunk)) return chunk.toLowerCase().replace(/ /g, "");
    chunk = chunk.replace(/[\u2010-\u2013\u2212]/g, "-").replace(/\u2019/g, "'");
    chunk = chunk.replace(/[\u00bc-\u00be\u2150-\u215e]/g, "-$&");
    chunk = chunk.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase().replace(/ /g, "");
    return chunk.replace(/\u2044/g, "/").replace(/^-+/, "");
  }

  function plainNumber(text) {
    var small = /^0*\.([0-9]*[1-9])0*$/.exec(text);
    return small ? "." + small[1] : text;
  }

  function partForm(text) {
    var page = /^([0-9]{1,2})-0?([1-9][0-9]?)$/.exec(text);
    return page ? page[1] + "-" + page[2] : (text.match(/[0-9]+|[^0-9.'-]+/g) || []).join("-");
  }

  function unitForm(chunk) {
    return chunk.indexOf(".") < 0 ? chunk : chunk.replace(/\.-/g, "-").replace(/\./g, "-").replace(/^-+|-+$/g, "");
  }

  function possessive(word) {
    return (word.endsWith("'s") ? word.slice(0, -2) : word).replace(/'/g, "");
  }

  // A number or fraction, and half of its last written place.
  function asFigure(text) {
    var fraction = /^([0-9]+)\/([0-9]+)$/.exec(text);
    if (fraction) return text.length <= 9 && Number(fraction[2]) ? [Number(fraction[1]) / Number(fraction[2]), 0] : null;
    var found = /^([0-9]{0,9})(?:\.([0-9]{1,9}))?$/.exec(text);
    return found && text ? [Number(text), 0.5 / Math.pow(10, (found[2] || "").length)] : null;
  }

  function quantityTerm(value, half, unit) {
    function scaled(figure) { return Math.floor(figure * SCALE + 0.5); }
    return "=" + unit[0] + scaled((value + unit[2]) * unit[1]) + "~" + scaled(half * unit[1]);
  }

  function two(number) { return String(number).padStart(2, "0"); }

  function dateTerms(year, month, day, season, rules) {
    var terms = [];
    if (month) rules.seasons.forEach(function (months, name) { if (months.indexOf(month) >= 0) season = name; });
    if (day) terms = (year ? ["@" + year + "-" + two(month) + "-" + two(day)] : []).concat("@" + two(month) + "-" + two(day));
    if (month) terms = terms.concat(year ? ["@" + year + "-" + two(month)] : [], "@" + two(month));
    if (season && year) {
      var first = rules.seasons.get(season)[0], began = month && month < first ? year - 1 : year;
      terms.push("@" + began + "-" + season);
      if (month && first === 12) terms.push("@" + (began + 1) + "-" + season);
    }
    return terms.concat(season ? ["@" + season] : [], year ? [String(year)] : []);
  }

  function Tokenizer(rules) {
    this.rules = rules;
    this._known = new Map();
    this._leads = new Set(Array.from(rules.units.keys()).filter(function (unit) { return unit.indexOf("-") >= 0; })
      .map(function (unit) { return unit.split("-")[0]; }));
    [rules.drill_leads, rules.figures, rules.months, rules.seasons].forEach(function (leads) {
      Array.from(leads.keys()).forEach(this._leads.add, this._leads);
    }, this);
  }

  Tokenizer.prototype.tokens = function (text) {
    var chunks = [], match, built = [], position = 0, number = 0;
    this.rules.chunk.lastIndex = 0;
    while ((match = this.rules.chunk.exec(text))) {
      chunks.push({ normal: normalChunk(match[0]), start: match.index, end: match.index + match[0].length });
    }
    while (number < chunks.length) {
      var chunk = chunks[number], end = chunk.end, taken = 1, pieces = null, more = null;
      if (this._leads.has(chunk.normal) || /^[.#0-9]/.test(chunk.normal)) {
        var together = this._together(text, chunks, number);
        if (together) {
          pieces = together[0];
          taken = together[1];
          end = chunks[number + taken - 1].end;
        } else {
          more = this._quantityAt(text, chunks, number);
        }
      }
      pieces = pieces || this._read(chunk.normal);
      var last = -1;
      pieces.forEach(function (piece) {
        var token = { term: piece.term, kind: piece.kind, surface: piece.surface, position: position + piece.at, start: chunk.start, end: end };
        built.push(token);
        if (more) built.push(Object.assign({}, token, { term: more[0], kind: QUANTITY, end: more[1] }));
        more = null;
        last = Math.max(last, piece.at);
      });
      position += last + 1;
      number += taken;
    }
    return this._withPhrases(built);
  };

  // `No. 40`, `in lb`, `14 June 2026`: what several chunks make as one, and how many; else null.
  Tokenizer.prototype._together = function (text, chunks, number) {
    var chunk = chunks[number], next = chunks[number + 1], dated = this._dateAt(text, chunks, number);
    if (dated[0].length) {
      return [dated[0].map(function (term) { return { term: term, kind: DATE, surface: term, at: 0 }; }), dated[1]];
    }
    if (!next) return null;
    var gap = text.slice(chunk.end, next.start), unit = chunk.normal + "-" + next.normal;
    if (this.rules.drill_leads.has(chunk.normal) && /^[ .\u00a0]{0,2}$/.test(gap) && /^[0-9]{1,2}$/.test(next.normal)) {
      return [this._read("#" + next.normal), 2];
    }
    return this.rules.units.has(unit) && UNIT_GAP.test(gap) ? [this._read(unit), 2] : null;
  };

  Tokenizer.prototype._dateAt = function (text, chunks, number) {
    var rules = this.rules, normal = chunks[number].normal, found;
    var before = number ? chunks[number - 1].normal : "", list = [normal];
    if ((found = /^([12][0-9]{3})-([01]?[0-9])(?:-([0-3]?[0-9]))?$/.exec(normal))) {
      return [this._dated(+found[1], +found[2], +(found[3] || 0)), 1];
    }
    if ((found = /^([0-3]?[0-9])[./]([01]?[0-9])[./]((?:[12][0-9])?[0-9]{2})$/.exec(normal))) {
      var year = +found[3] > 99 ? +found[3] : 2000 + +found[3];
      return [+found[2] > 12 ? this._dated(year, +found[1], +found[2]) : this._dated(year, +found[2], +found[1]), 1];
    }
    for (var at = number + 1; at < Math.min(number + 4, chunks.length); at++) {
      if (!WORD_GAP.test(text.slice(chunks[at - 1].end, chunks[at].start))) break;
      list.push(chunks[at].normal);
    }
    if (DAY.test(normal) && list.length > 1) return this._dayFirst(list);
    if (rules.months.has(normal)) return this._monthFirst(list, rules.months.get(normal), before);
    if (rules.seasons.has(normal)) {
      var named = list.length > 1 && YEAR.test(list[1]) ? +list[1] : 0;
      if (named || rules.before_dates.has(before)) return [dateTerms(named, 0, 0, normal, rules), named ? 2 : 1];
    }
    return [[], 1];
  };

  Tokenizer.prototype._dayFirst = function (list) {
    var at = list[1] === "of" && list.length > 2 ? 2 : 1, month = this.rules.months.get(list[at]) || 0;
    if (!month) return [[], 1];
    var year = list.length > at + 1 && YEAR.test(list[at + 1]) ? +list[at + 1] : 0;
    return [this._dated(year, month, +DAY.exec(list[0])[1]), at + (year ? 2 : 1)];
  };

  Tokenizer.prototype._monthFirst = function (list, month, before) {
    var rules = this.rules, day = list.length > 1 ? DAY.exec(list[1]) : null;
    if (list.length > 1 && YEAR.test(list[1])) return [this._dated(+list[1], month, 0), 2];
    if (day && !(list.length > 2 && rules.units.has(list[2]))) {
      var year = list.length > 2 && YEAR.test(list[2]) ? +list[2] : 0;
      return [this._dated(year, month, +day[1]), year ? 3 : 2];
    }
    var sure = rules.wholeMonths.has(list[0]) && !rules.unsure_months.has(list[0]);
    return [sure || rules.before_dates.has(before) ? this._dated(0, month, 0) : [], 1];
  };

  Tokenizer.prototype._dated = function (year, month, day) {
    return month >= 1 && month <= 12 && day <= 31 ? dateTerms(year, month, day, "", this.rules) : [];
  };

  // The quantity that begins with the figure of this chunk, and where it ends in the text; else null.
  Tokenizer.prototype._quantityAt = function (text, chunks, number) {
    var rules = this.rules, chunk = chunks[number], normal = chunk.normal, value = rules.figures.get(normal);
    var mixed = /^([0-9]+)-([0-9]+\/[0-9]+)$/.exec(normal), next = chunks[number + 1], second = chunks[number + 2];
    var figure = value ? [value, value / 4] : asFigure(mixed ? mixed[2] : normal.replace(/,/g, ""));
    if (!figure) return null;
    var unit = this._unitAfter(text, chunks, number), whole = mixed ? Number(mixed[1].slice(0, 9)) : 0;
    if (!unit && chunks[number + 3] && rules.between_figures.has(next.normal) && asFigure(second.normal)) {
      unit = this._unitAfter(text, chunks, number + 2);
      if (unit) unit = [unit[0], chunk.end];
    }
    if (!unit && (/^(?:0?\.[0-9]{2,5}|0[0-9]{2})$/.test(normal) || (figure[1] === 0 && figure[0] < 1))) {
      unit = [rules.units.get("inch"), chunk.end];
      if (/^0[0-9]+$/.test(normal)) figure = [figure[0] / 1000, 0.0005];
    }
    return unit ? [quantityTerm(whole + figure[0], figure[1], unit[0]), unit[1]] : null;
  };

  // The unit that stands behind a chunk, and where it ends; else null.
  Tokenizer.prototype._unitAfter = function (text, chunks, number) {
    var units = this.rules.units, end = chunks[number].end, at = number + 1, most = Math.min(number + 4, chunks.length);
    if (/["\u2033]/.test(text.charAt(end))) return [units.get("inch"), end + 1];
    while (at < most && this.rules.figures.has(chunks[number].normal) && this.rules.between_halves.has(chunks[at].normal)) {
      end = chunks[at++].end;
    }
    if (at >= most || !UNIT_GAP.test(text.slice(end, chunks[at].start))) return null;
    var first = unitForm(chunks[at].normal);
    if (at + 1 < most && UNIT_GAP.test(text.slice(chunks[at].end, chunks[at + 1].start))) {
      var both = units.get(first + "-" + unitForm(chunks[at + 1].normal));
      if (both) return [both, chunks[at + 1].end];
    }
    return units.has(first) ? [units.get(first), chunks[at].end] : null;
  };

  Tokenizer.prototype._withPhrases = function (tokens) {
    var phrases = this.rules.phrases, told = [];
    tokens.forEach(function (token, number) {
      told.push(token);
      (token.kind === WORD && phrases.get(token.term) || []).forEach(function (phrase) {
        var last = phraseEnd(tokens, number, phrase), term = phrase.join("+");
        if (last) told.push({ term: term, kind: PHRASE, surface: term, position: token.position, start: token.start, end: last.end });
      });
    });
    return told;
  };

  function phraseEnd(tokens, first, phrase) {
    return phrase.slice(1).reduce(function (last, term) {
      return last && tokens.slice(first + 1, first + 8).find(function (token) {
        return token.term === term && token.position > last.position && token.position - last.position <= 2;
      });
    }, tokens[first]);
  }

  Tokenizer.prototype._read = function (chunk) {
    var pieces = this._known.get(chunk);
    if (!pieces) {
      pieces = [];
      this._readInto(chunk, pieces);
      this._known.set(chunk, pieces);
    }
    return pieces;
  };

  function add(built, term, kind, surface) {
    built.push({ term: term, kind: kind, surface: surface, at: built.length ? built[built.length - 1].at + 1 : 0 });
  }

  function beside(built, term, kind, surface) {
    built.push({ term: term, kind: kind, surface: surface, at: built[built.length - 1].at });
  }

  Tokenizer.prototype._readInto = function (chunk, built) {
    var units = this.rules.units, match;
    if ((match = /^#([0-9]{1,3})$/.exec(chunk))) {
      this._drill(match[1], built);
    } else if (chunk.indexOf("-") >= 0 && units.has(unitForm(chunk))) {
      add(built, units.get(unitForm(chunk))[3], WORD, chunk);
    } else if (chunk.indexOf(",") >= 0) {
      this._readEach(/^[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?$/.test(chunk) ? [chunk.replace(/,/g, "")] : chunk.split(","), built);
    } else if ((match = /^([0-9]+)-([0-9]+\/[0-9]+)$/.exec(chunk))) {
      this._readEach([match[1], match[2]], built);
    } else if (/^[0-9]+\/[0-9]+$/.test(chunk)) {
      add(built, chunk, FRACTION, chunk);
    } else if ((match = this._measure(chunk))) {
      var figure = asFigure(match[1]);
      this._readInto(match[1], built);
      if (figure) beside(built, quantityTerm(figure[0], figure[1], units.get(unitForm(match[2]))), QUANTITY, chunk);
      this._readInto(match[2], built);
    } else if (/[\/#]/.test(chunk)) {
      this._readEach(chunk.split(/[\/#]/), built);
    } else if ((match = /^([0-9]+\.[0-9]+)-([0-9]+\.[0-9]+)$/.exec(chunk) || /^([0-9][0-9.\/]*)x([0-9][0-9.\/]*)$/.exec(chunk))) {
      this._readEach([match[1], match[2]], built);
    } else if (NUMERIC.test(chunk)) {
      add(built, plainNumber(chunk), NUMBER, plainNumber(chunk));
    } else if (/^[0-9]+(?:st|nd|rd|th)$/.test(chunk)) {
      this._word(chunk, built);
    } else if (/[0-9]/.test(chunk)) {
      this._part(chunk, built);
    } else {
      this._words(chunk, built);
    }
  };

  Tokenizer.prototype._readEach = function (chunks, built) {
    chunks.forEach(function (chunk) { if (chunk) this._readInto(chunk, built); }, this);
  };

  Tokenizer.prototype._drill = function (number, built) {
    var inches = this.rules.plain.drills[number];
    add(built, "#" + number, DRILL, "#" + number);
    beside(built, number, NUMBER, number);
    if (inches) beside(built, quantityTerm(inches, 0, this.rules.units.get("inch")), QUANTITY, number);
  };

  Tokenizer.prototype._measure = function (chunk) {
    var match = /^([0-9]*\.?[0-9]+|[0-9]+\/[0-9]+)-?([a-z][a-z.-]*)$/.exec(chunk), unit = match ? unitForm(match[2]) : "";
    return this.rules.units.has(unit) && (unit.length > 1 || "mgh".indexOf(unit) >= 0) ? match : null;
  };

  Tokenizer.prototype._part = function (chunk, built) {
    var run = [];
    chunk.split("-").forEach(function (segment) {
      if (/^[^0-9]{4,}$/.test(segment)) {
        this._closePart(run.splice(0), built);
        this._words(segment, built);
      } else {
        run.push(segment);
      }
    }, this);
    this._closePart(run, built);
  };

  Tokenizer.prototype._closePart = function (run, built) {
    var chunk = run.join("-").replace(/^[-.']+|[-.']+$/g, "");
    if (!chunk) return;
    if (!/[0-9]/.test(chunk)) this._words(chunk, built);
    else if (NUMERIC.test(chunk)) this._readInto(chunk, built);
    else add(built, partForm(chunk), PART, partForm(chunk));
  };

  Tokenizer.prototype._words = function (chunk, built) {
    var parts = chunk.split(/[-.]/).map(possessive).filter(Boolean), first = built.length;
    parts.forEach(function (word) { this._word(word, built); }, this);
    if (parts.length > 1 && chunk.indexOf("-") >= 0) {
      var joined = parts.join("");
      built.push({ term: this.rules.stem(joined), kind: JOINED, surface: joined, at: built[first].at });
    }
  };

  Tokenizer.prototype._word = function (word, built) {
    var rules = this.rules;
    if (rules.stop_words.has(word) || /^[\x00-\x7f]$/.test(word)) add(built, word, STOP, word);
    else if (rules.units.has(word)) add(built, rules.units.get(word)[3], WORD, word);
    else add(built, rules.stem(word), WORD, word);
  };

  // --- questions (query.py) --------------------------------------------------------------------

  var MEASURED = /^=(.*?)(-?[0-9]+)~([0-9]+)$/;

  function from(sorted, start) {
    var out = [], place = bisect(sorted, start, false);
    while (place < sorted.length && sorted[place].startsWith(start)) out.push(sorted[place++]);
    return out;
  }

  // How many of `sorted` stand before `value`, or not behind it.
  function bisect(sorted, value, right) {
    var low = 0, high = sorted.length;
    while (low < high) {
      var middle = (low + high) >> 1;
      if (right ? sorted[middle] <= value : sorted[middle] < value) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  // plain: as find.js has unpacked it; kinds and dates ("" for none) one for each document.
  function Lexicon(plain, tokenizer) {
    this.plain = plain;
    this.tokenizer = tokenizer;
    this.rules = tokenizer.rules;
    this.terms = plain.terms;
    this.words = plain.words;
    this.twins = new Map(Object.entries(plain.twins));
    this.newest = plain.dates.reduce(function (one, other) { return one > other ? one : other; }, "");
    this._numbers = new Map(plain.terms.map(function (term, number) { return [term, number]; }));
    this._groups = new Map();
    this.rules.groups.forEach(function (group) {
      group[1].forEach(function (term) { listOf(this._groups, term).push(group); }, this);
    }, this);
    this.parts = plain.terms.filter(function (term) {
      return term.indexOf("-") >= 0 && "=@".indexOf(term[0]) < 0 && /[0-9]/.test(term);
    });
    this.quantities = new Map();
    from(plain.terms, "=").forEach(function (term) {
      var read = MEASURED.exec(term);
      if (read) listOf(this.quantities, read[1]).push([Number(read[2]), Number(read[3]), term]);
    }, this);
  }

  Lexicon.prototype.has = function (term) { return this._numbers.has(term); };

  Lexicon.prototype.hasWord = function (word) { return this.words[bisect(this.words, word, false)] === word; };

  Lexicon.prototype.count = function (term) { return this.has(term) ? this.plain.counts[this._numbers.get(term)] : 0; };

  // [how, other name] of what `term` names.
  Lexicon.prototype.others = function (term) {
    return (this._groups.get(term) || []).flatMap(function (group) {
      return group[1].filter(function (other) { return other !== term; }).map(function (other) { return [group[0], other]; });
    });
  };

  function oneSlip(a, b) {
    if (Math.abs(a.length - b.length) > 1 || a === b) return false;
    var short = Math.min(a.length, b.length), start = 0;
    while (start < short && a.charCodeAt(start) === b.charCodeAt(start)) start++;
    if (a.length === b.length) {
      if (a.slice(start + 1) === b.slice(start + 1)) return true;
      return a[start] === b[start + 1] && a[start + 1] === b[start] && a.slice(start + 2) === b.slice(start + 2);
    }
    return a.length > b.length ? a.slice(start + 1) === b.slice(start) : b.slice(start + 1) === a.slice(start);
  }

  function distance(a, b, most) {
    if (Math.abs(a.length - b.length) > most) return most + 1;
    var earlier = [], before = [], row = [];
    for (var k = 0; k <= b.length; k++) row.push(k);
    for (var i = 1; i <= a.length; i++) {
      earlier = before;
      before = row;
      row = [i];
      var least = i;
      for (var j = 1; j <= b.length; j++) {
        var cost = Math.min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a[i - 1] !== b[j - 1] ? 1 : 0));
        if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) cost = Math.min(cost, earlier[j - 2] + 1);
        row.push(cost);
        least = Math.min(least, cost);
      }
      if (least > most) return most + 1;
    }
    return Math.min(row[b.length], most + 1);
  }

  function nearestWord(word, lexicon) {
    var most = Math.max(1, Math.min(3, Math.floor(word.length / 3))), best = null, bestAway = 0, bestCount = 0;
    lexicon.words.forEach(function (known) {
      if (known.length < 3) return;
      var away = distance(word, known, most);
      if (away > most) return;
      var count = lexicon.count(lexicon.rules.stem(known));
      // The words are sorted: of two alike the first one stays.
      if (best === null || away < bestAway || (away === bestAway && count > bestCount)) {
        best = known;
        bestAway = away;
        bestCount = count;
      }
    });
    return best;
  }

  function Reader(text, lexicon) {
    var said = normalChunk(text.trim().split(/\s+/).join(" ").replace(/'/g, "").replace(/ /g, "_"));
    this.lexicon = lexicon;
    this.rules = lexicon.rules;
    this.weights = lexicon.rules.weights;
    this.tokens = lexicon.tokenizer.tokens(text);
    this.asks = "";
    this.asking = [];
    this.rules.asking.forEach(function (pair) {
      var found = this.asks ? null : pair[1].exec(said);
      if (found) {
        this.asks = pair[0];
        this.asking = found[0].split("_");
      }
    }, this);
  }

  function readQuery(text, lexicon) {
    return new Reader(text.slice(0, lexicon.rules.plain.longest_question), lexicon).plan();
  }

  Reader.prototype.plan = function () {
    var places = new Map(), slots = new Map(), unknown = [];
    this.tokens.forEach(function (token) { if (token.kind !== STOP) listOf(places, token.position).push(token); });
    var counted = this._counted(places);
    counted.forEach(function (place) {
      slots.set(place, { surface: places.get(place)[0].surface, firm: false, alternatives: new Map() });
    });
    slots.forEach(function (slot, place) { this._fill(slot, places.get(place), places); }, this);
    this._fillSpans(slots);
    counted.slice(1).forEach(function (place, at) {
      this._join(places.get(counted[at])[0], places.get(place)[0], slots.get(counted[at]), slots.get(place));
    }, this);
    slots.forEach(function (slot) { if (!slot.alternatives.size) unknown.push(slot.surface); });
    return { slots: Array.from(slots.values()), unknown: unknown, asks: this.asks };
  };

  function planTerms(plan) {
    return Array.from(new Set(plan.slots.flatMap(function (slot) { return Array.from(slot.alternatives.keys()); })));
  }

  Reader.prototype._counted = function (places) {
    var rules = this.rules, all = Array.from(places.keys());
    var quantities = this.tokens.filter(function (token) { return token.kind === QUANTITY; });
    var kept = all.filter(function (place) {
      var first = places.get(place)[0], before = places.get(place - 1), word = first.surface;
      var inside = quantities.some(function (one) {
        return one.start <= first.start && first.end <= one.end && place > one.position;
      });
      var onlyAsks = rules.question_words.has(word) || this.asking.indexOf(word) >= 0;
      var denied = before && rules.negations.has(before[0].surface);
      var relative = (rules.last_words.has(word) || rules.this_words.has(word)) && this._relative(place, places).length;
      return !(inside || this._names(place, places) || relative || (onlyAsks && !denied));
    }, this);
    return (kept.length ? kept : all).slice(0, rules.plain.most_words);
  };

  Reader.prototype._names = function (place, places) {
    var rules = this.rules, word = places.get(place)[0].surface, next = places.get(place + 1);
    var ofPage = rules.page_words.has(word);
    if (next && (next[0].kind === NUMBER || next[0].kind === PART) && (ofPage || rules.step_words.has(word))) {
      if (ofPage) this.asks = "step";
      return true;
    }
    return ofPage && this.asks === "step";
  };

  Reader.prototype._add = function (slot, term, weight) {
    if (this.lexicon.has(term) && weight > (slot.alternatives.get(term) || 0)) slot.alternatives.set(term, weight);
  };

  Reader.prototype._fill = function (slot, tokens, places) {
    var kinds = new Set(tokens.map(function (token) { return token.kind; })), first = tokens[0];
    var months = this._relative(first.position - 1, places), measured = this._hasUnit(tokens), weights = this.weights;
    var dates = tokens.filter(function (token) { return token.kind === DATE; }).map(function (token) { return token.term; });
    (months.length ? months : dates.slice(0, 1)).forEach(function (term) { this._add(slot, term, 1); }, this);
    if (!months.length) tokens.forEach(function (token) {
      if (token.kind === WORD) this._fillWord(slot, token);
      else if (token.kind === PART) this._fillPart(slot, token.term);
      else if (token.kind === QUANTITY) this._fillQuantity(slot, token.term);
      else if (token.kind === NUMBER && measured) this._add(slot, token.term, weights.figure);
      else if (token.kind === NUMBER && !kinds.has(DRILL)) this._fillNumber(slot, token);
      else if (token.kind !== DATE && token.kind !== PHRASE) this._add(slot, token.term, token.kind === JOINED ? weights.joined : 1);
    }, this);
    if (measured) slot.firm = Array.from(slot.alternatives.keys()).some(function (term) { return term[0] === "="; });
    else slot.firm = months.length > 0 || kinds.has(DATE) || kinds.has(PART) || (kinds.has(NUMBER) && first.term.indexOf(".", 1) >= 0);
  };

  Reader.prototype._hasUnit = function (tokens) {
    var quantity = tokens.find(function (token) { return token.kind === QUANTITY; });
    return Boolean(quantity) && this.tokens.some(function (token) {
      return token.position > quantity.position && quantity.start <= token.start && token.end <= quantity.end;
    });
  };

  Reader.prototype._called = function (slot, term, share) {
    this.lexicon.others(term).forEach(function (pair) {
      this._add(slot, pair[1], share * (pair[0] === "same" ? this.weights.synonym : this.weights.kin));
    }, this);
  };

  Reader.prototype._fillWord = function (slot, token) {
    var stems = new Map([[token.term, 1]]);
    if (!this.lexicon.has(token.term) && !this.lexicon.others(token.term).length) stems = this._guesses(token.surface);
    stems.forEach(function (share, stem) {
      this._add(slot, stem, share);
      this._called(slot, stem, share);
    }, this);
  };

  Reader.prototype._guesses = function (word) {
    var lexicon = this.lexicon, rules = this.rules, weights = this.weights, guesses = new Map();
    function guess(known, weight) {
      var stem = rules.stem(known);
      if (!guesses.has(stem)) guesses.set(stem, weight);
    }
    if (word.length >= 3) from(lexicon.words, word).forEach(function (longer) { guess(longer, weights.prefix); });
    for (var cut = 3; cut < word.length - 2; cut++) {
      if (lexicon.hasWord(word.slice(0, cut)) && lexicon.hasWord(word.slice(cut))) {
        guesses.set(rules.stem(word.slice(0, cut)), weights.joined).set(rules.stem(word.slice(cut)), weights.joined);
      }
    }
    if (word.length >= 4 && word[0] > "9") {
      lexicon.words.forEach(function (known) { if (known.length >= 3 && oneSlip(word, known)) guess(known, weights.slip); });
    }
    return new Map(Array.from(guesses).sort(function (one, other) {
      return other[1] - one[1] || lexicon.count(other[0]) - lexicon.count(one[0]) || (one[0] < other[0] ? -1 : 1);
    }).slice(0, rules.plain.most_alternatives));
  };

  Reader.prototype._fillSpans = function (slots) {
    this.tokens.forEach(function (phrase) {
      if (phrase.kind !== PHRASE) return;
      this.tokens.forEach(function (token) {
        var slot = slots.get(token.position);
        if (!slot || token.start < phrase.start || token.end > phrase.end) return;
        this._add(slot, phrase.term, this.weights.synonym);
        this._called(slot, phrase.term, 1);
      }, this);
    }, this);
  };

  Reader.prototype._join = function (one, other, first, second) {
    if (other.position - one.position > 1) return;
    var terms = new Map(), lexicon = this.lexicon, weights = this.weights;
    if (one.kind === WORD && other.kind === WORD) {
      terms.set(this.rules.stem(one.surface + other.surface), weights.joined);
    } else {
      var form = partForm(one.surface + "-" + other.surface);
      terms.set(form, 1);
      if (one.kind === WORD) from(lexicon.terms, form + "-").forEach(function (term) { terms.set(term, weights.part_start); });
    }
    terms.forEach(function (weight, term) {
      this._add(first, term, weight);
      this._add(second, term, weight);
    }, this);
  };

  Reader.prototype._fillNumber = function (slot, token) {
    var number = token.term, weights = this.weights, rules = this.rules;
    this._add(slot, number, 1);
    (this.lexicon.twins.get(number) || []).forEach(function (twin) { this._add(slot, twin, weights.twin); }, this);
    var afterStep = this.tokens.some(function (other) {
      return other.position === token.position - 1 && rules.step_words.has(other.surface);
    });
    if (afterStep && /^[0-9]+$/.test(number)) {
      from(this.lexicon.terms, number + ".").forEach(function (term) { this._add(slot, term, weights.part_piece); }, this);
    }
    if (number.length >= 3) {
      this._withPiece(partForm(number)).forEach(function (part) { this._add(slot, part, weights.part_piece); }, this);
    }
  };

  Reader.prototype._fillQuantity = function (slot, term) {
    var read = MEASURED.exec(term), value = Number(read[2]), half = Number(read[3]);
    (this.lexicon.quantities.get(read[1]) || []).forEach(function (other) {
      var room = Math.max(half, other[1], Math.floor(Math.abs(value) / 250)) + 1, away = Math.abs(value - other[0]);
      if (away <= room) this._add(slot, other[2], this.weights.value * (1 - 0.3 * away / room));
    }, this);
  };

  Reader.prototype._relative = function (place, places) {
    var lead = places.get(place), named = places.get(place + 1), rules = this.rules;
    if (!lead || !named || !this.lexicon.newest) return [];
    var back = rules.last_words.has(lead[0].surface) ? 1 : rules.this_words.has(lead[0].surface) ? 0 : -1;
    return back < 0 ? [] : relativeDates(named[0], back, this.lexicon.newest, rules);
  };

  function relativeDates(named, back, newest, rules) {
    var year = Number(newest.slice(0, 4)), month = Number(newest.slice(5, 7)), months;
    if (named.kind === DATE && rules.seasons.has(named.term.slice(1))) months = rules.seasons.get(named.term.slice(1));
    else if (named.kind === DATE && named.term.length === 3) months = [Number(named.term.slice(1))];
    else if (rules.spans.has(named.surface)) return spanBefore(rules.spans.get(named.surface), back, year, month, newest);
    else return [];
    var edge = months[back ? months.length - 1 : 0], first;
    if (back ? month <= edge : month < edge) year -= 1;
    first = back && months[0] > months[months.length - 1] ? year - 1 : year;
    return months.map(function (one) { return "@" + (first + (one < months[0] ? 1 : 0)) + "-" + two(one); });
  }

  function spanBefore(span, back, year, month, newest) {
    if (span === "year") return [String(year - back)];
    if (span === "month") {
      var number = year * 12 + month - 1 - back;
      return ["@" + Math.floor(number / 12) + "-" + two(number % 12 + 1)];
    }
    var day = new Date(newest + "T00:00:00Z"), monday = day.getTime() - ((day.getUTCDay() + 6) % 7 + 7 * back) * 86400000;
    return [0, 1, 2, 3, 4, 5, 6].map(function (one) { return "@" + new Date(monday + one * 86400000).toISOString().slice(0, 10); });
  }

  Reader.prototype._withPiece = function (piece) {
    return this.lexicon.parts.filter(function (part) { return ("-" + part + "-").indexOf("-" + piece + "-") >= 0; });
  };

  Reader.prototype._fillPart = function (slot, part) {
    var weights = this.weights, forms = [part];
    this.rules.plain.same_parts.forEach(function (pair) {
      [[pair[0], pair[1]], [pair[1], pair[0]]].forEach(function (ab) {
        if (part === ab[0] || part.startsWith(ab[0] + "-")) forms.push(ab[1] + part.slice(ab[0].length));
      });
    });
    forms.forEach(function (form) {
      var share = form === part ? 1 : weights.synonym, rest = share * (this.lexicon.has(form) ? 0.5 : 1);
      this._add(slot, form, share);
      if (form.replace(/-/g, "").length < 3) return;
      this._withPiece(form).forEach(function (other) {
        var start = (other + "-").startsWith(form + "-");
        this._add(slot, other, rest * (start ? weights.part_start : weights.part_piece));
      }, this);
    }, this);
  };

  // --- order (ranking.py) ----------------------------------------------------------------------

  function rounded(value) { return Math.floor(value * 1e6 + 0.5) / 1e6; }

  function Ranker(lexicon, fetch) {
    this.plain = lexicon.plain;
    this.rules = lexicon.rules.plain;
    this.fieldWeights = lexicon.rules.fieldWeights;
    this.kinds = lexicon.rules.kinds;
    this.fetch = fetch;
    this._postings = new Map();
    this._fields = new Map();
  }

  Ranker.prototype.answer = function (plan, allowed) {
    var documents = new Set(), kinds = this.plain.kinds, worth = Object.assign({}, this.kinds);
    var bySlot = plan.slots.map(function (slot) { return this._mentions(slot.alternatives); }, this);
    var rarity = bySlot.map(function (mentions) { return this._rarity(mentions.size); }, this), firm = [];
    bySlot.forEach(function (mentions, number) {
      if (plan.slots[number].firm && mentions.size) firm.push(number);
      mentions.forEach(function (one, document) { if (allowed(document)) documents.add(document); });
    });
    if (plan.asks) worth[plan.asks] = (worth[plan.asks] || worth.line) * this.rules.asked_kind;
    var hits = Array.from(documents, function (document) {
      return this._hit(document, bySlot, rarity, worth[kinds[document]] || worth.line, firm);
    }, this);
    hits.sort(function (one, other) { return other.score - one.score || other.document - one.document; });
    var least = hits.length ? hits[0].score * this.rules.tail : 0;
    return { hits: hits.filter(function (hit) { return hit.score >= least; }), rarity: rarity };
  };

  Ranker.prototype._occurrences = function (term) {
    if (!this._postings.has(term)) {
      var packed = this.fetch(term);
      this._postings.set(term, packed ? readPostings(packed) : new Map());
    }
    return this._postings.get(term);
  };

  Ranker.prototype._mentions = function (alternatives) {
    var byDocument = new Map();
    alternatives.forEach(function (weight, term) {
      this._occurrences(term).forEach(function (positions, document) {
        var fields = this._fieldFactors(document), mentions = byDocument.get(document);
        if (!mentions) byDocument.set(document, (mentions = { sum: 0, told: [] }));
        positions.forEach(function (position) {
          mentions.sum += weight * fields.factors[bisect(fields.starts, position, true) - 1];
          mentions.told.push([position, weight]);
        });
      }, this);
    }, this);
    return byDocument;
  };

  Ranker.prototype._fieldFactors = function (document) {
    var known = this._fields.get(document), count = this.fieldWeights.length, start = 0, share = this.rules.length_share;
    if (!known) {
      known = { starts: [], factors: [] };
      for (var number = 0; number < count; number++) {
        var length = this.plain.lengths[document * count + number], average = this.plain.average[number];
        known.starts.push(start);
        known.factors.push(this.fieldWeights[number] / (average > 0 ? 1 - share + share * length / average : 1));
        start += length + this.rules.field_gap;
      }
      this._fields.set(document, known);
    }
    return known;
  };

  Ranker.prototype._rarity = function (count) {
    return count ? rounded(Math.log(1 + (this.plain.documents - count + 0.5) / (count + 0.5))) : 0;
  };

  Ranker.prototype._hit = function (document, bySlot, rarity, worth, firm) {
    var mentions = new Map(), near = this.rules.near, saturation = this.rules.saturation, score = 0, nearness = 0, before = -1;
    bySlot.forEach(function (ofSlot, number) {
      var one = ofSlot.get(document);
      if (!one) return;
      one.told.sort(function (a, b) { return a[0] - b[0] || a[1] - b[1]; });
      mentions.set(number, one);
      score += rarity[number] * one.sum * (1 + saturation) / (one.sum + saturation);
      if (before >= 0) {
        var away = nearest(mentions.get(before).told, one.told);
        if (away < near.reach) nearness += Math.min(rarity[before], rarity[number]) / (1 + (away - 1) / near.ease);
      }
      before = number;
    });
    score += near.weight * nearness;
    firm.forEach(function (number) { if (!mentions.has(number)) score *= this.rules.off; }, this);
    return { document: document, score: rounded(score * worth), mentions: mentions };
  };

  // The smallest distance between two ascending lists of mentions, 1 at least.
  function nearest(ones, others) {
    var least = 1 << 30, i = 0, j = 0;
    while (i < ones.length && j < others.length) {
      var away = ones[i][0] - others[j][0];
      least = Math.min(least, Math.abs(away));
      if (away < 0) i++;
      else j++;
    }
    return Math.max(least, 1);
  }

  // --- sentences (cards.py) --------------------------------------------------------------------

  var LONGEST = 240, CAPTION = 10, TEXT = 11;

  // How much of the question each passage of a card says, by its number.
  function weighPassages(passages, hit, rarity) {
    var starts = passages.map(function (one) { return one[1]; }), worth = new Map();
    Array.from(hit.mentions.keys()).sort(function (a, b) { return a - b; }).forEach(function (slot) {
      var said = new Map();
      hit.mentions.get(slot).told.forEach(function (pair) {
        var number = Math.max(bisect(starts, pair[0], true) - 1, 0);
        said.set(number, Math.max(said.get(number) || 0, pair[1]));
      });
      said.forEach(function (weight, number) {
        if (passages[number][2]) worth.set(number, (worth.get(number) || 0) + rarity[slot] * weight);
      });
    });
    return worth;
  }

  function shownPassage(card, worth) {
    function rest(number) { return card.passages[number][0] === TEXT ? 0 : 1; }
    var all = Array.from(card.passages.keys()).filter(function (number) { return card.passages[number][2]; });
    var kept = Array.from(worth.keys()).filter(function (number) { return card.passages[number][0] !== CAPTION; });
    if (!kept.length) kept = Array.from(worth.keys());
    var enough = Math.max.apply(null, kept.map(function (number) { return worth.get(number); })) * 0.75;
    var whole = card.date || card.kind === "page";
    var told = kept.filter(function (number) { return whole ? worth.get(number) >= enough : !rest(number); });
    told.sort(function (a, b) { return rest(a) - rest(b) || worth.get(b) - worth.get(a) || a - b; });
    all.sort(function (a, b) { return rest(a) - rest(b) || a - b; });
    return told.concat(all, null)[0];
  }

  function bestPicture(passages, worth, cover) {
    var captions = Array.from(worth.keys()).filter(function (number) { return passages[number][3] !== null; });
    captions.sort(function (a, b) { return worth.get(b) - worth.get(a) || a - b; });
    return captions.length ? passages[captions[0]][3] : cover;
  }

  function mark(text, plan, tokenizer) {
    var wanted = new Set(planTerms(plan)), marks = [];
    tokenizer.tokens(text).filter(function (token) { return token.kind !== STOP && wanted.has(token.term); })
      .sort(function (a, b) { return a.start - b.start || a.end - b.end; })
      .forEach(function (token) {
        var last = marks[marks.length - 1];
        if (last && token.start < last[1]) last[1] = Math.max(last[1], token.end);
        else marks.push([token.start, token.end]);
      });
    return cut(text, marks);
  }

  function cut(text, marks) {
    if (text.length <= LONGEST) return { text: text, marks: marks };
    var start = 0, end = text.length;
    if (marks.length && marks[0][1] > LONGEST - 40) start = text.slice(0, Math.max(0, marks[0][0] - 80)).lastIndexOf(" ") + 1;
    if (end - start > LONGEST) {
      end = start + text.slice(start, start + LONGEST).lastIndexOf(" ");
      if (end <= start) end = start + LONGEST;
    }
    var lead = start ? "… " : "", tail = end < text.length ? " …" : "", shift = lead.length - start;
    return {
      text: lead + text.slice(start, end) + tail,
      marks: marks.filter(function (one) { return one[0] >= start && one[1] <= end; })
        .map(function (one) { return [one[0] + shift, one[1] + shift]; })
    };
  }

  root.JournalFinding = {
    Rules: Rules,
    Tokenizer: Tokenizer,
    Lexicon: Lexicon,
    Ranker: Ranker,
    readQuery: readQuery,
    planTerms: planTerms,
    nearestWord: nearestWord,
    oneSlip: oneSlip,
    distance: distance,
    weighPassages: weighPassages,
    shownPassage: shownPassage,
    bestPicture: bestPicture,
    mark: mark,
    cut: cut,
    unpack: unpack,
    unfront: unfront
  };
})(typeof globalThis === "undefined" ? window : globalThis);
