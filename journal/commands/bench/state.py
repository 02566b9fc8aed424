"""What the page at the bench shows, as JSON: clocks, steps and what is asked of them, what was written today.

The words of entries and what only the archive knows are left out unless they are asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from journal.base.callout_words import FASTENERS, MATERIAL, OF_LINES, TORQUED
from journal.base.formatting import say_date, say_minutes
from journal.base.model import Build, CallOut, Entry, Role, State, Step
from journal.commands.bench.taking import MARKS, Bench, Clock, assembly_under_way, entry_name, names_of
from journal.commands.terminal import CAUTION
from journal.commands.today import shown_lines, tell_today
from journal.commands.written import AT_DESK, Written
from journal.ledger.journal import Journal
from journal.ledger.progress import step_marks
from journal.trade.callouts import say_asked

WRITTEN_SHOWN = 60
WRITTEN_FOR = timedelta(hours=20)


def state_of(bench: Bench, moment: datetime) -> dict[str, Any]:
    """All that the page shows at a `moment`, local time at the build."""
    journal = bench.journal()
    build, names = journal.build, names_of(journal.build)
    drafts = [entry for entry in build.drafts if not entry.private]
    return {
        "name": build.aircraft.name or "Build journal",
        "at": moment.isoformat(timespec="minutes"),
        "assemblies": [{"id": one.id, "title": one.title} for one in build.assemblies.values()],
        "assembly": assembly_under_way(build, moment.date()),
        "people": [
            {"id": one.id, "name": names[one.id], "builder": one.role is Role.BUILDER}
            for one in build.people.values()
            if one.role in (Role.BUILDER, Role.HELPER)
        ],
        "clocks": [_clock(one, build, moment) for one in bench.clocks(journal)],
        "steps": [_step(step, journal, drafts) for step in build.steps.values()],
        "materials": [
            {"id": one.id, "name": " ".join((one.name, one.batch)), "past": _past(one.expires, moment.date())}
            for one in build.materials.values()
            if not one.used_up
        ],
        "drafts": [_draft(entry, journal, moment.date()) for entry in reversed(build.drafts)],
        "written": [
            {"key": one.key, "at": _told_at(one, build), "said": one.said, "by": one.by, "back": one.taken_back}
            for one in bench.written.newest(WRITTEN_SHOWN)
            if one.by not in AT_DESK and datetime.now(UTC) - datetime.fromisoformat(one.at) < WRITTEN_FOR
        ],
        "caution": CAUTION,
    }


def _clock(clock: Clock, build: Build, moment: datetime) -> dict[str, Any]:
    entry = next((one for one in build.drafts if one.src_uri == clock.file), None)
    return {
        "person": clock.person,
        "since": clock.since.isoformat(),
        "said": clock.say_since(moment),
        "forgotten": clock.forgotten(moment),
        "entry": entry_name(build, clock.file),
        "assembly": entry.assembly if entry else "",
    }


def _told_at(written: Written, build: Build) -> str:
    """`19:05` at the build."""
    return f"{datetime.fromisoformat(written.at).astimezone(ZoneInfo(build.zone) if build.zone else None):%H:%M}"


def _step(step: Step, journal: Journal, drafts: Iterable[Entry]) -> dict[str, Any]:
    """A step as it stands; what drafts say of it counts nowhere yet, but is shown to who wrote it."""
    state = journal.progress.steps[step.id].state
    marks = [mark for entry in drafts for one, mark in step_marks(entry) if one == step.id]
    return {
        "id": step.id,
        "assembly": step.assembly,
        "title": step.title,
        "page": step.page,
        "closes": step.closed_part if step.closes else "",
        "state": {State.DONE: "done", State.UNDER_WAY: "begun"}.get(state, ""),
        "marks": [MARKS[mark] for mark in dict.fromkeys(marks)],
        "asked": [_asked(called) for called in journal.build.callouts if step.id in called.steps],
    }


def _asked(called: CallOut) -> Mapping[str, str]:
    """A call-out, and the kind of line that answers it with the key that names its part; a nut or a lock stands in the
    line of its bolt, and has none of its own.
    """
    name, kind = "", "" if called.what in OF_LINES else "measured"
    if called.what in FASTENERS and not called.limit:
        name = called.what if called.what in ("screw", "nutplate") else "rivet"
        kind = "fasteners"
    elif called.what in TORQUED - {"nut"}:
        name = called.what if called.what in ("screw", "fitting") else "bolt"
        kind = "torque"
    elif called.what in MATERIAL:
        kind = "material"
    part = called.part or (called.value if kind == "fasteners" else "")
    return {"what": called.what, "part": part, "said": say_asked(called), "kind": kind, "name": name}


def _draft(entry: Entry, journal: Journal, today: date) -> dict[str, Any]:
    pictures = len(entry.photos) + len(entry.clips)
    return {
        "id": entry.id,
        "assembly": journal.build.assemblies[entry.assembly].title,
        "day": "" if entry.date == today else say_date(entry.date),
        "title": "" if entry.private or not entry.titled else entry.title,
        "hours": say_minutes(entry.minutes) if entry.time else "",
        "pictures": pictures,
    }


def _past(expires: date | None, today: date) -> str:
    return f"expired on {say_date(expires)}" if expires and expires < today else ""


def today_for(bench: Bench, *, private: bool) -> list[dict[str, Any]]:
    """What is going on, in parts with a heading; `private` lines only where they were asked for."""
    parts, do_next = tell_today(bench.journal())
    told = [
        {"heading": part.heading, "lines": lines} for part in parts if (lines := shown_lines(part, private=private))
    ]
    return [*told, {"heading": "Next", "lines": [do_next.replace("`", "")]}]
