"""The small records that templates place: title blocks, cards, tables, links. All words are made here.

Addresses are relative to the root of the site; a template turns them into links with `to(address)`.
"""

from __future__ import annotations

from dataclasses import dataclass

from journal.base.model import State
from journal.view.shown_pictures import PictureBox


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A state as it is shown: always with its word; `kind` names the sign that goes with it."""

    kind: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Words that lead somewhere; without an `address` they are only words. `mark` is the state of what they name."""

    text: str
    address: str = ""
    note: str = ""
    mark: Mark | None = None


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
    closes: str = ""
    when: str = ""
    when_address: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One entry as other pages show it. `number` is the day as a bare figure, empty for a draft."""

    address: str
    title: str
    day: str
    number: str
    date: str
    short_date: str
    iso: str
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


TableCell = str | Link | tuple[str | Link, ...]
"""What stands in one field of a table: words, a link, or several of both under one another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of words under headings; `numeric` are the columns set flush right, from 0; `sums` is the last row.

    `caution` stands under every table of figures that somebody might work by.
    """

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[TableCell, ...], ...]
    numeric: frozenset[int] = frozenset()
    sums: tuple[str, ...] = ()
    note: str = ""
    caution: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """The aircraft as it stood: safe inline SVG, or, where there is no drawing, the assemblies alone, of which one may
    be `picked`. `legend` says how many assemblies are in which state.
    """

    svg: str
    caption: str
    legend: tuple[Link, ...]
    assemblies: tuple[Link, ...]
    picked: Link | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A share as a bar: `tenths` of a percent (0 to 1000) of its full length, and the words for it."""

    tenths: int
    words: str = ""
    over: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteUpCard:
    """An inspection or a measurement (`label`) as other pages show it: `mark` is how it ended, `facts` the rest."""

    label: str
    title: str
    address: str
    date: str
    iso: str
    mark: Mark
    at: str
    facts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """An entry, or what is written up beside them, and what of it one page shows: what was done to a step or to its
    steps, its text as safe HTML (`cut` where it goes on in the entry), its pictures and tables.
    """

    card: Card | None = None
    write_up: WriteUpCard | None = None
    mark: Mark | None = None
    steps: tuple[StepLine, ...] = ()
    html: str = ""
    cut: bool = False
    pictures: tuple[PictureBox, ...] = ()
    more_pictures: str = ""
    tables: tuple[Table, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A heading and what stands under it. `words`, `mark` and the way to `address` stand beside the heading; `items`
    are what the page's template places: cards, tellings, links, weeks. `html` is trusted.
    """

    title: str = ""
    anchor: str = ""
    words: str = ""
    address: str = ""
    mark: Mark | None = None
    bar: Bar | None = None
    paragraphs: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    block: tuple[Cell, ...] = ()
    steps: tuple[StepLine, ...] = ()
    items: tuple[object, ...] = ()
    pictures: tuple[PictureBox, ...] = ()
    tables: tuple[Table, ...] = ()
    html: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What comes before and after a page in one `order`; `first` and `last` are said at its ends."""

    order: Link
    first: str
    last: str
    before: Link | None
    after: Link | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PageRecord:
    """One page: where it stands, which template places it, and everything that the template says.

    `section` is the address of the navigation entry it belongs to. `picture` is the address of the picture for link
    previews, `updated` the ISO date for the site map, `kind` the Open Graph type.

    `heading` stands at its head where that is not its `title`, `label` and `badge` above it, `block` below. `html` is
    the page's prose (searchable). `steps` and `asides` stand beside the `groups`, `after` behind them. `parts` lead to
    the parts of a long list, of which this page is `part`; `onward` leads on to other pages. `trouble` is what
    its builder is to mend. `record` is what only one template knows.
    """

    address: str
    template: str
    title: str
    description: str
    section: str = ""
    picture: str = ""
    picture_alt: str = ""
    updated: str = ""
    kind: str = "website"
    hidden: bool = False
    heading: str = ""
    label: str = ""
    badge: str = ""
    block: tuple[Cell, ...] = ()
    intro: str = ""
    caution: str = ""
    remark: str = ""
    drawing: Drawing | None = None
    close_up: Drawing | None = None
    bar: Bar | None = None
    steps: Group | None = None
    html: str = ""
    groups: tuple[Group, ...] = ()
    asides: tuple[Cell, ...] = ()
    after: tuple[Group, ...] = ()
    turns: tuple[Turn, ...] = ()
    parts: tuple[Link, ...] = ()
    part: str = ""
    onward: tuple[Link, ...] = ()
    trouble: tuple[Cell, ...] = ()
    record: object = None


MARKS = {state: Mark(kind=state.value.replace(" ", "-"), word=state.value) for state in State}


def share(part: int, whole: int) -> int:
    """Tenths of a percent, rounded down, never above 1000; 0 of nothing is 0."""
    return min(1000, part * 1000 // whole) if whole else 0


def say_share(part: int, whole: int) -> str:
    """`31 %`: whole percent rounded down, so that 100 % means all of it."""
    return f"{part * 100 // whole} %" if whole else "—"
