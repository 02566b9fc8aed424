"""Pictures and films under another name, or with another entry."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import PurePosixPath
from types import MappingProxyType
from urllib.parse import quote

from journal.base.model import Clip, Entry, Photo, Where, WriteUp
from journal.base.problems import did_you_mean
from journal.base.prose import find_images
from journal.base.text_files import yaml_figure, yaml_list, yaml_text
from journal.commands.intake.asking import AnswerError
from journal.commands.intake.new_entries import free_name
from journal.commands.moving.plan import Move, Named, held
from journal.commands.moving.renaming import check_address, find_told, folder_of
from journal.reading.edits import drop_photo, put_photo
from journal.reading.picture_edits import cut_pairs, edit_pairs
from journal.reading.respelling import Piece, line_starts, offset_of

CUT = "\x00cut\x00"
"""Where a text is to be cut in two, while it is worked out: no text file holds it."""

_TITLE = re.compile(r"""(\s+["'][^\n]*["'])\s*\)\Z""")
"""What may stand behind the address of a picture."""

_NAME = re.compile(r"[\w(][\w.() -]{0,80}\.\w{1,5}")


def move_picture(named: Named, picture: str, to: str) -> Move:
    """Another name for a picture, or another entry. Raises AnswerError, NotMovedError."""
    path = PurePosixPath(picture)
    if len(path.parts) < 2:
        raise AnswerError(
            f'"{picture}" is no picture of an entry; write ENTRY/PICTURE, as 2026-02-08-flaps/IMG_0110.jpg.'
        )
    one = find_told(named, str(path.parent))
    name = _named(one, path.name)
    folder, _, new = to.rpartition("/")
    if not folder and not PurePosixPath(new).suffix:
        folder, new = new, ""
    other = find_told(named, folder) if folder else one
    if new and (
        not _NAME.fullmatch(new) or PurePosixPath(new).suffix.casefold() != PurePosixPath(name).suffix.casefold()
    ):
        raise AnswerError(
            f'"{new}" cannot take the place of "{name}"; keep the ending, and write letters, digits, . _ -'
        )
    where = folder_of(other)
    if not where:
        raise AnswerError(f"{other.src_uri} has no folder for pictures; make it {other.id}/index.md first.")
    if other is not one:
        move = Move(named, f"{one.id}/{name} lies with {other.id} now")
        move.same = False
        bring_pictures(move, one, [name], other.src_uri, {name: new} if new else {})
        return move
    if new and new.casefold() in {item.name.casefold() for item in (named.root / where).iterdir()} - {name.casefold()}:
        raise AnswerError(f'There is a file "{new}" in {where} already.')
    if new in ("", name):
        raise AnswerError(f"It is {one.id}/{name} already.")
    check_address(name, new)
    move = Move(named, f"{one.id}/{name} is called {new} now")
    move.paths[f"{where}/{name}"] = f"{where}/{new}"
    move.respell()
    return move


def _named(one: Entry | WriteUp, name: str) -> str:
    there = [item.name for item in held(one)]
    found = [item for item in there if item == name] or [item for item in there if item.casefold() == name.casefold()]
    if len(found) != 1:
        raise AnswerError(f'There is no picture "{name}" in {one.id}; {did_you_mean(name, there)}')
    return found[0]


def bring_pictures(
    move: Move,
    one: Entry | WriteUp,
    names: Sequence[str],
    file: str,
    new: Mapping[str, str] = MappingProxyType({}),
    cut: Where | None = None,
) -> None:
    """Add to a move that pictures go from an entry to the folder of the text `file`, with what is said of them, under
    `new` names; where the text shows them stands a link, but from the place `cut` on, where `CUT` is put in. What was
    private stays so. Raises NotMovedError.
    """
    here, there = posixpath.dirname(one.src_uri), posixpath.dirname(file)
    rows = lay_in_folder(move, [item for item in held(one) if item.name in names], there, new)
    going = {f"{here}/{name}" for name in names}
    if cut:
        move.parted[one.src_uri] = (cut, there)
    leave = [naming for naming in move.of.named.get(one.src_uri, ()) if naming.kind == "photo" and naming.id in going]
    linked = {naming.where: naming.id for naming in leave if cut is None or naming.where < cut}

    def pieces(text: str) -> list[Piece]:
        marks = [(at, at, CUT) for at in [offset_of(line_starts(text), cut)]] if cut else []
        return [*_as_links(move, one, text, linked), *marks]

    move.respell(leave, {one.src_uri: pieces})
    for name in names:
        move.edit(one.src_uri, partial(drop_photo, photo=name))
    shown = not one.private and not (isinstance(one, Entry) and one.draft)
    for photo, item in rows.items():
        value = said_of(item, private=item.private or not shown)
        move.edit(file, partial(put_photo, photo=photo, value=value, caption=item.caption))


def lay_in_folder(
    move: Move, items: Sequence[Photo | Clip], folder: str, new: Mapping[str, str] = MappingProxyType({})
) -> dict[str, Photo | Clip]:
    """Add to a move that pictures go to a folder, under `new` names where they have some; by the name that each gets,
    which nothing else there has.
    """
    lying = move.of.root / folder
    taken = [item.name for item in lying.iterdir()] if lying.is_dir() else []
    rows: dict[str, Photo | Clip] = {}
    for item in items:
        wanted = PurePosixPath(new.get(item.name) or item.name)
        placed = free_name(wanted.stem, wanted.suffix, [*taken, *rows])
        move.paths[item.src_uri] = f"{folder}/{placed}"
        rows[placed] = item
    return rows


def said_of(item: Photo | Clip, *, private: bool) -> str:
    """What is said of a picture, as one line of YAML; that it is the cover was said of its entry."""
    caption, pairs = yaml_text(item.caption), said_pairs(item, private=private)
    told = "".join(f", {key}: {value}" for key, value in pairs.items())
    return f"{{caption: {caption}{told}}}" if told else caption


def said_pairs(item: Photo | Clip, *, private: bool) -> dict[str, str]:
    """What is said of a picture beside its caption, by key, with values as in YAML on one line."""
    more = {"step": yaml_figure(item.step) if item.step else ""}
    if isinstance(item, Photo):
        more |= {
            "people": yaml_list(item.people) if item.people else "",
            "inside": (yaml_figure(item.shut_by) if item.shut_by else "true") if item.inside else "",
            "identity": "true" if item.identity else "",
        }
    more |= {"private": "true" if private else "", **edit_pairs(item.edits)}
    more |= cut_pairs(item.cut) if isinstance(item, Clip) else {}
    return {key: value for key, value in more.items() if value}


def _as_links(move: Move, one: Entry | WriteUp, text: str, going: Mapping[Where, str]) -> list[Piece]:
    """A link in the place of each picture that the text shows, told by where it stands."""
    starts, here = line_starts(text), posixpath.dirname(one.src_uri)
    pieces: list[Piece] = []
    for image in find_images(one.body):
        where = (one.body_line + image.line - 1, image.column)
        if where in going:
            at = offset_of(starts, where)
            target = posixpath.relpath(move.place(going[where]), here)
            length = image.end - image.start + one.body.count("\n", image.start, image.end) * ("\r\n" in text)
            words = image.caption or posixpath.basename(going[where])
            title = _TITLE.search(one.body, one.body.rfind("](", image.start, image.end), image.end)
            pieces.append((at, at + length, f"[{words}]({quote(target)}{title[1] if title else ''})"))
    return pieces
