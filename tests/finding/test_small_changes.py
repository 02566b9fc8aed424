"""After a small change the terminal's index is what it would be, made from nothing."""

from __future__ import annotations

import os
import random
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from cameras import photo_bytes, take
from making import BUILD_YML, STEPS_CSV, entry

from journal.finding import cache
from journal.finding.cache import WarmIndex, code_stamp, content_stamps, open_warm
from journal.finding.documents import Document
from journal.finding.index import Analysed, analyse
from journal.finding.tokens import Tokenizer
from journal.ledger.journal import Journal, open_journal
from journal.making import warm_index
from journal.making.warm_index import make_warm

TODAY = date(2026, 3, 1)


class Desk:
    """A build folder, and an index of it for each audience that is renewed after every change."""

    def __init__(self, root: Path, beside: Path) -> None:
        self.root = root
        self.beside = beside
        self.whole = 0
        """How often the journal was opened whole."""

    def file(self, everything: bool) -> Path:
        """Where the index of an audience lies."""
        return self.beside / f"{everything}.sqlite"

    def _open(self) -> Journal:
        self.whole += 1
        return open_journal(self.root, TODAY)

    def bring(self, file: Path, everything: bool, old: WarmIndex | None) -> None:
        """Bring an index up to date."""
        stamps = content_stamps(self.root, "code")
        if old is None or old.key != stamps.key:
            where: dict[str, Any] = {"root": self.root, "today": TODAY, "old": old}
            make_warm(self._open, file, stamps, code="code", everything=everything, **where)
        if old:
            old.close()

    def renew(self, everything: bool, *, anew: bool = False) -> dict[str, Any]:
        """All that the index of an audience says, brought up to date or made from nothing."""
        file = self.beside / "anew.sqlite" if anew else self.file(everything)
        self.bring(file, everything, None if anew else open_warm(file))
        index = open_warm(file)
        assert index
        told = all_of(index)
        index.close()
        return told

    def small(self, everything: bool) -> bool:
        """Renew an index; whether that took no opening of the journal."""
        before, file = self.whole, self.file(everything)
        self.bring(file, everything, open_warm(file))
        return self.whole == before

    def check(self, *audiences: bool) -> None:
        """Each index is what it would be, made from nothing."""
        for everything in audiences:
            renewed, fresh = self.renew(everything), self.renew(everything, anew=True)
            for part, said in fresh.items():
                assert renewed[part] == said, (part, everything)


def all_of(index: WarmIndex) -> dict[str, Any]:
    """Everything that an answer could show, by the places that documents have in it."""
    return {
        "about": index.about,
        **index.lexicon,
        "cards": [index.card(place) for place in range(index.lexicon["documents"])],
        "postings": {term: index.postings(term) for term in index.lexicon["terms"]},
        "state": {name: index.fact("state")[name] for name in ("entries", "folders", "rest", "steps")},
        "pictures": {entry: index.pictures(entry) for entry in index.fact("state")["entries"]},
    }


@pytest.fixture
def desk(collection: Path, tmp_path: Path) -> Desk:
    """A third of the collection, at a desk, with the index for followers warm."""
    root = tmp_path / "build"
    shutil.copytree(collection, root, ignore=shutil.ignore_patterns(".journal"))
    told = "".join(file.read_text("utf-8") for file in (root / "content" / "inspections").rglob("index.md"))
    for number, folder in enumerate(sorted((root / "content" / "entries").iterdir())):
        if number % 3 and folder.name not in told:
            shutil.rmtree(folder)
    desk = Desk(root, tmp_path)
    assert not desk.small(everything=False)
    return desk


RIVETS = "{rivet: AN470AD4-5, count: 7, step: 5.3"
ENTRIES = {
    "spar x": "date: 2026-01-12\nassembly: left-wing",
    "rib": "date: 2026-02-01",
    "tail": f"date: 2026-02-08\nfasteners: [{RIVETS}, drilled_out: rib}}]",
}


Doing = Callable[[Path], object]
"""What a hand does in content/."""


def on(name: str, matter: str = "", body: str = "Worked on it.") -> Doing:
    """A hand that writes an entry."""

    def write(content: Path) -> None:
        file = content / "entries" / name / "index.md"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(entry(matter, body), "utf-8")

    return write


def off(name: str) -> Doing:
    """A hand that takes an entry away."""
    return lambda content: shutil.rmtree(content / "entries" / name)


def put(name: str, text: str) -> Doing:
    """A hand that writes any other file."""
    return lambda content: (content / name).write_text(text, "utf-8")


@pytest.fixture(scope="module")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """Three entries, of which one drills out what another set, and the index for followers warm."""
    root = tmp_path_factory.mktemp("tiny") / "build"
    texts = {"content/build.yml": BUILD_YML, "content/steps.csv": STEPS_CSV, "mkdocs.yml": "site_name: Tarn\n"}
    for name, text in texts.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text, "utf-8")
    for name, matter in ENTRIES.items():
        on(name, matter)(root / "content")
    for name, taken in (("a.jpg", "2026-02-01 19:00:00"), ("b.jpg", "2026-02-01 18:30:00"), ("c.jpg", "")):
        take(root / "content/entries/rib" / name, taken)
    (root / "content/entries/rib/d.jpg").write_bytes(photo_bytes()[:-40])
    desk = Desk(root, root / "beside")
    desk.beside.mkdir()
    assert not desk.small(everything=False)
    shutil.copytree(root, root.with_name("kept"))
    return desk


class Hand:
    """Does to entries what builders do, by chance."""

    def __init__(self, root: Path, chance: random.Random) -> None:
        self.entries = root / "content" / "entries"
        self.chance = chance
        self.done = 0
        self.usual = [self.words, self.fewer, self.day, self.steps, self.people, self.private, self.photo]
        self.usual += [self.caption, self.name, self.gone, self.new, self.words, self.new, self.photo]

    def one(self) -> Path:
        """Any entry's text."""
        return self.chance.choice(sorted(self.entries.glob("*/index.md")))

    def put(self, file: Path, change: Callable[[str], str]) -> None:
        """Write a text anew."""
        file.write_text(change(file.read_text("utf-8")), "utf-8")

    def key(self, name: str, value: str) -> None:
        """Set a key of the front matter of an entry, or take it out."""
        line = f"{name}: {value}\n" if value else ""
        file = self.one()
        kept = re.sub(rf"^{name}:.*\n(?:[ -].*\n)*", "", file.read_text("utf-8"), flags=re.MULTILINE)
        file.write_text(kept.replace("---\n", f"---\n{line}", 1), "utf-8")

    def words(self) -> None:
        """A sentence more, in public or in private."""
        lead = self.chance.choice(["", "", "!!! private\n    ", "## Heading\n\n"])
        said = self.chance.choice(["The ribs fit now.", "Drilled 3/32 and 46 more.", f"Quokka {self.done}.", "day 7"])
        self.put(self.one(), lambda text: f"{text}\n\n{lead}{said}\n")

    def fewer(self) -> None:
        """The last paragraph goes."""
        self.put(self.one(), lambda text: text.rstrip().rpartition("\n\n")[0] + "\n" if "\n\n" in text else text)

    def day(self) -> None:
        """Another date."""
        day = date(2025, 1, 10) + timedelta(days=self.chance.choice([3, 3, self.chance.randrange(360)]))
        self.key("date", day.isoformat())

    def steps(self) -> None:
        """Other steps, in another sense."""
        name = self.chance.choice(["steps", "begun", "redone"])
        self.key(name, self.chance.choice(["", "[5.1]", "[7.10]", "[7.10, 7.11]", "[5.2]"]))

    def people(self) -> None:
        """Other people, tools, hardware, a title."""
        values = {"people": "[pete]", "tools": "[bending brake]", "hours": "18:30-21:45", "title": "Quokka spar"}
        values |= {"fasteners": "[{rivet: AN470AD4-5, count: 7, step: 7.10}]", "materials": ""}
        name, value = self.chance.choice(list(values.items()))
        self.key(name, value)

    def private(self) -> None:
        """Private, a draft, or neither."""
        self.key(self.chance.choice(["private", "draft"]), self.chance.choice(["true", ""]))

    def photo(self) -> None:
        """A photo comes, or goes."""
        folder = self.one().parent
        photos = sorted(folder.glob("*.jpg"))
        if photos and self.chance.random() < 0.3:
            photos[-1].unlink()
        else:
            source = self.chance.choice(sorted(self.entries.glob("*/*.jpg")))
            shutil.copy(source, folder / f"IMG_9{self.done:03}.jpg")

    def caption(self) -> None:
        """Another caption."""
        said = self.chance.choice(["The quokka on the spar", "Nose ribs 46"])
        self.put(self.one(), lambda text: re.sub(r"(IMG_\d+\.jpg): .*", rf"\1: {said}", text, count=1))

    def name(self) -> None:
        """Another name, which may lead to the address of another."""
        folder = self.one().parent
        ending = self.chance.choice(["-x", " x", "-X"])
        if not folder.with_name(folder.name + ending).exists():
            folder.rename(folder.with_name(folder.name + ending))

    def gone(self) -> None:
        """One goes."""
        shutil.rmtree(self.one().parent)

    def new(self) -> None:
        """One comes."""
        day = date(2025, 1, 10) + timedelta(days=self.chance.choice([3, self.chance.randrange(400)]))
        folder = self.entries / f"{day}-new-{self.done}"
        folder.mkdir(exist_ok=True)
        hours = self.chance.choice(["1", "7:00-8:00", "18:30-21:45"])
        matter = f"date: {day}\nassembly: left-wing\nhours: {hours}\nsteps: [7.10]"
        (folder / "index.md").write_text(entry(matter, "A quokka came by."), "utf-8")

    def odd(self) -> None:
        """What cannot be told from few entries: an error, a former name, a list, another form of an entry."""
        file, which = self.one(), self.chance.randrange(5)
        if which == 0:
            self.put(file, lambda text: text.replace("assembly: ", "assembly: x", 1))
        elif which == 1:
            self.put(file, lambda text: text.replace("assembly: x", "assembly: ", 1))
        elif which == 2:
            self.key("formerly", f"[earlier-{self.done}]")
        elif which == 3:
            steps = self.entries.parent / "steps.csv"
            steps.write_text(steps.read_text("utf-8").replace("Rivet", "Set", 1), "utf-8")
        else:
            (self.entries / f"2025-04-0{1 + self.done % 9}-lone.md").write_text(
                entry("assembly: flaps\nhours: 1", "A lone quokka."), "utf-8"
            )

    def act(self) -> str:
        """Do one thing; what it was."""
        act = self.odd if self.chance.random() < 0.04 else self.chance.choice(self.usual)
        self.done += 1
        act()
        return act.__name__


def edit(desk: Desk, seed: int, times: int) -> Iterator[bool]:
    """Do things by chance; whether the index for followers was renewed without opening the journal. What made an error
    is put back first.
    """
    hand = Hand(desk.root, random.Random(seed))
    content, before = desk.root / "content", desk.beside / "before"
    for _ in range(times):
        if desk.renew(everything=False)["about"]["errors"]:
            shutil.rmtree(content)
            before.rename(content)
        shutil.rmtree(before, ignore_errors=True)
        shutil.copytree(content, before)
        for _ in range(hand.chance.choice([1, 1, 1, 3])):
            hand.act()
        yield desk.small(everything=False)


def test_an_index_after_edits_is_the_one_made_from_nothing(desk: Desk) -> None:
    """A handful of edits by chance."""
    small = list(edit(desk, 2, 8))
    desk.check(False)
    assert sum(small) >= 4


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1, 6))
def test_an_index_after_many_edits_is_the_one_made_from_nothing(desk: Desk, seed: int) -> None:
    """Two hundred in all, each index held against a new one after each."""
    if seed % 2:  # what stands against call-outs hangs on all entries
        (desk.root / "content" / "callouts.csv").unlink()
    small = 0
    for was_small in edit(desk, seed, 40):
        small += was_small
        desk.check(False, True)
    assert small > 15


STEP_OF_RIB = put("steps.csv", STEPS_CSV.replace("Deburr", "File"))
CHANGES: dict[str, tuple[bool, list[Doing]]] = {
    "words": (True, [on("rib", body="A quokka came by.")]),
    "a caption": (True, [on("rib", "photos: {b.jpg: A quokka}")]),
    "a picture goes": (True, [lambda content: (content / "entries/rib/b.jpg").unlink()]),
    "a picture comes": (True, [lambda content: take(content / "entries/rib/e.jpg", shade=1)]),
    "a picture comes back by another name": (
        True,
        [
            lambda content: (content / "entries/rib/a.jpg").rename(content / "entries/rib/z.jpg"),
            on("rib", "photos: {z.jpg: A quokka}"),
        ],
    ),
    "another day": (True, [on("rib", "date: 2026-01-11")]),
    "a step is worked on": (True, [on("rib", "steps: [5.1]")]),
    "a new entry": (True, [on("tip", "people: [bo]")]),
    "an entry goes": (True, [off("tail")]),
    "an entry is private": (True, [on("tail", "private: true")]),
    "an entry is a draft": (True, [on("tail", "draft: true")]),
    "a draft is an entry": (True, [on("tail", "draft: true"), on("tail")]),
    "another lies in the folder of a year": (True, [on("2025/rib 1.5"), on("rib", body="A quokka came by.")]),
    "two in a row": (True, [on("tip"), on("tip", body="A quokka came by.")]),
    "one has a former name, another other words": (
        True,
        [on("tail", "formerly: [trestle]"), on("rib", body="A quokka.")],
    ),
    # Else it hangs on those that did not change.
    "one that is named by another goes": (False, [off("rib")]),
    "one that was named just now goes": (
        False,
        [on("tail", f"fasteners: [{RIVETS}, drilled_out: spar x}}]"), off("spar x")],
    ),
    "one that is named by another has another name": (False, [off("rib"), on("ribs")]),
    "an error": (False, [on("rib", "assembly: tailplane")]),
    "an error is mended": (False, [on("rib", "assembly: tailplane"), on("rib")]),
    "one error stays": (False, [on("rib", "assembly: tailplane"), on("tail")]),
    "a former name": (False, [on("tail", "formerly: [trestle]")]),
    "a new entry goes by a former name": (False, [on("tail", "formerly: [trestle]"), on("trestle")]),
    "a list": (False, [STEP_OF_RIB]),
    "a file of its own": (False, [put("entries/lone.md", entry(""))]),
    "the folder of a year": (False, [lambda content: (content / "entries" / "2026").mkdir()]),
    "the address of another": (False, [on("Spar-X")]),
    "two had one address": (False, [on("Spar-X"), on("rib", body="A quokka came by.")]),
}


ANALYSED: dict[Document, Analysed] = {}


def analyse_once(document: Document, tokenizer: Tokenizer) -> Analysed:
    """The words of a document, which most have in common from build to build."""
    if document not in ANALYSED:
        ANALYSED[document] = analyse(document, tokenizer)
    return ANALYSED[document]


@pytest.mark.parametrize("said", CHANGES)
def test_the_journal_is_opened_only_for_what_hangs_on_others(
    tiny: Desk, monkeypatch: pytest.MonkeyPatch, said: str
) -> None:
    """Each kind of change, whether or not the journal must be opened whole; where not, the index is right too."""
    monkeypatch.setattr(warm_index, "analyse", analyse_once)
    small, changes = CHANGES[said]
    shutil.rmtree(tiny.root)
    shutil.copytree(tiny.root.with_name("kept"), tiny.root)
    for change in changes:
        change(tiny.root / "content")
        was_small = tiny.small(everything=False)
    assert was_small is small
    if small:
        tiny.check(False)


def test_what_became_private_is_in_no_byte_of_the_index_for_followers(desk: Desk) -> None:
    """A word, a caption and a name that stand in one entry alone: once it is private they are gone from the file, also
    from what a database leaves behind where rows were.
    """
    folder = desk.root / "content" / "entries" / "2025-12-01-wobbegong-spar"
    folder.mkdir()
    photo = next((desk.root / "content" / "entries").glob("*/*.jpg"))
    shutil.copy(photo, folder / "IMG_7.jpg")
    matter = "date: 2025-12-01\nassembly: left-wing\nhours: 1\nphotos:\n  IMG_7.jpg: A bandicoot on it"
    (folder / "index.md").write_text(entry(matter, "A numbat came by. " * 40), "utf-8")
    words = (b"wobbegong", b"bandicoot", b"numbat")
    assert desk.small(everything=False)
    file = desk.file(everything=False)
    assert all(word in file.read_bytes() for word in words)
    (folder / "index.md").write_text(entry(f"{matter}\nprivate: true", "A numbat came by. " * 40), "utf-8")
    assert desk.small(everything=False)
    assert not [word for word in words if word in file.read_bytes().lower()]
    assert list(file.parent.glob(".*.part")) == []


@pytest.mark.parametrize("name", ["finding/a.py", "data/a.csv", "data/deep/a.json", "data/a.yml"])
def test_an_index_of_another_program_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Code, lists and rules: each file of them, by size and time; what is none of these makes no difference."""
    monkeypatch.setattr(cache, "__file__", str(tmp_path / "finding" / "cache.py"))
    (tmp_path / name).parent.mkdir(parents=True)
    (tmp_path / name).write_text("x", "utf-8")
    first = code_stamp()
    (tmp_path / "a.pyc").write_text("x", "utf-8")
    assert code_stamp() == first
    (tmp_path / name).write_text("xy", "utf-8")
    second = code_stamp()
    os.utime(tmp_path / name, (1, 1))
    assert len({first, second, code_stamp()}) == 3


@pytest.mark.slow
@pytest.mark.parametrize("damage", ["lexicon", "postings", "outlines"])
def test_a_damaged_index_is_no_ground_for_the_next(desk: Desk, damage: str) -> None:
    """Whatever a file holds that looks like an index, after a change the journal is opened and the answer is right."""
    with closing(sqlite3.connect(desk.file(everything=False))) as database, database:
        if damage == "postings":
            database.execute("DROP TABLE postings")
        elif damage == "outlines":
            database.execute("UPDATE facts SET value = '[[1, 2]]' WHERE name = 'outlines'")
        else:
            database.execute("UPDATE facts SET value = '{}' WHERE name = 'lexicon'")
    file = next((desk.root / "content" / "entries").glob("*/index.md"))
    file.write_text(file.read_text("utf-8") + "\nA quokka came by.\n", "utf-8")
    assert not desk.small(everything=False)
    desk.check(False)
