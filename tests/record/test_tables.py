"""The trace and the tables: every thread both ways, RFC 4180, and no cell that a spreadsheet runs."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from csvw import CSVW
from hypothesis import example, given
from hypothesis import strategies as st
from small_build import FILES, open_small

from journal.base.model import PhotoFacts
from journal.ledger.journal import Journal
from journal.record import tables
from journal.record.tables import TABLES, archive_tables, guard, render_csv, tables_described, tables_guide
from journal.record.trace import capture_time, gather_trace
from journal.view.view import Audience, open_view


def tables_of(journal: Journal) -> Iterator[tuple[str, bytes]]:
    """Every table as the archive has it."""
    return archive_tables(open_view(journal, Audience.ARCHIVE))


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Journal:
    """The small build, opened."""
    return open_small(tmp_path_factory.mktemp("build"))


@pytest.fixture(scope="module")
def tables_read(journal: Journal) -> Mapping[str, list[dict[str, str]]]:
    """Every table read back with the standard library's reader, guards taken off."""
    return {name.removeprefix("tables/").removesuffix(".csv"): rows(data) for name, data in tables_of(journal)}


def rows(data: bytes) -> list[dict[str, str]]:
    """The rows of a table by column, as written before the guard."""
    reader = csv.DictReader(io.StringIO(data.decode(), newline=""), strict=True)
    return [{column: cell.removeprefix("'") for column, cell in row.items()} for row in reader]


def test_the_tables_of_the_contract_are_there(journal: Journal):
    """Those of the first contract, in its order, and after them those that came later."""
    names = [name for name, _ in tables_of(journal)]
    assert names == [
        f"tables/{name}.csv"
        for name in (
            *("hours", "steps", "photos", "people", "inspections", "tasks", "findings", "trace"),
            *("callouts", "hardware", "missing"),
            *("measurements", "bulletins"),
            *("entries", "texts", "records", "materials", "fasteners", "torque"),
        )
    ]


def test_tables_keep_to_rfc_4180(journal: Journal):
    """CRLF after every record, the last included; each record with as many cells as the header; no mark in front."""
    for name, data in tables_of(journal):
        assert data.endswith(b"\r\n"), name
        assert not data.startswith(b"\xef\xbb\xbf"), name
        records = list(csv.reader(io.StringIO(data.decode(), newline=""), strict=True))
        assert {len(record) for record in records} == {len(records[0])}, name
        # Outside quoted cells there is no line feed without its carriage return.
        assert data.count(b"\n") - data.count(b"\r\n") == sum(
            cell.count("\n") - cell.count("\r\n") for record in records for cell in record
        )


def test_cells_with_commas_quotes_and_line_ends_survive():
    """RFC 4180 sections 2.5 to 2.7: such cells are quoted and quotes doubled."""
    data = render_csv(("a", "b"), [('x,"y"', "one\r\ntwo")])
    assert data == b'a,b\r\n"x,""y""","one\r\ntwo"\r\n'


@given(st.text())
@example("=1+1")
@example("'=1")
@example("  @SUM(A1)")
@example("\t=cmd")
@example("＝1")
def test_no_cell_runs_and_none_is_falsified(text: str):
    """A guarded cell never begins as a formula does, and one apostrophe taken away gives back what was written."""
    cell = guard(text)
    assert cell.lstrip()[:1] not in ("=", "+", "-", "@", "＝", "＋", "－", "＠") or cell[:1] == "'"
    assert cell.removeprefix("'") == text


def test_formulas_in_titles_and_captions_are_guarded(journal: Journal):
    """A title and a caption that begin like formulas stand in the bytes with an apostrophe."""
    data = dict(tables_of(journal))
    assert b"'=HYPERLINK(ribs)" in data["tables/hours.csv"]
    assert b"'-inside of the flap" in data["tables/photos.csv"]
    assert b"'=1+1 is arithmetic" in data["tables/tasks.csv"]


def test_hours_add_up_to_the_ledger(journal: Journal, tables_read: Mapping[str, list[dict[str, str]]]):
    """Minutes of counted rows are the ledger's total, and the last running total is the same figure."""
    counted = [row for row in tables_read["hours"] if row["counts"] == "yes"]
    assert sum(int(row["minutes"]) for row in counted) == journal.ledger.minutes == 195 + 120 + 2 * 180 + 2 * 150
    assert int(tables_read["hours"][-1]["minutes_to_date"]) == journal.ledger.minutes
    assert {(row["entry"], row["person"], row["minutes"]) for row in tables_read["hours"][:2]} == {
        ("2026-02-07-ribs", "Ada Bergstrom", "195"),
        ("2026-02-07-ribs", "Bo Lindqvist", "120"),
    }


def test_steps_lead_to_everything(tables_read: Mapping[str, list[dict[str, str]]]):
    """Step 5.1: done over, both entries, both days, people, pictures, inspection."""
    step = next(row for row in tables_read["steps"] if row["step"] == "5.1")
    assert step["state"] == "done over"
    assert (step["first_done_on"], step["done_on"]) == ("2026-02-07", "2026-02-08")
    assert step["entries"] == "2026-02-07-ribs; 2026-02-08-skeleton"
    assert step["people"] == "Ada Bergstrom; Bo Lindqvist"
    assert step["photos"] == "2"
    assert step["inspections"] == "2026-02-09-look"
    closing = next(row for row in tables_read["steps"] if row["step"] == "5.3")
    assert closing["answered_gaps"] == "no-photo"
    assert next(row for row in tables_read["steps"] if row["step"] == "7.10")["state"] == "not begun"


def test_photos_carry_digest_size_and_capture_time(tables_read: Mapping[str, list[dict[str, str]]]):
    """SHA-256 by hashlib over the file, its length, the camera's time with its offset, or `not recorded`."""
    red, blue = tables_read["photos"]
    original = FILES["entries/2026-02-07-ribs/a.jpg"]
    assert isinstance(original, bytes)
    by_name = {row["file"].rpartition("/")[2]: row for row in (red, blue)}
    assert by_name["a.jpg"]["sha256"] == hashlib.sha256(original).hexdigest()
    assert by_name["a.jpg"]["bytes"] == str(len(original))
    assert by_name["a.jpg"]["taken"] == "2026-02-07T10:00:00+01:00"
    assert by_name["a.jpg"]["at_work"] == "Ada Bergstrom"
    assert by_name["a.jpg"]["steps"] == by_name["a.jpg"]["step_named"] == "5.1"
    assert by_name["b.jpg"]["taken"] == "not recorded"
    assert by_name["b.jpg"]["clock"] == "never set"
    assert by_name["b.jpg"]["steps"] == "5.2; 5.1" or by_name["b.jpg"]["steps"] == "5.1; 5.2"
    assert by_name["b.jpg"]["inside"] == "yes"


def test_an_unknown_offset_is_not_invented():
    """Exif times carry no zone: without a recorded offset none is written."""
    facts = PhotoFacts(taken=datetime(2026, 2, 7, 10, 0))
    assert capture_time(facts) == "2026-02-07T10:00:00"
    assert capture_time(replace(facts, offset="+01:00")) == "2026-02-07T10:00:00+01:00"
    assert capture_time(PhotoFacts()) == "not recorded"


def test_people_are_kept_apart(tables_read: Mapping[str, list[dict[str, str]]]):
    """One row a person, the inspector and paid help with their role, hours kept apart by what counts."""
    people = {row["person"]: row for row in tables_read["people"]}
    assert people["Ada Bergstrom"]["minutes"] == str(195 + 180 + 150)
    assert people["Ada Bergstrom"]["minutes_not_counted"] == "60"
    assert people["Ada Bergstrom"]["photos_at_work"] == "1"
    assert people["Petra Kalm"]["role"] == "paid"
    assert people["Ines Petrov"]["inspections"] == "1"
    assert people["Ines Petrov"]["minutes"] == "0"


def test_inspections_with_findings_and_closure(tables_read: Mapping[str, list[dict[str, str]]]):
    """A row a finding: who looked, when, at what, outcome, and how it was put right."""
    first, second = tables_read["inspections"]
    assert (first["inspector"], first["outcome"], first["stage"]) == ("Ines Petrov", "passed with findings", "closing")
    assert (first["finding"], first["state"], first["closed_by"]) == ("F1", "closed", "2026-02-09-closed")
    assert (second["finding"], second["state"], second["closed_on"]) == ("F2", "open", "")


def test_tasks_lead_to_their_evidence(tables_read: Mapping[str, list[dict[str, str]]]):
    """Tenths as written, n/a as n/a, and behind each task its entries, pictures and people."""
    ribs, _spar, tank = tables_read["tasks"]
    assert (ribs["maker"], ribs["assembly"]) == ("2", "8")
    assert ribs["entries"] == "2026-02-07-ribs; 2026-02-08-skeleton"
    assert (ribs["steps_listed"], ribs["steps_done"], ribs["photos"]) == ("2", "2", "2")
    assert tank["maker"] == "n/a"


def test_findings_open_and_answered(tables_read: Mapping[str, list[dict[str, str]]]):
    """Answered findings stand in the table with the builder's reason, after the open ones."""
    states = [row["state"] for row in tables_read["findings"]]
    assert states == sorted(states, key=["open", "answered"].index)
    answered = [row for row in tables_read["findings"] if row["state"] == "answered"]
    assert [(row["word"], row["answer"]) for row in answered] == [("no-photo", "the camera was at home")]
    assert any(row["word"] == "closed-findings-open" for row in tables_read["findings"])


def test_the_trace_goes_both_ways(journal: Journal, tables_read: Mapping[str, list[dict[str, str]]]):
    """Every picture of a step leads to the step, every entry of a person to the person, and back."""
    trace = gather_trace(open_view(journal, Audience.ARCHIVE))
    for step in trace.steps.values():
        for traced in step.photos:
            assert step.step.id in traced.steps
        for entry in step.entries:
            assert any(
                entry in {one.id for one in person.entries} and step.step.id in person.steps
                for person in trace.people.values()
            )
    for traced in trace.photos:
        assert all(traced in trace.steps[step].photos for step in traced.steps)
    threads = {(row["step"], row["entry"], row["photo"].rpartition("/")[2]) for row in tables_read["trace"]}
    assert ("5.1", "2026-02-07-ribs", "a.jpg") in threads
    assert ("5.1", "2026-02-08-skeleton", "") in threads
    assert ("5.2", "2026-02-07-ribs", "b.jpg") in threads
    assert ("5.2", "2026-02-07-ribs", "a.jpg") not in threads


def test_a_view_without_private_things_gives_tables_without_them(journal: Journal):
    """Tables made for the public hold no private entry, neither its ID, nor a finding that names it."""
    view = open_view(journal, Audience.PUBLIC)
    whole = b"".join(data for _, data in archive_tables(view))
    assert b"2026-02-09-closed" not in whole
    assert b"the camera was at home" not in whole
    assert b"Bergstrom" not in whole
    assert view.evidence is None
    lines = {name: data.splitlines() for name, data in archive_tables(view)}
    assert [len(lines[f"tables/{name}.csv"]) for name in ("findings", "tasks")] == [1, 1]


def test_every_column_is_explained():
    """The guide for the archive names every table and every column."""
    guide = tables_guide()
    for table in TABLES:
        assert f"{table.name}.csv" in guide
        for column, _, _ in table.columns:
            assert f"  {column}: " in guide


def test_same_journal_same_bytes(journal: Journal):
    """Tables are a pure function of the journal."""
    assert list(tables_of(journal)) == list(tables_of(journal))


def test_csv_on_the_web_describes_every_table(journal: Journal, tmp_path: Path):
    """W3C, "Metadata Vocabulary for Tabular Data": a validator reads every cell as its datatype, and all keys hold."""
    for name, data in (*tables_of(journal), *tables_described()):
        (tmp_path / Path(name).name).write_bytes(data)
    described = CSVW(str(tmp_path / "csv-metadata.json"), validate=True)
    assert described.is_valid, [str(warning.message) for warning in described.warnings]
    listed = {str(table.url): [column.name for column in table.tableSchema.columns] for table in described.tables}
    assert listed == {
        path.name: next(csv.reader(io.StringIO(path.read_text("utf-8"), newline=""))) for path in tmp_path.glob("*.csv")
    }


def test_every_datatype_and_key_speaks_of_a_column():
    """No slip in the lists of whole numbers, days, keys and ways into other tables."""
    columns = {f"{table.name}.{name}" for table in TABLES for name, *_ in table.columns}
    assert set(tables._DATATYPES) <= columns
    assert {f"{name}.{key}" for name, keys in tables._KEYS.items() for key in keys.split()} <= columns
    assert {*tables._LEADS_TO, *tables._LEADS_TO.values()} <= columns


def test_texts_papers_and_hardware_stand_in_tables_of_their_own(tables_read: Mapping[str, list[dict[str, str]]]):
    """The whole body of an entry; a paper; a batch with its entries; each line of rivets as it was written."""
    ribs = next(row for row in tables_read["entries"] if row["entry"] == "2026-02-07-ribs")
    assert ribs["steps"] == "5.1"
    assert ribs["text"].strip()
    assert tables_read["records"][0]["file"] == "invoice.txt"
    assert tables_read["materials"][0] | {"entries": ""} == {
        **dict.fromkeys(tables_read["materials"][0], ""),
        **{"id": "primer", "name": "Wash primer", "batch": "B-17", "expires": "2026-12-31", "used_up": "no"},
    }
    assert tables_read["materials"][0]["entries"] == "2026-02-07-ribs"
    assert any(row["part"] == "AN470AD4-5" and row["count"] for row in tables_read["fasteners"])
