"""Steps replayed: not begun, under way, done, reopened, done over."""

from __future__ import annotations

from datetime import date

from hypothesis import given
from hypothesis import strategies as st
from making import MakeBuild, entry, read

from journal.base.model import Aircraft, Assembly, Build, Entry, State, Step
from journal.ledger.progress import replay

ASSEMBLIES = {"flaps": Assembly(id="flaps", title="Flaps"), "shop": Assembly(id="shop", title="Shop")}
STEPS = {name: Step(id=name, assembly="flaps", title=name) for name in ("5.1", "5.2")}
STORY = st.lists(st.tuples(st.sampled_from(["begun", "steps", "redone"]), st.sampled_from(sorted(STEPS))), max_size=12)


def build_of(story: list[tuple[str, str]]) -> Build:
    """One entry a day, each doing one thing to one step."""
    entries = tuple(
        Entry(
            id=f"e{number:02d}",
            src_uri="",
            date=date(2026, 1, 1 + number),
            title="",
            assembly="flaps",
            **{key: (step,)},  # type: ignore[arg-type]
        )
        for number, (key, step) in enumerate(story)
    )
    return Build(aircraft=Aircraft(name="Tarn"), assemblies=ASSEMBLIES, steps=STEPS, entries=entries)


@given(STORY)
def test_the_last_word_on_a_step_decides(story: list[tuple[str, str]]) -> None:
    """A step is done if the last thing said of it was that it was done or done over."""
    progress = replay(build_of(story))
    for step in STEPS:
        said = [key for key, name in story if name == step]
        expected = State.NOT_BEGUN if not said else State.UNDER_WAY if said[-1] == "begun" else State.DONE
        assert progress.steps[step].state is expected
        assert progress.steps[step].times_done_over == said.count("redone")


@given(STORY)
def test_counts_by_day_agree_with_a_replay_up_to_that_day(story: list[tuple[str, str]]) -> None:
    """The state on a day is what a replay of the entries up to it gives."""
    whole = replay(build_of(story))
    for number in range(len(story)):
        day = date(2026, 1, 1 + number)
        part = replay(build_of(story[: number + 1]))
        assert whole.steps_done_on[day] == part.steps_done
        assert whole.states_on[day] == {name: a.state for name, a in part.assemblies.items()}


def test_the_life_of_a_step(make_build: MakeBuild) -> None:
    """Begun, done, reopened (not counted as done), done over."""
    files = {
        f"entries/{number}/index.md": entry(f"date: 2026-02-0{number}\n{matter}")
        for number, matter in enumerate(["begun: [5.1]", "steps: [5.1]", "begun: [5.1]", "redone: [5.1]"], start=1)
    }
    words = []
    for upto in range(1, 5):
        part = {name: text for name, text in files.items() if int(name.split("/")[1]) <= upto}
        step = replay(read(make_build(part))[0]).steps["5.1"]
        words.append((step.word, step.state, step.times_done_over))
    assert words == [
        ("under way", State.UNDER_WAY, 0),
        ("done", State.DONE, 0),
        ("reopened", State.UNDER_WAY, 0),
        ("done over", State.DONE, 1),
    ]


def test_an_assembly_is_done_with_its_last_step(make_build: MakeBuild) -> None:
    """Not begun, under way, done; one without steps never claims to be done."""
    files = {
        "entries/1/index.md": entry("steps: [5.1 to 5.3]"),
        "entries/2/index.md": entry("date: 2026-02-08\nsteps: [5.4]"),
        "entries/3/index.md": entry("date: 2026-02-08\nassembly: workshop"),
    }
    progress = replay(read(make_build(files))[0])
    assert progress.states_on[date(2026, 2, 7)]["flaps"] is State.UNDER_WAY
    assert {name: a.state for name, a in progress.assemblies.items()} == {
        "workshop": State.UNDER_WAY,
        "flaps": State.DONE,
        "left-wing": State.NOT_BEGUN,
    }


def test_drafts_change_no_state(make_build: MakeBuild) -> None:
    """A draft does nothing to a step."""
    build, _ = read(make_build({"entries/1/index.md": entry("steps: [5.1]\ndraft: true")}))
    assert replay(build).steps["5.1"].state is State.NOT_BEGUN
