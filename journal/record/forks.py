"""Two chains of seals that were one: two people sealed, each on a machine of their own, and join what they have."""

from __future__ import annotations

from pathlib import Path

from journal.base.formatting import say_count
from journal.base.problems import Problem, error
from journal.base.safe_write import write_whole
from journal.base.sync_copies import copy_of
from journal.record.chain import BRANCH, CHAIN, HEAD, SEALS, parse_chain, render_head, shared_lines


def join_chains(root: Path, copy: Path | None) -> tuple[str, tuple[Problem, ...]]:
    """Join the chain of the build folder with another copy of it that went on otherwise; (what was done, problems).

    The longer goes on as the chain, the other is kept as it is in content/seals/; no line is lost. The copy, where it
    is one that a synchronising program left, goes, and so do copies of the head. Problems, and nothing was done:
    `seal-chain` (one of the two is broken), `seal-forked` (such a copy lies there and none is named). Stopped anywhere,
    it can be done again.
    """
    if copy is None:
        told = "two sealed at once: this chain goes on otherwise"
        copies = _copies_of(root, CHAIN)
        return "", tuple(error(uri, None, "seal-forked", told, f'journal seal --join "{uri}"') for uri in copies)
    ours, theirs = (parse_chain(path.read_bytes() if path.exists() else b"") for path in (root / CHAIN, copy))
    for file, chain in ((CHAIN, ours), (str(copy), theirs)):
        if chain.fault:
            where, told = (chain.fault.line, 1), chain.fault.message
            return "", (error(file, where, "seal-chain", told, "join it with a copy that is whole"),)
    shared = shared_lines(ours, theirs)
    chain, other = (theirs, ours) if len(theirs.seals) > len(ours.seals) else (ours, theirs)
    told = "the other held nothing more"
    if len(other.seals) > shared:
        kept = write_whole(root / SEALS / f"{BRANCH}{other.head[:8]}.jsonl", other.raw)
        told = f"the other is kept as {kept.relative_to(root).as_posix()}"
    if chain is theirs:
        write_whole(root / CHAIN, chain.raw)
    if chain.seals:
        write_whole(root / HEAD, render_head(len(chain.seals), chain.head))
    gone = [uri for uri in _copies_of(root, CHAIN) if (root / uri).samefile(copy)]
    for uri in (*gone, *_copies_of(root, HEAD)):
        (root / uri).unlink()
    return f"Joined: both chains share {say_count(shared, 'line')}; {told}.", ()


def _copies_of(root: Path, uri: str) -> list[str]:
    folder, _, original = uri.rpartition("/")
    names = [item.name for item in (root / folder).iterdir()] if (root / folder).is_dir() else []
    return [f"{folder}/{name}" for name in sorted(names) if copy_of(name, names) == original]
