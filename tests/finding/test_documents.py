"""What can be found: entries and lines of a view, and Markdown as sentences."""

from __future__ import annotations

import re

import pytest

from journal.finding import rules as field
from journal.finding.documents import Document, DocumentKind, documents, plain_blocks, sentences
from journal.ledger.journal import Journal
from journal.view.page_addresses import PageAddresses
from journal.view.view import Audience, View, open_view


def by_id(view: View) -> dict[str, Document]:
    """Documents of a view by ID."""
    return {document.id: document for document in documents(view, PageAddresses(view))}


def texts(document: Document, number: int) -> list[str]:
    """The passages of one field."""
    return [passage.text for passage in document.passages if passage.field == number]


def test_an_entry_is_found_by_everything_it_says(view: View) -> None:
    """Title, steps and their titles, tools, fasteners, people, day, captions and sentences are passages."""
    entry = by_id(view)["2025-06-14-rivets-nose-ribs-left"]
    assert entry.kind is DocumentKind.ENTRY
    assert texts(entry, field.TITLE) == ["Left nose ribs riveted to the spar"]
    assert texts(entry, field.STEP) == ["7.10"]
    assert texts(entry, field.STEP_TITLE) == ["Rivet nose ribs to the spar"]
    assert "tungsten bar" in texts(entry, field.TOOL)
    assert texts(entry, field.HARDWARE) == [
        "rivet AN470AD4-5, 63 pieces, grip 0.125 in, edge distance 0.280 in, shop head 0.190 in x 0.060 in"
    ]
    assert texts(entry, field.PEOPLE) == ["Mira", "Jonas"]
    assert texts(entry, field.WHEN) == ["day 44 14 June 2025"]
    assert len(texts(entry, field.CAPTION)) == 2
    assert texts(entry, field.TEXT)[0].startswith("Sixty-three rivets, seven a rib. There is little room")


def test_torque_and_materials_are_told(view: View) -> None:
    """A torque setting is found by bolt, figure and unit; a material by its name."""
    found = by_id(view)
    torque = texts(found["2025-10-19-gear-bolts"], field.HARDWARE)
    assert torque[1] == "bolt AN4-10A, torque 62 in-lb, nut in tension, drag 8 in-lb, small torque wrench"
    assert texts(found["2025-02-15-flap-priming"], field.MATERIAL) == ["Two-part epoxy primer"]


def test_inspections_and_their_findings_are_told_in_full(view: View) -> None:
    """An inspection is found by stage, outcome and findings, and stands among the entries by date."""
    found = documents(view, PageAddresses(view))
    inspection = by_id(view)["2025-04-24-tailplane-closing"]
    assert inspection.kind is DocumentKind.INSPECTION
    assert "Inspection: passed with findings." in texts(inspection, field.TEXT)
    assert any(re.match(r"Finding F1, closed on .*: Two rivets", text) for text in texts(inspection, field.TEXT))
    dates = [document.date for document in found if document.kind.dated]
    assert dates == sorted(date for date in dates if date)


def test_lines_of_the_lists_come_after_the_entries(view: View) -> None:
    """Steps, parts and terms are documents too, with an address each."""
    found = documents(view, PageAddresses(view))
    kinds = [document.kind.dated for document in found]
    assert kinds == sorted(kinds, reverse=True)
    lines = {document.id: document for document in found if not document.kind.dated}
    assert lines["7.10"].address == "steps/7.10/"
    assert texts(lines["W-1007-L"], field.TEXT) == ["crate 1; shelf A2; found 9, listed 9; good"]
    assert lines["knife edge"].address == "terms/#term-knife-edge"


def test_followers_find_nothing_private(journal: Journal, view: View) -> None:
    """Private entries and passages are in no document for followers, and in those of the archive."""
    said = {passage.text for document in documents(view, PageAddresses(view)) for passage in document.passages}
    assert not any("mortgage" in text or "hardener" in text for text in said)
    everything = open_view(journal, Audience.ARCHIVE)
    said = {p.text for document in documents(everything, PageAddresses(everything)) for p in document.passages}
    assert any("mortgage" in text for text in said)
    assert any("hardener" in text for text in said)


@pytest.mark.parametrize(
    ("markdown", "blocks"),
    [
        ("One *two* **three** `four`\nfive.", ["One two three four five."]),
        ("# Head\n\nText with [a link](../x/index.md) and <https://x.example/>.", ["Head", "Text with a link and ."]),
        ("- one\n- two\n\n1. three", ["one", "two", "three"]),
        ("| a | b |\n|---|---|\n| c | d |", ["a b", "c d"]),
        ("> quoted\n> on", ["quoted on"]),
        ("Text:\n- no list\n\n- a list\n- of two", ["Text: - no list", "a list", "of two"]),
        ("![caption](IMG_1.jpg)\n\nafter", ["after"]),
        ("before ![cap [x]](IMG (1).jpg) after", ["before after"]),
        ('!!! note "Mind"\n    the gap', ["Mind", "the gap"]),
        ("```\ncode 0.125\n```\n\ntext", ["code 0.125", "text"]),
        ("a <b>bold</b> &amp; more <!-- hidden --> end", ["a bold & more end"]),
        ("snake_case_word stays, _this_ is leaning", ["snake_case_word stays, this is leaning"]),
        (r"1 \* 2", ["1 * 2"]),
        ("", []),
    ],
)
def test_markdown_becomes_plain_words(markdown: str, blocks: list[str]) -> None:
    """Marks, links, pictures, tables, notes and comments leave their words and nothing else."""
    assert [words for words, _ in plain_blocks(markdown)] == blocks


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("One. Two! Three? Four", ["One.", "Two!", "Three?", "Four"]),
        ("Opened to No. 40 and reamed. Then on.", ["Opened to No. 40 and reamed.", "Then on."]),
        ("See fig. A on page 3. Good.", ["See fig. A on page 3.", "Good."]),
        ("Held at approx. Five bar.", ["Held at approx. Five bar."]),
        ("0.125 in. thick", ["0.125 in. thick"]),
    ],
)
def test_sentences_end_where_they_end(text: str, expected: list[str]) -> None:
    """A stop after a number's or word's abbreviation ends no sentence."""
    assert list(sentences(text)) == expected
