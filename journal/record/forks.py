"""Two chains of seals that were one: two people sealed, each on a machine of their own, and joined what they had."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from journal.base.problems import Problem, error
from journal.base.safe_write import write_whole
from journal.base.sync_copies import copy_of
from journal.record.chain import (
    BRANCH,
    CHAIN,
    HEAD,
    SEALS,
    Chain,
    parse_chain,
    read_branches,
    read_chain,
    render_head,
    shared_lines,
)
from journal.record.seals import Amendment, alone, same_contents


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """The chain that goes on, how many lines both had, and where the other is kept; "" where it holds nothing more."""

    chain: Chain
    shared: int
    kept: str = ""


def forked_chains(root: Path) -> tuple[str, ...]:
    """Copies of the chain that a synchronising program left in the build folder."""
    names = [item.name for item in (root / CHAIN).parent.iterdir()]
    return tuple(f"content/{name}" for name in sorted(names) if copy_of(name, names) == Path(CHAIN).name)


def join_chains(root: Path, copy: Path) -> tuple[Joined | None, tuple[Problem, ...]]:
    """Join the chain of the build folder with another copy of it that went on otherwise; no line is lost.

    The longer goes on as the chain, the other is kept as it is in content/seals/. The copy, where it lies in content/,
    goes, and so do copies of the head. (None, problems) where one of the two is broken, or where a seal is running.
    Stopped anywhere it can be done again. Raises OSError.
    """
    with alone(root) as busy:
        if busy:
            return None, (busy,)
        ours, theirs = (parse_chain(path.read_bytes() if path.exists() else b"") for path in (root / CHAIN, copy))
        for file, chain in ((CHAIN, ours), (str(copy), theirs)):
            if chain.fault:
                hint = "join it with a copy that is whole"
                return None, (error(file, (chain.fault.line, 1), "seal-chain", chain.fault.message, hint),)
        shared = shared_lines(ours, theirs)
        chain, other = (theirs, ours) if len(theirs.seals) > len(ours.seals) else (ours, theirs)
        kept = f"{SEALS}/{BRANCH}{other.head[:8]}.jsonl" if len(other.seals) > shared else ""
        if kept:
            write_whole(root / kept, other.raw)
        if chain is theirs:
            write_whole(root / CHAIN, chain.raw)
        if chain.seals:
            write_whole(root / HEAD, render_head(len(chain.seals), chain.head))
        names = [item.name for item in (root / SEALS).iterdir()] if (root / SEALS).is_dir() else []
        heads = [root / SEALS / name for name in names if copy_of(name, names) == Path(HEAD).name]
        for path in (copy, *heads):
            if path.resolve().is_relative_to((root / "content").resolve()):
                path.unlink()
    return Joined(chain=chain, shared=shared, kept=kept), ()


def reason_of_fork(root: Path, change: Amendment) -> str | None:
    """Why something is not as the chain has it: a branch had sealed it as it is; None where none had."""
    chain, key = read_chain(root), (change.now or change.before).key
    for name, branch in read_branches(root).items():
        own = [line for line in branch.seals[shared_lines(chain, branch) :] if line.key == key]
        if own and (own[-1].withdrawn if change.now is None else same_contents(own[-1], change.now)):
            return f"sealed so on another machine, in {name}"
    return None
