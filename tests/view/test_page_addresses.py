"""Which page stands at which address, and what refers to what: exact, over a small build."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marked_build import (
    ASSEMBLIES,
    BUILD,
    OPEN_ENTRY,
    OPEN_INSPECTION,
    OPEN_PHOTO,
    PAGE,
    STEPS,
    WORKSHOP_ENTRY,
    told,
    view_of,
)

from journal.base.addresses import address_word, address_words, fold_name, slug, slugs
from journal.base.model import Step
from journal.view.page_addresses import PageAddresses
from journal.view.view import Audience

SECOND = replace(
    OPEN_ENTRY,
    id="second day",
    src_uri="content/entries/second day/index.md",
    date=date(2027, 1, 2),
    steps=(),
    begun=("5.1",),
    redone=("5.1",),
    tools=("deburring TOOL", "Saw"),
    methods=("Priming",),
    formerly=("second", "Bench", "first try", "SECOND"),
    photos=(replace(OPEN_PHOTO, src_uri="content/entries/second day/a.jpg"),),
)
THREE = replace(
    BUILD,
    measurements=(),
    entries=(OPEN_ENTRY, WORKSHOP_ENTRY, SECOND),
    steps={**STEPS, "7.2": Step(id="7.2", assembly="wing", title="Skin", same_as="5.1", formerly=("7.2a",))},
    inspections=(
        OPEN_INSPECTION,
        replace(
            OPEN_INSPECTION,
            id="steps",
            src_uri="content/inspections/steps/index.md",
            assembly=None,
            steps=("7.1", "5.1", "7.2"),
            photos=(),
        ),
        replace(
            OPEN_INSPECTION,
            id="part",
            src_uri="content/inspections/part/index.md",
            assembly="wing",
            steps=(),
            photos=(),
        ),
    ),
)


def opened(audience: Audience = Audience.PUBLIC) -> PageAddresses:
    """The addresses of the three entries."""
    return PageAddresses(view_of(THREE, audience))


def test_every_address_and_reference() -> None:
    """Field by field; entries stand for themselves by their ID."""
    addresses = opened()
    said = dict(told(addresses))
    view = said.pop("view")
    ids = {"open": view.entries[0], "bench": view.entries[1], "second day": view.entries[2]}
    looks = {look.id: look for look in view.inspections}
    one, bench, two = ids.values()
    assert said == {
        "entry_address": {
            "open": "entries/open/",
            "bench": "entries/bench/",
            "second day": "entries/second-day/",
        },
        "assembly_address": {"shop": "assemblies/shop/", "flaps": "assemblies/flaps/", "wing": "assemblies/wing/"},
        "step_address": {step: f"steps/{step}/" for step in ("5.1", "5.2", "7.1", "7.2")},
        "tool_address": {"deburring tool": "tools/deburring-tool/", "saw": "tools/saw/"},
        "method_address": {"deburring": "methods/deburring/", "priming": "methods/priming/"},
        "inspection_address": {
            "look": "inspections/look/",
            "steps": "inspections/steps/",
            "part": "inspections/part/",
        },
        "measurement_address": {},
        "page_address": {"about": "pages/about/"},
        # What stands at an address today comes first, then who claims it first, without regard to case.
        "redirects": {
            "entries/second/": "entries/second-day/",
            "entries/first-try/": "entries/second-day/",
            "steps/7.2a/": "steps/7.2/",
        },
        "linkable": {
            "content/entries/open/index.md": "entries/open/",
            "content/entries/open": "entries/open/",
            # An inspection shows the same picture file in this build: the last that shows it is where it leads.
            "content/entries/open/one.jpg": "inspections/look/#photo-1",
            "content/entries/bench/index.md": "entries/bench/",
            "content/entries/bench": "entries/bench/",
            "content/entries/second day/index.md": "entries/second-day/",
            "content/entries/second day": "entries/second-day/",
            "content/entries/second day/a.jpg": "entries/second-day/#photo-1",
            "content/inspections/look/index.md": "inspections/look/",
            "content/inspections/look": "inspections/look/",
            "content/inspections/steps/index.md": "inspections/steps/",
            "content/inspections/steps": "inspections/steps/",
            "content/inspections/part/index.md": "inspections/part/",
            "content/inspections/part": "inspections/part/",
            "content/pages/about.md": "pages/about/",
        },
        "entries": ids,
        "by_assembly": {"flaps": (one, two), "shop": (bench,)},
        "by_step": {"5.1": (one, two), "5.2": (one,), "7.1": (one,)},
        "by_tool": {"deburring tool": (one, bench, two), "saw": (bench, two)},
        "by_method": {"deburring": (one,), "priming": (two,)},
        "by_year": {2026: (one, bench), 2027: (two,)},
        "write_ups_by_assembly": {
            "flaps": (looks["look"], looks["steps"]),
            "wing": (looks["steps"], looks["part"]),
        },
        "write_ups_by_step": {
            "5.1": (looks["look"], looks["steps"]),
            "5.2": (looks["look"],),
            "7.1": (looks["steps"],),
            "7.2": (looks["steps"],),
        },
        "steps_of": {"shop": (), "flaps": ("5.1", "5.2"), "wing": ("7.1", "7.2")},
        "mirrored": {"7.1": ("5.1",), "5.1": ("7.1", "7.2"), "7.2": ("5.1",)},
        "in_journal": {
            "open": (None, bench),
            "bench": (one, two),
            "second day": (bench, None),
        },
        "in_assembly": {"open": (None, two), "second day": (one, None), "bench": (None, None)},
        "rank": {"5.1": 0, "5.2": 1, "7.1": 2, "7.2": 3},
    }


def test_pictures_are_counted_as_the_page_shows_them() -> None:
    """`#photo-1` is the first that the audience sees."""
    photos = tuple(
        replace(OPEN_PHOTO, src_uri=f"content/entries/open/{name}.jpg", private=name == "b") for name in "abc"
    )
    build = replace(THREE, entries=(replace(OPEN_ENTRY, photos=photos),), inspections=(), measurements=())
    for audience, anchors in ((Audience.PUBLIC, {"a": 1, "c": 2}), (Audience.ARCHIVE, {"a": 1, "b": 2, "c": 3})):
        linkable = PageAddresses(view_of(build, audience)).linkable
        pictures = {uri[-5]: to for uri, to in linkable.items() if uri.endswith(".jpg")}
        assert pictures == {name: f"entries/open/#photo-{number}" for name, number in anchors.items()}


@pytest.mark.parametrize(
    ("folders", "address"),
    [
        ([], "entries/year-2026/"),
        (["year-2025"], "entries/year-2026/"),
        (["year-2026"], "entries/year-2026-2/"),
        (["Year-2026", "year-2026-2"], "entries/year-2026-3/"),
    ],
)
def test_the_page_of_a_year_steps_aside_for_a_folder(folders: list[str], address: str) -> None:
    """Under entries/ alone, where folders of the builder stand, or stood under another name."""
    entries = tuple(replace(OPEN_ENTRY, id=name) for name in folders)
    addresses = PageAddresses(view_of(replace(THREE, entries=entries), Audience.PUBLIC))
    assert addresses.year_address("entries/", 2026) == address
    assert addresses.year_address("calendar/", 2026) == "calendar/2026/"
    renamed = tuple(replace(OPEN_ENTRY, id=f"new-{number}", formerly=(name,)) for number, name in enumerate(folders))
    addresses = PageAddresses(view_of(replace(THREE, entries=renamed), Audience.PUBLIC))
    assert addresses.year_address("entries/", 2026) == address


def test_names_that_would_meet_are_kept_apart() -> None:
    """In the order given, as docs/format.md says (Addresses on the site)."""
    entries = tuple(replace(OPEN_ENTRY, id=name) for name in ("a b", "a-b", "A-B"))
    build = replace(
        THREE, entries=entries, pages=(replace(PAGE, id="x/y"), replace(PAGE, id="x?y")), assemblies=ASSEMBLIES
    )
    addresses = PageAddresses(view_of(build, Audience.PUBLIC))
    assert list(addresses.entry_address.values()) == ["entries/a-b/", "entries/a-b-2/", "entries/A-B-3/"]
    assert list(addresses.page_address.values()) == ["pages/x-y/", "pages/x-y-2/"]


@pytest.mark.parametrize(
    ("identifier", "word"),
    [
        ("5.1", "5.1"),
        ("W_1-2.x", "W_1-2.x"),
        ("left wing", "left-wing"),
        ("a/b\\c?d#e", "a-b-c-d-e"),
        ("fl\u0075\u0308gel", "fl\u00fcgel"),
        ("\u7ffc", "\u7ffc"),
        ("..", "-"),
        (".", "-"),
        ("", "-"),
        (".a", ".a"),
        ("a  b", "a--b"),
    ],
)
def test_an_id_in_an_address(identifier: str, word: str) -> None:
    """Letters, digits, `.`, `_` and `-` stay, anything else becomes `-`; dots alone would climb."""
    assert address_word(identifier) == word


@pytest.mark.parametrize(
    ("name", "folded", "word"),
    [
        ("C-frame", "c-frame", "c-frame"),
        ("  Deburring \t Tool ", "deburring tool", "deburring-tool"),
        ("No. 40 (drill)", "no. 40 (drill)", "no.-40-drill"),
        ("1/8 in", "1/8 in", "1-8-in"),
        ("STRASSE", "strasse", "strasse"),
        ("stra\u00dfe", "strasse", "strasse"),
        ("\uff21\uff22", "ab", "ab"),
        ("snap_set", "snap_set", "snap_set"),
        ("--", "--", "-"),
        ("..", "..", "-"),
        ("-a-", "-a-", "a"),
    ],
)
def test_a_tool_in_an_address(name: str, folded: str, word: str) -> None:
    """Without case and spacing; runs of other signs are one hyphen."""
    assert (fold_name(name), slug(name)) == (folded, word)


def test_words_that_meet_get_numbers() -> None:
    """Judged without case, since some disks have none; a number that is taken is passed over."""
    assert address_words(["a", "A", "a-2", "a?", "a!"]) == {
        "a": "a",
        "A": "A-2",
        "a-2": "a-2-2",
        "a?": "a-",
        "a!": "a--2",
    }
    assert slugs(["a b", "a  b!", "a-b"]) == {"a b": "a-b", "a  b!": "a-b-2", "a-b": "a-b-3"}


@given(st.lists(st.text(max_size=6), unique=True, max_size=8))
def test_no_two_addresses_are_the_same(names: list[str]) -> None:
    """Whatever IDs are, their words are one folder each, apart without regard to case, and climb nowhere."""
    for words in (address_words(names), slugs(names)):
        assert list(words) == names
        assert len({word.casefold() for word in words.values()}) == len(names)
        for word in words.values():
            assert word.strip(".")
            assert all(sign.isalnum() or sign in "._-" for sign in word)


@settings(max_examples=40)
@given(st.lists(st.tuples(st.sampled_from(list(ASSEMBLIES)), st.integers(0, 900)), max_size=8))
def test_going_forth_and_back(rows: list[tuple[str, int]]) -> None:
    """Who comes after me has me before; along the journal and along each assembly everybody is met once."""
    days = sorted(rows, key=lambda row: row[1])
    entries = tuple(
        replace(OPEN_ENTRY, id=f"e{number}", assembly=assembly, date=date.fromordinal(739_000 + day))
        for number, (assembly, day) in enumerate(days)
    )
    addresses = PageAddresses(view_of(replace(THREE, entries=entries), Audience.PUBLIC))
    whole = [entry.id for entry in addresses.view.entries]
    parts: dict[str, list[str]] = defaultdict(list)
    for entry in addresses.view.entries:
        parts[entry.assembly.id].append(entry.id)
    for near, walks in ((addresses.in_journal, [whole]), (addresses.in_assembly, list(parts.values()))):
        assert sorted(near) == sorted(whole)
        for walk in walks:
            for before, here, after in zip([None, *walk], walk, [*walk[1:], None], strict=False):
                assert tuple(one and one.id for one in near[here]) == (before, after)
    assert {year: len(group) for year, group in addresses.by_year.items()} == {
        year: sum(entry.date.year == year for entry in entries) for year in {entry.date.year for entry in entries}
    }
