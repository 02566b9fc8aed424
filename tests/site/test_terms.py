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
from journal.base.words import speak
from journal.trade.tables import rivet_sizes, torque_rows
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
    """At least 150 terms, each with a meaning and a source, no name explained twice."""
    terms = shipped_terms()
    assert len(terms) >= 150
    assert all(term.meaning.endswith(".") and term.source and not term.own for term in terms)
    every = [name.casefold() for term in terms for name in term.names]
    assert len(every) == len(set(every))
    assert [term.name.casefold() for term in terms] == sorted(term.name.casefold() for term in terms)


WANTED = (
    "C-frame|swivel set|offset set|step drill|snap bushing|grommet|cushion clamp|dye penetrant|borescope|proud|"
    "smile|figure-eight hole|stop drilling|chromate conversion coating|zinc chromate|flutter|static balance|"
    "control stop|"
    "pitot|static port|sender|sump|firewall forward|baffle|bus|contactor|datum|clevis|turnbuckle"
)


def test_the_words_that_builders_asked_for_are_there() -> None:
    """Each a headword of its own."""
    assert set(WANTED.split("|")) <= {term.name for term in shipped_terms()}


# word -> a sentence in which the sense is ours, and one in which it is another.
SENSES = {
    "frame": ("Riveted the frame to the longerons.", "Screwed a frame of pine boards together."),
    "squeezer yoke": ("The squeezer needs the deep yoke here.", "The left yoke moves the elevator."),
    "temper": ("Sheet of T3 temper.", "The bit got blue and lost its temper."),
    "knife edge": ("Countersunk too deep, the rim is a knife edge.", "Hung the aileron on a knife edge to balance it."),
    "bucking": ("She bucked the rivets from inside.", "It cost thirty bucks and a buck more."),
    "rivet set": ("The rivet set of the gun left a mark.", "Every rivet set and checked."),
    "rivet shank": ("The shank of the rivet was bent.", "The shank of the drill broke."),
    "fluting": ("Fluted the flanges until they lay flat.", "Chips fill the flutes of the drill."),
    "incidence": ("Set the wing to its incidence.", "A high incidence of cracks."),
    "washout": ("The wing has two degrees of washout.", "The weekend was a washout."),
    "deviation": (
        "A deviation from the plans, agreed with the kit maker.",
        "Swung the compass and wrote the deviation.",
    ),
    "splice": ("The skin is spliced over the spar.", "Spliced the wires of the strobe."),
    "primer": ("A coat of primer on the ribs.", "Three strokes of the primer to start the engine."),
    "skin": ("Rolled the skin over the ribs.", "The etch burnt the skin of my hand."),
    "rib": ("Deburred the rib.", "Fell and bruised a rib."),
    "flap": ("Hung the left flap.", "Cut a flap into the cardboard."),
    "canopy": ("Trimmed the canopy.", "Worked under the canopy of the tent."),
    "stringer": ("Two stringers behind the baggage bay.", "A stringer for the newspaper came by."),
    "bulkhead": ("Drilled the aft bulkhead.", "As thick as the bulkhead of a ship."),
    "firewall": ("Sealed the firewall.", "The firewall of the router keeps the backup out."),
    "jig": ("The spar lies in the jig.", "Cut it with a jig saw."),
    "step drill": ("Opened the hole with a step drill.", "A step drill of the fire brigade."),
    "proud": ("The heads stand proud of the skin.", "I am proud of this skin."),
    "smile": ("The gun left a smile on two heads.", "A big smile on her face."),
    "flutter": ("Balance weights keep the aileron from flutter.", "The flag began to flutter."),
    "static balance": ("Static balance of the rudder at its hinge.", "Static balance of the propeller."),
    "sender": ("Sealed the fuel sender.", "Sent the parcel back to its sender."),
    "sump": ("Drained the sump of the left tank.", "Oil in the sump of the engine."),
    "baffle": ("Trimmed the baffles round the cylinders.", "Sealed the baffle of the fuel tank."),
    "bus": ("Eight breakers on the bus.", "Missed the bus and came late."),
    "datum": ("Weighed it; the datum lies ahead of the spinner.", "The datum of the map is another."),
    "grommet": ("A grommet in the hole.", "The tarpaulin has brass grommets."),
}


@pytest.mark.parametrize("name", SENSES)
def test_a_word_with_two_meanings_is_explained_only_where_the_sense_is_sure(name: str) -> None:
    """In the sentence of our sense it is a term, in the other it is not, and another sentence does not settle it."""
    ours, other = SENSES[name]
    assert name in names(ours)
    assert name not in names(other)
    assert name not in names(f"{other} {ours.split()[0]}. Rivet, fuel, wing.")
    assert name in names(f"{other} {ours}")


@pytest.mark.parametrize(
    "text", ["a dog", "the nose", "a web", "his cap", "stop here", "set it down", "sheet of paper"]
)
def test_words_of_every_day_are_never_terms_alone(text: str) -> None:
    """They mean too many things; only `nose rib`, `spar web`, `control stop` and the like are explained."""
    assert names(text) == []


def test_the_sense_is_read_across_markup_and_not_across_sentences() -> None:
    """`the <b>yoke</b> of the <i>squeezer</i>` is one sentence; a block of its own is another."""
    assert marked("<p>the <b>yoke</b> of the <i>squeezer</i></p>")[1] == ["squeezer yoke", "squeezer"]
    assert marked("<p>the yoke</p><p>of the squeezer</p>")[1] == ["squeezer"]


def test_a_builders_own_word_is_explained_wherever_it_stands() -> None:
    """Whoever explains `frame` in terms.md knows what they mean by it."""
    own = (Term(names=("frame",), meaning="Our stand of pine.", own=True),)
    assert TermMarker(all_terms(own)).find("Screwed a frame of pine boards.")[0].own


def test_terms_do_not_contradict_the_tables() -> None:
    """Two fastener sizes share a colour (NAVEDTRA 14315); AN3 is no 3/16 (torque table)."""
    said = {term.name: term.meaning for term in shipped_terms()}
    assert [size.fastener_colour for size in rivet_sizes().values()].count("black") == 2
    assert "black stands for two sizes" in said["temporary fastener"]
    assert torque_rows()["10-32"].an_bolt == "AN3"
    assert "3 is a No. 10" in said["AN bolt"]


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


def test_notes_are_not_read_for_terms() -> None:
    """Marking a document twice finds nothing inside the notes of the first time."""
    root, _ = marked("<p>A bulkhead.</p>")
    once = ET.tostring(root)
    MARKER.mark(root, href)
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


def test_terms_of_riveted_sheet_are_for_metal_alone() -> None:
    """Elsewhere nobody is told of dimples, rivets and burrs, and what every aircraft has is explained as before."""
    left = {term.name for term in all_terms((), metal=False)}
    assert not [name for name in left if "rivet" in name or "dimpl" in name or "deburr" in name]
    assert {"rib", "spar", "torque", "castle nut", "safety wire", "aileron", "reaming"} <= left
    assert [term.name for term in TermMarker(all_terms((), metal=False)).find("Deburred and dimpled the ribs.")] == [
        "rib"
    ]


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


# ------------------------------------------------------------------------------------------ form by form


def own_marker(*names_: str) -> TermMarker:
    """A marker of these terms alone."""
    return TermMarker([Term(names=(name,), meaning=".") for name in names_])


def found(name: str, text: str) -> bool:
    """Whether the term is found in the text."""
    return bool(own_marker(name).find(text))


@pytest.mark.parametrize(
    ("name", "forms", "others"),
    [
        ("rib", "rib ribs ribbing ribbed", "ribing ribed ribes ribb"),
        ("spar", "spar spars sparring sparred", "sparing spared"),
        ("dimple", "dimple dimples dimpling dimpled", "dimpleing dimpleed dimpl"),
        ("fairing", "fairing fairings", "fair fairinged fairinging fairing-s"),
        ("canopy", "canopy canopies canopied canopying", "canopys canopyed"),
        ("tray", "tray trays traying trayed", "traies traied"),
        ("press", "press presses pressing pressed", "presss"),
        ("box", "box boxes boxing boxed", "boxs boxxing"),
        ("buzz", "buzz buzzes buzzing buzzed", "buzzs"),
        ("patch", "patch patches patching patched", "patchs"),
        ("flash", "flash flashes flashing flashed", "flashs"),
        ("bow", "bow bows bowing bowed", "bowwing"),
        ("rivet", "rivet rivets riveting riveted", "rivetting rivetted"),
        ("web", "web webs webbing webbed", "webing"),
        ("steel", "steel steels steeling steeled", "steelling"),
        ("ox", "ox", "oxes oxs"),
        ("t40", "t40", "t40s"),
        ("drill out", "drill_out drills_out drilled_out drilling_out", "drill_outs drill_outed"),
        *((f"rivet {to}", f"rivet_{to} rivets_{to} riveted_{to} riveting_{to}", f"rivet_{to}s")
          for to in ("out", "up", "off", "in", "down")),
        ("tie down", "tie_down ties_down tied_down", "tie_downs tie_downed"),
        ("back drill out", "back_drill_out back_drill_outs", "back_drilled_out"),
        ("edge distance", "edge_distance edge_distances edge-distance", "edges_distance edge.distance"),
        ("AN bolt", "AN_bolt AN_bolts AN-bolt AN_BOLT", "an_bolt An_bolt"),
        ("A frame", "A_frame a_frame a-frames", "b_frame"),
        ("T6 sheet", "T6_sheet t6_sheets", "t7_sheet"),
        ("C-frame", "C-frame c-frames C_frame", "C/frame"),
        ("2024-T3", "2024-T3 2024-t3 2024_T3", "2024-T31 2024/T3"),
        ("3/32 bit", "3/32_bit 3/32_bits", "3-32_bit 3_32_bit"),
        ("#40 drill", "#40_drill #40_drills", "40_drill 4#40_drill"),
        ("jig (big)", "jig_(big)", "jig_big"),
    ],
)  # fmt: skip
def test_every_form_of_a_word(name: str, forms: str, others: str) -> None:
    """Plurals and verbs as English bends them; what stands for a space may be a hyphen, other signs are as written."""
    for form in forms.split():
        assert found(name, f"so {form.replace('_', ' ')}, then"), form
        assert found(name, form.replace("_", " ")), form
    for other in others.split():
        assert not found(name, f"so {other.replace('_', ' ')}, then"), other


@pytest.mark.parametrize("sign", "-_/@#\\\u2011\u2010")
def test_signs_that_make_a_longer_word(sign: str) -> None:
    """Before and after; beside a space they do not touch."""
    assert not found("rib", f"x {sign}rib x")
    assert not found("rib", f"x rib{sign} x")
    assert found("rib", f"x {sign} rib {sign} x")


@pytest.mark.parametrize("sign", [*",;!?()[]\"'*+&=<>|\u201c\u201d\u2019\u2014\u2013\n\t\u00a0"])
def test_signs_that_touch_and_make_nothing(sign: str) -> None:
    """Punctuation ends a word."""
    assert found("rib", f"x{sign}rib{sign}x")
    assert found("rib", f"{sign}rib{sign}")


@pytest.mark.parametrize(
    ("text", "is_found"),
    [
        ("rib.", True),
        ("rib. Then", True),
        ("rib.x", False),
        ("rib.2", False),
        ("rib:", True),
        ("rib: x", True),
        ("rib:x", False),
        ("rib..", True),
        (".rib", True),
        ("x.rib", False),
        ("2.rib", False),
        ("x. rib", True),
        ("x..rib", True),
        ("x:rib", True),
        ("\u0301rib", True),
        ("rib\u0301", False),
        ("xrib", False),
        ("ribx", False),
        ("\u00fcrib", False),
        ("5rib", False),
    ],
)
def test_points_colons_and_letters_beside_a_word(text: str, is_found: bool) -> None:
    """A point ends a sentence or joins a file name; an accent makes another letter."""
    assert found("rib", text) is is_found


def test_several_terms_in_a_text() -> None:
    """The longest at a place, none within another, in the order of their first use."""
    marker = own_marker("spar", "spar web", "web", "web frame", "spar web frame", "rib")
    assert [term.name for term in marker.find("web frames, spar webs and a spar web frame; rib, spar, web")] == [
        "web frame",
        "spar web",
        "spar web frame",
        "rib",
        "spar",
        "web",
    ]
    assert [term.name for term in marker.find("spar web web frame")] == ["spar web", "web frame"]
    assert [term.name for term in marker.find("rib rib rib")] == ["rib"]
    assert own_marker("...", "\u2014").find("a ... b \u2014") == ()


INLINE = "a abbr b button cite code del dfn em i ins kbd mark q s samp small span strong sub sup u var"
BLOCK = "p div li td th h1 h2 h3 h4 h5 h6 blockquote figcaption dt dd summary label option textarea details"
SILENT = "code pre kbd samp script style svg math template"
COUNTED = "a button summary label option textarea h1 h2 h3 h4 h5 h6"


def marked_in(markup: str) -> tuple[list[str], list[str]]:
    """(words made into buttons, terms used) of a document, with the terms rib, spar and web."""
    root = ET.fromstring(f"<div>{markup}</div>")
    used = own_marker("rib", "spar", "web").mark(root, lambda term: "x")
    made = [button.text or "" for button in root.iter("button") if button.get("class") == "term"]
    return made, [term.name for term in used]


@pytest.mark.parametrize("tag", INLINE.split())
def test_inline_markup_parts_no_word(tag: str) -> None:
    """What touches it on either side belongs to the word; beside a space it does not."""
    silent, counted = tag in SILENT.split(), tag in COUNTED.split()
    assert marked_in(f"<p>un<{tag}>rib</{tag}> web</p>") == (["web"], ["web"])
    assert marked_in(f"<p><{tag}>rib</{tag}bon web</p>".replace(f"</{tag}bon", f"</{tag}>bon")) == (["web"], ["web"])
    assert marked_in(f"<p>un<{tag}>x</{tag}>rib web</p>") == (["web"], ["web"])
    inside = [] if silent else ["rib"]
    shown = [] if silent or counted else ["rib"]
    assert marked_in(f"<p>x <{tag}>rib</{tag}> web</p>") == ([*shown, "web"], [*inside, "web"])


@pytest.mark.parametrize("tag", BLOCK.split())
def test_blocks_part_words(tag: str) -> None:
    """Nothing touches across the border of a block, before it and after it."""
    counted = tag in COUNTED.split()
    shown = [] if counted else ["rib"]
    assert marked_in(f"un<{tag}>rib</{tag}>bon web") == ([*shown, "web"], ["rib", "web"])
    assert marked_in(f"<{tag}>x</{tag}>rib web") == (["rib", "web"], ["rib", "web"])


@pytest.mark.parametrize("tag", SILENT.split())
def test_what_is_never_read(tag: str) -> None:
    """Code, keys, formulas: no term counts there, nor in what stands within."""
    assert marked_in(f"<{tag}>rib <b>spar</b></{tag}><p>web</p>") == (["web"], ["web"])


@pytest.mark.parametrize("tag", COUNTED.split())
def test_what_is_read_and_never_marked(tag: str) -> None:
    """A heading, a link, a button count as use, with what stands within; the next use is marked."""
    assert marked_in(f"<{tag}>rib <b>spar</b></{tag}><p>web rib</p>") == (["web", "rib"], ["rib", "spar", "web"])


def test_a_note_found_in_a_document_is_not_read() -> None:
    """Whatever element carries it."""
    assert marked_in("<p popover='auto'>rib</p><p>web</p>") == (["web"], ["web"])
    root = ET.fromstring("<div><p>rib</p></div>")
    root.append(ET.Comment("spar"))
    assert [term.name for term in own_marker("rib", "spar").mark(root, lambda term: "x")] == ["rib"]


def test_terms_at_the_edges_of_markup() -> None:
    """A space at the edge of a run parts; a point between runs ends a sentence."""
    assert marked_in("<p>the <b>rib</b> is</p>")[1] == ["rib"]
    assert marked_in("<p>the<b> rib </b>is</p>")[1] == ["rib"]
    assert marked_in("<p>a rib<b>.</b> Then</p>")[1] == ["rib"]
    assert marked_in("<p>(<b>rib</b>)</p>")[1] == ["rib"]
    assert marked_in("<p>rib<b>, </b>spar</p>")[1] == ["rib", "spar"]
    assert marked_in("<p>a <b>b</b> c <i>d</i> rib</p>")[1] == ["rib"]
    assert marked_in("<p>x<b></b>rib</p>")[1] == []
    assert marked_in("<p>x<br />rib</p>")[1] == ["rib"]
    assert marked_in("<p><b>rib</b>.jpg, <b>spar</b>:2 and <b>web</b>. Then</p>")[1] == ["web"]
    assert marked_in("<p><b>rib</b>.<i>x</i> <b>spar</b>. x</p>")[1] == ["spar"]


TOKENS = st.lists(
    st.tuples(
        st.sampled_from(["rib", "ribs", "spar,", "(web)", "x", "webs.", "ribbon", "W-rib", "the"]), st.booleans()
    ),
    max_size=8,
)


@given(TOKENS)
def test_bold_words_are_the_same_words(tokens: list[tuple[str, bool]]) -> None:
    """Law: words between spaces are found alike whether they are bold or not."""
    root = ET.Element("p")
    root.text = ""
    for word, bold in tokens:
        if bold:
            ET.SubElement(root, "b").text = word
            root[-1].tail = " "
        elif len(root):
            root[-1].tail = f"{root[-1].tail}{word} "
        else:
            root.text += f"{word} "
    marker = own_marker("rib", "spar", "web")
    plain = " ".join(word for word, _ in tokens)
    assert marker.mark(root, lambda term: "x") == marker.find(plain)


@pytest.mark.parametrize(
    ("source", "markup"),
    [
        (
            "a book",
            '<p>A <button type="button" class="term" popovertarget="tip-lap-joint">lap joint</button>'
            '<span class="term-tip" id="tip-lap-joint" popover="auto" role="note"><b>lap joint</b> One over the other. '
            '<small>Source: a book</small> <a href="terms/#x">In the list of terms</a></span>, so.</p>',
        ),
        (
            "",
            '<p>A <button type="button" class="term" popovertarget="tip-lap-joint">lap joint</button>'
            '<span class="term-tip" id="tip-lap-joint" popover="auto" role="note"><b>lap joint</b> '
            'One over the other. <a href="terms/#x">In the list of terms</a></span>, so.</p>',
        ),
    ],
)
def test_the_note_in_full(source: str, markup: str) -> None:
    """Its very markup: headword, meaning, source where there is one, and the way to the list."""
    marker = TermMarker([Term(names=("lap joint",), meaning="One over the other.", source=source)])
    root = ET.fromstring("<p>A lap joint, so.</p>")
    marker.mark(root, lambda term: "terms/#x")
    assert ET.tostring(root, encoding="unicode") == markup


def test_each_part_of_a_note_tells_its_language() -> None:
    """Among German words under an English interface: our meaning is English, theirs is German, its link is not."""
    marker = TermMarker(
        [Term(names=("rib",), meaning="Ours.", source="a book"), Term(names=("spar",), meaning="Ihrer.", own=True)]
    )
    root = ET.fromstring("<p>rib, spar</p>")
    speak("de-AT")
    marker.mark(root, lambda term: "x")
    speak()
    ours, theirs = (note for note in root if note.get("popover"))
    assert [part.get("lang") for part in ours.iter()] == ["en", None, None, None]
    assert [part.get("lang") for part in theirs.iter()] == [None, None, "en"]


def test_notes_stand_where_their_words_do() -> None:
    """Several in one run, in the tail of an element, and after one another."""
    root = ET.fromstring("<p>rib<b>x</b> web spar <i>y</i> rib web</p>")
    own_marker("rib", "spar", "web").mark(root, lambda term: "x")
    assert [child.tag for child in root] == ["b", "button", "span", "button", "span", "i", "button", "span"]
    assert [child.text for child in root if child.tag == "button"] == ["web", "spar", "rib"]
    assert prose(root) == "ribx web spar y rib web"


def test_a_builder_s_terms_take_names_and_headwords() -> None:
    """The shipped term loses the name, or goes where it was its headword; all in the order of the alphabet."""
    shipped = {term.name: term for term in shipped_terms()}
    own = (Term(names=("Aluminum Alloy",), meaning="Ours."), Term(names=("ALCLAD",), meaning="Ours."))
    terms = all_terms(own)
    by_name = {term.name: term for term in terms}
    assert by_name["aluminium alloy"].names == ("aluminium alloy", "alloy number")
    assert "alclad" not in by_name
    assert by_name["ALCLAD"] is own[1]
    assert len(terms) == len(shipped) + 1
    assert [term.name.casefold() for term in terms] == sorted(term.name.casefold() for term in terms)
    assert all_terms(()) == shipped_terms()
