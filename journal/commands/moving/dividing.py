"""One entry in two, and two in one: what each says goes with it, and the hours stay what they were."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from zoneinfo import ZoneInfo

from journal.base.model import Entry, Where, WorkedTime
from journal.base.prose import blank_code, find_images
from journal.base.text_files import yaml_figure, yaml_key, yaml_list, yaml_text
from journal.commands.intake.asking import AnswerError
from journal.commands.intake.new_entries import Draft, folder_name, free_name, render_entry, taken_names
from journal.commands.moving.pictures import CUT, bring_pictures, lay_in_folder, said_of
from journal.commands.moving.plan import Move, Named, NotMovedError, held
from journal.commands.moving.renaming import find_told, folder_of
from journal.reading.edits import (
    add_comment,
    add_former_names,
    add_items,
    add_pair,
    add_paragraph,
    add_row,
    comments_and_body,
    drop_key,
    put_photo,
    read_rows,
    set_value,
)
from journal.reading.hours import DAY, passed_minutes
from journal.reading.respelling import put_pieces

LISTS = ("steps", "begun", "redone", "tools", "methods", "materials")
ROWS = ("fasteners", "torque")


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """What goes to the new entry: minutes by person, names of its lists, pictures, and the text from the paragraph on
    that begins with `words`.
    """

    title: str
    assembly: str = ""
    minutes: Mapping[str, int] = field(default_factory=dict)
    lists: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    pictures: tuple[str, ...] = ()
    words: str = ""


def find_entry(named: Named, name: str) -> Entry:
    """The entry of that name. Raises AnswerError."""
    one = find_told(named, name)
    if not isinstance(one, Entry):
        raise AnswerError(f"{one.id} is no entry; only entries are split and joined.")
    return one


# -- in two ----------------------------------------------------------------------------------------


def split_entry(named: Named, name: str, split: Split) -> Move:
    """A second entry of the same day takes a part of one. Raises AnswerError, NotMovedError."""
    one = find_entry(named, name)
    for key, names in split.lists.items():
        held_there = {*one.steps, *one.begun, *one.redone} if key == "steps" else {*getattr(one, key)}
        if missing := [word for word in names if word not in held_there]:
            raise AnswerError(f'"{missing[0]}" is not among the {key} of {one.id}.')
    there = {item.name for item in held(one)}
    if missing := [picture for picture in split.pictures if picture not in there]:
        raise AnswerError(f'There is no picture "{missing[0]}" in {one.id}.')
    zone = ZoneInfo(named.build.zone) if named.build.zone else None
    left, gone = _divided(one, split.minutes, zone)
    cut = _place_of(one, split.words) if split.words else None
    if cut:
        lines = one.body.split("\n")
        parts = ["\n".join(lines[: cut[0] - one.body_line]), "\n".join(lines[cut[0] - one.body_line :])]
        _check_labels(*parts)
        _check_labels(*reversed(parts))
    pictures = dict.fromkeys(split.pictures)
    for image in find_images(one.body):
        if cut and one.body_line + image.line > cut[0] and image.target in there:
            pictures[image.target] = None
    beside = posixpath.dirname(folder_of(one) or one.src_uri)
    new = f"{beside}/{folder_name(one.date, split.title, taken_names(named.root))}/index.md"
    steps = {*split.lists.get("steps", ())}
    draft = Draft(
        date=one.date,
        assembly=split.assembly or one.assembly,
        title=split.title,
        hours=_in_draft(gone),
        people=tuple(gone) or one.people,
        place=(one.place or "") if "place" in one.where else "",
        draft=one.draft,
        steps=tuple(step for step in one.steps if step in steps),
        begun=tuple(step for step in one.begun if step in steps),
        redone=tuple(step for step in one.redone if step in steps),
        tools=split.lists.get("tools", ()),
        methods=split.lists.get("methods", ()),
    )
    move = Move(named, f"{one.id} is split, a part of it is {posixpath.basename(posixpath.dirname(new))} now")
    move.same = False
    if draft.assembly != one.assembly:
        minutes = sum(split.minutes.get(worked.person, 0) for worked in one.time)
        move.shifts = {one.assembly: -minutes, draft.assembly: minutes}
    move.texts[new] = render_entry(draft)
    if one.private:
        move.edit(new, lambda text: set_value(text, "private", "true"))
    if materials := split.lists.get("materials", ()):
        move.edit(new, lambda text: add_items(text, "materials", materials))
    bring_pictures(move, one, list(pictures), new, cut=cut)
    if cut:
        head, _, tail = move.text(one.src_uri).partition(CUT)
        move.texts[one.src_uri] = head.rstrip() + ("\r\n" if "\r\n" in head else "\n")
        move.edit(new, partial(add_paragraph, words=tail.replace("\r\n", "\n").strip()))
    for key in LISTS:
        goes = steps if key in LISTS[:3] else split.lists.get(key, ())
        stays = [word for word in getattr(one, key) if word not in goes]
        if len(stays) < len(getattr(one, key)):
            move.edit(one.src_uri, partial(set_value, key=key, value=yaml_list(stays) if stays else ""))
    for key in ROWS:
        _divide_rows(move, one, key, steps, new)
    _write_hours(move, one, left)
    return move


def _place_of(one: Entry, words: str) -> Where:
    """Where the paragraph begins that begins with these words. Raises AnswerError."""
    lines, bare = one.body.split("\n"), blank_code(one.body).split("\n")
    wanted = " ".join(words.split()).casefold()
    found = [
        number
        for number, line in enumerate(lines)
        if " ".join(line.lstrip("#>-*! ").split()).casefold().startswith(wanted)
        and line[:1].strip()
        and bare[number].strip()
        and (not number or not lines[number - 1].strip())
    ]
    if len(found) != 1:
        said = "No paragraph begins" if not found else f"{len(found)} paragraphs begin"
        raise AnswerError(f'{said} with "{words}"; write its first words as they stand in the text.')
    return one.body_line + found[0], 1


def _divide_rows(move: Move, one: Entry, key: str, steps: set[str], new: str) -> None:
    """Lines of rivets or bolts go with their step."""
    records = getattr(one, key)
    goes = [record.step in steps for record in records]
    if not any(goes):
        return
    rows = move.read(one.src_uri, partial(read_rows, key=key))
    for row in (row for row, going in zip(rows, goes, strict=True) if going):
        move.edit(new, partial(add_row, key=key, row=row))
    move.edit(one.src_uri, partial(drop_key, key=key))
    for row in (row for row, going in zip(rows, goes, strict=True) if not going):
        move.edit(one.src_uri, partial(add_row, key=key, row=row))


# -- hours -----------------------------------------------------------------------------------------

Parts = dict[str, tuple[str, ...]]
"""What each person worked, as texts in the form of `hours`."""


def parts_worked(one: Entry, zone: ZoneInfo | None) -> Parts:
    """The time of each person as it may be written again."""
    return {worked.person: _parts(worked, one, zone)[0] for worked in one.time}


def _parts(
    worked: WorkedTime, one: Entry, zone: ZoneInfo | None, give: int = 0
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(what stays, what is given away) of a person's time, of which `give` minutes go: durations first, then the ends
    of spans. Where the clocks change within a span that would be cut, there are durations alone.
    """
    if give >= worked.minutes:
        return (), _parts(worked, one, zone)[0]
    spans = [(start, end, passed_minutes(one.date, start, end, zone)) for start, end in worked.spans]
    plain = worked.minutes - sum(minutes for _, _, minutes in spans)
    given: list[str] = []
    kept: list[str] = []
    if taken := min(plain, give):
        given.append(_duration(taken))
    if plain > taken:
        kept.append(_duration(plain - taken))
    give -= taken
    for start, end, minutes in reversed(spans):
        taken = min(minutes, give)
        give -= taken
        if 0 < taken < minutes and minutes != end - start:
            return (_duration(worked.minutes - taken),), (_duration(taken),)
        if taken:
            given.insert(0, _span(end - taken if taken < minutes else start, end))
        if taken < minutes or not minutes:
            kept.insert(0, _span(start, end - taken))
    return tuple(kept), tuple(given)


def _duration(minutes: int) -> str:
    return f"{minutes // 60}:{minutes % 60:02d}"


def _span(start: int, end: int) -> str:
    return f"{start % DAY // 60}:{start % 60:02d}-{end % DAY // 60}:{end % 60:02d}"


def _divided(one: Entry, minutes: Mapping[str, int], zone: ZoneInfo | None) -> tuple[Parts, Parts]:
    left: Parts = {}
    gone: Parts = {}
    for worked in one.time:
        give = minutes.get(worked.person, 0)
        if give > worked.minutes:
            raise AnswerError(f"{worked.person} worked {_duration(worked.minutes)} in {one.id}, and no more can go.")
        stays, goes = _parts(worked, one, zone, give)
        left |= {worked.person: stays} if stays else {}
        gone |= {worked.person: goes} if goes else {}
    return left, gone


def _in_draft(parts: Parts) -> Parts:
    """One time for all where it is the same for each."""
    return {"": next(iter(parts.values()))} if len({*parts.values()}) == 1 else parts


def _write_hours(move: Move, one: Entry, parts: Parts) -> None:
    """Write what each worked into an entry, where it is not what stands there."""
    if parts == parts_worked(one, ZoneInfo(move.of.build.zone) if move.of.build.zone else None):
        return
    people = list(dict.fromkeys((*(person for person in one.people if person in parts), *parts)))
    alike = _in_draft(parts)
    said = {who: yaml_figure(times[0]) if len(times) == 1 else yaml_list(times) for who, times in alike.items()}
    rows = ", ".join(f"{yaml_key(person)}: {times}" for person, times in said.items())
    value = said.get("") or (f"{{{rows}}}" if rows else "")
    move.edit(one.src_uri, partial(set_value, key="hours", value=value))
    if parts and tuple(people) != one.people:
        move.edit(one.src_uri, partial(set_value, key="people", value=yaml_list(people)))


# -- in one ----------------------------------------------------------------------------------------


def join_entries(named: Named, name: str, other: str) -> Move:
    """The second entry becomes a part of the first. Raises AnswerError, NotMovedError."""
    one, gone = find_entry(named, name), find_entry(named, other)
    if one.id == gone.id:
        raise AnswerError("An entry cannot be joined with itself.")
    for what in ("date", "assembly", "place", "private", "draft"):
        if getattr(one, what) != getattr(gone, what):
            told = {"date": "are of different days", "assembly": "belong to two assemblies", "place": "tell two places"}
            both = told.get(what, f"are not both {what}")
            raise NotMovedError(f"{one.id} and {gone.id} {both}; only entries that agree in that are joined.")
    if clash := [word for word, answer in gone.answers.items() if one.answers.get(word, answer) != answer]:
        raise NotMovedError(f'both answer "{clash[0]}", each otherwise; keep one of the answers first.')
    here, there = folder_of(one), folder_of(gone)
    if not here and held(gone):
        raise NotMovedError(f"{one.src_uri} has no folder for pictures; make it {one.id}/index.md first.")
    lying = {item.name for item in (named.root / there).iterdir()} if there else set()
    if more := sorted(lying - {item.name for item in held(gone)} - {posixpath.basename(gone.src_uri)}):
        raise NotMovedError(f"{there} holds {more[0]} too, which belongs to no entry; put it somewhere else first.")
    _check_labels(gone.body, one.body)
    move = Move(named, f"{gone.id} is a part of {one.id} now")
    move.same = False
    move.names["entry", gone.id] = one.id
    move.becomes[gone.src_uri] = one.src_uri
    move.parted[gone.src_uri] = ((0, 0), here or posixpath.dirname(one.src_uri))
    if there and here:
        move.becomes[there] = here
    rows = lay_in_folder(move, held(gone), here)
    move.respell()
    _write_beside(move, one, gone)
    move.texts.pop(gone.src_uri, "")
    move.away.append(gone.src_uri)
    for photo, item in rows.items():
        if (words := said_of(item, private=item.private)) != '""':
            move.edit(one.src_uri, partial(put_photo, photo=photo, value=words, caption=item.caption))
    return move


_TOLD = re.compile(r"^[ \t>]*\[(\^?[^\[\]\n]+)\]:", re.MULTILINE)
_LABEL = re.compile(r"(\]?)\[(\^?[^\[\]\n]+)\](\[\]|(?![\[(]))")


def labels_told(body: str) -> set[str]:
    """The labels of footnotes and links that a text tells somewhere by themselves (`[^1]: …`, `[pic]: IMG_1.jpg`)."""
    return {label.casefold() for label in _TOLD.findall(blank_code(body))}


def labels_used(body: str) -> set[str]:
    """What stands in brackets in a text as labels do."""
    return {found[2].casefold() for found in _LABEL.finditer(blank_code(body))}


def _relabel(body: str, taken: set[str]) -> str:
    """A text whose footnotes and links keep what they lead to beside another one with the labels `taken`."""
    new: dict[str, str] = {}
    for label in sorted(labels_told(body) & taken):
        new[label] = free_name(label, "", [*taken, *labels_told(body), *new.values()])

    def other(found: re.Match[str]) -> str:
        before, label, behind = found.groups()
        if label.casefold() not in new or (behind == "[]" and before):
            return found[0]
        wanted = f"{before}[{new[label.casefold()]}]"
        is_bare = not before and not label.startswith("^") and not body.startswith(":", found.end())
        return f"[{label}]{wanted}" if is_bare else wanted

    pieces = [(found.start(), found.end(), other(found)) for found in _LABEL.finditer(blank_code(body))]
    return put_pieces(body, pieces) if new else body


def _check_labels(here: str, there: str) -> None:
    """Raise NotMovedError where one text has a label in brackets, and the other alone tells what it leads to."""
    if odd := sorted(labels_used(here) & labels_told(there) - labels_told(here)):
        said = "stands in one part of the text, and what it leads to in the other; put both on one side first."
        raise NotMovedError(f"[{odd[0]}] {said}")


def _write_beside(move: Move, one: Entry, gone: Entry) -> None:
    """What the entry `gone` says comes to what the other one says."""
    file, zone = one.src_uri, ZoneInfo(move.of.build.zone) if move.of.build.zone else None
    mine, its = parts_worked(one, zone), parts_worked(gone, zone)
    if its:
        _write_hours(move, one, {who: (*mine.get(who, ()), *its.get(who, ())) for who in dict.fromkeys((*mine, *its))})
    for key in (*LISTS, "videos"):
        new = [word for word in getattr(gone, key) if word not in getattr(one, key)]
        if new:
            move.edit(file, partial(add_items, key="video" if key == "videos" else key, items=new))
    for key in ROWS:
        for row in move.read(gone.src_uri, partial(read_rows, key=key)):
            move.edit(file, partial(add_row, key=key, row=row))
    for word, answer in gone.answers.items():
        if word not in one.answers:
            move.edit(file, partial(add_pair, key="answers", name=word, value=yaml_text(answer)))
    if not gone.draft:
        move.edit(file, lambda told: add_former_names(told, [gone.id, *gone.formerly], one.id))
    comments, body = move.read(gone.src_uri, comments_and_body)
    for comment in comments:
        move.edit(file, partial(add_comment, comment=comment))
    body = _relabel(body.replace("\r\n", "\n"), labels_told(one.body) | labels_used(one.body))
    body = re.sub(r"\A(?:[ \t]*\n)+", "", body).rstrip()  # what is indented at its beginning is code
    words = f"## {gone.title}\n\n{body}".rstrip() if "title" in gone.where and gone.title else body
    if words:
        move.edit(file, partial(add_paragraph, words=words))
