"""Why something that is sealed is otherwise now, where `journal move` did all of it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path, PurePosixPath

from journal.base.digests import sha256_of
from journal.commands.written import Act, Written
from journal.record.chain import touches
from journal.record.sealed_parts import cut_parts
from journal.record.seals import Amendment


def reasons_of(root: Path, change: Amendment, moves: Sequence[Written]) -> list[str]:
    """What the moves (the newest first) said that made the change since the seal, the oldest first; nothing where
    something was changed by hand as well.
    """
    kind, name = change.before.key
    since = [one for one in reversed(moves) if one.lines >= change.before.line]
    acts = []
    for written, act in ((one, act) for one in since for act in one.acts):
        if any(touches(path, (kind, name)) for path in (act.file, act.source)):
            acts.append((written, act))
            if kind.is_told and act.source and _named_by(act.source) == name and act.file.startswith("content/"):
                name = _named_by(act.file)  # it went on under this name
    if change.now and name != change.now.key[1]:
        return []
    texts = [act for _, act in acts if not act.source]
    if (
        not acts
        or _by_hand(root, change, texts)
        or not _same_pictures(change, [act for one in since for act in one.acts])
    ):
        return []
    return list(dict.fromkeys(one.reason for one, _ in acts))


def _named_by(path: str) -> str:
    """The name of the entry whose folder, or file, this is."""
    return PurePosixPath(path.removesuffix(".md")).name


def _by_hand(root: Path, change: Amendment, texts: Sequence[Act]) -> bool:
    """Whether the text was not as it was sealed before the first move, or as a move left it between two, or is now."""
    before, now = change.before, change.now
    if not texts:
        return now is not None and now.text != before.text
    if any(one.after != other.before for one, other in pairwise(texts)):
        return True
    first, last = (texts[0].before or "").encode(), texts[-1].after.encode()
    if before.kind.is_cut:
        of = texts[0].file.removeprefix("content/")
        was = {part.text for part in cut_parts(lambda file: first if file.endswith(of) else None)}
        became = {part.text for part in cut_parts(lambda file: last if file.endswith(of) else None)}
        return before.text not in was or (now is not None and now.text not in became)
    if sha256_of(first) != before.text:
        return True
    place = root / texts[-1].file
    return now is not None and (not place.exists() or place.read_bytes() != last)


def _same_pictures(change: Amendment, moved: Sequence[Act]) -> bool:
    """Whether pictures came and went with the moves alone, and none is another one now."""
    if change.now is None:
        return True
    old, new = change.before.files, change.now.files
    names = {PurePosixPath(path).name for act in moved for path in (act.file, act.source)}
    return all(old[name] == new[name] for name in old.keys() & new) and old.keys() ^ new.keys() <= names
