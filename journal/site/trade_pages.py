"""The trade on a site: what stands beside entries, the pages for everybody and those for the inspector."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from string import ascii_lowercase

from markupsafe import escape

from journal.base.addresses import INVENTORY, TALLY
from journal.base.formatting import say_count
from journal.base.words import ENGLISH, _, lang_of, spoken
from journal.site.callout_pages import callouts_page
from journal.site.closing_pages import closing_pages
from journal.site.inspector_pages import (
    bulletins_page,
    costs_page,
    materials_page,
    pack_page,
    people_page,
    tally_page,
)
from journal.site.shop_pages import shop_pages, stands_page
from journal.site.site_context import NOTHING, Extras, SiteContext
from journal.site.supply_pages import LETTER, hardware_page, letter_to_maker, missing_page
from journal.trade.figures import CAUTION, NOT_GIVEN, Figure, Standing, TradeTable
from journal.view.inspector_parts import inspection_pack
from journal.view.page_parts import Group, Link, Table
from journal.view.part_names import PartFinder
from journal.view.view import ShownEntry, View


def trade_extras(site: SiteContext) -> Extras:
    """All of it for one site."""
    view = site.view
    pages = [*shop_pages(view), *([stands_page(site)] if view.steps else [])]
    pages += [callouts_page(site)] if view.callouts else []
    pages += [pack_page(site)] if inspection_pack(view) else []
    pages += closing_pages(site)
    pages += [tally_page(site)] if view.tasks else []
    pages += [people_page(site)] if view.everything else []
    pages += [materials_page(site)] if view.materials else []
    pages += [bulletins_page(site)] if view.bulletins else []
    pages += [hardware_page(site)] if view.hardware else []
    pages += [missing_page(view)] if any(line.wanting for line in view.stock) else []
    pages += [costs_page(view.spent, site)] if view.spent and view.costs else []
    letter = letter_to_maker(view)
    return Extras(
        pages=tuple(pages),
        files=((LETTER, letter.encode()),) if letter else (),
        panels=dict(trade_panels(site)),
        # A sheet for the wall belongs to the page of all of them.
        nav=tuple(
            Link(text=_("Tally") if page.address == TALLY else page.title, address=page.address)
            for page in pages
            if page.address == page.section
        ),
    )


def trade_panels(site: SiteContext) -> Iterator[tuple[str, tuple[Group, ...]]]:
    """(address, panels) for every entry that has any."""
    finder = PartFinder(site.view.inventory)
    for entry in site.view.entries:
        panels = []
        if entry.tables:
            html = render_checks(entry.tables, unfolded=site.everything)
            panels.append(Group(title=_("Compared with the manual, handbooks beside"), html=html))
        if named := parts_named(entry, site.view, finder):
            panels.append(Group(title=_("Parts named in this entry"), tables=(named,)))
        if panels:
            yield site.addresses.entry_address[entry.id], tuple(panels)


def render_checks(tables: Sequence[TradeTable], *, unfolded: bool) -> str:
    """The small tables of one entry as HTML, with the caution under them.

    Of several sets only those with a finding stand open, unless all are to be `unfolded`
    (for the record, which may be printed).
    """
    parts = []
    for table in tables:
        figures = _figures(table, spoken().interface)
        opened = " open" if unfolded or len(tables) == 1 or table.found else ""
        parts.append(
            f'<details class="held"{opened}><summary><b{lang_of(ENGLISH)}>{escape(table.title)}</b> '
            f'<span class="count">{escape(_in_short(table))}</span></summary>{figures}</details>'
        )
    return "".join(parts) + f'<p class="table-note">{escape(_(CAUTION))}</p>'


def _in_short(table: TradeTable) -> str:
    """How the figures of a set stand, in a word or two."""
    for standing in (Standing.DEPARTS, Standing.BEYOND, Standing.LATE, Standing.NOTE, Standing.AS_CALLED_FOR):
        if count := sum(figure.standing is standing for figure in table.figures):
            return _("{figures} {standing}", figures=say_count(count, "figure"), standing=_(standing.value))
    beside = any(figure.table and figure.recorded not in ("", NOT_GIVEN) for figure in table.figures)
    return _("handbook figures beside, nothing judged") if beside else _("nothing to compare")


@lru_cache(maxsize=20_000)
def _figures(table: TradeTable, interface: str) -> str:
    """One set: a row for each figure, its source by a letter, and the sources spelt out below. Remembered for each
    language of the `interface`.
    """
    sources = dict.fromkeys(figure.source for figure in table.figures if figure.source)
    letters = dict(zip(sources, ascii_lowercase, strict=False))
    rows = "".join(_figure_row(figure, letters.get(figure.source, "")) for figure in table.figures)
    head = "".join(
        f'<th scope="col">{words}</th>'
        for words in (_("What"), _("Recorded"), _("Called for"), _("In handbooks"), _("Compared"))
    )
    told = str(escape("; ".join(f"{letter} {source}" for source, letter in letters.items())))
    if english := lang_of(ENGLISH):
        told = f"<span{english}>{told}</span>"
    return (
        f'<div class="table-scroll" role="region" tabindex="0" aria-label="{escape(table.title)}"{english}>'
        f'<table class="figures"><caption{english}>{escape(table.lead or table.title)}</caption>'
        f"<thead><tr>{head}</tr></thead>"
        f"<tbody{english}>{rows}</tbody></table></div>"
        + (f'<p class="table-note">{_("Sources: {sources}.", sources=told)}</p>' if letters else "")
    )


def _sign(standing: Standing) -> str:
    """Under the heading of a row, where a phone shows it without scrolling."""
    interface = f' lang="{spoken().page}"' if lang_of(ENGLISH) else ""
    if standing.found:
        return (
            f'<br><span class="state state-open"{interface}><span class="sign" aria-hidden="true"></span>'
            f"{_(standing.value)}</span>"
        )
    return f'<br><span class="count"{interface}>{_(standing.value)}</span>' if standing.value else ""


def _figure_row(figure: Figure, letter: str) -> str:
    cells = [figure.recorded or NOTHING, figure.called_for or NOTHING, figure.table or NOTHING, figure.remark]
    recorded, called_for, table, remark = (escape(_joined_units(text)) for text in cells)
    source = f" <small>[{letter}]</small>" if letter else ""
    return (
        f'<tr><th scope="row">{escape(figure.what)}{_sign(figure.standing)}</th><td>{recorded}</td>'
        f"<td>{called_for}</td><td>{table}{source}</td><td>{remark}</td></tr>"
    )


_UNIT = re.compile(r"(?<=[0-9]) (in-lb|ft-lb|N m|in|mm|D)(?![\w-])")


def _joined_units(text: str) -> str:
    """A figure and its unit kept on one line."""
    return _UNIT.sub(lambda unit: "\xa0" + unit[1].replace(" ", "\xa0"), text)


def parts_named(entry: ShownEntry, view: View, finder: PartFinder) -> Table | None:
    """The parts of the inventory that the words of an entry name, each with its way to the inventory."""
    words = "\n".join([entry.title, entry.body, *(photo.caption for photo in entry.photos)])
    named = dict.fromkeys(finder.find(words))
    if not named:
        return None
    items = {item.part: item for item in reversed(view.inventory)}
    return Table(
        caption=_("From the inventory"),
        columns=(_("Part"), _("Description"), _("Crate")),
        rows=tuple(
            (Link(text=part, address=INVENTORY), items[part].description or NOTHING, items[part].crate or NOTHING)
            for part in named
        ),
    )
