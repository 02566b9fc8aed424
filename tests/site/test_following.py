"""The Follow page: how to be told of the next entry, for readers who never heard of feeds."""

from __future__ import annotations

import pytest
from laying import LayContext
from making import BUILD_YML, MakeBuild, read

from journal.base.problems import render_problem
from journal.site.following import following_page
from journal.site.frame import SiteOptions, plan_frame
from journal.site.pages import single_pages
from journal.site.site_context import SiteContext

SITE = "https://tarn.example/journal/"


def test_the_page_holds_the_feeds_to_copy(lay: LayContext) -> None:
    """Both addresses are whole, for they are pasted elsewhere; the page stands in the navigation and in the footer."""
    site = lay()
    site.site_url = SITE
    page = single_pages(site)["follow/"]()
    copied = [cell.value for group in page.groups for cell in group.block]
    assert copied == [f"{SITE}feed.xml", f"{SITE}feed.json", SITE]
    assert not any("Write" in group.title for group in page.groups)
    frame = plan_frame(site, SiteOptions(site_url=SITE))
    assert frame.nav[-1].address == frame.feeds[0].address == "follow/"
    assert [link.address for link in frame.alternates] == ["feed.xml", "feed.json"]


@pytest.mark.parametrize(
    ("written", "link", "who"),
    [
        ("ada@tarn.example", "mailto:ada@tarn.example", "Write to Ada"),
        ("https://tarn.example/write?to=us", "https://tarn.example/write?to=us", "Write to Ada"),
    ],
)
def test_the_builder_may_be_written_to(lay: LayContext, written: str, link: str, who: str) -> None:
    """Only where an address is given for it; then there is a page even where there are no feeds."""
    page = following_page(lay({"build.yml": f"{BUILD_YML}write_to: {written}\n"}))
    assert page is not None
    (group,) = page.groups
    assert (group.title, [item.address for item in group.items]) == (who, [link])  # type: ignore[attr-defined]


def test_where_there_is_nothing_to_follow_there_is_no_page(lay: LayContext) -> None:
    """No address of the site, so no feeds; and a copy on a disk never has any."""
    assert following_page(lay()) is None
    site = lay({"build.yml": f"{BUILD_YML}write_to: ada@tarn.example\n"}, offline=True)
    assert following_page(site) is None
    assert following_page(SiteContext(site.view, {}, offline=True, site_url=SITE)) is None
    assert "Follow" not in [link.text for link in plan_frame(lay(), SiteOptions()).nav]


@pytest.mark.parametrize("written", ["ada", "ada@", "http://tarn.example/", "a b@c.example", "https://x", "@c.example"])
def test_an_address_that_leads_nowhere_is_an_error(make_build: MakeBuild, written: str) -> None:
    """Told at its place, with both forms."""
    _, problems = read(make_build({"build.yml": f'{BUILD_YML}write_to: "{written}"\n'}))
    hint = "write a mail address (name@example.org), or one that begins with https://"
    assert [render_problem(one) for one in problems] == [
        f'content/build.yml:16:11: "{written}" is not an address; {hint}'
    ]
