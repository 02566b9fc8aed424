"""Trade terms: the list that ships, what counts as a use, and the note that explains one."""

from __future__ import annotations

import copy
import xml.etree.ElementTree as ET

import markdown
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from markdown.treeprocessors import Treeprocessor

from journal.base.model import Term
from journal.view.terms import TermMarker, all_terms, shipped_terms

MARKER = TermMarker(shipped_terms())


def names(text: str) -> list[str]:
    """Headwords of the terms found in plain text."""
    return [term.name for term in MARKER.find(text)]


def href(term: Term) -> str:
    """An address in the list of terms."""
    return f"../../terms/#{term.name.replace(' ', '-')}"


def prose(root: ET.Element) -> str:
    """The text of a document as it was before the notes were put in."""
    plain = copy.deepcopy(root)
    for parent in plain.iter():
        for child in list(parent):
            if child.get("popover"):
                place = list(parent).index(child)
                if place:
                    parent[place - 1].tail = (parent[place - 1].tail or "") + (child.tail or "")
                else:
                    parent.text = (parent.text or "") + (child.tail or "")
                parent.remove(child)
    return "".join(plain.itertext())


def buttons(root: ET.Element) -> list[str]:
    """The words that were made into buttons."""
    return [button.text or "" for button in root.iter("button")]


def marked(markup: str) -> tuple[ET.Element, list[str]]:
    """A document marked, and the headwords of the terms used in it."""
    root = ET.fromstring(f"<div>{markup}</div>")
    return root, [term.name for term in MARKER.mark(root, href)]


def test_the_shipped_list_is_long_enough_and_whole() -> None:
    """At least 80 terms, each with a meaning and a source, no name explained twice."""
    terms = shipped_terms()
    assert len(terms) >= 80
    assert all(term.meaning.endswith(".") and term.source and not term.own for term in terms)
    every = [name.casefold() for term in terms for name in term.names]
    assert len(every) == len(set(every))
    assert [term.name.casefold() for term in terms] == sorted(term.name.casefold() for term in terms)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("deburr", "deburring"),
        ("Deburred both faces", "deburring"),
        ("DEBURRING the edge", "deburring"),
        ("two ribs", "rib"),
        ("the rib.", "rib"),
        ("a (rib), and", "rib"),
        ("the rib's flange", "rib"),
        ("dimples", "dimpling"),
        ("dimpled", "dimpling"),
        ("the dimpling took", "dimpling"),
        ("shimmed", "shim"),
        ("countersunk", "countersinking"),
        ("canopies", "canopy"),
        ("match-drilled", "match drilling"),
        ("match drilling", "match drilling"),
        ("back-riveted", "back riveting"),
        ("drilled out", "drilling out"),
        ("drilling out", "drilling out"),
        ("edge-distance", "edge distance"),
        ("edge\n   distance", "edge distance"),
        ("two AN bolts", "AN bolt"),
        ("aluminum alloy", "aluminium alloy"),
        ("trailing edges", "trailing edge"),
    ],
)
def test_forms_of_a_word_are_found(text: str, wanted: str) -> None:
    """Plural, -s, -ing and -ed, any case, hyphen or space, and the other spelling are one term."""
    assert names(text)[0] == wanted


@pytest.mark.parametrize(
    "text",
    [
        "spared",
        "ribbon",
        "caribou",
        "fair weather",
        "skinny",
        "RIB-104",
        "W-1007-RIB",
        "AN426AD3-3.5",
        "rib_left",
        "rib.jpg",
        "photos/rib/one",
        "spar2",
        "2rib",
        "user@rib",
        "#rib",
        "an bolt",
        "the rib-knit jumper",
        "sub-rib",
        "rib.2",
        "deburŕ",
    ],
)
def test_longer_words_part_numbers_and_names_are_not_found(text: str) -> None:
    """A term inside a longer word, a part number, a file name or an address is no term."""
    assert names(text) == []


def test_the_longest_term_wins_and_nothing_is_found_inside_it() -> None:
    """`spar web` is the spar web, not the spar; `torque wrench` not torque."""
    assert names("the spar web by the torque wrench") == ["spar web", "torque wrench"]


def test_only_the_first_use_is_marked() -> None:
    """A word is explained once in a document, and each word of one paragraph in its place."""
    root, used = marked("<p>A rib, a spar, two ribs.</p><p>Ribs and a longeron.</p>")
    assert buttons(root) == ["rib", "spar", "longeron"]
    assert used == ["rib", "spar", "longeron"]


def test_code_headings_and_links_are_left_alone() -> None:
    """In a heading or a link a term counts as used and is not marked; in code it does not count."""
    root, used = marked(
        "<h2>Ribs</h2><p><a href='x'>a spar</a> <code>longeron</code></p><pre>stringer</pre><p>gusset and rib</p>"
    )
    assert buttons(root) == ["gusset", "rib"]
    assert used == ["rib", "spar", "gusset"]


def test_a_word_broken_by_markup_is_a_longer_word() -> None:
    """`<em>rib</em>bon` is read as the ribbon it is; a bold rib on its own is a rib."""
    root, used = marked("<p><em>rib</em>bon and s<b>kin</b> and <b>spar</b>, <i>shim</i></p>")
    assert used == ["spar", "shim"]
    assert buttons(root) == ["spar", "shim"]


def test_list_items_and_cells_touch_nothing() -> None:
    """Words of neighbouring blocks are not glued together."""
    _, used = marked("<ul><li>rib</li><li>spar</li></ul><table><tr><td>shim</td><td>skin</td></tr></table>")
    assert used == ["rib", "spar", "shim", "skin"]


def test_the_note_can_be_opened_by_key_and_touch_and_names_its_source() -> None:
    """The word is a button that opens the note beside it; the note says meaning, source and list."""
    root, _ = marked("<p>The ribs.</p>")
    button, note = root[0]
    assert (button.tag, button.get("type"), button.text) == ("button", "button", "ribs")
    assert button.get("popovertarget") == note.get("id")
    assert note.get("popover") == "auto"
    said = "".join(note.itertext())
    rib = next(term for term in shipped_terms() if term.name == "rib")
    assert rib.meaning in said
    assert f"Source: {rib.source}" in said
    link = note.find("a")
    assert link is not None
    assert link.get("href") == "../../terms/#rib"
    assert note.tail == "."


def test_two_documents_on_one_page_share_no_id() -> None:
    """With a `uid` the same term has another ID in each document."""
    ids = set()
    for uid in ("", "a", "b"):
        root = ET.fromstring("<p>rib</p>")
        MARKER.mark(root, href, uid)
        ids.add(root[1].get("id"))
    assert ids == {"tip-rib", "tip-rib-a", "tip-rib-b"}


def test_notes_are_not_read_for_terms() -> None:
    """Marking a document twice finds nothing inside the notes of the first time."""
    root, _ = marked("<p>A bulkhead.</p>")
    once = ET.tostring(root)
    MARKER.mark(root, href, "again")
    assert buttons(root) == ["bulkhead"]
    assert ET.tostring(root) == once


def test_the_builders_own_terms_win() -> None:
    """A name the builder explains is theirs; a shipped term whose headword it is goes away."""
    own = (
        Term(names=("rib", "former rib"), meaning="Ours.", own=True),
        Term(names=("bucktail",), meaning="Ours too.", own=True),
    )
    terms = {term.name: term for term in all_terms(own)}
    assert terms["rib"].own
    assert "bucktail" not in terms["shop head"].names
    assert TermMarker(all_terms(own)).find("a bucktail")[0].meaning == "Ours too."


def test_own_terms_may_hold_figures_and_signs() -> None:
    """`#40 drill`, `3/32 bit` and `C-frame` are found as written, and not in other figures."""
    own = TermMarker(
        [Term(names=(name,), meaning=".") for name in ("#40 drill", "3/32 bit", "C-frame", "2024-T3", "Ø-gauge")]
    )
    assert [term.name for term in own.find("a #40 drill, 3/32 bits, a C-frame; 2024-T3 ø-gauges")] == [
        "#40 drill",
        "3/32 bit",
        "C-frame",
        "2024-T3",
        "Ø-gauge",
    ]
    assert own.find("40 drill, 13/32 bit, 3/32bit, 12024-T3, 2024-T31") == ()


def test_accents_written_in_either_form_are_the_same() -> None:
    """A composed and a decomposed letter make the same word."""
    own = TermMarker([Term(names=("Nietgerät",), meaning=".")])
    assert own.find("mit dem Nietgera\u0308t")
    assert TermMarker([Term(names=("Nietgera\u0308t",), meaning=".")]).find("mit dem Nietgerät")


def test_it_works_on_the_tree_of_the_markdown_library() -> None:
    """Marked as the last tree processor, a body keeps its code, links and entities."""

    class Marking(Treeprocessor):
        def run(self, root: ET.Element) -> None:
            MARKER.mark(root, href)

    converter = markdown.Markdown(extensions=["tables", "fenced_code"])
    converter.treeprocessors.register(Marking(converter), "marking", -100)
    out = converter.convert(
        "Ribs & `spar` [skin](x) AN426AD3-3.5\n\n```\nlongeron\n```\n\n| gusset |\n|---|\n| doubler |\n"
    )
    root = ET.fromstring(f"<div>{out}</div>")
    assert buttons(root) == ["Ribs", "gusset", "doubler"]
    assert "Ribs</button>" in out
    assert " &amp; <code>spar</code>" in out


WORDS = st.sampled_from(
    [
        "rib",
        "ribs",
        "Spar",
        "spar web",
        "dimpling",
        "back-riveted",
        "x",
        "AN426",
        "AN bolt",
        "é",
        ".",
        "-",
        "/",
        " ",
        "\n",
    ]
)
TEXTS = st.lists(WORDS | st.text(max_size=3), max_size=12).map("".join)


@st.composite
def documents(draw: st.DrawFn, depth: int = 3) -> ET.Element:
    """Small trees of block and inline elements with text and tails of trade words."""
    element = ET.Element(draw(st.sampled_from(["p", "em", "b", "li", "a", "code", "h2", "td", "span"])))
    element.text = draw(st.none() | TEXTS)
    for _ in range(draw(st.integers(0, 3)) if depth else 0):
        child = draw(documents(depth - 1))
        child.tail = draw(st.none() | TEXTS)
        element.append(child)
    return element


@given(documents())
def test_marking_never_changes_the_text(root: ET.Element) -> None:
    """Whatever the document, its words stay as they were, and its elements in their order."""
    before = "".join(root.itertext())
    tags = [element.tag for element in root.iter()]
    used = MARKER.mark(root, href)
    assert prose(root) == before
    notes = {inner for note in root.iter() if note.get("popover") for inner in note.iter()}
    kept = [element.tag for element in root.iter() if element not in notes and element.tag != "button"]
    assert kept == tags
    assert len(buttons(root)) <= len(used)
    assert len({note.get("id") for note in notes if note.get("popover")}) == len(buttons(root))


@given(TEXTS)
@example("rib. Rib")
def test_what_is_found_stands_in_the_text_as_words(text: str) -> None:
    """Every term found in a text is there with nothing of a word touching it."""
    root = ET.Element("p")
    root.text = text
    used = MARKER.mark(root, href)
    assert [term.name for term in used] == [term.name for term in MARKER.find(text)]
    assert len(buttons(root)) == len(used)
