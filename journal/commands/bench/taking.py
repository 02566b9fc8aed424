"""What a phone sent becomes lines of a draft entry: that of its day and its assembly, made where there is none.

Each is tried with the reader first and written by `WrittenList`, once, however often it is sent.
"""

from __future__ import annotations

import errno
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path, PurePosixPath
from zoneinfo import ZoneInfo

from journal.base.clock import today
from journal.base.digests import file_sha256
from journal.base.formatting import say_count, say_date, say_minutes, say_weekday
from journal.base.model import CLIP_ENDINGS, Build, Entry, Inspection, Measurement, PhotoFacts, Role
from journal.base.text_files import yaml_figure, yaml_text
from journal.commands.bench.arrivals import Arrivals
from journal.commands.bench.sent import RefusedError, Sent
from journal.commands.intake.incoming_media import NIGHT_ENDS
from journal.commands.intake.lenient_parsing import plain_markdown
from journal.commands.intake.new_entries import (
    ENTRIES,
    Draft,
    folder_name,
    free_name,
    render_entry,
    taken_names,
    usual_place,
)
from journal.commands.intake.proof import prove_entries
from journal.commands.written import WrittenList
from journal.ledger.checks import check_trade
from journal.ledger.journal import Journal, open_journal, remembered_in
from journal.ledger.progress import replay
from journal.ledger.today import running_clocks
from journal.media.photos import examine_file
from journal.reading.edits import (
    EditRefusedError,
    add_comment,
    add_items,
    add_paragraph,
    add_row,
    add_time,
    drop_comment,
    drop_key,
    name_hours,
    set_caption,
    set_value,
)
from journal.reading.hours import parse_span, passed_minutes
from journal.reading.text import Notes, read_text

Edit = Callable[[str], str]

FORGOTTEN = timedelta(hours=10)
"""A clock that ran for longer, or into the next morning, was forgotten (a guess, and asked about)."""

MARKS = {"begun": "begun", "steps": "done", "redone": "done again"}
"""What a step can be at the bench: the key of the entry, and the word for it."""


@dataclass(frozen=True, slots=True)
class Clock:
    """One person's clock that runs: the line `# clock: PERSON since DAY TIME` in the front matter of a draft `file`."""

    person: str
    since: datetime
    file: str

    @property
    def line(self) -> str:
        """The words of the comment."""
        return f"clock: {self.person} since {self.since:%Y-%m-%d %H:%M}"

    def forgotten(self, now: datetime) -> bool:
        """Whether somebody has to say when it ended."""
        next_day = now.date() > self.since.date() and now.time() >= NIGHT_ENDS
        return next_day or not timedelta(0) <= now - self.since.replace(second=0) <= FORGOTTEN

    def say_since(self, now: datetime) -> str:
        """`18:30`, or with its day where that is another."""
        day = self.since.date()
        if day == now.date():
            return f"{self.since:%H:%M}"
        said = "yesterday" if now.date() - day == timedelta(days=1) else f"{say_weekday(day)} {say_date(day)}"
        return f"{said} {self.since:%H:%M}"


@dataclass(frozen=True, slots=True)
class Taken:
    """What was done, for the page; `told` is what the reader and the call-outs make of it."""

    said: str
    told: tuple[str, ...] = ()


class Bench:
    """The build folder that phones write into. Safe to ask from several threads.

    `told` is what was last found of a draft, so that each thing is told at the line that brought it.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self.written = WrittenList(root)
        self.arrivals = Arrivals(root)
        self.told: dict[str, tuple[str, ...]] = {}
        self._remembered = remembered_in(root)
        self._lock = threading.Lock()

    def journal(self) -> Journal:
        """The journal as it stands on disk."""
        return open_journal(self.root, today(), remembered=self._remembered)

    def clocks(self, journal: Journal) -> list[Clock]:
        """Every clock that runs, the longest first; also in drafts that cannot be read at the moment."""
        files = {entry.src_uri for entry in journal.build.drafts}
        files |= {one.file for one in journal.problems if one.file.startswith(ENTRIES) and one.file.endswith(".md")}
        running = []
        for file in sorted(files):
            text = read_text(self.root / file, Notes(file)) or ""
            running += [Clock(person, since, file) for person, since in running_clocks(text)]
        return sorted(running, key=lambda clock: (clock.since, clock.person))

    def take(self, sent: Sent, by: str) -> Taken:
        """Write what was sent. Raises RefusedError, and then nothing of it is written; OSError."""
        with self._lock:
            with self.written.lock():  # what was stopped in the middle is finished now
                known = self.written.find(sent.key)
            if known:
                return Taken(known.said)
            journal = self.journal()
            if not journal.build.assemblies:  # half saved, or broken: what was sent waits until it is mended
                raise OSError(errno.EINVAL, "build.yml cannot be read at the moment (`journal check` says why)")
            return getattr(_Taking(self, journal, sent, by), sent.kind)()  # type: ignore[no-any-return]


@dataclass(frozen=True)
class _Taking:
    """One thing that was sent, on its way into the files; a method for each kind."""

    bench: Bench
    journal: Journal
    sent: Sent
    by: str

    @property
    def build(self) -> Build:
        return self.journal.build

    # -- kinds -------------------------------------------------------------------------------------

    def start(self) -> Taken:
        """Clocks begin to run."""
        running = {clock.person: clock for clock in self.bench.clocks(self.journal)}
        people = self._people()
        if there := [one for one in people if one in running]:
            since = running[there[0]].say_since(self.sent.at)
            if len(there) < len(people):
                raise RefusedError(f"{self._name(there[0])}'s clock is running already, since {since}.")
            return Taken(f"{self._names(people)}: the clock is running already, since {since}")

        file = self._file()
        draft = next((one for one in self.build.drafts if one.src_uri == file), None)
        # Where hours are there already, those for whom they count are named as well, and nobody else has them.
        others = draft.people if draft and draft.time else ()
        named = draft.people if draft and "people" in draft.where else ()

        def edit(text: str) -> str:
            for one in people:
                text = add_comment(text, Clock(one, self.sent.at, "").line)
            text = name_hours(text, others) if not set(people) <= set(others) else text
            return add_items(text, "people", [one for one in (*others, *people) if one not in named])

        return self._write(edit, f"{self._names(people)}: the clock runs from {self.sent.at:%H:%M}", file=file)

    def stop(self) -> Taken:
        """Clocks stop, and what they ran becomes hours."""
        people = self._people()
        running = [clock for clock in self.bench.clocks(self.journal) if clock.person in people]
        if not running:
            hint = "write the hours at the desk, if there should have been one"
            return Taken(f"{self._names(people)}: no clock was running; {hint}")
        files = list(dict.fromkeys(clock.file for clock in running))
        said = ", ".join(self._say_stop(clock) for clock in running)
        answer = Taken(said)
        for number, file in enumerate(files, start=1):
            clocks = [clock for clock in running if clock.file == file]
            last = number == len(files)
            answer = self._write(
                self._stopping(clocks), said, file=file, key="" if last else f"{self.sent.key}{number}"
            )
        return answer

    def step(self) -> Taken:
        """A step is begun, done or done again."""
        step, word = self._step(), MARKS.get(self.sent.mark)
        if word is None:
            raise RefusedError("A step is begun, done, or done again.")
        return self._write(lambda text: add_items(text, self.sent.mark, [step]), f"Step {step} {word}")

    def note(self) -> Taken:
        """Words become a paragraph."""
        if not self.sent.text:
            raise RefusedError("There are no words in this note.")
        words = plain_markdown(self.sent.text)
        if self.sent.step:
            words = f"Step {self._step()}: {words}"
        return self._paragraph(words, f"{self._kind('note')}, {say_count(len(self.sent.text.split()), 'word')}")

    def fasteners(self) -> Taken:
        """A line of rivets and the like."""
        return self._hardware(("rivet", "screw", "nutplate", "part"))

    def torque(self) -> Taken:
        """A line of a bolt that was torqued."""
        return self._hardware(("bolt", "screw", "fitting", "part"))

    def material(self) -> Taken:
        """Batches of sealant, primer and the like that were used."""
        if not self.sent.items or not set(self.sent.items) <= set(self.build.materials):
            raise RefusedError("No such material stands in materials.csv.")
        names = ", ".join(self.sent.items)
        return self._write(lambda text: add_items(text, "materials", self.sent.items), f"Used: {names}")

    def measured(self) -> Taken:
        """A figure that a measurement would hold; the words of it until one is written up."""
        what, value = self.sent.row.get("what", ""), self.sent.row.get("value", "")
        if not what or not value:
            raise RefusedError("Say what was measured, and the figure with its unit.")
        step = f", step {self._step()}" if self.sent.step else ""
        figure = "A private figure" if self.sent.private else f"Measured: {what} {value}"
        said = f"{figure} (a line of the entry; at the desk it can become a measurement)"
        return self._paragraph(plain_markdown(f"Measured{step}: {what} {value}"), said)

    def picture(self) -> Taken:
        """A picture or film that has come whole is put into the folder of the entry."""
        arrivals, key = self.bench.arrivals, self.sent.key
        if (come := arrivals.size(key)) != self.sent.size or not come:
            if come > self.sent.size:  # it cannot become what it should be; it comes anew
                arrivals.path(key).unlink(missing_ok=True)
            raise RefusedError("This picture has not come whole yet; it is sent again.", "upload")
        path = arrivals.path(key)
        ending = arrivals.ending(key)
        if place := self._known(path):
            path.unlink(missing_ok=True)
            return Taken(f"This picture is in the journal already: {place.removeprefix('content/')}")
        file = self._file()
        folder = PurePosixPath(file).parent
        held = (
            [item.name for item in (self.bench.root / folder).iterdir()] if (self.bench.root / folder).is_dir() else []
        )
        name = free_name(f"{self.sent.at:%Y-%m-%d-%H%M%S}", ending, ["index.md", *held])
        step = self._step() if self.sent.step else ""
        source = path.relative_to(self.bench.root).as_posix()
        film = ending in CLIP_ENDINGS
        facts = PhotoFacts() if film else examine_file(path).facts
        taken = facts.taken if facts.clock_set else None
        done = self._write(
            lambda text: set_caption(text, name, self.sent.text, step, private=self.sent.private),
            f"{self._kind('film' if film else 'picture')}, {name}",
            file=file,
            moves=[(source, f"{folder}/{name}")],
        )
        if taken and taken.date() not in (self.sent.at.date(), self.sent.at.date() - timedelta(days=1)):
            old = f"{name} was taken on {say_date(taken.date())} by its camera, and lies with this day now"
            done = replace(done, told=(*done.told, old))
        if facts.trouble or facts.damage:
            wrong = f"cannot be shown: {facts.trouble}" if facts.trouble else f"is damaged: {facts.damage}"
            done = replace(done, told=(*done.told, f"{name} {wrong}; see that you have a good one before you go on"))
        return done

    def close(self) -> Taken:
        """The day is over: clocks stop, the drafts that are named get their titles, and those that are finished count
        from now on.
        """
        running = self.bench.clocks(self.journal)
        titles, hours = {name: title for name, title in self.sent.titles.items() if title}, self.sent.hours
        clocked = {clock.file for clock in running}
        drafts = [
            one
            for one in self.build.drafts
            if one.id in (*self.sent.items, *hours)
            or titles.get(one.id, one.title) != one.title
            or (one.id in self.sent.titles and one.src_uri in clocked)
        ]
        said = [self._say_stop(clock) for clock in running if clock.file in {entry.src_uri for entry in drafts}]
        told: list[str] = []
        for number, entry in enumerate(drafts, start=1):
            title, finished = titles.get(entry.id, ""), entry.id in self.sent.items

            def edit(text: str, entry: Entry = entry, title: str = title, finished: bool = finished) -> str:
                clocks = [clock for clock in running if clock.file == entry.src_uri]
                text = self._stopping(clocks)(text)
                text = set_value(text, "title", yaml_text(title)) if title else text
                if (told := hours.get(entry.id)) and not entry.time and not any(map(self._span, clocks)):
                    text = set_value(text, "hours", yaml_figure(told))
                return drop_key(text, "draft") if finished else text

            name = "A private entry" if entry.private else title or entry.title
            what = f"{name} {'counts from now on' if finished else 'stays a draft'}"
            key = "" if number == len(drafts) else f"{self.sent.key}{number}"
            taken = self._write(edit, what, file=entry.src_uri, key=key)
            said.append(taken.said)
            told += taken.told
        return Taken("; ".join(said) or "Nothing was to be closed", tuple(told))

    # -- parts of them -----------------------------------------------------------------------------

    def _kind(self, what: str) -> str:
        return f"A private {what}" if self.sent.private else f"A {what}"

    def _paragraph(self, words: str, said: str) -> Taken:
        """One more paragraph of the text, or a private passage."""
        if self.sent.private:
            words = "!!! private\n" + "\n".join(f"    {line}".rstrip() for line in words.split("\n"))
        return self._write(lambda text: add_paragraph(text, words), said)

    def _hardware(self, names: Sequence[str]) -> Taken:
        row = dict(self.sent.row)
        if self.sent.step:
            row["step"] = self._step()
        part = next((row[name] for name in names if name in row), "")
        return self._write(lambda text: add_row(text, self.sent.kind, row), f"{part} {row.get('value', '')}".strip())

    def _stopping(self, clocks: Sequence[Clock]) -> Edit:
        spans = [(clock, self._span(clock)) for clock in clocks]

        def edit(text: str) -> str:
            for clock, span in spans:
                everyone = next((one.people for one in self.build.drafts if one.src_uri == clock.file), ())
                stopped = drop_comment(text, clock.line)
                if stopped == text:
                    raise EditRefusedError(f'write the line "# {clock.line}" so again, or write the hours yourself')
                called = self._called(clock.person)
                text = add_time(stopped, clock.person, span, everyone, called) if span else stopped
            return text

        return edit

    def _span(self, clock: Clock) -> str:
        """`18:30-20:10`; empty where not a minute passed. Raises RefusedError for a clock that was forgotten."""
        end = f"{self.sent.at:%H:%M}"
        if self.sent.until:
            end = self.sent.until
            if (span := parse_span(f"{clock.since:%H:%M}-{end}")) is None:
                raise RefusedError(f'"{end}" is no time of the day; write it like 21:15.', "until")
            if timedelta(minutes=span[1] - span[0]) > FORGOTTEN:
                long = f"{clock.since:%H:%M} to {end} is {say_minutes(span[1] - span[0])}"
                raise RefusedError(
                    f"{long}; when did it end? What a clock cannot tell is written at the desk.", "until"
                )
        elif clock.forgotten(self.sent.at):
            since = clock.say_since(self.sent.at)
            raise RefusedError(f"{self._name(clock.person)}'s clock has run since {since}: when did it end?", "until")
        return "" if end == f"{clock.since:%H:%M}" else f"{clock.since:%H:%M}-{end}"

    def _say_stop(self, clock: Clock) -> str:
        span = parse_span(self._span(clock) or "0:00-0:00")
        zone = ZoneInfo(self.build.zone) if self.build.zone else None
        minutes = passed_minutes(clock.since.date(), *span, zone) if span else 0
        return f"{self._name(clock.person)} {say_minutes(minutes) if minutes else 'less than a minute'}"

    def _people(self) -> tuple[str, ...]:
        people = self.sent.people or tuple(one.id for one in self.build.people.values() if one.role is Role.BUILDER)
        for one in people:
            if one not in self.build.people:
                raise RefusedError(f'There is nobody "{one}" in build.yml.')
        return people

    def _name(self, person: str) -> str:
        return names_of(self.build).get(person, person)

    def _called(self, person: str) -> set[str]:
        """What a person may be called in an entry, in small letters, but for what is somebody else's ID."""
        known = self.build.people.get(person)
        names = {known.name, known.shown_as, known.name.split(" ")[0], person} if known else set()
        return {name.casefold() for name in names if name} - {
            one.casefold() for one in self.build.people if one != person
        }

    def _names(self, people: Sequence[str]) -> str:
        return ", ".join(self._name(one) for one in people)

    def _step(self) -> str:
        if self.sent.step not in self.build.steps:
            raise RefusedError(f'There is no step "{self.sent.step}" in steps.csv.')
        return self.sent.step

    def _assembly(self) -> str:
        """That of the step, else the one that was sent, else (the page was not drawn yet) the one it would show."""
        step = self.build.steps.get(self.sent.step)
        assembly = step.assembly if step else self.sent.assembly or assembly_under_way(self.build, self.sent.at.date())
        if assembly not in self.build.assemblies:
            raise RefusedError("Say which assembly this belongs to.", "assembly")
        return assembly

    def _known(self, path: Path) -> str:
        """Where a picture or film of the same bytes is in the journal, or an empty text."""
        digest, size = file_sha256(path)
        photos = [photo for one in self._told_in() for photo in one.photos if photo.sha256 == digest]
        entries = (*self.build.entries, *self.build.drafts)
        clips = [clip.src_uri for entry in entries for clip in entry.clips if clip.bytes == size]
        alike = (uri for uri in clips if file_sha256(self.bench.root / uri)[0] == digest)
        return photos[0].src_uri if photos else next(alike, "")

    def _told_in(self) -> Iterator[Entry | Inspection | Measurement]:
        """Everything that pictures lie beside."""
        yield from (*self.build.entries, *self.build.drafts)
        yield from self.build.inspections
        yield from self.build.measurements

    # -- the entry ---------------------------------------------------------------------------------

    def _day(self, assembly: str) -> date:
        """The day of the session: what is sent in the small hours belongs to the evening before, if there was one."""
        day = self.sent.at.date()
        if self.sent.at.time() >= NIGHT_ENDS:
            return day
        before = day - timedelta(days=1)
        dates = {one.date for one in self.build.drafts if assembly in ("", one.assembly)}
        return before if before in dates and day not in dates else day

    def _file(self) -> str:
        """The draft of this day and assembly, or where it will be; a private one is the builder's own business."""
        assembly = self._assembly()
        day = self._day(assembly)
        for entry in self.build.drafts:
            path = PurePosixPath(entry.src_uri)
            same = (entry.date, entry.assembly) == (day, assembly)
            if same and not entry.private and path.parent.name == entry.id:
                return entry.src_uri
        name = folder_name(day, self.build.assemblies[assembly].title, taken_names(self.bench.root))
        return f"{ENTRIES}/{name}/index.md"

    def _write(
        self, edit: Edit, said: str, *, file: str = "", key: str = "", moves: Sequence[tuple[str, str]] = ()
    ) -> Taken:
        """Write one change of one entry, tried with the reader before."""
        file = file or self._file()
        told: list[str] = []

        def tried(text: str) -> str:
            after = edit(text)
            told[:] = self._try(file, after, [PurePosixPath(target).name for _, target in moves])
            return after

        name = entry_name(self.build, file)
        if not (self.bench.root / file).exists():
            new = self._new()
            tried(new)  # what the reader objects to leaves no empty draft behind
            self.bench.written.change(file, lambda text: text or new, by=self.by, said=f"The draft {name}")
        try:
            made = self.bench.written.change(
                file, tried, by=self.by, said=f"{said} ({name})", key=key or self.sent.key, moves=moves
            )
        except EditRefusedError as trouble:
            raise RefusedError(f"Not written in {name}: {trouble}.") from None
        before = self.bench.told.get(file, ())
        self.bench.told[file] = tuple(told)
        return Taken(made.said, tuple(one for one in told if one not in before or self.sent.kind == "close"))

    def _new(self) -> str:
        """The text of a new draft."""
        assembly, place = self._assembly(), usual_place(self.build)
        return render_entry(Draft(date=self._day(assembly), assembly=assembly, place=place, draft=True))

    def _try(self, file: str, text: str, names: Sequence[str]) -> list[str]:
        """What the call-outs and handbooks make of an entry. Raises RefusedError where the reader objects."""
        folder = (self.bench.root / file).parent
        held = [item.name for item in folder.iterdir() if item.is_file()] if folder.is_dir() else []
        entries, objections = prove_entries(self.bench.root, {file: (drop_key(text, "draft"), [*held, *names])})
        if objected := objections.get(file):
            hints = (f"{one.message}{f'; {one.hint}' if one.hint else ''}" for one in objected)
            where = f"Not written in {entry_name(self.build, file)}. " if self.sent.kind in ("stop", "close") else ""
            raise RefusedError(where + ". ".join(f"{hint[0].upper()}{hint[1:]}" for hint in hints) + ".")
        if entry := entries.get(file):
            alone = replace(self.build, entries=(entry,), drafts=())
            problems, _ = check_trade(alone, replay(alone))
            return [one.message for one in problems if one.file == file]
        return []


def assembly_under_way(build: Build, day: date) -> str:
    """That of the day's last entry, else of the last one at all, else the first of the build."""
    today = [entry for entry in (*build.entries, *build.drafts) if entry.date == day]
    told = today or [*build.drafts[-1:]] or [*build.entries[-1:]]
    return told[-1].assembly if told else next(iter(build.assemblies), "")


def names_of(build: Build) -> dict[str, str]:
    """What people go by at the bench, by ID: a given name, with the ID where two have the same."""
    names = {one.id: one.shown_as or one.name.split(" ")[0] or one.id for one in build.people.values()}
    alike = Counter(names.values())
    return {one: f"{name} ({one})" if alike[name] > 1 and name != one else name for one, name in names.items()}


def entry_name(build: Build, file: str) -> str:
    """What the entry of a file goes by; that of its folder where it cannot be read, or is not there yet."""
    return next((one.id for one in build.drafts if one.src_uri == file), PurePosixPath(file).parent.name)
