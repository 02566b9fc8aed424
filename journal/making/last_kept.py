"""What was sealed, archived and published last on this computer, and which entries are otherwise since.

One fingerprint tells all three: that of an entry's text and files, as a seal holds them. Seals tell their own; when an
archive is made or a site is sent, `.journal/last.json` notes when, where and how each entry was. It may be deleted.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from journal.base.addresses import composed
from journal.base.digests import sha256_of
from journal.base.formatting import say_count, say_few
from journal.base.model import Build
from journal.base.safe_write import write_whole
from journal.ledger.journal import CACHE
from journal.record.chain import Chain, Contents, Kind
from journal.record.seals import read_contents
from journal.view.view import View

LAST = f"{CACHE}/last.json"
ARCHIVED, PUBLISHED = "archive", "publication"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """When the entries were kept, where (nowhere else: ""), and the fingerprint of each, by ID, as it was then."""

    at: datetime
    where: str = ""
    entries: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What is otherwise than it was, by name (of entries) or path (of what a site is made of and sent as). `kept` are
    files at a target that were written by us, changed by somebody since, and are no longer part of the site: they are
    left where they are.
    """

    new: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()

    @property
    def to_send(self) -> tuple[str, ...]:
        """Paths whose bytes have to be sent."""
        return (*self.new, *self.changed)


def compare(before: Mapping[str, str], after: Mapping[str, str]) -> Changes:
    """Two states of the same, name -> digest, held against each other."""
    both = sorted(after.keys() & before.keys())
    return Changes(
        new=tuple(sorted(after.keys() - before.keys())),
        changed=tuple(name for name in both if after[name] != before[name]),
        same=tuple(name for name in both if after[name] == before[name]),
        gone=tuple(sorted(before.keys() - after.keys())),
    )


def fingerprints(root: Path, view: View) -> dict[str, str]:
    """The fingerprint of every entry of the inspector's `view` as it is; drafts have none."""
    return {one.id: _fingerprint(one) for one in read_contents(root, view) if one.kind is Kind.ENTRY}


def _fingerprint(one: Contents) -> str:
    files = sorted((composed(name), digest) for name, digest in one.files.items())
    return sha256_of(json.dumps([one.text, files]).encode())


def last_sealed(chain: Chain) -> Kept | None:
    """What the seals in force hold; None where nothing is sealed."""
    sealed = {name: _fingerprint(seal) for (kind, name), seal in chain.current.items() if kind is Kind.ENTRY}
    return Kept(at=chain.seals[-1].sealed_at, entries=sealed) if chain.seals else None


def note_kept(root: Path, what: str, kept: Kept) -> None:
    """Note that the entries were archived or published (`what`). Raises OSError."""
    told = {"at": kept.at.isoformat(), "where": kept.where, "entries": dict(kept.entries)}
    data = json.dumps(_read(root) | {what: told}, sort_keys=True).encode()
    write_whole(root / LAST, data, cache=True)


def read_kept(root: Path, what: str) -> Kept | None:
    """What was noted last; None where nothing was, or the note makes no sense."""
    try:
        told = _read(root)[what]
        entries = {str(name): str(digest) for name, digest in told["entries"].items()}
        return Kept(at=datetime.fromisoformat(told["at"]).astimezone(), where=str(told["where"]), entries=entries)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
        return None


def _read(root: Path) -> dict[str, Any]:
    try:
        told = json.loads((root / LAST).read_bytes())
    except (OSError, ValueError, RecursionError):
        return {}
    return told if isinstance(told, dict) else {}


def say_since(kept: Kept, now: Mapping[str, str], build: Build) -> tuple[str, bool]:
    """`since then 2 entries new (…), 1 entry changed (…)`, the newest three named, and whether that tells of a private
    entry or of one that is gone; "" where nothing is otherwise. What says that it was renamed is not new.
    """
    former = {name: entry.id for entry in build.entries for name in entry.formerly}
    was = {name if name in now else former.get(name, name): digest for name, digest in kept.entries.items()}
    changes = compare(was, now)
    kinds = {"new": changes.new, "changed": changes.changed, "taken away": changes.gone}
    titles = {entry.id: entry.title for entry in build.entries}
    told = [
        f"{say_count(len(names), 'entry', 'entries')} {word} "
        f"({say_few([titles.get(name, name) for name in names[::-1]])})"
        for word, names in kinds.items()
        if names
    ]
    public = {entry.id for entry in build.entries if not entry.private}
    return f"since then {', '.join(told)}" if told else "", not set().union(*kinds.values()) <= public
