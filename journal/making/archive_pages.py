"""What the archive's site says of its own evidence: gaps on one page, the chain of seals on another,
and beside every entry how it was sealed. For the archive alone; nothing here is made for followers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from itertools import groupby
from pathlib import Path

from journal.base.formatting import say_count, say_date
from journal.record.chain import Chain, Kind, Seal, name_of, read_chain
from journal.record.readme import RECORD_CAUTION
from journal.record.sealed_parts import file_of
from journal.record.seals import Change, SealStory, read_changes, seal_story, stamps_of
from journal.record.timestamps import Stamp
from journal.site.inspector_pages import part_group
from journal.site.section_pages import private_page, table_group
from journal.site.site_context import Extras, SiteContext
from journal.view.inspector_parts import gap_parts
from journal.view.page_parts import Cell, Group, Link, PageRecord, Table
from journal.view.view import RULES, Evidence, Gap

EVIDENCE = "evidence/"
SEALS_PAGE = "seals/"
BINDER, TABLES = "record.pdf", "tables/trace.csv"


def record_extras(site: SiteContext, root: Path) -> Extras:
    """Pages and panels for an archive; nothing for any other audience."""
    evidence, zone = site.view.evidence, site.view.zone
    if evidence is None:
        return Extras()
    chain = read_chain(root)
    addresses = site.addresses
    panels = {
        addresses.entry_address[entry.id]: (
            _seal_panel(seal_story(chain, Kind.ENTRY, entry.id, zone)),
            *_gap_panel(evidence.gaps_of(entry.id)),
        )
        for entry in site.view.entries
    }
    for kind, write_ups in ((Kind.INSPECTION, site.view.inspections), (Kind.MEASUREMENT, site.view.measurements)):
        for one in write_ups:
            panels[addresses.linkable[one.src_uri]] = (_seal_panel(seal_story(chain, kind, one.id, zone)),)
    return Extras(
        pages=(
            evidence_page(evidence, site),
            seals_page(chain, stamps_of(root, chain), tuple(read_changes(root, chain)), site),
        ),
        panels=panels,
        nav=(Link(text="Evidence", address=EVIDENCE), Link(text="Seals", address=SEALS_PAGE)),
    )


# -- beside an entry ----------------------------------------------------------------------------


def _seal_panel(story: SealStory) -> Group:
    words = story.words[:1].upper() + story.words[1:] + "."
    line = f" Line {story.line} of the chain of seals." if story.line else ""
    return Group(title="Seal", html=f"<p>{escape(words + line)}</p>")


def _gap_panel(gaps: Iterable[Gap]) -> Iterator[Group]:
    rows = tuple((gap.problem.message, gap.answer or "open") for gap in gaps)
    if rows:
        table = Table(caption="Gaps in the evidence", columns=("What is missing", "The builder’s answer"), rows=rows)
        yield Group(title="Evidence", tables=(table,))


# -- gaps ----------------------------------------------------------------------------------------


def evidence_page(evidence: Evidence, site: SiteContext) -> PageRecord:
    """Every gap, the weightiest first, answered ones apart, and every rule with how often it applied."""
    return private_page(
        EVIDENCE,
        "Evidence",
        "What the record does not show, and what the builder says to it.",
        label="What an inspector would ask about",
        block=(
            Cell(label="Open gaps", value=f"{len(evidence.gaps):,}"),
            Cell(label="Answered", value=f"{len(evidence.answered):,}"),
            Cell(label="Rules", value=f"{len(RULES):,}"),
            Cell(
                label="The record",
                links=(Link(text="to print", address=BINDER), Link(text="traced, as a table", address=TABLES)),
            ),
        ),
        intro="Found by rule before anybody asks. A gap is something the record does not show; it is no statement "
        "about the work.",
        caution=RECORD_CAUTION,
        groups=tuple(part_group(part, site) for part in gap_parts(site.view, evidence)),
    )


# -- seals ---------------------------------------------------------------------------------------


def seals_page(chain: Chain, stamps: Iterable[Stamp], changes: Sequence[Change], site: SiteContext) -> PageRecord:
    """Every line of the chain, what it shows and what not, the time-stamps laid beside it, and what was changed."""
    amendments = sum(seal.amends is not None for seal in chain.seals)
    unsealed = [entry for entry in site.view.entries if (Kind.ENTRY, entry.id) not in chain.current]
    stamped = [f"{one.name}: {'; '.join(one.faults)}." if one.faults else one.tell() for one in stamps]
    sections = [
        Group(
            title="What the seals show",
            anchor="shows",
            points=(
                "Each line fixes one thing by its SHA-256, and the line before it: the text and every photo of an "
                "entry, inspection or measurement, a row of a list, a setting of build.yml, a file among the records. "
                "A line edited, taken out, put in or moved no longer fits its neighbours.",
                "A change made after sealing is a line of its own, with the builder’s reason.",
                "The times are those of the builder’s clock: the chain proves an order, not a time.",
                "Whoever holds the files could write the whole chain anew. What rules that out is its head known "
                "elsewhere: printed, mailed, or time-stamped on some day. All lines up to that head existed then.",
            ),
        ),
        Group(title="Time-stamps", anchor="stamps", points=tuple(stamped) or ("None is kept with this record.",)),
    ]
    if unsealed:
        rows = [(say_date(entry.date), site.entry_link(entry)) for entry in unsealed]
        told = say_count(len(unsealed), "entry", "entries")
        sections.append(table_group("Not sealed", "unsealed", told, ("Day", "Entry"), rows))
    if changes:
        sections.append(_changes_section(changes))
    lines = [_line_row([*together], site) for _, together in groupby(chain.seals, _told_as)]
    columns = ("Line", "Sealed", "What", "Photos and clips", "Amends, and why")
    caption = "The chain of seals, oldest line first"
    sections.append(table_group("The lines", "lines", caption, columns, lines, numeric=(0, 3)))
    last = chain.seals[-1] if chain.seals else None
    return private_page(
        SEALS_PAGE,
        "Seals",
        "The chain of seals: what was fixed, when, and what was amended since.",
        label="What was fixed, and when",
        block=(
            Cell(label="Lines", value=f"{len(chain.seals):,}"),
            Cell(label="Amendments", value=f"{amendments:,}"),
            Cell(label="Last sealed", value=_moment(last) if last else "never"),
            Cell(label="Head of the chain", value=chain.head if last else "—"),
        ),
        intro="How the texts and photos of this record were fixed as they were written.",
        caution=f"The chain is broken: {chain.fault.message}." if chain.fault else "",
        groups=tuple(sections),
    )


def _told_as(seal: Seal) -> object:
    """What lines that are told as one have in common: rows or settings of a file, first sealed at the same time."""
    return (file_of(seal.id), seal.sealed_at) if seal.kind.is_cut and seal.amends is None else seal.line


def _line_row(seals: Sequence[Seal], site: SiteContext) -> tuple[str, str, Link, str, str]:
    first, last = seals[0], seals[-1]
    if first is last:
        what, number = _sealed_link(first, site), f"{first.line:,}"
    else:
        many = say_count(
            len(seals), f"{first.kind.value} of {file_of(first.id)}", f"{first.kind.value}s of {file_of(first.id)}"
        )
        what, number = Link(text=many), f"{first.line:,}\u2013{last.line:,}"
    photos = f"{len(first.files):,}" if first.kind.is_told else ""
    return number, _moment(first), what, photos, _amendment(first)


def _changes_section(changes: Sequence[Change]) -> Group:
    rows = [
        (f"{one.seal.line:,}", _moment(one.seal), "" if number else f"{_what_changed(one)} {one.seal.reason}", *passage)
        for one in changes
        for number, passage in enumerate(one.passages or [("", "" if one.kept else "the text was not kept then")])
    ]
    columns = ("Line", "Sealed", "What was changed, and why", "Before", "After")
    caption = say_count(len(changes), "amendment")
    return table_group("What was changed after it was sealed", "changes", caption, columns, rows, numeric=(0,))


def _what_changed(change: Change) -> str:
    told = name_of(change.seal.key) if change.seal.kind.is_cut and change.passages else change.told
    return f"{told[:1].upper()}{told[1:]}. Because:"


def _moment(seal: Seal) -> str:
    return f"{seal.sealed_at:%Y-%m-%d %H:%M} UTC"


def _sealed_link(seal: Seal, site: SiteContext) -> Link:
    addresses = site.addresses
    if seal.kind is Kind.ENTRY and seal.id in addresses.entries:
        return site.entry_link(addresses.entries[seal.id])
    for kind, known in (
        (Kind.INSPECTION, addresses.inspection_address),
        (Kind.MEASUREMENT, addresses.measurement_address),
    ):
        if seal.kind is kind and seal.id in known:
            return Link(text=f"{kind.value.capitalize()} {seal.id}", address=known[seal.id])
    return Link(text=seal.id)


def _amendment(seal: Seal) -> str:
    if seal.amends is None:
        return ""
    return f"line {seal.amends}{', withdrawn' if seal.withdrawn else ''}: {seal.reason}"
