"""What an answer shows of a document, the same for the terminal and the site: its card, the best sentence, and which
letters of it are marked.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from journal.base.formatting import say_steps
from journal.finding.query import QueryPlan
from journal.finding.ranking import Mentions
from journal.finding.rules import CAPTION, HARDWARE, MATERIAL, METHOD, TEXT, TOOL
from journal.finding.tokens import STOP, Token, Tokenizer

if TYPE_CHECKING:
    from journal.finding.documents import Document
    from journal.finding.index import Analysed

LONGEST = 240
"""Letters of a sentence that are shown; a longer one is cut round its first mark."""

_LIKED = {TEXT: 0.4, CAPTION: 0.3, HARDWARE: 0.5, MATERIAL: 0.1, TOOL: 0.0, METHOD: 0.0}
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


def first_sentence(passages: Sequence[Sequence[Any]]) -> str:
    """What stands under an answer whose sentences say nothing of the question."""
    for field in (TEXT, CAPTION, HARDWARE):
        for passage in passages:
            if passage[0] == field:
                text: str = passage[2]
                return text
    return ""


Snippet = tuple[str, tuple[tuple[int, int], ...]]
"""A text, and the marks (start, end) in it."""


def marked_terms(plan: QueryPlan) -> tuple[tuple[str, ...], ...]:
    """Everything in the index that answers any word of the question: runs of terms, most of them of one alone, which
    are marked wherever they stand side by side.
    """
    alternatives = (alternative for slot in plan.slots for alternative in slot.alternatives)
    return tuple(dict.fromkeys(one.terms for one in (*alternatives, *(span.alternative for span in plan.spans))))


def best_passage(
    fields: Sequence[int],
    starts: Sequence[int],
    mentions: Mapping[int, Mentions],
    rarity: Sequence[float],
) -> int | None:
    """The number of the passage that says most of the question: the sum of how rare its words are,
    sentences and captions before lists. None where no such passage says any of it.
    """
    worth: dict[int, float] = {}
    for slot in sorted(mentions):
        for passage in {max(bisect_right(starts, position) - 1, 0) for position in mentions[slot].positions}:
            if fields[passage] in _LIKED:
                worth[passage] = worth.get(passage, 0.0) + rarity[slot] * mentions[slot].best
    return min(worth, key=lambda passage: (-worth[passage] - _LIKED[fields[passage]], passage), default=None)


def mark_words(text: str, marked: Sequence[Sequence[str]], tokenizer: Tokenizer) -> Snippet:
    """`text` with the words of `marked` marked; cut to `LONGEST` round the first."""
    tokens = [token for token in tokenizer.tokens(text) if token.kind != STOP]
    hit: set[int] = set()
    for run in marked:
        for first, token in enumerate(tokens):
            if token.term == run[0]:
                hit.update(_run_from(tokens, first, run))
    return cut(text, list(dict.fromkeys((tokens[number].start, tokens[number].end) for number in sorted(hit))))


def _run_from(tokens: Sequence[Token], first: int, run: Sequence[str]) -> list[int]:
    """The numbers of the tokens that are `run`, from the one numbered `first` on; none if it breaks off."""
    numbers = [first]
    for term in run[1:]:
        after = tokens[numbers[-1]].position
        following = [
            number
            for number in range(numbers[-1] + 1, min(numbers[-1] + 4, len(tokens)))
            if tokens[number].term == term and 0 < tokens[number].position - after <= 2
        ]
        if not following:
            return []
        numbers.append(following[0])
    return numbers


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
