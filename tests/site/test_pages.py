"""Which pages there are, where they stand, and that nothing leads astray or leaks."""

from __future__ import annotations

import pickle
import re
from dataclasses import fields
from pathlib import Path

import pytest
from laying import TODAY, LayContext, page_at
from making import BUILD_YML, MakeBuild, entry

from journal.ledger.journal import open_journal
from journal.site.pages import context_pages
from journal.site.site_context import SiteContext
from journal.site.trade_pages import trade_extras
from journal.view.page_parts import PageRecord
from journal.view.view import Audience, open_view


def everything_said(desk_or_pages: list[PageRecord]) -> str:
    """All text that the pages' records hold, as one string."""
    return "\n".join(repr(page) for page in desk_or_pages)


def test_the_addresses_are_those_of_the_format(lay: LayContext) -> None:
    """Addresses are a contract (docs/format.md): people link to them."""
    addresses = [page.address for page in context_pages(lay())]
    for address in (
        "",
        "entries/2026-02-07-second/",
        "entries/",
        "calendar/",
        "assemblies/",
        "assemblies/left-wing/",
        "steps/",
        "steps/7.10/",
        "hours/",
        "photos/",
        "tools/",
        "tools/c-frame/",
        "methods/deburring/",
        "terms/",
        "inventory/",
        "inspections/2026-03-03-look/",
        "pages/about/",
    ):
        assert address in addresses
    assert len(addresses) == len({address.casefold() for address in addresses})


def test_drafts_have_a_page_in_the_preview_alone(lay: LayContext) -> None:
    """A draft is the builder's own until it is one no longer."""
    address = "entries/2026-03-05-plan/"
    for audience, there in ((Audience.PUBLIC, False), (Audience.PREVIEW, True), (Audience.ARCHIVE, False)):
        assert (address in [page.address for page in context_pages(lay(audience=audience))]) is there


def test_private_entries_have_a_page_in_the_archive_alone(lay: LayContext) -> None:
    """The inspector sees everything, followers only what is theirs."""
    address = "entries/2026-02-08-secret/"
    for audience, there in ((Audience.PUBLIC, False), (Audience.PREVIEW, False), (Audience.ARCHIVE, True)):
        assert (address in [page.address for page in context_pages(lay(audience=audience))]) is there


SECRETS = (
    *("hidden day", "Nobody may read", "complained again", "For us alone", "three.jpg", "three-480"),
    *("Lindqvist", "Bergstrom", "Okafor", "Petrov", "'bo'"),
    *("ZZ-TRN", "T-0042", "home workshop", "12:34", "+01:00", "source/"),
)


@pytest.mark.parametrize("secret", SECRETS)
def test_no_public_page_says_anything_private(lay: LayContext, secret: str) -> None:
    """Private entries, passages, photos, names, places, serial numbers and capture times stay away."""
    assert secret not in everything_said(list(context_pages(lay())))


def test_the_archive_says_all_of_it(lay: LayContext) -> None:
    """The test above can fail: the same words do stand in the archive."""
    said = everything_said(list(context_pages(lay(audience=Audience.ARCHIVE, offline=True))))
    for word in SECRETS:
        assert word in said or word == "'bo'", word


def test_private_work_counts_in_the_totals(lay: LayContext) -> None:
    """An hour that nobody may read about was worked all the same."""
    cells = {cell.label: cell.value for cell in page_at(list(context_pages(lay())), "").block}
    # 2:00 + 2 x 3:15 + 1:30 (private) + 0:45 + 2 x 4:00
    assert cells["Hours to date"] == "18 h 45 min"
    assert cells["Days"] == "5"


def test_every_record_can_be_fingerprinted(lay: LayContext) -> None:
    """A page whose record cannot be pickled would be made anew at every build."""
    for page in context_pages(lay()):
        assert pickle.loads(pickle.dumps(page)) == page


def test_the_same_journal_gives_the_same_records(lay: LayContext) -> None:
    """Same input, same output."""
    assert list(context_pages(lay())) == list(context_pages(lay()))


def test_every_address_in_a_record_is_a_page(lay: LayContext) -> None:
    """Links between pages lead somewhere."""
    pages = list(context_pages(lay()))
    known = {page.address for page in pages}
    said = everything_said(pages)
    for address in re.findall(r"address='([^']*)'", said):
        assert address.partition("#")[0] in known, address


def test_entry_folders_that_meet_keep_apart(lay: LayContext) -> None:
    """Two folders that differ in a sign that an address cannot hold get two addresses."""
    files = {"entries/a b/index.md": entry("date: 2026-04-01"), "entries/a-b/index.md": entry("date: 2026-04-02")}
    addresses = [page.address for page in context_pages(lay(files))]
    assert "entries/a-b/" in addresses
    assert "entries/a-b-2/" in addresses


def test_an_empty_build_has_its_pages(lay: LayContext) -> None:
    """The first evening there is nothing yet, and the site stands all the same."""
    from laying import SMALL

    context = lay(dict.fromkeys(SMALL) | {"steps.csv": None})
    pages = list(context_pages(context))
    assert {"", "entries/", "calendar/", "hours/", "photos/", "terms/"} <= {page.address for page in pages}
    assert page_at(pages, "").groups[0].items == ()


def test_templates_ask_a_page_for_what_it_has() -> None:
    """A name that no page has would be left out in silence; and nothing is told that no template places."""
    root = Path(__file__).parents[2]
    templates = "".join(file.read_text("utf-8") for file in sorted((root / "theme_overrides").rglob("*.html")))
    asked = set(re.findall(r"\b(?:made|page)\.(\w+)", templates)) - {"location"}
    told = {field.name for field in fields(PageRecord)} | {"letters"}
    assert asked <= told
    # What the head and the host take from a page.
    assert told - asked == {"description", "hidden", "picture", "updated"} - asked


def test_nobody_meets_rivets_on_a_build_of_wood(make_build: MakeBuild) -> None:
    """No page, no file and no finding of a build of wood and fabric speaks of rivets, dimples or deburring."""
    said = "construction: [wood, fabric]\n"
    files = {
        "build.yml": BUILD_YML + said,
        "steps.csv": "assembly,step,title,page,closes\nflaps,5.1,Glue the ribs,5-2,\n",
        "entries/a/index.md": entry("steps: [5.1]", "Scarfed the plywood and glued the ribs to the spar."),
    }
    journal = open_journal(make_build(files), TODAY)
    site = SiteContext(open_view(journal, Audience.PUBLIC), {})
    site.extras = trade_extras(site)
    shown = repr([*context_pages(site), *site.extras.pages]) + repr([problem.message for problem in journal.problems])
    shown = re.sub(r"near=\([^)]*\)", "", shown)  # words that tell what is meant, and that nobody reads
    assert re.search(r"glued the .*ribs", shown)
    assert re.findall(r"(?i).{60}\b(?:rivet|dimpl|deburr|bucking).{20}", shown) == []
