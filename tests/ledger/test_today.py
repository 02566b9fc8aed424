"""What is going on in a build on a day: each thing that is told, and the same where there is nothing to tell."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest
from making import BUILD_YML, MakeBuild, entry

from journal.base.model import Photo, PhotoFacts
from journal.ledger.journal import Journal, open_journal
from journal.ledger.today import MOST, TodayLine, running_clocks, today_of

DAY = date(2026, 3, 1)
STEPS = """\
assembly,step,title,page,closes,same_as
flaps,5.1,Deburr the ribs,5-1,,
flaps,5.2,Drill the skeleton,5-2,,
flaps,5.3,Rivet the skeleton,5-3,,
flaps,5.4,Close the flap,5-4,both flaps,
left-wing,7.1,Prepare the spar,7-1,,5.1
left-wing,7.2,Fit the ribs,,,5.3
left-wing,7.3,Bolt the bracket,7-3,,
left-wing,7.4,Seal the tank,7-4,,
left-wing,7.10,Close the wing,7-9,yes,
"""
CALLOUTS = """\
step,what,part,value,drag,count,page,edition
7.2,rivet,AN470AD4-5,,,40,7-5,C
7.2,edge,,at least 0.25 in,,,7-5,C
7.3,bolt,AN4-10A,50 to 70 in-lb,added,2,7-6,C
7.4,sealant,tank sealant,,,,7-8,C
7.4,gap,,,,,,
"""

CAUTION = (
    "The kit’s manual and drawings come first, then the rules of the authority, then the word of a licensed inspector."
)


def opened(make_build: MakeBuild, files: dict[str, str], today: date = DAY) -> Journal:
    """A build opened on a day; `entries` may be given by name alone."""
    whole = {name if "." in name else f"entries/{name}/index.md": text for name, text in files.items()}
    return open_journal(make_build({"steps.csv": STEPS, **whole}), today)


def lines(journal: Journal, key: str, sealed: tuple[str, ...] = ()) -> list[str]:
    """What one part says."""
    return [line.text for line in told(journal, key, sealed)]


def told(journal: Journal, key: str, sealed: tuple[str, ...] = ()) -> tuple[TodayLine, ...]:
    """The lines of one part."""
    return next((part.lines for part in today_of(journal, sealed) if part.key == key), ())


def test_nothing_is_told_of_an_empty_build(make_build: MakeBuild) -> None:
    """No entry and no draft, nothing that expires."""
    assert today_of(opened(make_build, {})) == ()


def test_steps_begun_and_not_finished(make_build: MakeBuild) -> None:
    """Since the entry that began them, or opened them again; drafts take part, and what a draft finishes is done."""
    journal = opened(
        make_build,
        {
            "a": entry("date: 2026-02-01\nbegun: [5.1, 5.2, 5.3]"),
            "b": entry("date: 2026-02-02\nbegun: [5.2]\nsteps: [5.1]"),
            "c": entry("date: 2026-02-03\nbegun: [5.1]\nprivate: true"),
            "d": entry("date: 2026-02-28\nsteps: [5.3]\ndraft: true"),
        },
    )
    assert told(journal, "under-way") == (
        TodayLine("Flaps, last worked on 28 February 2026 (1 day ago, in a draft): 0 of 4 steps done", "d"),
        TodayLine(
            "5.1 Deburr the ribs: opened again on 3 February 2026 (26 days ago) and not finished", "c", "5.1", True
        ),
        TodayLine("5.2 Drill the skeleton: begun on 1 February 2026 (28 days ago) and not finished", "a", "5.2"),
    )


def test_an_old_draft_does_not_open_what_was_finished_since(make_build: MakeBuild) -> None:
    """The days decide, not whether it is a draft."""
    files = {"a": entry("date: 2026-02-01\nbegun: [5.1]\ndraft: true"), "b": entry("date: 2026-02-02\nsteps: [5.1]")}
    assert lines(opened(make_build, files), "under-way") == [
        "Flaps, last worked on 2 February 2026 (27 days ago): 1 of 4 steps done"
    ]


def test_clocks_that_run(make_build: MakeBuild) -> None:
    """By the name that is shown, else privately by the full one; of another day they ask. In entries they are none."""
    clocks = "# clock: {} since {}\ndraft: {}"
    journal = opened(
        make_build,
        {
            "a": entry("date: 2026-02-28\n" + clocks.format("bo", "2026-02-28 21:05", "true")),
            "b": entry("date: 2026-03-01\n" + clocks.format("ada", "2026-03-01 18:30", "true")),
            "c": entry("date: 2026-02-20\n" + clocks.format("ada", "2026-02-20 08:00", "true")),
            "d": entry("date: 2026-03-01\n" + clocks.format("ada", "2026-03-01 09:00", "false")),
        },
    )
    assert told(journal, "under-way")[:3] == (
        TodayLine("Ada’s clock has run since 18:30", "b"),
        TodayLine(
            "Bo Lindqvist’s clock has run since yesterday, 21:05: when did Bo Lindqvist stop?", "a", private=True
        ),
        TodayLine("Ada’s clock has run since 20 February 2026, 08:00: when did Ada stop?", "c"),
    )
    assert len(told(journal, "under-way")) == 4


@pytest.mark.parametrize(
    ("text", "clocks"),
    [
        ("---\n# clock: ada since 2026-02-07 18:30\n---\n", (("ada", datetime(2026, 2, 7, 18, 30)),)),
        ("\n---\ndate: x\n#clock: a b since 2026-02-07 18:30 \n---\n", (("a b", datetime(2026, 2, 7, 18, 30)),)),
        ("---\n# clock: ada since 2026-02-30 18:30\n---\n", ()),
        ("---\n# clock: ada since 18:30\n---\n", ()),
        ("---\ndate: x\n---\n# clock: ada since 2026-02-07 18:30\n", ()),
        ("---\ntitle: the # clock: ada since 2026-02-07 18:30\n---\n", ()),
        ("", ()),
    ],
)
def test_a_clock_is_a_line_of_the_front_matter(text: str, clocks: tuple[object, ...]) -> None:
    """With a person and a moment; anything else is a comment like any other."""
    assert running_clocks(text) == clocks


def bare(journal: Journal, name: str, captions: tuple[str, ...]) -> Journal:
    """The same with pictures of these captions in one entry, and one that shows nothing."""
    photos = [Photo(name=f"{at}.jpg", src_uri=f"{at}.jpg", caption=said) for at, said in enumerate(captions)]
    photos.append(Photo(name="x.jpg", src_uri="x.jpg", facts=PhotoFacts(trouble="empty file")))
    photos.append(Photo(name="y.jpg", src_uri="y.jpg", private_caption="said in private", private=True))
    entries = [replace(one, photos=tuple(photos)) if one.id == name else one for one in journal.build.entries]
    return replace(journal, build=replace(journal.build, entries=tuple(entries)))


UNFINISHED = {
    "2026-02-01-deburred": entry("date: 2026-02-01\ntitle: Deburred"),
    "2026-02-02-ribs-in": entry("date: 2026-02-02"),
    "2026-02-03-headed": entry("date: 2026-02-03", "# A heading\n\nText."),
    "2026-02-04-idle": "---\nassembly: flaps\ntitle: Idle\n---\n\nText.\n",
    "2026-02-05-draft": "---\nassembly: flaps\ndraft: true\n---\n\nText.\n",
}


def test_what_is_unfinished_in_the_files(make_build: MakeBuild) -> None:
    """Each entry once, under the first of what it lacks; one with a title, hours and captions nowhere."""
    journal = bare(opened(make_build, UNFINISHED), "2026-02-04-idle", ("", "seen", ""))
    journal = bare(journal, "2026-02-01-deburred", ("seen",))
    assert told(journal, "unfinished") == (
        TodayLine("Draft, 5 February 2026: a draft, no hours, no title of its own", "2026-02-05-draft"),
        TodayLine("Idle, 4 February 2026: no hours, 2 pictures without a caption", "2026-02-04-idle"),
        TodayLine("Ribs in, 2 February 2026: no title of its own", "2026-02-02-ribs-in"),
    )
    journal = bare(journal, "2026-02-01-deburred", ("",))
    assert lines(journal, "unfinished")[-1] == "Deburred, 1 February 2026: 1 picture without a caption"


def test_what_is_sealed_is_told_apart(make_build: MakeBuild) -> None:
    """To mend it is an amendment; a draft is told whatever a seal says of an entry of its name."""
    journal = opened(make_build, UNFINISHED)
    sealed = ("2026-02-02-ribs-in", "2026-02-04-idle", "2026-02-05-draft", "2026-02-01-deburred")
    assert lines(journal, "unfinished", sealed) == [
        "Draft, 5 February 2026: a draft, no hours, no title of its own",
        "2 sealed entries lack hours, a title or captions as well; to add them is an amendment, which `journal seal` "
        "asks the reason of",
    ]


def test_many_of_a_kind_are_counted(make_build: MakeBuild) -> None:
    """The newest are told, of each kind so many; private only where all that are left out are."""
    files = {f"2026-01-{day:02d}-x": f"---\nassembly: flaps\ntitle: T{day}\n---\nText.\n" for day in range(10, 21)}
    files["2026-01-01-y"] = entry("date: 2026-01-01")
    said = told(opened(make_build, files), "unfinished")
    assert [line.text for line in said[MOST - 1 :]] == [
        "T13, 13 January 2026: no hours",
        "and 3 more",
        "Y, 1 January 2026: no title of its own",
    ]
    assert not said[MOST].private


def test_an_entry_that_cannot_be_read(make_build: MakeBuild) -> None:
    """It is in no list, so its file is named."""
    journal = opened(make_build, {"a": "---\ndate: 2026-02-30\nassembly: flaps\n---\nText.\n"})
    assert told(journal, "unfinished") == (
        TodayLine("content/entries/a/index.md cannot be read yet: `journal check` says why", private=True),
    )


def test_what_expires(make_build: MakeBuild) -> None:
    """Within sixty days or past, the first to go first; what is used up or was checked again is left out."""
    materials = (
        "id,name,batch,expires,used_up\ns1,Sealant,B1,2026-04-30,\ns2,Sealant,B2,2026-05-01,\n"
        "s3,Sealant,B3,2026-02-27,\ns4,Sealant,B4,2026-02-27,yes\np,Primer,,2026-03-01,\nq,Primer,,,\n"
    )
    tools = (
        "name,checked_on,check_every_months\nwrench,2025-03-10,12\nscale,2024-01-10,24\nScale,2026-01-11,24\n"
        "gauge,2025-02-28,12\nrule,,12\nlater,2025-06-01,12\n"
    )
    assert told(opened(make_build, {"materials.csv": materials, "tools.csv": tools}), "expires") == tuple(
        TodayLine(said, private=True)
        for said in (
            "Sealant, batch B3 expired on 27 February 2026, 2 days ago",
            "gauge: its check was due on 28 February 2026, 1 day ago",
            "Primer expires on 1 March 2026, today",
            "wrench: its check is due on 10 March 2026, in 9 days",
            "Sealant, batch B1 expires on 30 April 2026, in 60 days",
        )
    )


NEXT = {
    "callouts.csv": CALLOUTS,
    "inventory.csv": "crate,part,description,listed,found\n3,AN470AD4-5,Rivet,50,50\n3,AN4-10A,Bolt,4,\n",
    "materials.csv": (
        "id,name,batch,expires,used_up\nt1,Tank sealant,B1,2026-02-01,\nt2,Tank sealant,B2,,yes\n"
        "p,Primer,P,2027-01-01,\n"
    ),
    "a": entry("date: 2026-02-01\ntitle: Ribs\nsteps: [5.1]\ntools: [Deburrer, file]\nmethods: [deburring]"),
    "b": entry("date: 2026-02-02\ntitle: Riveted\nsteps: [5.3]\ntools: [rivet gun]\nprivate: true"),
    "c": entry(
        "date: 2026-02-20\nassembly: left-wing\nsteps: [7.1]\ntitle: Spar\nhours: 1:00\n"
        "fasteners: [{rivet: AN470AD4-5, count: 30}]"
    ),
}


def test_what_the_next_steps_need(make_build: MakeBuild) -> None:
    """What the manual calls for, what is short, which batches there are, how the twin was done; nothing invented."""
    journal = opened(make_build, NEXT)
    assert told(journal, "next-steps") == (
        TodayLine("7.2 Fit the ribs", step="7.2"),
        TodayLine("done once before as 5.3, in “Riveted” on 2 February 2026", "b", "7.2", True),
        TodayLine("tools before: rivet gun", step="7.2", private=True),
        TodayLine("rivet AN470AD4-5, 40 of them (page 7-5, edition C)", step="7.2"),
        TodayLine("AN470AD4-5: 20 left, 20 too few for the steps to come (inventory.csv)", step="7.2", private=True),
        TodayLine("edge: at least 0.25 in (page 7-5, edition C)", step="7.2"),
        TodayLine("7.3 Bolt the bracket, page 7-3", step="7.3"),
        TodayLine("bolt AN4-10A, 2 of them: 50 to 70 in-lb, friction drag added (page 7-6, edition C)", step="7.3"),
        TodayLine("AN4-10A: not all of it is counted yet (inventory.csv)", step="7.3", private=True),
        TodayLine("7.4 Seal the tank, page 7-4", step="7.4"),
        TodayLine("sealant: tank sealant (page 7-8, edition C)", step="7.4"),
        TodayLine("at hand: Tank sealant, batch B1 expired on 1 February 2026, 28 days ago", step="7.4", private=True),
        TodayLine("gap (page not given)", step="7.4"),
        TodayLine(CAUTION),
    )


def test_next_steps_without_anything_to_say(make_build: MakeBuild) -> None:
    """No caution where nothing is called for, no batch where none is left; then those of the assembly before."""
    callouts = "step,what,part,value,page,edition\n7.4,sealant,tank sealant,,7-8,C\n"
    matter = "date: 2026-02-20\nassembly: left-wing\nsteps: [7.1 to 7.3{}]\ntools: [saw]"
    files = {"callouts.csv": callouts, "a": entry(matter.format(""))}
    assert lines(opened(make_build, files), "next-steps") == [
        "7.4 Seal the tank, page 7-4",
        "sealant: tank sealant (page 7-8, edition C)",
        "materials.csv holds no batch of it that is not used up",
        "7.10 Close the wing, page 7-9; it closes the structure for good",
        CAUTION,
    ]
    files["a"] = entry(matter.format(", 7.4, 7.10"))
    assert lines(opened(make_build, files), "next-steps") == []
    files["b"] = entry("date: 2026-02-01\nsteps: [5.1 to 5.3]")
    parts = {part.key: part for part in today_of(opened(make_build, files))}
    assert parts["next-steps"].heading == "The next steps: Flaps"
    assert [line.step for line in parts["next-steps"].lines] == ["5.4"]
    assert parts["under-way"].lines[0].text.startswith("Left wing, last worked on")


def test_the_next_closing(make_build: MakeBuild) -> None:
    """Of the assembly worked on last, however far; of another one where the rule of evidence tells it. Once."""
    files = {
        "build.yml": BUILD_YML,
        "a": entry("date: 2026-02-01\nsteps: [5.1, 5.2]"),
        "b": entry("date: 2026-02-02\nassembly: left-wing\nsteps: [7.1]"),
    }
    flaps = "; still missing: 5.3 (Rivet the skeleton), a picture of the inside, an inspection (recommended)"
    flap = TodayLine(f"Step 5.4 will close both flaps for good and hide 3 steps{flaps}", step="5.4")
    left = "7.2 (Fit the ribs), 7.3 (Bolt the bracket), 7.4 (Seal the tank)"
    wing = (
        f"Step 7.10 will close the structure for good and hide 4 steps; still missing: {left}, a picture of the "
        "inside, an inspection (recommended)"
    )
    assert told(opened(make_build, files), "closing") == (flap, TodayLine(wing, step="7.10"))
    assert told(opened(make_build, files, date(2026, 6, 1)), "closing") == (TodayLine(wing, step="7.10"),)
    files["b"] = entry("date: 2026-02-02\nsteps: [5.3, 5.4]")
    assert told(opened(make_build, files), "closing") == ()


def test_what_is_private_is_told_in_private_alone(make_build: MakeBuild) -> None:
    """Nothing of a private entry or draft, of lists and of full names stands in any other line."""
    private = "private: true\nassembly: left-wing\ntitle: Secret {}\ntools: [secret tool]\nmethods: [secret way]"
    files = {
        "callouts.csv": CALLOUTS,
        "inventory.csv": "crate,part,description,listed,found\n3,AN470AD4-5,secret,5,5\n3,AN4-10A,secret,4,\n",
        "materials.csv": "id,name,batch,expires\nt1,secret tank sealant,B1,2026-03-03\n",
        "tools.csv": "name,checked_on,check_every_months\nsecret wrench,2025-03-10,12\n",
        "secret-a": entry(private.format("a") + "\nbegun: [7.1, 7.2]\nsteps: [5.1, 5.3]"),
        "secret-b": entry(
            private.format("b") + "\ndraft: true\nbegun: [7.3]\ndate: 2026-02-28\n# clock: ada since 2026-02-28 18:30"
        ),
        "secret-c": "---\nprivate: true\nassembly: flaps\nsteps: [9.9]\n---\n",
        "open": entry("date: 2026-02-20\ntitle: Open\n# clock: bo since 2026-02-28 18:30\ndraft: true"),
    }
    said = [line for part in today_of(opened(make_build, files)) for line in part.lines]
    hidden = re.compile(r"secret|inventory|materials\.csv|Lindqvist|too few", re.IGNORECASE)
    assert sum(bool(hidden.search(line.text + line.entry)) for line in said) > 12
    assert [line for line in said if not line.private and hidden.search(line.text + line.entry)] == []


def test_a_root_without_files_is_no_trouble(make_build: MakeBuild) -> None:
    """A draft that went since it was read tells no clock."""
    journal = opened(make_build, {"a": entry("draft: true")})
    assert [part.key for part in today_of(replace(journal, root=Path("/nowhere")))][:2] == ["under-way", "unfinished"]
