"""What a phone sends, as JSON, checked before anything is done with it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from typing import Any

from journal.base.text_files import one_line

KINDS = frozenset({"start", "stop", "step", "note", "fasteners", "torque", "material", "measured", "picture", "close"})
LONGEST_TEXT = 20_000
MOST = 50
OLDEST = timedelta(days=60)
"""What waits on a phone for longer was sent by a clock that is wrong."""

_KEY = re.compile(r"[0-9a-f]{16,32}")
_ROWS: Mapping[str, Collection[str]] = {
    "fasteners": ("rivet", "screw", "nutplate", "part", "grip", "count", "shop_head", "edge", "hole"),
    "torque": ("bolt", "screw", "fitting", "part", "nut", "value", "drag", "wrench", "count", "locked"),
    "measured": ("what", "value"),
}


class RefusedError(Exception):
    """It cannot be taken, and nothing was written; the message is for the one at the bench. `asks` names what the page
    should ask for, or is empty.
    """

    def __init__(self, message: str, asks: str = "") -> None:
        super().__init__(message)
        self.asks = asks


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One thing sent. `at` is local time at the build, by the phone's clock put right by ours, to the second.

    `key` tells it from all others, and is the same when it is sent again. `row` is a line of hardware or a result,
    `until` a time of the day, `mark` a key of an entry (`begun`, `steps`, `redone`), `titles` are those of entries
    (empty: as it is) and `hours` what each worked, `items` are batches that were used, or entries that are finished.
    """

    key: str
    kind: str
    at: datetime
    assembly: str = ""
    step: str = ""
    mark: str = ""
    text: str = ""
    until: str = ""
    private: bool = False
    size: int = 0
    people: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    row: Mapping[str, str] = field(default_factory=dict)
    titles: Mapping[str, str] = field(default_factory=dict)
    hours: Mapping[str, str] = field(default_factory=dict)


def is_key(text: object) -> bool:
    """Whether this is a key as phones make them: hexadecimal digits, and nothing that could be a path."""
    return isinstance(text, str) and _KEY.fullmatch(text) is not None


def read_sent(told: object, now: datetime, zone: tzinfo | None) -> Sent:
    """What JSON tells, `now` with a zone being our own time; `zone` is that of the build. Raises RefusedError."""
    kind = str(told.get("kind")) if isinstance(told, Mapping) else ""
    if not isinstance(told, Mapping) or not is_key(told.get("key")) or kind not in KINDS:
        raise RefusedError("This was not sent by the page.")
    row = _texts(told.get("row"))
    if strangers := row.keys() - set(_ROWS.get(kind, ())):
        raise RefusedError(f"A line has no {', '.join(sorted(strangers))}.")
    return Sent(
        key=str(told["key"]),
        kind=kind,
        at=_moment(told, now, zone),
        text=_text(told, "text", LONGEST_TEXT),
        **{name: one_line(_text(told, name, 200)) for name in ("assembly", "step", "mark", "until")},
        private=told.get("private") is True,
        size=told["size"] if isinstance(told.get("size"), int) else 0,
        people=_names(told, "people"),
        items=_names(told, "items"),
        row=row,
        titles=_texts(told.get("titles"), empty=True),
        hours=_texts(told.get("hours")),
    )


def _moment(told: Mapping[str, Any], now: datetime, zone: tzinfo | None) -> datetime:
    """When it happened: as long ago as the phone says, so that its clock may be wrong."""
    at, sent = told.get("at"), told.get("now")
    if not isinstance(at, (int, float)) or not isinstance(sent, (int, float)):
        raise RefusedError("This was not sent by the page.")
    try:
        ago = timedelta(milliseconds=max(0, sent - at))
    except (OverflowError, ValueError):
        ago = timedelta.max
    if ago > OLDEST:
        raise RefusedError("By the phone's clock this is more than 60 days old; write it up at the desk.")
    return (now - ago).astimezone(zone).replace(tzinfo=None, microsecond=0)


def _text(told: Mapping[str, Any], name: str, longest: int) -> str:
    text = told.get(name, "")
    if not isinstance(text, str):
        raise RefusedError("This was not sent by the page.")
    if len(text) > longest:
        raise RefusedError(f"This is longer than the {longest:,} letters that one note may have.")
    lines = (one_line(line) for line in re.split(r"\r\n?|[\n\x0b\x0c\x85\u2028\u2029]", text))
    return "\n".join(lines).strip()


def _names(told: Mapping[str, Any], name: str) -> tuple[str, ...]:
    names = told.get(name, [])
    if not isinstance(names, list) or len(names) > MOST or not all(isinstance(one, str) for one in names):
        raise RefusedError("This was not sent by the page.")
    return tuple(dict.fromkeys(one_line(one[:200]) for one in names))


def _texts(told: object, *, empty: bool = False) -> dict[str, str]:
    """Names and what is said of each, on one line; what is empty is left out, unless `empty` may stay."""
    if told is None:
        return {}
    if not isinstance(told, Mapping) or len(told) > MOST:
        raise RefusedError("This was not sent by the page.")
    pairs = {one_line(name): one_line(text[:500]) for name, text in told.items() if isinstance(text, str)}
    return {name: text for name, text in pairs.items() if text or empty}
