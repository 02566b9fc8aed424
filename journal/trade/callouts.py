"""What was done held against what the kit's manual asks for. Where a call-out has page and edition it alone judges."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from journal.base.addresses import fold_name
from journal.base.model import CallOut
from journal.base.quantities import Quantity, say_figure, say_gap
from journal.trade.figures import Standing
from journal.trade.hardware import same_part, same_purpose

ADDED = "added"
"""Under `drag`: the manual's value is without the friction drag, which is added to it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What was asked, in words with its page, and how the work compares; `asked` is empty where nothing was."""

    asked: str = ""
    standing: Standing = Standing.SHOWN
    remark: str = ""


NOTHING_ASKED = Judged()


def about(callouts: Iterable[CallOut], words: Collection[str]) -> tuple[CallOut, ...]:
    """The call-outs that begin with one of `words`."""
    return tuple(called for called in callouts if called.what in words)


def say_place(called: CallOut) -> str:
    """`page 7-31, edition 3`: where it stands in the manual."""
    edition = f"edition {called.edition}" if called.edition else ""
    said = re.match(r"[^\W\d]+[. ]", called.page)  # `S. 12` says itself what it is
    page = called.page if said else f"page {called.page}" if called.page else ""
    return ", ".join(text for text in (page, edition) if text)


def say_asked(called: CallOut) -> str:
    """What a call-out asks, and where it stands."""
    asked = " ".join(text for text in (called.part, called.value) if text) or called.what
    return f"{asked} ({say_place(called) or 'page not given'})"


def _asked(callouts: Sequence[CallOut]) -> str:
    return "; or ".join(dict.fromkeys(say_asked(called) for called in callouts))


def judge_figure(
    figure: Quantity | None, callouts: Sequence[CallOut], drag: Fraction | None = None, named: str = ""
) -> Judged:
    """A figure against what was asked of it: right where any of `callouts` is met, else told by the nearest.

    `drag` (in-lb) is added to a value that is given without it, and `named` says what the figure is. Nothing is judged
    where the figure was not recorded, or where no call-out has page and edition.
    """
    limits = [called for called in callouts if called.limit]
    if not limits:
        return NOTHING_ASKED
    judging = [called for called in limits if called.judges]
    if figure is None or not judging:
        return Judged(asked=_asked(limits), remark="" if figure is None else "no page or edition, so it judges nothing")
    off = {
        called: called.limit.off(figure, (drag or Fraction(0)) if called.drag == ADDED else Fraction(0))
        for called in judging
        if called.limit and called.limit.dimension is figure.dimension
    }
    if not off:
        return Judged(asked=_asked(limits), remark="measured in another kind of unit, so it is not compared")
    nearest = min(off, key=lambda called: abs(off[called]))
    if not off[nearest]:
        return Judged(asked=say_asked(nearest), standing=Standing.AS_CALLED_FOR)
    return Judged(
        asked=_asked(limits),
        standing=Standing.DEPARTS,
        remark=f"{named} {figure.text or say_figure(figure.value, figure.dimension)} is ".lstrip()
        + f"{say_gap(off[nearest], figure.dimension)} {'over' if off[nearest] > 0 else 'under'} "
        f"{nearest.value} ({say_place(nearest)})",
    )


def judge_part(used: str, callouts: Sequence[CallOut]) -> Judged:
    """A part against those asked for: right where one of them is it. A nutplate is none in place of a screw."""
    named = [called for called in callouts if called.part and same_purpose(called.what, called.part, used)]
    if not named:
        return NOTHING_ASKED
    met = [called for called in named if same_part(called.part, used)]
    if met:
        return Judged(
            asked=_parts(met), standing=Standing.AS_CALLED_FOR if any(one.judges for one in met) else Standing.SHOWN
        )
    if not any(called.judges for called in named):
        return Judged(asked=_parts(named), remark="no page or edition, so it judges nothing")
    return Judged(
        asked=_parts(named), standing=Standing.DEPARTS, remark=f"{used} was used where {_parts(named)} is called for"
    )


def _parts(callouts: Sequence[CallOut]) -> str:
    return " or ".join(dict.fromkeys(f"{called.part} ({say_place(called) or 'page not given'})" for called in callouts))


_NEGATIONS = frozenset({"no", "not", "none", "without", "never", "nothing", "zero", "nil", "0"})


def judge_words(said: str, callouts: Sequence[CallOut]) -> Judged:
    """Words against words, as `cotter pin`: met where one has all the words of the other and neither denies alone."""
    asked = [called for called in callouts if called.value]
    if not asked:
        return NOTHING_ASKED
    if not said or not any(called.judges for called in asked):
        return Judged(asked=_asked(asked))
    met = any(same_words(said, called.value) for called in asked)
    return Judged(
        asked=_asked(asked),
        standing=Standing.AS_CALLED_FOR if met else Standing.DEPARTS,
        remark="" if met else f"{said} was used where {_asked(asked)} is called for",
    )


def same_words(said: str, asked: str) -> bool | None:
    """Whether two texts say the same: one has all the words of the other, and neither denies alone. None where they
    share no word and nobody can tell.
    """
    said_words, asked_words = (_WORD.findall(fold_name(text)) for text in (said, asked))
    denied, denied_too = not _NEGATIONS.isdisjoint(said_words), not _NEGATIONS.isdisjoint(asked_words)
    words, others = ({_ENDING.sub("", word) for word in text} - _NEGATIONS for text in (said_words, asked_words))
    if words.isdisjoint(others):
        return None if words and others else denied == denied_too
    return denied == denied_too and (words <= others or others <= words)


_WORD = re.compile(r"[0-9]+[.,][0-9]+|\w+")
_ENDING = re.compile(r"(?<=\w{4})ing$|s$")
