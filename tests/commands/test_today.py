"""`journal today`: what it prints, its JSON, its page for the preview, and that it is part of no site."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from ledger.test_today import CALLOUTS, STEPS
from making import MakeBuild, entry

from journal.commands.main import main
from journal.commands.today import TODAY, tell_today, today_page
from journal.ledger.journal import open_journal
from journal.making.host import load_settings, site_options
from journal.making.last_kept import ARCHIVED, PUBLISHED, Kept, fingerprints, note_kept
from journal.making.lay_site import lay_site
from journal.record.seals import seal
from journal.view.view import Audience, open_view

GOLDEN = Path(__file__).parent / "today.golden.txt"
NOON = 1_772_366_400  # 1 March 2026, 12:00 UTC
AT = datetime(2026, 2, 10, 10, tzinfo=UTC)
FILES = {
    "steps.csv": STEPS,
    "callouts.csv": CALLOUTS,
    "materials.csv": "id,name,batch,expires\nt1,Tank sealant,B1,2026-03-20\n",
    "entries/2026-02-01-ribs/index.md": entry("date: 2026-02-01\ntitle: Ribs\nsteps: [5.1, 5.2]\ntools: [file]"),
    "entries/2026-02-02-kept-back/index.md": entry("date: 2026-02-02\ntitle: Kept back\nprivate: true"),
}
LATER = {
    "steps.csv": STEPS,
    "entries/2026-02-27-spar/index.md": entry("date: 2026-02-27\nassembly: left-wing\nbegun: [7.2]"),
    "entries/2026-02-28-tonight/index.md": entry(
        "date: 2026-02-28\nassembly: left-wing\ndraft: true\n# clock: ada since 2026-02-28 18:30"
    ),
}


def run(root: Path, *words: str) -> Result:
    """Type it at noon of 1 March 2026."""
    result = CliRunner().invoke(main, ["today", "--build", str(root), *words], env={"SOURCE_DATE_EPOCH": str(NOON)})
    assert result.exit_code == 0, result.output
    return result


def keep(root: Path) -> None:
    """Seal, archive and publish what is there, as far as it is noted."""
    view = open_view(open_journal(root, date(2026, 2, 10)), Audience.ARCHIVE)
    seal(root, view, now=AT, ask=lambda changes: None)
    entries = fingerprints(root, view)
    note_kept(root, ARCHIVED, Kept(at=AT, where="/nowhere/tarn-archive", entries=entries))
    public = {name: digest for name, digest in entries.items() if "kept-back" not in name}
    note_kept(root, PUBLISHED, Kept(at=AT, where="branch pages", entries=public))


def test_what_it_prints(make_build: MakeBuild, pytestconfig: pytest.Config) -> None:
    """An empty build, one that was never kept, one where nothing is to do, one where work goes on."""
    root = make_build({"steps.csv": STEPS})
    said = ["nothing yet", run(root).output]
    make_build(FILES)
    said += ["never kept", run(root).output]
    keep(root)
    said += ["kept", run(root).output]
    make_build(LATER)
    ribs = root / "content/entries/2026-02-01-ribs/index.md"
    ribs.write_text(ribs.read_text() + "More.\n")
    said += ["work goes on", run(root).output]
    text = "\n".join(said)
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(text, "utf-8", newline="\n")
    assert text == GOLDEN.read_text("utf-8")


def test_the_one_thing_to_do_next(make_build: MakeBuild) -> None:
    """Nothing to close: what is unfinished, then the seal, the archive, the site; at last the next entry."""
    root = make_build({"entries/a/index.md": entry("assembly: workshop")})

    def do_next() -> str:
        return run(root).output.rpartition("Next: ")[2].strip()

    assert do_next() == "`journal enter --unfinished` goes through what is unfinished."
    make_build({"entries/a/index.md": entry("assembly: workshop\ntitle: Bench")})
    assert do_next() == "`journal seal`, for what is new or changed."
    view = open_view(open_journal(root, date(2026, 2, 10)), Audience.ARCHIVE)
    seal(root, view, now=AT, ask=lambda changes: None)
    assert do_next() == "`journal archive`, for what is new or changed."
    note_kept(root, ARCHIVED, Kept(at=AT, where=str(root), entries=fingerprints(root, view)))
    assert do_next() == "`journal enter`, when there is something to tell."
    note_kept(root, PUBLISHED, Kept(at=AT, where="branch pages", entries={}))
    assert do_next() == "`journal publish`, for what is new or changed."


def test_errors_come_first(make_build: MakeBuild) -> None:
    """What could not be read is not told of, and that is said; the exit code is 0 all the same."""
    said = run(make_build(FILES | {"entries/x/index.md": entry("assembly: flapz")})).output
    assert "Next: `journal check` lists 1 error; till then no site, archive or seal is made.\n" in said
    assert said.endswith("entries that could not be read are not told of here; see `journal check`.\n")


def test_a_broken_chain_is_not_held_against_anything(make_build: MakeBuild) -> None:
    """It is said, and `check` tells the rest."""
    root = make_build(FILES)
    keep(root)
    (root / "content/seals.jsonl").write_text("{}\n")
    assert "  The chain of seals is broken: `journal check` says where\n" in run(root).output


def test_its_json_holds_the_same(make_build: MakeBuild) -> None:
    """Part by part; an ID that is not told is empty."""
    root = make_build(FILES | LATER)
    told = json.loads(run(root, "--json").output)
    assert [part["key"] for part in told["parts"]] == [
        *("under-way", "unfinished", "expires", "next-steps", "closing", "kept")
    ]
    assert told["parts"][0]["heading"] == "Under way"
    assert told["parts"][0]["lines"][0] == {
        "text": "Ada’s clock has run since yesterday, 18:30: when did Ada stop?",
        "entry": "2026-02-28-tonight",
        "step": "",
        "private": False,
    }
    assert told["next"].startswith("see to what is missing before a structure is closed")


def test_its_page_is_for_the_preview(make_build: MakeBuild) -> None:
    """Private lines only where they are asked for; a part that has no other is left out."""
    parts, do_next = tell_today(open_journal(make_build(FILES | LATER), date(2026, 3, 1)))
    page, whole = today_page(parts, do_next), today_page(parts, do_next, private=True)
    assert (page.address, page.hidden, page.intro) == (TODAY, True, f"Next: {do_next.replace('`', '')}")
    shown = {group.title for group in page.groups}
    assert {group.title for group in whole.groups} - shown == {"What expires"}
    assert not any("Tank sealant, batch" in point for group in page.groups for point in group.points)
    assert [point for group in whole.groups for point in group.points] == [
        line.text.replace("`", "") for part in parts for line in part.lines
    ]


@pytest.mark.parametrize("audience", Audience)
def test_it_is_part_of_no_site(make_build: MakeBuild, audience: Audience) -> None:
    """Neither of the public one, nor of the archive; the preview adds it by itself."""
    root = make_build(FILES | LATER)
    (root / "mkdocs.yml").write_text(
        "site_name: Tarn\ndocs_dir: content\ntheme: {name: material, font: false}\nplugins: [search, journal]\n"
    )
    journal = open_journal(root, date(2026, 3, 1))
    laid = lay_site(journal, site_options(load_settings(root), audience))
    addresses = {page.address for page in laid.pages()} | laid.single_pages.keys() | {name for name, _ in laid.files()}
    assert "hours/" in addresses
    assert not any(address.startswith(TODAY) for address in addresses)
