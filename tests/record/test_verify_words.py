"""What verify says of an archive, sentence by sentence: archives in memory, each with one thing that is otherwise.

Held against verify.golden.txt beside this file, which was gone over by hand; `--rewrite-goldens` stores what is said
now, to be read like code. Digests are left out of it but for their beginnings.
"""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from difflib import unified_diff
from pathlib import Path

import pytest
from test_chain import NOON, amending, gone, lines_of, plain

from journal.base.byte_progress import silent
from journal.base.digests import Source, sha256_of
from journal.record.bag import _line_ends, read_tag, tag_files
from journal.record.chain import Kind, Seal, parse_chain, render_head
from journal.record.container import OpenBag
from journal.record.damage import DamageKind, damaged
from journal.record.sealed_parts import cut_parts
from journal.record.verify import BESIDE, Known, Report, check_archive, head_field, some_names

GOLDEN = Path(__file__).parent / "verify.golden.txt"
LISTS = {
    "steps.csv": b"assembly,step\nwing,1\nwing,2\nwing,3\n",
    "build.yml": b"name: Tarn\npeople:\n  ada: {}\n  bo: {}\nphotos: {width: 9}\n",
}
SOURCE: dict[str, bytes] = {
    "mkdocs.yml": b"site_name: Tarn\n",
    **{f"content/{name}": data for name, data in LISTS.items()},
    "content/entries/ribs/index.md": b"Ribs.",
    "content/entries/ribs/Fl\u00fcgel.jpg": b"a wing",
    "content/entries/ribs/b.jpg": b"a rib",
    "content/entries/2026/skin.MD": b"Skin.",
    "content/inspections/look/index.md": b"Seen.",
    "content/records/bills/a.txt": b"Rivets",
}
Make = Callable[[int, str], Seal]
UNREADABLE = b"unreadable"


class Held(OpenBag):
    """A bag in memory; UNREADABLE is what the disk does not give."""

    def __init__(self, held: Mapping[str, bytes]) -> None:
        super().__init__()
        self.held = held
        self.files = {path: len(data) for path, data in held.items()}

    @contextmanager
    def open(self, path: str) -> Iterator[Source]:
        """The bytes behind a path."""
        if self.held[path] == UNREADABLE:
            raise OSError(5, "Input/output error")
        yield io.BytesIO(self.held[path])


def told(
    name: str, text: bytes, kind: Kind = Kind.ENTRY, amends: int = 0, files: Mapping[str, bytes] | None = None
) -> Make:
    """A line about a folder: its text, and pictures by name."""
    digests = {file: sha256_of(data) for file, data in (files or {}).items()}
    more: dict[str, object] = {"kind": kind, "text": sha256_of(text), "files": digests}
    return amending(name, amends, **more) if amends else plain(name, **more)


PARTS = [
    plain(part.id, kind=part.kind, text=part.text, words=part.words, date=NOON.date())
    for part in cut_parts(lambda uri: LISTS.get(uri.removeprefix("content/")))
]
FIRST = [
    told("ribs", b"Ribs.", files={"Fl\u00fcgel.jpg": b"a wing", "b.jpg": b"a rib"}),
    told("skin", b"Skin."),
    told("look", b"Seen.", Kind.INSPECTION),
    told("bills/a.txt", b"Rivets", Kind.RECORD),
    *PARTS,
]


def texts_of(*texts: bytes) -> dict[str, bytes]:
    """Texts as they are kept."""
    return {f"content/seals/texts/{sha256_of(text)}.md": text for text in texts}


def archive(
    more: Mapping[str, bytes | None] | None = None,
    chain: list[Make] | None = None,
    *,
    info: Mapping[str, str] | None = None,
    beside: Mapping[str, bytes | None] | None = None,
    payload: Mapping[str, bytes | None] | None = None,
) -> dict[str, bytes]:
    """An archive of SOURCE and `more` (None: it is not there), sealed with `chain`, whose lists agree with it."""
    lines = lines_of(*(FIRST if chain is None else chain))
    held = parse_chain(b"".join(lines))
    seals: dict[str, bytes | None] = {}
    if lines:
        seals = {"content/seals.jsonl": held.raw, "content/seals/head.json": render_head(len(lines), held.head)}
    source = {**SOURCE, **seals, **(more or {})}
    files: dict[str, bytes | None] = {"data/index.html": b"<p>", "data/record.pdf": b"%PDF-"}
    files |= {f"data/source/{name}": data for name, data in source.items()} | dict(payload or {})
    kept = {name: data for name, data in files.items() if data is not None}
    fields = {"Bag-Software-Agent": "build-journal 1", "Journal-Contents": "everything"}
    fields |= {"Journal-Seals-Head": head_field(held), **(info or {})}
    size, digests = sum(map(len, kept.values())), {name: sha256_of(data) for name, data in kept.items()}
    last: dict[str, bytes | None] = {**tag_files(digests, size, [*fields.items()], {}), **(beside or {})}
    return kept | {name: data for name, data in last.items() if data is not None}


BARE = {f"data/source/{name}": None for name in [*SOURCE, "content/seals.jsonl", "content/seals/head.json"]}
NO_MORE = {"Journal-Contents": "nothing private"}
EDITED = SOURCE["content/steps.csv"].replace(b"wing,2", b"tail,2")
TURNED = b"assembly,step\nwing,3\nwing,1\nwing,2\n"
OTHER = lines_of(*FIRST[:2], told("tail", b"Tail."))
BRANCH = f"content/seals/branch-{parse_chain(b''.join(OTHER)).head[:8]}.jsonl"
NFC = "content/entries/ribs/Fl\u00fcgel.jpg"
NFD = unicodedata.normalize("NFD", NFC)
TAG = "tagmanifest-sha256.txt"
WHOLE = archive()
NUMBERED = {f"content/entries/e{number}/index.md": b"E" for number in range(6)}


def line(number: int, chain: list[bytes] | None = None) -> str:
    """The digest of a line."""
    return sha256_of((chain or lines_of(*FIRST))[number - 1][:-1])


def changed(count: int) -> list[Make]:
    """Entries whose text was another one before."""
    first = [told(f"e{number}", b"before %d" % number) for number in range(count)]
    return [*first, *(told(f"e{number}", b"E", amends=number + 1) for number in range(count))]


CASES: dict[str, tuple[dict[str, bytes], Known]] = {
    "whole": (WHOLE, Known()),
    "nothing sealed": (archive(chain=[]), Known()),
    "nothing sealed, and a line is known": (archive(chain=[]), Known(head=line(1))),
    "no head": (archive({"content/seals/head.json": None}), Known()),
    "a chain that breaks off": (
        archive({"content/seals.jsonl": b"".join(lines_of(*FIRST)[:2]) + b"x", "content/seals/head.json": None}),
        Known(),
    ),
    "head edited": (archive({"content/seals/head.json": b"{}"}), Known()),
    "another end than was written down": (archive(info={"Journal-Seals-Head": "line 2"}), Known()),
    "a clock set back": (archive(chain=[*FIRST, plain("x", sealed_at=NOON - timedelta(hours=1))]), Known()),
    "text and picture changed": (
        archive({"content/entries/ribs/index.md": b"Other.", "content/entries/ribs/b.jpg": b"x"}),
        Known(),
    ),
    "texts and picture gone": (
        archive(dict.fromkeys(["content/entries/2026/skin.MD", "content/entries/ribs/b.jpg"])),
        Known(),
    ),
    "record changed": (archive({"content/records/bills/a.txt": b"Bolts"}), Known()),
    "record gone": (archive({"content/records/bills/a.txt": None}), Known()),
    "a name in another form": (
        archive({"content/entries/ribs/Fl\u00fcgel.jpg": None, NFD: b"a wing"}),
        Known(),
    ),
    "row edited": (archive({"content/steps.csv": EDITED}), Known()),
    "rows turned": (archive({"content/steps.csv": TURNED}), Known()),
    "list gone": (archive({"content/steps.csv": None}), Known()),
    "kept texts, one under a wrong name": (
        archive({**texts_of(b"Ribs.", b"Skin."), "content/seals/texts/a.md": b"Ribs."}),
        Known(),
    ),
    "a text of before that is kept": (
        archive(texts_of(b"before 0") | {"content/entries/e0/index.md": b"E"}, changed(1)),
        Known(),
    ),
    "a text of before that is lost": (archive({"content/entries/e0/index.md": b"E"}, changed(1)), Known()),
    "five texts of before lost": (archive({**NUMBERED, "content/entries/e5/index.md": None}, changed(5)), Known()),
    "six texts of before lost": (archive(NUMBERED, changed(6)), Known()),
    "withdrawn and sealed again": (archive(chain=[FIRST[0], gone("ribs", 1), FIRST[0]]), Known()),
    "withdrawn, and here again with a reason": (
        archive(chain=[FIRST[1], gone("skin", 1), told("skin", b"Skin.", amends=2)]),
        Known(),
    ),
    "withdrawn, and another comes": (archive(chain=[FIRST[0], gone("ribs", 1), FIRST[1]]), Known()),
    "more than is sealed": (
        archive(
            {
                "content/entries/a-draft.markdown": b"Draft.",
                "content/measurements/gap/index.md": b"Gap.",
                "content/entries/ribs/notes.txt": b"more",
                "content/records/bills/b.txt": b"more",
                "content/pages/about.md": b"About.",
                "content/entries-old/a.md": b"x",
                "content/seals/note.txt": b"x",
                "content/seals/other.jsonl": b"x",
                "content/steps.csv": SOURCE["content/steps.csv"] + b"wing,4\n",
            }
        ),
        Known(),
    ),
    "nothing private": (archive(info=NO_MORE, payload=BARE), Known()),
    "nothing private, a line known": (archive(info=NO_MORE, payload=BARE), Known(head=line(1))),
    "nothing private, a service known": (archive(info=NO_MORE, payload=BARE), Known(roots={"a.pem": b"x"})),
    "nothing private, and a file of the source": (
        archive(info=NO_MORE, payload={**BARE, "data/source/mkdocs.yml": b""}),
        Known(),
    ),
    "of another maker": (archive(info={"Bag-Software-Agent": "a build-journal"}), Known()),
    "with more beside": (archive(beside={name: b"x" for name in (*BESIDE, "x.txt") if name not in WHOLE}), Known()),
    "its fingerprint": (WHOLE, Known(fingerprint=sha256_of(WHOLE[TAG]))),
    "another fingerprint": (WHOLE, Known(fingerprint="ab" * 32)),
    "no fingerprint": (archive(beside={TAG: None}), Known(fingerprint="ab" * 32)),
    "its last line": (WHOLE, Known(head=line(len(FIRST)))),
    "the line before": (WHOLE, Known(head=line(len(FIRST) - 1))),
    "its first line": (WHOLE, Known(head=line(1))),
    "a line of another": (WHOLE, Known(head=line(3, OTHER))),
    "a line of its branch": (archive({BRANCH: b"".join(OTHER)}), Known(head=line(3, OTHER))),
    "a branch under another name": (archive({f"{BRANCH[:-7]}x.jsonl": b"".join(OTHER)}), Known()),
    "a branch that breaks off": (archive({BRANCH: b"".join(OTHER)[:-1]}), Known()),
    "a time-stamp that is none": (archive({"content/seals/may.TSR": b"x"}), Known()),
    "a time-stamp that is none, and a service known": (
        archive({"content/seals/may.tsr": b"x"}),
        Known(roots={"a.pem": b"x"}),
    ),
    "no time-stamp, and a service known": (WHOLE, Known(roots={"a.pem": b"x"})),
    "without its parts": (
        archive(
            {"mkdocs.yml": None, "content/build.yml": None},
            payload=dict.fromkeys(["data/index.html", "data/record.pdf"]),
        ),
        Known(),
    ),
    "a binder that is none": (archive(payload={"data/record.pdf": b"%PDF"}), Known()),
}


PAGE, PDF, RIB, SKIN = "data/index.html", "data/record.pdf", "b.jpg", "2026/skin.MD"
ENTRIES = "data/source/content/entries/"
A, B = f"{ENTRIES}ribs/{RIB}", f"{ENTRIES}{SKIN}"
INFO, LIST, TAGS = WHOLE["bag-info.txt"], WHOLE["manifest-sha256.txt"], WHOLE[TAG]
TEXTS = {f"data/{name}.txt": b"one\ntwo\n" for name in "abcd"}
LINES = archive(payload=TEXTS)


def spoilt(changes: Mapping[str, bytes | None], of: Mapping[str, bytes] = WHOLE) -> tuple[dict[str, bytes], Known]:
    """An archive in which these files are otherwise (None: gone), and no list says so."""
    return {name: data for name, data in {**of, **changes}.items() if data is not None}, Known()


def moved(old: str, new: str, data: bytes | None = None) -> tuple[dict[str, bytes], Known]:
    """A file under another name, perhaps with other bytes."""
    return spoilt({old: None, new: WHOLE[old] if data is None else data})


CASES |= {
    "no bag": spoilt({"bagit.txt": None}),
    "a bag of a later version": spoilt({"bagit.txt": b"BagIt-Version: 2.0\nTag-File-Character-Encoding: UTF-8\n"}),
    "a bag of an earlier version": spoilt({"bagit.txt": b"BagIt-Version: 0.97\nTag-File-Character-Encoding: utf-8\n"}),
    "a bag in another encoding": spoilt({"bagit.txt": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: KOI8-R\n"}),
    "a bag that says less": spoilt({"bagit.txt": b"BagIt-Version: 1.0\n"}),
    "a bag that says nothing": spoilt({"bagit.txt": b"\xff"}),
    "to be fetched": spoilt({"fetch.txt": b""}),
    "no list": spoilt({"manifest-sha256.txt": None}),
    "no facts": spoilt({"bag-info.txt": None}),
    "no counts": spoilt({"bag-info.txt": INFO.replace(b"Oxum", b"Oxen")}),
    "counts that are none": spoilt({"bag-info.txt": INFO.replace(b".13", b",13")}),
    "a file less counted": spoilt({"bag-info.txt": INFO.replace(b".13", b".12")}),
    "a thousand files more counted": spoilt({"bag-info.txt": INFO.replace(b".13", b".1013")}),
    "nothing at all": (tag_files({}, 0, [("Bag-Software-Agent", "build-journal 1")], {}), Known()),
    "no payload": ({name: data for name, data in WHOLE.items() if "/" not in name}, Known()),
    "nothing listed of the payload": spoilt({"manifest-sha256.txt": b""}),
    "a list in capitals": spoilt({"manifest-sha256.txt": LIST.upper().replace(b"DATA", b"data")}),
    "lines that are none": spoilt({"manifest-sha256.txt": b"x\n\xff\n" + LIST}),
    "a line twice, and one that leads out": spoilt(
        {"manifest-sha256.txt": LIST + LIST.splitlines(keepends=True)[0] + b"ab" * 32 + b"  data/../a\n"}
    ),
    "a line in the wrong list": spoilt({TAG: TAGS + LIST.splitlines(keepends=True)[0]}),
    "lists with other line ends": spoilt({"manifest-sha256.txt": LIST.replace(b"\n", b"\r\n"), TAG: TAGS}),
    "the last list with other line ends": spoilt({TAG: TAGS.replace(b"\n", b"\r\n")}),
    "one text with other line ends": spoilt({"data/a.txt": b"one\r\ntwo\r\n"}, LINES),
    "texts with other line ends": spoilt(dict.fromkeys(TEXTS, b"one\r\ntwo\r\n"), LINES),
    "a text whose line ends were others": spoilt(
        {"data/a.txt": b"one\ntwo\n"}, archive(payload={"data/a.txt": b"one\r\ntwo\r\n"})
    ),
    "two of another kind": spoilt(
        {"data/a.txt": b"1\n", "data/b.txt": b"1\r\n", "data/c.txt": b"2\r\n"},
        archive(payload={"data/a.txt": b"1\r\n", "data/b.txt": b"1\n", "data/c.txt": b"2\n"}),
    ),
    "gone": spoilt({A: None}),
    "come": spoilt({"data/new.txt": b"x", "data/Thumbs.db": b"x", "data/._a": b"x"}),
    "come beside": spoilt({"new.txt": b"x", "desktop.ini": b"x", "data/.DS_Store": b"x"}),
    "under another name": moved(A, f"{ENTRIES}ribs/c.jpg"),
    "in capitals": moved(A, A.upper()),
    "in capitals and otherwise": moved(A, A.upper(), b"x"),
    "under another name and otherwise": moved(A, f"{ENTRIES}ribs/c.jpg", b"x"),
    "in another Unicode form and otherwise": moved(f"data/source/{NFC}", f"data/source/{NFD}", b"x"),
    "in another Unicode form, and in capitals": spoilt(
        {f"data/source/{NFC}": None, f"data/source/{NFD}": b"a wing", f"data/source/{NFC.upper()}": b"a wing"}
    ),
    "two of the same under other names": spoilt(
        {"data/a.txt": None, "data/b.txt": None, "data/x.txt": TEXTS["data/a.txt"], "data/y.txt": b"one\ntwo\n"}, LINES
    ),
    "in each other's place": spoilt({A: WHOLE[B], B: WHOLE[A]}),
    "in another's place": spoilt({A: WHOLE[B]}),
    "emptied": spoilt({A: b""}),
    "cut short": spoilt({PDF: WHOLE[PDF][:-2]}),
    "longer": spoilt({PAGE: WHOLE[PAGE] + b"."}),
    "as long": spoilt({PAGE: b"<q>"}),
    "two otherwise": spoilt({PAGE: b"<q>.", PDF: b"%PDF-x"}),
    "unreadable": spoilt({PDF: UNREADABLE}),
    "a list unreadable": spoilt({TAG: UNREADABLE}),
}


def said(report: Report) -> list[str]:
    """A report as the terminal has it, digests cut short; whose fingerprint is told is enough."""
    lines = [re.sub("[0-9a-f]{64}", lambda found: f"{found[0][:4]}\u2026", one) for one in report.tell()]
    return [line.split("):")[0] if line.startswith("Fingerprint") else line for line in lines]


def test_what_verify_says_of_archives(pytestconfig: pytest.Config) -> None:
    """Of each what is told otherwise than of the first: damage by kind, what holds, what was not checked, the end."""
    whole: list[str] = []
    first: list[str] = []
    for name, (held, known) in CASES.items():
        report, check = check_archive(Path("out"), Held(held), silent, known)
        sizes = [size for path, size in check.bag.files.items() if path.startswith("data/")]
        assert (report.files, report.bytes) == (len(sizes), sum(sizes))
        tags = held.get(TAG, UNREADABLE).replace(b"\r\n", b"\n")
        assert report.fingerprint == ("" if tags == UNREADABLE else sha256_of(tags))
        assert set(report.damage) >= set(check.damage)
        assert report.complete is (not name.startswith("nothing private") or name.endswith("source"))
        findings = [{"kind": one.kind.value, "path": one.path, "message": one.message} for one in report.damage]
        json = report.as_json()
        assert (json["findings"], json["archive"], json["ok"]) == (findings, "out", not findings)
        lines = said(report)
        whole += [f"# {name}", *(one for one in unified_diff(first, lines, n=0, lineterm="") if one[1:2] != "@")]
        first = first or lines
    dull = ("---", "+++", "-Whole: ", "-Fingerprint", "-The chain of seals")
    made = "".join(f"{one}\n" for one in whole if not one.startswith(dull))
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(made, "utf-8")
    assert made == GOLDEN.read_text("utf-8")


def test_what_is_no_archive_ends_otherwise() -> None:
    """Nothing was verified, so nothing is counted; one finding is counted in the singular."""
    none = Report(path="a\nb", damage=(damaged(DamageKind.NOT_AN_ARCHIVE, "", "is none"),))
    assert [*none.tell()] == ["a\\nb: is none [not-an-archive]", "Nothing was verified."]
    one = Report(path="a", damage=(damaged(DamageKind.SITE, "x", "is gone"),), files=1, bytes=1)
    assert [*one.tell()] == ["x: is gone [site]", "DAMAGED: 1 finding in 1 file, 1 byte."]
    many = tuple(damaged(DamageKind.SITE, f"{number:02}", "is gone") for number in range(42))
    assert len([*replace(one, damage=many[:40]).tell()]) == 41
    rest = ["39: is gone [site]", "\u2026 and 2 more of this kind (--json lists them all)"]
    assert [*replace(one, damage=many).tell()][39:-1] == rest
    assert [*Report(path="a", damage=()).tell()] == ["Whole: 0 files, 0 bytes, every one as listed."]


def test_five_names_are_told_and_the_rest_counted() -> None:
    """In order, without the folder of the source."""
    assert some_names([f"data/source/{name}" for name in "badce"]) == "a, b, c, d, e"
    assert some_names(list("fedcba")) == "a, b, c, d, e and 1 more"


def test_what_is_far_too_large_is_not_read_whole() -> None:
    """A list of 256 MiB, and a text of more than 32 MiB that is not as listed."""
    bag = Held({"a": b"1\n"})
    listed = {"a": sha256_of(b"1\r\n")}
    for size, read, tried in (
        (2**25, True, True),
        (2**25 + 1, True, False),
        (2**28 - 1, True, False),
        (2**28, False, False),
    ):
        bag.files["a"] = size
        assert (read_tag(bag, "a") is not None) is read
        assert bool(_line_ends(bag, listed, {"a": sha256_of(b"1\n")})) is tried
    assert read_tag(bag, "b") is None
