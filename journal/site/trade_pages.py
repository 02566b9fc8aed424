"""The trade on a site: what stands beside entries, the pages for everybody and those for the inspector."""

from __future__ import annotations

from journal.site.inspector_pages import (
    COSTS,
    MATERIALS,
    PEOPLE,
    TALLY,
    costs_page,
    materials_page,
    people_page,
    tally_page,
)
from journal.site.shop_pages import SHOP, STANDS, shop_pages, stands_page
from journal.site.site_context import Extras, SiteContext
from journal.site.trade_panels import trade_panels
from journal.view.page_parts import Link

_IN_NAVIGATION = {
    SHOP: "Shop tables",
    STANDS: "Where it stands",
    TALLY: "Tally",
    PEOPLE: "People",
    MATERIALS: "Materials",
    COSTS: "Costs",
}


def trade_extras(site: SiteContext) -> Extras:
    """All of it for one site."""
    view = site.view
    pages = [*shop_pages(), *([stands_page(site)] if view.steps else [])]
    if view.tasks:
        pages.append(tally_page(site))
    if view.everything:
        pages.append(people_page(site))
    if view.materials:
        pages.append(materials_page(site))
    if view.spent and view.costs:
        pages.append(costs_page(view.spent, site))
    return Extras(
        pages=tuple(pages),
        panels=dict(trade_panels(site)),
        nav=tuple(
            Link(text=_IN_NAVIGATION[page.address], address=page.address)
            for page in pages
            if page.address in _IN_NAVIGATION
        ),
    )
