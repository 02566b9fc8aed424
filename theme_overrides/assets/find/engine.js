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

  // Sorted words, each told as how many letters it shares with the one before, and its rest.
  function unfront(text) {
    if (!text) return [];
    var before = "";
    return text.split("|").map(function (coded) {
      before = before.slice(0, VALUES[coded.charCodeAt(0)]) + coded.slice(1);
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
    this.fieldWeights = Object.values(plain.fields);
    this.phrases = new Map();
    new Set(plain.groups.flatMap(function (group) { return group[1]; })).forEach(function (term) {
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
    return "=" + unit[0] + scaled(value * unit[1] + unit[2]) + "~" + scaled(half * unit[1]);
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
