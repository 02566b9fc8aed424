"""A folder of content/entries/ or content/inspections/: index.md split in two, and its photos."""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import Protocol

from frontmatter.default_handlers import YAMLHandler

from journal.base.addresses import fold_name
from journal.base.model import CLIP_ENDINGS, PICTURE_ENDINGS, Clip, FreePage, Photo, PhotoFacts, Where
from journal.base.private_passages import find_passages, private_lines
from journal.base.problems import did_you_mean
from journal.base.prose import blank_code, find_images
from journal.reading.form import Form, KnownIds
from journal.reading.text import Notes, read_text
from journal.reading.tree import Fields, Scalar, parse_yaml

IGNORED = frozenset({"thumbs.db", "desktop.ini"})

Natural = tuple[tuple[bool, int, str], ...]


class ExaminedPhoto(Protocol):
    """What the photo code knows of an original: its digest and what it says of itself."""

    @property
    def sha256(self) -> str: ...  # noqa: D102
    @property
    def facts(self) -> PhotoFacts: ...  # noqa: D102


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
            said = f'what is in the folder "{item.name}" is not read'
            notes.finding(None, "folder-passed-over", said, "put the photos beside index.md")
        elif ending in PICTURE_ENDINGS:
            photos.append(item.name)
        elif ending in CLIP_ENDINGS:
            clips.append(item.name)
        else:
            said = f'"{item.name}" is neither a photo nor a clip and is not shown'
            notes.finding(None, "unknown-file", said, "documents belong in content/records/")
    return Folder(id=path.name, uri=uri, photos=tuple(photos), clips=tuple(clips))


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A text with front matter, read: its keys, and the body with the line it begins on; the title is the key,
    else the first heading (then no longer in the body), else words made from the name.
    """

    form: Form
    title: str
    body: str
    body_line: int


def read_told(
    path: Path, name: str, notes: Notes, keys: Sequence[str], known: KnownIds | None = None, *, bare: bool = False
) -> Told | None:
    """A text with front matter, or None with an error; `bare` allows it to do without."""
    text = read_text(path, notes)
    if text is None:
        return None
    split: tuple[Fields, str, int] | None
    if bare and not text.lstrip("\n").startswith("---"):
        split = Fields(pairs=(), where=(1, 1)), text, 1
    else:
        split = split_front_matter(text, notes)
    if split is None:
        return None
    fields, body, body_line = split
    form = Form(fields, notes, keys, known)
    heading, rest = take_heading(body)
    given = form.text("title")
    if heading and (not given or fold_name(heading) == fold_name(given)):
        body = rest
    words = re.sub(r"^[0-9]{4}-[0-9]{2}-[0-9]{2}-?", "", name).replace("-", " ").replace("_", " ").strip()
    passages = find_passages(body)
    for line, word, said, hint in passages.unclear:
        notes.error((body_line + line - 1, 1), word, said, hint)
    for line in passages.unindented:
        said = "this line follows a private passage without a blank line; it is taken for private"
        hint = "indent it by four spaces, or put a blank line before it if everybody may read it"
        notes.finding((body_line + line - 1, 1), "private-unindented", said, hint)
    title = given or heading or (words[:1].upper() + words[1:]) or name
    return Told(form=form, title=title, body=body, body_line=body_line)


def read_page(path: Path, uri: str, notes: Notes) -> FreePage | None:
    """A free page: Markdown, with or without front matter (`title`, `draft`). None for a draft."""
    told = read_told(path, path.stem, notes, ("title", "draft"), bare=True)
    if told is None or told.form.held_back("draft"):
        return None
    return FreePage(id=path.stem, src_uri=uri, title=told.title, body=told.body, body_line=told.body_line)


def split_front_matter(text: str, notes: Notes) -> tuple[Fields, str, int] | None:
    """(front matter, body, line the body begins on), or None with an error: empty, no `---`, no closing `---`."""
    if not text.strip():
        notes.error((1, 1), "empty-file", "the file is empty", "begin it with `---`, the keys, `---`")
        return None
    lead = len(text) - len(text.lstrip("\n"))
    if not re.match(r"-{3,}[ \t]*\n", text[lead:] + "\n"):
        notes.error(
            (1, 1), "no-front-matter", "the file has no front matter", "begin the file with `---`, the keys, `---`"
        )
        return None
    try:
        matter, body = YAMLHandler().split(text[lead:])
    except ValueError:
        notes.error((lead + 1, 1), "front-matter-open", "the closing `---` is missing", "add `---` after the last key")
        return None
    fields = parse_yaml(matter.removeprefix("\n"), notes, first_line=lead + 2)
    # `split` keeps every character but the two rules, so the body's place follows from its length.
    body_line = text.count("\n", 0, len(text) - len(body)) + 1
    return fields, body.removeprefix("\n"), body_line + body.startswith("\n")


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


def read_photos(
    told: Told, folder: Folder, examined: Mapping[str, ExaminedPhoto], root: Path
) -> tuple[tuple[Photo, ...], tuple[Clip, ...]]:
    """The photos of a folder in capture order and its clips by name, with what front matter and body say of them.

    A photo that is named but missing is an error; one that cannot be read a finding.
    """
    notes = told.form.notes
    words = _photo_words(told.form, folder)
    passages = find_passages(told.body)
    public = {(image.target, image.caption) for image in find_images(passages.public)}
    for image in find_images(told.body):
        where = (told.body_line + image.line - 1, image.column)
        name = None if image.elsewhere else _match_name(image.target, folder, where, notes)
        if name is None:
            continue
        said = words.setdefault(name, _Words())
        said.placed = True
        given = said.photo.caption
        if image.caption and given and fold_name(given) != fold_name(image.caption):
            twice = f'"{name}" has one caption here and another in the front matter, which wins'
            notes.finding(where, "caption-twice", twice, "keep one of them")
        if (image.target, image.caption) in public:
            said.placed_caption = said.placed_caption or image.caption
        else:
            said.private_caption = said.private_caption or image.caption
    shown = {unicodedata.normalize("NFC", target) for target in passages.shown}
    for name in (*folder.photos, *folder.clips):
        if passages.names(name) and unicodedata.normalize("NFC", name) not in shown:
            words.setdefault(name, _Words()).only_private = True
    photos = []
    for name in folder.photos:
        uri = f"{folder.uri}/{name}"
        known = examined.get(uri)
        facts = known.facts if known else PhotoFacts(trouble="the file is not there")
        said = words.get(name, _Words())
        if facts.trouble:
            unreadable = f'"{name}" cannot be shown: {facts.trouble}'
            notes.finding(said.where, "photo-unreadable", unreadable, "put a good copy in its place")
        photos.append(said.photo_of(name, uri, known.sha256 if known else "", facts))
    clips = []
    for name in folder.clips:
        uri = f"{folder.uri}/{name}"
        as_photo = words.get(name, _Words()).photo_of(name, uri)
        clips.append(
            Clip(
                name=name,
                src_uri=uri,
                bytes=file_size(root / uri),
                caption=as_photo.caption,
                private_caption=as_photo.private_caption,
                private=as_photo.private,
                placed=as_photo.placed,
            )
        )
    return _in_capture_order(photos), tuple(clips)


_UNSAID = Photo(name="", src_uri="")


@dataclass(slots=True, kw_only=True)
class _Words:
    """What is said of one photo or clip: `photo` as the front matter has it at `where`; whether the body places it,
    and names it in private passages only; the first caption in what everybody may read, and the first elsewhere.
    """

    photo: Photo = _UNSAID
    where: Where | None = None
    placed: bool = False
    only_private: bool = False
    placed_caption: str = ""
    private_caption: str = ""

    def photo_of(self, name: str, uri: str, sha256: str = "", facts: PhotoFacts | None = None) -> Photo:
        """The photo with all of it; one that is named in private passages only is private."""
        return replace(
            self.photo,
            name=name,
            src_uri=uri,
            caption=self.photo.caption or self.placed_caption,
            private_caption=self.private_caption,
            private=self.photo.private or self.only_private,
            placed=self.placed,
            sha256=sha256,
            facts=facts or PhotoFacts(),
        )


def _photo_words(form: Form, folder: Folder) -> dict[str, _Words]:
    fields = form.fields_under("photos")
    words: dict[str, _Words] = {}
    for key, node in fields.pairs if fields else ():
        name = _match_name(key.text, folder, key.where, form.notes)
        if isinstance(node, Scalar):
            node = Fields(pairs=((Scalar(text="caption", where=node.where), node),), where=node.where)
        if not isinstance(node, Fields):
            form.notes.error(
                node.where, "not-text", f'"{key.text}" takes a caption', "write `IMG_1.jpg: what it shows`"
            )
            continue
        inner = form.inner(node, "caption", "step", "people", "inside", "private", "cover")
        photo = replace(
            _UNSAID,
            caption=" ".join(inner.text("caption").split()),
            step=inner.id("step", "step"),
            people=inner.ids("people", "person"),
            inside=inner.flag("inside"),
            private=inner.held_back("private"),
            cover=inner.flag("cover"),
        )
        if name in words:
            form.notes.error(key.where, "key-twice", f'"{name}" is given twice', "keep one of them")
        elif name is not None:
            words[name] = _Words(photo=photo, where=key.where)
    return words


def _match_name(target: str, folder: Folder, where: Where, notes: Notes) -> str | None:
    """The file that is meant: the very name, else the one name equal to it in Unicode's NFC form, else an error."""
    names = (*folder.photos, *folder.clips)
    if target in names:
        return target
    form = unicodedata.normalize("NFC", target)
    alike = [name for name in names if unicodedata.normalize("NFC", name) == form]
    if len(alike) == 1:
        return alike[0]
    hint = did_you_mean(target, folder.photos)
    hint = hint if hint.startswith("did") else "copy it there, or take its name out"
    notes.error(where, "photo-missing", f'there is no photo "{target}" in this folder', hint)
    return None


def file_size(path: Path) -> int:
    """Length in bytes, 0 where nobody can tell."""
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _in_capture_order(photos: list[Photo]) -> tuple[Photo, ...]:
    """`photos`, which come in the order of their names, by capture time; one without a trustworthy time stays
    behind its neighbour by file name.

    Cameras count their files up, so the name places a picture whose clock was never set
    (common practice, no source).
    """
    place = {photo.name: number for number, photo in enumerate(photos)}
    order = sorted(
        (photo for photo in photos if photo.facts.clock_set and photo.facts.taken),
        key=lambda photo: (photo.facts.taken, place[photo.name]),
    )
    timed = {photo.name for photo in order}
    for photo in photos:
        if photo.name not in timed:
            before = [
                (place[other.name], at) for at, other in enumerate(order) if place[other.name] < place[photo.name]
            ]
            order.insert(max(before)[1] + 1 if before else 0, photo)
    return tuple(order)
