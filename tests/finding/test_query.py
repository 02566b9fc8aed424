"""Reading a question: slots, alternatives, slips, synonyms, part numbers."""

from __future__ import annotations

from datetime import date

import pytest
from asking import Asker, ask_documents
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.finding import rules as field
from journal.finding.documents import Document, DocumentKind, Passage
from journal.finding.query import distance, nearest_word, one_slip, read_query, relative_dates, starting
from journal.finding.rules import shipped_rules
from journal.finding.tokens import Tokenizer


def entry(number: int, title: str, text: str = "", *, steps: str = "") -> Document:
    """A document made by hand."""
    passages = [Passage(field.TITLE, title), Passage(field.STEP, steps), Passage(field.TEXT, text)]
    return Document(
        kind=DocumentKind.ENTRY,
        id=str(number),
        address=f"entries/{number}/",
        title=title,
        date=date(2026, 1, number),
        steps=tuple(steps.split()),
        passages=tuple(passage for passage in passages if passage.text),
    )


def asked(*texts: str) -> Asker:
    """An index of entries numbered from 1 with these titles."""
    return ask_documents([entry(number, text) for number, text in enumerate(texts, start=1)])


def reference_distance(a: str, b: str) -> int:
    """Optimal string alignment by its definition (Damerau 1964; Wagner and Fischer's table)."""
    table = [[max(i, j) if 0 in (i, j) else 0 for j in range(len(b) + 1)] for i in range(len(a) + 1)]
    for i in range(1, len(a) + 1):
        for j in range(1, len(b) + 1):
            table[i][j] = min(table[i - 1][j] + 1, table[i][j - 1] + 1, table[i - 1][j - 1] + (a[i - 1] != b[j - 1]))
            if i > 1 and j > 1 and a[i - 1] == b[j - 2] and a[i - 2] == b[j - 1]:
                table[i][j] = min(table[i][j], table[i - 2][j - 2] + 1)
    return table[-1][-1]


TOKENIZER = Tokenizer(shipped_rules())
short = st.text(alphabet="abcd", max_size=7)


@pytest.mark.parametrize("names", [("tank", "fuel cell"), ("fuel cell", "main tank bay"), ("cell", "bay of tanks")])
@pytest.mark.parametrize("turn", [1, -1])
def test_names_of_any_length_answer_for_each_other(names: tuple[str, str], turn: int) -> None:
    """A journal's own names of one thing, of one word or several, find what is called by the other."""
    asked_for, written = names[::turn]
    texts = [f"The {written} was sealed", "Rudder horn filed"]
    found = [entry(number, text) for number, text in enumerate(texts, start=1)]
    assert ask_documents(found, [names])(asked_for).entries == ["1"]
    assert ask_documents(found)(asked_for).entries == []


@settings(deadline=None)
@given(short, short)
def test_one_slip_is_a_distance_of_one(a: str, b: str) -> None:
    """One letter more, less, wrong or two exchanged: exactly a Damerau-Levenshtein distance of 1."""
    assert one_slip(a, b) == (reference_distance(a, b) == 1)


@settings(deadline=None)
@given(short, short, st.integers(min_value=0, max_value=3))
def test_distance_is_exact_up_to_the_most(a: str, b: str, most: int) -> None:
    """Beyond `most` the answer is `most` + 1."""
    assert distance(a, b, most) == min(reference_distance(a, b), most + 1)


@pytest.mark.parametrize(
    ("written", "meant"),
    [("sqeezer", "squeezer"), ("rivit", "rivet"), ("dimplign", "dimpling"), ("bukcing", "bucking"), ("ccage", "cage")],
)
def test_one_slip_of_the_finger_is_forgiven(written: str, meant: str) -> None:
    """A missing, wrong, doubled or exchanged letter finds the word all the same."""
    ask = asked(f"The {meant} on the bench", "Something else")
    assert ask(written).entries == ["1"]


@pytest.mark.parametrize("question", ["W-1008", "7.11", "AN470AD4-6", "#41", "rob"])
def test_no_slip_in_a_number_or_a_short_word(question: str) -> None:
    """Part numbers, steps, drills and words of three letters are taken at their word."""
    ask = ask_documents([entry(1, "W-1007 rib with AN470AD4-5 opened to #40", steps="7.10")])
    assert ask(question).entries == []


@pytest.mark.parametrize(
    "question",
    ["AN426AD3-3.5", "an426ad3-3.5", "AN426AD3", "AN426", "426AD3-3.5", "AD3-3.5", "an 426 ad3-3.5", "MS20426AD3-3.5"],
)
def test_a_rivet_is_found_by_its_number_its_beginning_and_its_pieces(question: str) -> None:
    """However much of a rivet's part number is typed, the entry that names it is found."""
    ask = asked("Set with AN426AD3-3.5", "Set with AN470AD4-5", "Set with AN426AD4-4 and more")
    assert "1" in ask(question).entries
    assert "2" not in ask(question).entries


@pytest.mark.parametrize("question", ["W-1007-L", "W-1007", "w1007l", "W 1007", "1007", "where is W-1007?"])
def test_a_part_is_found_by_its_number_its_beginning_and_its_pieces(question: str) -> None:
    """A part number pasted from a drawing, with or without its hyphens and its side, finds the part."""
    ask = asked("Rib W-1007-L is bent", "Rib W-1008-L is straight")
    assert ask(question).entries == ["1"]


def test_the_very_rivet_outranks_its_relatives() -> None:
    """AN426AD3-3.5 comes before AN426AD3-3 and AN426AD4-3.5, whichever is newer."""
    ask = asked("Set with AN426AD3-3.5", "Set with AN426AD3-3", "Set with AN426AD4-3.5")
    assert ask("AN426AD3-3.5").entries[0] == "1"
    assert ask("AN426AD3-3").entries[0] == "2"


def test_the_side_of_a_part_outranks_the_other_side() -> None:
    """The very number comes before numbers that only share its beginning."""
    ask = asked("Rib W-1007-R here", "Rib W-1007-L here", "Rib W-1007 here")
    assert ask("W-1007-L").entries[0] == "2"
    assert ask("W-1007").entries[0] == "3"


def test_a_step_is_not_its_neighbour_in_the_alphabet() -> None:
    """7.1 does not find 7.10, nor 7.10 find 7.1."""
    ask = ask_documents([entry(1, "One", steps="7.1"), entry(2, "Two", steps="7.10"), entry(3, "Three", steps="7.11")])
    assert ask("7.1").entries == ask("step 7.1").entries == ["1"]
    assert ask("7.10").entries == ask("which step was 7.10").entries == ["2"]


def test_a_section_finds_its_steps() -> None:
    """`step 7` finds the steps of section 7."""
    ask = ask_documents([entry(1, "One", steps="7.1"), entry(2, "Two", steps="17.1"), entry(3, "Three", steps="7.10")])
    assert set(ask("step 7").entries) == {"1", "3"}


@pytest.mark.parametrize(
    ("question", "text"),
    [
        ("#30", "opened with a 30 drill"),
        ("no. 30", "opened to #30"),
        ("number 30 drill", "opened with drill 30"),
        ("0.032", "sheet of .032"),
        ("032", "sheet of 0.032 in"),
        ("1/8", "grip 0.125 in"),
        (".094", "hole of 3/32"),
        ("62 in-lb", "torque 62 inch-pounds"),
        ("7.0 N m", "torque 62 in-lb"),
        ("2.4 mm", "hole of 3/32"),
        ("4.8 mm edge distance", "edge distance 0.19 in"),
        ("2.5 mm hole", "opened to #40"),
        ("forty thou", "a shim of 0.040"),
        ("40 lb", "18 kg of sand"),
        ("5.5 bar", "gun at 80 psi"),
        ("72°F", "22 °C in the garage"),
        ("90 minutes", "it took 1.5 hours"),
        ("14.06.2025", "done on June 14th, 2025"),
        ("June 2025", "done on 14 June 2025"),
        ("spring 2025", "done on 2025-04-01"),
        ("cleco", "held with temporary fasteners"),
        ("temporary fasteners", "held with clecos"),
        ("nut plate", "eighty nutplates"),
        ("nutplate", "eighty nut plates"),
        ("back-riveted", "done by back riveting"),
        ("backriveting", "done by back riveting"),
        ("anchor nuts", "eighty nutplates"),
        ("pop rivets", "blind rivets at the tip"),
        ("spanner", "a wrench"),
        ("horizontal stabilizer", "the tailplane"),
        ("aluminum", "aluminium angle"),
        ("noserib", "the nose rib"),
        ("dimp", "dimpling"),
    ],
)
def test_the_same_thing_in_other_words(question: str, text: str) -> None:
    """Figures written otherwise, synonyms, joined words and beginnings find the entry."""
    ask = asked(text, "nothing of the kind at all")
    assert ask(question).entries == ["1"]


def test_words_that_only_ask_do_not_count() -> None:
    """`how did we`, `which tool did we use for` leave only what is asked for."""
    ask = asked("Bending the longeron")
    plan = read_query("How did we go about bending the longeron, and which did we use?", ask.lexicon)
    assert [slot.surface for slot in plan.slots] == ["bending", "longeron"]


def test_an_unknown_word_is_named_with_its_nearest() -> None:
    """What no entry has is told, and the nearest word of the index offered."""
    ask = asked("countersinking the flange", "the countersink cage")
    asked_for = ask("kauntersinking flange")
    assert asked_for.plan.unknown == ["kauntersinking"]
    assert asked_for.entries == ["1"]
    assert nearest_word("kauntersinking", ask.lexicon) == "countersinking"
    assert nearest_word("xylophone", ask.lexicon) is None


@settings(deadline=None)
@given(st.text(max_size=60))
def test_any_question_has_a_plan(text: str) -> None:
    """No question is refused."""
    read_query(text, SMALL.lexicon)
    SMALL(text)


SMALL = asked("Nose ribs with AN470AD4-5 to #40 at 3/32", "step 7.10 of 0.032 in W-1007-L at 62 in-lb")


@pytest.mark.parametrize(
    ("a", "b", "away"),
    [
        ("", "", 0),
        ("a", "", 1),
        ("ab", "ba", 1),
        ("abc", "bac", 1),
        ("abc", "acb", 1),
        ("abcd", "badc", 2),
        ("ca", "abc", 3),
        ("abc", "cba", 2),
        ("kitten", "sitting", 3),
        ("spar", "spars", 1),
        ("rib", "rob", 1),
        ("ab", "cd", 2),
        ("abcdef", "uvwxyz", 6),
    ],
)
def test_distances_from_the_books(a: str, b: str, away: int) -> None:
    """Both ways, and cut off at every most below (Wagner and Fischer 1974; Damerau 1964: neighbours exchanged)."""
    for one, other in ((a, b), (b, a)):
        for most in range(8):
            assert distance(one, other, most) == min(away, most + 1)
        assert one_slip(one, other) is (away == 1)


@pytest.mark.parametrize("question", ["12th", "21st", "1970s", "T-6061"])
def test_no_slip_leads_to_a_term_with_figures(question: str) -> None:
    """What begins with a figure is no word that somebody misspelt."""
    ask = asked("the 11th rib", "the 22nd rib", "1980s practice", "T-6062")
    assert ask(question).entries == []


def test_a_step_word_asks_only_before_its_number() -> None:
    """`step 7.1` asks for 7.1; a step alone, or beside something else, is a word like any other."""
    ask = asked("one step further", "7.1 set")
    assert [slot.surface for slot in read_query("step 7.1", ask.lexicon).slots] == ["7.1"]
    assert [slot.surface for slot in read_query("step by 7.1", ask.lexicon).slots] == ["step", "7.1"]
    assert [slot.surface for slot in read_query("step further", ask.lexicon).slots] == ["step", "further"]
    assert [slot.surface for slot in read_query("7.1 step", ask.lexicon).slots] == ["7.1", "step"]


@pytest.mark.parametrize(
    ("question", "newest", "terms"),
    [
        ("last summer", date(2025, 9, 1), ["@2025-06", "@2025-07", "@2025-08"]),
        ("last summer", date(2025, 7, 1), ["@2024-06", "@2024-07", "@2024-08"]),
        ("this summer", date(2025, 7, 1), ["@2025-06", "@2025-07", "@2025-08"]),
        ("last winter", date(2025, 12, 31), ["@2024-12", "@2025-01", "@2025-02"]),
        ("last winter", date(2025, 2, 1), ["@2023-12", "@2024-01", "@2024-02"]),
        ("this winter", date(2025, 12, 31), ["@2025-12", "@2026-01", "@2026-02"]),
        ("last June", date(2025, 6, 30), ["@2024-06"]),
        ("last month", date(2025, 1, 31), ["@2024-12"]),
        ("this month", date(2025, 1, 31), ["@2025-01"]),
        ("last year", date(2025, 1, 31), ["2024"]),
        ("last week", date(2025, 1, 1), [f"@2024-12-{day}" for day in range(23, 30)]),
    ],
)
def test_last_is_seen_from_the_newest_entry(question: str, newest: date, terms: list[str]) -> None:
    """Weeks begin on a Monday (ISO 8601), seasons with the months of meteorologists (March, June …)."""
    named = TOKENIZER.tokens(question)
    first, *_ = (token for token in named if token.position == 1)
    assert relative_dates(first, 1 if question.startswith("last") else 0, newest, shipped_rules()) == terms


def test_the_twin_of_a_step_answers_for_it() -> None:
    """8.15 was not done yet: what was done under 7.15 comes, and before it the step itself, once it is done."""
    found = [entry(1, "One", "Held with tape.", steps="7.15"), entry(2, "Two", steps="7.1")]
    twins = {"8.15": ("7.15",), "7.15": ("8.15",)}
    assert ask_documents(found, twins=twins)("step 8.15").entries == ["1"]
    found.append(entry(3, "Three", steps="8.15"))
    assert ask_documents(found, twins=twins)("how did we do step 8.15").entries == ["3", "1"]


@pytest.mark.parametrize("question", ["1" * 5000 + "/" + "3" * 5000, "word " * 5000, "zzyzx" * 2000, "#" * 5000])
def test_no_question_is_too_long(question: str) -> None:
    """Its beginning is read; no more words become slots than anybody asks."""
    assert len(read_query(question, SMALL.lexicon).slots) <= shipped_rules().plain["most_words"]


def test_a_lexicon_knows_what_stands_in_it_and_nothing_else() -> None:
    """Terms with the number of their documents, words as written, part numbers, quantities."""
    lexicon = asked("The rib W-1007 at 2.5 mm", "A rib of 2026-02-07", "Zinc").lexicon
    assert (lexicon.count("rib"), lexicon.count("spar"), lexicon.has("rib"), lexicon.has("spar")) == (2, 0, True, False)
    words = [one for one in ("rib", "ri", "ribs", "zinc", "zincs", "") if lexicon.has_word(one)]
    assert words == ["rib", "zinc"]
    assert list(starting(lexicon.words, "zin")) == ["zinc"]
    assert list(starting(lexicon.words, "zz")) == []
    assert list(lexicon.parts) == ["w-1007"]
    ((value, half, term),) = lexicon.quantities["in"]
    assert (term, value > half > 0) == (next(one for one in lexicon.terms if one.startswith("=")), True)


@pytest.mark.parametrize(
    ("word", "nearest"),
    [
        ("rb", "rib"),
        ("ribz", "rib"),
        ("spuns", "spins"),
        ("spaws", None),
        ("flonje", "flange"),
        ("couxxxred", "countered"),
        ("coxxxxred", None),
        ("ox", None),
    ],
)
def test_the_nearest_word_is_near_for_its_length(word: str, nearest: str | None) -> None:
    """A slip for every three letters, one at least and three at most; what has two letters is nobody's slip."""
    lexicon = asked("The rib on it", "spins", "flange", "countered at").lexicon
    assert nearest_word(word, lexicon) == nearest
