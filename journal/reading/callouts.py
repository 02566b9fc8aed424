"""What the kit's manual asks for: callouts.csv, and `called_for` of a line. Source: docs/format.md, Call-outs."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from journal.base.addresses import fold_name
from journal.base.callout_words import LENGTHS, OF_LINES, PARTS, THREADS, TORQUED
from journal.base.model import CallOut
from journal.base.problems import nearest
from journal.base.quantities import LIMIT_HINT, TORQUE_HINT, Dimension, parse_head, parse_limit
from journal.reading.form import Form, KnownIds
from journal.reading.table import parse_whole, read_table
from journal.reading.text import Notes
from journal.reading.tree import Fields, Items, Scalar

COLUMNS = (
    ("step", "what"),
    ("part", "value", "tolerance", "drag", "count", "page", "edition", "answer"),
)

NEEDS = {**dict.fromkeys(TORQUED, Dimension.TORQUE), **dict.fromkeys(LENGTHS, Dimension.LENGTH)}
"""What a value measures where the word before it leaves no choice; a hole may be a drill, a leak test words."""

BARE = {"hole": Dimension.LENGTH, **dict.fromkeys(THREADS, Dimension.NUMBER)}
"""What a value without a unit measures, beside lengths."""

PARTS_HINT = "give `edge`, `hole`, `grip` or `shop head` a row of its own"

DRAG_WORDS = frozenset({"added", "included"})

LINE_KEYS = (
    *("value", "tolerance", "drag", "count", "page", "edition"),
    *("part", "edge", "hole", "shop_head", "nut", "locked"),
)
"""What `called_for` of a line may hold; each figure beside `value` goes by the line's own key for it."""

_SEVERAL = re.compile(r"\bor\b|[A-Za-z0-9]/[A-Za-z]|\*|;", re.IGNORECASE)
"""What tells several parts in one cell; a thread (1/4-28) has figures on both sides."""

NoteError = Callable[[str, str, str, str], None]
"""Notes an error in a cell or key: its name, code word, what is wrong, how to mend it."""


def read_callouts(path: Path, known: KnownIds, edition: str, notes: Notes) -> tuple[CallOut, ...]:
    """callouts.csv; `edition` is that of build.yml, for rows that name none. A row without a step holds everywhere."""
    callouts = []
    for row in read_table(path, *COLUMNS, notes):
        what = row.required("what")
        text, where = row.cells["step"]
        steps = known.step_ids([Scalar(text=text, where=where, quoted=True)], notes) if text else ()
        if what is None or (text and not steps):
            continue
        what = fold_name(what)
        if what not in OF_LINES and (near := nearest(what, OF_LINES, likeness=0.8)):
            said = f'"{what}" is compared with results of measurements alone'
            row.finding("what", "bad-call-out", said, f'did you mean "{near}"?')
        called = row.record(CallOut, what=what, steps=steps, edition=row.text("edition") or edition)
        called = _part_under_value(called)
        if called.what in PARTS and called.value:
            row.error("value", "bad-call-out", f'"{called.value}" does not say which figure it is', PARTS_HINT)
            continue
        if _SEVERAL.search(called.part):
            row.error("part", "bad-call-out", f'"{called.part}" is more than one part', "write a row for each")
            continue
        with notes.watching() as watch:
            read = _limited(called, row.text("tolerance"), row.error)
        if watch.failed:
            continue
        callouts += read
        if not called.judges:
            lacking = "page" if not called.page else "edition of the manual"
            said = f"this has no {lacking}, so nothing is compared with it"
            row.finding("page", "call-out-no-page", said, "give page and edition (the edition may stand in build.yml)")
    return tuple(callouts)


def _part_under_value(called: CallOut) -> CallOut:
    """The call-out with what stands as its value as its part, where that is a part and no other is named."""
    number = r".*" if called.what in PARTS else r"[A-Za-z]+-?[0-9]\S*" if called.what in TORQUED else r"(?!)"
    if called.part or parse_limit(called.value, Dimension.LENGTH) or not re.fullmatch(number, called.value):
        return called
    return replace(called, part=called.value, value="")


def read_called_for(form: Form, what: str, edition: str) -> tuple[CallOut, ...]:
    """What `called_for` of a line says: one text (its value) or a mapping; `what` is what the line is about."""
    node = form.value("called_for")
    if node is None:
        return ()
    if isinstance(node, Items):
        form.notes.error(node.where, "not-a-mapping", '"called_for" takes one value', "write `{value: …, page: …}`")
        return ()
    if isinstance(node, Scalar):
        node = Fields(pairs=((Scalar(text="value", where=node.where), node),), where=node.where)
    inner = form.inner(node, *LINE_KEYS)
    place: dict[str, Any] = {
        "page": inner.text("page"),
        "edition": inner.text("edition") or edition,
        "where": node.where,
    }

    def error(key: str, word: str, said: str, hint: str) -> None:
        form.notes.error(inner.place(key), word, said, hint)

    count = inner.parsed("count", parse_whole, "bad-number", "a whole number", "write it like 48")
    callouts = []
    main, part = inner.text("value"), inner.text("part")
    if what == "rivet" and not part and parse_limit(main, Dimension.LENGTH) is None:
        main, part = "", main
    elif what == "rivet" and main:
        error("value", "bad-call-out", f'"{main}" does not say which figure it is', "write `edge: …` or `hole: …`")
    if main or part or count is not None:
        callouts.append(CallOut(what=what, part=part, value=main, drag=inner.text("drag"), count=count, **place))
    for key in ("edge", "hole", "shop_head", "nut", "locked"):
        if text := inner.text(key):
            said: dict[str, Any] = {"part": text} if key == "nut" else {"value": text}
            callouts.append(CallOut(what=key.replace("_", " "), **said, **place))
    # Parts and words have no tolerance.
    figures = [bool(called.value) and called.what != "locked" for called in callouts]
    tolerances = [inner.text("tolerance") if figure else "" for figure in figures]
    if inner.text("tolerance") and not any(figures):
        alone = "a tolerance stands here without a figure, so nothing is compared with it"
        hint = "write the figure under `value`, or take it out"
        form.notes.finding(inner.place("tolerance"), "bad-call-out", alone, hint)
    return tuple(
        one
        for called, tolerance in zip(callouts, tolerances, strict=True)
        for one in _limited(called, tolerance, error)
    )


def _limited(called: CallOut, tolerance: str, error: NoteError) -> list[CallOut]:
    """The call-out with what its value and drag ask of a figure; a shop head by its two sides is two."""
    if called.what == "shop head" and (head := parse_head(called.value)):
        widths = zip(("shop head width", "shop head height"), head, strict=True)
        return [
            one
            for what, side in widths
            for one in _limited(replace(called, what=what, value=side.text), tolerance, error)
        ]
    needs = NEEDS.get(called.what)
    text = f"{called.value} {'' if tolerance[:1] in '+-±' else '±'}{tolerance}" if tolerance else called.value
    limit = parse_limit(text, needs if needs is Dimension.LENGTH else BARE.get(called.what))
    drag = called.drag.casefold() if called.drag.casefold() in DRAG_WORDS else called.drag
    drag_limit = parse_limit(drag)
    most = (limit.most if limit.most is not None else limit.least) if limit else None
    if text and needs and (limit is None or limit.dimension is not needs or (most or 0) < 0):
        kind, hint = (
            ("torque", f"{TORQUE_HINT}; a part stands under `part`")
            if needs is Dimension.TORQUE
            else ("length", LIMIT_HINT)
        )
        error("value", "bad-call-out", f'"{text}" is not a {kind}', hint)
    elif tolerance and limit is None:
        error("tolerance", "bad-call-out", f'"{text}" cannot be read', "write the tolerance like ±3 or +0.01 -0")
    if drag and drag not in DRAG_WORDS and (drag_limit is None or drag_limit.dimension is not Dimension.TORQUE):
        error("drag", "bad-call-out", f'"{drag}" is not a drag', "write a torque, or `added`, or `included`")
    return [replace(called, limit=limit, value=text, drag=drag, drag_limit=drag_limit)]
