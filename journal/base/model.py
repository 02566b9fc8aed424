"""The records of a build journal. This module knows nothing else of the project but what a figure is.

Everything here has been checked by `journal.reading`, and a `Build` is closed: every ID in it names a
record in it. A field that holds IDs says so by its type (`StepID` …), from which `journal.reading.closing`
knows what to hold against what. Times are whole minutes, dates are `date`, money is `Decimal`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from types import MappingProxyType
from typing import Annotated, Any

from journal.base.quantities import Limit, Quantity
from journal.base.words import N_, _

Where = tuple[int, int]
"""Line and column in the author's file, both from 1."""

PersonID = Annotated[str, "people"]
PlaceID = Annotated[str, "places"]
AssemblyID = Annotated[str, "assemblies"]
StepID = Annotated[str, "steps"]
MaterialID = Annotated[str, "materials"]
EntryID = Annotated[str, "entries"]
"""An ID that names a record of a `Build`; what it is annotated with is the list of the build that holds it."""

NOWHERE: Mapping[str, Where] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """What is written at one place of a file, None where no file says it."""

    where: Where | None = None


RAW_ENDINGS = frozenset(
    {".dng", ".cr2", ".cr3", ".nef", ".nrw", ".arw", ".sr2", ".raf", ".orf", ".rw2", ".rwl", ".pef", ".srw"}
    | {".3fr", ".erf", ".gpr", ".iiq", ".kdc", ".mrw", ".x3f"}
)
PICTURE_ENDINGS = RAW_ENDINGS | {
    *(".jpg", ".jpeg", ".jpe", ".jfif", ".mpo", ".insp", ".heic", ".heif", ".hif", ".avif"),
    *(".png", ".webp", ".tif", ".tiff", ".gif", ".bmp", ".jxl", ".psd"),
}
"""File names in an entry's folder that count as photos; what they hold is judged by content."""

CLIP_ENDINGS = frozenset(
    {".mov", ".mp4", ".m4v", ".3gp", ".3g2", ".mts", ".m2ts", ".avi", ".mkv", ".webm", ".mpg", ".mpeg", ".wmv"}
)
"""File names in an entry's folder that count as short films; what they hold is judged by content."""


class PictureTurn(Enum):
    """A turn of the upright picture; the value is what front matter says."""

    LEFT = "left"
    RIGHT = "right"
    HALF = "half"


class Role(Enum):
    """What a person is to the build; the value is what build.yml says."""

    BUILDER = "builder"
    HELPER = "helper"
    PAID = "paid"
    INSPECTOR = "inspector"


class State(Enum):
    """Where a step or an assembly stands; the value is the word shown everywhere."""

    NOT_BEGUN = "not begun"
    UNDER_WAY = "under way"
    DONE = "done"


class Outcome(Enum):
    """How an inspection ended; the value is what its front matter says."""

    PASSED = "passed"
    PASSED_WITH_FINDINGS = "passed with findings"
    NOT_PASSED = "not passed"


class ClosingInspections(Enum):
    """What the builder's authority says of inspections before closing (build.yml)."""

    REQUIRED = "required"
    RECOMMENDED = "recommended"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class AuthorityRule:
    """What an authority wants, in our words, and the source that says so. `kind` is what records.csv or a measurement
    calls the paper that answers it; empty where no paper does.
    """

    says: str
    source: str
    kind: str = ""

    @property
    def line(self) -> str:
        """The statement with its source."""
        return f"{self.says.rstrip('.')}. Source: {self.source}."


@dataclass(frozen=True, slots=True, kw_only=True)
class AuthorityRules:
    """What the rules chosen in build.yml say; empty where none are chosen, or where they say nothing that was read.

    `share` is what the share of the builder is called there, `closing` what they say of inspections before closing,
    in a word of `ClosingInspections`. `practice` are papers that inspections ask for by common practice, whatever the
    country; its rules come first.
    """

    country: str = ""
    share: AuthorityRule | None = None
    closing: AuthorityRule | None = None
    tally: tuple[AuthorityRule, ...] = ()
    people: tuple[AuthorityRule, ...] = ()
    inspections: tuple[AuthorityRule, ...] = ()
    signatures: tuple[AuthorityRule, ...] = ()
    papers: tuple[AuthorityRule, ...] = ()
    practice: tuple[AuthorityRule, ...] = ()

    @property
    def lines(self) -> Mapping[str, tuple[str, ...]]:
        """Heading -> what is said under it, each with its source; no heading where nothing is."""
        share, closing = self.share, self.closing
        said = {
            "tally": (*([replace(share, says=f"The share is called {share.says}")] if share else []), *self.tally),
            "people": self.people,
            "inspections": (
                *([replace(closing, says=f"Inspections before closing: {closing.says}")] if closing else []),
                *self.inspections,
            ),
            "signatures": self.signatures,
            "papers": self.papers,
        }
        return {heading: tuple(rule.line for rule in rules) for heading, rules in said.items() if rules}


class Corner(Enum):
    """Where the watermark stands; the value is what build.yml says."""

    UPPER_LEFT = "upper left"
    UPPER_RIGHT = "upper right"
    LOWER_LEFT = "lower left"
    LOWER_RIGHT = "lower right"


class Nut(Enum):
    """Kind of nut for the torque table: loaded in tension or in shear."""

    TENSION = "tension"
    SHEAR = "shear"


@dataclass(frozen=True, slots=True, kw_only=True)
class Aircraft:
    """What is being built. `registration` and `serial` are private unless build.yml shows them."""

    name: str
    kind: str = ""
    registration: str = ""
    serial: str = ""


ROLE_WORDS: Mapping[Role, str] = MappingProxyType(
    {
        Role.BUILDER: N_("builder"),
        Role.HELPER: N_("helper"),
        Role.PAID: N_("paid help"),
        Role.INSPECTOR: N_("the inspector"),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Someone who works on the build or looks at it."""

    id: str
    name: str
    role: Role
    shown_as: str | None = None

    @property
    def public_name(self) -> str:
        """The only form of this person's name that may leave: `shown_as`, else the role."""
        return self.shown_as or _(ROLE_WORDS[self.role])


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where work is done; its name stays off the public site unless build.yml shows it."""

    id: str
    name: str


class WingPlace(Enum):
    """Where the wing sits; the values are the words of build.yml."""

    LOW = "low"
    MID = "mid"
    HIGH = "high"
    TWO = "two"


class TailShape(Enum):
    """How the tail is laid out."""

    PLAIN = "plain"
    T = "t"
    V = "v"


class Wheels(Enum):
    """Where the third wheel is, or what stands in place of wheels."""

    FRONT = "in front"
    BEHIND = "behind"
    FLOATS = "floats"


class EnginePlace(Enum):
    """Where the engine is, or that there are two, on the wings."""

    FRONT = "in front"
    BEHIND = "behind"
    TWO = "two"


class Seats(Enum):
    """How the seats stand."""

    BESIDE = "side by side"
    TANDEM = "behind each other"
    ONE = "one"


class Cabin(Enum):
    """How one gets in."""

    CANOPY = "canopy"
    DOORS = "doors"


@dataclass(frozen=True, slots=True, kw_only=True)
class Airframe:
    """What kind of aircraft is drawn where the builder brings no drawing. `struts` and `cabin` follow from the wing
    where they are None; `span` and `length` are metres, 0 where they are not told.
    """

    wing: WingPlace = WingPlace.LOW
    struts: bool | None = None
    tail: TailShape = TailShape.PLAIN
    wheels: Wheels = Wheels.FRONT
    engine: EnginePlace = EnginePlace.FRONT
    seats: Seats = Seats.BESIDE
    cabin: Cabin | None = None
    span: float = 0
    length: float = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembly:
    """A part of the build in the order of build.yml; `counts=False` keeps its hours apart. `formerly` are the IDs that
    it went by, here as in every record that has a page of its own: the newest first. `shapes` are the parts of a drawn
    aircraft that it stands for, where the builder says so.
    """

    id: str
    title: str
    planned_minutes: int | None = None
    counts: bool = True
    formerly: tuple[str, ...] = ()
    shapes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoSettings:
    """How photos are published; `watermark` may be empty."""

    watermark: str = ""
    corner: Corner = Corner.LOWER_RIGHT
    opacity: Decimal = Decimal("0.6")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One numbered step of the kit's manual, in the order of steps.csv.

    `closes` is the text of the column: empty, or what the step closes for good, perhaps only `yes`; `closed_part`
    is how that is said.
    `same_as` is the ID of the mirrored step (the other wing), or None. `shapes` are the parts of a drawn aircraft that
    it touches, as written, `earlier` its numbers in earlier editions of the manual (`5.3 (edition B)`).
    """

    id: str
    assembly: AssemblyID
    title: str
    page: str = ""
    closes: str = ""
    same_as: StepID | None = None
    formerly: tuple[str, ...] = ()
    earlier: tuple[str, ...] = ()
    shapes: tuple[str, ...] = ()

    @property
    def names_before(self) -> tuple[str, ...]:
        """Everything that it was called before."""
        return (*self.earlier, *self.formerly)

    @property
    def closed_part(self) -> str:
        """What the step closes for good, as a sentence names it; empty where it closes nothing."""
        return "the structure" if self.closes.casefold() in {"yes", "y", "true", "x", "1"} else self.closes


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoFacts:
    """What the original file itself says; for the record, never for the public site.

    `taken` is the camera's local time without a zone, `offset` as recorded (`+01:00`) or None.
    `width` and `height` are pixels of the upright picture. `located` says that it tells where it was taken,
    `positioned` the time that a satellite gave with the position, UTC, `positioned_on` the day alone where it gave no
    time. `exif_version` is as in the file (`0232`). `likeness` is the same, but for a few bits, for
    the same picture saved anew, smaller or otherwise packed: 256 of them as hex, empty where there is too little to
    see. `damage` says how much of it can be read, where its decoder stumbles and goes on; `trouble` in plain words why
    the file cannot be used as a picture, `mend` what helps against that. All are empty where all is well.
    """

    kind: str = ""
    width: int = 0
    height: int = 0
    bytes: int = 0
    taken: datetime | None = None
    offset: str | None = None
    camera: str = ""
    positioned: datetime | None = None
    positioned_on: date | None = None
    located: bool = False
    exif_version: str = ""
    likeness: str = ""
    damage: str = ""
    trouble: str = ""
    mend: str = ""

    @property
    def clock_set(self) -> bool:
        """False for the dates that cameras show when their clock was never set (common
        practice, no source): anything before 1990, and the first days of 2000.
        """
        if self.taken is None:
            return False
        return self.taken.year >= 1990 and self.taken.date() not in (date(2000, 1, 1), date(2000, 1, 2))


Part = tuple[Fraction, Fraction, Fraction, Fraction]
"""A rectangle of a picture: its left, top, right and bottom edge, from 0 to 1 of the upright original."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edits:
    """What is done to every copy of a picture or film that is shown, never to the original. In this order: what lies
    in `blur` is filled in for good, `crop` is all that is kept, then it is turned. Rectangles are told on the upright
    original, so that a later `turn` uncovers nothing.
    """

    turn: PictureTurn | None = None
    crop: Part | None = None
    blur: tuple[Part, ...] = ()

    @property
    def hides(self) -> bool:
        """Whether the original shows what no shown copy does; it is private then, wherever it could be seen."""
        return self.crop is not None or bool(self.blur)


UNEDITED = Edits()


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A picture that belongs to an entry or inspection.

    `name` is the file's name exactly as on disk; `src_uri` is relative to the build folder.
    `people` (person IDs) are seen at work. `inside` shows the inside of something closed later, `shut_by` the step that
    closes it where that is told; `identity` shows what tells the aircraft apart, as its data plate does: it is private.
    `private` is set by front matter, or because the body names it in private passages only; `private_caption` is
    what such a passage says of it.
    """

    name: str
    src_uri: str
    caption: str = ""
    private_caption: str = ""
    step: StepID | None = None
    people: tuple[PersonID, ...] = ()
    inside: bool = False
    identity: bool = False
    shut_by: StepID | None = None
    private: bool = False
    cover: bool = False
    sha256: str = ""
    facts: PhotoFacts = field(default_factory=PhotoFacts)
    edits: Edits = UNEDITED


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """How a clip is shown: `start` and `end` of the part that is kept, and the moment of the poster, in seconds from
    the beginning of the original, None where nothing is said. `sound` lets its sound into the film of the day.
    """

    start: Decimal | None = None
    end: Decimal | None = None
    poster: Decimal | None = None
    sound: bool = False


WHOLE = Cut()


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """A short film beside the photos of an entry; never decoded by the photo code.

    The captions, `private`, `step` and `edits` as with a photo.
    """

    name: str
    src_uri: str
    bytes: int = 0
    caption: str = ""
    private_caption: str = ""
    step: StepID | None = None
    private: bool = False
    edits: Edits = UNEDITED
    cut: Cut = WHOLE

    @property
    def hides(self) -> bool:
        """Whether the original holds what no shown copy does; it is private then, as that of a picture."""
        return self.edits.hides or self.cut.start is not None or self.cut.end is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class CallOut(Placed):
    """What the kit's manual asks for: a row of callouts.csv, or `called_for` of a line in an entry.

    `what` is a word such as rivet, bolt, hole, edge, gap or material, folded; `value` is as written and `limit` what
    it asks of a figure, None where it asks for none. `drag` is as written: a figure, `added` (the manual's value is
    without it), `included` or empty; `drag_limit` what it asks. Without `steps` it holds wherever its `part` is used.
    `answer` is the builder's word that an unusual one is right.
    """

    what: str
    part: str = ""
    value: str = ""
    limit: Limit | None = None
    drag: str = ""
    drag_limit: Limit | None = None
    count: int | None = None
    page: str = ""
    edition: str = ""
    steps: tuple[StepID, ...] = ()
    answer: str = ""

    @property
    def judges(self) -> bool:
        """Whether the work is held against it: only where page and edition say where it stands."""
        return bool(self.page and self.edition)


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareLine(Placed):
    """What lines of rivets and of bolts both say; `source` is whose figure it is, `drilled_out` names the entry whose
    hardware this replaces.
    """

    grip: Quantity | None = None
    count: int | None = None
    step: StepID | None = None
    called_for: tuple[CallOut, ...] = ()
    source: str = ""
    checked_by: tuple[PersonID, ...] = ()
    drilled_out: EntryID | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FastenerSet(HardwareLine):
    """One row of `fasteners`, as written; lengths None where not given. `rivet` is the part, also of a blind rivet, a
    screw or a nutplate; `hole` a drill or a length.
    """

    rivet: str
    shop_head_width: Quantity | None = None
    shop_head_height: Quantity | None = None
    edge: Quantity | None = None
    hole: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueSetting(HardwareLine):
    """One row of `torque`; `value` is the wrench setting, drag included. `bolt` is the part, also of a screw or a
    fitting, or a thread; `nut` the words or the part of the nut, `locked` how it is locked, `threads` those that show
    beyond the nut.
    """

    bolt: str
    nut: str = ""
    value: Quantity
    drag: Quantity | None = None
    wrench: str = ""
    threads: str = ""
    locked: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkedTime:
    """What one person worked in an entry: whole minutes, and the spans they came from if told.

    Spans are (start, end) in minutes after midnight of the entry's day as the clock showed,
    `end` beyond 1440 where the span passes midnight. `minutes` counts the time that passed,
    so over a change of clock it differs from the sum of the spans.
    """

    person: PersonID
    minutes: int
    spans: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnText:
    r"""What a file of the builder's own words holds, as written or as an audience sees it: `body` is Markdown, line
    endings `\n`.
    """

    id: str
    src_uri: str
    title: str
    formerly: tuple[str, ...] = ()
    body: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedText(OwnText):
    """Such a text of one day, with its pictures."""

    date: date
    photos: tuple[Photo, ...] = ()
    private: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry(DatedText):
    """What was done on one day on one assembly.

    `time` has one row for each of `people`, in that order; it is empty where `hours` was not
    given. `starts_at` is the first clock time told, in minutes after midnight, or None.
    `elapsed_minutes` is how long the session lasted: the union of all spans, or the longest
    single duration where no spans are told. `body_line` is the line in the file where the body starts. `where` maps
    a front matter key to its place.
    `titled` is False where the title was made from the folder's name.
    """

    assembly: AssemblyID
    steps: tuple[StepID, ...] = ()
    begun: tuple[StepID, ...] = ()
    redone: tuple[StepID, ...] = ()
    time: tuple[WorkedTime, ...] = ()
    elapsed_minutes: int = 0
    starts_at: int | None = None
    people: tuple[PersonID, ...] = ()
    place: PlaceID | None = None
    tools: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()
    clips: tuple[Clip, ...] = ()
    fasteners: tuple[FastenerSet, ...] = ()
    torque: tuple[TorqueSetting, ...] = ()
    materials: tuple[MaterialID, ...] = ()
    answers: Mapping[str, str] = field(default_factory=dict)
    videos: tuple[str, ...] = ()
    draft: bool = False
    titled: bool = True
    body_line: int = 1
    where: Mapping[str, Where] = field(default_factory=lambda: NOWHERE)

    @property
    def minutes(self) -> int:
        """Person-minutes: two people for 3:15 are 390."""
        return sum(worked.minutes for worked in self.time)


@dataclass(frozen=True, slots=True, kw_only=True)
class InspectionFinding(Placed):
    """What an inspection found, and how it was put right: `closed_by` is an entry ID, `signed_by` who put it right
    and `checked_by` who looked at that.
    """

    id: str
    text: str
    closed_on: date | None = None
    closed_by: EntryID | None = None
    signed_by: tuple[PersonID, ...] = ()
    checked_by: tuple[PersonID, ...] = ()

    @property
    def open(self) -> bool:
        """Whether nobody has said yet that it was put right."""
        return self.closed_on is None


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteUp(DatedText):
    """What is written up beside the entries, in a folder of its own: an inspection, a measurement. `assembly` or
    `steps` says of what (a measurement with neither is one of the whole aircraft); `people` looked or measured, and
    without one of them it is nothing.
    """

    assembly: AssemblyID | None = None
    steps: tuple[StepID, ...] = ()
    people: tuple[PersonID, ...]
    body_line: int = 1
    where: Mapping[str, Where] = field(default_factory=lambda: NOWHERE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection(WriteUp):
    """A look by somebody else, with what they found; several `people` sign it together."""

    stage: str = ""
    outcome: Outcome
    findings: tuple[InspectionFinding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredResult(Placed):
    """One row of `results`, as written."""

    what: str
    value: str
    called_for: tuple[CallOut, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """A weight in pounds at an arm in inches aft of the datum, both exact; a scale reads it with its `tare`. What is
    on the equipment list is `fitted` or was not aboard when the aircraft was weighed.
    """

    what: str
    weight: Fraction
    arm: Fraction
    tare: Fraction = Fraction(0)
    fitted: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCase(Placed):
    """A loading to be looked at: the empty aircraft and what is added to it."""

    name: str
    loads: tuple[Load, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceLimit:
    """How far forward and aft the centre of gravity may lie (inches aft of the datum) at a weight in pounds; without
    one at every weight.
    """

    weight: Fraction | None
    forward: Fraction
    aft: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """An aircraft on its scales, as written. `corrections` make the empty weight of what was weighed: what was not
    aboard and belongs to it, and, less than nought, what was aboard and does not. `limits` are by weight.
    """

    datum: str
    scales: tuple[Load, ...]
    corrections: tuple[Load, ...] = ()
    equipment: tuple[Load, ...] = ()
    limits: tuple[BalanceLimit, ...] = ()
    max_weight: Fraction | None = None
    cases: tuple[LoadCase, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement(WriteUp):
    """What was measured, with which instrument, by whom, and who checked it; `kind` is a word of the builder's."""

    kind: str
    instrument: str = ""
    checked_by: tuple[PersonID, ...] = ()
    results: tuple[MeasuredResult, ...] = ()
    weighing: Weighing | None = None


class BulletinState(Enum):
    """What became of a service bulletin; the value is what bulletins.csv says."""

    OPEN = "open"
    DONE = "done"
    NOT_APPLICABLE = "not applicable"
    LATER = "later"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bulletin(Placed):
    """A service bulletin (bulletins.csv) and what became of it; never public. It concerns `assembly` or `steps`, or
    with neither the whole aircraft. `done_in` are entries, `record` a file of records.csv.
    """

    id: str
    date: date | None
    title: str
    assembly: AssemblyID | None = None
    steps: tuple[StepID, ...] = ()
    state: BulletinState = BulletinState.OPEN
    done_in: tuple[EntryID, ...] = ()
    record: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record(Placed):
    """A document kept as proof (records.csv); never public."""

    file: str
    date: date | None
    kind: str
    title: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class InventoryItem(Placed):
    """A line of the packing list as checked (inventory.csv); counts as whole numbers or None. `claimed_on`,
    `promised_for` and `arrived_on` are the days of what the maker owes for it.
    """

    crate: str
    part: str
    description: str
    listed: int | None
    found: int | None
    condition: str = ""
    kept_in: str = ""
    checked_on: date | None = None
    by: str = ""
    claimed_on: date | None = None
    promised_for: date | None = None
    arrived_on: date | None = None
    replacement_note: str = ""

    @property
    def name(self) -> str:
        """Its part number, or else what it is."""
        return self.part or self.description


@dataclass(frozen=True, slots=True, kw_only=True)
class Task(Placed):
    """A line of the major-portion checklist (tasks.csv), credit in whole tenths.

    All four of `maker`, `paid`, `assembly`, `fabrication` are None for a task that does not
    exist on this aircraft (n/a); otherwise they add up to 10.
    """

    section: str
    task: str
    name: str
    maker: int | None
    paid: int | None
    assembly: int | None
    fabrication: int | None
    steps: tuple[StepID, ...] = ()
    note: str = ""

    @property
    def applies(self) -> bool:
        """False where the line is marked n/a and takes no part in the tally."""
        return self.maker is not None

    @property
    def line(self) -> str:
        """As it stands in the checklist: number, name and note."""
        return f"{self.task} {self.name}" + (f" ({self.note})" if self.note else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Material(Placed):
    """Sealant, primer, adhesive … with batch and shelf life (materials.csv). `mix` is the maker's ratio as written,
    `work_life_minutes` how long a mixed lot can be worked.
    """

    id: str
    name: str
    batch: str = ""
    expires: date | None = None
    record: str = ""
    mix: str = ""
    work_life_minutes: int | None = None
    used_up: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibratedTool(Placed):
    """A tool that needs calibration (tools.csv)."""

    name: str
    checked_on: date | None
    check_every_months: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost(Placed):
    """Money spent (costs.csv); never public."""

    date: date | None
    assembly: AssemblyID | None
    what: str
    amount: Decimal
    currency: str
    record: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate(Placed):
    """What one of `currency` was worth in `to` from a day on (rates.csv)."""

    date: date
    currency: str
    to: str
    rate: Decimal
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A trade word: the words it goes by (the first is the headword), meaning and source.

    `unsure` are the names that mean other things as well: in a text they are this term only where one of the words
    `near` stands in the same sentence (any sentence does where there are none) and none of `not_near`.
    """

    names: tuple[str, ...]
    meaning: str
    source: str = ""
    own: bool = False
    unsure: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    not_near: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The headword."""
        return self.names[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class FreePage(OwnText):
    """A page of the builder's own words (content/pages/*.md); `id` is the file's stem."""

    body_line: int = 1


class Construction(Enum):
    """A way of building, of which an aircraft may have several. Figures of the trade are there for METAL alone, which
    is riveted sheet; TUBE is a frame of welded tubes.
    """

    METAL = "metal"
    WOOD = "wood"
    FABRIC = "fabric"
    COMPOSITE = "composite"
    TUBE = "tube"


SOFT = frozenset({Construction.WOOD, Construction.COMPOSITE})
"""Ways of building in which a bolt may go through what it can crush."""


class Units(Enum):
    """Which units stand first where a figure is shown in both."""

    INCHES = "inches"
    METRIC = "metric"


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """Everything under content/, checked and closed: every ID names a record that is here. `entries` are
    in journal order, drafts apart. Where an error stands, what it refuses and what hangs on it is missing.

    Order of entries (docs/format.md): date, then first clock time (entries without one come
    after), then folder name. `language` is what the builder writes in, as a BCP 47 tag; empty where build.yml does not
    say it.
    """

    aircraft: Aircraft
    construction: frozenset[Construction] = frozenset({Construction.METAL})
    units: Units = Units.INCHES
    language: str = ""
    begun: date | None = None
    zone: str | None = None
    closing_inspections: ClosingInspections = ClosingInspections.RECOMMENDED
    rules: AuthorityRules = field(default_factory=AuthorityRules)
    shows: frozenset[str] = frozenset()
    about: str = ""
    """Why this aircraft is built, in the builder's words; public, since it is given for it."""
    write_to: str = ""
    """A mail or web address under which followers may write to the builder; public, since it is given for it."""
    people: Mapping[str, Person] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)
    assemblies: Mapping[str, Assembly] = field(default_factory=dict)
    photo_settings: PhotoSettings = field(default_factory=PhotoSettings)
    clip_budget_bytes: int = 50_000_000
    steps: Mapping[str, Step] = field(default_factory=dict)
    manual_edition: str = ""
    callouts: tuple[CallOut, ...] = ()
    entries: tuple[Entry, ...] = ()
    drafts: tuple[Entry, ...] = ()
    inspections: tuple[Inspection, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    bulletins: tuple[Bulletin, ...] = ()
    records: tuple[Record, ...] = ()
    inventory: tuple[InventoryItem, ...] = ()
    tasks: tuple[Task, ...] = ()
    materials: Mapping[str, Material] = field(default_factory=dict)
    calibrated_tools: tuple[CalibratedTool, ...] = ()
    costs: tuple[Cost, ...] = ()
    rates: tuple[Rate, ...] = ()
    terms: tuple[Term, ...] = ()
    pages: tuple[FreePage, ...] = ()
    airframe: Airframe | None = None
    drawing: str | None = None
    let_pass: frozenset[str] = frozenset()
    """Words that the search before publishing lets pass, each for a reason that the builder gives."""
    send_to: Mapping[str, str] = field(default_factory=dict)
    """The keys of content/publishing.yml that name where the site was sent last."""

    @property
    def write_ups(self) -> tuple[WriteUp, ...]:
        """What is written up beside the entries: inspections, then measurements."""
        return (*self.inspections, *self.measurements)

    def steps_of(self, assembly: str) -> tuple[Step, ...]:
        """The steps of one assembly in the manual's order."""
        return tuple(step for step in self.steps.values() if step.assembly == assembly)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepProgress:
    """Where one step stands. `reopened` means it was done once and is under way again.

    `entries` are the IDs of all entries that name it, in journal order; `done_in` the entry that
    last finished it and `done_on` its date; `first_done_on` the first time.
    """

    state: State = State.NOT_BEGUN
    reopened: bool = False
    times_done_over: int = 0
    entries: tuple[str, ...] = ()
    done_in: str | None = None
    done_on: date | None = None
    first_done_on: date | None = None

    @property
    def word(self) -> str:
        """The state as it is shown, with its qualifier: `done`, `done over`, `reopened` …"""
        if self.reopened:
            return "reopened"
        if self.state is State.DONE and self.times_done_over:
            return "done over"
        return self.state.value


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyProgress:
    """Where one assembly stands: steps done of all, and the word for it."""

    state: State = State.NOT_BEGUN
    steps_done: int = 0
    steps: int = 0


def named(thing: object, *names: str) -> dict[str, Any]:
    """Attributes of a record, for what calls them by the same names."""
    return {name: getattr(thing, name) for name in names}


def photo_day(photo: Photo, told_on: date) -> date:
    """The day a picture is evidence for: its capture day, or `told_on` where the camera did not tell."""
    taken = photo.facts.taken
    return taken.date() if taken and photo.facts.clock_set else told_on


def sort_entries(entries: list[Entry]) -> tuple[Entry, ...]:
    """Journal order: date, first clock time (none comes after), folder name."""
    return tuple(sorted(entries, key=lambda one: (one.date, one.starts_at is None, one.starts_at or 0, one.id)))
