"""What a move would change, worked out on a build as it was read, and the proof that it changes nothing else."""

from __future__ import annotations

import os
import posixpath
import re
import secrets
import shutil
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TypeVar
from urllib.parse import quote, unquote

from journal.base.digests import file_sha256
from journal.base.drawing import ASSEMBLY
from journal.base.model import UNEDITED, Build, Clip, Edits, Entry, FreePage, Photo, PhotoFacts, Where, WriteUp
from journal.base.problems import Grade, Problem
from journal.base.prose import find_images, is_elsewhere
from journal.base.safe_write import staged
from journal.commands.written import Act
from journal.ledger.journal import CACHE
from journal.ledger.links import check_links, find_targets
from journal.media.photos import Examined
from journal.reading.build import read_build
from journal.reading.edits import EditRefusedError, read_as_it_is
from journal.reading.folders import FolderItem, file_size
from journal.reading.respelling import Piece, is_spelled, respell
from journal.reading.text import Naming
from journal.record.chain import SEALS

T = TypeVar("T")

BUILD, STEPS, DRAWING = "content/build.yml", "content/steps.csv", "content/aircraft.svg"


class NotMovedError(Exception):
    """Nothing was moved; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Named:
    """A build as it is read, and what each of its files names, by its path from the build folder."""

    root: Path
    build: Build
    problems: tuple[Problem, ...]
    named: Mapping[str, Sequence[Naming]]
    texts: dict[str, str] = field(default_factory=dict)

    def text(self, file: str) -> str:
        """The text of a file as it lay on the disk when it was first asked for: what an editor saves later is not what
        was worked on. Raises EditRefusedError where it is not UTF-8.
        """
        if file not in self.texts:
            self.texts[file] = read_as_it_is(self.root / file, file)
        return self.texts[file]


def read_named(root: Path, lying: Callable[[str], Path] | None = None) -> Named:
    """Read a build without looking at its pictures, but that those of one folder with the very same bytes are known
    (what is said of one keeps the other back); `lying` tells where a picture is.
    """
    at = lying or (lambda uri: root / uri)

    def twins(uris: Sequence[str]) -> dict[str, Examined]:
        sizes = {uri: (posixpath.dirname(uri), file_size(at(uri))) for uri in uris}
        several = Counter(sizes.values())
        alike = [uri for uri, size in sizes.items() if several[size] > 1 and size[1]]
        return {uri: Examined(sha256=file_sha256(at(uri))[0], facts=PhotoFacts()) for uri in alike}

    named: dict[str, list[Naming]] = {}
    build, problems = read_build(root, twins, named=named)
    return Named(root, build, problems, named)


def held(one: Entry | WriteUp) -> list[Photo | Clip]:
    """The pictures and films of an entry."""
    return [*one.photos, *(one.clips if isinstance(one, Entry) else ())]


Names = Mapping[tuple[str, str], str]
"""(kind, ID) -> the ID that takes its place."""


@dataclass(slots=True)
class Move:
    """A move being worked out, `said` in words: `names` are new IDs, `paths` files and folders that go somewhere else,
    from the build folder, and `texts` the files that change, by the path at which they lie before it. `becomes` tells
    where links lead whose file becomes part of another, `parted` from which place on, and to which folder, the words of
    a text go to another file, `away` which files are put away, `shifts` the minutes by which the time of an assembly
    changes; `same` that every file names the same things afterwards.
    """

    of: Named
    said: str
    names: dict[tuple[str, str], str] = field(default_factory=dict)
    paths: dict[str, str] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    becomes: dict[str, str] = field(default_factory=dict)
    parted: dict[str, tuple[Where, str]] = field(default_factory=dict)
    away: list[str] = field(default_factory=list)
    shifts: dict[str, int] = field(default_factory=dict)
    same: bool = True

    def text(self, file: str) -> str:
        """The text of a file as far as it is worked out."""
        return self.texts[file] if file in self.texts else self.of.text(file)

    def read(self, file: str, how: Callable[[str], T]) -> T:
        """What there is in a text. Raises NotMovedError where that cannot be told."""
        try:
            return how(self.text(file))
        except EditRefusedError as trouble:
            raise NotMovedError(f"{file}: {trouble}.") from None

    def edit(self, file: str, change: Callable[[str], str]) -> None:
        """Change a text. Raises NotMovedError where that cannot be without touching anything else."""
        self.texts[file] = self.read(file, change)

    def place(self, path: str) -> str:
        """Where a path is to be found afterwards."""
        return _led(path, (*self.paths.items(), *self.becomes.items()))

    def origin(self, path: str) -> str:
        """Where what is to be found at a path afterwards lies now."""
        return _led(path, ((new, old) for old, new in self.paths.items()))

    def new_id(self, naming: Naming) -> str:
        """The ID that something goes by afterwards."""
        if naming.kind == "photo":
            return self.place(naming.id)
        return self.names.get((naming.kind, naming.id), naming.id)

    # -- everywhere it is named --------------------------------------------------------------------

    def respell(
        self, leave: Collection[Naming] = (), more: Mapping[str, Callable[[str], list[Piece]]] | None = None
    ) -> None:
        """Write the new names wherever the reader found the old ones but for those to `leave`, in links and pictures
        of texts, in the drawing and beside clocks that run; `more` gives what else changes in the text of a file.
        It comes before any other edit. Raises NotMovedError.
        """
        pieces = more or {}

        def new(naming: Naming) -> str | None:
            if naming in leave:
                return None
            if naming.kind == "link":
                return naming.id
            wanted = self.new_id(naming)
            if wanted == naming.id or not is_spelled(naming):
                return None
            return posixpath.basename(wanted)  # of a picture its path; a new ID holds no slash

        build = self.of.build
        told: list[Entry | WriteUp | FreePage] = [*build.entries, *build.drafts, *build.write_ups, *build.pages]
        links = {of.src_uri: [*self._links(of)] for of in told if self.paths or self.becomes or self.parted}
        for file in dict.fromkeys((*self.of.named, *links, *pieces)):
            namings = [*self.of.named.get(file, ()), *links.get(file, ())]
            if file in pieces or any(new(one) is not None for one in namings):
                self.edit(file, partial(respell, namings=namings, new=new, more=pieces.get(file, lambda text: [])))
        self._in_drawing()
        self._on_clocks()

    def _links(self, of: Entry | WriteUp | FreePage) -> Iterator[Naming]:
        """Links, and pictures of other folders, that lead elsewhere afterwards; the ID is the new target."""
        here = posixpath.dirname(of.src_uri)
        targets = [(target, at) for target, _, at in find_targets(of.body)]
        for image in find_images(of.body):
            at = of.body.rfind("](", image.start, image.end) + 2
            inside = re.match(r"\s*<?([^\s<>]*)", of.body[at : image.end - 1])
            if inside and "/" in inside[1]:
                targets.append((inside[1], at + inside.start(1)))
        for target, at in targets:
            path, mark, rest = target.partition("#")
            if not path or is_elsewhere(target):
                continue
            joined = posixpath.normpath(posixpath.join(here, unquote(path)))
            where = (of.body_line + of.body.count("\n", 0, at), at - of.body.rfind("\n", 0, at))
            start, folder = self.parted.get(of.src_uri, (where, self.place(here)))
            wanted = posixpath.relpath(self.place(joined), folder if where >= start else here)
            if wanted != posixpath.relpath(joined, here):
                yield Naming("link", quote(wanted) + "/" * path.endswith("/") + mark + rest, target, where)

    def _in_drawing(self) -> None:
        wanted = {old: new for (kind, old), new in self.names.items() if kind == "assembly"}
        if not wanted or not self.of.build.drawing:
            return
        text = self.text(DRAWING)
        named = re.compile(rf"""(\b{ASSEMBLY}\s*=\s*(["']))([^"']*)(?=\2)""")
        after = named.sub(lambda found: found[1] + wanted.get(found[3], found[3]), text)
        if after != text:
            self.texts[DRAWING] = after

    def _on_clocks(self) -> None:
        wanted = {old: new for (kind, old), new in self.names.items() if kind == "person"}
        for draft in self.of.build.drafts if wanted else ():
            text = self.text(draft.src_uri)
            head, rule, rest = text.partition("\n---")
            after = re.sub(
                r"^(#[ \t]*clock:[ \t]*)(\S.*?)(?= since \d)",
                lambda found: found[1] + wanted.get(found[2], found[2]),
                head,
                flags=re.MULTILINE,
            )
            if after != head:
                self.texts[draft.src_uri] = after + rule + rest

    # -- done, or tried ----------------------------------------------------------------------------

    def acts(self) -> list[Act]:
        """What is to be done, in order."""
        moves = [Act(file=new, source=old) for old, new in self.paths.items()]
        kept = f"{CACHE}/taken-back/put-away-{secrets.token_hex(4)}"
        moves += [Act(file=f"{kept}/{path}", source=path, before=self.of.text(path)) for path in self.away]
        writes = [
            Act(file=self.place(file), before=before, after=after)
            for file, after in sorted(self.texts.items())
            if (before := self.of.text(file) if file in self.of.texts else None) != after
        ]
        return [*moves, *writes]

    def prove(self) -> Named:
        """The build as it will be read. Raises NotMovedError where a total would be another one, a file would name
        something else, a link would lead to nothing, or the reader would object to what it does not object to now.
        """
        with staged(self.of.root / CACHE, "trial") as trial:
            _copy_texts(self.of.root, trial)
            for old, new in self.paths.items():
                (trial / new).parent.mkdir(parents=True, exist_ok=True)
                if (trial / old).exists():
                    (trial / old).rename(trial / new)
            for file in self.away:
                (trial / file).unlink()
            for file, text in self.texts.items():
                (trial / self.place(file)).parent.mkdir(parents=True, exist_ok=True)
                (trial / self.place(file)).write_bytes(text.encode())
            after = read_named(trial, lambda uri: self.of.root / self.origin(uri))
        before = self.of
        errors, were = _errors(after), _errors(before)
        if new_ones := errors - were:
            one = next(one for one in after.problems if one.word in new_ones and one.grade is Grade.ERROR)
            raise NotMovedError(f"then {one.file} could not be read: {one.message}; {one.hint or 'mend it by hand'}.")
        if totals(before.build, self.names, self.shifts) != totals(after.build):
            raise NotMovedError("the hours would not be the same afterwards; move it by hand.")
        seen = _shown(before.build, self.place)
        if bare := [uri for uri, edits in _shown(after.build).items() if seen.get(uri) not in (edits, UNEDITED)]:
            said = "would no longer be private afterwards; write `private: true` of it under `photos` first"
            if min(bare) in seen:
                said = "would be cropped or filled in otherwise afterwards; move it by hand"
            raise NotMovedError(f"{self.origin(min(bare))} {said}.")
        broken = [sum(one.word == "broken-link" for one in check_links(of.build)) for of in (before, after)]
        if broken[1] > broken[0]:
            raise NotMovedError("a link would lead to nothing afterwards; move it by hand.")
        if self.same:
            wanted = {
                self.place(file): [(one.kind, self.new_id(one)) for one in namings]
                for file, namings in before.named.items()
                if namings
            }
            found = {file: [(one.kind, one.id) for one in namings] for file, namings in after.named.items() if namings}
            if odd := next((file for file in {*wanted, *found} if wanted.get(file) != found.get(file)), None):
                raise NotMovedError(f"{odd} would name something else than now; move it by hand.")
        return after


def totals(build: Build, names: Names | None = None, shifts: Mapping[str, int] | None = None) -> Counter[str]:
    """Minutes by person and day, of drafts and private entries apart, and by assembly; IDs as they are called by
    `names`, the assemblies with `shifts` in minutes.
    """
    new = names or {}
    told = Counter({f"of {assembly}": minutes for assembly, minutes in (shifts or {}).items()})
    for entry in (*build.entries, *build.drafts):
        assembly = new.get(("assembly", entry.assembly), entry.assembly)
        kind = "draft" if entry.draft else "private" if entry.private else "entry"
        for worked in entry.time:
            person = new.get(("person", worked.person), worked.person)
            for key in (f"{kind} {person}", f"{kind} {entry.date}", f"of {assembly}"):
                told[key] += worked.minutes
    return Counter({key: minutes for key, minutes in told.items() if minutes})


def _led(path: str, ways: Iterable[tuple[str, str]]) -> str:
    """A path below the first of the folders, or files, from which a way leads, at the end of that way."""
    found = ((old, new) for old, new in ways if f"{path}/".startswith(f"{old}/"))
    return next((new + path[len(old) :] for old, new in found), path)


def _shown(build: Build, place: Callable[[str], str] = str) -> dict[str, Edits]:
    """The pictures and films that the public sees, each at its `place`, and how."""
    told: list[Entry | WriteUp] = [*build.entries, *build.drafts, *build.write_ups]
    return {
        place(item.src_uri): item.edits
        for one in told
        for item in held(one)
        if not (item.private or one.private or (isinstance(one, Entry) and one.draft))
    }


def _errors(of: Named) -> Counter[str]:
    return Counter(one.word for one in of.problems if one.grade is Grade.ERROR)


def _copy_texts(root: Path, trial: Path) -> None:
    """The content of a build without its pictures and films, of which the names alone are there."""
    for folder, inner, names in os.walk(root / "content"):
        here = Path(folder).relative_to(root)
        inner[:] = [name for name in inner if not name.startswith(".") and (here / name).as_posix() != SEALS]
        (trial / here).mkdir(parents=True, exist_ok=True)
        for name in (name for name in names if (root / here / name).is_file()):
            if FolderItem(name=name, is_folder=False).is_media or (
                here.parts[1:2] == ("records",) and ".csv" not in name
            ):
                (trial / here / name).touch()
            else:
                shutil.copyfile(root / here / name, trial / here / name)
