"""What an answer shows of a document: the same for the terminal and the site."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from journal.finding.rules import CAPTION, HARDWARE, MATERIAL, METHOD, TEXT, TOOL

if TYPE_CHECKING:
    from journal.finding.documents import Document
    from journal.finding.index import Analysed

_LISTS = {TOOL: "Tools: ", METHOD: "Methods: "}


def card(document: Document, analysed: Analysed, say_steps: Callable[[Sequence[str]], str]) -> dict[str, Any]:
    """`document` as plain JSON, with its passages where they stand in the index.

    `passages` are [field, first position, text, place of its picture or null]; a field that is
    not shown as a sentence has one passage without text, so that positions still find their place.
    """
    return {
        "id": document.id,
        "kind": document.kind.value,
        "address": document.address,
        "title": document.title,
        "date": document.date.isoformat() if document.date else "",
        "day": document.day,
        "assembly": document.assembly,
        "assembly_title": document.assembly_title,
        "steps": list(document.steps),
        "said_steps": say_steps(document.steps),
        "redone": document.redone,
        "photos": len(document.photos),
        "cover": document.cover,
        "private": document.private,
        "draft": document.draft,
        "passages": _passages(document, analysed),
    }


def _passages(document: Document, analysed: Analysed) -> list[list[Any]]:
    shown: list[list[Any]] = []
    for passage, start in zip(document.passages, analysed.passages, strict=True):
        if passage.field in (TEXT, CAPTION, HARDWARE, MATERIAL):
            shown.append([passage.field, start, passage.text, passage.photo])
        elif shown and shown[-1][0] == passage.field:
            if passage.field in _LISTS:
                shown[-1][2] += f", {passage.text}"
        else:
            text = _LISTS[passage.field] + passage.text if passage.field in _LISTS else ""
            shown.append([passage.field, start, text, None])
    return shown


def first_sentence(passages: Sequence[Sequence[Any]]) -> str:
    """What stands under an answer whose sentences say nothing of the question."""
    for field in (TEXT, CAPTION, HARDWARE):
        for passage in passages:
            if passage[0] == field:
                text: str = passage[2]
                return text
    return ""
