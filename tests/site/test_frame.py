"""What stands around every page, and the links in its head."""

from __future__ import annotations

from laying import LayContext, page_at

from journal.site.frame import SiteOptions, page_context, plan_frame, plan_head
from journal.site.pages import context_pages
from journal.site.site_context import Extras
from journal.view.page_links import Linker, linker_for, resolve
from journal.view.page_parts import PageRecord
from journal.view.view import Audience

SITE = "https://tarn.example/journal/"


def test_links_are_relative_to_their_page() -> None:
    """A site works below any path."""
    assert linker_for("entries/x/").to("steps/5.1/") == "../../steps/5.1/"
    assert linker_for("").to("") == "./"
    assert linker_for("entries/x/").to("") == "../../"
    assert linker_for("terms/").to("terms/#term-rib") == "../terms/#term-rib"


def test_links_offline_name_files() -> None:
    """A file address has no directory index."""
    assert linker_for("entries/x/", offline=True).to("") == "../../index.html"
    assert linker_for("", offline=True).to("terms/#a") == "terms/index.html#a"
    assert linker_for("", offline=True).to("feed.xml") == "feed.xml"


def test_links_are_quoted() -> None:
    """Names that are not plain ASCII are written as an address has them."""
    assert linker_for("").to("tools/gr\N{LATIN SMALL LETTER U WITH DIAERESIS}n/") == "tools/gr%C3%BCn/"


def test_a_link_in_prose_is_resolved_from_its_file() -> None:
    """Files are linked as an editor does it; fragments are carried over."""
    addresses = {"content/entries/b/index.md": "entries/b/", "content/entries/b": "entries/b/"}
    here = "content/entries/a/index.md"
    assert resolve("../b/index.md#x", here, addresses) == "entries/b/#x"
    assert resolve("../b/", here, addresses) == "entries/b/"
    assert resolve("../c/index.md", here, addresses) is None
    assert resolve("../../../../etc/passwd", here, addresses) is None


def test_canonical_and_preview_addresses_are_absolute(lay: LayContext) -> None:
    """Link previews and canonical links need the site's own address."""
    context = lay()
    frame = plan_frame(context, SiteOptions(site_url=SITE))
    head = plan_head(frame, page_at(list(context_pages(context)), "entries/2026-02-07-second/"))
    assert head["canonical"] == f"{SITE}entries/2026-02-07-second/"
    assert head["picture"] == f"{SITE}pictures/one-960.jpg"
    assert head["title"] == "Deburring the rest \N{MIDDLE DOT} Tarn build journal"
    assert head["description"].startswith("Day 2, 7 February 2026: Flaps. Deburred every hole")
    assert head["robots"] == ""


def test_a_card_made_for_the_entry_comes_before_its_cover(lay: LayContext) -> None:
    """Cards are made by another part and named by entry."""
    context = lay(extras=Extras(cards={"entries/2026-02-07-second/": "cards/abc.jpg"}))
    page = page_at(list(context_pages(context)), "entries/2026-02-07-second/")
    assert plan_head(plan_frame(context, SiteOptions(site_url=SITE)), page)["picture"] == f"{SITE}cards/abc.jpg"


def test_without_an_address_nothing_pretends_to_have_one(lay: LayContext) -> None:
    """No canonical link, no preview picture, no feeds."""
    context = lay()
    frame = plan_frame(context, SiteOptions())
    head = plan_head(frame, page_at(list(context_pages(context)), ""))
    assert (head["canonical"], head["picture"]) == ("", "")
    assert [link.text for link in frame.feeds] == ["Open data"]
    assert frame.alternates == ()


def test_only_the_public_site_is_for_search_engines(lay: LayContext) -> None:
    """Preview and archive ask not to be indexed, and so does the page for wrong addresses."""
    context = lay(audience=Audience.PREVIEW)
    home = page_at(list(context_pages(context)), "")
    assert plan_head(plan_frame(context, SiteOptions()), home)["robots"] == "noindex"
    lost = PageRecord(
        address="404.html", template="404.html", title="x", description="", html="", record=None, hidden=True
    )
    assert plan_head(plan_frame(lay(), SiteOptions()), lost)["robots"] == "noindex"


def test_the_way_to_the_root_may_be_told(lay: LayContext) -> None:
    """The page for wrong addresses is shown at any depth."""
    context = lay()
    home = page_at(list(context_pages(context)), "")
    placed = page_context(plan_frame(context, SiteOptions()), home, root="/journal/")
    assert placed["to"]("entries/") == "/journal/entries/"
    assert Linker(root="/journal/").to("") == "/journal/"


def test_the_navigation_holds_only_what_there_is(lay: LayContext) -> None:
    """No link to an inventory that was never taken."""
    bare = plan_frame(lay({"inventory.csv": None, "inspections/2026-03-03-look/index.md": None}), SiteOptions())
    full = plan_frame(lay(), SiteOptions())
    assert "Inventory" in [link.text for link in full.more]
    assert "Inventory" not in [link.text for link in bare.more]
    assert "Inspections" not in [link.text for link in bare.more]
