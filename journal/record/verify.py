"""Verify an archive with nothing but the archive: what is damaged, and what its seals still prove.

Layer by layer, and all of it in one run: the bag (structure, counts, completeness both ways, digests),
what an archive must hold (site, binder, source), the chain of seals and the files it names, and the
time-stamps laid beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from journal.base.addresses import is_of
from journal.base.byte_progress import Progress, silent
from journal.base.digests import sha256_of
from journal.base.formatting import say_count
from journal.record.bag import INFO, TAG_MANIFEST, BagCheck, check_bag, read_tag
from journal.record.chain import CHAIN, HEAD, SEALS, Chain, Key, Kind, parse_branches, parse_chain, tell_branch, uri_of
from journal.record.container import BAGIT, NotAZipError, OpenBag, open_bag
from journal.record.damage import Damage, DamageKind, damaged, printable, sort_damage
from journal.record.timestamps import read_stamps

AGENT = "build-journal"
"""How bag-info.txt of every archive of ours names its maker, in front of the version."""
CONTENTS, EVERYTHING, NOTHING_PRIVATE = "Journal-Contents", "everything", "nothing private"
HEAD_FIELD = "Journal-Seals-Head"
SOURCE = "data/source/"
SITE, BINDER = "data/index.html", "data/record.pdf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What verifying found. `notes` say what holds and what was not checked, one sentence each.

    `fingerprint` is the SHA-256 of tagmanifest-sha256.txt, which fixes every byte of the archive;
    `complete` tells whether the archive holds the build itself.
    """

    path: str
    damage: tuple[Damage, ...]
    notes: tuple[str, ...] = ()
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
            "archive": printable(self.path),
            "files": self.files,
            "bytes": self.bytes,
            "fingerprint": self.fingerprint or None,
        }


def verify(path: Path, progress: Progress = silent) -> Report:
    """Verify the bag in the folder or zip at `path`, or the only one in the folder at `path`.

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
            return check_archive(path, bag, progress)[0]
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


def check_archive(path: Path, bag: OpenBag, progress: Progress) -> tuple[Report, BagCheck]:
    """Verify an open bag: what to say of it, and what was found file by file."""
    check = check_bag(bag, progress)
    bag = check.bag
    damage = [*check.damage]
    notes: list[str] = []
    if not check.info.get("Bag-Software-Agent", "").startswith(AGENT):
        damage.append(damaged(DamageKind.STRUCTURE, INFO, "does not say that journal archive made this bag"))
    complete = check.info.get(CONTENTS) != NOTHING_PRIVATE
    damage += _check_parts(bag, complete)
    if complete:
        chain = parse_chain(read_tag(bag, SOURCE + CHAIN) or b"", read_tag(bag, SOURCE + HEAD))
        damage += _check_chain(chain, check, bag)
        notes += _chain_notes(chain, bag)
        folder = f"{SOURCE}{SEALS}/"
        names = [path.removeprefix(folder) for path in bag.files if path.startswith(folder)]
        for name, branch in parse_branches(names, lambda name: read_tag(bag, folder + name) or b"").items():
            damage += [damaged(DamageKind.SEAL_CHAIN, folder + name, branch.fault.message)] if branch.fault else []
            notes += [] if branch.fault else [tell_branch(chain, branch)]
        for stamp in read_stamps(names, lambda name: read_tag(bag, folder + name) or b"", chain):
            damage += [damaged(DamageKind.TIME_STAMP, folder + stamp.name, fault) for fault in stamp.faults]
            notes += [] if stamp.faults else [stamp.tell()]
    else:
        notes.append("This archive was made without private things: it holds no originals and no seals to check.")
    report = Report(
        path=str(path),
        damage=sort_damage(damage),
        notes=tuple(notes),
        files=check.files,
        bytes=check.bytes,
        fingerprint="" if (tags := read_tag(bag, TAG_MANIFEST)) is None else sha256_of(tags),
        complete=complete,
    )
    return report, check


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


def _check_chain(chain: Chain, check: BagCheck, bag: OpenBag) -> Iterator[Damage]:
    if chain.fault:
        yield damaged(DamageKind.SEAL_CHAIN, SOURCE + chain.fault.file, chain.fault.message)
    elif check.info.get(HEAD_FIELD, head_field(chain)) != head_field(chain):
        told = "ends otherwise than bag-info.txt says: lines were cut, or the chain was written anew"
        yield damaged(DamageKind.SEAL_CHAIN, SOURCE + CHAIN, told)
    for seal in chain.current.values():
        text = _sealed_text(seal.key, bag)
        folder = text.rpartition("/")[0]
        sealed = [(DamageKind.SEALED_TEXT, text, seal.text)]
        sealed += [(DamageKind.SEALED_PHOTO, f"{folder}/{name}", digest) for name, digest in seal.files.items()]
        for kind, path, digest in sealed:
            if path not in bag.files:
                yield damaged(kind, path, f"is sealed in line {seal.line} and not there")
            elif check.digests.get(path, digest) != digest:
                yield damaged(kind, path, f"is not what was sealed in line {seal.line}")


def _texts(kind: Kind, bag: OpenBag) -> Iterator[str]:
    """Every Markdown file below the folder of a kind."""
    base = f"{SOURCE}{kind.folder}/"
    return (path for path in bag.files if path.startswith(base) and path.casefold().endswith((".md", ".markdown")))


def _sealed_text(key: Key, bag: OpenBag) -> str:
    """Where the text of an entry lies, by its name: in its folder, or as docs/format.md has it else."""
    usual = f"{SOURCE}{uri_of(key)}/index.md"
    if usual in bag.files:
        return usual
    return min((path for path in _texts(key[0], bag) if is_of(path, key[1])), default=usual)


def head_field(chain: Chain) -> str:
    """How bag-info.txt tells the head of the chain."""
    return f"line {len(chain.seals)} {chain.head}" if chain.seals else "nothing sealed"


def _chain_notes(chain: Chain, bag: OpenBag) -> Iterator[str]:
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
        if not chain.pinned:
            yield "Not checked: whether lines were cut from its end (head.json is not there)."
    sealed = {_sealed_text(key, bag) for key in chain.current}
    others = [(kind, path) for kind in Kind for path in _texts(kind, bag) if path not in sealed]
    unsealed = sum(all(of is not kind or not is_of(path, name) for of, name in chain.current) for kind, path in others)
    if unsealed:
        more = " or measurement" if any(kind is Kind.MEASUREMENT for kind, _ in others) else ""
        told = say_count(unsealed, f"entry or inspection{more}", f"entries or inspections{more and more + 's'}")
        yield f"Not sealed: {told} (drafts never are)."
    yield (
        "A chain orders and fixes what was written; the times in it are those of the builder's clock. "
        "Compare its head with one that was printed, mailed or time-stamped."
    )
