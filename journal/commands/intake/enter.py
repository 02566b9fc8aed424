"""`journal enter`: an evening's photos become an entry, shown before it is written."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from journal.base.formatting import say_count, say_date, say_minutes, say_weekday
from journal.base.model import Build, Entry, Role, State
from journal.base.problems import Grade, did_you_mean
from journal.base.safe_write import staged
from journal.base.text_files import one_line, yaml_list
from journal.commands.intake import offering
from journal.commands.intake.asking import (
    AnswerError,
    Asker,
    check_given,
    guess_assembly,
    known_ids,
    meant_id,
    names_option,
    open_for_entries,
    parse_day,
    parse_worked,
)
from journal.commands.intake.incoming_media import (
    CameraSpan,
    Days,
    Found,
    Incoming,
    camera_spans,
    clock_doubts,
    examine_media,
    group_by_day,
    night_after,
    say_media,
)
from journal.commands.intake.lenient_parsing import LONGEST_TITLE, first_words, plain_markdown
from journal.commands.intake.new_entries import (
    ENTRIES,
    Draft,
    folder_name,
    place_names,
    taken_names,
    usual_place,
)
from journal.commands.intake.offering import LISTED, check_with_reader, show_entry, write_shown
from journal.commands.intake.unfinished import finish_entries
from journal.commands.terminal import (
    EXIT_ERRORS,
    EXIT_USE,
    build_option,
    fail,
    open_build,
    print_problems,
    sum_up,
    today,
)
from journal.ledger.journal import CACHE, Journal
from journal.reading.text import Notes, decode_text
from journal.record.damage import printable

NOTHING = "-"
STEPS_SUGGESTED = 6


@click.command()
@build_option
@click.argument("photos_too", metavar="[PHOTOS]...", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--photos",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="PATH",
    help="A folder, a zip, or single photos and clips. May be repeated.",
)
@click.option(
    "--day",
    "days",
    multiple=True,
    metavar="DATE",
    help="The day to write up, or `all` of those waiting. May be repeated.",
)
@click.option("--between", metavar="HH:MM-HH:MM", help="Only what was taken between these times.")
@click.option(
    "--text", metavar="WORDS", help="What was done, in words: a whole entry at once; - reads them from a pipe."
)
@click.option(
    "--assembly", metavar="ID", help="The assembly that was worked on (else that of the steps, or as last time)."
)
@click.option("--title", metavar="WORDS", help="What was done; names the folder too.")
@click.option("--hours", metavar="TIME", help="What each worked: 2:45, 2.75 or 18:30-21:15.")
@names_option("--step", "steps", help="A step finished.")
@names_option("--begun", help="A step begun.")
@names_option("--person", "people", help="Who worked.")
@click.option("--place", metavar="ID", help="Where, if not in the first place of build.yml.")
@names_option("--tool", "tools", metavar="NAME", help="A tool; - for none.")
@names_option("--method", "methods", metavar="NAME", help="A method.")
@click.option("--with-undated", is_flag=True, help="Take along what has no date, or one that cannot be.")
@click.option("--with-night", is_flag=True, help="Take along what follows after midnight.")
@click.option("--live", is_flag=True, help="Bring in the moving parts of still pictures too.")
@click.option("--draft", is_flag=True, help="Mark the entry as a draft: it counts nowhere yet.")
@click.option("--no-edit", "edit", flag_value=False, default=True, help="Do not open the editor.")
@click.option("--dry-run", is_flag=True, help="Only show what would be written.")
@click.option("--yes", is_flag=True, help="Ask nothing; where no option says it, take what Enter alone would give.")
@click.option(
    "--notes", type=click.Path(path_type=Path), metavar="FILE", help="Days told in a text file, one after another."
)
@click.option("--unfinished", is_flag=True, help="Ask for what entries lack, one entry after the other.")
def enter(
    root: Path,
    photos: tuple[Path, ...],
    photos_too: tuple[Path, ...],
    between: str | None,
    yes: bool,
    text: str | None,
    notes: Path | None,
    unfinished: bool,
    **given: Any,
) -> None:
    """Write up an evening, from photos or in words.

    Photos are sorted by the day on which they were taken and copied, never moved; those that the
    journal has already are left out. What is about to be written is shown first. Lines that only
    suggest something begin with # and count for nothing until you take the # away.

    \b
    Example:
      journal enter --photos /media/phone/DCIM
      journal enter --photos evening.zip --day 2026-02-07 --assembly flaps --title "Two flap skeletons" --yes
      journal enter --text "Deburred ribs 3 to 5" --step 7.12 --hours 1:15
      journal enter --notes evenings.txt
      journal enter
    """
    _check_alone(click.get_current_context())
    ask, paths = Asker(silent=yes or text is not None), (*photos, *photos_too)
    if unfinished:
        return finish_entries(open_for_entries(root), replace(ask, stopped="what was answered is written"))
    if notes is not None:
        wishes = {name: given[name] for name in BESIDE["notes"] if name in given}
        return offering.enter_notes(open_for_entries(root), ask, notes, paths, **wishes)
    told: dict[str, Any] = {key: given[key] or () for key in ("steps", "begun", "methods")}
    told["between"] = parse_between(between) if between is not None else None
    told["text"] = _plain_text(text) if text is not None else None
    if gone := [path for path in photos_too if not path.exists()]:
        raise AnswerError(f'There is no file or folder "{gone[0]}"; words of what was done go behind --text.')
    journal = open_for_entries(root)
    told |= {kind: meant_id(journal.build, kind, given[kind]) for kind in ("assembly", "place")}
    return _Evening(journal, ask, photos=paths, **(given | told)).write_up()


BESIDE: Mapping[str, tuple[str, ...]] = {
    "notes": ("photos", "photos_too", "assembly", "people", "dry_run"),
    "unfinished": (),
}
"""Options that make it something of its own, and what may stand beside each."""


def _check_alone(context: click.Context) -> None:
    """Raise AnswerError for options that mean nothing beside one another."""
    given = [one for one in context.params if context.get_parameter_source(one) is ParameterSource.COMMANDLINE]
    names = {one.name or "": max(one.opts, key=len) for one in context.command.params}
    for alone in [one for one in BESIDE if one in given]:
        for other in [one for one in given if one not in (alone, "root", "yes", *BESIDE[alone])]:
            raise AnswerError(f"{names[alone]} and {names[other]} cannot be given together.")


def _plain_text(text: str) -> str:
    """The words of `--text`, or of standard input where that is `-`."""
    if text == "-":
        notes = Notes("standard input")
        text = decode_text(sys.stdin.buffer.read(), notes) or ""
        print_problems(notes.problems)
    words = "\n".join(map(one_line, text.split("\n"))).strip()
    if not words:
        raise AnswerError("--text holds no words; say in a few what was done.")
    return words


@dataclass(frozen=True)
class _Evening:
    """One run of the command: the journal, whom to ask, and what the options answer in advance; None or empty
    where they do not.

    `days` holds dates as given, or `all`. None for `tools` means: ask, or as last time.
    """

    journal: Journal
    ask: Asker
    photos: tuple[Path, ...]
    text: str | None
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

    @property
    def build(self) -> Build:
        """The build that is written up."""
        return self.journal.build

    @property
    def last(self) -> Entry | None:
        """The entry written last, whose people, place and tools are likely to be tonight's."""
        return self.build.entries[-1] if self.build.entries else None

    def write_up(self) -> None:
        """Bring the evening in. Raises AnswerError for an option that cannot be used."""
        root, ask = self.journal.root, self.ask
        steps = (*self.steps, *self.begun)
        check_given(self.build, assembly=[self.assembly], place=[self.place], person=self.people, step=steps)
        if self.hours is not None:
            parse_worked(self.hours, self.build, self.people or None)
        with staged(root / CACHE, "unpacked") as scratch:
            found = examine_media(self.journal, self.photos, scratch, live=self.live)
            days = group_by_day(found.fresh)
            if self.photos:
                _say_found(found, days)
            chosen = self._choose_days(days, found)
            for day in [day for day in chosen if day > today()]:
                click.echo(f"{say_date(day)} is still to come; name another with --day if that is a slip.")
            made: list[Draft] = []
            left = days
            for day in chosen:
                if days.get(day) and not left[day]:  # all of it was the night of the day before
                    continue
                incoming = self._choose_photos(left, day, last=day == max(chosen))
                left = {one: tuple(photo for photo in there if photo not in incoming) for one, there in left.items()}
                made.append(self._make(day, incoming, [draft.folder for draft in made]))
                show_entry(made[-1])
            if self.text:
                self._check_once(made)
                check_with_reader(root, made)
            if not write_shown(root, ask, made, dry_run=self.dry_run):
                return
        if waiting := [day.isoformat() for day in days if day and day not in chosen]:
            click.echo(f"{say_count(len(waiting), 'more day')} of photos to write up: {', '.join(waiting[-LISTED:])}.")
        if self.edit and not ask.silent:
            for draft in made:
                _edit(root / ENTRIES / draft.folder / "index.md")
            _read_back(root, {draft.folder for draft in made})

    def _check_once(self, made: Sequence[Draft]) -> None:
        """End the command where the same words stand in an entry of the same day and assembly: pressed twice."""
        for draft in made:
            for entry in (*self.build.entries, *self.build.drafts):
                same = (entry.date, entry.assembly) == (draft.date, draft.assembly)
                if same and " ".join(entry.body.split()) == " ".join(draft.body.split()):
                    hint = "say it in other words if it was done twice"
                    fail(f"{entry.src_uri} says this already, so nothing was written; {hint}", EXIT_ERRORS)

    # -- choosing ------------------------------------------------------------------------------

    def _choose_days(self, days: Days, found: Found) -> list[date]:
        """The days to write up, each with its photos; without photos, the day that was named, or today."""
        ask = self.ask
        if not self.photos and "all" in self.days:
            raise AnswerError("--day all means every day of new photos; name these with --photos.")
        if not self.photos:
            return [parse_day(text) for text in self.days] or [today()]
        waiting = [day for day in days if day]
        if self.days == ("all",):
            if not waiting:
                fail("no photo with a date waits to be written up", EXIT_USE)
            return waiting
        if self.days:
            named = [parse_day(text) for text in self.days]
            for day in named:
                if day not in days and not (self.with_undated and None in days):
                    there = f"; waiting are: {', '.join(one.isoformat() for one in waiting)}" if waiting else ""
                    fail(f"no new photo was taken on {day.isoformat()}{there}", EXIT_USE)
            return named
        if not waiting:
            if None not in days:
                here = "Everything here is in the journal already" if found.media else "There is no photo or clip"
                click.echo(f"{here}; there is nothing to write up.")
                sys.exit(0)
            return [ask.parsed("Which day is it, then? (year-month-day)", today().isoformat(), parse_day)]
        if len(waiting) == 1 or ask.silent:
            return [waiting[-1]]
        newest = waiting[::-1]
        click.echo("Days not written up yet, or with new photos:")
        return [newest[ask.one_of("Which one?", [self._say_waiting_day(days, day) for day in newest])]]

    def _say_waiting_day(self, days: Days, day: date) -> str:
        incoming = days[day]
        ends = dict.fromkeys([incoming[0].taken, incoming[-1].taken])
        times = " to ".join(f"{moment:%H:%M}" for moment in ends)
        said = f"{say_weekday(day)} {say_date(day)}: {say_media(incoming)}, {times}"
        entries = [entry.id for entry in (*self.build.entries, *self.build.drafts) if entry.date == day]
        return f"{said}; written already: {', '.join(entries)}" if entries else said

    def _choose_photos(self, days: Days, day: date, *, last: bool) -> tuple[Incoming, ...]:
        """The photos of the day, after a word about clocks, the small hours and what has no date; without a question
        that goes to the `last` of several days.
        """
        ask = self.ask
        incoming = days.get(day, ())
        if self.photos:
            click.echo(f"\n{say_weekday(day)} {say_date(day)}: {say_media(incoming)}")
            _say_cameras(incoming)
        if night := night_after(days, day):
            until = f"until {night[-1].taken:%H:%M} the next morning"
            if self.with_night or (not ask.silent and ask.yes(f"{say_media(night)} more {until}. The same session?")):
                incoming = (*incoming, *night)
            else:
                click.echo(f"  {say_media(night)} {until} stay with that day (--with-night takes them along).")
        undated = days.get(None, ())
        question = f"Take the {say_media(undated)} without a day into this entry?"
        if undated and (last if self.with_undated else not ask.silent and ask.yes(question, default=False)):
            incoming = (*incoming, *undated)
        if self.between is not None:
            start, end = self.between
            incoming = tuple(one for one in incoming if one.taken and start <= one.taken.time() <= end)
            click.echo(f"  between {start:%H:%M} and {end:%H:%M}: {say_media(incoming)}")
        return incoming

    # -- filling in ----------------------------------------------------------------------------

    def _make(self, day: date, incoming: Sequence[Incoming], also_taken: Sequence[str]) -> Draft:
        """The entry of `day`: what options say, what is answered, what follows from the journal and the photos."""
        assembly = self.assembly or self._find_assembly()
        words = first_words(self.text, LONGEST_TITLE) if self.text and self.title is None else self.title
        title = self.ask.text("What was done? A few words for the title (Enter: later)", given=words)
        people = self.people if self.people is not None else self._ask_people()
        spans = camera_spans(incoming)
        hours = self.hours if self.hours is not None else self._ask_hours(spans, people)
        tools = self.tools if self.tools is not None else self._ask_tools(assembly)
        return Draft(
            folder=folder_name(day, title or assembly, (*taken_names(self.journal.root), *also_taken)),
            date=day,
            assembly=assembly,
            title=title,
            hours={"": (hours,)} if hours else {},
            steps=self.steps,
            begun=self.begun,
            people=people,
            place=self.place or usual_place(self.build),
            tools=tools,
            methods=self.methods,
            body=plain_markdown(self.text or ""),
            draft=self.draft,
            placed=place_names(incoming),
            suggestions=tuple(self._suggestions(assembly, bool(hours), spans)),
        )

    def _suggestions(self, assembly: str, told: bool, spans: Sequence[CameraSpan]) -> Iterator[str]:
        """What is likely, as comments: hours (where they are not `told`) by the times of the pictures, and the first
        few steps of the assembly that are not done, in the manual's order.
        """
        spans = [] if told else [span for span in spans if span.first != span.last]
        states = {id_: progress.state for id_, progress in self.journal.progress.steps.items()}
        steps = [step for step in self.build.steps_of(assembly) if states.get(step.id) is not State.DONE]
        steps = [] if self.steps or self.begun else steps[:STEPS_SUGGESTED]
        if not told and not spans:
            yield 'hours: ""    # what each of you worked: 2:45, 2.75 or 18:30-21:15'
        if spans or steps:
            yield "# Lines that begin with # are suggestions and count for nothing until you take the # away."
        for span in spans:
            yield f"# From the first to the last picture of {one_line(span.camera)}; write what each of you worked:"
            yield f"# hours: {span.times}"
        if steps:
            yield "# Next in the manual; keep what you finished:"
            yield f"# steps: {yaml_list(step.id for step in steps)}"
        width = max((len(step.id) for step in steps), default=0)
        for step in steps:
            begun = " (under way)" if states.get(step.id) is State.UNDER_WAY else ""
            yield f"#    {step.id:<{width}}  {one_line(step.title)}{begun}"

    def _ask_hours(self, spans: Sequence[CameraSpan], people: tuple[str, ...]) -> str:
        """What each worked, or an empty text: then the span of the pictures stands in the entry as a suggestion."""
        if self.ask.silent:
            return ""
        said = [span.times for span in spans if span.first != span.last]
        if said:
            click.echo(f"From the first to the last picture: {' or '.join(said)}.")
        question = "How long did each of you work? Like 2:45 or 18:30-21:15 (Enter: later)"
        return self.ask.parsed(question, "", lambda text: parse_worked(text, self.build, people or None))

    def _find_assembly(self) -> str:
        """The assembly that the steps tell or the only one; else what is answered, or that of the last entry."""
        last = (
            (self.last.assembly, f"as last time, {say_date(self.last.date)}") if self.last and self.ask.silent else None
        )
        assembly, why = guess_assembly(self.build, (*self.steps, *self.begun), last or ("", ""))
        if assembly:
            click.echo(f"Assembly: {assembly} ({why})")
            return assembly
        identifiers = list(self.build.assemblies)
        if self.ask.silent:
            fail(f"which assembly? Name it with --assembly: {', '.join(identifiers)}", EXIT_USE)
        click.echo("Assemblies:")
        default = identifiers.index(self.last.assembly) if self.last else 0
        titles = [assembly.title for assembly in self.build.assemblies.values()]
        return identifiers[self.ask.one_of("Which one was worked on?", titles, default)]

    def _ask_people(self) -> tuple[str, ...]:
        """IDs, those of the last time where nothing else is said; empty where it was everyone who builds,
        which an entry need not say.
        """
        people = self.build.people
        builders = tuple(person.id for person in people.values() if person.role is Role.BUILDER)
        likely = self.last.people if self.last and set(self.last.people) != set(builders) else ()
        if self.ask.silent or len(people) < 2:
            return likely
        known = known_ids(self.build)

        def parse(answer: str) -> tuple[str, ...]:
            found = []
            for word in filter(None, map(str.strip, answer.split(","))):
                meant = known.meant(word, "person")
                if len(meant) != 1:
                    raise AnswerError(f'There is nobody "{word}"; {did_you_mean(word, people)}')
                found += meant
            return () if tuple(found) == builders else tuple(dict.fromkeys(found))

        others = [one for one in people if one not in (likely or builders)]
        more = f" (or: {', '.join(others)})" if others else ""
        return self.ask.parsed(f"Who worked?{more}", ", ".join(likely or builders), parse)

    def _ask_tools(self, assembly: str) -> tuple[str, ...]:
        """The tools, first of all those of the last entry on this assembly, else of the last entry."""
        same = [entry for entry in self.build.entries if entry.assembly == assembly] or self.build.entries
        likely = same[-1].tools if same else ()
        if self.ask.silent or not likely:
            return likely
        # A tool's own name may hold a comma: taken over whole where the suggestion is accepted.
        suggestion = ", ".join(likely)

        def parse(answer: str) -> tuple[str, ...]:
            if answer in (suggestion, NOTHING):
                return likely if answer == suggestion else ()
            return tuple(dict.fromkeys(" ".join(word.split()) for word in answer.split(",") if word.strip()))

        return self.ask.parsed(f"With which tools? ({NOTHING} for none)", suggestion, parse)


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


# -- telling what was found ------------------------------------------------------------------------


def _say_found(found: Found, days: Days) -> None:
    new = "all new" if len(found.fresh) == len(found.media) else f"{say_media(found.fresh)} new"
    click.echo(f"Found {say_media(found.media)}{f': {new}' if found.media else ''}.")
    _say_list(
        f"In the journal already, left out: {say_media([one for one, _ in found.here])}.",
        [f"{one.name} is {place.removeprefix('content/')}" for one, place in found.here],
    )
    _say_list(
        f"The same picture under a second name, left out: {say_media([one for one, _ in found.twins])}.",
        [f"{one.name} is {other.name}" for one, other in found.twins],
    )
    if found.live:
        click.echo(f"Moving parts of still pictures, left out: {len(found.live)} (--live brings them in).")
    _say_list(f"Neither photo nor clip, passed over: {say_count(len(found.passed_over), 'file')}.", found.passed_over)
    for one in found.fresh:
        if one.trouble:
            click.echo(f"  {one.name} will be kept, but cannot be shown: {one.trouble}.")
        elif one.damage:
            click.echo(f"  {one.name} is damaged: {one.damage}. Copy it from the camera again before you clear it.")
    undated = days.get(None, ())
    for one in undated:
        if one.doubt:
            click.echo(f"  {one.name}: no day can be told, {one.doubt}.")
    if unset := [one for one in undated if one.taken and not one.clock_set]:
        dated = f"dated {unset[0].taken:%Y-%m-%d} and so on"
        click.echo(f"Camera clock never set: {say_media(unset)}, {dated}; no day can be told.")
    if timeless := [one for one in undated if not one.taken]:
        click.echo(f"Without a capture time: {say_media(timeless)}; no day can be told.")
    if undated:
        click.echo("What has no day comes along with --with-undated alone.")


def _say_list(heading: str, lines: Sequence[str]) -> None:
    if lines:
        more = [f"and {len(lines) - LISTED} more"] if len(lines) > LISTED else []
        click.echo("\n  ".join([heading, *map(printable, lines[:LISTED]), *more]))


def _say_cameras(incoming: Sequence[Incoming]) -> None:
    spans = camera_spans(incoming)
    width = max((len(span.camera) for span in spans), default=0)
    for span in spans:
        times = f"{span.first:%H:%M}" + ("" if span.first == span.last else f" to {span.last:%H:%M}")
        offsets = f", {' and '.join(span.offsets)} from UTC" if span.offsets else ""
        click.echo(f"  {span.camera:<{width}}  {times}  {say_media(span.incoming)}{offsets}")
    for doubt in clock_doubts(spans):
        click.echo(f"  {doubt} Nothing is shifted: every picture keeps the time of its own camera.")


# -- the editor ---------------------------------------------------------------------------


def _edit(file: Path) -> None:
    """The builder's own editor; one that beginners can leave where none is set."""
    plain = "open -W -t" if sys.platform == "darwin" else next(filter(shutil.which, ("nano", "notepad")), "")
    editor = os.environ.get("VISUAL") or os.environ.get("EDITOR") or plain
    if not editor:
        click.echo(f"Open it in your editor: {file}")
        return
    try:
        click.edit(filename=str(file), editor=editor)
    except click.ClickException as trouble:
        click.echo(f"The editor could not be started ({trouble.message}); open the file yourself: {file}")


def _read_back(root: Path, folders: set[str]) -> None:
    """What the reader makes of what was typed, at once."""
    journal = open_build(root)
    mine = [problem for problem in journal.problems if folders.intersection(problem.file.split("/")[2:3])]
    read = {entry.src_uri for entry in (*journal.build.entries, *journal.build.drafts)}
    stopping = [problem for problem in mine if problem.grade is Grade.ERROR or problem.file not in read]
    print_problems(stopping)
    for entry in (*journal.build.entries, *journal.build.drafts):
        if entry.id in folders:
            totals = journal.ledger.entries.get(entry.id)
            told = f"day {totals.day}, " if totals else "a draft, "
            hours = say_minutes(entry.minutes) if entry.time else "no hours yet"
            photos = say_count(len(entry.photos), "photo")
            photos += f" and {say_count(len(entry.clips), 'clip')}" if entry.clips else ""
            click.echo(f"{entry.title}: {told}{hours}, {photos}; {sum_up(mine)}.")
    if len(mine) > len(stopping):
        click.echo("What could be said better `journal check` tells, and how.")
