"""The last act of reading: nothing in a `Build` names what is not in it.

Where a list could not be read in full, IDs elsewhere are not held against it, or one slip would be told a
hundred times. What is left open by this is closed here, so that nobody above need ask whether an ID is there.
Which fields name what is written in the records themselves (`PersonID`, `StepID` … of `journal.base.model`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, is_dataclass, replace
from functools import cache
from typing import Any, get_args, get_type_hints

from journal.base.model import Build, Inspection, WriteUp, named

Listed = Mapping[str, Collection[str]]
"""The IDs of a build by the list they stand in: `people`, `steps`, `entries` …"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A field that holds IDs of `listed`; where it is `needed` the record is nothing without it."""

    field: str
    listed: str
    needed: bool


@cache
def references(kind: type) -> tuple[Reference, ...]:
    """The fields of a record that hold IDs of other records."""
    return tuple(
        Reference(field=field, listed=part.__metadata__[0], needed=part is hint)
        for field, hint in get_type_hints(kind, include_extras=True).items()
        for part in (hint, *get_args(hint))
        if hasattr(part, "__metadata__")
    )


@cache
def holders(kind: type) -> tuple[str, ...]:
    """The fields that hold, as a tuple or a mapping, records in which something refers to others."""
    return tuple(
        field
        for field, hint in get_type_hints(kind).items()
        for part in get_args(hint)
        if is_dataclass(part) and isinstance(part, type) and (references(part) or holders(part))
    )


def close_build(build: Build, beside: Collection[str] = ()) -> Build:
    """`build` without the references to records that are not in it, and without what is nothing lacking them.

    A reference that may be missing is taken out, and so is the time of a person who is not listed; an
    entry, a step, an inspection or a measurement that stands on nothing is left out, and what refers to it in its turn.
    What the files told beside that stays, the length of a session among it. Whatever goes was refused
    while reading or refers to what was: an error stands for it. A closed build comes back as it is.
    `beside` are entries that may be referred to, too.
    """
    while True:
        listed = listed_in(build)
        closed: Build = _closed(build, {**listed, "entries": {*listed["entries"], *beside}})
        if closed is build:
            return build
        build = closed


def listed_in(build: Build) -> Listed:
    """The IDs that may be referred to. A draft is an entry, too."""
    entries = {entry.id for entry in (*build.entries, *build.drafts)}
    return {**named(build, "people", "places", "assemblies", "steps", "materials"), "entries": entries}


def _closed(record: Any, listed: Listed) -> Any:
    """The record itself where nothing is amiss, a trimmed one, or None where it cannot stand."""
    kind: type = type(record)
    changes: dict[str, Any] = {}
    for reference in references(kind):
        value, known = getattr(record, reference.field), listed[reference.listed]
        if isinstance(value, tuple):
            if not all(one in known for one in value):
                changes[reference.field] = tuple(one for one in value if one in known)
        elif value is not None and value not in known:
            if reference.needed:
                return None
            changes[reference.field] = None
    for field in holders(kind):
        held = getattr(record, field)
        keys = tuple(held) if isinstance(held, Mapping) else range(len(held))
        kept = {key: closed for key in keys if (closed := _closed(held[key], listed)) is not None}
        if len(kept) < len(held) or any(kept[key] is not held[key] for key in keys):
            changes[field] = kept if isinstance(held, Mapping) else tuple(kept.values())
    if not changes:
        return record
    closed = replace(record, **changes)
    if isinstance(closed, WriteUp) and not closed.people:
        return None
    return None if isinstance(closed, Inspection) and not (closed.assembly or closed.steps) else closed
