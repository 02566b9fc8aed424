"""The call-outs that bear upon each line of an entry, and what the lines of a step make together.

A call-out of a step speaks of the lines of the entries that name the step, or of the one line whose `step` it is; one
without a step speaks of its part wherever that is used, unless the step has one of its own. `called_for` of a
line comes before both.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from journal.base.addresses import fold_name
from journal.base.callout_words import (
    EDGE,
    FASTENERS,
    GRIP,
    HEAD_HEIGHT,
    HEAD_WIDTH,
    HOLE,
    LOCK,
    MATERIAL,
    THREADS,
    TORQUED,
)
from journal.base.formatting import say_few
from journal.base.grouping import Groups, grouped
from journal.base.model import Build, CallOut, Entry, FastenerSet, Material, Measurement, State, TorqueSetting
from journal.base.problems import Problem, finding
from journal.base.quantities import Dimension, Limit, parse_quantity, say_figure, say_gap
from journal.ledger.progress import Progress, step_marks
from journal.trade.callouts import (
    NOTHING_ASKED,
    Judged,
    about,
    judge_figure,
    judge_part,
    judge_words,
    say_asked,
    say_place,
)
from journal.trade.fasteners import DEPARTS, handbook_limits, parse_hole, parse_rivet, with_drill
from journal.trade.figures import BRIEF, Standing
from journal.trade.hardware import read_part, same_part, same_purpose
from journal.trade.measured import judged_results
from journal.trade.torque import UNRECORDED, nut_figure, parse_bolt, speaks_of, torque_limits

Line = FastenerSet | TorqueSetting

CALLOUTS_FILE = "content/callouts.csv"
_MATTERS = (FASTENERS | TORQUED, EDGE, HOLE, HEAD_WIDTH, HEAD_HEIGHT, GRIP, THREADS, LOCK)


def part_of(line: Line) -> str:
    """The part that a line is about, as written."""
    return line.rivet if isinstance(line, FastenerSet) else line.bolt


def parts_used(line: Line) -> tuple[str, ...]:
    """Every part that a line uses up: its own, and the nut where that is told by its number."""
    nut = line.nut if isinstance(line, TorqueSetting) else ""
    return (part_of(line), nut) if read_part(nut).kind in ("nut", "nutplate") else (part_of(line),)


def lines_of(entry: Entry) -> tuple[Line, ...]:
    """Rivets, then bolts, as written."""
    return (*entry.fasteners, *entry.torque)


def steps_of(entry: Entry, line: Line | None = None) -> tuple[str, ...]:
    """The steps that a line may belong to: the one it names, else all of its entry."""
    return (line.step,) if line and line.step else tuple(dict.fromkeys(step for step, _ in step_marks(entry)))


_INDEX: list[tuple[tuple[CallOut, ...], Groups[str, CallOut]]] = []


def _of_steps(callouts: tuple[CallOut, ...], steps: Iterable[str]) -> list[CallOut]:
    """The call-outs of `steps` (of "": those that hold everywhere), each once. The list of the last build is kept
    sorted by step: it is asked for every line of every entry.
    """
    if not _INDEX or _INDEX[0][0] is not callouts:
        _INDEX[:] = [(callouts, grouped(callouts, lambda called: called.steps or ("",)))]
    return list(dict.fromkeys(called for step in steps for called in _INDEX[0][1][step]))


def callouts_for(entry: Entry, line: Line, build: Build) -> tuple[CallOut, ...]:
    """The call-outs that bear upon a line of an entry, its own first."""
    if not build.callouts:
        return line.called_for
    own, steps = line.called_for, list(steps_of(entry, line))
    if line.drilled_out and not line.step:
        # What is set anew belongs where the first lay.
        steps += [step for other in build.entries if other.id == line.drilled_out for step in steps_of(other)]
    taken = [words for words in _MATTERS if about(own, words)]
    of_steps, general = (
        [called for called in _of_steps(build.callouts, ids) if not any(called.what in words for words in taken)]
        for ids in (steps, [""])
    )
    of_steps = [called for called in of_steps if _may_concern(called, line)]
    named = {called.what for called in of_steps if called.part and _is_part(called, line)}
    return (*own, *of_steps, *(called for called in general if called.what not in named and _is_part(called, line)))


def _may_concern(called: CallOut, line: Line) -> bool:
    """A figure of another part is none of this line's; another part is what this one is held against."""
    kinds = FASTENERS if isinstance(line, FastenerSet) else TORQUED
    return not called.part or called.what in kinds or _is_part(called, line)


def _is_part(called: CallOut, line: Line) -> bool:
    if isinstance(line, TorqueSetting):
        return speaks_of(called.part, line)
    return bool(called.part) and same_part(called.part, line.rivet)


def check_callouts(build: Build, progress: Progress) -> Iterator[Problem]:
    """Findings call-out-unusual, and not-as-called-for of what the lines of done steps make together: how many were
    set, and which material was used.
    """
    for called in build.callouts:
        if called.value and called.what in HOLE | THREADS and not with_drill(called).limit:
            said, hint = f'"{called.value}" is no figure, so it judges nothing', "write it as #30, 3.2 mm, or 1 to 3"
            yield finding(CALLOUTS_FILE, called.where, "bad-call-out", said, hint)
        if not called.answer and (said := unusual(called, called.part)):
            hint = "correct the figure; or write under `answer` why it is right"
            yield finding(CALLOUTS_FILE, called.where, "call-out-unusual", f"{say_asked(called)}: {said}", hint)
    for entry in build.entries:
        for line in lines_of(entry):
            for called in line.called_for:
                if said := unusual(called, called.part or part_of(line)):
                    message = f"{called.part or part_of(line)}: {said}"
                    hint = "correct the figure, or say why it is right: `answers: {call-out-unusual: reason}`"
                    yield finding(entry.src_uri, called.where, "call-out-unusual", message, hint)
    yield from _counts(build, progress)
    yield from _materials(build, progress)
    yield from _unrecorded(build, progress)


def unusual(called: CallOut, part: str) -> str:
    """By how much a call-out lies beyond every source that was read, as a slip of the pen would; empty where it does
    not, or no source speaks of it.
    """
    limit = called.limit
    allowed = _handbooks_allow(called, part) if limit else None
    if limit is None or allowed is None or limit.dimension is not allowed.dimension:
        return ""
    lowest, highest = limit.least, limit.most
    low, high = lowest if lowest is not None else highest, highest if highest is not None else lowest
    if low is not None and allowed.most is not None and low > allowed.most:
        off, end, said = low - allowed.most, allowed.most, "over the highest"
    elif high is not None and allowed.least is not None and high < allowed.least:
        off, end, said = allowed.least - high, allowed.least, "under the lowest"
    else:
        return ""
    return (
        f"{called.value} is {say_gap(off, limit.dimension)} {said} that any source here gives, "
        f"{say_figure(end, limit.dimension)}; is it a slip of the pen?"
    )


def _handbooks_allow(called: CallOut, part: str) -> Limit | None:
    """From the lowest to the highest that any source gives; None where none speaks of it."""
    if called.what in TORQUED:
        bolt, _ = parse_bolt(part)
        return torque_limits(bolt.row, called.drag_limit) if bolt else None
    rivet, _ = parse_rivet(part)
    return handbook_limits(rivet).get(called.what) if rivet else None


NOT_RECORDED = "not recorded"
"""How a call-out stands whose steps are done, and of which nothing tells."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CallOutTrace:
    """A call-out and how it stands: the entries (IDs) whose lines it bears upon, the measurements of whose results it
    speaks, and a word for it.
    """

    called: CallOut
    state: str
    entries: tuple[str, ...] = ()
    measurements: tuple[str, ...] = ()


def trace_callouts(build: Build, progress: Progress) -> tuple[CallOutTrace, ...]:
    """Every row of callouts.csv in its order: as called for, not as called for, recorded (where nothing judges), not
    recorded though its steps are done, or to come.
    """
    bearing: dict[CallOut, list[tuple[Entry | Measurement, Judged]]] = defaultdict(list)
    replaced = replaced_by(build)
    for entry in build.entries:
        for line in (line for line in lines_of(entry) if (entry.id, line) not in replaced):
            callouts = callouts_for(entry, line, build)
            of_parts = [called for called in callouts if called.part and called.what in FASTENERS | TORQUED]
            of_parts = [called for called in of_parts if same_purpose(called.what, called.part, part_of(line))]
            another = judge_part(part_of(line), of_parts).standing is Standing.DEPARTS
            nuts = [called for called in callouts if called.what == "nut" and not called.limit]
            nut = nut_figure(line, nuts).standing if isinstance(line, TorqueSetting) and line.nut else None
            for called in callouts:
                if isinstance(line, TorqueSetting) and called in nuts:
                    one = nut_figure(line, [called])
                    if one.called_for and one.standing is nut:
                        bearing[called].append((entry, Judged(standing=nut)))
                    continue
                own = not called.part or _is_part(called, line)
                judged = _judge(called, line) if own else Judged(asked=called.part, standing=Standing.DEPARTS)
                if judged.asked and (own or (another and called in of_parts)):
                    bearing[called].append((entry, judged))
            for called in _replaced_by_own(entry, line, build):
                bearing[called].append((entry, Judged()))
    for measurement in build.measurements:
        for _, asked, judged in judged_results(measurement, build.callouts):
            for called in asked:
                bearing[called].append((measurement, judged))
        words = {fold_name(text) for text in (measurement.kind, *(result.what for result in measurement.results))}
        for called in (called for called in build.callouts if called.what in words):
            if set(called.steps) & set(measurement.steps):
                bearing[called].append((measurement, Judged()))
    for called, _, pairs, standing in _materials_used(build):
        bearing[called] += ((entry, Judged(standing=standing)) for entry, _ in pairs)
    return tuple(_traced(called, bearing[called], progress) for called in build.callouts)


def _replaced_by_own(entry: Entry, line: Line, build: Build) -> Iterator[CallOut]:
    """The rows of the list that `called_for` of a line stands for."""
    taken = [words for words in _MATTERS if about(line.called_for, words)]
    for called in _of_steps(build.callouts, steps_of(entry, line)) if taken else ():
        if any(called.what in words for words in taken):
            yield called


def _judge(called: CallOut, line: Line) -> Judged:
    """One call-out against the figure of a line that it is about; nothing asked where it is about none."""
    if not called.limit:
        if called.what in LOCK:
            locked = line.locked if isinstance(line, TorqueSetting) else ""
            return judge_words(locked, [called]) if locked else NOTHING_ASKED
        figure = parse_hole(line.hole) if called.what in HOLE and isinstance(line, FastenerSet) else None
        hole = with_drill(called) if figure else called
        return judge_figure(figure, [hole]) if figure else judge_part(called.part, [called])
    if called.what in GRIP:
        return judge_figure(line.grip, [called]) if line.grip else NOTHING_ASKED
    if isinstance(line, TorqueSetting):
        threads = parse_quantity(line.threads, Dimension.NUMBER) if called.what in THREADS else line.value
        return judge_figure(threads, [called], line.drag.value if line.drag else None) if threads else NOTHING_ASKED
    figures = ((EDGE, line.edge), (HEAD_WIDTH, line.shop_head_width), (HEAD_HEIGHT, line.shop_head_height))
    figure = next((recorded for words, recorded in figures if called.what in words), parse_hole(line.hole))
    return judge_figure(figure, [called]) if figure else NOTHING_ASKED


def _traced(called: CallOut, bearing: list[tuple[Entry | Measurement, Judged]], progress: Progress) -> CallOutTrace:
    standings = {judged.standing for _, judged in bearing}
    done = bool(called.steps) and all(progress.steps[step].state is State.DONE for step in called.steps)
    state = NOT_RECORDED if done else "to come" if called.steps else "not used yet"
    for standing in (Standing.DEPARTS, Standing.AS_CALLED_FOR, Standing.SHOWN):
        if standing in standings:
            state = standing.value or "recorded"
            break
    return CallOutTrace(
        called=called,
        state=state,
        entries=tuple(dict.fromkeys(told.id for told, _ in bearing if isinstance(told, Entry))),
        measurements=tuple(dict.fromkeys(told.id for told, _ in bearing if isinstance(told, Measurement))),
    )


@dataclass(slots=True)
class _Set:
    """Call-outs of one part and the lines that may belong to them, where no line parts them further."""

    asked: dict[CallOut, None]
    lines: list[tuple[Entry, Line]]


def _sets(build: Build) -> Iterator[_Set]:
    """What was set against what was asked, part by part: call-outs that share a line are added up together."""
    sets: list[_Set] = []
    for entry in build.entries:
        for line in lines_of(entry):
            asked = [
                called
                for called in _of_steps(build.callouts, steps_of(entry, line))
                if called.count is not None and called.part and _is_part(called, line)
            ]
            if not asked or line.drilled_out:
                continue
            meet = [one for one in sets if one.asked.keys() & set(asked)]
            joined = _Set(dict.fromkeys(asked), [])
            for one in meet:
                joined.asked |= one.asked
                joined.lines += one.lines
                sets.remove(one)
            joined.lines.append((entry, line))
            sets.append(joined)
    yield from sets


def _counts(build: Build, progress: Progress) -> Iterator[Problem]:
    """Fewer or more of a part than the manual asks, told at the last line of it once all of its steps are done."""
    for one in _sets(build):
        asked, counts = list(one.asked), [line.count for _, line in one.lines]
        done = all(progress.steps[step].state is State.DONE for called in asked for step in called.steps)
        if not done or None in counts or not all(called.judges for called in asked):
            continue
        wanted = sum(called.count * len(called.steps) for called in asked if called.count)
        made = sum(filter(None, counts))
        if made != wanted:
            entry, line = one.lines[-1]
            off = f"{abs(made - wanted)} {'more' if made > wanted else 'fewer'}"
            places = say_few([f"step {', '.join(called.steps)} ({say_place(called)})" for called in asked])
            said = f"{asked[0].part}: {made} are recorded, {off} than the {wanted} called for by {places}"
            yield _departs(entry, line.where, said, "count again, or write what was set elsewhere and why")


def _must_be_told(called: CallOut) -> bool:
    """Torques, materials and what is measured; a figure beside a rivet need not be written down, and a lock is told at
    its bolt.
    """
    torque = called.what in TORQUED and called.limit is not None
    return torque or called.what in MATERIAL or not any(called.what in words for words in _MATTERS)


def _unrecorded(build: Build, progress: Progress) -> Iterator[Problem]:
    """What must be told of done steps and is not, told at the entry that finished the last of them."""
    lacking: dict[str, list[CallOut]] = defaultdict(list)
    for trace in trace_callouts(build, progress):
        if trace.state == NOT_RECORDED and trace.called.judges and _must_be_told(trace.called):
            stands = [progress.steps[step] for step in trace.called.steps]
            last = max(stands, key=lambda one: one.done_on or date.min)
            lacking[last.done_in or ""].append(trace.called)
    for entry in (entry for entry in build.entries if entry.id in lacking):
        asked = say_few([f"{called.what} {say_asked(called)}" for called in lacking[entry.id]])
        said = f"done, and nothing recorded answers what the manual calls for: {asked}"
        hint = "write it into the entry that did it, or say why not: `answers: {call-out-unrecorded: reason}`"
        where = next((entry.where[key] for key in ("steps", "redone") if key in entry.where), None)
        yield finding(entry.src_uri, where, UNRECORDED, said, hint)


def is_material(called: CallOut, material: Material) -> bool:
    """Whether a batch is what a call-out asks for, by any of its names."""
    asked = fold_name(called.part or called.value)
    names = (fold_name(text) for text in (material.id, material.name, material.batch) if text)
    return any(asked in name or name in asked for name in names)


def _may_stand_for(called: CallOut, material: Material) -> bool:
    """A primer is not used in place of a sealant; what does not say what it is may be either."""
    kinds = {word for word in MATERIAL if word in fold_name(material.name)}
    return called.what == "material" or called.what in kinds or not kinds


def _materials_used(build: Build) -> Iterator[tuple[CallOut, str, list[tuple[Entry, Material]], Standing]]:
    """Each call-out for a material, step by step: what the entries of the step used of it, else what nothing calls for
    and may stand in its place.
    """
    told = ((entry, build.materials[one]) for entry in build.entries for one in entry.materials)
    used = grouped(told, lambda pair: steps_of(pair[0]))
    asked = [called for called in about(build.callouts, MATERIAL) if called.part or called.value]
    for called in asked:
        for step in called.steps:
            met = [pair for pair in used[step] if is_material(called, pair[1])]
            other = [one for one in asked if step in one.steps]
            strange = [
                (entry, material)
                for entry, material in used[step]
                if _may_stand_for(called, material) and not any(is_material(one, material) for one in other)
            ]
            if pairs := met or strange:
                judged = Standing.AS_CALLED_FOR if met else Standing.DEPARTS
                yield called, step, pairs, judged if called.judges else Standing.SHOWN


def _materials(build: Build, progress: Progress) -> Iterator[Problem]:
    """A done step whose entries name a material that the manual does not ask for, and none that it does."""
    for called, step, pairs, standing in _materials_used(build):
        if standing is Standing.DEPARTS and progress.steps[step].state is State.DONE:
            entry, names = pairs[-1][0], list(dict.fromkeys(material.name for _, material in pairs))
            said = f"step {step}: {say_few(names)} was used where {say_asked(called)} is called for"
            yield _departs(entry, entry.where.get("materials"), said, "name what was used")


def _departs(entry: Entry, where: tuple[int, int] | None, message: str, hint: str) -> Problem:
    return finding(entry.src_uri, where, DEPARTS, message, f"{hint}; {BRIEF}")


def replaced_by(build: Build) -> dict[tuple[str, Line], str]:
    """(entry, line) -> the later entry in which its fasteners were drilled out and set anew. Where a line names the
    entry it replaces, those of the same part are meant, else all there of its kind.
    """
    place = {entry.id: number for number, entry in enumerate(build.entries)}
    lines = {entry.id: lines_of(entry) for entry in build.entries}
    replaced: dict[tuple[str, Line], str] = {}
    for entry in build.entries:
        for line in lines[entry.id]:
            other = line.drilled_out
            if other is None or other not in place:
                continue
            if place[other] > place[entry.id]:
                replaced[entry.id, line] = other
                continue
            # In its own entry a line replaces the others, not itself.
            kind = [one for one in lines[other] if type(one) is type(line) and one.drilled_out != other]
            same = [one for one in kind if read_part(part_of(one)) == read_part(part_of(line))]
            for one in same or kind:
                replaced[other, one] = entry.id
    return replaced
