"""A folder of content/entries/ or content/inspections/: index.md split in two, and its photos."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import Protocol
from urllib.parse import unquote

from frontmatter.default_handlers import YAMLHandler

from journal.base.addresses import composed, fold_name
from journal.base.capture_order import in_capture_order
from journal.base.model import (
    CLIP_ENDINGS,
    PICTURE_ENDINGS,
    RAW_ENDINGS,
    WHOLE,
    Clip,
    Cut,
    FreePage,
    Photo,
    PhotoFacts,
    Where,
    named,
)
from journal.base.private_passages import find_passages, private_lines
from journal.base.problems import nearest
from journal.base.prose import COMMENT, blank_code, find_images
from journal.base.sync_copies import copy_of
from journal.reading.form import Form, KnownIds
from journal.reading.picture_edits import CUT_KEYS, EDIT_KEYS, read_cut, read_edits
from journal.reading.text import Notes, read_text
from journal.reading.tree import Fields, Items, Node, Scalar, parse_yaml

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
class FolderItem:
    """A file, or a folder, that lies in a folder under a name."""

    name: str
    is_folder: bool

    @property
    def is_media(self) -> bool:
        """Whether it is a photo or a clip by its name."""
        return not self.is_folder and _ending(self.name) in PICTURE_ENDINGS | CLIP_ENDINGS

    @property
    def is_text(self) -> bool:
        """Whether it is a file of Markdown by its name."""
        return not self.is_folder and _ending(self.name) in (".md", ".markdown")


def _ending(name: str) -> str:
    return PurePosixPath(name).suffix.casefold()


def look_into(path: Path, notes: Notes, few: Collection[str] | None = None) -> list[FolderItem]:
    """What lies in a folder, in natural order; hidden names and what desktops leave behind are passed over.

    A folder that cannot be read and a name that is not UTF-8 are errors; what is neither file nor folder, and a link
    that leads nowhere or back up, is a finding. So is a copy that a synchronising program left, which is not among what
    is found; an error where it would else be read. `few` are the only names that are asked for.
    """
    found = []
    beside: list[str] = []
    try:
        with os.scandir(path) as items:
            for item in items:
                if few is not None and item.name not in few:
                    beside.append(item.name)
                    continue
                shown = item.name.encode("utf-8", "replace").decode()
                if item.name[0] == "." or item.name.casefold() in IGNORED:
                    continue
                if shown != item.name:
                    said = f'the name "{shown}" in this folder is written in an old encoding and cannot be read'
                    notes.error(None, "name-unreadable", said, "rename it")
                elif (is_folder := _is_folder(item)) is None:
                    said = f'"{shown}" is not read: it is a link that leads nowhere or in a circle, a pipe or a device'
                    notes.finding(None, "not-a-file", said, "take it out")
                else:
                    found.append(FolderItem(name=item.name, is_folder=is_folder))
    except OSError as trouble:
        notes.error(None, "file-unreadable", f"the folder cannot be read: {trouble.strerror}")
    names = {*beside, *(one.name for one in found)}
    copies = {one: original for one in found if (original := copy_of(one.name, names))}
    for copy, original in copies.items():
        _note_copy(copy, original, original in names, notes)
    return sorted((one for one in found if one not in copies), key=lambda one: natural_key(one.name))


_TOLD_IN = re.compile(r"content/(?:entries|inspections|measurements|pages)(?:/|\Z)")


def _note_copy(item: FolderItem, original: str, beside: bool, notes: Notes) -> None:
    said = f'"{item.name}" is by its name a copy of "{original}" that a synchronising program made, because two wrote '
    said += "at once; it is not read"
    hint = f"take over what only it says, then move it out of content/; or rename it {original}"
    if original == "seals.jsonl":
        hint = f'join the two chains: journal seal --join "content/{item.name}"'
    elif original == "head.json":
        hint = "it goes when a copy of seals.jsonl is joined (journal seal --join); without one, take it out"
    read = (item.is_folder or item.is_text) and _TOLD_IN.match(notes.file) and not (beside and original == "index.md")
    (notes.error if read else notes.finding)(None, "sync-copy", said, hint)


def _is_folder(item: os.DirEntry[str]) -> bool | None:
    """None for what is neither folder nor file."""
    try:
        if not item.is_dir():
            return False if item.is_file() else None
        if item.is_symlink():
            here, above = Path(item.path).resolve(), Path(item.path).parent.resolve()
            return None if here == above or here in above.parents else True
        return True
    except (OSError, RuntimeError):  # a link that leads in a circle
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Folder:
    """An entry or inspection as found on disk: the text `file`, the folder `uri` that it lies in, and the names of
    its photos and clips there, in natural order.
    """

    id: str
    uri: str
    file: str
    photos: tuple[str, ...]
    clips: tuple[str, ...]


PERIOD = re.compile(r"[0-9]{4}([-_.][0-9]{1,2})?|[0-9]{1,2}")
"""The name of a folder for a year or a month."""


def index_of(path: Path, found: Sequence[FolderItem]) -> str | None:
    """The file that tells the entry of the folder `path`: index.md, else index or entry in any capitals, else the
    only text there where it has front matter, but in the folder of a year or a month.
    """
    texts = [item.name for item in found if item.is_text]
    named = [text for text in texts if PurePosixPath(text).stem.casefold() in ("index", "entry")]
    if named:
        return "index.md" if "index.md" in named else named[0]
    alone = len(texts) == 1 and not PERIOD.fullmatch(path.name)
    return texts[0] if alone and _has_front_matter(read_text(path / texts[0], Notes(""))) else None


def _has_front_matter(text: str | None) -> bool:
    """Whether a text is meant for an entry; so is one that cannot be read, or nobody would hear of it."""
    return text is None or text.lstrip().startswith("---")


def list_folder(uri: str, index: str, found: Sequence[FolderItem], notes: Notes) -> Folder:
    """The entry of a folder of its own; what is neither its text, photo nor clip is a finding."""
    for item in found:
        if item.name == index or item.is_media:
            continue
        if item.is_folder:
            said = f'what is in the folder "{item.name}" is not read'
            notes.finding(None, "folder-passed-over", said, f"put the photos beside {index}")
        elif item.is_text:
            said = f'"{item.name}" is not read beside {index}'
            notes.finding(None, "unknown-file", said, "an entry is one text: move what it says there")
        else:
            said = f'"{item.name}" is neither a photo nor a clip and is not shown'
            notes.finding(None, "unknown-file", said, "documents belong in content/records/")
    return _folder(uri.rpartition("/")[2], f"{uri}/{index}", found)


def lone_entry(root: Path, uri: str, found: Sequence[FolderItem]) -> Folder | None:
    """The entry of the file `uri` without a folder of its own, with the pictures beside it that it names; None where
    the file has no front matter.
    """
    text = read_text(root / uri, Notes(uri))
    if not _has_front_matter(text):
        return None
    said = re.sub(r"^[ \t]*#.*|[ \t]#[ \t].*", "", text or "", flags=re.MULTILINE)
    told = composed(f"{said} {unquote(said)}").casefold()
    names = {item: re.escape(composed(item.name).casefold()) for item in found}
    named = [item for item, name in names.items() if re.search(rf"(?<![\w-]){name}(?!\w)", told)]
    return _folder(PurePosixPath(uri).stem, uri, named)


def _folder(name: str, file: str, found: Sequence[FolderItem]) -> Folder:
    files = [item.name for item in found if not item.is_folder]
    return Folder(
        id=name,
        uri=file.rpartition("/")[0],
        file=file,
        photos=tuple(name for name in files if _ending(name) in PICTURE_ENDINGS),
        clips=tuple(name for name in files if _ending(name) in CLIP_ENDINGS),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A text with front matter, read: its keys, and the body with the line it begins on; the title is the key,
    else the first heading (then no longer in the body), else words made from the name (then it is not `titled`).
    """

    form: Form
    title: str
    titled: bool
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
    if not _is_told(body, body_line, notes):
        body = ""
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
    return Told(form=form, title=title, titled=bool(given or heading), body=body, body_line=body_line)


def read_page(path: Path, uri: str, notes: Notes) -> FreePage | None:
    """A free page: Markdown, with or without front matter (`title`, `draft`, `formerly`). None for a draft."""
    told = read_told(path, path.stem, notes, ("title", "draft", "formerly"), bare=True)
    if told is None or told.form.held_back("draft"):
        return None
    name = uri.removeprefix("content/pages/").rpartition(".")[0]
    formerly = told.form.former_names()
    return FreePage(id=name, src_uri=uri, title=told.title, formerly=formerly, body=told.body, body_line=told.body_line)


def split_front_matter(text: str, notes: Notes) -> tuple[Fields, str, int] | None:
    """(front matter, body, line the body begins on), or None with an error: empty, no `---`, no closing `---`."""
    if not text.strip():
        notes.error((1, 1), "empty-file", "the file is empty", "begin it with `---`, the keys, `---`")
        return None
    lead = len(text) - len(text.lstrip("\n"))
    if not re.match(r"-{3,}[ \t]*\n", text[lead:] + "\n"):
        hint = "begin the file with `---`, the keys, `---`"
        notes.error((1, 1), "no-front-matter", "the file has no front matter", hint)
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


_HEADING = re.compile(r"^(?:#[ \t]+(.+?)[ \t]*#*|([^\s#>*+|-][^\n]*)\n=+)[ \t]*$", re.MULTILINE)


def take_heading(body: str) -> tuple[str, str]:
    """(text of the first heading of the first level that is no secret, body without it where nothing comes before
    it), so that a page does not say its title twice; ("", body) where there is none.
    """
    for match in _HEADING.finditer(_bare(body)) if "#" in body or "\n=" in body else ():
        if not private_lines(body)[body.count("\n", 0, match.start())]:
            rest = body if body[: match.start()].strip() else body[: match.start()] + body[match.end() :]
            heading = body[slice(*match.span(1))] or body[slice(*match.span(2))]
            return " ".join(COMMENT.sub("", heading).split()), rest
    return "", body


def _bare(body: str) -> str:
    """`body` with code and comments as spaces."""
    return COMMENT.sub(lambda match: re.sub(r"[^\n]", " ", match[0]), blank_code(body))


MAX_PICTURES = 2000
"""Opening brackets of pictures and links in one text; more are no text, and take for ever to look through."""

_DEEP = re.compile(
    r"^(?:[ \t]*(?:>|[-*+][ \t]|[0-9]{1,9}[.)][ \t])){21}|^(?:[ ]{80}|\t{20})\s*(?:[-*+>]|[0-9]+[.)])[ \t]", re.M
)


def _is_told(body: str, body_line: int, notes: Notes) -> bool:
    """Whether a body can be shown; errors say why not: a comment that does not end (it would swallow the rest), lists
    or quotations in one another that no page holds, more pictures than can be.
    """
    bare = blank_code(body)
    opened = next((match for match in COMMENT.finditer(bare) if not match[0].endswith("-->")), None)
    if opened:
        where = (body_line + body.count("\n", 0, opened.start()), opened.start() - body.rfind("\n", 0, opened.start()))
        said = "a comment begins here and does not end: what follows would not be shown"
        notes.error(where, "comment-open", said, "close it with -->, or take the <!-- out")
    if deep := _DEEP.search(bare):
        where = (body_line + body.count("\n", 0, deep.start()), 1)
        notes.error(where, "text-too-deep", "lists or quotations more than 20 deep", "write them flatter")
    if body.count("[") > MAX_PICTURES:
        said = f"more than {MAX_PICTURES:,} pictures and links in one text"
        notes.error((body_line, 1), "too-many-pictures", said, "part it")
        return False
    return deep is None


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
    shown = {composed(target) for target in passages.shown}
    for name in (*folder.photos, *folder.clips):
        if passages.names(name) and composed(name) not in shown:
            words.setdefault(name, _Words()).only_private = True
    _keep_together(words, folder, examined)
    photos = []
    for name in folder.photos:
        uri = f"{folder.uri}/{name}"
        known = examined.get(uri)
        facts = known.facts if known else PhotoFacts(trouble="the file is not there", mend="put it there")
        said = words.get(name, _Words())
        if facts.trouble:
            unreadable = f'"{name}" cannot be shown: {facts.trouble}'
            notes.finding(said.where, "photo-unreadable", unreadable, facts.mend)
        elif facts.damage:
            hint = "copy it from the camera or a backup again; what is left of it is shown"
            notes.finding(said.where, "photo-damaged", f'"{name}" is damaged: {facts.damage}', hint)
        photos.append(said.photo_of(name, uri, known.sha256 if known else "", facts))
    clips = []
    for name in folder.clips:
        uri = f"{folder.uri}/{name}"
        said = words.get(name, _Words())
        shared = ("name", "src_uri", "caption", "private_caption", "step", "private", "edits")
        clips.append(Clip(**named(said.photo_of(name, uri), *shared), cut=said.cut, bytes=file_size(root / uri)))
    return in_capture_order(photos), tuple(clips)


def _keep_together(words: dict[str, _Words], folder: Folder, examined: Mapping[str, ExaminedPhoto]) -> None:
    """What a phone or a program makes of a private picture, or of one that is cropped or filled in, is private, unless
    somebody says something of it: the film of a live photo, the same name in another format, `IMG_1 (1).jpg`, the very
    same bytes; of a film that is cut, other copies of the film. So is a raw file beside the JPEG that the camera made
    of it: that one is shown, and the raw file is its original.
    """

    def marks(name: str) -> set[str]:
        known = examined.get(f"{folder.uri}/{name}")
        stem = re.sub(r"[ _-]*(?:\(\d+\)|copy)$", "", PurePosixPath(name).stem.casefold())
        return {stem, *([known.sha256] if known and known.sha256 else [])}

    names = (*folder.photos, *folder.clips)
    private = set[str]().union(
        *(
            marks(name)
            for name, said in words.items()
            if said.photo.private or said.only_private or said.photo.edits.hides
        )
    )
    cut = set[str]().union(*(marks(name) for name, said in words.items() if said.cut.start or said.cut.end))
    for name in names if private or cut else ():
        if name not in words and marks(name) & (private | cut if name in folder.clips else private):
            words[name] = _Words(only_private=True)
    shown = {PurePosixPath(name).stem.casefold() for name in folder.photos if _ending(name) not in RAW_ENDINGS}
    for name in folder.photos:
        said = words.get(name, _Words())
        unsaid = said.photo == _UNSAID and not said.placed
        if _ending(name) in RAW_ENDINGS and PurePosixPath(name).stem.casefold() in shown and unsaid:
            words[name] = replace(said, only_private=True)


_UNSAID = Photo(name="", src_uri="")


@dataclass(slots=True, kw_only=True)
class _Words:
    """What is said of one photo or clip: `photo` and `cut` as front matter has them at `where`; whether the body places
    it, and names it in private passages only; the first caption in what everybody may read, and the first elsewhere.
    """

    photo: Photo = _UNSAID
    cut: Cut = WHOLE
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
            sha256=sha256,
            facts=facts or PhotoFacts(),
        )


_SAYS_PRIVATE = re.compile(r"^\W*private(?:\W+(?:true|yes|on))?\W*$|\bprivate\s*[:=]", re.IGNORECASE)


def _photo_words(form: Form, folder: Folder) -> dict[str, _Words]:
    words: dict[str, _Words] = {}
    for key, node in _photo_rows(form, folder):
        name = _match_name(key.text, folder, key.where, form.notes, loosely=True)
        if isinstance(node, Scalar):
            if _SAYS_PRIVATE.search(node.text):
                said = f'"{node.text}" is taken for private and not for a caption'
                form.notes.error(node.where, "bad-flag", said, "write `IMG_1.jpg: {caption: …, private: true}`")
            node = Fields(pairs=((Scalar(text="caption", where=node.where), node),), where=node.where)
        if not isinstance(node, Fields):
            hint = "write `IMG_1.jpg: what it shows`"
            form.notes.error(node.where, "not-text", f'"{key.text}" takes a caption', hint)
            continue
        keys = ("caption", "step", "people", "inside", "identity", "private", "cover", *EDIT_KEYS)
        inner = form.inner(node, *keys, *(CUT_KEYS if name in folder.clips else ()))
        edits, unclear = read_edits(inner)
        cut, unclear_cut = read_cut(inner)
        shows = inner.scalar("inside")
        # A step in place of `true` says which closing the picture was taken before.
        shut_by = inner.id("inside", "step") if shows and shows.text.strip() in form.known.steps else None
        photo = replace(
            _UNSAID,
            caption=" ".join(inner.text("caption").split()),
            step=inner.id("step", "step"),
            people=inner.ids("people", "person"),
            inside=bool(shut_by) or inner.flag("inside"),
            shut_by=shut_by,
            identity=(identity := inner.flag("identity")),
            # A data plate shows what `show` in build.yml has to let through first.
            private=inner.held_back("private") or identity or unclear or unclear_cut,
            cover=inner.flag("cover"),
            edits=edits,
        )
        if name in words:
            form.notes.error(key.where, "key-twice", f'"{name}" is given twice', "keep one of them")
        elif name is not None:
            words[name] = _Words(photo=photo, cut=cut, where=key.where)
    return words


def _photo_rows(form: Form, folder: Folder) -> Iterator[tuple[Scalar, Node]]:
    """(file, what is said of it) of `photos`: `FILE: caption`, a list of such, of `{file: FILE, caption: …}` or of bare
    names, or names in one text.
    """
    node = form.value("photos")
    for item in node.nodes if isinstance(node, Items) else (node,) if node is not None else ():
        if isinstance(item, Scalar):
            whole = item.text.strip() in (*folder.photos, *folder.clips)
            for name in [item.text] if whole else re.split(r"\s*[,;]\s*", item.text):
                if name.strip():
                    yield replace(item, text=name.strip()), Scalar(text="", where=item.where)
        elif isinstance(item, Fields) and isinstance(file := item.get("file"), Scalar):
            yield file, replace(item, pairs=tuple(pair for pair in item.pairs if pair[0].text != "file"))
        elif isinstance(item, Fields):
            yield from item.pairs
        else:
            form.notes.error(item.where, "not-text", "a photo is named by its file", "write `IMG_1.jpg: what it shows`")


def _match_name(target: str, folder: Folder, where: Where, notes: Notes, *, loosely: bool = False) -> str | None:
    """The file that is meant: the very name, else the one name equal to it in Unicode's NFC form (or `loosely` in
    other capitals), else an error.
    """
    names = (*folder.photos, *folder.clips)
    folds: list[Callable[[str], str]] = [str, composed]
    for fold in [*folds, lambda name: composed(name).casefold()] if loosely else folds:
        alike = [name for name in names if fold(name) == fold(target)]
        if len(alike) == 1:
            notes.name("photo", f"{folder.uri}/{alike[0]}", target, where)
            return alike[0]
    guess = nearest(target, names)
    hint = f'did you mean "{guess}"?' if guess else "copy it there, or take its name out"
    mend = (target, guess) if guess and loosely else None
    notes.error(where, "photo-missing", f'there is no photo "{target}" in this folder', hint, mend)
    return None


def file_size(path: Path) -> int:
    """Length in bytes, 0 where nobody can tell."""
    try:
        return path.stat().st_size
    except OSError:
        return 0
