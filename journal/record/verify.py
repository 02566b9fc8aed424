"""Verify an archive with nothing but the archive: what is damaged, what its seals prove, and what was not checked.

Layer by layer, and all of it in one run: the bag (structure, counts, completeness both ways, digests),
what an archive must hold (site, binder, source), the chain of seals and what it names, the time-stamps laid
beside it, and what the reader knows from elsewhere. Standard library alone but for the time-stamps: the small verifier
in an archive is this module.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

from journal.base.addresses import composed, is_of
from journal.base.byte_progress import Progress, say_bytes, silent
from journal.base.digests import sha256_of
from journal.base.formatting import say_count, say_few
from journal.record.bag import INFO, MANIFEST, PAYLOAD, PLAIN_NAMES, README, TAG_MANIFEST, BagCheck, check_bag, read_tag
from journal.record.chain import (
    CHAIN,
    HEAD,
    SEALS,
    TEXTS,
    Chain,
    Key,
    Kind,
    line_numbers,
    name_of,
    parse_branches,
    parse_chain,
    shared_lines,
    text_uri,
    uri_of,
)
from journal.record.container import BAGIT, NotAZipError, OpenBag, open_bag
from journal.record.damage import Damage, DamageKind, damaged, printable, sort_damage
from journal.record.sealed_parts import SETTINGS, SealedPart, cut_look, cut_parts, file_of, out_of_place

AGENT = "build-journal"
"""How bag-info.txt of every archive of ours names its maker, in front of the version."""
CONTENTS, EVERYTHING, NOTHING_PRIVATE = "Journal-Contents", "everything", "nothing private"
HEAD_FIELD = "Journal-Seals-Head"
SOURCE = "data/source/"
OF_SEALS = f"{SOURCE}{SEALS}/"
VERIFIER = "verify.pyz"
BESIDE = frozenset({BAGIT, INFO, README, MANIFEST, TAG_MANIFEST, PLAIN_NAMES, VERIFIER})
"""All that lies beside data/ in an archive."""
SITE, BINDER = "data/index.html", "data/record.pdf"
MADE_ONCE = (
    "whether site, binder, tables, README.txt and verify.pyz are what the source gives (journal verify --again makes "
    "them anew)"
)
MOST_TOLD = 40
"""How much damage of one kind a terminal is told."""
SHOWN = 5
"""How many names a sentence of the report lists."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What verifying found. `notes` say what holds, `unchecked` what was not looked at, one sentence each.

    `fingerprint` is the SHA-256 of tagmanifest-sha256.txt, which fixes every byte of the archive;
    `complete` tells whether the archive holds the build itself.
    """

    path: str
    damage: tuple[Damage, ...]
    notes: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()
    files: int = 0
    bytes: int = 0
    fingerprint: str = ""
    complete: bool = False

    @property
    def ok(self) -> bool:
        """Whether nothing is damaged."""
        return not self.damage

    def as_json(self) -> dict[str, Any]:
        """The shape of `journal verify --json` (docs/format.md)."""
        return {
            "ok": self.ok,
            "findings": [{"kind": d.kind.value, "path": d.path, "message": d.message} for d in self.damage],
            "notes": list(self.notes),
            "not_checked": list(self.unchecked),
            "archive": printable(self.path),
            "files": self.files,
            "bytes": self.bytes,
            "fingerprint": self.fingerprint or None,
        }

    def tell(self) -> Iterator[str]:
        """The report as the terminal has it, line by line."""
        for _, damage in groupby(self.damage, key=lambda one: one.kind):
            alike = [f"{one.path or printable(self.path)}: {one.message} [{one.kind.value}]" for one in damage]
            yield from alike[:MOST_TOLD]
            if len(alike) > MOST_TOLD:
                yield f"… and {len(alike) - MOST_TOLD:,} more of this kind (--json lists them all)"
        yield from self.notes
        if self.unchecked:
            yield "Not checked:"
            yield from (f"  {one}" for one in self.unchecked)
        found = f"{say_count(self.files, 'file')}, {say_bytes(self.bytes)}"
        if self.ok:
            yield f"Whole: {found}, every one as listed."
        elif self.damage[0].kind is DamageKind.NOT_AN_ARCHIVE:
            yield "Nothing was verified."
        else:
            yield f"DAMAGED: {say_count(len(self.damage), 'finding')} in {found}."
        if self.fingerprint:
            yield f"Fingerprint (SHA-256 of {TAG_MANIFEST}): {self.fingerprint}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the reader knows from outside the archive: its fingerprint, the digest of a line of the chain (both in lower
    case, "" where not known), and certificates of time-stamping services by name (PEM or DER).
    """

    fingerprint: str = ""
    head: str = ""
    roots: Mapping[str, bytes] = field(default_factory=dict)


NOTHING_KNOWN = Known()


def parse_digest(text: str) -> str | None:
    """A SHA-256 as people copy it, with blanks and in any case, in lower case; None for what is none, "" for ""."""
    digest = "".join(text.split()).lower()
    return digest if re.fullmatch("([0-9a-f]{64})?", digest) else None


def verify(path: Path, progress: Progress = silent, known: Known = NOTHING_KNOWN) -> Report:
    """Verify the bag in the folder or zip at `path`, or the only one in the folder at `path`, against what is `known`.

    Every damage is in the report, whatever the files hold. Raises OSError only where `path` itself
    cannot be opened.
    """
    path = find_archive(path)
    if path.is_dir() and not (path / BAGIT).exists() and not (path / "data").is_dir():
        return _no_archive(path, f"this folder holds no archive (no {BAGIT}, no data/)")
    if not path.is_dir() and not path.is_file():
        path.stat()
        return _no_archive(path, "this is neither a folder nor a file")
    try:
        with open_bag(path) as bag:
            return check_archive(path, bag, progress, known)[0]
    except NotAZipError as trouble:
        return _no_archive(path, f"this is no zip that can be read: {printable(str(trouble))}")


def find_archive(path: Path) -> Path:
    """`path`, or the only bag or zip in the folder at `path` where that is none itself; where there is nothing, the
    archive that a run which was stopped just there had set aside.
    """
    aside = path.with_name(f".{path.name}.old")
    if not path.exists() and (aside / BAGIT).exists():
        return aside
    if path.is_dir() and not (path / BAGIT).exists() and not (path / "data").exists():
        inside = [item for item in path.iterdir() if (item / BAGIT).exists() or item.suffix.casefold() == ".zip"]
        if len(inside) == 1:
            return inside[0]
    return path


def _no_archive(path: Path, message: str) -> Report:
    return Report(path=str(path), damage=(damaged(DamageKind.NOT_AN_ARCHIVE, "", message),))


def check_archive(path: Path, bag: OpenBag, progress: Progress, known: Known) -> tuple[Report, BagCheck]:
    """Verify an open bag: what to say of it, and what was found file by file."""
    check = check_bag(bag, progress)
    bag = check.bag
    damage = [*check.damage]
    notes: list[str] = []
    unchecked = [MADE_ONCE]
    if not check.info.get("Bag-Software-Agent", "").startswith(AGENT):
        damage.append(damaged(DamageKind.STRUCTURE, INFO, "does not say that journal archive made this bag"))
    # What bag-info.txt says of itself switches nothing off: where there is a source it is looked at.
    complete = check.info.get(CONTENTS) != NOTHING_PRIVATE or any(path.startswith(SOURCE) for path in bag.files)
    if complete and check.info.get(CONTENTS) == NOTHING_PRIVATE:
        told = f'says "{NOTHING_PRIVATE}", and {SOURCE} lies there: one of the two was put in'
        damage.append(damaged(DamageKind.STRUCTURE, INFO, told))
    damage += _check_parts(bag, complete)
    told_already = {one.path for one in damage}
    for name in bag.files:
        if not name.startswith(PAYLOAD) and name not in BESIDE and printable(name) not in told_already:
            damage.append(damaged(DamageKind.STRUCTURE, name, "is no file of an archive: somebody put it in"))
    fingerprint = "" if (tags := read_tag(bag, TAG_MANIFEST)) is None else sha256_of(tags)
    if not known.fingerprint:
        unchecked.append("whether this is the archive that was handed over (--expect, with its fingerprint)")
    elif known.fingerprint == fingerprint:
        notes.append("It is the archive of the fingerprint you gave.")
    else:
        told = f"the fingerprint is {fingerprint or 'not there'}, and not the one you gave: this is another archive"
        damage.append(damaged(DamageKind.FINGERPRINT, TAG_MANIFEST, told))
    if complete:
        chain = parse_chain(read_tag(bag, SOURCE + CHAIN) or b"", read_tag(bag, SOURCE + HEAD))
        parts = cut_parts(lambda uri: read_tag(bag, SOURCE + uri) if SOURCE + uri in bag.files else None)
        damage += _check_chain(chain, check, bag, parts)
        notes += _chain_notes(chain)
        branches = branches_in(bag)
        unchecked += _unsealed(chain, bag, parts, branches)
        for found in (
            _check_branches(chain, branches),
            _check_head(chain, branches, known.head),
            _check_stamps(chain, bag, known.roots),
        ):
            damage += found[0]
            notes += found[1]
            unchecked += found[2]
    else:
        notes.append("This archive was made without private things: it holds no originals and no seals to check.")
        if known.head or known.roots:
            told = "holds no chain of seals: there is nothing to compare a digest or a certificate with"
            damage.append(damaged(DamageKind.HEAD, SOURCE + CHAIN, told))
    report = Report(
        path=str(path),
        damage=sort_damage(damage),
        notes=tuple(notes),
        unchecked=tuple(unchecked),
        files=check.files,
        bytes=check.bytes,
        fingerprint=fingerprint,
        complete=complete,
    )
    return report, check


_Found = tuple[list[Damage], list[str], list[str]]
"""Damage, what holds, what was not checked."""


def branches_in(bag: OpenBag) -> dict[str, Chain]:
    """The branches of the chain that are kept in an archive, by path."""
    found = parse_branches(_seal_names(bag), lambda name: read_tag(bag, OF_SEALS + name) or b"")
    return {OF_SEALS + name: branch for name, branch in found.items()}


def _seal_names(bag: OpenBag) -> list[str]:
    """The files of content/seals in an archive, by their path from there."""
    return [path.removeprefix(OF_SEALS) for path in bag.files if path.startswith(OF_SEALS)]


def _check_branches(chain: Chain, branches: Mapping[str, Chain]) -> _Found:
    damage = [damaged(DamageKind.SEAL_CHAIN, path, one.fault.message) for path, one in branches.items() if one.fault]
    notes = [
        f"{say_count(len(one.seals), 'line')} of another chain, joined with this one, are kept beside it, the first "
        f"{shared_lines(chain, one)} the same in both; its head is {one.head}."
        for one in branches.values()
        if not one.fault
    ]
    return damage, notes, []


def _check_head(chain: Chain, branches: Mapping[str, Chain], head: str) -> _Found:
    if not head:
        if not chain.seals:
            return [], [], []
        told = "whether the whole chain was written anew (--head, with the digest of a line that was printed, mailed or"
        return [], [], [f"{told} time-stamped; whoever holds the files can write another chain)"]
    for path, one in {SOURCE + CHAIN: chain, **branches}.items():
        if line := line_numbers(one).get(head):
            later = len(one.seals) - line
            after = f" {say_count(later, 'line')} came later." if later else ""
            where = f"line {line}" + (f" of {path}" if one is not chain else "")
            return [], [f"The digest you gave is that of {where}: all lines up to it are as they were then.{after}"], []
    told = "has no line of the digest you gave: it was cut, or written anew since"
    return [damaged(DamageKind.HEAD, SOURCE + CHAIN, told)], [], []


def _check_stamps(chain: Chain, bag: OpenBag, roots: Mapping[str, bytes]) -> _Found:
    names = _seal_names(bag)
    unvouched = damaged(DamageKind.TIME_STAMP, OF_SEALS, "none of your certificates vouches for a time-stamp here")
    if not any(name.casefold().endswith(".tsr") for name in names):
        return (
            [unvouched] if roots else [],
            [],
            ["when the lines were written: no time-stamp is kept, and their times are the builder's"],
        )
    try:
        from journal.record.timestamps import read_stamps
    except ImportError:
        return [], [], ["the time-stamps in content/seals (journal verify does, or openssl ts -verify)"]
    damage: list[Damage] = []
    notes: list[str] = []
    stamps = read_stamps(names, lambda name: read_tag(bag, OF_SEALS + name) or b"", chain, roots)
    if roots and not any(stamp.answer.root and not stamp.faults for stamp in stamps):
        damage.append(unvouched)
    for stamp in stamps:
        damage += [damaged(DamageKind.TIME_STAMP, OF_SEALS + stamp.name, fault) for fault in stamp.faults]
        damage += [damaged(DamageKind.TIMES, OF_SEALS + stamp.name, why) for why in stamp.contradictions(chain)]
        notes += [] if stamp.faults else [stamp.tell()]
    return damage, notes, [] if roots else ["which time-stamps a service of your choice vouches for (--root CERT)"]


def _check_parts(bag: OpenBag, complete: bool) -> Iterator[Damage]:
    if SITE not in bag.files:
        yield damaged(DamageKind.SITE, SITE, "the site is not there")
    if BINDER not in bag.files:
        yield damaged(DamageKind.BINDER, BINDER, "the binder is not there")
    elif not _begins_with(bag, BINDER, b"%PDF-"):
        yield damaged(DamageKind.BINDER, BINDER, "is no PDF")
    for name in ("mkdocs.yml", "content/build.yml") if complete else ():
        if SOURCE + name not in bag.files:
            yield damaged(DamageKind.SOURCE, SOURCE + name, "is not there: without it this is no build")


def _begins_with(bag: OpenBag, path: str, mark: bytes) -> bool:
    buffer = bytearray(len(mark))
    with suppress(OSError), bag.open(path) as source:
        source.readinto(memoryview(buffer))
    return bytes(buffer) == mark


def _check_chain(chain: Chain, check: BagCheck, bag: OpenBag, parts: Sequence[SealedPart]) -> Iterator[Damage]:
    if chain.fault:
        yield damaged(DamageKind.SEAL_CHAIN, SOURCE + chain.fault.file, chain.fault.message)
    elif check.info.get(HEAD_FIELD) != head_field(chain):
        told = "ends otherwise than bag-info.txt says: lines were cut, or the chain was written anew"
        yield damaged(DamageKind.SEAL_CHAIN, SOURCE + CHAIN, told)
    yield from (damaged(DamageKind.TIMES, SOURCE + CHAIN, f"line {line} {why}") for line, why in chain.contradictions())
    there = {(file_of(part.id), part.text) for part in parts}
    files = {file for file, _ in there}
    for seal in out_of_place(chain.current.values(), parts):
        told = f"holds {name_of(seal.key)} in another place than when it was sealed in line {seal.line}"
        yield damaged(DamageKind.SEALED_PART, SOURCE + uri_of(seal.key), told)
    lying = _where_it_lies(bag)
    for seal in chain.current.values():
        if seal.kind.is_cut:
            if file_of(seal.id) not in files:
                yield damaged(DamageKind.SEALED_PART, SOURCE + uri_of(seal.key), "is sealed part by part and not there")
            elif (file_of(seal.id), seal.text) not in there:
                told = f"does not hold {name_of(seal.key)} as it was sealed in line {seal.line}"
                yield damaged(DamageKind.SEALED_PART, SOURCE + uri_of(seal.key), told)
            continue
        text = _sealed_text(seal.key, bag)
        folder = text.rpartition("/")[0]
        sealed = [(DamageKind.SEALED_TEXT if seal.kind.is_told else DamageKind.SEALED_PART, text, seal.text)]
        sealed += [(DamageKind.SEALED_PHOTO, f"{folder}/{name}", digest) for name, digest in seal.files.items()]
        for kind, name, digest in sealed:
            path = lying(name)
            if path not in bag.files:
                yield damaged(kind, path, f"is sealed in line {seal.line} and not there")
            elif check.digests.get(path, digest) != digest:
                yield damaged(kind, path, f"is not what was sealed in line {seal.line}")
    for path in bag.files:
        if path.startswith(f"{SOURCE}{TEXTS}/") and path != SOURCE + text_uri(check.digests.get(path, "")):
            yield damaged(DamageKind.SEALED_TEXT, path, "is not the text of the digest that it goes by")


def _where_it_lies(bag: OpenBag) -> Callable[[str], str]:
    """The path of a sealed file in the bag: the disk may have its name in another Unicode form."""
    by_name = {composed(path): path for path in bag.files}
    return lambda name: name if name in bag.files else by_name.get(composed(name), name)


def _texts(kind: Kind, bag: OpenBag) -> Iterator[str]:
    base = f"{SOURCE}{kind.folder}/"
    return (path for path in bag.files if path.startswith(base) and path.casefold().endswith((".md", ".markdown")))


def _sealed_text(key: Key, bag: OpenBag) -> str:
    """Where the text of an entry lies, by its name: in its folder, or as docs/format.md has it else."""
    if key[0] is Kind.RECORD:
        return SOURCE + uri_of(key)
    usual = f"{SOURCE}{uri_of(key)}/index.md"
    if usual in bag.files:
        return usual
    return min((path for path in _texts(key[0], bag) if is_of(path, key[1])), default=usual)


def head_field(chain: Chain) -> str:
    """How bag-info.txt tells the head of the chain."""
    return f"line {len(chain.seals)} {chain.head}" if chain.seals else "nothing sealed"


def _chain_notes(chain: Chain) -> Iterator[str]:
    if chain.fault:
        yield f"Of the chain of seals only the first {say_count(len(chain.seals), 'line')} can be relied on."
    elif not chain.seals:
        yield "Nothing was sealed: the digests show only that the archive is as it was made."
        return
    else:
        last = chain.seals[-1]
        yield (
            f"The chain of seals holds: {say_count(last.line, 'line')}, the last of "
            f"{last.sealed_at:%Y-%m-%d %H:%M:%S} UTC, head {last.sha256}."
        )
    yield "A chain orders and fixes what was written; the times in it are those of the builder's clock."


def _unsealed(chain: Chain, bag: OpenBag, parts: Sequence[SealedPart], branches: Collection[str]) -> Iterator[str]:
    """What no seal fixes: entries and write-ups, rows and settings, other files of the build."""
    if chain.seals and not chain.pinned and not chain.fault:
        yield "whether lines were cut from the end of the chain (head.json is not there)"
    sealed = {_sealed_text(key, bag) for key in chain.current if not key[0].is_cut}
    fixed = sealed | {SOURCE + CHAIN, SOURCE + HEAD} | {SOURCE + text_uri(seal.text) for seal in chain.seals}
    fixed |= {*branches, *(OF_SEALS + name for name in _seal_names(bag) if name.casefold().endswith(".tsr"))}
    lying = _where_it_lies(bag)
    lost = {
        f"{seal.id} (line {seal.line})"
        for seal in chain.seals
        if seal.kind.is_told and seal.text and SOURCE + text_uri(seal.text) not in bag.files
        if seal is not chain.current.get(seal.key)
    }
    if lost:
        yield f"what stood in {say_count(len(lost), 'text')} before a change, since it is not kept: {some_names(lost)}"
    for before, after in pairwise(sorted(chain.seals, key=lambda seal: (seal.kind.value, seal.id, seal.line))):
        if before.withdrawn and before.key == after.key and after.amends is None:
            yield f"why line {after.line} seals again what line {before.line} took away: {after.id}, without a reason"
    for seal in chain.current.values():
        folder = _sealed_text(seal.key, bag).rpartition("/")[0] if seal.files else ""
        fixed |= {lying(f"{folder}/{name}") for name in seal.files}
    told = {path for kind in Kind if kind.is_told for path in _texts(kind, bag)} - sealed
    here = {path for path in told if not any(of.is_told and is_of(path, name) for of, name in chain.current)}
    if here:
        yield f"{say_count(len(here), 'text')} that no seal fixes (drafts are never sealed): {some_names(here)}"
    known = {(file_of(seal.id), seal.text) for seal in chain.current.values() if seal.kind.is_cut}
    loose = [part.id for part in parts if (file_of(part.id), part.text) not in known]
    if loose:
        yield f"{say_count(len(loose), 'row or setting', 'rows and settings')} that no seal fixes: {some_names(loose)}"
    if look := [one.id for one in cut_look(read_tag(bag, SOURCE + SETTINGS) or b"")]:
        yield f"{say_count(len(look), 'setting')} of look and of publishing, which are never sealed: {some_names(look)}"
    source = {path for path in bag.files if path.startswith(SOURCE)}
    others = source - fixed - here - {SOURCE + one.file for one in parts}
    folders = {text.rpartition("/")[0] for text in sealed}
    if beside := {path for path in others if path.rpartition("/")[0] in folders}:
        yield f"{say_count(len(beside), 'file')} beside a sealed text that its line does not name: {some_names(beside)}"
    if others := others - beside:
        yield f"{say_count(len(others), 'other file')} of the build that no seal fixes: {some_names(others)}"


def some_names(names: Collection[str]) -> str:
    """The first names, and how many more there are."""
    return say_few([printable(name.removeprefix(SOURCE)) for name in sorted(names)], SHOWN)
