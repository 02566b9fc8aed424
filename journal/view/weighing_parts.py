"""A weighing as site and binder show it: its tables, and the limits drawn with the empty aircraft and every loading."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from html import escape
from itertools import count

from journal.base.drawing import ON_THE_PAGE, Palette
from journal.base.model import BalanceLimit, Load, Weighing
from journal.base.quantities import KG_PER_POUND, MM_PER_INCH, say_decimal
from journal.base.words import N_, _
from journal.trade.weighing import (
    Balance,
    balance_of,
    case_balance,
    empty_balance,
    say_arm,
    say_moment,
    say_standing,
    say_weight,
    stands_outside,
)
from journal.view.page_parts import Table

_LOADS = (N_("What"), N_("Weight"), N_("Arm"), N_("Moment"))


def weighing_tables(weighing: Weighing) -> Iterator[Table]:
    """What the scales read, the equipment, the limits as written, and each loading summed up."""
    yield _sum_table(
        _("As weighed; arms from the datum, {datum}", datum=weighing.datum),
        [
            *(
                _load_row(scale, _("less tare {weight}", weight=say_weight(scale.tare)) if scale.tare else "")
                for scale in weighing.scales
            ),
            *(_load_row(load, _("correction")) for load in weighing.corrections),
        ],
        _("Empty weight and centre of gravity"),
        empty_balance(weighing),
    )
    if weighing.equipment:
        yield Table(
            caption=_("Equipment list"),
            columns=(_("What"), _("Weight"), _("Arm"), _("When weighed")),
            rows=tuple(
                (item.what, say_weight(item.weight), say_arm(item.arm), _("aboard") if item.fitted else _("not aboard"))
                for item in weighing.equipment
            ),
        )
    if weighing.limits or weighing.max_weight is not None:
        most = (
            _("Maximum weight as written: {weight}. ", weight=say_weight(weighing.max_weight))
            if weighing.max_weight
            else ""
        )
        several = len(weighing.limits) > 1
        line = _("Between two rows a straight line is drawn.") if several else ""
        yield Table(
            caption=_("Limits as the builder wrote them"),
            columns=(_("At a weight of"), _("Forward limit"), _("Aft limit")),
            rows=tuple(
                (
                    say_weight(row.weight) if several and row.weight is not None else _("every weight"),
                    say_arm(row.forward),
                    say_arm(row.aft),
                )
                for row in weighing.limits
            ),
            note=f"{most}{line}".strip(),
        )
    for number, case in enumerate(weighing.cases, start=1):
        whole = case_balance(weighing, case)
        empty = _row(_("Empty aircraft"), empty_balance(weighing))
        rows = [empty, *map(_load_row, case.loads)]
        yield _sum_table(
            f"{number}. {case.name}", rows, _("Sum"), whole, f"{case.name}: {say_standing(weighing, whole)}."
        )


def _load_row(load: Load, words: str = "") -> tuple[str, ...]:
    return _row(f"{load.what}, {words}" if words else load.what, balance_of([load]), load.arm)


def _row(what: str, sums: Balance, arm: Fraction | None = None) -> tuple[str, ...]:
    arm = sums.arm if arm is None else arm
    return what, say_weight(sums.weight), "—" if arm is None else say_arm(arm), say_moment(sums.moment)


def _sum_table(caption: str, rows: Iterable[tuple[str, ...]], name: str, sums: Balance, note: str = "") -> Table:
    return Table(caption=caption, columns=tuple(map(_, _LOADS)), rows=tuple(rows), sums=_row(name, sums), note=note)


# ---------------------------------------------------------------- the limits drawn

_WIDE, _TALL = 360, 316
_LEFT, _RIGHT, _TOP, _BASE = 56, 304, 26, 268
_ON_PAGE = "var(--label-face, 'Arial Narrow', sans-serif)"


def draw_limits(weighing: Weighing, *, palette: Palette = ON_THE_PAGE, face: str = _ON_PAGE) -> str:
    """Limits, empty aircraft and loadings as SVG, arms across and weights up; "" where no limits are written."""
    limits = _outline(weighing)
    if not limits:
        return ""
    empty = empty_balance(weighing)
    unladen = _("empty")
    points = [(unladen, _("empty aircraft"), empty)]
    points += [(str(n), case.name, case_balance(weighing, case)) for n, case in enumerate(weighing.cases, start=1)]
    shown = [(mark, name, sums, sums.arm) for mark, name, sums in points if sums.arm is not None]
    arms = [arm for limit in limits for arm in (limit.forward, limit.aft)] + [arm for *_, arm in shown]
    weights = [limit.weight or Fraction(0) for limit in limits] + [sums.weight for _, _, sums, _ in shown]
    across, up = _Scale(arms, _LEFT, _RIGHT), _Scale(weights, _BASE, _TOP)

    def text(x: float, y: float, words: str, anchor: str = "middle", weight: int = 500) -> str:
        return (
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-weight="{weight}" fill="{palette.ink}" '
            f'stroke="{palette.paper}" stroke-width="3" paint-order="stroke">{escape(words)}</text>'
        )

    parts = []
    for arm in across.ticks:
        x = across.at(arm)
        parts.append(f'<path d="M{x:.1f} {_TOP}V{_BASE}" stroke="{palette.ink}" stroke-width=".5" opacity=".35"/>')
        parts.append(text(x, _BASE + 16, _("{decimal} in", decimal=say_decimal(arm, 2))))
        parts.append(text(x, _BASE + 31, _("{decimal} mm", decimal=say_decimal(arm * MM_PER_INCH, 0))))
    for weight in up.ticks:
        y = up.at(weight)
        parts.append(f'<path d="M{_LEFT} {y:.1f}H{_RIGHT}" stroke="{palette.ink}" stroke-width=".5" opacity=".35"/>')
        parts.append(text(_LEFT - 5, y + 4, _("{decimal} lb", decimal=say_decimal(weight, 1)), "end"))
        parts.append(text(_RIGHT + 5, y + 4, _("{decimal} kg", decimal=say_decimal(weight * KG_PER_POUND, 0)), "start"))
    forward = [(limit.forward, limit.weight or Fraction(0)) for limit in limits]
    aft = [(limit.aft, limit.weight or Fraction(0)) for limit in reversed(limits)]
    shape = " ".join(f"{across.at(arm):.1f},{up.at(weight):.1f}" for arm, weight in (*forward, *aft))
    parts.append(
        f'<polygon points="{shape}" fill="{palette.done}" fill-opacity=".16" stroke="{palette.done}" stroke-width="2"/>'
    )
    told = []
    for number, (mark, name, sums, arm) in enumerate(shown):
        outside = mark != unladen and stands_outside(weighing, sums)
        x, y = across.at(arm), up.at(sums.weight)
        colour = palette.picked if outside else palette.ink
        # Outside is a cross and not a dot: nothing is told by colour alone.
        sign = (
            f"M{x - 5:.1f} {y - 5:.1f}l10 10m0 -10l-10 10"
            if outside
            else f"M{x - 4:.1f} {y:.1f}a4 4 0 1 0 8 0a4 4 0 1 0 -8 0"
        )
        fill = palette.paper if mark == unladen else colour
        parts.append(f'<path d="{sign}" fill="{fill}" stroke="{colour}" stroke-width="2"/>')
        side, anchor = (-8, "end") if number % 2 else (8, "start")
        parts.append(text(x + side, y - 6, _("{mark} outside", mark=mark) if outside else mark, anchor, 600))
        standing = "" if mark == unladen else f", {say_standing(weighing, sums)}"
        told.append(
            _(
                "{mark}, {name}: {weight} at {arm}{standing}",
                mark=mark,
                name=name,
                weight=say_weight(sums.weight),
                arm=say_arm(arm),
                standing=standing,
            )
        )
    title = _("Weight and centre of gravity against the limits as written")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="limits" viewBox="0 0 {_WIDE} {_TALL}" role="img" '
        f'aria-labelledby="limits-title limits-desc" font-family="{face}" font-size="12.5">'
        f'<title id="limits-title">{title}</title><desc id="limits-desc">{escape("; ".join(told))}.</desc>'
        f"{''.join(parts)}</svg>"
    )


def _outline(weighing: Weighing) -> list[BalanceLimit]:
    """The limits as rows with a weight: one that holds at every weight is drawn from below the lightest loading up to
    the maximum, or over the heaviest one.
    """
    if len(weighing.limits) != 1:
        return list(weighing.limits)
    (only,) = weighing.limits
    weights = [empty_balance(weighing).weight, *(case_balance(weighing, case).weight for case in weighing.cases)]
    ends = (min(weights) * Fraction(9, 10), weighing.max_weight or max(weights) * Fraction(11, 10))
    return [BalanceLimit(weight=end, forward=only.forward, aft=only.aft) for end in ends]


class _Scale:
    """Where figures stand between two places of a drawing, and round figures to name on it."""

    def __init__(self, figures: Iterable[Fraction], first: float, last: float) -> None:
        low, high = min(figures := list(figures)), max(figures)
        sizes = (digit * Fraction(10) ** power for power in count(-2) for digit in (1, 2, 5))
        step = next(size for size in sizes if high - low <= 5 * size)
        self._first, self._last = first, last
        self.low, self.high = (low / step // 1) * step - step / 2, -(-high / step // 1) * step + step / 2
        self.ticks = [low for n in range(12) if (low := self.low + step / 2 + n * step) <= self.high]

    def at(self, figure: Fraction) -> float:
        """The place of a figure."""
        return self._first + (self._last - self._first) * float((figure - self.low) / (self.high - self.low))
