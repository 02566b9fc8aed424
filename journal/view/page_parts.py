"""The small records that templates place: title blocks, cards, tables, links. All words are made here.

Addresses are relative to the root of the site; a template turns them into links with `to(address)`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from journal.base.formatting import say_number
from journal.base.model import State
from journal.base.quantities import metric_first
from journal.base.words import N_, _
from journal.view.shown_pictures import PictureBox

LETTERS = (6, 8, 10, 12, 15, 18, 22, 27, 33, 40)
"""Steps in which headings grow smaller for long words; journal.css has one rule for each."""

_PIECES = re.compile(r"(?<=[-/])|[\s–—]")


def letters_in(*texts: str) -> int:
    """For how many letters in one piece there has to be room so that no word is broken inside: a step of `LETTERS`."""
    longest = max((len(piece) for text in texts for piece in _PIECES.split(text)), default=0)
    return next((step for step in LETTERS if longest <= step), LETTERS[-1])


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

    @property
    def letters(self) -> int:
        """For how many letters in one piece it needs room."""
        return letters_in(self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One field of a title block. `links` are placed after `value`; `mark` before it."""

    label: str
    value: str = ""
    links: tuple[Link, ...] = ()
    mark: Mark | None = None
    strong: bool = False

    @property
    def letters(self) -> int:
        """For how many letters in one piece it needs room."""
        return letters_in(self.value, *(link.text for link in self.links))


def only_told(*cells: Cell) -> tuple[Cell, ...]:
    """Those of `cells` that say something."""
    return tuple(cell for cell in cells if cell.value or cell.links)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """A step in a list: `mark` says where it stands or what the entry did to it; `here` where work went on last."""

    id: str
    title: str
    address: str
    mark: Mark
    closes: str = ""
    when: str = ""
    when_address: str = ""
    here: bool = False


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

    @property
    def letters(self) -> int:
        """For how many letters in one piece its title needs room."""
        return letters_in(self.title)


TableCell = str | Link | tuple[str | Link, ...]
"""What stands in one field of a table: words, a link, or several of both under one another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of words under headings; `numeric` are the columns set flush right, from 0; `sums` is the last row.

    `caution` stands under every table of figures that somebody might work by. `ids` are those of its rows on the page.
    """

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[TableCell, ...], ...]
    numeric: frozenset[int] = frozenset()
    sums: tuple[str, ...] = ()
    note: str = ""
    caution: bool = False
    ids: tuple[str, ...] = ()


def metric_table(table: Table) -> Table:
    """The same with metric units in front where a cell tells a figure in both."""
    rows = tuple(tuple(metric_first(cell) if isinstance(cell, str) else cell for cell in row) for row in table.rows)
    return replace(table, rows=rows, sums=tuple(map(metric_first, table.sums)), note=metric_first(table.note))


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """The aircraft as it stood: safe inline SVG, empty where there is no drawing; then the assembly that is `picked` is
    told in words. `legend` says how many assemblies are in which state.
    """

    svg: str
    caption: str
    legend: tuple[Link, ...]
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
    are what the page's template places: cards, tellings, links, weeks. `html` is trusted. What
    can be folded stands `open`.
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
    open: bool = True

    @property
    def few(self) -> bool:
        """Whether its pictures have room beside the text: three beside each other are still large."""
        return len(self.pictures) <= 3

    @property
    def columns(self) -> int:
        """How many of its pictures stand in a row where there is room: whole rows, or nearly so."""
        number = len(self.pictures)
        if number <= 4:
            return 2 if number == 4 else max(number, 1)
        return min((3, 4, 5) if number <= 12 else (4, 5, 6), key=lambda columns: (-number % columns, -columns))


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

    @property
    def letters(self) -> int:
        """For how many letters in one piece its heading needs room."""
        return letters_in(self.heading or self.title)


STATE_WORDS = {State.NOT_BEGUN: N_("not begun"), State.UNDER_WAY: N_("under way"), State.DONE: N_("done")}
_QUALIFIED = N_("reopened"), N_("done over"), N_("the structure")
"""What a step's progress says beside them, and what it closes."""


def mark_of(state: State) -> Mark:
    """The mark of a state."""
    return Mark(kind=state.value.replace(" ", "-"), word=_(STATE_WORDS[state]))


def share(part: int, whole: int) -> int:
    """Tenths of a percent, rounded down, never above 1000; 0 of nothing is 0."""
    return min(1000, part * 1000 // whole) if whole else 0


def say_share(part: int, whole: int) -> str:
    """`31 %`: whole percent rounded down, so that 100 % means all of it."""
    return _("{percent} %", percent=part * 100 // whole) if whole else "—"


def say_part(part: int, whole: int, nothing: str = "") -> str:
    """`31 of 410`; `nothing` where there is no whole."""
    return _("{part} of {whole}", part=say_number(part), whole=say_number(whole)) if whole else nothing
