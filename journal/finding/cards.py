"""What an answer shows of a document, the same for the terminal and the site: its card, the best sentence, and which
letters of it are marked.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from journal.base.formatting import say_steps
from journal.finding.query import Plan
from journal.finding.ranking import Mentions
from journal.finding.rules import CAPTION, HARDWARE, LONGEST, MATERIAL, METHOD, TEXT, TOOL
from journal.finding.tokens import STOP, Tokenizer

if TYPE_CHECKING:
    from journal.finding.documents import Document
    from journal.finding.index import Analysed

_FACTS = ("id", "address", "title", "day", "assembly", "assembly_title", "steps", "redone", "cover", "private", "draft")
_LISTS = {TOOL: "Tools: ", METHOD: "Methods: "}


def answer_cards(found: Sequence[Document], analysed: Sequence[Analysed], order: Sequence[str]) -> list[dict[str, Any]]:
    """Each document as plain JSON, with its passages where they stand in the index; `order` is that of all steps.

    `passages` are [field, first position, text, place of its picture or null, anchor]; a field that is
    not shown as a sentence has one passage without text, so that positions still find their place.
    """
    return [
        {
            **{name: getattr(document, name) for name in _FACTS},
            "kind": document.kind.value,
            "file": document.src_uri,
            "date": document.date.isoformat() if document.date else "",
            "said_steps": say_steps(document.steps, order),
            "photos": len(document.photos),
            "passages": _passages(document, words),
        }
        for document, words in zip(found, analysed, strict=True)
    ]


def _passages(document: Document, analysed: Analysed) -> list[list[Any]]:
    shown: list[list[Any]] = []
    for passage, start in zip(document.passages, analysed.passages, strict=True):
        if passage.field in (TEXT, CAPTION, HARDWARE, MATERIAL):
            shown.append([passage.field, start, passage.text, passage.photo, passage.anchor])
        elif shown and shown[-1][0] == passage.field:
            if passage.field in _LISTS:
                shown[-1][2] += f", {passage.text}"
        else:
            text = _LISTS[passage.field] + passage.text if passage.field in _LISTS else ""
            shown.append([passage.field, start, text, None, ""])
    return shown


Snippet = tuple[str, tuple[tuple[int, int], ...]]
"""A text, and the marks (start, end) in it."""


def weigh_passages(
    passages: Sequence[Sequence[Any]], mentions: Mapping[int, Mentions], rarity: Sequence[float]
) -> dict[int, float]:
    """How much of the question each passage of a card says, by its number: the sum of how rare its words are, each by
    the best mention that stands in it. Those without a text are left out.
    """
    starts = [passage[1] for passage in passages]
    worth: dict[int, float] = {}
    for slot in sorted(mentions):
        best: dict[int, float] = {}
        for position, weight in mentions[slot].told:
            number = max(bisect_right(starts, position) - 1, 0)
            best[number] = max(best.get(number, 0.0), weight)
        for number, weight in best.items():
            if passages[number][2]:
                worth[number] = worth.get(number, 0.0) + rarity[slot] * weight
    return worth


def shown_passage(card: Mapping[str, Any], worth: Mapping[int, float]) -> int | None:
    """The number of the passage that stands under an answer: the sentence that says most of the question, unless a
    line of a list says a third more; a caption, which stands under its picture, only where nothing else says
    any of it; for a line of a list what is said of it; else the first.
    """
    passages = card["passages"]
    rest = {number: told for number, told in worth.items() if passages[number][0] != CAPTION} or worth
    enough = max(rest.values(), default=0.0) * 0.75
    whole = bool(card["date"]) or card["kind"] == "page"
    told = {number for number in rest if (rest[number] >= enough if whole else passages[number][0] == TEXT)}
    by_worth = sorted(told, key=lambda number: (passages[number][0] != TEXT, -worth[number], number))
    written = sorted((one[0] != TEXT, number) for number, one in enumerate(passages) if one[2])
    return next(iter([*by_worth, *(number for _, number in written)]), None)


def best_picture(passages: Sequence[Sequence[Any]], worth: Mapping[int, float], cover: int | None) -> int | None:
    """The place of the picture whose caption says most of the question, else of the cover."""
    captions = [number for number in worth if passages[number][3] is not None]
    best = min(captions, key=lambda number: (-worth[number], number), default=None)
    return cover if best is None else passages[best][3]


def mark_words(text: str, plan: Plan, tokenizer: Tokenizer) -> Snippet:
    """`text` with what answers the question marked; cut to `LONGEST` round the first."""
    wanted = frozenset(plan.terms)
    found = sorted({(one.start, one.end) for one in tokenizer.tokens(text) if one.kind != STOP and one.term in wanted})
    marks: list[tuple[int, int]] = []
    for start, end in found:
        if marks and start < marks[-1][1]:
            marks[-1] = (marks[-1][0], max(end, marks[-1][1]))
        else:
            marks.append((start, end))
    return cut(text, marks)


def cut(text: str, marks: Sequence[tuple[int, int]]) -> Snippet:
    """At most `LONGEST` letters of `text`, whole words, with the first mark among them."""
    if len(text) <= LONGEST:
        return text, tuple(marks)
    start = 0
    if marks and marks[0][1] > LONGEST - 40:
        start = text.rfind(" ", 0, max(0, marks[0][0] - 80)) + 1
    end = len(text)
    if end - start > LONGEST:
        end = text.rfind(" ", start, start + LONGEST)
        if end <= start:
            end = start + LONGEST
    lead = "… " if start else ""
    tail = " …" if end < len(text) else ""
    shift = len(lead) - start
    kept = tuple((a + shift, b + shift) for a, b in marks if a >= start and b <= end)
    return lead + text[start:end] + tail, kept
