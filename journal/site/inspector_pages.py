"""Pages for the inspector alone, in the archive: tally, people, materials, money.

They name people, papers and money, and are made from what the view holds for the archive only.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from journal.base.addresses import BULLETINS, COSTS, MATERIALS, PACK, PEOPLE, TALLY, row_ids
from journal.base.formatting import WHO_DECIDES, say_count, say_date, say_minutes, say_money, say_month
from journal.base.model import Assembly, BulletinState, Cost, Record, Step
from journal.site.section_pages import private_page, rule_groups, table_group
from journal.site.site_context import NOTHING, SiteContext
from journal.trade.figures import TALLY_CAUTION
from journal.trade.tally import SHOWN_RULE, Tally, add_up, say_percent, say_tenths
from journal.view.inspector_parts import (
    PackPart,
    Place,
    batches,
    bulletins,
    inspection_pack,
    people_told,
    say_tally,
    task_sections,
)
from journal.view.page_parts import Cell, Group, Link, PageRecord, Table, TableCell
from journal.view.people import gather_people
from journal.view.view import Costs, ShownTask, Spent


def tally_page(site: SiteContext) -> PageRecord:
    """Claimed and shown side by side, line by line, with what stands behind each."""
    evidence, rules = site.view.tasks, site.view.rules
    tally, bare = add_up(line.line for line in evidence), tuple(filter(None, map(_bare_line, evidence)))
    claimed = _say_share(tally.builder, tally.builder_share, tally)
    shown = _say_share(tally.builder_shown, tally.shown_share, tally)
    return private_page(
        TALLY,
        f"Tally of the {rules.share.says}" if rules.share else "Tally of the tasks",
        "Who made and built what, task by task, in tenths, and what of it is shown.",
        block=(
            Cell(label="Builder, claimed", value=claimed, strong=True),
            Cell(label="Builder, shown", value=shown, strong=True),
            Cell(label="Tasks that apply", value=f"{tally.tasks:,}"),
            Cell(label="Not applicable", value=f"{tally.not_applicable:,}"),
            Cell(label="Maker", value=say_tenths(tally.maker)),
            Cell(label="Paid help", value=_say_both(tally.paid, tally.paid_shown)),
            Cell(label="Builder, assembly", value=_say_both(tally.assembly, tally.assembly_shown)),
            Cell(label="Builder, fabrication", value=_say_both(tally.fabrication, tally.fabrication_shown)),
        ),
        intro=SHOWN_RULE,
        caution=TALLY_CAUTION,
        groups=(
            Group(title="The arithmetic", anchor="arithmetic", points=tuple(say_tally(tally))),
            *(part_group(part, site, "task") for part in task_sections(site.view)),
            *([Group(title="Tasks without a picture", anchor="bare", points=bare)] * bool(bare)),
            *rule_groups(rules, "tally"),
        ),
    )


def _say_share(tenths: int | Fraction, share: Fraction | None, tally: Tally) -> str:
    """`3.3 of 7.0 = 47.1 %`."""
    return (
        f"{say_tenths(tenths)} of {say_tenths(tally.tenths)} = {say_percent(share)}" if share is not None else NOTHING
    )


def _say_both(claimed: int, shown: Fraction) -> str:
    """`1.3 claimed, 0.4 shown`."""
    return f"{say_tenths(claimed)} claimed, {say_tenths(shown)} shown" if claimed else say_tenths(claimed)


def _bare_line(line: ShownTask) -> str:
    """A task that applies and that no picture shows; "" where there is one."""
    if line.photos or not line.task.applies:
        return ""
    told = say_count(len(line.entries), "entry", "entries") + ", no picture" if line.entries else "no entry yet"
    return f"{line.task.task} {line.task.name}: {told}"


def pack_page(site: SiteContext) -> PageRecord:
    """Papers, identity, closings, paid help, signatures, and what comes after the certificate."""
    return private_page(
        PACK,
        "Inspection pack",
        "What an inspection asks for beside the entries, and where it is.",
        label="What is asked for",
        intro="Compared with the rules chosen in build.yml and with common practice. What is not kept here may exist "
        "elsewhere; the authority’s own list decides.",
        caution=WHO_DECIDES + ".",
        groups=tuple(part_group(part, site) for part in inspection_pack(site.view)),
    )


def part_group(part: PackPart, site: SiteContext, rows_of: str = "") -> Group:
    """A heading with what stands under it, everything that it names linked; its rows, where each is one of `rows_of`,
    have ids by their first cells.
    """

    def link(place: Place, *, many: bool) -> Link:
        if isinstance(place, Record):
            return _paper_link(place) if site.everything else Link(text=place.title)
        if isinstance(place, Assembly):
            return site.assembly_link(place.id)
        if isinstance(place, Step):
            return Link(text=place.id, address=site.addresses.step_address[place.id])
        text = say_date(place.date) if many else f"{say_date(place.date)}: {place.title}"
        return Link(text=text, address=site.addresses.linkable[place.src_uri])

    def cell(one: str | tuple[Place, ...]) -> TableCell:
        return one if isinstance(one, str) else tuple(link(to, many=len(one) > 2) for to in one) or NOTHING

    table = Table(
        caption=part.title,
        columns=tuple(part.columns),
        rows=tuple(tuple(map(cell, row)) for row in part.rows),
        numeric=part.figures,
        sums=tuple(one if isinstance(one, str) else "" for one in part.sums),
        ids=row_ids(rows_of, (str(row[0]) for row in part.rows)) if rows_of else (),
    )
    return Group(
        title=part.title,
        anchor=part.title.lower().replace(" ", "-"),
        paragraphs=part.words,
        pictures=tuple(site.boxes_by_name(told)[photo.name] for photo, told in part.photos),
        tables=(table,) if part.rows else (),
    )


def people_page(site: SiteContext) -> PageRecord:
    """Each person's own work."""
    everybody = gather_people(site.view)
    people = [work for name in site.view.roles if (work := everybody.get(name)) and (work.entries or work.at_work)]
    return private_page(
        PEOPLE,
        "People",
        "What each person did: hours by assembly, kind of work, pictures at work.",
        label="Who did what",
        block=tuple(
            Cell(label=work.name, value=say_minutes(work.minutes + work.minutes_not_counted)) for work in people
        ),
        intro="For anybody who asks who built what. Nobody’s work is merged with another’s. Hours support what a "
        "person says of their experience; they are no measure of shares of work.",
        caution=TALLY_CAUTION,
        groups=(
            *(part_group(part, site) for part in people_told(site.view)),
            *rule_groups(site.view.rules, "people"),
        ),
    )


def materials_page(site: SiteContext) -> PageRecord:
    """Every batch with its entries and its paper."""
    traces = site.view.materials
    return private_page(
        MATERIALS,
        "Materials",
        "Sealant, primer and adhesive: batches, shelf life, where each was used, and its papers.",
        label="Batches",
        block=(
            Cell(label="Batches", value=f"{len(traces):,}", strong=True),
            Cell(label="Used", value=f"{sum(bool(trace.entries) for trace in traces):,}"),
            Cell(label="Without a paper", value=f"{sum(trace.record is None for trace in traces):,}"),
            Cell(label="Used after expiry", value=f"{sum(bool(trace.late) for trace in traces):,}"),
        ),
        intro="From batch to entry and paper. The maker’s own sheet decides on storage and shelf life.",
        groups=(part_group(batches(site.view), site, "material"),),
    )


def _paper_link(record: Record | None) -> Link:
    if record is None:
        return Link(text="no paper")
    return Link(text=record.title, address=f"source/content/records/{record.file}")


def bulletins_page(site: SiteContext) -> PageRecord:
    """Every service bulletin, what became of it, and what shows that."""
    states = Counter(one.state for one in site.view.bulletins)
    return private_page(
        BULLETINS,
        "Bulletins",
        "Service bulletins of the makers of kit, engine and equipment, and what became of each.",
        block=tuple(Cell(label=state.value.capitalize(), value=f"{states[state]:,}") for state in BulletinState),
        intro="What was written into bulletins.csv. Whether the list is whole, only the makers can say.",
        groups=(part_group(bulletins(site.view), site, "bulletin"),),
    )


def costs_page(costs: Costs, site: SiteContext) -> PageRecord:
    """Money by assembly and month, and every line."""
    papers = {record.file: record for record in site.view.records}
    currencies = costs.currencies

    def amounts(spent: Spent) -> tuple[str, ...]:
        return tuple(say_money(spent.amounts[currency]) for currency in currencies)

    by_assembly = (
        (
            site.assembly_link(spent.key) if spent.key else "none named",
            say_minutes(site.view.by_assembly[spent.key]) if spent.key in site.view.by_assembly else NOTHING,
            *amounts(spent),
            *(say_money(round(one.total(spent.key), 2)) for one in costs.converted),
        )
        for spent in costs.by_assembly
    )
    by_month = ((say_month(spent.key) if spent.key else "no date", *amounts(spent)) for spent in costs.by_month)
    rates: dict[Cost, dict[str, str]] = {}
    for one in costs.converted:
        for line in one.lines:
            if line.rate:
                day, amount = say_date(line.rate.date), say_money(round(line.amount, 2))
                said = f"{amount} {one.to}, converted by the rate of {day}: {line.rate.rate} ({line.rate.source})"
                rates.setdefault(line.cost, {})[one.to] = said
    lines = (
        (
            say_date(cost.date) if cost.date else NOTHING,
            site.assembly_link(cost.assembly) if cost.assembly else NOTHING,
            cost.what,
            say_money(cost.amount),
            cost.currency,
            *(["; ".join(rates.get(cost, {}).values()) or NOTHING] if costs.converted else []),
            _paper_link(papers.get(cost.record)) if cost.record else NOTHING,
        )
        for cost in site.view.costs
    )
    columns = ("Day", "Assembly", "What", "Amount", "Currency", *(["Converted"] if costs.converted else []), "Paper")
    sums = ("Assembly", "Worked", *currencies, *(f"all in {one.to}" for one in costs.converted))
    by_months = ("Month", *currencies)
    return private_page(
        COSTS,
        "Costs",
        "Money spent, by assembly and month.",
        block=tuple(
            Cell(label=currency, value=say_money(costs.total[currency]), strong=True) for currency in currencies
        )
        + tuple(Cell(label=f"All in {one.to}", value=say_money(round(one.total(), 2))) for one in costs.converted),
        caution="",
        intro="What was written into costs.csv. Currencies stand side by side; only a dated row of rates.csv converts.",
        groups=(
            table_group(
                "By assembly",
                "by-assembly",
                "Costs and hours by assembly",
                sums,
                by_assembly,
                numeric=range(1, len(sums)),
                paragraphs=tuple(
                    f"All in {one.to}: by the last rate on or before the day of each cost, exact, shown to the cent"
                    + (f"; {say_count(len(one.left), 'cost')} without such a rate left out." if one.left else ".")
                    for one in costs.converted
                ),
            ),
            table_group("By month", "by-month", "By month", by_months, by_month, numeric=range(1, len(by_months))),
            table_group("Every line", "lines", "Every line", columns, lines, numeric=(3,)),
        ),
    )
