"""How much a finding weighs, by its code word: what nobody can see again and what is unsafe comes first. Pure."""

from __future__ import annotations

from enum import IntEnum


class Weight(IntEnum):
    """From what can wait to what an inspector would stop at; the values are only an order."""

    NEATNESS = 0
    NOT_SHOWN = 1
    SPEAKS_AGAINST_ITSELF = 2
    SAFETY = 3
    CLOSED_STRUCTURE = 4


_WORDS: dict[Weight, str] = {
    Weight.CLOSED_STRUCTURE: "closed-not-passed closed-findings-open closed-steps-open leak-test-open "
    "closed-unseen closed-uninspected inspected-alone inspected-early inside-late closing-next leak-test-early",
    Weight.SAFETY: "not-as-called-for rivet-length edge-distance shop-head torque-low torque-over-maximum drag-missing "
    "drag-unusual wrench-missing wrench-unlisted wrench-overdue tool-overdue material-expired outside-limits "
    "call-out-unrecorded bulletin-open finding-open weighing-lacks checked-alone",
    Weight.SPEAKS_AGAINST_ITSELF: "seal-chain changed-after-seal seal-head seal-clock sealed-late time-stamp "
    "finding-closed bulletin-early photo-shared photo-time photo-date hours-twice day-copied paid-unlisted "
    "worker-unlisted paid-help paid-not-counted task-worked step-twice redone-first long-day future-date before-begun "
    "folder-date call-out-unusual",
    Weight.NOT_SHOWN: "no-photo no-text no-place no-people no-hours nobody-at-work camera-clock no-capture-time "
    "long-gap task-no-photo call-out-no-page hardware-short photo-unreadable",
}
_BY_WORD = {word: weight for weight, words in _WORDS.items() for word in words.split()}


def weight_of(word: str) -> Weight:
    """What a finding of this code word weighs; whatever has no place in the table is a matter of neatness."""
    return _BY_WORD.get(word, Weight.NEATNESS)
