"""What a phone at the bench sends: lines of a draft entry, each once, nothing lost, and all of it can be taken back."""

from __future__ import annotations

import errno
import json
import os
import re
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from cameras import clip_bytes, photo_bytes
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import BUILD_YML, MakeBuild, entry

from journal.base.model import CLIP_ENDINGS, PICTURE_ENDINGS
from journal.base.private_passages import find_passages
from journal.base.problems import has_errors
from journal.base.safe_write import clear_folder, scratch_of
from journal.commands.bench import arrivals
from journal.commands.bench.arrivals import MOST_BYTES, Arrivals
from journal.commands.bench.sent import RefusedError, read_sent
from journal.commands.bench.state import state_of, today_for
from journal.commands.bench.taking import Bench, Taken, assembly_under_way
from journal.commands.intake.new_entries import SPARE_BYTES
from journal.commands.written import ADOPT, ENTER, MOVE, NotTakenBackError, WrittenList
from journal.media.clips.facts import ClipFacts
from journal.media.clips.look import Container
from journal.media.photos.kinds import FileKind

ZONE = ZoneInfo("Europe/Zurich")
LISTS = {
    "callouts.csv": "step,what,part,value,page,edition\n"
    "5.3,torque,AN4-10A,62 in-lb,5-3,3\n5.2,rivet,AN470AD4-5,,5-2,3\n",
    "materials.csv": "id,name,batch,expires\np1,Primer,22,2026-01-01\ns2,Sealant,7,2027-01-01\n",
}


class Phone:
    """A phone whose clock is seven minutes behind: `send` is what the page does."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.bench = Bench(root)
        self.keys = 0

    def key(self) -> str:
        """One that was not used yet."""
        self.keys += 1
        return f"{self.keys:024x}"

    def send(self, when: str, kind: str, **told: Any) -> Taken:
        """`when` is `2026-02-07 18:30` or a time of 7 February."""
        moment = datetime.fromisoformat(when if len(when) > 8 else f"2026-02-07 {when}").replace(tzinfo=ZONE)
        clock = 1e12
        sent = {"key": self.key(), "kind": kind, "at": clock, "now": clock, "assembly": "flaps", **told}
        return self.bench.take(read_sent(sent, moment, ZONE), "Ada's phone")

    def picture(self, when: str, data: bytes, **told: Any) -> Taken:
        """A picture, come whole, and what is said of it."""
        key = told.pop("key", None) or self.key()
        self.bench.arrivals.add(key, 0, data)
        return self.send(when, "picture", key=key, size=len(data), **told)

    def text(self, name: str = "2026-02-07-flaps") -> str:
        """The file of an entry."""
        return (self.root / "content/entries" / name / "index.md").read_text("utf-8")


@pytest.fixture
def phone(make_build: MakeBuild) -> Phone:
    """At the bench of a small build."""
    return Phone(make_build(LISTS))


def test_an_evening_becomes_one_draft(phone: Phone) -> None:
    """Clock, steps, words, figures, a batch and a picture, in the order of the keys of an entry."""
    phone.send("18:30:40", "start", people=["ada"])
    phone.send("18:35", "start", people=["bo"])
    phone.send("18:40", "step", step="5.1", mark="begun")
    phone.send("19:00", "step", step="5.1", mark="steps")
    phone.send("19:05", "note", text="#40 drilled,\nthen deburred")
    phone.send("19:06", "note", text="The rest in the red box", private=True)
    phone.send("19:07", "torque", step="5.3", row={"bolt": "AN4-10A", "value": "62 in-lb", "drag": "8 in-lb"})
    phone.send("19:08", "fasteners", step="5.2", row={"rivet": "AN470AD4-5", "count": "12"})
    phone.send("19:09", "material", items=["s2"])
    phone.send("19:10", "measured", step="5.4", row={"what": "gap", "value": "0.02 in"})
    phone.send("20:10", "stop", people=["ada"])
    phone.send("20:20", "start", people=["ada"])
    phone.picture("20:31:07", photo_bytes(), text="The skeleton: riveted", step="5.1")
    answer = phone.send("21:00", "close", titles={"2026-02-07-flaps": "Ribs 3 to 5"}, items=["2026-02-07-flaps"])
    assert answer.said == "Bo 2 h 25 min; Ada 40 min; Ribs 3 to 5 counts from now on (2026-02-07-flaps)"
    assert phone.text() == (
        "---\n"
        'title: "Ribs 3 to 5"\n'
        "date: 2026-02-07\n"
        "assembly: flaps\n"
        "steps: [5.1]\n"
        "begun: [5.1]\n"
        "hours:\n"
        "  ada: [18:30-20:10, 20:20-21:00]\n"
        "  bo: [18:35-21:00]\n"
        "people: [ada, bo]\n"
        "photos:\n"
        '  2026-02-07-203107.jpg: {caption: "The skeleton: riveted", step: 5.1}\n'
        "fasteners:\n"
        '- {rivet: AN470AD4-5, count: "12", step: "5.2"}\n'
        "torque:\n"
        '- {bolt: AN4-10A, value: "62 in-lb", drag: "8 in-lb", step: "5.3"}\n'
        "materials: [s2]\n"
        "---\n"
        "\\#40 drilled,  \nthen deburred\n\n"
        "!!! private\n    The rest in the red box\n\n"
        "Measured, step 5.4: gap 0.02 in\n"
    ).replace('"Ribs 3 to 5"', "Ribs 3 to 5")
    build = phone.bench.journal().build
    (made,) = build.entries
    assert (made.minutes, made.title, [photo.step for photo in made.photos]) == (285, "Ribs 3 to 5", ["5.1"])
    assert not build.drafts


def test_a_thing_sent_again_is_written_once(phone: Phone) -> None:
    """The answer was lost on the way, so the phone sends it once more."""
    for _ in range(3):
        phone.send("19:00", "note", key="a" * 24, text="Once")
        phone.send("19:01", "step", key="b" * 24, step="5.1", mark="steps")
        phone.send("19:01", "torque", key="c" * 24, step="5.3", row={"bolt": "AN4-10A", "value": "62 in-lb"})
    assert phone.text().count("Once") == 1
    assert phone.text().count("62 in-lb") == 1
    assert "steps: [5.1]\n" in phone.text()


def test_a_step_belongs_to_its_own_assembly(phone: Phone) -> None:
    """Two assemblies on an evening are two entries, whichever the page shows."""
    phone.send("19:00", "step", step="5.1", mark="begun", assembly="left-wing")
    phone.send("19:05", "step", step="7.1", mark="begun", assembly="flaps")
    assert "begun: [5.1]" in phone.text()
    assert "begun: [7.1]" in phone.text("2026-02-07-left-wing")


def test_what_was_written_before_the_page_was_drawn_goes_where_the_work_is(phone: Phone) -> None:
    """Then no assembly is sent; the page would have shown that of the day."""
    phone.send("19:00", "note", text="One", assembly="left-wing")
    phone.send("19:01", "note", text="Two", assembly="")
    assert "One\n\nTwo" in phone.text("2026-02-07-left-wing")


def test_a_record_that_was_never_noted_is_no_change(phone: Phone) -> None:
    """Killed between its bytes and its name: the scratch file is left, and what is sent again is written."""
    phone.send("19:00", "note", text="One", key="a" * 24)
    (record,) = phone.bench.written.folder.glob("*-aaaa*.json")
    record.rename(scratch_of(record.with_name(record.name.replace(".json", ".pending.json"))))
    entry = phone.root / "content/entries/2026-02-07-flaps/index.md"
    entry.write_text(phone.text().replace("One", ""), "utf-8")
    phone.send("19:01", "note", text="One", key="a" * 24)
    assert "One" in phone.text()


def test_what_differs_from_the_manual_is_told_at_its_line(phone: Phone) -> None:
    """At the bench it can still be put right; told once, and again when the day is closed."""
    answer = phone.send("19:00", "torque", step="5.3", row={"bolt": "AN4-10A", "value": "72 in-lb"})
    assert len(answer.told) == 1
    assert "over 62 in-lb (page 5-3, edition 3)" in answer.told[0]
    assert phone.send("19:01", "step", step="5.3", mark="steps").told == ()
    expired = phone.send("19:02", "material", items=["p1"]).told
    assert expired == ("Primer: used 37 days after it expired on 1 January 2026, source: materials.csv",)
    assert len(phone.send("21:00", "close", titles={"2026-02-07-flaps": "Riveted"}).told) == 2


@pytest.mark.parametrize(
    ("kind", "told", "said"),
    [
        ("step", {"step": "5.9", "mark": "steps"}, 'There is no step "5.9" in steps.csv.'),
        ("step", {"step": "5.1", "mark": "hours"}, "A step is begun, done, or done again."),
        ("start", {"people": ["zoe"]}, 'There is nobody "zoe" in build.yml.'),
        ("note", {"text": " \n "}, "There are no words in this note."),
        ("note", {"text": "x", "assembly": "tail"}, "Say which assembly this belongs to."),
        ("note", {"text": "x" * 30_000}, "This is longer than the 20,000 letters that one note may have."),
        ("torque", {"step": "5.3", "row": {"bolt": "AN4-10A", "value": "620"}}, "is not a torque"),
        ("torque", {"step": "5.3", "row": {"value": "62 in-lb"}}, "missing"),
        ("torque", {"step": "5.3", "row": {"bolt": "AN4", "value": "6 in-lb", "draft": "x"}}, "A line has no draft."),
        ("fasteners", {"step": "5.2", "row": {"rivet": "AN470AD4-5", "count": "many"}}, "is not a whole number"),
        ("material", {"items": ["p9"]}, "No such material stands in materials.csv."),
        ("measured", {"row": {"what": "gap"}}, "Say what was measured, and the figure with its unit."),
        ("picture", {"size": 10}, "This picture has not come whole yet; it is sent again."),
        ("delete", {}, "This was not sent by the page."),
        ("note", {"key": "../../x", "text": "x"}, "This was not sent by the page."),
        ("note", {"at": "yesterday", "text": "x"}, "This was not sent by the page."),
        ("note", {"at": -1e300, "text": "x"}, "By the phone's clock this is more than 60 days old"),
        ("note", {"text": ["x"]}, "This was not sent by the page."),
        ("torque", {"row": {"\ud800bold": "x"}}, "A line has no bold."),
        ("start", {"people": "ada"}, "This was not sent by the page."),
        ("torque", {"row": [1]}, "This was not sent by the page."),
    ],
)
def test_what_cannot_be_taken_leaves_nothing_behind(phone: Phone, kind: str, told: dict[str, Any], said: str) -> None:
    """Not even an empty draft; the page keeps it and says why."""
    with pytest.raises(RefusedError, match=re.escape(said)):
        phone.send("19:00", kind, **told)
    assert not (phone.root / "content/entries").exists()
    assert phone.bench.written.newest() == []


@pytest.mark.parametrize(
    "words",
    ["---", "# Big", "!!! private", "<!-- gone", "    code", "> said", "- [ ] buy", "```", "*a", "[x](y)", "a\n\nb"],
)
def test_words_stay_words(phone: Phone, words: str) -> None:
    """Whatever is dictated: the entry can be read, and what stands before and behind it is public as it was."""
    phone.send("19:00", "note", text="Before")
    try:
        phone.send("19:01", "note", text=words)
    except RefusedError:
        assert words == "!!! private"  # what was to be hidden is hidden with the tick, or not written at all
    phone.send("19:02", "note", text="Behind")
    (draft,) = phone.bench.journal().build.drafts
    assert draft.body.strip().startswith("Before")
    assert draft.body.strip().endswith("Behind")
    assert not has_errors(phone.bench.journal().problems)


# -- the clock ---------------------------------------------------------------------------------------


def test_a_clock_over_midnight_belongs_to_its_evening(phone: Phone) -> None:
    """The small hours are the evening before, if there was one."""
    phone.send("22:30", "start", people=["ada"])
    phone.send("2026-02-08 00:20", "note", text="Late")
    phone.send("2026-02-08 00:40", "stop", people=["ada"])
    assert "ada: [22:30-00:40]" in phone.text()
    assert "Late" in phone.text()
    phone.send("2026-02-08 09:00", "note", text="Early")
    assert "Early" in phone.text("2026-02-08-flaps")


def test_a_clock_that_was_forgotten_is_asked_about(phone: Phone) -> None:
    """Next morning: nothing is guessed; the time that is told counts."""
    phone.send("18:30", "start", people=["ada"])
    with pytest.raises(RefusedError, match="Ada's clock has run since yesterday 18:30: when did it end") as refused:
        phone.send("2026-02-08 11:00", "stop", people=["ada"])
    assert refused.value.asks == "until"
    with pytest.raises(RefusedError, match='"late" is no time of the day'):
        phone.send("2026-02-08 11:00", "stop", people=["ada"], until="late")
    phone.send("2026-02-08 11:00", "stop", people=["ada"], until="21:15")
    assert "ada: [18:30-21:15]" in phone.text()
    assert "clock" not in phone.text()
    assert state_of(phone.bench, datetime(2026, 2, 8, 11))["clocks"] == []


def test_clocks_of_several_people_and_entries_stop_together(phone: Phone) -> None:
    """Whoever is not named: all who build."""
    phone.send("18:00", "start", people=["ada"])
    phone.send("18:10", "start", people=["bo"], assembly="left-wing")
    assert phone.send("18:15", "start", people=["ada"]).said == "Ada: the clock is running already, since 18:00"
    with pytest.raises(RefusedError, match="Bo's clock is running already, since 18:10"):
        phone.send("18:20", "start", people=["hanne", "bo"])
    assert phone.send("19:00", "stop").said.startswith("Ada 1 h, Bo 50 min")
    assert "ada: [18:00-19:00]" in phone.text()
    assert "bo: [18:10-19:00]" in phone.text("2026-02-07-left-wing")
    assert (
        phone.send("19:01", "stop").said
        == "Ada, Bo: no clock was running; write the hours at the desk, if there should have been one"
    )


def test_a_clock_of_less_than_a_minute_is_no_time(phone: Phone) -> None:
    """Pressed by mistake: the line goes, and no hours come."""
    phone.send("18:30:10", "start", people=["ada"])
    phone.send("18:30:50", "stop", people=["ada"])
    assert "hours" not in phone.text()
    assert "clock" not in phone.text()


def test_hours_of_the_desk_are_kept(phone: Phone) -> None:
    """A draft that the desk began, with a time for each: the clock adds to it."""
    folder = phone.root / "content/entries/2026-02-07-flaps"
    folder.mkdir(parents=True)
    (folder / "index.md").write_text(entry("hours: 1:30   # before supper\ndraft: true", "Words."), "utf-8")
    phone.send("20:00", "start", people=["ada"])
    phone.send("21:00", "stop", people=["ada"])
    assert "hours: {ada: [1:30, 20:00-21:00], bo: [1:30]}   # before supper\n" in phone.text()


def test_hours_of_one_draft_say_nothing_of_another(phone: Phone) -> None:
    """A clock on the flaps names who works there, and not who worked on the wing; what is read stays read."""
    folder = phone.root / "content/entries/2026-02-07-wing"
    folder.mkdir(parents=True)
    (folder / "index.md").write_text(entry("assembly: left-wing\nhours: 1:30\ndraft: true"), "utf-8")
    phone.send("20:00", "start", people=["ada"])
    assert "people: [ada]\n" in phone.text()
    phone.bench.journal()
    (before,) = (one for one in phone.bench.journal().build.drafts if one.assembly == "left-wing")
    assert any(one is before for one in phone.bench.journal().build.drafts)


@pytest.mark.parametrize(
    ("kind", "told", "said"),
    [
        ("fasteners", {"row": {"rivet": "AN470AD4-5", "count": "2"}}, "AN470AD4-5"),
        ("fasteners", {"row": {"screw": "AN507-6R6", "count": "2"}}, "AN507-6R6"),
        ("fasteners", {"row": {"nutplate": "K1000-08", "count": "2"}}, "K1000-08"),
        ("fasteners", {"row": {"part": "CR3213-4-2", "count": "2"}}, "CR3213-4-2"),
        ("torque", {"row": {"bolt": "AN4-10A", "value": "62 in-lb"}}, "AN4-10A 62 in-lb"),
        ("torque", {"row": {"screw": "AN526-832", "value": "12 in-lb"}}, "AN526-832 12 in-lb"),
        ("torque", {"row": {"fitting": "AN818-4", "value": "80 in-lb"}}, "AN818-4 80 in-lb"),
        ("torque", {"row": {"part": "M8", "value": "20 N m"}}, "M8 20 N m"),
        ("material", {"items": ["s2", "p1"]}, "Used: s2, p1"),
        ("step", {"step": "5.1", "mark": "begun"}, "Step 5.1 begun"),
        ("step", {"step": "5.1", "mark": "steps"}, "Step 5.1 done"),
        ("step", {"step": "5.1", "mark": "redone"}, "Step 5.1 done again"),
        ("note", {"text": "Two words"}, "A note, 2 words"),
        ("note", {"text": "Word", "private": True}, "A private note, 1 word"),
        ("start", {"people": ["ada", "hanne"]}, "Ada, Hanne: the clock runs from 19:00"),
        ("start", {}, "Ada, Bo: the clock runs from 19:00"),
    ],
)
def test_what_was_taken_is_said_in_a_line(phone: Phone, kind: str, told: dict[str, Any], said: str) -> None:
    """What it is, and the entry that it stands in."""
    assert phone.send("19:00", kind, **told).said == f"{said} (2026-02-07-flaps)"


def test_hours_are_told_when_the_day_is_closed(phone: Phone) -> None:
    """Where no clock ran, or one for less than a minute; in a form of the reader, or not at all."""
    phone.send("19:00:05", "start", people=["ada"])
    with pytest.raises(RefusedError, match="late"):
        phone.send("19:00:30", "close", hours={"2026-02-07-flaps": "late"}, items=["2026-02-07-flaps"])
    phone.send("19:00:40", "close", hours={"2026-02-07-flaps": "18:30-21:15"}, items=["2026-02-07-flaps"])
    assert "hours: 18:30-21:15\n" in phone.text()
    assert phone.bench.journal().build.entries[0].minutes == 165


@pytest.mark.parametrize("at", ["2026-02-08 08:11", "2026-02-08 04:00", "2026-02-08 04:31"])
def test_a_clock_of_the_day_before_is_forgotten(phone: Phone, at: str) -> None:
    """Whether it is stopped or the day is closed; at night it still runs."""
    phone.send("18:40", "start", people=["ada"])
    for kind, told in (("stop", {"people": ["ada"]}), ("close", {"titles": {"2026-02-07-flaps": ""}})):
        with pytest.raises(RefusedError, match="when did it end") as refused:
            phone.send(at, kind, **told)
        assert refused.value.asks == "until"
    moment = datetime.fromisoformat(at)
    assert [(one["forgotten"], one["said"]) for one in state_of(phone.bench, moment)["clocks"]] == [
        (True, "yesterday 18:40")
    ]
    phone.send("2026-02-08 03:59", "stop", people=["ada"])
    assert "ada: [18:40-03:59]" in phone.text()


# -- pictures ----------------------------------------------------------------------------------------


def test_what_is_private_is_private_of_every_kind(phone: Phone) -> None:
    """While the tick is set: notes, of steps too, pictures and what was measured."""
    phone.send("19:00", "note", text="Zebra one", private=True, step="5.1")
    phone.send("19:01", "measured", row={"what": "zebra", "value": "2 in"}, private=True)
    said = phone.picture("19:02", photo_bytes(), text="Zebra three", private=True, step="5.1").said
    assert said.startswith("A private picture")
    (draft,) = phone.bench.journal().build.drafts
    assert [photo.private for photo in draft.photos] == [True]
    assert "ebra" not in find_passages(draft.body).public
    assert "ebra" not in str(state_of(phone.bench, datetime(2026, 2, 7, 20, 0)))


def test_an_old_picture_is_told(phone: Phone) -> None:
    """Chosen from the phone: its day is another, and who took it is asked to look."""
    told = phone.picture("19:00", photo_bytes("2026-01-11 10:00:00")).told
    assert len(told) == 1
    assert "was taken on 11 January 2026 by its camera" in told[0]
    assert phone.picture("19:01", photo_bytes("2026-02-07 18:59:00", shade=200)).told == ()


def test_pictures_are_judged_by_content_and_named_by_us(phone: Phone) -> None:
    """Whatever the phone called them; two in one second, a film; what is none is refused and stays on the phone."""
    phone.picture("19:00:01", photo_bytes(shade=1))
    phone.picture("19:00:01", photo_bytes(shade=2))
    phone.picture("19:00:02", photo_bytes(shade=3, heic=True), text="In a format of its own")
    phone.picture("19:00:03", clip_bytes(), text="The press")
    for data in (b"<svg onload=alert(1)>", b"PK\3\4", b"#!/bin/sh\n", b"\0" * 64):
        with pytest.raises(RefusedError, match="This cannot be taken"):
            phone.picture("19:01", data)
    folder = phone.root / "content/entries/2026-02-07-flaps"
    assert sorted(path.name for path in folder.iterdir()) == [
        "2026-02-07-190001-2.jpg",
        "2026-02-07-190001.jpg",
        "2026-02-07-190002.heic",
        "2026-02-07-190003.mov",
        "index.md",
    ]


@pytest.mark.parametrize("kind", [*FileKind])
def test_every_kind_of_picture_is_taken(tmp_path: Path, kind: FileKind, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is read from a folder is read from a phone; its ending is one that is read, and of no other kind."""
    here = Arrivals(tmp_path)
    here.add("0" * 16, 0, b"x")
    endings = {}
    for one in FileKind:
        monkeypatch.setattr(arrivals, "sniff", lambda source, one=one: one)
        endings[one] = here.ending("0" * 16)
    assert endings[kind] in PICTURE_ENDINGS
    assert list(endings.values()).count(endings[kind]) == 1


@pytest.mark.parametrize("container", [*Container])
def test_every_kind_of_film_is_taken(tmp_path: Path, container: Container, monkeypatch: pytest.MonkeyPatch) -> None:
    """Under an ending that is read; as QuickTime where it says so itself, and not where it cannot be played."""
    monkeypatch.setattr(arrivals, "sniff_container", lambda source: container)
    here = Arrivals(tmp_path)
    heads = {"0" * 16: b"x" * 12} | ({"1" * 16: b"x" * 8 + b"qt  "} if container is Container.BOXES else {})
    for key, head in heads.items():
        here.add(key, 0, head)
        monkeypatch.setattr(arrivals, "clip_facts", lambda path: ClipFacts())
        assert here.ending(key) in CLIP_ENDINGS
        assert (here.ending(key) == ".mov") is head.endswith(b"qt  ")
        monkeypatch.setattr(arrivals, "clip_facts", lambda path: ClipFacts(trouble="it is cut short"))
        with pytest.raises(RefusedError, match="This cannot be taken: it is cut short"):
            here.ending(key)


def test_what_never_went_on_is_taken_away(tmp_path: Path) -> None:
    """After sixty days, and not before."""
    here = Arrivals(tmp_path)
    for key, seconds in (("0" * 16, -30), ("1" * 16, 30)):
        here.add(key, 0, b"x")
        moment = time.time() - 60 * 86_400 - seconds
        os.utime(here.path(key), (moment, moment))
    here.tidy()
    assert (here.size("0" * 16), here.size("1" * 16)) == (1, 0)


def test_a_full_disk_is_told_before_it_is_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is sent must leave some room for all else."""
    here = Arrivals(tmp_path)
    monkeypatch.setattr(arrivals, "free_bytes", lambda folder: SPARE_BYTES + 3)
    assert here.add("0" * 16, 0, b"abc") == 3
    with pytest.raises(RefusedError, match="The disk of the computer is full"):
        here.add("0" * 16, 3, b"abcd")
    assert here.size("0" * 16) == 3


def test_a_picture_that_came_damaged_is_told_at_the_bench(phone: Phone) -> None:
    """While it can still be taken once more."""
    (told,) = phone.picture("19:00", photo_bytes()[:-40]).told
    assert told.startswith("2026-02-07-190000.jpg cannot be shown: the file is cut short; see that you have a good one")


def test_a_picture_that_is_there_is_not_taken_twice(phone: Phone) -> None:
    """Chosen a second time from the phone: told, and where it is; also in another entry."""
    data = photo_bytes(shade=5)
    phone.picture("19:00", data)
    said = phone.picture("2026-02-09 19:00", data).said
    assert said == "This picture is in the journal already: entries/2026-02-07-flaps/2026-02-07-190000.jpg"
    phone.picture("19:01", clip_bytes())
    assert "in the journal already" in phone.picture("2026-02-09 19:00", clip_bytes()).said


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(1, 15)), max_size=30))
@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_pieces_in_any_order_make_the_file_once(tmp_path: Path, pieces: list[tuple[int, int]]) -> None:
    """Law: whatever is sent twice, too late or too early, what lies there is the beginning of the file."""
    arrivals, whole = Arrivals(tmp_path), bytes(range(40))
    clear_folder(arrivals.folder)
    for offset, length in pieces:
        arrivals.add("a" * 24, offset, whole[offset : offset + length])
        assert (
            arrivals.path("a" * 24).read_bytes() == whole[: arrivals.size("a" * 24)]
            if arrivals.size("a" * 24)
            else True
        )


def test_what_comes_is_bounded(tmp_path: Path) -> None:
    """A film longer than any, a name that is a path, more files than an evening has."""
    arrivals = Arrivals(tmp_path)
    for key in ("", "../../etc/passwd", "a" * 40, "A" * 24, "a" * 23 + "/"):
        with pytest.raises(RefusedError):
            arrivals.add(key, 0, b"x")
    arrivals.add("a" * 24, 0, b"x")
    with arrivals.path("a" * 24).open("r+b") as sink:
        sink.truncate(MOST_BYTES)
    with pytest.raises(RefusedError, match=r"longer than the 4\.3 GB"):
        arrivals.add("a" * 24, MOST_BYTES, b"x")
    for number in range(400):
        (arrivals.folder / f"{number:024x}.part").touch()
    with pytest.raises(RefusedError, match="400 files are on their way"):
        arrivals.add("b" * 24, 0, b"x")


# -- what was written, and back ----------------------------------------------------------------------


KINDS = st.sampled_from(
    [
        ("start", {"people": ["ada"]}),
        ("stop", {"people": ["ada"]}),
        ("start", {"people": ["bo"], "assembly": "left-wing"}),
        ("stop", {}),
        ("step", {"step": "5.1", "mark": "begun"}),
        ("step", {"step": "5.2", "mark": "steps"}),
        ("step", {"step": "7.1", "mark": "redone"}),
        ("note", {"text": "Words"}),
        ("note", {"text": "Other words", "private": True}),
        ("torque", {"step": "5.3", "row": {"bolt": "AN4-10A", "value": "62 in-lb"}}),
        ("material", {"items": ["s2", "p1"]}),
        ("picture", {}),
    ]
)


def contents(root: Path) -> dict[str, bytes]:
    """Every file under content/."""
    files = (path for path in (root / "content").rglob("*") if path.is_file())
    return {path.relative_to(root).as_posix(): path.read_bytes() for path in files}


def play(phone: Phone, sent: list[tuple[str, dict[str, Any]]], again: int = 0) -> None:
    """Send all of it, a minute after another; what is refused is passed over."""
    for number, (kind, told) in enumerate(sent):
        at = f"18:{number:02d}"
        try:
            if kind == "picture":
                phone.picture(at, photo_bytes(shade=number), text=f"Picture {number}")
            else:
                key = phone.key()
                for _ in range(1 + again):
                    phone.send(at, kind, key=key, **told)
        except RefusedError:
            continue


@pytest.mark.slow
@given(st.lists(KINDS, min_size=1, max_size=14))
@settings(max_examples=6, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_all_that_was_written_can_be_taken_back(make_build: MakeBuild, sent: list[tuple[str, dict[str, Any]]]) -> None:
    """Law: the newest first, each gives back the files as they were before it; at the end nothing was ever there."""
    root = make_build(LISTS)
    clear_folder(root / ".journal")
    clear_folder(root / "content/entries")
    before = contents(root)
    phone = Phone(root)
    play(phone, sent, again=1)
    for change in phone.bench.written.newest():
        phone.bench.written.take_back(change.key)
    assert contents(root) == before
    assert all(change.taken_back for change in phone.bench.written.newest())


def test_one_in_the_middle_is_taken_back_alone(phone: Phone) -> None:
    """Its own lines go, and what came later stays; what comes again under its key is not written again."""
    phone.send("19:00", "note", key="a" * 24, text="Wrong words")
    phone.send("19:01", "note", text="Right words")
    phone.send("19:02", "step", key="b" * 24, step="5.1", mark="steps")
    phone.picture("19:03", photo_bytes(), key="c" * 24)
    phone.send("19:04", "step", step="5.2", mark="begun")
    for letter in "abc":
        phone.bench.written.take_back(letter * 24)
    assert "Wrong" not in phone.text()
    assert "Right words" in phone.text()
    assert "5.1" not in phone.text()
    assert "begun: [5.2]" in phone.text()
    assert "photos" not in phone.text()
    kept = list((phone.root / ".journal/taken-back").rglob("*.jpg"))
    assert len(kept) == 1
    assert phone.send("19:00", "note", key="a" * 24, text="Wrong words").said.startswith("A note")
    assert "Wrong" not in phone.text()
    with pytest.raises(NotTakenBackError):
        phone.bench.written.take_back("a" * 24)


def test_what_the_desk_changed_is_not_taken_back(phone: Phone) -> None:
    """In the same lines the program does not know better; nothing is touched."""
    phone.send("19:00", "note", key="a" * 24, text="Some words")
    path = phone.root / "content/entries/2026-02-07-flaps/index.md"
    path.write_text(phone.text().replace("Some words", "Better words"), "utf-8")
    before = contents(phone.root)
    with pytest.raises(NotTakenBackError, match="mend it by hand"):
        phone.bench.written.take_back("a" * 24)
    assert contents(phone.root) == before


@pytest.mark.parametrize("stop", ["before", "moved", "written"])
def test_a_change_that_was_stopped_in_the_middle_is_finished(
    phone: Phone, stop: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The record stands first: whenever the machine stops, the next one to write finishes what it says, once."""
    phone.send("18:00", "note", text="First")
    data, key = photo_bytes(), phone.key()
    phone.bench.arrivals.add(key, 0, data)
    whole = WrittenList._finish

    def stopped(self: WrittenList, path: Path) -> bool:
        if stop == "written":
            whole(self, path)
            path.with_name(path.name.replace(".json", ".pending.json")).write_bytes(
                path.with_name(path.name.replace(".pending", "")).read_bytes()
            )
            path.with_name(path.name.replace(".pending", "")).unlink()
        if stop == "moved":
            for part in (phone.root / ".journal/bench/arriving").glob("*.part"):
                part.rename(phone.root / "content/entries/2026-02-07-flaps/2026-02-07-190000.jpg")
        raise KeyboardInterrupt

    monkeypatch.setattr(WrittenList, "_finish", stopped)
    with pytest.raises(KeyboardInterrupt):
        phone.send("19:00", "picture", key=key, size=len(data), text="The rib")
    monkeypatch.undo()
    again = Phone(phone.root)
    assert again.send("19:00", "picture", key=key, size=len(data), text="The rib").said.startswith("A picture")
    folder = phone.root / "content/entries/2026-02-07-flaps"
    assert sorted(path.name for path in folder.iterdir()) == ["2026-02-07-190000.jpg", "index.md"]
    assert (folder / "2026-02-07-190000.jpg").read_bytes() == data
    assert again.text().count("The rib") == 1


def test_a_list_that_was_deleted_or_broken_stops_nothing(phone: Phone) -> None:
    """It lies in the cache."""
    phone.send("19:00", "note", text="One")
    for path in phone.bench.written.folder.glob("*.json"):
        path.write_bytes(b'{"key": ')
    phone.send("19:01", "note", text="Two")
    clear_folder(phone.root / ".journal")
    phone.send("19:02", "note", text="Three")
    assert re.findall(r"One|Two|Three", phone.text()) == ["One", "Two", "Three"]


# -- what the page shows -----------------------------------------------------------------------------


def test_the_page_shows_no_private_words(phone: Phone) -> None:
    """Neither notes nor titles of private entries; who may see the page sees what is going on, and no more."""
    phone.send("19:00", "note", text="Zebra crossing", private=True)
    phone.send("19:01", "note", text="Zebra words")
    folder = phone.root / "content/entries/2026-02-07-costs"
    folder.mkdir()
    (folder / "index.md").write_text(entry('title: "Zebra money"\nprivate: true\ndraft: true'), "utf-8")
    told = str(state_of(phone.bench, datetime(2026, 2, 7, 20)))
    assert "A private note, 2 words" in told
    assert "Zebra" not in told
    assert "Lindqvist" not in told


def test_a_private_draft_is_left_alone(phone: Phone) -> None:
    """Its name is not shown, and what is written at the bench does not vanish in it."""
    folder = phone.root / "content/entries/2026-02-07-zebra"
    folder.mkdir(parents=True)
    (folder / "index.md").write_text(entry("private: true\ndraft: true"), "utf-8")
    assert "zebra" not in phone.send("19:00", "note", text="Words").said
    assert "Words" in phone.text()


def test_the_page_asks_for_what_the_manual_asks(phone: Phone) -> None:
    """A form for each kind of call-out."""
    steps = {step["id"]: step for step in state_of(phone.bench, datetime(2026, 2, 7, 20))["steps"]}
    assert steps["5.3"]["asked"] == [
        {
            "what": "torque",
            "part": "AN4-10A",
            "said": "AN4-10A 62 in-lb (page 5-3, edition 3)",
            "kind": "torque",
            "name": "bolt",
        }
    ]
    assert [asked["kind"] for asked in steps["5.2"]["asked"]] == ["fasteners"]
    assert steps["5.4"]["closes"] == "the structure"


@pytest.mark.parametrize(
    ("since", "until", "said", "hours"),
    [
        ("2026-03-29 00:30", "2026-03-29 01:30", "Ada 1 h", "01:30-03:30"),  # at one o'clock UTC it was three
        ("2026-10-24 22:00", "2026-10-25 02:00", "Ada 4 h", "00:00-03:00"),
    ],
)
def test_a_clock_over_a_change_of_clocks_says_the_time_that_passed(
    phone: Phone, since: str, until: str, said: str, hours: str
) -> None:
    """Both written as the clock on the wall; IANA zone data, Europe/Zurich. What is sent later was as long ago as the
    phone says, also before the change."""
    now = datetime.fromisoformat(f"{until}+00:00")
    ago = (now - datetime.fromisoformat(f"{since}+00:00")).total_seconds() * 1000
    for kind, at in (("start", 1e12 - ago), ("stop", 1e12)):
        sent = {"key": phone.key(), "kind": kind, "at": at, "now": 1e12, "assembly": "flaps", "people": ["ada"]}
        answer = phone.bench.take(read_sent(sent, now, ZONE), "Ada's phone")
    assert answer.said.startswith(f"{said} (")
    (draft,) = phone.bench.journal().build.drafts
    assert hours in phone.text(draft.id)
    assert f"Ada {draft.minutes // 60} h" == said


@pytest.mark.parametrize("kind", [None, [], ["note"], {"note": 1}, "take", 7])
def test_a_kind_that_is_none_was_not_sent_by_the_page(kind: object) -> None:
    """Of whatever type."""
    moment = datetime(2026, 2, 7, 19, tzinfo=ZONE)
    with pytest.raises(RefusedError, match="not sent by the page"):
        read_sent({"key": "a" * 24, "kind": kind, "at": 1e12, "now": 1e12}, moment, ZONE)


NOW = datetime(2026, 2, 7, 19, 0, 30, 999, tzinfo=ZONE)
SENT = {"key": "a" * 24, "kind": "torque", "at": 1e12, "now": 1e12}
DAY = 86_400_000


@pytest.mark.parametrize(
    ("told", "kept"),
    [
        (
            {},
            {
                "text": "",
                "private": False,
                "size": 0,
                "people": (),
                "row": {},
                "at": NOW.replace(tzinfo=None, microsecond=0),
            },
        ),
        ({"key": "0" * 16}, {"key": "0" * 16}),
        ({"key": "f" * 32}, {"key": "f" * 32}),
        ({"at": 1e12 - 61_000}, {"at": datetime(2026, 2, 7, 18, 59, 29)}),
        ({"at": 1e12 - 60 * DAY}, {"at": datetime(2025, 12, 9, 19, 0, 30)}),
        ({"at": 1e12 + DAY}, {"at": datetime(2026, 2, 7, 19, 0, 30)}),
        ({"text": " a \r\nb\u2028c\r "}, {"text": "a\nb\nc"}),
        ({"text": "x" * 20_000}, {"text": "x" * 20_000}),
        ({"assembly": "left\nwing ", "step": " 5.1"}, {"assembly": "left wing", "step": "5.1"}),
        ({"until": "x" * 200}, {"until": "x" * 200}),
        ({"private": True}, {"private": True}),
        ({"private": "yes", "size": "7"}, {"private": False, "size": 0}),
        ({"size": 7}, {"size": 7}),
        ({"people": ["ada", "bo", "ada"], "items": ["x" * 201]}, {"people": ("ada", "bo"), "items": ("x" * 200,)}),
        ({"items": [str(one) for one in range(50)]}, {"items": tuple(str(one) for one in range(50))}),
        ({"row": {"bolt": " AN4\n", "value": "", "nut": 7}}, {"row": {"bolt": "AN4"}}),
        ({"row": {"bolt": "x" * 501}}, {"row": {"bolt": "x" * 500}}),
        (
            {"titles": {"a": "", "b": "B"}, "hours": {"a": "", "b": "1:15"}},
            {"titles": {"a": "", "b": "B"}, "hours": {"b": "1:15"}},
        ),
        ({"titles": {str(one): "x" for one in range(50)}}, {"titles": {str(one): "x" for one in range(50)}}),
    ],
)
def test_what_is_sent_arrives_on_one_line_each_and_within_bounds(told: dict[str, Any], kept: dict[str, Any]) -> None:
    """Times by the phone's own distance from now; what a page would not send is left out."""
    sent = read_sent({**SENT, **told}, NOW, ZONE)
    assert {name: getattr(sent, name) for name in kept} == kept


@pytest.mark.parametrize(
    "told",
    [
        {"key": "0" * 15},
        {"key": "0" * 33},
        {"key": "G" * 24},
        {"key": 7},
        {"at": None},
        {"now": "1e12"},
        {"at": 1e12 - 60 * DAY - 1},
        {"at": float("-inf")},
        {"text": "x" * 20_001},
        {"until": "x" * 201},
        {"step": 5.1},
        {"people": ["ada", 7]},
        {"items": [""] * 51},
        {"row": {"value": "1", "rivet": "x"}},
        {"row": {str(one): "x" for one in range(51)}},
        {"titles": "x"},
    ],
)
def test_what_no_page_would_send_is_refused(told: dict[str, Any]) -> None:
    """Types, lengths, times and keys."""
    with pytest.raises(RefusedError):
        read_sent({**SENT, **told}, NOW, ZONE)


@pytest.mark.parametrize(
    ("kind", "keys"),
    [
        ("fasteners", "rivet screw nutplate part grip count shop_head edge hole"),
        ("torque", "bolt screw fitting part nut value drag wrench count locked"),
        ("measured", "what value"),
        ("note", ""),
    ],
)
def test_a_line_has_the_keys_of_its_kind(kind: str, keys: str) -> None:
    """Those that the entry knows, and none by which something else could be said of it."""
    row = dict.fromkeys(keys.split(), "x")
    assert read_sent({**SENT, "kind": kind, "row": row}, NOW, ZONE).row == row
    for odd in ("draft", "private", "formerly"):
        with pytest.raises(RefusedError, match=f"A line has no {odd}"):
            read_sent({**SENT, "kind": kind, "row": {**row, odd: "x"}}, NOW, ZONE)


@pytest.mark.parametrize("by", [ENTER, ADOPT, MOVE, "Ada's phone"])
def test_a_phone_is_shown_what_phones_wrote(phone: Phone, by: str) -> None:
    """What was written at the desk is taken back there."""
    phone.bench.written.change("content/entries/x/index.md", lambda _: entry("draft: true"), by=by, said="X")
    shown = [one["said"] for one in state_of(phone.bench, NOW)["written"]]
    assert shown == (["X"] if by == "Ada's phone" else [])


def test_a_time_that_cannot_be_is_asked_about(phone: Phone) -> None:
    """18:00 for an evening that began at half past six: a slip, and no day and night of work."""
    phone.send("18:30", "start", people=["ada"])
    with pytest.raises(RefusedError, match="18:30 to 18:00 is 23 h 30 min; when did it end") as refused:
        phone.send("2026-02-08 17:00", "stop", people=["ada"], until="18:00")
    assert refused.value.asks == "until"
    assert phone.bench.clocks(phone.bench.journal())


def test_pictures_come_from_another_disk(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    """`.journal` may be a link to one, where no file can be renamed into content/; back goes it as well."""
    whole, cache = Path.replace, str(phone.root / ".journal/")

    def replace(self: Path, target: Path) -> Path:
        if str(self).startswith(cache) != str(target).startswith(cache):
            raise OSError(errno.EXDEV, "Invalid cross-device link")
        return whole(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    data, key = photo_bytes(), phone.key()
    phone.picture("19:00", data, key=key)
    picture = phone.root / "content/entries/2026-02-07-flaps/2026-02-07-190000.jpg"
    assert picture.read_bytes() == data
    assert not [*(phone.root / ".journal/bench/arriving").glob("*.part")]
    phone.bench.written.take_back(key)
    assert not picture.exists()
    assert [path.read_bytes() for path in (phone.root / ".journal/taken-back").rglob("*.jpg")] == [data]


def test_what_came_too_long_comes_anew(phone: Phone) -> None:
    """It can never become the picture that it should be."""
    phone.bench.arrivals.add("a" * 24, 0, b"x" * 50)
    with pytest.raises(RefusedError) as refused:
        phone.send("19:00", "picture", key="a" * 24, size=20)
    assert (refused.value.asks, phone.bench.arrivals.size("a" * 24)) == ("upload", 0)


def test_one_piece_that_comes_many_times_at_once_is_added_once(tmp_path: Path) -> None:
    """The first was slow, and the phone sent it again."""
    arrivals, key = Arrivals(tmp_path), "a" * 24
    with ThreadPoolExecutor(8) as pool:
        told = [*pool.map(lambda _: arrivals.add(key, 0, b"x" * 1000), range(16))]
    assert {*told} == {1000}
    assert arrivals.size(key) == 1000


@pytest.mark.parametrize("now", ["gone", "old letters"])
def test_a_text_that_cannot_be_taken_back_is_said_so(phone: Phone, now: str) -> None:
    """Its folder was renamed, or an editor saved it in an old encoding: nothing is touched, and nothing stops."""
    phone.send("19:00", "note", text="One")
    phone.send("19:00", "note", key="a" * 24, text="Two")
    path = phone.root / "content/entries/2026-02-07-flaps/index.md"
    if now == "gone":
        path.parent.rename(path.parent.with_name("2026-02-07-ribs"))
    else:
        path.write_bytes("Rücken".encode("latin-1"))
    before = contents(phone.root)
    with pytest.raises(NotTakenBackError, match=r"not there any more|not written as UTF-8"):
        phone.bench.written.take_back("a" * 24)
    assert contents(phone.root) == before
    assert phone.send("19:05", "note", text="Three").said.startswith("A note")


def test_words_of_a_private_note_are_for_the_desk_alone(phone: Phone) -> None:
    """What cannot be taken back is named with its words in the terminal, and without them on the page."""
    phone.send("19:00", "note", key="a" * 24, text="The red box", private=True)
    path = phone.root / "content/entries/2026-02-07-flaps/index.md"
    path.write_text(phone.text().replace("red", "blue"), "utf-8")
    with pytest.raises(NotTakenBackError) as refused:
        phone.bench.written.take_back("a" * 24)
    assert "red" in refused.value.words
    assert "red" not in str(refused.value)


@pytest.mark.parametrize("saves", [1, 99])
def test_an_editor_that_saves_meanwhile_loses_nothing(phone: Phone, saves: int) -> None:
    """Its words stay, and what the phone sent comes to them; where that is never done, the phone keeps it."""
    phone.send("19:00", "note", text="One")
    path, left = phone.root / "content/entries/2026-02-07-flaps/index.md", [saves]

    def slow(text: str) -> str:
        if left[0]:
            left[0] -= 1
            path.write_text(f"{text}Desk {left[0]}\n", "utf-8")
        return f"{text}Two\n"

    if saves == 1:
        phone.bench.written.change("content/entries/2026-02-07-flaps/index.md", slow, by="x", said="Two", key="a" * 24)
    else:
        with pytest.raises(OSError, match="another program"):
            phone.bench.written.change("content/entries/2026-02-07-flaps/index.md", slow, by="x", said="", key="a" * 24)
    assert phone.text().count("Desk") == min(saves, 5)
    assert phone.text().count("Two") == (saves == 1)
    assert (phone.bench.written.find("a" * 24) is not None) == (saves == 1)


@pytest.mark.parametrize(
    "odd", [{"at": "yesterday"}, {"at": 5}, {"file": None}, {"before": 5}, {"moved": 7}, {"key": []}]
)
def test_records_that_were_damaged_stop_nothing(phone: Phone, odd: dict[str, Any]) -> None:
    """As if they were not there."""
    phone.send("19:00", "note", text="One")
    for path in (phone.root / ".journal/written").glob("*.json"):
        path.write_text(json.dumps(json.loads(path.read_text("utf-8")) | odd), "utf-8")
    assert not phone.bench.written.newest()
    assert state_of(phone.bench, datetime(2026, 2, 7, 19))["written"] == []
    phone.send("19:01", "note", text="Two")
    assert len(phone.bench.written.newest()) == 1


def test_an_entry_that_is_a_file_goes_by_its_own_name(phone: Phone) -> None:
    """`entries/x.md`: its clock is shown under x."""
    matter = "---\ndate: 2026-02-07\nassembly: flaps\n# clock: ada since 2026-02-07 18:30\ndraft: true\n---\n"
    (phone.root / "content/entries").mkdir()
    (phone.root / "content/entries/x.md").write_text(matter, "utf-8")
    assert state_of(phone.bench, datetime(2026, 2, 7, 19))["clocks"][0]["entry"] == "x"
    assert phone.send("19:30", "stop", people=["ada"]).said == "Ada 1 h (x)"


@pytest.mark.parametrize(
    ("entries", "assembly"),
    [
        ([], "workshop"),
        ([("2026-02-05", "flaps", ""), ("2026-02-06", "left-wing", "")], "left-wing"),
        ([("2026-02-07", "flaps", ""), ("2026-02-08", "left-wing", "")], "flaps"),
        ([("2026-02-06", "left-wing", ""), ("2026-02-05", "flaps", "draft: true")], "flaps"),
        ([("2026-02-07", "left-wing", ""), ("2026-02-07", "flaps", "draft: true")], "flaps"),
        ([("2026-02-07", "left-wing", ""), ("2026-02-09", "flaps", "draft: true")], "left-wing"),
    ],
)
def test_the_assembly_under_way(make_build: MakeBuild, entries: list[tuple[str, str, str]], assembly: str) -> None:
    """That of the day's last entry, a draft before others; else of the last draft, the last entry, the first of all."""
    files = {f"entries/{day}-{of}/index.md": entry(f"date: {day}\nassembly: {of}\n{more}") for day, of, more in entries}
    build = Bench(make_build(files)).journal().build
    assert assembly_under_way(build, date(2026, 2, 7)) == assembly


def test_people_of_one_name_are_told_apart(make_build: MakeBuild) -> None:
    """By their IDs, on their buttons and in what is said."""
    phone = Phone(make_build(LISTS | {"build.yml": BUILD_YML.replace("Bo Lindqvist", "Ada Lindqvist")}))
    names = [one["name"] for one in state_of(phone.bench, datetime(2026, 2, 7, 19))["people"]]
    assert names == ["Ada (ada)", "Ada (bo)", "Hanne"]
    assert phone.send("19:00", "start", people=["bo"]).said == "Ada (bo): the clock runs from 19:00 (2026-02-07-flaps)"


def test_what_comes_while_build_yml_is_broken_waits(phone: Phone) -> None:
    """An editor is half done with it: nothing is refused for good, and the page sends it again."""
    file = phone.root / "content/build.yml"
    whole = file.read_text("utf-8")
    file.write_text("people: [", "utf-8")
    with pytest.raises(OSError, match=r"build\.yml cannot be read at the moment"):
        phone.send("19:00", "note", key="a" * 24, text="One")
    file.write_text(whole, "utf-8")
    assert phone.send("19:00", "note", key="a" * 24, text="One").said.startswith("A note")


@pytest.mark.parametrize(
    ("hours", "minutes"),
    [
        ("hours: {Ada: 3:15}", {"ada": 255, "bo": 90}),
        ("hours:\n  Ada Bergstrom: 3:15  # x\n  bo: 1:00", {"ada": 255, "bo": 150}),
        ("people: [Ada Bergstrom]\nhours: 1:00", {"ada": 120, "bo": 90}),
        ("people: ADA\nhours: 18:00-18:30, 18:30-19:00", {"ada": 120, "bo": 90}),
        ("people: [ada, bo]\nhours: 1:00  # each", {"ada": 120, "bo": 150}),
        ("people: [ada]\nhours: ''", {"ada": 60, "bo": 90}),
        ("people: [ada]", {"ada": 60, "bo": 90}),
    ],
)
def test_clocks_add_to_the_hours_of_the_desk_and_to_nobody_elses(
    phone: Phone, hours: str, minutes: dict[str, int]
) -> None:
    """However people are called there; who comes later has none of the time that was given for others."""
    matter = (
        entry(f"{hours}\ndraft: true") if "hours" in hours else f"---\ndate: 2026-02-07\nassembly: flaps\n{hours}\n"
    )
    folder = phone.root / "content/entries/2026-02-07-flaps"
    folder.mkdir(parents=True)
    (folder / "index.md").write_text(matter if "hours" in hours else f"{matter}draft: true\n---\n", "utf-8")
    phone.send("19:00", "start", people=["ada"])
    phone.send("19:00", "start", people=["bo"])
    before = {one.person: one.minutes for one in phone.bench.journal().build.drafts[0].time}
    assert all(told == minutes[who] - {"ada": 60, "bo": 90}[who] for who, told in before.items())
    phone.send("20:00", "stop", people=["ada"])
    phone.send("20:30", "stop", people=["bo"])
    (draft,) = phone.bench.journal().build.drafts
    assert {one.person: one.minutes for one in draft.time} == minutes
    assert sorted(draft.people) == ["ada", "bo"]


def test_times_of_several_people_in_one_text_are_for_the_desk(phone: Phone) -> None:
    """It is said so; the clock runs on, and nothing is touched."""
    folder = phone.root / "content/entries/2026-02-07-flaps"
    folder.mkdir(parents=True)
    (folder / "index.md").write_text(entry("hours: Ada 3h, Bo 90 min\ndraft: true"), "utf-8")
    phone.send("19:00", "start", people=["ada"])
    with pytest.raises(RefusedError, match="the times of several people in one text"):
        phone.send("20:00", "stop", people=["ada"])
    assert phone.bench.clocks(phone.bench.journal())


EVENING: list[tuple[str, str, dict[str, Any]]] = [
    ("2026-02-03 18:00", "start", {"people": ["insp"]}),
    ("08:00", "step", {"step": "5.1", "mark": "begun", "assembly": ""}),
    ("2026-02-06 23:50", "start", {"people": ["ada"]}),
    ("00:20", "note", {"text": "Still at it", "step": "5.2"}),
    ("00:30", "start", {"people": ["ada", "bo"]}),
    ("00:40", "start", {"people": ["ada", "insp"]}),
    ("00:41", "start", {"people": ["insp"]}),
    ("00:42", "stop", {"people": ["insp"], "until": "19:00"}),
    ("08:30", "start", {"people": ["ada"]}),
    ("08:40", "stop", {"people": ["ada"]}),
    ("08:40", "stop", {"people": ["ada"], "until": "late"}),
    ("08:40", "stop", {"people": ["ada"], "until": "11:00"}),
    ("08:40", "stop", {"people": ["ada"], "until": "1:10"}),
    ("08:41", "stop", {"people": ["ada"]}),
    ("09:00", "start", {"people": ["hanne"]}),
    ("09:00", "stop", {}),
    ("09:05", "stop", {"people": ["hanne"]}),
    ("09:10", "start", {"people": ["zoe"]}),
    ("09:11", "step", {"step": "9.9", "mark": "steps"}),
    ("09:12", "step", {"step": "5.1", "mark": "hours"}),
    ("09:13", "note", {"text": " "}),
    ("09:14", "note", {"text": "Not for all", "private": True, "step": "7.1"}),
    ("09:15", "material", {"items": ["p1", "x9"]}),
    ("09:16", "material", {"items": ["p1"]}),
    ("09:17", "measured", {"row": {"what": "gap"}}),
    ("09:18", "measured", {"row": {"what": "gap", "value": "0.02 in"}, "private": True}),
    ("09:19", "fasteners", {"step": "5.2", "row": {"rivet": "AN470AD4-6", "count": "x"}}),
    ("09:20", "torque", {"step": "5.3", "row": {"bolt": "AN4-10A", "value": "99 in-lb"}}),
    ("09:21", "picture", {"size": 9}),
    ("09:22", "note", {"text": "Nowhere", "assembly": "tail"}),
    ("09:30", "start", {"people": ["bo"]}),
    ("09:50", "close", {"titles": {"2026-02-07-flaps": "Ribs"}, "hours": {"2026-02-07-left-wing": "0:45"}}),
    (
        "10:00",
        "close",
        {"items": ["2026-02-06-flaps", "2026-02-07-left-wing"], "titles": {"2026-02-06-flaps": "Night"}},
    ),
    ("10:01", "close", {}),
    ("2026-02-09 22:00", "note", {"text": "In the evening"}),
    ("2026-02-10 03:59", "note", {"text": "In the night"}),
    ("2026-02-10 04:00:00", "note", {"text": "In the morning"}),
    ("2026-02-10 04:10:05", "start", {"people": ["ada"]}),
    ("2026-02-10 04:10:55", "stop", {"people": ["ada"]}),
    ("2026-02-12 18:00", "start", {"people": ["ada"]}),
    ("2026-02-12 19:00", "start", {"people": ["bo"]}),
    ("2026-02-12 19:10", "start", {"people": ["insp"]}),
    ("2026-02-12 20:00", "stop", {"people": ["ada", "bo", "insp"]}),
]


def test_every_word_of_an_evening(phone: Phone, monkeypatch: pytest.MonkeyPatch, pytestconfig: pytest.Config) -> None:
    """What the phone is answered, each refusal with what it asks for, the entries and what the page then shows."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1770508800")  # 2026-02-08T00:00:00Z
    golden, told = Path(__file__).with_name("bench.golden.txt"), []
    by_hand = phone.root / "content/entries/2026-02-12-flaps/index.md"
    by_hand.parent.mkdir(parents=True)
    by_hand.write_text(entry("date: 2026-02-12\nhours: {Ada: 0:30, Ines: 0:15}\npeople: [Ada, Ines]\ndraft: true"))
    for when, kind, sent in EVENING:
        try:
            taken = phone.send(when, kind, **sent)
            said = "; ".join([taken.said, *taken.told])
        except RefusedError as refused:
            said = f"No ({refused.asks}): {refused}"
        told.append(f"{when} {kind} {sent}\n  {said}")
    damaged = photo_bytes("2026-01-01 10:00:00", shade=7)[:-30]
    told.append(str(phone.picture("10:02:03", damaged, text="A rib", private=True)))
    told.append(str(phone.picture("10:02:04", damaged)))
    told.append(str(phone.send("10:03", "note", text="With the picture")))
    told.append(str(phone.send("10:04", "close", items=["2026-02-07-flaps"])))
    told.append(str(phone.picture("10:05", damaged)))
    told += [
        f"== {path.parent.name}\n{path.read_text('utf-8')}"
        for path in sorted(phone.root.glob("content/entries/*/index.md"))
    ]
    state = state_of(phone.bench, datetime(2026, 2, 8, 9, 0))
    state["written"] = [one["said"] for one in state["written"]]
    told += [f"{key}: {value}" for key, value in state.items()] + [str(today_for(phone.bench, private=True))]
    text = "\n".join(told) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        golden.write_text(text, "utf-8", newline="\n")
    assert text == golden.read_text("utf-8")
