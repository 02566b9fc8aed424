"""Pages of measurements: what was measured, who signed, the limits of a weighing drawn; bulletins for the archive."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from xml.etree import ElementTree as ET

import pytest
from marked_build import BUILD, LIMITS, MARKER, OPEN_MEASUREMENT, WEIGHING, journal_of

from journal.base.model import BalanceLimit, CallOut, Load, LoadCase, MeasuredResult
from journal.base.quantities import parse_limit
from journal.site.measurements import measurement_page, write_up_card
from journal.site.pages import context_pages
from journal.site.site_context import SiteContext
from journal.site.trade_pages import trade_extras
from journal.view.view import Audience, open_view
from journal.view.weighing_parts import draw_limits, weighing_tables

F = Fraction
ASKED = CallOut(what="level", value="at most 0.2 °", limit=parse_limit("at most 0.2 °"), page="9-2", edition="B")
RESULTS = (
    MeasuredResult(what="Level", value="0.1 °", called_for=(ASKED,)),
    MeasuredResult(what="Level again", value="0.4 °", called_for=(ASKED,)),
)
CASES = (
    LoadCase(name="first <flight>", loads=(Load(what="pilot", weight=F(170), arm=F(16)),)),
    LoadCase(name="most aft", loads=(Load(what="baggage", weight=F(400), arm=F(75)),)),
)
TRIED = replace(
    OPEN_MEASUREMENT, results=RESULTS, steps=("5.1",), weighing=replace(WEIGHING, cases=CASES, max_weight=F(2100))
)


def site_of(audience: Audience) -> SiteContext:
    """The pages of the marked build with one measurement more filled in."""
    build = replace(BUILD, measurements=(TRIED, *BUILD.measurements[1:]))
    return SiteContext(open_view(journal_of(build), audience), {})


def test_a_measurement_is_told_like_an_inspection_with_both_signatures() -> None:
    """Names as shown; the list and the pages of its step and assembly lead to it; never more than as called for."""
    site = site_of(Audience.PUBLIC)
    pages = {page.address: page for page in context_pages(site)}
    page = pages["measurements/scales/"]
    assert [(cell.label, cell.value) for cell in page.block if cell.label.endswith("by")] == [
        ("Measured by", "Ada, builder"),
        ("Checked by", "the inspector"),
    ]
    assert [(row[1], row[3]) for row in page.groups[0].tables[0].rows][:2] == [
        ("0.1 ° · as called for", "—"),
        ("0.4 ° · not as called for", "0.4 ° is 0.2° over at most 0.2 ° (page 9-2, edition B)"),
    ]
    card = write_up_card(site, site.view.measurements[0])
    assert (card.mark.word, card.at) == ("2 to be looked at", "steps 5.1")
    assert card in pages["measurements/"].groups[0].items
    assert any(card in group.items for group in pages["steps/5.1/"].groups)
    assert any(stop.write_up == card for stop in pages["assemblies/flaps/"].groups[0].items)
    assert not [address for address in pages if MARKER in address]


def test_a_whole_aircraft_and_nothing_judged() -> None:
    """A measurement of nothing in particular is one of the whole aircraft, and is only recorded."""
    site = SiteContext(open_view(journal_of(BUILD), Audience.PUBLIC), {})
    card = write_up_card(site, site.view.measurements[0])
    assert (card.at, card.mark.word) == ("the whole aircraft", "recorded")
    assert measurement_page(site, site.view.measurements[0]).drawing.picked is None


def test_the_drawing_says_in_words_what_it_shows() -> None:
    """Well-formed, names escaped, each loading with its standing, what is outside with a cross and the word."""
    svg = draw_limits(TRIED.weighing)
    drawn = ET.fromstring(svg)
    told = drawn.findtext("{*}desc")
    assert told.startswith("empty, empty aircraft: ")
    assert "1, first <flight>: 572 lb (259.45 kg) at 20.22 in (513.5 mm), inside the limits" in told
    assert "2, most aft: 802 lb (363.78 kg) at 48.43 in (1,230.2 mm), outside: 26.43 in" in told
    words = [text.text for text in drawn.iter("{http://www.w3.org/2000/svg}text")]
    assert {"empty", "1", "2 outside"} <= set(words)
    assert draw_limits(replace(WEIGHING, limits=())) == ""


@pytest.mark.parametrize("spread", [F(1, 100), F(1), F(7), F(1000)])
def test_the_drawing_holds_whatever_is_weighed(spread: Fraction) -> None:
    """Few round figures on either scale, and everything within the frame."""
    limits = tuple(BalanceLimit(weight=F(400) + n * spread, forward=F(20), aft=F(20) + spread) for n in range(3))
    drawn = ET.fromstring(draw_limits(replace(WEIGHING, limits=limits, cases=CASES)))
    (shape,) = drawn.iter("{http://www.w3.org/2000/svg}polygon")
    places = [tuple(map(float, point.split(","))) for point in shape.get("points").split()]
    assert all(56 <= x <= 304 and 26 <= y <= 268 for x, y in places)
    marks = [text.text for text in drawn.iter("{http://www.w3.org/2000/svg}text") if text.text.endswith(" lb")]
    assert 1 <= len(marks) <= 7


def test_tables_of_a_weighing_sum_up() -> None:
    """As weighed, the limits, then a table for each loading with its sum and how it stands."""
    tables = list(weighing_tables(TRIED.weighing))
    assert [table.caption for table in tables] == [
        "As weighed; arms from the datum, leading edge",
        "Limits as the builder wrote them",
        "1. first <flight>",
        "2. most aft",
    ]
    assert tables[2].sums == ("Sum", "572 lb (259.45 kg)", "20.22 in (513.5 mm)", "11,564 in-lb (133.23 kg m)")
    assert tables[1].note == "Maximum weight as written: 2,100 lb (952.54 kg)."
    assert len(LIMITS) == 1


def test_bulletins_are_for_the_archive() -> None:
    """A page of their own there, and nothing anywhere else."""
    for audience in Audience:
        titles = [page.title for page in trade_extras(site_of(audience)).pages]
        assert ("Bulletins" in titles) is (audience is Audience.ARCHIVE)
