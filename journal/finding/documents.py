"""What can be found: the documents of a `View`, as passages of plain text.

First what is dated (entries, inspections, measurements), then the pages, then the lines of the lists. All are made
from the `View` alone, so what an audience may not see is in no index made for it.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from enum import Enum
from typing import NamedTuple

from journal.base.addresses import (
    BULLETINS,
    CALLOUTS,
    COSTS,
    INVENTORY,
    MATERIALS,
    TALLY,
    TERMS,
    WRITTEN,
    fold_name,
    row_ids,
    slugs,
)
from journal.base.formatting import say_count, say_date
from journal.base.model import Clip, FastenerSet, FreePage, InspectionFinding, InventoryItem, Step, Term, TorqueSetting
from journal.base.prose import blank_code, block_anchor, find_images
from journal.base.quantities import say_decimal, say_length
from journal.finding import rules as field
from journal.view.page_addresses import PageAddresses
from journal.view.terms import all_terms
from journal.view.view import ShownEntry, ShownInspection, ShownMeasurement, ShownWriteUp, View


class DocumentKind(Enum):
    """What a document is; the value is what `journal find --json` says."""

    ENTRY = "entry"
    INSPECTION = "inspection"
    MEASUREMENT = "measurement"
    PAGE = "page"
    STEP = "step"
    PART = "part"
    TERM = "term"
    CALLOUT = "call-out"
    TASK = "task"
    MATERIAL = "material"
    BULLETIN = "bulletin"
    RECORD = "record"
    COST = "cost"
    TOOL = "tool"

    @property
    def dated(self) -> bool:
        """Whether it tells of a day, with pictures."""
        return self in (DocumentKind.ENTRY, DocumentKind.INSPECTION, DocumentKind.MEASUREMENT)


class Passage(NamedTuple):
    """A sentence, a caption, a name of a tool … in the field `field` (a number of `FIELDS`).

    `photo` is the place of the picture in the document's `photos` that the caption belongs to, `anchor` the id of what
    says it on its page, empty where that has none.
    """

    field: int
    text: str
    photo: int | None = None
    anchor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """One thing that can be found. `id` is the entry's name, the step ID, the part number or the
    headword; `address` leads to it on the site, `src_uri` to the file that tells it. `steps` are step
    IDs, `people` names as shown, `tools` and `methods` folded names. `photos` are the files of all pictures shown,
    `cover` the place of the one that stands for the document, or None.
    """

    kind: DocumentKind
    id: str
    address: str
    title: str
    src_uri: str = ""
    date: date | None = None
    day: int = 0
    assembly: str = ""
    assembly_title: str = ""
    steps: tuple[str, ...] = ()
    redone: bool = False
    people: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()
    cover: int | None = None
    private: bool = False
    draft: bool = False
    passages: tuple[Passage, ...] = ()

    @property
    def plain(self) -> tuple[object, ...]:
        """Everything it says: two documents alike are alike in this."""
        return tuple(getattr(self, one.name) for one in fields(self))


def documents(view: View, addresses: PageAddresses) -> tuple[Document, ...]:
    """Everything in `view` that can be found: what is dated in the order of its dates, pages, lines of the lists.

    `addresses` is that of the same view.
    """
    told = [_entry(entry, addresses.entry_address[entry.id]) for entry in view.entries]
    told += [_inspection(inspection, addresses.linkable[inspection.src_uri]) for inspection in view.inspections]
    told += [_measurement(measurement, addresses.linkable[measurement.src_uri]) for measurement in view.measurements]
    # What is written up follows the work of its day; `sorted` keeps the journal's order within a day.
    entries = sorted(told, key=lambda document: document.date or date.min)
    steps = [
        Document(
            kind=DocumentKind.STEP,
            id=step.id,
            address=addresses.step_address[step.id],
            title=step.title,
            assembly=step.assembly,
            assembly_title=view.assemblies[step.assembly].title,
            steps=(step.id,),
            passages=_passages(
                (field.TITLE, step.title),
                (field.STEP, step.id),
                (field.STEP, " ".join(step.names_before)),
                (field.MANUAL, step.page),
                (field.ASSEMBLY, view.assemblies[step.assembly].title),
                (field.TEXT, " ".join(filter(None, (view.step_progress[step.id].word, step.closes)))),
            ),
        )
        for step in view.steps.values()
    ]
    ids = row_ids("part", (item.name for item in view.inventory))
    parts = [_part(item, f"{INVENTORY}#{id_}") for item, id_ in zip(view.inventory, ids, strict=True) if item.name]
    terms = all_terms(view.terms, metal=view.metal)
    anchors = slugs(term.name for term in terms)
    told_terms = [_term(term, f"{TERMS}#term-{anchors[term.name]}") for term in terms]
    pages = [_page(page, addresses.page_address[page.id]) for page in view.pages]
    return (*entries, *pages, *steps, *parts, *told_terms, *_private_lines(view, addresses))


def term_groups(view: View) -> tuple[tuple[str, ...], ...]:
    """The names of each term that goes by several: to finding they are kin."""
    return tuple(term.names for term in all_terms(view.terms, metal=view.metal) if len(term.names) > 1)


_Said = tuple[int, str] | tuple[int, str, str]
"""A field, what is said in it, and where that has one its anchor."""


def _passages(*texts: _Said) -> tuple[Passage, ...]:
    """Those that say something, in the order of the fields: words are numbered in that order."""
    kept = [Passage(text[0], _clean(text[1]), None, *text[2:]) for text in texts if text[1].strip()]
    return tuple(sorted(kept, key=lambda passage: passage.field))


def _clean(text: str) -> str:
    return " ".join((text if text.isascii() else unicodedata.normalize("NFC", text)).split())


def _entry(entry: ShownEntry, address: str) -> Document:
    rivets, bolts, batches = WRITTEN
    texts: list[_Said] = [
        (field.TITLE, entry.title),
        *((field.TOOL, tool) for tool in entry.tools),
        *((field.METHOD, method) for method in entry.methods),
        *_rows(field.HARDWARE, rivets, map(_say_fasteners, entry.fasteners)),
        *_rows(field.HARDWARE, bolts, map(_say_torque, entry.torque)),
        (field.WHEN, _say_when(entry.date, entry.day)),
        (field.WHEN, entry.place),
    ]
    materials = _passages(*_rows(field.MATERIAL, batches, (f"{row.name} {row.batch}" for row in entry.materials)))
    document = _whole(entry, address, DocumentKind.ENTRY, entry.all_steps, entry.people, texts, [], entry.clips)
    return replace(
        document,
        day=entry.day,
        redone=bool(entry.redone),
        tools=tuple(dict.fromkeys(fold_name(tool) for tool in entry.tools)),
        methods=tuple(dict.fromkeys(fold_name(method) for method in entry.methods)),
        cover=entry.photos.index(entry.cover) if entry.cover else None,
        draft=entry.draft,
        passages=(*document.passages, *materials),
    )


def _rows(number: int, kind: str, texts: Iterable[str]) -> Iterator[_Said]:
    """The rows of a table of the entry's page, each with its id there."""
    return ((number, text, f"{kind}-{row}") for row, text in enumerate(texts, start=1))


def _inspection(inspection: ShownInspection, address: str) -> Document:
    findings = [
        Passage(field.TEXT, _clean(_say_finding(finding)), anchor=f"finding-{number}")
        for number, finding in enumerate(inspection.findings, start=1)
    ]
    outcome = Passage(field.TEXT, f"Inspection: {inspection.outcome.value}.")
    about, people = f"inspection {inspection.stage}", inspection.people
    return _written_up(inspection, address, DocumentKind.INSPECTION, about, people, [outcome, *findings])


def _measurement(measurement: ShownMeasurement, address: str) -> Document:
    figures = [
        Passage(
            field.TEXT,
            _clean(f"{one.what}: {one.recorded}" + (f", called for {one.called_for}" if one.called_for else "")),
            anchor=f"result-{number}",
        )
        for number, one in enumerate(measurement.table.figures, start=1)
    ]
    if measurement.instrument:
        figures.append(Passage(field.TEXT, f"Measured with {_clean(measurement.instrument)}."))
    about, people = f"measurement {measurement.kind}", (*measurement.people, *measurement.checked_by)
    return _written_up(measurement, address, DocumentKind.MEASUREMENT, about, tuple(dict.fromkeys(people)), figures)


def _written_up(
    told: ShownWriteUp, address: str, kind: DocumentKind, about: str, people: tuple[str, ...], said: list[Passage]
) -> Document:
    """What is written up beside the entries; `about` is found like its title, `said` like its text."""
    texts: list[_Said] = [(field.TITLE, told.title), (field.TITLE, about), (field.WHEN, _say_when(told.date, 0))]
    return _whole(told, address, kind, told.steps, people, texts, said)


def _whole(
    told: ShownEntry | ShownWriteUp,
    address: str,
    kind: DocumentKind,
    steps: Sequence[Step],
    people: tuple[str, ...],
    texts: Sequence[_Said],
    said: Sequence[Passage],
    clips: Sequence[Clip] = (),
) -> Document:
    """What entries and write-ups have in common; `texts` are found in their fields, `said` before the body."""
    assembly = told.assembly
    captions = [
        Passage(field.CAPTION, _clean(_strip_inline(photo.caption)), number, f"photo-{number + 1}")
        for number, photo in enumerate(told.photos)
        if photo.caption.strip()
    ]
    captions += [
        Passage(field.CAPTION, _clean(_strip_inline(clip.caption)), anchor=f"film-{number}")
        for number, clip in enumerate(clips, start=1)
        if clip.caption.strip()
    ]
    found = _passages(
        *texts,
        (field.STEP, " ".join(step.id for step in steps)),
        *((field.STEP_TITLE, step.title) for step in steps),
        (field.STEP, " ".join(name for step in steps for name in step.names_before)),
        (field.MANUAL, " ".join(step.page for step in steps)),
        *((field.PEOPLE, name) for name in people),
        (field.ASSEMBLY, assembly.title if assembly else ""),
    )
    return Document(
        kind=kind,
        id=told.id,
        address=address,
        title=_clean(told.title),
        src_uri=told.src_uri,
        date=told.date,
        assembly=assembly.id if assembly else (steps[0].assembly if steps else ""),
        assembly_title=assembly.title if assembly else "",
        steps=tuple(step.id for step in steps),
        people=people,
        photos=tuple(photo.src_uri for photo in told.photos),
        cover=next((number for number, photo in enumerate(told.photos) if not photo.facts.trouble), None),
        private=told.private,
        passages=(*found, *captions, *said, *_said_in(told.body, told.title)),
    )


def _said_in(body: str, title: str) -> Iterator[Passage]:
    """What a Markdown text says: each paragraph in pieces of whole sentences, a heading with what follows it, and the
    anchor of the paragraph; the title again is the head of the page.
    """
    heading = ""
    for block, is_heading in plain_blocks(body):
        if is_heading and block.casefold() == title.casefold():
            continue
        if is_heading:
            heading = f"{heading}{block}: "
            continue
        told = ""
        for sentence in sentences(heading + block):
            if told and len(told) + len(sentence) >= field.LONGEST:
                yield Passage(field.TEXT, told, anchor=block_anchor(block))
                told = ""
            told = f"{told} {sentence}".strip()
        heading = ""
        if told:
            yield Passage(field.TEXT, told, anchor=block_anchor(block))
    if heading:
        yield Passage(field.TEXT, heading.removesuffix(": "))


def _say_finding(finding: InspectionFinding) -> str:
    """`Finding F2, open: …`: by its name and state."""
    state = f"closed on {say_date(finding.closed_on)}" if finding.closed_on else "open"
    return f"Finding {finding.id}, {state}: {finding.text}" if finding.id else f"Finding, {state}: {finding.text}"


def _page(page: FreePage, address: str) -> Document:
    return Document(
        kind=DocumentKind.PAGE,
        id=page.id,
        address=address,
        title=_clean(page.title),
        src_uri=page.src_uri,
        passages=(*_passages((field.TITLE, page.title)), *_said_in(page.body, page.title)),
    )


def _private_lines(view: View, addresses: PageAddresses) -> Iterator[Document]:
    """What the lists of the builder and the inspector hold; they are empty in the public's view."""
    of_step = addresses.step_address
    for trace in view.callouts:
        asked = trace.called
        title = " ".join(filter(None, (asked.what, asked.part, asked.value)))
        said = ", ".join(filter(None, (f"drag {asked.drag}" if asked.drag else "", trace.state)))
        names = ((field.STEP, " ".join(asked.steps)), (field.HARDWARE, asked.part), (field.MANUAL, asked.page))
        address = f"{of_step[asked.steps[0]]}#called-for" if asked.steps else CALLOUTS
        yield _line(DocumentKind.CALLOUT, f"{' '.join(asked.steps)} {asked.what}", address, title, said, *names)
    task_rows = row_ids("task", (shown.task.line for shown in view.tasks))
    for shown, row in zip(view.tasks, task_rows, strict=True):
        task = shown.task
        told = (task.section, say_count(len(shown.entries), "entry", "entries"), task.note)
        yield _line(DocumentKind.TASK, task.task, f"{TALLY}#{row}", task.name, "; ".join(filter(None, told)))
    batch_rows = row_ids("material", (used.material.name for used in view.materials))
    for used, row in zip(view.materials, batch_rows, strict=True):
        batch = used.material
        expires = f"expires on {say_date(batch.expires)}" if batch.expires else ""
        number, gone = f"batch {batch.batch}" if batch.batch else "", "used up" if batch.used_up else ""
        said = ", ".join(filter(None, (number, expires, batch.mix, gone)))
        yield _line(
            DocumentKind.MATERIAL, batch.id, f"{MATERIALS}#{row}", batch.name, said, (field.HARDWARE, batch.batch)
        )
    for one, row in zip(view.bulletins, row_ids("bulletin", (one.id for one in view.bulletins)), strict=True):
        said = "; ".join(filter(None, (one.state.value, one.note)))
        called = (field.HARDWARE, one.id), (field.STEP, " ".join(one.steps))
        yield _line(DocumentKind.BULLETIN, one.id, f"{BULLETINS}#{row}", one.title, said, *called)
    for record in view.records:
        address = f"source/content/records/{record.file}"
        said = "; ".join(filter(None, (record.kind, say_date(record.date) if record.date else "", record.note)))
        yield _line(DocumentKind.RECORD, record.file, address, record.title, said)
    for cost in view.costs:
        said = f"{say_date(cost.date) if cost.date else ''} {cost.amount} {cost.currency}".strip()
        yield _line(DocumentKind.COST, cost.what, f"{COSTS}#lines", cost.what, said)
    for tool in view.calibrated_tools:
        said = f"checked on {say_date(tool.checked_on)}" if tool.checked_on else "not checked yet"
        yield _line(DocumentKind.TOOL, tool.name, addresses.tool_address.get(fold_name(tool.name), ""), tool.name, said)


def _line(kind: DocumentKind, id_: str, address: str, title: str, said: str, *named: tuple[int, str]) -> Document:
    """A line of a list: its title, what is said of it, and further fields by which it is found."""
    passages = _passages((field.TITLE, title), *named, (field.TEXT, said))
    return Document(kind=kind, id=_clean(id_), address=address, title=_clean(title), passages=passages)


def _part(item: InventoryItem, address: str) -> Document:
    name = _clean(item.name)
    counts = (("found", item.found), ("listed", item.listed))
    counted = ", ".join(f"{word} {count}" for word, count in counts if count is not None)
    place = [f"crate {item.crate}" if item.crate else "", _clean(item.kept_in), counted, _clean(item.condition)]
    return Document(
        kind=DocumentKind.PART,
        id=name,
        address=address,
        title=_clean(item.description) or name,
        passages=_passages(
            (field.TITLE, item.description),
            (field.HARDWARE, item.part),
            (field.TEXT, "; ".join(filter(None, place))),
        ),
    )


def _term(term: Term, address: str) -> Document:
    return Document(
        kind=DocumentKind.TERM,
        id=term.name,
        address=address,
        title=_clean(term.name),
        passages=_passages(
            *((field.TITLE, name) for name in term.names),
            (field.TEXT, _strip_inline(term.meaning)),
        ),
    )


def _say_when(day: date, number: int) -> str:
    return f"day {number} {say_date(day)}" if number else say_date(day)


def _say_fasteners(row: FastenerSet) -> str:
    width, height = row.shop_head_width, row.shop_head_height
    parts = (
        f"rivet {row.rivet}",
        "" if row.count is None else say_count(row.count, "piece"),
        f"hole {row.hole}" if row.hole else "",
        f"grip {say_length(row.grip.value)}" if row.grip else "",
        f"edge distance {say_length(row.edge.value)}" if row.edge else "",
        f"shop head {say_length(width.value)} x {say_length(height.value)}" if width and height else "",
    )
    return ", ".join(filter(None, parts))


def _say_torque(row: TorqueSetting) -> str:
    nut = f"nut {'in ' if row.nut in ('tension', 'shear') else ''}{row.nut}" if row.nut else ""
    drag = f"drag {say_decimal(row.drag.value, 2)} in-lb" if row.drag else ""
    told = (f"bolt {row.bolt}", f"torque {say_decimal(row.value.value, 2)} in-lb", nut, drag, row.locked, row.wrench)
    return ", ".join(filter(None, told))


# --- Markdown to sentences ---------------------------------------------------------------------

_COMMENT = re.compile(r"<!--.*?(?:-->|\Z)", re.DOTALL)
_TAG = re.compile(r"</?[a-zA-Z][^<>\n]*>")
_AUTOLINK = re.compile(r"<(?:[a-z][a-z0-9+.-]*:|mailto:)[^<>\s]*>", re.IGNORECASE)
_LINK = re.compile(r"\[([^\[\]]*)\]\((?:[^()\s]|\([^()]*\))*(?:\s+[\"'][^\n]*?[\"'])?\)")
_REFERENCE_LINK = re.compile(r"\[([^\[\]]+)\]\[[^\[\]]*\]")
_FOOTNOTE = re.compile(r"\[\^[^\]\s]+\]")
_DEFINITION = re.compile(r"^ {0,3}\[[^\]\n]+\]:.*$", re.MULTILINE)
_ATTRIBUTES = re.compile(r"\{:?[^{}\n]*\}")
_EMPHASIS = re.compile(r"(?<![\w\\])(\*{1,3}|_{1,3})(?=\S)(.+?)(?<=\S)\1(?!\w)")
_CODE_MARK = re.compile(r"`+")
_ESCAPE = re.compile(r"\\([\\`*_{}\[\]()#+.!|<>-])")
_QUOTE = re.compile(r"^[ \t]{0,3}(?:>[ \t]?)*")
_ITEM = re.compile(r"^[ \t]*(?:[-*+]|[0-9]+\.)[ \t]+")
_HEADING = re.compile(r"^[ \t]*#{1,6}(?![#\d])[ \t]*")
_ADMONITION = re.compile(r"^[ \t]*[!?]{3}\+?[ \t]*[\w-]*[ \t]*(?:\"([^\"]*)\")?[ \t]*$")
_RULE = re.compile(r"^[ \t]*(?:[-*_=|:+][ \t]*){3,}$")
_FENCE = re.compile(r"^[ \t]*(?:`{3,}|~{3,}).*$")
_SENTENCE_END = re.compile(r"[.!?…][\"'”’)\]]*\s+(?=[\"'“‘(\[]?[^\W\d_a-z])")
_SHORT = re.compile(r"(?:[A-Za-z]|approx|no|No|nr|Nr|fig|Fig|ca|resp|incl|dia|max|min|vs|Mr|Mrs|Dr|St)\.")


_MARKS = re.compile(r"[<\[{*_`\\&]")
"""Most blocks hold none of the signs that any of the above looks for."""


def _strip_inline(text: str) -> str:
    """Words without marks: links keep their words, code keeps its inside."""
    if not _MARKS.search(text):
        return text
    text = _AUTOLINK.sub(" ", text)
    text = _LINK.sub(r"\1", text)
    text = _FOOTNOTE.sub("", text)
    text = _REFERENCE_LINK.sub(r"\1", text)
    text = _TAG.sub(" ", text)
    text = _ATTRIBUTES.sub(" ", text)
    for _ in range(2):
        text = _EMPHASIS.sub(r"\2", text)
    text = _CODE_MARK.sub("", text)
    return html.unescape(_ESCAPE.sub(r"\1", text))


def plain_blocks(body: str) -> Iterator[tuple[str, bool]]:
    """The paragraphs, list items, headings and table rows of a Markdown text, as plain words, each with whether it is a
    heading; cut where its page cuts them (`block_anchor`). Pictures (their captions are passages of their own) and
    comments are left out.
    """
    body = _COMMENT.sub(" ", body)
    cut: list[str] = []
    position = 0
    for image in find_images(body):
        if image.start >= position:
            cut.append(body[position : image.start])
            position = image.end
    body = _DEFINITION.sub("", "".join([*cut, body[position:]]))
    blocks: list[list[str]] = [[]]
    headings: set[int] = set()
    fenced = quoted = item = table = False
    for whole, bare in zip(body.split("\n"), blank_code(body).split("\n"), strict=True):
        if whole[:1].isalpha() and "|" not in whole and not (fenced or table):  # as nearly all are
            item = item and bool(blocks[-1])
            blocks[-1].append(whole.rstrip("# "))
            continue
        quote = "" if fenced else _QUOTE.findall(whole)[0].strip()
        line = whole if fenced else _QUOTE.sub("", whole)
        heading = not fenced and bool(_HEADING.match(line))
        fence = bare != whole and bool(_FENCE.match(line))
        fenced = fenced != fence
        if title := _ADMONITION.match(line):
            blocks += [[title[1] or ""], []]
        elif fence or (not fenced and (not line.strip() or _RULE.match(line))):
            blocks.append([])
            quoted, table = False, "|" in line
        elif fenced:
            blocks[-1].append(line)
        else:
            # A list begins after an empty line only, as Markdown has it here; within one each item is a block.
            begins = heading or table or line.lstrip().startswith("|") or (bool(quote) and not quoted)
            if begins or (item and _ITEM.match(line)):
                blocks.append([])
            quoted = quoted or bool(quote)
            if not blocks[-1]:
                item = bool(_ITEM.match(line))
                line = _ITEM.sub("", _HEADING.sub("", line))
            blocks[-1].append(line.replace("|", " ").rstrip("# "))
            if heading:
                headings.add(len(blocks))
                blocks.append([])
    for number, block in enumerate(blocks, start=1):
        if words := _clean(_strip_inline(" ".join(block))):
            yield words, number in headings


def sentences(text: str) -> Iterator[str]:
    """The sentences of a paragraph. `No. 40` and `e.g. 3` end none."""
    start = 0
    for end in _SENTENCE_END.finditer(text):
        sentence = text[start : end.end()].strip()
        if _SHORT.fullmatch(sentence.rsplit(None, 1)[-1]):
            continue
        yield sentence
        start = end.end()
    if rest := text[start:].strip():
        yield rest
