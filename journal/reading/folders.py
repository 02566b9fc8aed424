"""A folder of content/entries/ or content/inspections/: index.md split in two, and its photos."""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Protocol

from frontmatter.default_handlers import YAMLHandler

from journal.base.addresses import fold_name
from journal.base.model import CLIP_ENDINGS, PICTURE_ENDINGS, Clip, Person, Photo, PhotoFacts, Step, Where
from journal.base.problems import did_you_mean
from journal.base.prose import blank_code, empty_private_blocks, find_images, private_lines
from journal.reading.form import Form, known_id, known_ids
from journal.reading.text import Notes
from journal.reading.tree import Fields, Scalar, parse_yaml

IGNORED = frozenset({"thumbs.db", "desktop.ini"})

Natural = tuple[tuple[bool, int, str], ...]


class ExaminedPhoto(Protocol):
    """What the photo code knows of an original: its digest and what it says of itself."""

    @property
    def sha256(self) -> str: ...  # noqa: D102
    @property
    def facts(self) -> PhotoFacts: ...  # noqa: D102


Examine = Callable[[Sequence[str]], Mapping[str, ExaminedPhoto]]
"""Facts of originals by `src_uri` (relative to the build folder)."""


def natural_key(name: str) -> Natural:
    """A sort key under which IMG_9 comes before IMG_10."""
    keys = [
        (part.isdecimal(), int(part) if part.isdecimal() else 0, part)
        for part in re.split(r"([0-9]+)", name.casefold())
    ]
    return (*keys, (False, 0, name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Folder:
    """One folder as found on disk: names of photos and clips, in natural order."""

    id: str
    uri: str
    photos: tuple[str, ...]
    clips: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """index.md in two: the front matter's tree and the body with the line it begins on."""

    fields: Fields
    body: str
    body_line: int


def list_folder(path: Path, uri: str, notes: Notes) -> Folder:
    """What lies in the folder; what is neither text, photo nor clip is a finding."""
    photos, clips = [], []
    try:
        found = sorted(os.scandir(path), key=lambda item: natural_key(item.name))
    except OSError as trouble:
        notes.error(None, "file-unreadable", f"the folder cannot be read: {trouble.strerror}")
        found = []
    for item in found:
        ending = PurePosixPath(item.name).suffix.casefold()
        if item.name == "index.md" or item.name.startswith(".") or item.name.casefold() in IGNORED:
            continue
        if item.is_dir():
            notes.finding(
                None, "folder-passed-over", f'the folder "{item.name}" is not looked into', "photos lie beside index.md"
            )
        elif ending in PICTURE_ENDINGS:
            photos.append(item.name)
        elif ending in CLIP_ENDINGS:
            clips.append(item.name)
        else:
            notes.finding(
                None,
                "unknown-file",
                f'"{item.name}" is neither a photo nor a clip and is not shown',
                "documents belong in content/records/",
            )
    return Folder(id=path.name, uri=uri, photos=tuple(photos), clips=tuple(clips))


def split_front_matter(text: str, notes: Notes) -> Split | None:
    """Front matter and body, or None with an error: empty file, no `---`, no closing `---`."""
    if not text.strip():
        notes.error((1, 1), "empty-file", "the file is empty", "begin it with `---`, the keys, `---`")
        return None
    lead = len(text) - len(text.lstrip("\n"))
    if not re.match(r"-{3,}[ \t]*\n", text[lead:] + "\n"):
        notes.error((1, 1), "no-front-matter", "no front matter", "begin the file with `---`, the keys, `---`")
        return None
    handler = YAMLHandler()
    try:
        matter, body = handler.split(text[lead:])
    except ValueError:
        notes.error((lead + 1, 1), "front-matter-open", "the closing `---` is missing", "add `---` after the last key")
        return None
    first_line = lead + 2
    fields = parse_yaml(matter.removeprefix("\n"), notes, first_line=first_line)
    # `split` keeps every character but the two rules, so the body's place follows from its length.
    body_line = text.count("\n", 0, len(text) - len(body)) + 1
    return Split(fields=fields, body=body.removeprefix("\n"), body_line=body_line + body.startswith("\n"))


_HEADING = re.compile(r"^#[ \t]+(.+?)[ \t]*#*[ \t]*$", re.MULTILINE)


def take_heading(body: str) -> tuple[str, str]:
    """(first heading's text, body without it), so that a page does not say its title twice.

    ("", body) where the first thing written is no heading of the first level.
    """
    match = _HEADING.search(blank_code(body))
    if match is None or body[: match.start()].strip():
        return "", body
    if private_lines(body)[body.count("\n", 0, match.start())]:
        return "", body
    return body[match.start(1) : match.end(1)].strip(), body[: match.start()] + body[match.end() :]


def title_of(form: Form, split: Split, folder: str) -> tuple[str, str]:
    """(title, body): the key, else the first heading, else words made from the folder's name."""
    heading, rest = take_heading(split.body)
    given = form.text("title")
    if given:
        return given, rest if heading and fold_name(heading) == fold_name(given) else split.body
    if heading:
        return heading, rest
    words = re.sub(r"^[0-9]{4}-[0-9]{2}-[0-9]{2}-?", "", folder).replace("-", " ").replace("_", " ").strip()
    return (words[:1].upper() + words[1:]) or folder, split.body


def check_private_blocks(body: str, body_line: int, notes: Notes) -> None:
    """Private blocks that hide nothing: what was meant to be hidden would be published."""
    for line in empty_private_blocks(body):
        notes.error(
            (body_line + line - 1, 1),
            "private-empty",
            "nothing is indented under `!!! private`, so nothing would be hidden",
            "indent the private lines by four spaces",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    caption: str = ""
    where: Where | None = None
    step: str | None = None
    people: tuple[str, ...] = ()
    inside: bool = False
    private: bool = False
    cover: bool = False


def read_photos(
    form: Form,
    folder: Folder,
    body: str,
    body_line: int,
    people: Mapping[str, Person] | None,
    steps: Mapping[str, Step] | None,
    examined: Mapping[str, ExaminedPhoto],
    notes: Notes,
    root: Path,
) -> tuple[tuple[Photo, ...], tuple[Clip, ...]]:
    """The photos of a folder in capture order and its clips by name, with what front matter and body say of them.

    A photo that is named but missing is an error; one that cannot be read a finding.
    """
    words = _photo_words(form, folder, people, steps, notes)
    captions: dict[str, str] = {}
    placed: dict[str, list[bool]] = {}
    for image in find_images(body):
        where = (body_line + image.line - 1, image.column)
        if image.elsewhere:
            continue
        name = _match_name(image.target, (*folder.photos, *folder.clips))
        if name is None:
            _note_missing(image.target, folder, where, notes)
            continue
        placed.setdefault(name, []).append(image.private)
        given = words.get(name, _Words()).caption
        if image.caption and given and fold_name(given) != fold_name(image.caption):
            notes.finding(
                where,
                "caption-twice",
                f'"{name}" has one caption here and another in the front matter, which wins',
                "keep one of them",
            )
        if image.caption:
            captions.setdefault(name, image.caption)
    photos = []
    for name in folder.photos:
        said = words.get(name, _Words())
        uri = f"{folder.uri}/{name}"
        known = examined.get(uri)
        facts = known.facts if known else PhotoFacts(trouble="the file is not there")
        if facts.trouble:
            notes.finding(
                said.where,
                "photo-unreadable",
                f'"{name}" cannot be shown: {facts.trouble}',
                "put a good copy in its place",
            )
        places = placed.get(name, [])
        photos.append(
            Photo(
                name=name,
                src_uri=uri,
                caption=said.caption or captions.get(name, ""),
                step=said.step,
                people=said.people,
                inside=said.inside,
                private=said.private or (bool(places) and all(places)),
                cover=said.cover,
                placed=bool(places),
                sha256=known.sha256 if known else "",
                facts=facts,
            )
        )
    clips = []
    for name in folder.clips:
        said, places = words.get(name, _Words()), placed.get(name, [])
        clips.append(
            Clip(
                name=name,
                src_uri=f"{folder.uri}/{name}",
                bytes=file_size(root / folder.uri / name),
                caption=said.caption or captions.get(name, ""),
                private=said.private or (bool(places) and all(places)),
                placed=bool(places),
            )
        )
    return _in_capture_order(photos), tuple(clips)


def file_size(path: Path) -> int:
    """Length in bytes, 0 where nobody can tell."""
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _photo_words(
    form: Form,
    folder: Folder,
    people: Mapping[str, Person] | None,
    steps: Mapping[str, Step] | None,
    notes: Notes,
) -> dict[str, _Words]:
    fields = form.fields_under("photos")
    words: dict[str, _Words] = {}
    for key, node in fields.pairs if fields else ():
        name = _match_name(key.text, (*folder.photos, *folder.clips))
        if name is None:
            _note_missing(key.text, folder, key.where, notes)
        if isinstance(node, Scalar):
            said = _Words(caption=" ".join(node.text.split()), where=key.where)
        elif isinstance(node, Fields):
            inner = Form(node, notes, ("caption", "step", "people", "inside", "private", "cover"))
            step = inner.scalar("step")
            said = _Words(
                caption=" ".join(inner.text("caption").split()),
                where=key.where,
                step=known_id(step, "step", steps, notes) if step else None,
                people=known_ids(inner.texts("people"), "person", people, notes),
                inside=inner.flag("inside"),
                private=inner.flag("private"),
                cover=inner.flag("cover"),
            )
        else:
            notes.error(node.where, "not-text", f'"{key.text}" takes a caption', "write `IMG_1.jpg: what it shows`")
            continue
        if name in words:
            notes.error(key.where, "key-twice", f'"{name}" is given twice', "keep one of them")
        elif name is not None:
            words[name] = said
    return words


def _match_name(target: str, names: Sequence[str]) -> str | None:
    """The file that is meant: the very name, else the one name equal to it in Unicode's NFC form."""
    if target in names:
        return target
    form = unicodedata.normalize("NFC", target)
    alike = [name for name in names if unicodedata.normalize("NFC", name) == form]
    return alike[0] if len(alike) == 1 else None


def _note_missing(target: str, folder: Folder, where: Where, notes: Notes) -> None:
    hint = did_you_mean(target, folder.photos)
    notes.error(
        where,
        "photo-missing",
        f'there is no photo "{target}" in this folder',
        hint if hint.startswith("did") else "copy it there, or take its name out",
    )


def _in_capture_order(photos: list[Photo]) -> tuple[Photo, ...]:
    """By capture time; one without a trustworthy time stays behind its neighbour by file name.

    Cameras count their files up, so the name places a picture whose clock was never set
    (common practice, no source).
    """
    timed = sorted(
        (photo for photo in photos if photo.facts.clock_set and photo.facts.taken),
        key=lambda photo: (photo.facts.taken, natural_key(photo.name)),
    )
    order = list(timed)
    for photo in sorted(photos, key=lambda p: natural_key(p.name)):
        if photo in timed:
            continue
        before = [p for p in order if natural_key(p.name) < natural_key(photo.name)]
        nearest_before = max(before, key=lambda p: natural_key(p.name), default=None)
        order.insert(order.index(nearest_before) + 1 if nearest_before else 0, photo)
    return tuple(order)
