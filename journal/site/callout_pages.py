"""What the kit's manual asks for, and how far it is done: a page of all of it, and a table for each step."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from journal.base.addresses import CALLOUTS
from journal.base.formatting import say_count, say_date
from journal.site.section_pages import few_links, private_page, table_group
from journal.site.site_context import NOTHING, SiteContext
from journal.trade.callouts import say_place
from journal.view.page_parts import Cell, Group, Link, PageRecord, Table, TableCell
from journal.view.view import CallOutTrace

_COLUMNS = ("Asked", "Value", "Stands", "For each step", "In the manual", "Told on")


def callouts_page(site: SiteContext) -> PageRecord:
    """Every row of callouts.csv by assembly, in its order, with its entries."""
    traces = site.view.callouts
    groups: dict[str, list[CallOutTrace]] = {}
    for trace in traces:
        steps = trace.called.steps
        title = site.view.assemblies[site.view.steps[steps[0]].assembly].title if steps else "Wherever the part is used"
        groups.setdefault(title, []).append(trace)
    states = dict.fromkeys(trace.state for trace in traces)
    return private_page(
        CALLOUTS,
        "Call-outs",
        "What the kit’s manual asks for, step by step, and how what was done stands to it.",
        label="In the manual",
        block=tuple(
            Cell(label=state.capitalize(), value=f"{sum(trace.state == state for trace in traces):,}")
            for state in states
        ),
        intro=f"{say_count(len(traces), 'call-out')} as the builder copied them; the manual itself comes first.",
        groups=tuple(
            table_group(title, "", "Call-outs", ("Step", *_COLUMNS), _rows(site, group), numeric=(4,))
            for title, group in groups.items()
        ),
    )


def callouts_of_step(site: SiteContext, step: str) -> Group:
    """What the manual asks of one step."""
    traces = [trace for trace in site.view.callouts if step in trace.called.steps]
    if not traces:
        return Group()
    rows = tuple(row[1:] for row in _rows(site, traces))
    table = Table(caption="Call-outs", columns=_COLUMNS, rows=rows, numeric=frozenset((3,)), caution=True)
    return Group(title="What the manual calls for", anchor="called-for", tables=(table,))


def _rows(site: SiteContext, traces: Sequence[CallOutTrace]) -> Iterable[tuple[TableCell, ...]]:
    entries = {entry.id: entry for entry in site.view.entries}
    measured = {measurement.id: measurement for measurement in site.view.measurements}
    for trace in traces:
        called = trace.called
        told = [entries[name] for name in trace.entries if name in entries]
        links = [Link(text=say_date(one.date), address=site.addresses.entry_address[one.id]) for one in told]
        links += [
            Link(text=say_date(measured[name].date), address=site.addresses.measurement_address[name])
            for name in trace.measurements
            if name in measured
        ]
        yield (
            tuple(Link(text=step, address=site.addresses.step_address[step]) for step in called.steps) or NOTHING,
            " ".join(text for text in (called.what, called.part) if text),
            "; ".join(text for text in (called.value, f"drag {called.drag}" if called.drag else "") if text) or NOTHING,
            trace.state,
            NOTHING if called.count is None else f"{called.count:,}",
            say_place(called) or NOTHING,
            few_links(links, most=3),
        )
