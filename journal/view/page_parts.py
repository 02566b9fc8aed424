"""The small records that templates place: title blocks, cards, tables, links. All words are made here.

Addresses are relative to the root of the site; a template turns them into links with `to(address)`.
"""

from __future__ import annotations

from dataclasses import dataclass

from journal.base.model import State
from journal.view.shown_pictures import PictureBox


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Words that lead somewhere; without an `address` they are only words."""

    text: str
    address: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A state as it is shown: always with its word; `kind` names the sign that goes with it."""

    kind: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One field of a title block. `links` are placed after `value`; `mark` before it. `span` is how many
    thirds of a row it takes (sixths where there is room).
    """

    label: str
    value: str = ""
    links: tuple[Link, ...] = ()
    mark: Mark | None = None
    span: int = 1
    strong: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """A step in a list: `mark` says where it stands or what the entry did to it."""

    id: str
    title: str
    address: str
    mark: Mark
    page: str = ""
    closes: str = ""
    when: str = ""
    when_address: str = ""
    entries: str = ""
    times_over: str = ""
    anchor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One entry as other pages show it. `number` is the day as a bare figure, empty for a draft."""

    id: str
    address: str
    title: str
    day: str
    number: str
    date: str
    short_date: str
    iso: str
    weekday: str
    assembly: Link
    steps: str
    hours: str
    to_date: str
    by: str
    lead: str
    pictures: str
    cover: PictureBox | None
    draft: bool
    private: bool
    redone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of words under headings; `numeric` are the columns set flush right, from 0.

    `caution` stands under every table of figures that somebody might work by.
    """

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str | Link, ...], ...]
    numeric: frozenset[int] = frozenset()
    note: str = ""
    caution: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A section that another part of the program adds to an entry: checks, seals. `html` is trusted."""

    heading: str
    table: Table | None = None
    html: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Legend:
    """One line of a drawing's legend: the sign, its word, and how many assemblies are so."""

    mark: Mark
    count: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """The aircraft as it stood: safe inline SVG, or, where there is no drawing, the list alone."""

    svg: str
    caption: str
    legend: tuple[Legend, ...]
    assemblies: tuple[StateLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StateLine:
    """An assembly with its state, in words."""

    text: str
    address: str
    mark: Mark
    picked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A share as a bar: `tenths` of a percent (0 to 1000) of its full length, and the words for it."""

    words: str
    tenths: int
    over: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Things of one kind under a heading; `items` are what the page's template places: cards, steps, links, weeks."""

    title: str
    items: tuple[object, ...]
    anchor: str = ""
    words: str = ""
    address: str = ""
    mark: Mark | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ListPage:
    """A page of groups. `parts` lead to the parts of a long list, of which this page is `part`."""

    groups: tuple[Group, ...]
    intro: str = ""
    block: tuple[Cell, ...] = ()
    columns: tuple[str, ...] = ()
    parts: tuple[Link, ...] = ()
    part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PageRecord:
    """One page: where it stands, which template places it, and everything that template says.

    `html` is the page's prose (searchable); `record` is what the template places. `section` is
    the address of the navigation entry it belongs to. `picture` is the address of the picture
    for link previews, `updated` the ISO date for the site map, `kind` the Open Graph type.
    """

    address: str
    template: str
    title: str
    description: str
    record: object
    html: str = ""
    section: str = ""
    picture: str = ""
    picture_alt: str = ""
    updated: str = ""
    kind: str = "website"
    hidden: bool = False


MARKS = {state: Mark(kind=state.value.replace(" ", "-"), word=state.value) for state in State}


def share(part: int, whole: int) -> int:
    """Tenths of a percent, rounded down, never above 1000; 0 of nothing is 0."""
    return min(1000, part * 1000 // whole) if whole else 0


def say_share(part: int, whole: int) -> str:
    """`31 %`: whole percent rounded down, so that 100 % means all of it."""
    return f"{part * 100 // whole} %" if whole else "—"
