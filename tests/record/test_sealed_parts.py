"""Rows and settings as seals cut them: what amends, what does not, and what an amendment says.

RFC 4180 for the tables; that spreadsheets save them with other signs, encodings and orders is common practice, no
source.
"""

from __future__ import annotations

import json
import random
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from making import BUILD_YML, STEPS_CSV, MakeBuild, entry, read, view_of

from journal.base.digests import sha256_of
from journal.record import sealed_parts
from journal.record.chain import CHAIN, TEXTS, Kind, Seal, parse_line, read_chain, render_line
from journal.record.sealed_parts import LISTS, SealedPart, cut_look, cut_parts, out_of_place, stem
from journal.record.seals import Sealed, check_seals, read_changes, read_contents, seal

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
CALLOUTS = "step,what,part,value\n,hole,AN426AD3,#40\n5.1,torque,AN3,20 to 25 in-lb\n5.1,torque,AN3,25 to 30 in-lb\n"


def cut(**files: str | bytes) -> dict[str, str]:
    """Name -> words of the parts of files given by name, `steps_csv` for content/steps.csv."""
    held = {f"content/{name.replace('_csv', '.csv').replace('_yml', '.yml')}": data for name, data in files.items()}
    encoded = {name: data.encode() if isinstance(data, str) else data for name, data in held.items()}
    return {part.id: part.words for part in cut_parts(encoded.get)}


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """An entry, every kind of list, a record."""
    return make_build(
        {
            "entries/2026-02-07-ribs/index.md": entry("title: Ribs\nsteps: [5.1]"),
            "callouts.csv": CALLOUTS,
            "tasks.csv": "section,task,name,maker,paid,assembly,fabrication\nWings,1,Ribs,2,0,8,0\n",
            "tools.csv": "name,checked_on,check_every_months\nsmall wrench,2025-11-20,12\n",
            "materials.csv": "id,name,batch,expires,record\nprimer,Wash primer,B-17,2026-12-31,\n",
            "records/records.csv": "file,date,kind,title\na/invoice.txt,2026-01-12,invoice,Kit invoice\n",
            "records/a/invoice.txt": "An invoice.",
            "bulletins.csv": "id,date,title,concerns,state,done_in,record,note\nSB-1,2026-01-01,Look,5.1,open,,,\n",
        }
    )


def put_seal(root: Path, reason: str = "", days: int = 0) -> Sealed:
    """Seal what is there; fails the test where it is refused."""
    view = view_of(read(root)[0])
    done, problems = seal(root, view, now=NOON + timedelta(days=days), ask=lambda changes: reason)
    assert done is not None, problems
    return done


def edit(root: Path, name: str, old: str, new: str) -> None:
    """Change a file under content/ in one place."""
    path = root / "content" / name
    text = path.read_text("utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), "utf-8")


def told(root: Path) -> list[tuple[str, int | None, str]]:
    """(file, line, message) of every `changed-after-seal`."""
    problems = [one for one in check_seals(root, view_of(read(root)[0])) if one.word == "changed-after-seal"]
    assert all(one.column == (1 if one.line else None) for one in problems)
    return [(one.file, one.line, one.message) for one in problems]


# --- cutting -------------------------------------------------------------------------------------


def test_a_row_is_its_cells_and_a_setting_its_lines() -> None:
    """By column, empty cells left out; comments and blank lines are none of a setting's words."""
    assert cut(steps_csv="step,assembly,closes\n5.1,flaps,\n5.2,flaps,the flap\n") == {
        "steps.csv 5.1": "assembly: flaps\nstep: 5.1",
        "steps.csv 5.2": "assembly: flaps\ncloses: the flap\nstep: 5.2",
    }
    assert cut(build_yml="# one\nbegun: 2026-01-10\n\npeople:\n  # two\n  ada: {role: builder}  # three\n") == {
        "build.yml begun": "begun: 2026-01-10",
        "build.yml people ada": "people:\nada: {role: builder}",
    }


SETTINGS_OF_ALL_KINDS = """\ufeff# head
no key here
---
Name: Tarn # c
"a key": "b # c"
Long-key two: 1
people:
    # c
    ada: {role: builder} # x

    bo:
        role: helper
  # less
places: {home: x}
assemblies:
  - wing
SHOW: x
about: y
empty:
...
"""
ROWS_OF_ALL_KINDS = '\n,,\n Step ,Title,assembly,Page\n5.1,"a\nb",wing,\n,,,\n5.1,c,wing,1,9\n5.2\n5.1,d\n'


def test_where_each_part_begins_and_what_it_goes_by() -> None:
    """Settings first, then rows: name, line, words; rows of one name by a mark of what they say."""
    files = {"content/steps.csv": ROWS_OF_ALL_KINDS.encode(), "content/build.yml": SETTINGS_OF_ALL_KINDS.encode()}
    files["content/callouts.csv"] = b"step,what,part,value\n,hole,AN3,1\n5.1,,AN3,2\n"
    parts = cut_parts(files.get)
    assert [(part.line, part.id, part.words) for part in parts] == [
        (1, "build.yml", "no key here"),
        (4, "build.yml name", "Name: Tarn"),
        (5, "build.yml a_key", '"a key": "b # c"'),
        (6, "build.yml long_key_two", "Long-key two: 1"),
        (9, "build.yml people ada", "people:\nada: {role: builder}"),
        (11, "build.yml people bo", "people:\nbo:\n    role: helper"),
        (14, "build.yml places", "places: {home: x}"),
        (15, "build.yml assemblies", "assemblies:\n  - wing"),
        (19, "build.yml empty", "empty:"),
        (4, "steps.csv 5.1 (ad3d4c76)", "assembly: wing\nstep: 5.1\ntitle: a\n  b"),
        (7, "steps.csv 5.1 (8354193b)", "assembly: wing\npage: 1\nstep: 5.1\ntitle: c"),
        (8, "steps.csv 5.2", "step: 5.2"),
        (9, "steps.csv 5.1 (049fb733)", "step: 5.1\ntitle: d"),
        (2, "callouts.csv hole AN3", "part: AN3\nvalue: 1\nwhat: hole"),
        (3, "callouts.csv 5.1 AN3", "part: AN3\nstep: 5.1\nvalue: 2"),
    ]
    assert [part.file for part in parts] == ["content/build.yml"] * 9 + ["content/steps.csv"] * 4 + [
        "content/callouts.csv"
    ] * 2
    assert {part.kind for part in parts[:9]} == {Kind.SETTING}
    assert {part.kind for part in parts[9:]} == {Kind.ROW}
    assert all(part.text == sha256_of(part.words.encode()) for part in parts)
    look = [(part.line, part.id, part.words) for part in cut_look(files["content/build.yml"])]
    assert look == [(17, "build.yml show", "SHOW: x"), (18, "build.yml about", "about: y")]
    assert (
        cut_parts({"content/steps.csv": b'step,"title\n5.1,x'}.get) == cut_parts({"content/steps.csv": b""}.get) == ()
    )
    assert [stem(name) for name in ("a (1234abcd)", "a (1234abcd) b", "a (1234)")] == [
        "a",
        "a (1234abcd) b",
        "a (1234)",
    ]


def test_which_settings_and_lists_are_sealed_and_how() -> None:
    """Look and publishing never; people, places and assemblies one by one; rows by the columns that name them."""
    look = ("photos", "clips", "show", "about", "write_to", "units", "language", "drawing")
    assert cut(build_yml="".join(f"{name}: x\n" for name in look)) == {}
    by_id = ("people", "places", "assemblies", "rules")
    told = cut(build_yml="".join(f"{name}:\n  a: x\n  b: y\n" for name in by_id))
    assert [*told] == [*(f"build.yml {name} {one}" for name in by_id[:3] for one in "ab"), "build.yml rules"]
    rows = {
        "steps.csv": "step",
        "callouts.csv": "step,what,part",
        "tasks.csv": "section,task",
        "tools.csv": "name,checked_on",
        "materials.csv": "id",
        "bulletins.csv": "id",
        "records.csv": "file",
        "records/records.csv": "file",
    }
    for file, columns in rows.items():
        parts = cut_parts({f"content/{file}": f"x,{columns}\n1,{columns}\n".encode()}.get)
        assert [(part.id, part.file) for part in parts] == [
            (" ".join([file.rpartition("/")[2], *columns.split(",")]), f"content/{file}")
        ]


@pytest.mark.parametrize(
    ("file", "before", "after", "moved"),
    [
        ("steps.csv", "123", "123", ""),
        ("steps.csv", "123", "132", "2"),
        ("steps.csv", "1234", "4123", "4"),
        ("steps.csv", "1234", "3412", "12"),
        ("steps.csv", "123", "3x1", "1"),
        ("steps.csv", "12|34", "3412", ""),
        ("steps.csv", "1a2", "2a1", "1"),
        ("tools.csv", "123", "321", ""),
        ("build.yml people", "123", "132", "2"),
        ("build.yml", "123", "321", ""),
    ],
)
def test_what_stands_in_another_place_than_when_it_was_sealed(file: str, before: str, after: str, moved: str) -> None:
    """Of those sealed together, and only where order means something; what was amended (a) has none of its own."""
    parts = [
        SealedPart(kind=Kind.ROW, id=f"{file} {name}", text=name, file=f"content/{file}", line=line)
        for line, name in enumerate(after, start=2)
    ]
    seals: list[Seal] = []
    for run, names in enumerate(before.split("|")):
        for name in names:
            moment, amends = NOON + timedelta(days=run), 1 if name == "a" else None
            more = {"date": NOON.date(), "text": name, "sealed_at": moment, "line": len(seals) + 1}
            seals.append(Seal(kind=Kind.ROW, id=f"{file} {name}", amends=amends, **more))  # type: ignore[arg-type]
    assert "".join(seal.text for seal in out_of_place(reversed(seals), parts)) == moved


def test_settings_of_look_and_of_publishing_are_none() -> None:
    """A new watermark is no amendment."""
    look = "photos: {watermark: x}\nclips:\n  budget: 50 MB\nshow: [places]\n"
    assert cut(build_yml=look) == {}
    assert list(cut(build_yml=BUILD_YML + look)) == list(cut(build_yml=BUILD_YML))


@pytest.mark.parametrize(
    "saved",
    [
        STEPS_CSV.replace(",", ";").encode(),
        STEPS_CSV.replace(",", "\t").encode("utf-16"),
        b"\xef\xbb\xbf" + STEPS_CSV.replace("\n", "\r\n").encode(),
        b"sep=;\n" + STEPS_CSV.replace(",", ";").encode(),
        "\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in STEPS_CSV.split("\n")).encode(),
        "\n".join(",".join(reversed(line.split(","))) for line in STEPS_CSV.strip().split("\n")).encode(),
        "\n".join(f"{line},," for line in STEPS_CSV.strip().split("\n")).encode(),
        STEPS_CSV.replace("assembly,step", "Assembly, Step ").encode(),
        "\n".join([STEPS_CSV.split("\n")[0], *reversed(STEPS_CSV.strip().split("\n")[1:])]).encode(),
    ],
    ids=["semicolons", "tabs in UTF-16", "CRLF and a mark", "sep=", "quotes", "columns turned", "empty columns",
         "capitals", "rows turned"],
)  # fmt: skip
def test_how_a_table_is_saved_changes_no_row(saved: bytes) -> None:
    """The same rows, whatever a spreadsheet makes of the file."""
    assert cut(steps_csv=saved) == cut(steps_csv=STEPS_CSV)


def test_the_list_of_records_lies_in_either_place() -> None:
    """Beside the other lists or with the records: its rows go by the file that each names."""
    table = "file,kind\na/invoice.txt,invoice\n"
    told = {"records.csv a/invoice.txt": "file: a/invoice.txt\nkind: invoice"}
    assert cut(records_csv=table) == cut(**{"records/records_csv": table}) == told


def test_no_cell_can_look_like_another() -> None:
    """A line break in a cell goes on further in."""
    one = cut(steps_csv='step,title,closes\n5.1,"Close\ncloses: the wing",\n')
    other = cut(steps_csv="step,title,closes\n5.1,Close,the wing\n")
    assert one["steps.csv 5.1"] != other["steps.csv 5.1"]


cells = st.text(st.characters(codec="utf-8", exclude_characters="\0\r"), max_size=12)


@given(st.lists(st.dictionaries(st.sampled_from(["step", "title", "page", "closes"]), cells), max_size=5))
def test_equal_words_are_equal_rows(rows: list[dict[str, str]]) -> None:
    """Law: two rows have the same words exactly where their cells, trimmed, are the same."""
    import csv
    import io

    out = io.StringIO()
    writer = csv.DictWriter(out, ["step", "title", "page", "closes"])
    writer.writeheader()
    writer.writerows(rows)
    kept = [{key: cell.strip() for key, cell in row.items() if cell.strip()} for row in rows]
    distinct = {json.dumps(row, sort_keys=True) for row in kept if row}
    parts = cut_parts({"content/steps.csv": out.getvalue().encode()}.get)
    assert len({part.words for part in parts}) == len(distinct)


@given(st.binary(max_size=200), st.sampled_from(["content/build.yml", *LISTS]))
def test_no_bytes_make_it_stumble(data: bytes, file: str) -> None:
    """Whatever lies in a file: parts or none, and every one with the digest of its words."""
    for part in cut_parts({file: data}.get):
        assert part.text == sha256_of(part.words.encode())


# --- sealing -------------------------------------------------------------------------------------


def test_every_row_setting_and_record_gets_a_line(root: Path) -> None:
    """Entries first; the day of what has none is that of its sealing."""
    put_seal(root)
    seals = read_chain(root).seals
    assert seals[0].kind is Kind.ENTRY
    by_kind = {kind: [one.id for one in seals if one.kind is kind] for kind in Kind}
    assert by_kind[Kind.RECORD] == ["a/invoice.txt"]
    assert "build.yml people ada" in by_kind[Kind.SETTING]
    some = ("steps.csv 7.10", "callouts.csv hole AN426AD3", "tasks.csv Wings 1", "tools.csv small wrench 2025-11-20")
    for row in (*some, "materials.csv primer", "records.csv a/invoice.txt", "bulletins.csv SB-1"):
        assert row in by_kind[Kind.ROW]
    assert {one.date for one in seals if not one.kind.is_told} == {NOON.date()}
    assert put_seal(root, days=1).new == 0


def test_records_that_cannot_be_looked_at_are_not_gone(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fails for a moment stops the seal; a folder of records that never was holds none."""

    def fail(folder: Path) -> None:
        raise PermissionError(13, "Permission denied", str(folder))

    view = view_of(read(root)[0])
    with monkeypatch.context() as broken:
        broken.setattr("os.scandir", fail)
        with pytest.raises(PermissionError):
            read_contents(root, view)
    (root / "content/records").rename(root / "elsewhere")
    assert not [one for one in read_contents(root, view) if one.kind is Kind.RECORD]


@pytest.mark.parametrize(
    ("file", "old", "new", "says"),
    [
        ("build.yml", "role: helper", "role: builder", "role: helper}\" became"),
        ("build.yml", "begun: 2026-01-10", "begun: 2025-01-10", '"begun: 2026-01-10" became "begun: 2025-01-10"'),
        ("steps.csv", "Close the wing,7-9,yes", "Close the wing,7-9,", '"closes: yes" became nothing'),
        ("callouts.csv", "20 to 25 in-lb", "20 to 35 in-lb", '"value: 20 to 25 in-lb" became "value: 20 to 35 in-lb"'),
        ("tasks.csv", "2,0,8,0", "0,0,10,0", "became"),
        ("tools.csv", ",12", ",24", '"check_every_months: 12" became "check_every_months: 24"'),
        ("materials.csv", "2026-12-31", "2027-12-31", '"expires: 2026-12-31" became "expires: 2027-12-31"'),
        ("records/records.csv", "invoice,Kit", "letter,Kit", '"kind: invoice" became "kind: letter"'),
        ("bulletins.csv", "open", "done", '"state: open" became "state: done"'),
    ],
)  # fmt: skip
def test_a_change_is_told_with_its_line_and_its_words(root: Path, file: str, old: str, new: str, says: str) -> None:
    """Once, in its file; sealed with a reason it is told no more, and the chain keeps what stood there."""
    put_seal(root)
    edit(root, file, old, new)
    ((where, line, message),) = told(root)
    assert where == f"content/{file}"
    assert line is not None
    assert new.split(",")[0] in (root / where).read_text().split("\n")[line - 1]
    assert says in message
    done = put_seal(root, "it was mistyped", days=1)
    assert (done.new, done.amendments) == (0, 1)
    assert told(root) == []
    (change,) = read_changes(root, read_chain(root))
    assert change.kept
    assert change.passages
    assert all(before != after for before, after in change.passages)
    assert change.told in message


def test_what_is_taken_out_is_an_amendment_and_what_is_new_is_none(root: Path) -> None:
    """A row that goes asks for a reason; rows and records that come are lines like any other."""
    put_seal(root)
    edit(root, "steps.csv", "left-wing,7.2,Fit the ribs,7-2,\n", "left-wing,7.3,Fit more ribs,7-2,\n")
    (root / "content/records/b.txt").write_text("Another.")
    assert [message.rpartition(": ")[2] for _, _, message in told(root)] == [
        'row "steps.csv 7.2" is no longer there (taken out)'
    ]
    done = put_seal(root, "never on this kit", days=1)
    assert (done.new, done.amendments) == (2, 1)


def test_rows_of_one_name_are_told_apart_by_what_they_say(root: Path) -> None:
    """One more row of the same name amends nothing; one of them changed is one amendment."""
    put_seal(root)
    edit(root, "callouts.csv", ",hole,AN426AD3,#40\n", ",hole,AN426AD3,#40\n,hole,AN426AD3,#41\n")
    assert told(root) == []
    assert put_seal(root, days=1).new == 1
    edit(root, "callouts.csv", "25 to 30", "25 to 32")
    ((_, _, message),) = told(root)
    assert '"value: 25 to 30 in-lb" became "value: 25 to 32 in-lb"' in message
    put_seal(root, "misread", days=2)
    edit(root, "callouts.csv", ",hole,AN426AD3,#41\n", "")
    assert len(told(root)) == 1


def test_one_reason_is_asked_for_all_rows_of_a_list(root: Path) -> None:
    """Ten rows of a new edition are one question."""
    put_seal(root)
    edit(root, "steps.csv", "Deburr the ribs", "Deburr all ribs")
    edit(root, "steps.csv", "Prepare the spar", "Prepare the main spar")
    edit(root, "materials.csv", "B-17", "B-18")
    asked: list[int] = []

    def ask(changes: object) -> str:
        assert isinstance(changes, list)
        asked.append(len(changes))
        return "edition 4"

    done, _ = seal(root, view_of(read(root)[0]), now=NOON + timedelta(days=1), ask=ask)
    assert done is not None
    assert sorted(asked) == [1, 2]
    assert done.amendments == 3


def test_what_comes_back_is_an_amendment_with_a_reason(root: Path) -> None:
    """Withdrawn and put back in other words: asked, told on the page with what stood there first, and history holds."""
    put_seal(root)
    text, steps = root / "content/entries/2026-02-07-ribs/index.md", root / "content/steps.csv"
    entry_before, steps_before = text.read_text(), steps.read_text()
    text.write_text(entry_before.replace("title: Ribs", "title: Ribs\ndraft: true"))
    steps.write_text(steps_before.replace("left-wing,7.2,Fit the ribs,7-2,\n", ""))
    put_seal(root, "a slip", days=1)
    text.write_text(entry_before.replace("Worked on it.", "Worked on it alone."))
    steps.write_text(steps_before.replace("Fit the ribs", "Fit some ribs"))
    assert [message.rpartition(": ")[2] for _, _, message in told(root)] == [
        'entry "2026-02-07-ribs" is there again',
        'row "steps.csv 7.2" is there again',
    ]
    view = view_of(read(root)[0])
    refused, problems = seal(root, view, now=NOON + timedelta(days=2), ask=lambda changes: "")
    assert refused is None
    assert len(problems) == 2
    put_seal(root, "it was right at first", days=2)
    chain = read_chain(root)
    back = [change for change in read_changes(root, chain) if "there again" in change.told]
    assert [change.passages for change in back] == [
        (("Worked on it.", "Worked on it alone."),),
        (("title: Fit the ribs", "title: Fit some ribs"),),
    ]
    assert [len(chain.history(change.seal)) for change in back] == [3, 3]
    assert told(root) == []


def test_the_order_of_steps_and_of_people_is_sealed(root: Path) -> None:
    """A row that moved is told, as few as explain it; new ones in between move nothing, other lists have no order."""
    put_seal(root)
    lines = (root / "content/steps.csv").read_text().splitlines(keepends=True)
    (root / "content/steps.csv").write_text("".join([*lines[:2], *lines[3:6], lines[2], *lines[6:]]))
    ((_, line, message),) = told(root)
    assert (line, message.rpartition(": ")[2]) == (6, "stands in another place of its list")
    assert put_seal(root, "the manual's order", days=1).amendments == 1
    assert told(root) == []
    edit(root, "steps.csv", "flaps,5.3", "flaps,5.25,Look,5-2,\nflaps,5.3")
    edit(root, "build.yml", "places:", "  zed: {name: Z, role: helper}\nplaces:")
    assert told(root) == []
    edit(root, "build.yml", "  home: {name: home workshop}\n  hangar: {name: hangar}\n",
         "  hangar: {name: hangar}\n  home: {name: home workshop}\n")  # fmt: skip
    assert len(told(root)) == 1
    callouts = (root / "content/callouts.csv").read_text().splitlines(keepends=True)
    (root / "content/callouts.csv").write_text("".join([callouts[0], *reversed(callouts[1:])]))
    assert len(told(root)) == 1


def test_two_seals_within_one_second_are_two(root: Path) -> None:
    """A step put in between and sealed at once stands where it stands: each seal has a second of its own."""
    for step in ("5.22", "5.24", "5.26"):
        put_seal(root)
        edit(root, "steps.csv", "flaps,5.3", f"flaps,{step},Look,5-2,\nflaps,5.3")
        put_seal(root)
        assert told(root) == []
    assert [at - NOON for at in dict.fromkeys(one.sealed_at for one in read_chain(root).seals)] == [
        timedelta(seconds=run) for run in range(4)
    ]


@given(st.permutations(range(9)))
def test_as_few_rows_as_explain_an_order_are_told_to_have_moved(order: list[int]) -> None:
    """Law: what is kept rises, and no longer run of the order does (by trying all of them)."""
    kept = sealed_parts._longest_rise(order)
    run = [order[number] for number in sorted(kept)]
    assert run == sorted(run)
    longest = max(
        sum(mask >> number & 1 for number in range(9))
        for mask in range(1, 512)
        if (chosen := [order[number] for number in range(9) if mask >> number & 1]) == sorted(chosen)
    )
    assert len(kept) == longest


def test_a_text_is_kept_as_it_was_sealed(root: Path) -> None:
    """Byte for byte under its digest, also one that an earlier version sealed; an amendment shows both."""
    put_seal(root)
    text = root / "content/entries/2026-02-07-ribs/index.md"
    old = text.read_bytes()
    copy = root / TEXTS / f"{sha256_of(old)}.md"
    assert copy.read_bytes() == old
    copy.unlink()  # as an earlier version left it
    put_seal(root, days=1)
    assert copy.read_bytes() == old
    edit(root, "entries/2026-02-07-ribs/index.md", "Worked on it.", "Worked on them.")
    put_seal(root, "a slip", days=2)
    (change,) = read_changes(root, read_chain(root))
    assert change.passages == (("Worked on it.", "Worked on them."),)
    copy.unlink()
    (change,) = read_changes(root, read_chain(root))
    assert (change.kept, change.passages) == (False, ())
    assert [word for problem in read(root)[1] if (word := problem.word) == "unknown-file"] == []


def test_words_that_are_not_those_of_the_digest_break_the_chain(root: Path) -> None:
    """Words of a row stand in its line: whoever changes them there is told, with the line."""
    put_seal(root)
    lines = (root / CHAIN).read_bytes().split(b"\n")
    number = next(number for number, line in enumerate(lines) if b'"materials.csv primer"' in line)
    lines[number] = lines[number].replace(b"B-17", b"B-18")
    (root / CHAIN).write_bytes(b"\n".join(lines))
    fault = read_chain(root).fault
    assert fault is not None
    assert fault.line == number + 1
    for line in lines[:-1]:
        if not isinstance(seal := parse_line(line), str):
            assert render_line(seal) == line + b"\n"


@pytest.mark.slow
def test_random_edits_are_told_exactly_where_words_differ(root: Path) -> None:
    """Law: after any edit of any list, `changed-after-seal` is told for the rows that are gone, and for no other."""
    rng = random.Random(20261127)
    put_seal(root)
    names = [name.removeprefix("content/") for name in LISTS if (root / name).exists()]
    for _ in range(200):
        name = rng.choice(names)
        path = root / "content" / name
        before = path.read_text("utf-8")
        lines = before.strip().split("\n")
        act = rng.choice(["swap", "drop", "twice", "blank", "semicolons"])
        if act == "semicolons":
            path.write_text(before.replace(",", ";"), "utf-8")
        else:
            at = rng.randrange(1, len(lines))
            lines[at:at] = {"swap": [], "drop": [], "twice": [lines[at]], "blank": [""]}[act]
            if act == "swap":
                lines[1:] = rng.sample(lines[1:], len(lines) - 1)
            if act == "drop":
                del lines[at]
            path.write_text("\n".join(lines) + "\n", "utf-8")
        sealed = {part.words for part in cut_parts({f"content/{name}": before.encode()}.get)}
        there = {part.words for part in cut_parts({f"content/{name}": path.read_bytes()}.get)}
        here = [one for one in told(root) if one[0] == f"content/{name}" and "another place" not in one[2]]
        assert len(here) == len(sealed - there), (name, act)
        path.write_text(before, "utf-8")
