// Finding in the browser: the same rules, the same index and the same figures as journal/finding/
// (tokens.py, query.py, ranking.py, snippets.py). What changes there changes here; a test holds
// both against each other. No page, no network: see find.js.
(function (root) {
  "use strict";

  var WORD = "w", NUMBER = "n", PART = "p", FRACTION = "f", DRILL = "d", DATE = "t", STOP = "s", JOINED = "j";
  var FIELDS = ["title", "step", "step_title", "manual", "tool", "method", "hardware", "people", "assembly", "when", "caption", "text", "material"];
  var TITLE = 0, STEP = 1, TOOL = 4, METHOD = 5, HARDWARE = 6, CAPTION = 10, TEXT = 11, MATERIAL = 12;

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

  function words(text) {
    return new Set(text.split(" "));
  }

  function Rules(plain, stemmer) {
    this.plain = plain;
    this.chunk = new RegExp(plain.chunk.replace(/\[W\]/g, "[" + plain.word_characters + "]"), "g");
    this.stopWords = words(plain.stop_words);
    this.questionWords = words(plain.question_words);
    this.stepWords = words(plain.step_words);
    this.numberWords = words(plain.number_words);
    this.drillWords = plain.drill_words.split(" ");
    this.units = new Map();
    for (var unit in plain.units) {
      plain.units[unit].split(" ").forEach(function (written) { this.units.set(written, unit); }, this);
    }
    this.gluedUnits = words(plain.glued_units);
    this.words = new Map(plain.spellings.word);
    this.starts = plain.spellings.start;
    this.endings = plain.endings.map(function (pair) { return [new RegExp(pair[0]), pair[1]]; });
    this.undouble = new RegExp(plain.undouble);
    this.sameParts = plain.same_parts;
    this.fieldWeights = FIELDS.map(function (name) { return plain.fields[name]; });
    this.weights = plain.alternatives;
    this._stems = new Map();
    this._stemmer = stemmer;
  }

  Rules.prototype.fold = function (word) {
    var folded = this.words.get(word);
    if (folded) return folded;
    for (var i = 0; i < this.starts.length; i++) {
      if (word.startsWith(this.starts[i][0])) {
        word = this.starts[i][1] + word.slice(this.starts[i][0].length);
        break;
      }
    }
    for (var j = 0; j < this.endings.length; j++) {
      if (this.endings[j][0].test(word)) return word.replace(this.endings[j][0], this.endings[j][1]);
    }
    return word;
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
    return (text.match(/[0-9]+|[^0-9.'-]+/g) || []).join("-");
  }

  function possessive(word) {
    return (word.endsWith("'s") ? word.slice(0, -2) : word).replace(/'/g, "");
  }

  function Tokenizer(rules) {
    this.rules = rules;
    this._known = new Map();
  }

  Tokenizer.prototype.tokens = function (text) {
    var rules = this.rules, found = [], match;
    rules.chunk.lastIndex = 0;
    while ((match = rules.chunk.exec(text))) found.push([match.index, match.index + match[0].length, match[0]]);
    var tokens = [], position = 0;
    for (var number = 0; number < found.length; number++) {
      var start = found[number][0], end = found[number][1];
      var normal = normalChunk(found[number][2]), pieces = null;
      if (number + 1 < found.length) {
        var next = found[number + 1], gap = text.slice(end, next[0]);
        if (rules.numberWords.has(normal) && /^[ .\u00a0]{0,2}$/.test(gap)) {
          var figure = normalChunk(next[2]);
          if (/^[0-9]{1,2}$/.test(figure)) pieces = this._read("#" + figure);
        } else if (/^[ .\u00a0\u00b7\u22c5-]{1,3}$/.test(gap)) {
          var pair = normal + "-" + normalChunk(next[2]);
          if (rules.units.has(pair)) pieces = this._read(pair);
        }
        if (pieces) {
          end = next[1];
          number++;
        }
      }
      if (!pieces) pieces = this._read(normal);
      var last = -1;
      for (var i = 0; i < pieces.length; i++) {
        var piece = pieces[i];
        tokens.push({ term: piece.term, kind: piece.kind, surface: piece.surface, position: position + piece.at, start: start, end: end });
        last = Math.max(last, piece.at);
      }
      position += last + 1;
    }
    return tokens;
  };

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

  var NUMERIC = /^[0-9]*\.?[0-9]+(?:\.[0-9]+)*$/;

  Tokenizer.prototype._readInto = function (chunk, built) {
    var rules = this.rules, match;
    if ((match = /^#([0-9]{1,3})$/.exec(chunk))) {
      add(built, chunk, DRILL, chunk);
      built.push({ term: match[1], kind: NUMBER, surface: match[1], at: built[built.length - 1].at });
    } else if (rules.units.has(chunk)) {
      add(built, rules.units.get(chunk), WORD, chunk);
    } else if (/^[0-9]{4}-[0-9]{2}-[0-9]{2}$/.test(chunk)) {
      add(built, chunk, DATE, chunk);
    } else if (chunk.indexOf(",") >= 0) {
      if (/^[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?$/.test(chunk)) this._readInto(chunk.replace(/,/g, ""), built);
      else this._readEach(chunk.split(","), built);
    } else if ((match = /^([0-9]+)-([0-9]+\/[0-9]+)$/.exec(chunk))) {
      this._readEach([match[1], match[2]], built);
    } else if (/^[0-9]+\/[0-9]+$/.test(chunk)) {
      add(built, chunk, FRACTION, chunk);
    } else if ((match = this._measure(chunk))) {
      this._readEach([match[1], match[2]], built);
    } else if (/[\/#]/.test(chunk)) {
      this._readEach(chunk.split(/[\/#]/), built);
    } else if ((match = /^([0-9]+\.[0-9]+)-([0-9]+\.[0-9]+)$/.exec(chunk))) {
      this._readEach([match[1], match[2]], built);
    } else if (NUMERIC.test(chunk)) {
      var number = plainNumber(chunk);
      add(built, number, NUMBER, number);
    } else if ((match = /^([0-9][0-9.\/]*)x([0-9][0-9.\/]*)$/.exec(chunk))) {
      this._readEach([match[1], match[2]], built);
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

  Tokenizer.prototype._measure = function (chunk) {
    var match = /^([0-9]*\.?[0-9]+|[0-9]+\/[0-9]+)-?([a-z][a-z.-]*)$/.exec(chunk);
    if (!match) return null;
    var unit = match[2], units = this.rules.units, counts;
    if (chunk[match[1].length] === "-") counts = units.has(unit) || unit === "in" || unit.length > 3;
    else counts = this.rules.gluedUnits.has(unit) || (unit.indexOf("-") >= 0 && units.has(unit));
    return counts ? match : null;
  };

  Tokenizer.prototype._part = function (chunk, built) {
    var run = [];
    chunk.split("-").forEach(function (segment) {
      if (/^[^0-9]{4,}$/.test(segment)) {
        this._closePart(run, built);
        run = [];
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
    if (rules.units.has(word)) add(built, rules.units.get(word), WORD, word);
    else if (rules.stopWords.has(word) || /^[\x00-\x7f]$/.test(word)) add(built, word, STOP, word);
    else add(built, rules.stem(word), WORD, word);
  };

  // --- questions (query.py) --------------------------------------------------------------------

  function bisectLeft(sorted, value) {
    var low = 0, high = sorted.length;
    while (low < high) {
      var middle = (low + high) >> 1;
      if (sorted[middle] < value) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  function Lexicon(plain, tokenizer) {
    this.plain = plain;
    this.tokenizer = tokenizer;
    this.rules = tokenizer.rules;
    this.terms = plain.terms;
    this.words = plain.words;
    this.groups = plain.groups;
    this.groupWords = Object.entries(plain.group_words);
    this.groupStems = new Set(this.groupWords.map(function (pair) { return pair[1]; }));
    this._numbers = new Map(plain.terms.map(function (term, number) { return [term, number]; }));
    this._groupsByTerm = new Map();
    this.groups.forEach(function (group, number) {
      group[1].forEach(function (phrase) {
        var of = this._groupsByTerm.get(phrase[0]);
        if (!of) this._groupsByTerm.set(phrase[0], (of = []));
        if (of.indexOf(number) < 0) of.push(number);
      }, this);
    }, this);
  }

  Lexicon.prototype.has = function (term) { return this._numbers.has(term); };

  Lexicon.prototype.count = function (term) {
    var number = this._numbers.get(term);
    return number === undefined ? 0 : this.plain.counts[number];
  };

  Lexicon.prototype.hasWord = function (word) { return this.words[bisectLeft(this.words, word)] === word; };

  function from(sorted, start) {
    var out = [], place = bisectLeft(sorted, start);
    while (place < sorted.length && sorted[place].startsWith(start)) out.push(sorted[place++]);
    return out;
  }

  Lexicon.prototype.groupsOf = function (term) {
    return (this._groupsByTerm.get(term) || []).map(function (number) { return this.groups[number]; }, this);
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
    this.text = text;
    this.lexicon = lexicon;
    this.rules = lexicon.rules;
    this.weights = lexicon.rules.weights;
    this.tokens = lexicon.tokenizer.tokens(text);
  }

  function readQuery(text, lexicon) {
    return new Reader(text, lexicon).plan();
  }

  Reader.prototype.plan = function () {
    var counted = this._counted();
    var slots = counted.map(function (token) {
      return { surface: token.surface, kind: token.kind, term: token.term, stems: [], alternatives: [] };
    });
    slots.forEach(function (slot, number) { this._fill(slot, counted[number]); }, this);
    var spans = this._synonymSpans(slots).concat(this._joinedWords(slots, counted));
    this._joinedParts(counted).forEach(function (span) {
      if (span.first === span.last) slots[span.first].alternatives.push(span.alternative);
      else spans.push(span);
    });
    slots.forEach(function (slot) { slot.alternatives = kept(slot.alternatives); });
    var covered = new Set();
    spans.forEach(function (span) {
      for (var number = span.first; number <= span.last; number++) covered.add(number);
    });
    var unknown = [];
    slots.forEach(function (slot, number) {
      if (!slot.alternatives.length && !covered.has(number)) unknown.push(slot.surface);
    });
    return { slots: slots, spans: spans, unknown: unknown };
  };

  function planTerms(plan) {
    var terms = new Set();
    plan.slots.forEach(function (slot) {
      slot.alternatives.forEach(function (one) { one.terms.forEach(function (term) { terms.add(term); }); });
    });
    plan.spans.forEach(function (span) { span.alternative.terms.forEach(function (term) { terms.add(term); }); });
    return Array.from(terms);
  }

  Reader.prototype._counted = function () {
    var rules = this.rules, kept = [];
    var tokens = this.tokens.filter(function (token) { return token.kind !== STOP && token.kind !== JOINED; });
    tokens.forEach(function (token, number) {
      if (kept.length && kept[kept.length - 1].position === token.position) return;
      var following = tokens[number + 1];
      var namesAStep = rules.stepWords.has(token.surface) && following && following.position === token.position + 1 &&
        (following.kind === NUMBER || following.kind === PART);
      if (!namesAStep && !rules.questionWords.has(token.surface)) kept.push(token);
    });
    return kept.length ? kept : tokens;
  };

  Reader.prototype._fill = function (slot, token) {
    if (slot.kind === WORD) this._fillWord(slot);
    else if (slot.kind === NUMBER) this._fillNumber(slot, token);
    else if (slot.kind === PART) this._fillPart(slot);
    else if (slot.kind === FRACTION) this._fillFraction(slot);
    else if (slot.kind === DRILL) this._fillDrill(slot);
    else if (slot.kind === DATE) this._add(slot, 1, [slot.term]);
  };

  Reader.prototype._add = function (slot, weight, terms) {
    if (terms.every(this.lexicon.has, this.lexicon)) slot.alternatives.push({ weight: weight, terms: terms });
  };

  function same(one, other) {
    return one.length === other.length && one.every(function (term, number) { return term === other[number]; });
  }

  function ordered(one, other) {
    return one < other ? -1 : one > other ? 1 : 0;
  }

  Reader.prototype._fillWord = function (slot) {
    var lexicon = this.lexicon, weights = this.weights, rules = this.rules, word = slot.surface, stem = slot.term;
    this._add(slot, 1, [stem]);
    if (lexicon.has(stem) || lexicon.groupStems.has(stem)) {
      slot.stems = [stem];
    } else {
      var guesses = new Map();
      if (word.length >= 3) {
        from(lexicon.words, word).forEach(function (longer) {
          var other = rules.stem(longer);
          if (!guesses.has(other)) guesses.set(other, weights.prefix);
        });
      }
      if (word.length >= 4 && word[0] > "9") {
        this._slips(word, stem).forEach(function (slip) {
          if (!guesses.has(slip[0])) guesses.set(slip[0], slip[1]);
        });
      }
      var ranked = Array.from(guesses).sort(function (one, other) {
        return other[1] - one[1] || lexicon.count(other[0]) - lexicon.count(one[0]) || ordered(one[0], other[0]);
      }).slice(0, rules.plain.most_alternatives);
      ranked.forEach(function (guess) { this._add(slot, guess[1], [guess[0]]); }, this);
      slot.stems = ranked.map(function (guess) { return guess[0]; });
    }
    if (word.length >= 6) {
      for (var cut = 3; cut < word.length - 2; cut++) {
        var left = word.slice(0, cut), right = word.slice(cut);
        if (lexicon.hasWord(left) && lexicon.hasWord(right)) {
          this._add(slot, weights.joined, [rules.stem(left), rules.stem(right)]);
        }
      }
    }
    slot.stems.forEach(function (one) {
      var share = one === slot.term ? 1 : weights.slip;
      lexicon.groupsOf(one).forEach(function (group) {
        if (!group[1].some(function (phrase) { return same(phrase, [one]); })) return;
        group[1].forEach(function (phrase) {
          if (!same(phrase, [one])) this._add(slot, (group[0] === "same" ? weights.synonym : weights.kin) * share, phrase);
        }, this);
      }, this);
    }, this);
  };

  Reader.prototype._slips = function (word, stem) {
    var weights = this.weights, lexicon = this.lexicon, rules = this.rules, out = [];
    function weight(other) { return other[0] === word[0] ? weights.slip : weights.slip_first; }
    lexicon.words.forEach(function (known) {
      if (known.length >= 3 && oneSlip(word, known)) out.push([rules.stem(known), weight(known)]);
    });
    lexicon.groupWords.forEach(function (pair) {
      if (pair[0].length >= 3 && oneSlip(word, pair[0])) out.push([pair[1], weight(pair[0])]);
    });
    rules.starts.concat(Array.from(rules.words)).forEach(function (pair) {
      if (pair[0].length >= 4 && oneSlip(word, pair[0])) out.push([rules.stem(pair[1]), weight(pair[0])]);
    });
    if (stem.length >= 4) {
      lexicon.terms.forEach(function (term) {
        if (term[0] > "9" && oneSlip(stem, term) && term.indexOf("-") < 0) out.push([term, weight(term)]);
      });
    }
    return out;
  };

  Reader.prototype._synonymSpans = function (slots) {
    var lexicon = this.lexicon, weights = this.weights, out = [];
    slots.forEach(function (slot, first) {
      slot.stems.forEach(function (stem) {
        lexicon.groupsOf(stem).forEach(function (group) {
          group[1].forEach(function (phrase) {
            var last = first + phrase.length - 1;
            if (phrase.length < 2 || phrase[0] !== stem || last >= slots.length) return;
            var said = phrase.every(function (term, number) {
              var other = slots[first + number];
              return other.stems.indexOf(term) >= 0 || other.term === term;
            });
            if (!said) return;
            group[1].forEach(function (other) {
              if (!same(other, phrase) && other.every(lexicon.has, lexicon)) {
                out.push({
                  first: first,
                  last: last,
                  alternative: { weight: group[0] === "same" ? weights.synonym : weights.kin, terms: other }
                });
              }
            });
          });
        });
      });
    });
    return out;
  };

  Reader.prototype._joinedWords = function (slots, counted) {
    var out = [];
    for (var first = 0; first + 1 < slots.length; first++) {
      var one = slots[first], two = slots[first + 1];
      if (one.kind === WORD && two.kind === WORD && counted[first].position + 1 === counted[first + 1].position) {
        var joined = this.rules.stem(one.surface + two.surface);
        if (this.lexicon.has(joined)) {
          out.push({ first: first, last: first + 1, alternative: { weight: this.weights.joined, terms: [joined] } });
        }
      }
    }
    return out;
  };

  function isWhole(text) { return /^[0-9]+$/.test(text); }

  Reader.prototype._fillNumber = function (slot, token) {
    var number = slot.term, weights = this.weights;
    this._add(slot, 1, [number]);
    if (number[0] === ".") {
      fractionsNear(number).forEach(function (fraction) { this._add(slot, weights.same_figure, [fraction]); }, this);
      this._add(slot, weights.same_figure, [number.slice(1).padEnd(3, "0")]);
    } else if (number.length === 3 && isWhole(number) && number[0] === "0") {
      this._add(slot, weights.same_figure, [plainNumber("0." + number)]);
    }
    if (isWhole(number) && this._afterStepWord(token)) {
      from(this.lexicon.terms, number + ".").forEach(function (term) { this._add(slot, weights.part_piece, [term]); }, this);
    }
    if (isWhole(number) && number.length >= 3) this._addParts(slot, number);
    if (!this.lexicon.has(number) && number.replace(/^\.+|\.+$/g, "").indexOf(".") >= 0) this._addParts(slot, partForm(number));
  };

  Reader.prototype._addParts = function (slot, piece) {
    this._parts().forEach(function (part) {
      if (("-" + part + "-").indexOf("-" + piece + "-") >= 0) this._add(slot, this.weights.part_piece, [part]);
    }, this);
  };

  Reader.prototype._afterStepWord = function (token) {
    return this.tokens.some(function (other) {
      return this.rules.stepWords.has(other.surface) && other.position === token.position - 1;
    }, this);
  };

  Reader.prototype._fillFraction = function (slot) {
    this._add(slot, 1, [slot.term]);
    var over = Number(slot.term.split("/")[0]), under = Number(slot.term.split("/")[1]);
    if (0 < over && over < under) {
      decimalsOf(over, under).forEach(function (decimal) { this._add(slot, this.weights.same_figure, [decimal]); }, this);
    }
  };

  Reader.prototype._fillDrill = function (slot) {
    var number = slot.term.slice(1);
    this._add(slot, 1, [slot.term]);
    this.rules.drillWords.forEach(function (word) {
      var stem = this.rules.stem(word);
      this._add(slot, this.weights.same_figure, [number, stem]);
      this._add(slot, this.weights.same_figure, [stem, number]);
    }, this);
  };

  Reader.prototype._parts = function () {
    if (!this.lexicon.parts) {
      this.lexicon.parts = this.lexicon.terms.filter(function (term) {
        return term.indexOf("-") >= 0 && /[0-9]/.test(term) && !isDate(term);
      });
    }
    return this.lexicon.parts;
  };

  Reader.prototype._fillPart = function (slot) {
    this._partAlternatives(slot.term).forEach(function (pair) { this._add(slot, pair[0], [pair[1]]); }, this);
    slot.term.split("-").forEach(function (piece) {
      if (isWhole(piece) && piece.length >= 3) this._add(slot, this.weights.part_other, [piece]);
    }, this);
  };

  Reader.prototype._partAlternatives = function (part) {
    var weights = this.weights, lexicon = this.lexicon, parts = this._parts(), forms = [part], found = [];
    this.rules.sameParts.forEach(function (pair) {
      [[pair[0], pair[1]], [pair[1], pair[0]]].forEach(function (ab) {
        if (part === ab[0] || part.startsWith(ab[0] + "-")) forms.push(ab[1] + part.slice(ab[0].length));
      });
    });
    forms.forEach(function (form, number) {
      var share = number === 0 ? 1 : weights.synonym, exact = lexicon.has(form);
      if (exact) found.push([share, form]);
      var rest = share * (exact ? 0.5 : 1);
      var starts = parts.filter(function (other) { return other.startsWith(form + "-"); });
      var pieces = parts.filter(function (other) {
        return ("-" + other + "-").indexOf("-" + form + "-") >= 0 && other !== form && !other.startsWith(form + "-");
      });
      starts.forEach(function (other) { found.push([rest * weights.part_start, other]); });
      if (form.replace(/-/g, "").length >= 3) {
        pieces.forEach(function (other) { found.push([rest * weights.part_piece, other]); });
      }
      if (!exact && !starts.length && !pieces.length) {
        from(lexicon.terms, form).forEach(function (other) {
          if (other.indexOf("-") >= 0) found.push([rest * weights.part_other, other]);
        });
      }
      var longer = form;
      while (longer.split("-").length > 2) {
        longer = longer.slice(0, longer.lastIndexOf("-"));
        if (lexicon.has(longer)) found.push([rest * weights.part_longer, longer]);
      }
    });
    return found;
  };

  Reader.prototype._joinedParts = function (counted) {
    var chunks = [], slotAt = new Map(), out = [], lexicon = this.lexicon, text = this.text;
    this.tokens.forEach(function (token) {
      var key = token.start + ":" + token.end;
      if (!chunks.length || chunks[chunks.length - 1].key !== key) chunks.push({ key: key, start: token.start, end: token.end });
    });
    counted.forEach(function (token, number) {
      var key = token.start + ":" + token.end;
      if (!slotAt.has(key)) slotAt.set(key, []);
      slotAt.get(key).push(number);
    });
    for (var first = 0; first < chunks.length; first++) {
      for (var last = first + 1; last < Math.min(first + 4, chunks.length); last++) {
        var run = chunks.slice(first, last + 1), slots = [];
        var whole = partForm(run.map(function (chunk) { return normalChunk(text.slice(chunk.start, chunk.end)); }).join("-"));
        run.forEach(function (chunk) { slots = slots.concat(slotAt.get(chunk.key) || []); });
        if (!slots.length || /^[0-9]/.test(whole) || !/[0-9]/.test(whole)) continue;
        var span = function (weight, part) {
          out.push({ first: slots[0], last: slots[slots.length - 1], alternative: { weight: weight, terms: [part] } });
        };
        if (lexicon.has(whole)) span(1, whole);
        from(lexicon.terms, whole + "-").forEach(span.bind(null, this.weights.part_start));
      }
    }
    return out;
  };

  function kept(alternatives) {
    var best = new Map();
    alternatives.forEach(function (one) {
      var key = one.terms.join(" "), before = best.get(key);
      if (!before || one.weight > before.weight) best.set(key, one);
    });
    return Array.from(best.values()).sort(function (one, other) {
      if (one.weight !== other.weight) return other.weight - one.weight;
      for (var i = 0; i < Math.min(one.terms.length, other.terms.length); i++) {
        if (one.terms[i] !== other.terms[i]) return ordered(one.terms[i], other.terms[i]);
      }
      return one.terms.length - other.terms.length;
    });
  }

  function isDate(term) {
    return /^[0-9]{4}-[0-9]{2}-[0-9]{2}$/.test(term);
  }

  function decimalsOf(over, under) {
    var found = [];
    [5, 4, 3].forEach(function (places) {
      var scaled = Math.pow(10, places) * over, rounded = Math.floor((2 * scaled + under) / (2 * under));
      if (places < 5 || scaled % under === 0) {
        var text = "." + String(rounded).padStart(places, "0").replace(/0+$/, "");
        if (found.indexOf(text) < 0 && text !== ".") found.push(text);
      }
    });
    return found;
  }

  function fractionsNear(decimal) {
    var digits = decimal.slice(1);
    if (digits.length > 5) return [];
    var scale = Math.pow(10, digits.length);
    var over = Math.floor((128 * Number(digits) + scale) / (2 * scale)), under = 64;
    if (!(0 < over && over < 64)) return [];
    while (over % 2 === 0) {
      over /= 2;
      under /= 2;
    }
    return decimalsOf(over, under).indexOf(decimal) >= 0 ? [over + "/" + under] : [];
  }

  // --- order (ranking.py) ----------------------------------------------------------------------

  function rounded(value) {
    return Math.floor(value * 1e6 + 0.5) / 1e6;
  }

  function bisectRight(sorted, value) {
    var low = 0, high = sorted.length;
    while (low < high) {
      var middle = (low + high) >> 1;
      if (value < sorted[middle]) high = middle;
      else low = middle + 1;
    }
    return low;
  }

  function Ranker(lexicon, fetch) {
    var plain = lexicon.plain, rules = lexicon.rules.plain;
    this.lexicon = lexicon;
    this.fetch = fetch;
    this.sheets = plain.sheets;
    this.lengths = plain.lengths;
    this.average = plain.average;
    this.redone = new Set(plain.redone);
    this.fieldWeights = lexicon.rules.fieldWeights;
    this.lengthShare = rules.length_share;
    this.gap = rules.gap.field;
    this.saturation = rules.saturation;
    this.near = rules.near;
    this.coverageLeast = rules.coverage_least;
    this.rework = rules.rework;
    this.tail = rules.tail;
    this.leastCounted = rules.alternatives.least_counted;
    this._postings = new Map();
    this._fields = new Map();
  }

  Ranker.prototype.answer = function (plan, allowed) {
    var bySlot = plan.slots.map(function (slot) {
      var mentions = new Map();
      slot.alternatives.forEach(function (alternative) { this._collect(mentions, alternative, 0); }, this);
      return mentions;
    }, this);
    plan.spans.forEach(function (span) {
      for (var number = span.first; number <= span.last; number++) {
        this._collect(bySlot[number], span.alternative, number - span.first);
      }
    }, this);
    var rarity = bySlot.map(this._rarity, this), whole = 0, told = 0, documents = new Set();
    rarity.forEach(function (rare) { whole += rare; });
    bySlot.forEach(function (mentions) {
      if (mentions.size) told++;
      mentions.forEach(function (one, document) { documents.add(document); });
    });
    var sheets = [], lines = [];
    Array.from(documents).sort(function (a, b) { return a - b; }).forEach(function (document) {
      if (document >= this.sheets || allowed(document)) {
        var hit = this._hit(document, bySlot, rarity, whole, plan);
        (document >= this.sheets ? lines : sheets).push(hit);
      }
    }, this);
    sheets.sort(function (one, other) { return other.score - one.score || other.document - one.document; });
    lines.sort(function (one, other) { return other.score - one.score || one.document - other.document; });
    var least = sheets.length ? sheets[0].score * this.tail : 0;
    return {
      sheets: sheets.filter(function (hit) { return hit.score >= least; }),
      lines: lines.filter(function (hit) {
        return hit.named || (hit.titled && hit.coverage > 0.55 && hit.mentions.size === told);
      }),
      rarity: rarity
    };
  };

  Ranker.prototype._occurrences = function (term) {
    var found = this._postings.get(term);
    if (!found) {
      var packed = this.fetch(term);
      found = packed ? readPostings(packed) : new Map();
      this._postings.set(term, found);
    }
    return found;
  };

  Ranker.prototype._phrase = function (terms) {
    var runs = new Map();
    this._occurrences(terms[0]).forEach(function (positions, document) {
      runs.set(document, positions.map(function (position) { return [position, position]; }));
    });
    for (var i = 1; i < terms.length; i++) {
      var following = this._occurrences(terms[i]), keptRuns = new Map();
      runs.forEach(function (pairs, document) {
        var positions = following.get(document);
        if (!positions) return;
        var there = new Set(positions), longer = [];
        pairs.forEach(function (pair) {
          if (there.has(pair[1] + 1)) longer.push([pair[0], pair[1] + 1]);
          else if (there.has(pair[1] + 2)) longer.push([pair[0], pair[1] + 2]);
        });
        if (longer.length) keptRuns.set(document, longer);
      });
      runs = keptRuns;
    }
    var out = new Map();
    runs.forEach(function (pairs, document) { out.set(document, pairs.map(function (pair) { return pair[0]; })); });
    return out;
  };

  Ranker.prototype._collect = function (into, alternative, shift) {
    var terms = alternative.terms, weight = alternative.weight;
    var found = terms.length === 1 ? this._occurrences(terms[0]) : this._phrase(terms);
    found.forEach(function (positions, document) {
      var fields = this._fieldFactors(document), mentions = into.get(document);
      if (!mentions) into.set(document, (mentions = { sum: 0, best: 0, positions: [] }));
      var total = mentions.sum;
      for (var i = 0; i < positions.length; i++) {
        total += weight * fields.factors[bisectRight(fields.starts, positions[i]) - 1];
        mentions.positions.push(positions[i] + shift);
      }
      mentions.sum = total;
      if (weight > mentions.best) mentions.best = weight;
    }, this);
  };

  Ranker.prototype._fieldFactors = function (document) {
    var known = this._fields.get(document);
    if (!known) {
      var starts = [], factors = [], start = 0;
      for (var number = 0; number < FIELDS.length; number++) {
        var length = this.lengths[document * FIELDS.length + number], average = this.average[number], share = 1;
        starts.push(start);
        if (average > 0) share = 1 - this.lengthShare + (this.lengthShare * length) / average;
        factors.push(this.fieldWeights[number] / share);
        start += length + this.gap;
      }
      known = { starts: starts, factors: factors };
      this._fields.set(document, known);
    }
    return known;
  };

  Ranker.prototype._rarity = function (mentions) {
    if (!mentions.size) return 0;
    var count = 0;
    mentions.forEach(function (one, document) {
      if (document < this.sheets && one.best >= this.leastCounted) count++;
    }, this);
    return rounded(Math.log(1 + (this.sheets - count + 0.5) / (count + 0.5)));
  };

  Ranker.prototype._hit = function (document, bySlot, rarity, whole, plan) {
    var mentions = new Map(), score = 0, covered = 0, named = false, titled = false, before = -1, nearness = 0;
    for (var number = 0; number < plan.slots.length; number++) {
      var one = bySlot[number].get(document);
      if (!one) continue;
      one.positions.sort(function (a, b) { return a - b; });
      mentions.set(number, one);
      var share = one.sum / (one.sum + this.saturation);
      score += rarity[number] * share * (1 + this.saturation);
      covered += rarity[number] * one.best;
      if (before >= 0) {
        var away = nearest(mentions.get(before).positions, one.positions);
        if (away < this.near.reach) {
          nearness += Math.min(rarity[before], rarity[number]) / (1 + (away - 1) / this.near.ease);
        }
      }
      before = number;
      if (document >= this.sheets) {
        var kind = plan.slots[number].kind, fields = this._fieldsOf(document, one.positions);
        titled = titled || fields.has(TITLE);
        if ((kind === NUMBER || kind === PART) && one.best >= 0.35) {
          named = named || fields.has(STEP) || fields.has(HARDWARE);
        }
      }
    }
    score += this.near.weight * nearness;
    var coverage = whole > 0 ? covered / whole : 0;
    score *= this.coverageLeast + (1 - this.coverageLeast) * coverage * coverage;
    if (this.redone.has(document)) {
      var newest = this.sheets > 1 ? document / (this.sheets - 1) : 1;
      score *= 1 + this.rework.redone + this.rework.newest * newest;
    }
    return { document: document, score: rounded(score), coverage: coverage, named: named, titled: titled, mentions: mentions };
  };

  Ranker.prototype._fieldsOf = function (document, positions) {
    var starts = this._fieldFactors(document).starts;
    return new Set(positions.map(function (position) { return bisectRight(starts, position) - 1; }));
  };

  function nearest(ones, others) {
    var least = 1 << 30, i = 0, j = 0;
    while (i < ones.length && j < others.length) {
      var away = ones[i] - others[j];
      if (away < 0) {
        away = -away;
        i++;
      } else {
        j++;
      }
      if (away < least) least = away;
    }
    return Math.max(least, 1);
  }

  // --- sentences (snippets.py) -----------------------------------------------------------------

  var LONGEST = 240, LIKED = {};
  LIKED[TEXT] = 0.4;
  LIKED[CAPTION] = 0.3;
  LIKED[HARDWARE] = 0.5;
  LIKED[MATERIAL] = 0.1;
  LIKED[TOOL] = 0;
  LIKED[METHOD] = 0;

  function bestPassage(fields, starts, mentions, rarity) {
    var worth = new Map();
    Array.from(mentions.keys()).sort(function (a, b) { return a - b; }).forEach(function (slot) {
      var said = new Set(), one = mentions.get(slot);
      one.positions.forEach(function (position) {
        var passage = bisectRight(starts, position) - 1;
        if (passage >= 0 && !said.has(passage) && fields[passage] in LIKED) {
          said.add(passage);
          worth.set(passage, (worth.get(passage) || 0) + rarity[slot] * one.best);
        }
      });
    });
    var best = null, bestWorth = 0;
    Array.from(worth.keys()).sort(function (a, b) { return a - b; }).forEach(function (passage) {
      var total = worth.get(passage) + LIKED[fields[passage]];
      if (best === null || total > bestWorth) {
        best = passage;
        bestWorth = total;
      }
    });
    return best;
  }

  function markedTerms(plan) {
    var terms = new Set(), runs = new Map();
    function take(one) {
      if (one.terms.length === 1) terms.add(one.terms[0]);
      else runs.set(one.terms.join(" "), one.terms);
    }
    plan.slots.forEach(function (slot) { slot.alternatives.forEach(take); });
    plan.spans.forEach(function (span) { take(span.alternative); });
    return { terms: terms, runs: Array.from(runs.values()) };
  }

  function mark(text, marked, tokenizer) {
    var tokens = tokenizer.tokens(text).filter(function (token) { return token.kind !== STOP; }), hit = new Set();
    tokens.forEach(function (token, number) { if (marked.terms.has(token.term)) hit.add(number); });
    marked.runs.forEach(function (run) {
      tokens.forEach(function (token, first) {
        if (token.term === run[0]) runFrom(tokens, first, run).forEach(function (number) { hit.add(number); });
      });
    });
    var found = [];
    Array.from(hit).sort(function (a, b) { return a - b; }).forEach(function (number) {
      var token = tokens[number], last = found[found.length - 1];
      if (!last || last[0] !== token.start || last[1] !== token.end) found.push([token.start, token.end]);
    });
    return cut(text, found);
  }

  function runFrom(tokens, first, run) {
    var numbers = [first];
    for (var i = 1; i < run.length; i++) {
      var before = numbers[numbers.length - 1], next = -1;
      for (var number = before + 1; number < Math.min(before + 4, tokens.length); number++) {
        var away = tokens[number].position - tokens[before].position;
        if (tokens[number].term === run[i] && away > 0 && away <= 2) {
          next = number;
          break;
        }
      }
      if (next < 0) return [];
      numbers.push(next);
    }
    return numbers;
  }

  function cut(text, marks) {
    if (text.length <= LONGEST) return { text: text, marks: marks };
    var start = 0, end = text.length;
    if (marks.length && marks[0][1] > LONGEST - 40) start = lastSpace(text, 0, Math.max(0, marks[0][0] - 80)) + 1;
    if (end - start > LONGEST) {
      end = lastSpace(text, start, start + LONGEST);
      if (end <= start) end = start + LONGEST;
    }
    var lead = start ? "… " : "", tail = end < text.length ? " …" : "", shift = lead.length - start;
    return {
      text: lead + text.slice(start, end) + tail,
      marks: marks.filter(function (one) { return one[0] >= start && one[1] <= end; })
        .map(function (one) { return [one[0] + shift, one[1] + shift]; })
    };
  }

  // The last space of text[from, to), or -1.
  function lastSpace(text, from, to) {
    for (var at = Math.min(to, text.length) - 1; at >= from; at--) if (text[at] === " ") return at;
    return -1;
  }

  root.JournalFinding = {
    FIELDS: FIELDS,
    Rules: Rules,
    Tokenizer: Tokenizer,
    Lexicon: Lexicon,
    Ranker: Ranker,
    readQuery: readQuery,
    planTerms: planTerms,
    nearestWord: nearestWord,
    bestPassage: bestPassage,
    markedTerms: markedTerms,
    mark: mark,
    cut: cut,
    unpack: unpack,
    unfront: unfront
  };
})(typeof globalThis === "undefined" ? window : globalThis);
