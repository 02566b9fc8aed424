"""What followers may know of an amendment: its day, and what it touched of that which everybody may read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from journal.base.formatting import say_count
from journal.base.private_passages import cut_private
from journal.base.words import N_, _
from journal.record.chain import Kind, Seal, read_chain, text_uri
from journal.record.sealed_parts import blocks, said_lines
from journal.site.site_context import Extras, SiteContext
from journal.view.view import ShownEntry

_TOLD = {
    **{"title": N_("the title"), "date": N_("the day"), "assembly": N_("the assembly")},
    **dict.fromkeys(("steps", "begun", "redone"), N_("the steps")),
    **{"hours": N_("the hours"), "people": N_("who worked"), "tools": N_("the tools"), "methods": N_("the methods")},
    **{"fasteners": N_("the rivets"), "torque": N_("the torque")},
}
"""Keys of an entry that everybody may read whatever stands under them, and how they are said."""


def add_amendments(site: SiteContext, root: Path) -> Extras:
    """The sealed amendments of each entry. The reason is for the archive, and of one that touched nothing public, or
    whose texts were not kept, nothing is told.
    """
    chain = read_chain(root)
    if not chain.current:
        return Extras()
    from journal.record.seals import seal_story  # what is never needed before something is sealed

    amended = {}
    for entry in site.view.entries if chain.fault is None else ():
        seal = chain.current.get((Kind.ENTRY, entry.id))
        if seal is None or seal.amends is None:
            continue
        days = (day for day, _ in seal_story(chain, Kind.ENTRY, entry.id, site.view.zone).amended)
        touched = (", ".join(_touched(root, entry, *pair)) for pair in pairwise(chain.history(seal)))
        if told := tuple((day, what) for day, what in zip(days, touched, strict=True) if what):
            amended[entry.id] = told
    return Extras(amended=amended)


def _touched(root: Path, entry: ShownEntry, before: Seal, after: Seal) -> Iterator[str]:
    (old, old_body), (new, new_body) = _public_parts(root, before), _public_parts(root, after)
    if {"private", "draft"} & (old.keys() | new.keys()):
        return
    yield from dict.fromkeys(_(_TOLD[key]) for key in _TOLD if old.get(key) != new.get(key))
    if old_body != new_body:
        yield _("the text")
    shown = {photo.name for photo in entry.photos}
    pictures = sum(name in shown and before.files.get(name) != sha256 for name, sha256 in after.files.items())
    if pictures:
        yield say_count(pictures, "picture")


def _public_parts(root: Path, seal: Seal) -> tuple[dict[str, list[str]], str]:
    """(the lines of each key of the front matter, what everybody may read of the body) of a text as it was sealed; as
    of one that is private where it was not kept.
    """
    copy = root / text_uri(seal.text)
    if seal.withdrawn or not copy.is_file():
        return {"private": []}, ""
    text = copy.read_text("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
    _, front, body = [*re.split(r"^-{3,}[ \t]*$", text, maxsplit=2, flags=re.MULTILINE), "", ""][:3]
    keys = {key.casefold(): said_lines(lines) for key, _, lines in blocks(front.split("\n"))}
    return keys, cut_private(body).strip()
