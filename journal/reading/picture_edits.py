"""What front matter says of the shown copies of a picture or film: turn, crop, blur; from, to, poster, sound."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from journal.base.model import Cut, Edits, Part, PictureTurn
from journal.reading.form import Form
from journal.reading.tree import Items, Node, Scalar

EDIT_KEYS = ("turn", "crop", "blur")
CUT_KEYS = ("from", "to", "poster", "sound")

_SHARE = r"(\d+(?:\.\d*)?|\.\d+)\s*(%?)"
_PART = re.compile(rf"{_SHARE}(?:\s*[,\s]\s*){_SHARE}(?:\s*[,\s]\s*){_SHARE}(?:\s*[,\s]\s*){_SHARE}", re.ASCII)
_MOMENT = re.compile(r"(?:(?:(\d+):)?(\d+):)?(\d+(?:\.\d{1,3})?)\s*(?:s|sec|seconds?)?", re.ASCII | re.IGNORECASE)
_PART_HINT = "write left, top, right and bottom as fractions of the picture: 0.10 0.25 0.40 0.60"


def read_edits(form: Form) -> tuple[Edits, bool]:
    """(edits, whether any could not be read); then the picture is kept back, or what was to be hidden would show."""
    told = len(form.notes.problems)
    turn = form.choice("turn", PictureTurn)
    crops, blurs = _parts(form, "crop"), _parts(form, "blur")
    if len(crops) > 1:
        form.notes.error(form.place("crop"), "bad-part", '"crop" takes one rectangle', _PART_HINT)
    edits = Edits(turn=turn, crop=crops[0] if crops else None, blur=crops[1:] + blurs if crops else blurs)
    empty = [key for key in EDIT_KEYS if key in form.places and form.value(key) is None]
    for key in empty:
        form.notes.error(form.place(key), "bad-part", f'"{key}" says nothing', "write it, or take the line out")
    return edits, len(form.notes.problems) > told


def _parts(form: Form, key: str) -> tuple[Part, ...]:
    """Every rectangle under `key`: one text, several parted by `;`, four numbers in a list, or a list of these."""
    node = form.value(key)
    if node is None:
        return ()
    nodes = node.nodes if isinstance(node, Items) and not _is_four(node) else (node,)
    parts = []
    for item in nodes:
        scalar = _as_text(item)
        for said in re.split(r"\s*;\s*", scalar.text.strip()) if scalar else ("",):
            part = parse_part(said)
            if part is None:
                what = f'"{said}" is not a part of a picture' if said else f'"{key}" takes a rectangle'
                form.notes.error(item.where, "bad-part", what, _PART_HINT)
            else:
                parts.append(part)
    return tuple(parts)


def _is_four(node: Items) -> bool:
    return len(node.nodes) == 4 and all(
        isinstance(one, Scalar) and re.fullmatch(_SHARE, one.text) for one in node.nodes
    )


def _as_text(node: Node) -> Scalar | None:
    if isinstance(node, Items) and _is_four(node):
        texts = [one.text for one in node.nodes if isinstance(one, Scalar)]
        return Scalar(text=" ".join(texts), where=node.where)
    return node if isinstance(node, Scalar) else None


def parse_part(text: str) -> Part | None:
    """The rectangle of `0.10 0.25 0.40 0.60`, in fractions or with `%`; None where it is none, or holds nothing."""
    found = _PART.fullmatch(text.strip().strip("[]()").strip())
    if found is None:
        return None
    numbers = found.groups()
    left, top, right, bottom = (
        Fraction(numbers[at].rstrip(".") or "0") / (100 if numbers[at + 1] else 1) for at in range(0, 8, 2)
    )
    return (left, top, right, bottom) if left < right <= 1 and top < bottom <= 1 else None


def edit_pairs(edits: Edits) -> dict[str, str]:
    """The keys that say this, with their values as `read_edits` reads them; empty where nothing is said."""

    def said(part: Part) -> str:
        return " ".join(f"{Decimal(edge.numerator) / edge.denominator:f}" for edge in part)

    told = {
        "turn": edits.turn.value if edits.turn else "",
        "crop": said(edits.crop) if edits.crop else "",
        "blur": "; ".join(map(said, edits.blur)),
    }
    return {key: value for key, value in told.items() if value}


def read_cut(form: Form) -> tuple[Cut, bool]:
    """(cut of a clip, whether any of it could not be read)."""
    told = len(form.notes.problems)

    def moment(key: str) -> Decimal | None:
        return form.parsed(key, parse_moment, "bad-moment", "a moment of a film", "write seconds, or 1:05")

    cut = Cut(start=moment("from"), end=moment("to"), poster=moment("poster"), sound=form.flag("sound"))
    if cut.end is not None and cut.end <= (cut.start or 0):
        form.notes.error(form.place("to"), "bad-moment", "the film ends before it begins", "put `to` after `from`")
        cut = replace(cut, end=None)
    return cut, len(form.notes.problems) > told


def cut_pairs(cut: Cut) -> dict[str, str]:
    """The keys that say this, with their values as `read_cut` reads them."""
    moments = {"from": cut.start, "to": cut.end, "poster": cut.poster}
    told = {key: f"{moment:f}" for key, moment in moments.items() if moment is not None}
    return told | ({"sound": "true"} if cut.sound else {})


def parse_moment(text: str) -> Decimal | None:
    """Seconds of `12`, `12.5 s`, `1:05` or `1:02:05`, at most a day; None for anything else."""
    found = _MOMENT.fullmatch(text.strip())
    if found is None:
        return None
    hours, minutes, seconds = found[1] or 0, found[2] or 0, Decimal(found[3])
    if (found[2] and seconds >= 60) or (found[1] and int(minutes) >= 60):
        return None
    whole = int(hours) * 3600 + int(minutes) * 60 + seconds
    return whole if whole <= 86_400 else None
