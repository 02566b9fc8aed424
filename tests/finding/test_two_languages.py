"""Python and the browser read words and questions, rank, choose what is shown, and mark, in just the same way."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from asking import Asker, asker
from collecting import judged, judged_by_kind
from playwright.sync_api import Browser, Page

from journal.finding.cards import answer_cards, best_picture, mark_words, shown_passage, weigh_passages
from journal.finding.index import analyse, pack
from journal.finding.query import distance, nearest_word, one_slip
from journal.ledger.journal import Journal
from journal.view.view import Audience, open_view

pytestmark = pytest.mark.browser

ASSETS = Path(__file__).parents[2] / "theme_overrides" / "assets" / "find"
ODD = (
    "AN426AD3-3.5 W-1007-L W1007L an 470 ad4–5, No. 40 number 30 #21 62in-lb 7 N·m 3/32in 1½ 5.3–5.6 1,250 2x4 2nd",
    "Zürich naïve façade Æther straße ÅNGSTRÖM don't builder's well-known e.g. 2024-T3 10-32 0.032 .0320 7.10.2",
    "½-inch ⅛ 3⁄32 “quoted” ‘single’ — dash… 2026-02-07 20-gauge 100-degree R&D a/b/c 日本語 кириллица عربى x",
    "14.06.2026 June 14th, 2026 14th of June spring 2026 last winter in March may 3 mm 31.13.2026 2026-06 06/14/2026",
    "63°F 22 degrees C half a millimetre a quarter of an inch ten thou",
    '38 to 42 psi 0.19 x 0.06 in 1/8" 032 9/0 4 by 6 mm',
)
ODD_PIECES = (
    "last summer|last week|this month|in March|14 June|14.06.2025|spring 2025|62 in-lb|2.5 N m|40 thou",
    "4.8 mm|3/32|#40|No. 30|63°F|½ in|7-09|page 5-3|step 8.15|AN470|an 470 ad4-5|W1007|what does",
    "where is|photo of|not|without|last|half an inch|2x4|99999/100000|0/4|may|dec 3|2025|don't|#|-",
    "1-1/2 in|last june|call-outs for|noserib|nut plate|12th|step 7|steps 5|MS20426AD3-3|builder's",
    "12/12/2025|13/12/2025|june 3 mm|5h|5l|1.1x2|nosxrib|this winter|last may|first 3 of",
    "31 May of 2025|1/2 in.-lb|no 400|flush big head|it's|ft.lb",
)
PIECES = [piece for line in ODD_PIECES for piece in line.split("|")]


@pytest.fixture(scope="module")
def everything(journal: Journal) -> Asker:
    """Ask for everything, as the archive does."""
    return asker(open_view(journal, Audience.ARCHIVE))


@pytest.fixture
def page(browser: Browser, everything: Asker) -> Iterator[Page]:
    """An empty page with the engine over the same index as Python has."""
    opened = browser.new_page()
    opened.set_content("<!doctype html><title>engine</title>")
    for name in ("base-stemmer.js", "english-stemmer.js", "engine.js"):
        opened.add_script_tag(path=str(ASSETS / name))
    plain = dict(everything.index.lexicon)
    plain["lengths"] = [length for lengths in plain["lengths"] for length in lengths]
    opened.evaluate(
        """([plain, rules, postings, cards]) => {
          const F = JournalFinding, stemmer = new EnglishStemmer();
          window.rules = new F.Rules(rules, word => stemmer.stemWord(word));
          window.tokenizer = new F.Tokenizer(window.rules);
          window.lexicon = new F.Lexicon(plain, window.tokenizer);
          window.ranker = new F.Ranker(window.lexicon, term => postings[term]);
          window.cards = cards;
        }""",
        [plain, dict(everything.lexicon.rules.plain), dict(everything.index.postings), cards_of(everything)],
    )
    yield opened
    opened.close()


def cards_of(ask: Asker) -> list[dict[str, Any]]:
    """The card of every document."""
    return answer_cards(ask.documents, [analyse(one, ask.lexicon.tokenizer) for one in ask.documents], ())


def questions(ask: Asker, count: int, seed: int) -> list[str]:
    """Words of the collection, figures, dates, slips of the finger, in any order."""
    drawn = random.Random(seed)
    words = [word for document in ask.documents for passage in document.passages for word in passage.text.split()]

    def word() -> str:
        kind = drawn.random()
        if kind > 0.75:
            return drawn.choice(PIECES)
        one = drawn.choice(words)
        at = drawn.randrange(len(one))
        return one if kind < 0.55 else one[:at] + drawn.choice(("", "q", "1", "-", one[at] * 2)) + one[at + 1 :]

    return [" ".join(word() for _ in range(drawn.randint(1, 6))) for _ in range(count)]


def answers_in_python(ask: Asker, cards: Sequence[dict[str, Any]], asked: str) -> Any:
    """Plan, order and scores, and of the first three sentence, picture and marks."""
    found = ask(asked)
    shown = []
    for hit in found.answer.hits[:3]:
        card = cards[hit.document]
        worth = weigh_passages(card["passages"], hit.mentions, found.answer.rarity)
        number = shown_passage(card, worth)
        text = card["passages"][number][2] if number is not None else ""
        picture = best_picture(card["passages"], worth, card["cover"])
        shown.append([number, picture, *mark_words(text, found.plan, ask.lexicon.tokenizer)])
    slots = [[slot.surface, slot.firm, sorted(slot.alternatives.items())] for slot in found.plan.slots]
    plan = [slots, found.plan.unknown, found.plan.asks]
    return json.loads(json.dumps([plan, [[hit.document, hit.score] for hit in found.answer.hits], shown]))


def assert_alike(page: Page, ask: Asker, asked: Sequence[str]) -> None:
    """Every question, in both."""
    theirs = page.evaluate(
        """questions => questions.map(question => {
          const F = JournalFinding, plan = F.readQuery(question, lexicon), answer = ranker.answer(plan, () => true);
          const shown = answer.hits.slice(0, 3).map(hit => {
            const card = cards[hit.document], worth = F.weighPassages(card.passages, hit, answer.rarity);
            const number = F.shownPassage(card, worth), text = number === null ? "" : card.passages[number][2];
            const marked = F.mark(text, plan, tokenizer);
            return [number, F.bestPicture(card.passages, worth, card.cover), marked.text, marked.marks];
          });
          const slots = plan.slots.map(slot => [slot.surface, slot.firm, [...slot.alternatives].sort()]);
          return [[slots, plan.unknown, plan.asks], answer.hits.map(hit => [hit.document, hit.score]), shown];
        })""",
        asked,
    )
    cards = cards_of(ask)
    for question, (plan, hits, shown) in zip(asked, theirs, strict=True):
        for slot in plan[0]:
            slot[2].sort()
        assert answers_in_python(ask, cards, question) == [plan, hits, shown], question


def test_both_languages_read_words_alike(page: Page, everything: Asker) -> None:
    """Every text of the collection and odd ones besides: the same tokens at the same places; every
    word of the index: the same stem.
    """
    texts = [passage.text for document in everything.documents for passage in document.passages]
    texts += [question.query for question in (*judged(), *judged_by_kind())] + [*ODD, *PIECES]
    theirs: list[list[list[Any]]] = page.evaluate(
        """texts => texts.map(text => tokenizer.tokens(text)
             .map(t => [t.term, t.kind, t.surface, t.position, t.start, t.end]))""",
        texts,
    )
    for text, tokens in zip(texts, theirs, strict=True):
        assert [list(token) for token in everything.lexicon.tokenizer.tokens(text)] == tokens, text
    rules = everything.lexicon.rules
    words = [*everything.lexicon.words, *rules.words, "colouring", "organisation", "metres", "travelled"]
    assert [rules.stem(word) for word in words] == page.evaluate("words => words.map(word => rules.stem(word))", words)


def test_both_languages_answer_alike(page: Page, everything: Asker) -> None:
    """Every judged question, every beginning of some, and two hundred by chance."""
    asked = [question.query for question in (*judged(), *judged_by_kind())]
    asked += [q[:end] for q in ("rivit sqeezer W-10", "#30 drill 3/32", "step 7.10") for end in range(len(q))]
    assert_alike(page, everything, [*asked, *questions(everything, 200, 1)])


@pytest.mark.slow
@pytest.mark.parametrize("seed", [2, 3])
def test_two_thousand_questions_by_chance(page: Page, everything: Asker, seed: int) -> None:
    """The same, with more of everything."""
    assert_alike(page, everything, questions(everything, 1000, seed))


def test_both_languages_mend_alike(page: Page, everything: Asker) -> None:
    """Slips, distances, nearest words and packed figures come out the same."""
    words = ["kauntersink", "fluting", "sqeezzer", "rbi", "longron", "xyz"]
    nearest = page.evaluate("words => words.map(word => JournalFinding.nearestWord(word, lexicon))", words)
    assert nearest == [nearest_word(word, everything.lexicon) for word in words]
    figures = [0, 1, 42, 43, 44, 1892, 123456789]
    assert page.evaluate("text => JournalFinding.unpack(text)", pack(figures)) == figures
    pairs = [(one, other) for one in ("rib", "ribs", "spar", "sapr", "") for other in ("rib", "spar", "rbi", "span")]
    theirs = page.evaluate(
        "pairs => pairs.map(([a, b]) => [JournalFinding.oneSlip(a, b), JournalFinding.distance(a, b, 2)])", pairs
    )
    assert theirs == [[one_slip(*pair), distance(*pair, 2)] for pair in pairs]
