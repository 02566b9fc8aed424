"""`journal enter` on the terminal: which day, which assembly, what is about to be written."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

import click

from journal.base.addresses import fold_name
from journal.base.byte_progress import say_bytes
from journal.base.formatting import say_count, say_date, say_minutes, say_weekday
from journal.base.model import Build, Entry
from journal.base.problems import did_you_mean, has_errors
from journal.base.safe_write import staged
from journal.commands.intake.asking import AnswerError, Asker, parse_day
from journal.commands.intake.enter import (
    Draft,
    NotWrittenError,
    land_entry,
    last_entry,
    likely_people,
    likely_tools,
    make_draft,
    render_entry,
    say_trouble,
)
from journal.commands.intake.incoming_media import (
    Arrival,
    CameraSpan,
    Days,
    Harvest,
    Sifted,
    camera_spans,
    clock_doubts,
    gather,
    group_by_day,
    name_cameras,
    read_shelf,
    say_arrivals,
    sift,
)
from journal.commands.terminal import EXIT_DISK, EXIT_ERRORS, EXIT_USE, Bar, fail, open_build, print_problems, sum_up
from journal.ledger.journal import CACHE, Journal, photo_store
from journal.reading.hours import parse_amount
from journal.reading.text import Notes
from journal.reading.tree import Scalar

NOTHING = "-"
LISTED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What the options of `journal enter` answer in advance; None or empty where they do not.

    `days` holds dates as given, or `all`. None for `tools` means: ask, or as last time.
    """

    photos: tuple[Path, ...]
    days: tuple[str, ...]
    between: tuple[time, time] | None
    assembly: str | None
    title: str | None
    hours: str | None
    steps: tuple[str, ...]
    begun: tuple[str, ...]
    people: tuple[str, ...] | None
    place: str | None
    tools: tuple[str, ...] | None
    methods: tuple[str, ...]
    with_undated: bool
    with_night: bool
    live: bool
    draft: bool
    dry_run: bool
    edit: bool


def enter_work(root: Path, given: Given, today: date, ask: Asker) -> None:
    """Bring an evening in. Raises AnswerError for an option that cannot be used."""
    journal = open_build(root)
    build = journal.build
    if not build.assemblies:
        print_problems([problem for problem in journal.problems if problem.file == "content/build.yml"])
        fail("content/build.yml names no assembly yet; an entry belongs to one", EXIT_ERRORS)
    _check_given(build, given)
    cache = root / CACHE
    cache.mkdir(exist_ok=True)
    with staged(cache, "unpacked") as scratch:
        harvest, sifted = _look(journal, given, scratch)
        days = group_by_day(sifted.fresh)
        _say_found(given, harvest, sifted, days)
        chosen = _choose_days(journal, given, days, today, ask)
        made: list[tuple[Draft, str]] = []
        for day in chosen:
            arrivals = _choose_arrivals(given, days, day, ask)
            draft = _make(journal, given, day, arrivals, ask, [draft.folder for draft, _ in made])
            text = render_entry(draft)
            _show(draft, text)
            made.append((draft, text))
        if given.dry_run:
            click.echo("Nothing was written (--dry-run).")
            return
        if not ask.yes("Write it?" if len(made) == 1 else f"Write these {len(made)} entries?"):
            click.echo("Nothing was written.")
            return
        places = _land(root, made)
    for place in places:
        click.echo(f"Written: {place.relative_to(root)}/index.md")
    _say_waiting(days, chosen)
    if given.edit and not ask.silent:
        for place in places:
            _edit(place / "index.md")
        _read_back(root, {draft.folder for draft, _ in made})


# -- looking ---------------------------------------------------------------------------------------


def _look(journal: Journal, given: Given, scratch: Path) -> tuple[Harvest, Sifted]:
    with Bar("looking at photos") as bar:
        harvest = gather(
            given.photos,
            zone=journal.build.zone,
            scratch=scratch,
            cache=journal.root / CACHE / "arrivals",
            on_photos=bar.tell,
        )
    print_problems(harvest.problems)
    if has_errors(harvest.problems):
        fail("nothing was written", EXIT_USE)
    shelf = read_shelf(journal.root, photo_store(journal.root))
    return harvest, sift(harvest.arrivals, shelf, live=given.live)


def _say_found(given: Given, harvest: Harvest, sifted: Sifted, days: Days) -> None:
    if not given.photos:
        return
    new = "all new" if len(sifted.fresh) == len(harvest.arrivals) else f"{say_arrivals(sifted.fresh)} new"
    click.echo(f"Found {say_arrivals(harvest.arrivals)}: {new}.")
    _say_list(
        f"In the journal already, left out: {say_arrivals([one for one, _ in sifted.here])}.",
        [f"{one.name} is {place.removeprefix('content/')}" for one, place in sifted.here],
    )
    _say_list(
        f"The same picture under a second name, left out: {say_arrivals([one for one, _ in sifted.twins])}.",
        [f"{one.name} is {other.name}" for one, other in sifted.twins],
    )
    if sifted.live:
        click.echo(f"Moving parts of still pictures, left out: {len(sifted.live)} (--live brings them in).")
    _say_list(
        f"Neither photo nor clip, passed over: {say_count(len(harvest.passed_over), 'file')}.", harvest.passed_over
    )
    for one in sifted.fresh:
        if one.trouble:
            click.echo(f"  {one.name} will be kept, but cannot be shown: {one.trouble}.")
    if days.clock_never_set:
        click.echo(
            f"Camera clock never set: {say_arrivals(days.clock_never_set)}, "
            f"dated {days.clock_never_set[0].taken:%Y-%m-%d} and so on; no day can be told."
        )
    if days.undated:
        click.echo(f"Without a capture time: {say_arrivals(days.undated)}; no day can be told.")


def _say_list(heading: str, lines: Sequence[str]) -> None:
    if not lines:
        return
    click.echo(heading)
    for line in lines[:LISTED]:
        click.echo(f"  {line}")
    if len(lines) > LISTED:
        click.echo(f"  and {len(lines) - LISTED} more")


# -- choosing --------------------------------------------------------------------------------------


def _choose_days(journal: Journal, given: Given, days: Days, today: date, ask: Asker) -> list[date]:
    """The days to write up, each with its photos; without photos, the day that was named, or today."""
    if not given.photos:
        return [parse_day(text) for text in given.days] or [today]
    waiting = list(days.dated)
    if given.days == ("all",):
        if not waiting:
            fail("no photo with a date waits to be written up", EXIT_USE)
        return waiting
    if given.days:
        named = [parse_day(text) for text in given.days]
        for day in named:
            if day not in days.dated and not (given.with_undated and (days.undated or days.clock_never_set)):
                there = f"; waiting are: {', '.join(one.isoformat() for one in waiting)}" if waiting else ""
                fail(f"no new photo was taken on {day.isoformat()}{there}", EXIT_USE)
        return named
    if not waiting:
        if not days.undated and not days.clock_never_set:
            click.echo("Everything here is in the journal already; there is nothing to write up.")
            sys.exit(0)
        return [ask.parsed("Which day is it, then? (year-month-day)", today.isoformat(), parse_day)]
    if len(waiting) == 1 or ask.silent:
        return [waiting[-1]]
    newest = waiting[::-1]
    click.echo("Days not written up yet, or with new photos:")
    number = ask.one_of("Which one?", [_say_waiting_day(journal, days, day) for day in newest])
    return [newest[number]]


def _say_waiting_day(journal: Journal, days: Days, day: date) -> str:
    arrivals = days.dated[day]
    first, last = arrivals[0].taken, arrivals[-1].taken
    times = f"{first:%H:%M} to {last:%H:%M}" if first and last and first != last else f"{first:%H:%M}"
    said = f"{say_weekday(day)} {say_date(day)}: {say_arrivals(arrivals)}, {times}"
    entries = [entry.id for entry in (*journal.build.entries, *journal.build.drafts) if entry.date == day]
    return f"{said}; written already: {', '.join(entries)}" if entries else said


def _choose_arrivals(given: Given, days: Days, day: date, ask: Asker) -> tuple[Arrival, ...]:
    """The photos of the day, after a word about clocks, the small hours and what has no date."""
    arrivals = days.dated.get(day, ())
    if given.photos:
        click.echo(f"\n{say_weekday(day)} {say_date(day)}: {say_arrivals(arrivals)}")
        _say_cameras(arrivals)
    night = days.night_after(day)
    if night and (
        given.with_night
        or (
            not ask.silent
            and ask.yes(f"{say_arrivals(night)} more until {night[-1].taken:%H:%M} the next morning. The same session?")
        )
    ):
        arrivals = (*arrivals, *night)
    elif night:
        click.echo(
            f"  {say_arrivals(night)} until {night[-1].taken:%H:%M} the next morning stay with that day "
            "(--with-night takes them along)."
        )
    loose = (*days.undated, *days.clock_never_set)
    if loose and (
        given.with_undated
        or (not ask.silent and ask.yes(f"Take the {say_arrivals(loose)} without a day into this entry?", default=False))
    ):
        arrivals = (*arrivals, *loose)
    if given.between is not None:
        start, end = given.between
        arrivals = tuple(one for one in arrivals if one.taken and start <= one.taken.time() <= end)
        click.echo(f"  between {start:%H:%M} and {end:%H:%M}: {say_arrivals(arrivals)}")
    return arrivals


def _say_span(span: CameraSpan) -> str:
    return f"{span.first:%H:%M}" + ("" if span.first == span.last else f" to {span.last:%H:%M}")


def _say_cameras(arrivals: Sequence[Arrival]) -> None:
    spans = camera_spans(arrivals)
    if not spans:
        return
    width = max(len(span.camera) for span in spans)
    for span in spans:
        counted = say_arrivals([one for one, camera in name_cameras(arrivals) if camera == span.camera])
        offsets = f", {' and '.join(span.offsets)} from UTC" if span.offsets else ""
        click.echo(f"  {span.camera:<{width}}  {_say_span(span)}  {counted}{offsets}")
    for doubt in clock_doubts(spans):
        click.echo(f"  {doubt} Nothing is shifted: every picture keeps the time of its own camera.")


# -- filling in ------------------------------------------------------------------------------------


def _check_given(build: Build, given: Given) -> None:
    """Options that name things must name things that are there."""
    _known(given.assembly, "assembly", build.assemblies)
    _known(given.place, "place", build.places)
    for person in given.people or ():
        _known(person, "person", build.people)
    for step in (*given.steps, *given.begun):
        for end in step.split(" to "):
            _known(end.strip(), "step", build.steps)
    if given.hours is not None:
        _worked(given.hours)


def _worked(text: str) -> str:
    """A time worked as it may stand in an entry."""
    notes = Notes("")
    if parse_amount(Scalar(text=text, where=(1, 1)), None, None, notes) is None:
        raise AnswerError("; ".join(f"{problem.message}; {problem.hint}" for problem in notes.problems))
    return text


def _ask_hours(arrivals: Sequence[Arrival], ask: Asker) -> str:
    """What each worked, or an empty text: then the span of the pictures stands in the entry as a suggestion."""
    if ask.silent:
        return ""
    spans = [f"{span.first:%H:%M}-{span.last:%H:%M}" for span in camera_spans(arrivals) if span.first != span.last]
    if spans:
        click.echo(f"From the first to the last picture: {' or '.join(spans)}.")
    return ask.parsed(
        "How long did each of you work? Like 2:45 or 18:30-21:15 (Enter: later)",
        "",
        lambda text: _worked(text) if text else "",
    )


def _known(name: str | None, kind: str, known: Mapping[str, object]) -> None:
    if name is not None and name not in known:
        raise AnswerError(f'There is no {kind} "{name}" in this build; {did_you_mean(name, known)}')


def _make(
    journal: Journal, given: Given, day: date, arrivals: Sequence[Arrival], ask: Asker, taken: Sequence[str]
) -> Draft:
    build = journal.build
    assembly = given.assembly or _ask_assembly(build, ask)
    title = (
        given.title if given.title is not None else ask.text("What was done? A few words for the title (Enter: later)")
    )
    people = given.people if given.people is not None else _ask_people(build, ask)
    hours = given.hours if given.hours is not None else _ask_hours(arrivals, ask)
    tools = given.tools if given.tools is not None else _ask_tools(build, assembly, ask)
    last = last_entry(build)
    first_place = next(iter(build.places), None)
    place = given.place or (last.place if last and last.place and last.place != first_place else "") or ""
    return make_draft(
        journal,
        day=day,
        assembly=assembly,
        arrivals=arrivals,
        title=title,
        said={
            "steps": given.steps,
            "begun": given.begun,
            "people": people,
            "tools": tools,
            "methods": given.methods,
        },
        hours=hours,
        place=place,
        draft=given.draft,
        also_taken=taken,
    )


def _ask_assembly(build: Build, ask: Asker) -> str:
    identifiers = list(build.assemblies)
    last = last_entry(build)
    if ask.silent:
        if last is None:
            fail(f"which assembly? Name it with --assembly: {', '.join(identifiers)}", EXIT_USE)
        return last.assembly
    click.echo("Assemblies:")
    default = identifiers.index(last.assembly) if last else 0
    return identifiers[
        ask.one_of("Which one was worked on?", [build.assemblies[one].title for one in identifiers], default)
    ]


def _ask_people(build: Build, ask: Asker) -> tuple[str, ...]:
    """IDs; empty where it was everyone who builds, which an entry need not say."""
    likely = likely_people(build)
    builders = [person.id for person in build.people.values() if person.role.value == "builder"]
    if ask.silent or len(build.people) < 2:
        return likely
    by_word = {fold_name(word): one.id for one in build.people.values() for word in (one.id, one.name, one.public_name)}

    def parse(answer: str) -> tuple[str, ...]:
        people = []
        for word in answer.split(","):
            if word.strip() and (found := by_word.get(fold_name(word))) is None:
                raise AnswerError(f'There is nobody "{word.strip()}"; {did_you_mean(word.strip(), build.people)}')
            elif word.strip():
                people.append(str(found))
        return () if people == builders else tuple(dict.fromkeys(people))

    others = [one for one in build.people if one not in (likely or builders)]
    more = f" (or: {', '.join(others)})" if others else ""
    return ask.parsed(f"Who worked?{more}", ", ".join(likely or builders), parse)


def _ask_tools(build: Build, assembly: str, ask: Asker) -> tuple[str, ...]:
    likely = likely_tools(build, assembly)

    def parse(answer: str) -> tuple[str, ...]:
        if answer == NOTHING:
            return ()
        return tuple(dict.fromkeys(" ".join(word.split()) for word in answer.split(",") if word.strip()))

    if ask.silent or not likely:
        return likely
    # A tool's own name may hold a comma: taken over whole where the suggestion is accepted.
    suggestion = ", ".join(likely)
    return ask.parsed(
        f"With which tools? ({NOTHING} for none)",
        suggestion,
        lambda text: likely if text == suggestion else parse(text),
    )


# -- showing and writing ---------------------------------------------------------------------------


def _show(draft: Draft, text: str) -> None:
    """Everything that is about to be written, before it is."""
    click.echo(
        f"\ncontent/entries/{draft.folder}/ with {say_arrivals([one.arrival for one in draft.placed])}", nl=False
    )
    click.echo(f", {say_bytes(draft.bytes)}:" if draft.placed else ":")
    for one in draft.placed:
        if one.renamed:
            click.echo(f"  {one.arrival.name} is kept as {one.name}")
    lines = text.rstrip("\n").split("\n")
    photos = [number for number, line in enumerate(lines) if line.startswith("  ") and ': ""' in line]
    for number, line in enumerate(lines):
        if number in photos[LISTED // 2 : -1]:
            if number == photos[LISTED // 2]:
                click.echo(f"  |   … {len(photos) - LISTED // 2 - 1} more …")
            continue
        click.echo(f"  | {line}".rstrip())


def _land(root: Path, made: Sequence[tuple[Draft, str]]) -> list[Path]:
    places: list[Path] = []
    try:
        for draft, text in made:
            with Bar("copying photos") as bar:
                places.append(land_entry(root, draft, text, bar.tell))
    except NotWrittenError as trouble:
        _stop_writing(str(trouble), places)
    except OSError as trouble:
        _stop_writing(f"{say_trouble(trouble)}; nothing of this entry was written", places)
    return places


def _stop_writing(message: str, places: Sequence[Path]) -> None:
    for place in places:
        click.echo(f"Written: content/entries/{place.name}/index.md")
    fail(message, EXIT_DISK)


def _say_waiting(days: Days, chosen: Sequence[date]) -> None:
    waiting = [day for day in days.dated if day not in chosen]
    if waiting:
        said = ", ".join(day.isoformat() for day in waiting[-LISTED:])
        click.echo(f"{say_count(len(waiting), 'more day')} of photos to write up: {said}.")


def _edit(file: Path) -> None:
    """The builder's own editor; one that beginners can leave where none is set."""
    editor = os.environ.get("VISUAL") or os.environ.get("EDITOR") or _plain_editor()
    if not editor:
        click.echo(f"Open it in your editor: {file}")
        return
    try:
        click.edit(filename=str(file), editor=editor)
    except click.ClickException as trouble:
        click.echo(f"The editor could not be started ({trouble.message}); open the file yourself: {file}")


def _plain_editor() -> str:
    """An editor that shows how to leave it, or an empty text."""
    if sys.platform == "darwin":
        return "open -W -t"
    return next((name for name in ("nano", "notepad") if shutil.which(name)), "")


def _read_back(root: Path, folders: set[str]) -> None:
    """What the reader makes of what was typed, at once."""
    journal = open_build(root)
    mine = tuple(
        problem
        for problem in journal.problems
        if problem.file.split("/")[2:3] and problem.file.split("/")[2] in folders
    )
    print_problems(mine)
    for entry in (*journal.build.entries, *journal.build.drafts):
        if entry.id in folders:
            totals = journal.ledger.entries.get(entry.id)
            told = f"day {totals.day}, " if totals else "a draft, "
            hours = say_minutes(entry.minutes) if entry.time else "no hours yet"
            click.echo(f"{entry.title}: {told}{hours}, {_say_things(entry)}; {sum_up(mine)}.")


def _say_things(entry: Entry) -> str:
    said = say_count(len(entry.photos), "photo")
    return f"{said} and {say_count(len(entry.clips), 'clip')}" if entry.clips else said


def parse_between(text: str) -> tuple[time, time]:
    """`18:00-20:30`."""
    first, _, last = text.partition("-")
    try:
        start, end = (datetime.strptime(part.strip(), "%H:%M").time() for part in (first, last))
    except ValueError:
        raise AnswerError(f'"{text}" is not a span of the day; write it like 18:00-20:30.') from None
    if end < start:
        raise AnswerError(f'"{text}" ends before it begins.')
    return start, end.replace(second=59, microsecond=999_999)
