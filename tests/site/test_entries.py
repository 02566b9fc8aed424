"""Pages of entries, assemblies, steps, inspections: every figure is the ledger's."""

from __future__ import annotations

import html
from datetime import date, timedelta
from typing import Any

from laying import LayContext, page_at
from making import BUILD_YML, STEPS_CSV, entry

from journal.base.model import State
from journal.site.entry import plan_video
from journal.site.home import ON_HOME
from journal.site.lists import ON_REGISTER
from journal.site.pages import context_pages
from journal.view.view import Audience


def record_at(lay: LayContext, address: str, files: dict[str, Any] | None = None, **more: Any) -> Any:
    """What the template of one page places."""
    return page_at(list(context_pages(lay(files, **more))), address)


def asides(page: Any) -> dict[str, set[str]]:
    """What stands beside a page: links by label."""
    return {cell.label: {link.text for link in cell.links} for cell in page.asides}


def cells(block: Any) -> dict[str, str]:
    """The fields of a title block as words."""
    return {
        cell.label: (cell.mark.word if cell.mark else "") + cell.value + ", ".join(link.text for link in cell.links)
        for cell in block
    }


def test_the_title_block_of_an_entry(lay: LayContext) -> None:
    """DAY, DATE, ASSEMBLY, STEPS, HOURS, HOURS TO DATE, BY, in this order."""
    said = cells(record_at(lay, "entries/2026-02-07-second/").block)
    assert list(said) == ["Day", "Date", "Assembly", "Steps", "Hours", "Hours to date", "By"]
    assert said["Day"] == "2"
    assert said["Date"] == "Sat 7 February 2026"
    assert said["Assembly"] == "Flaps"
    assert said["Steps"] == "5.2, 5.3"
    assert said["Hours"] == "6 h 30 min"
    assert said["Hours to date"] == "8 h 30 min"
    assert said["By"] == "Ada, builder"


def test_photos_that_are_not_placed_come_at_the_end(lay: LayContext) -> None:
    """Every public photo of the folder is shown once."""
    page = page_at(list(context_pages(lay())), "entries/2026-02-07-second/")
    assert [box.smallest for box in page.groups[1].pictures] == ["pictures/two-480.jpg"]
    assert page.groups[0].pictures == ()
    assert "one-480" in page.html


def test_steps_of_an_entry_say_what_was_done_to_them(lay: LayContext) -> None:
    """Finished, begun and done over are three things."""
    lines = record_at(lay, "entries/2026-02-07-second/").steps.steps
    assert [(line.id, line.mark.word) for line in lines] == [("5.2", "done"), ("5.3", "begun")]
    again = record_at(lay, "entries/2026-03-01-again/").steps.steps
    assert [(line.id, line.mark.word) for line in again] == [("5.1", "done over")]


def test_before_and_after_in_the_journal_and_on_the_part(lay: LayContext) -> None:
    """A private entry between is stepped over."""
    page = record_at(lay, "entries/2026-03-01-again/")
    journal, assembly = page.turns
    assert journal.before.text == "Deburring the rest"
    assert journal.after.text == "Spar"
    assert assembly.before.text == "Deburring the rest"
    assert (assembly.order.text, assembly.after) == ("Flaps", None)


def test_the_drawing_is_that_of_the_day(lay: LayContext) -> None:
    """The first entry shows the wing not begun, though it has been since."""
    first, now = record_at(lay, "entries/2026-02-01-first/").drawing, record_at(lay, "assemblies/").drawing
    assert (first.picked.text, first.picked.mark.word) == ("Flaps", State.UNDER_WAY.value)
    counts = [{line.mark.word: int(line.text or 0) for line in drawing.legend} for drawing in (first, now)]
    assert counts[0][State.NOT_BEGUN.value] > counts[1][State.NOT_BEGUN.value]


def test_the_drawing_links_from_where_it_stands(lay: LayContext) -> None:
    """Shapes are links, relative to the page."""
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9">'
        '<rect data-assembly="flaps" width="3" height="3"/></svg>'
    )
    deep = record_at(lay, "entries/2026-02-01-first/", {"aircraft.svg": svg}).drawing.svg
    home = record_at(lay, "", {"aircraft.svg": svg}).drawing.svg
    assert 'href="../../assemblies/flaps/"' in deep
    assert 'href="assemblies/flaps/"' in home


def test_a_draft_says_so_and_counts_nothing(lay: LayContext) -> None:
    """It has no day and no total yet."""
    page = record_at(lay, "entries/2026-03-05-plan/", audience=Audience.PREVIEW)
    assert page.badge == "draft, seen by you alone"
    assert cells(page.block)["Hours to date"] == "not counted yet"


def test_problems_of_an_entry_stand_on_its_page_in_the_preview(lay: LayContext) -> None:
    """The writer sees what to mend where it is wrong; followers never do."""
    files = {"entries/2026-04-01-x/index.md": entry("title: X\ndate: 2026-04-01", "[x](nowhere.md)")}
    address = "entries/2026-04-01-x/"
    preview = record_at(lay, address, files, audience=Audience.PREVIEW).trouble
    assert any("nowhere.md" in cell.value for cell in preview)
    assert record_at(lay, address, files).trouble == ()


def test_fasteners_and_torque_stand_as_written(lay: LayContext) -> None:
    """Columns in which nothing was written are left out; a caution stands below."""
    matter = (
        "title: X\ndate: 2026-04-01\nfasteners:\n  - {rivet: AN470AD4-5, grip: 0.125 in, count: 48}\n"
        "torque:\n  - {bolt: AN4-10A, nut: tension, value: 62 in-lb, drag: 8 in-lb}\n"
    )
    page = record_at(lay, "entries/2026-04-01-x/", {"entries/2026-04-01-x/index.md": entry(matter)})
    rivets, bolts = page.groups[2].tables
    assert rivets.columns == ("Part", "Count", "Grip")
    assert rivets.rows == (("AN470AD4-5", "48", "0.125 in (3.18 mm)"),)
    assert bolts.rows == (("AN4-10A", "tension", "62 in-lb (7.01 N m, 5.17 ft-lb)", "8 in-lb (0.9 N m, 0.67 ft-lb)"),)
    assert rivets.caution
    assert bolts.caution


def test_films_are_known_by_host() -> None:
    """Where the frame of a host is known it is shown on a press; elsewhere the panel is a plain link."""
    assert plan_video("https://www.youtube.com/watch?v=abc_DEF-123", 1).embed.startswith(
        "https://www.youtube-nocookie.com/embed/abc_DEF-123"
    )
    assert plan_video("https://youtu.be/abc_DEF-123?t=3", 1).embed
    assert plan_video("https://vimeo.com/123456789", 1).embed.startswith("https://player.vimeo.com/video/123456789")
    other = plan_video("https://video.example.org/w/1", 2)
    assert (other.embed, other.host, other.label) == ("", "video.example.org", "Film 2")


def test_an_assembly_tells_its_time_line_newest_first(lay: LayContext) -> None:
    """Sheets and inspections stand on one line; an inspection comes after its day's work."""
    page = record_at(lay, "assemblies/flaps/")
    told = [stop.card.title if stop.card else stop.write_up.title for stop in page.groups[0].items]
    assert told == ["A look at the ribs", "Done over", "Deburring the rest", "First ribs"]
    said = cells(page.block)
    assert said["Hours"] == "10 h 45 min"
    assert said["Planned"] == "60 h"
    assert page.bar.tenths == 179


def test_hours_over_the_plan_say_by_how_much(lay: LayContext) -> None:
    """A bar cannot be longer than full; the words tell the rest."""
    files = {"entries/2026-04-01-x/index.md": entry("title: X\ndate: 2026-04-01\nhours: 80:00\npeople: [ada]")}
    page = record_at(lay, "assemblies/flaps/", files)
    assert page.bar.over
    assert page.bar.tenths == 1000
    assert page.bar.words == "90 h 45 min worked, 30 h 45 min more than planned (151 %)"


def test_long_assemblies_are_parted_and_lose_nothing(lay: LayContext) -> None:
    """Every entry and every inspection stands on exactly one of the pages, newest page first."""
    start = date(2024, 1, 1)
    files: dict[str, str] = {}
    for number in range(150):
        day = start + timedelta(days=number * 4)
        files[f"entries/{day}-e{number}/index.md"] = entry(f"title: E{number}\ndate: {day}\nassembly: left-wing")
    for number in range(0, 150, 10):
        day = start + timedelta(days=number * 4 + 1)
        files[f"inspections/{day}-i{number}/index.md"] = (
            f"---\ntitle: I{number}\ndate: {day}\nassembly: left-wing\ninspector: insp\noutcome: passed\n---\n"
        )
    pages = [p for p in context_pages(lay(files)) if p.address.startswith("assemblies/left-wing/")]
    stops = [stop for page in pages for stop in page.groups[0].items]
    told = [(stop.card or stop.write_up).title for stop in stops]
    assert len(told) == len(set(told)) == 151 + 15
    dates = [stop.card.iso if stop.card else stop.write_up.iso for stop in stops]
    assert dates == sorted(dates, reverse=True)
    assert pages[0].address == "assemblies/left-wing/"
    assert len({page.address for page in pages}) == len(pages) > 2


def test_a_step_tells_how_it_was_done_oldest_first(lay: LayContext) -> None:
    """First done, then done over, with tools and who."""
    page = record_at(lay, "steps/5.1/")
    assert [telling.card.title for telling in page.groups[1].items] == ["First ribs", "Done over"]
    assert [telling.mark.word for telling in page.groups[1].items] == ["done", "done over"]
    assert "Started with the ribs." in page.groups[1].items[0].html
    said = cells(page.block)
    assert said["State"] == "done over"
    assert said["Done over"] == "1 time"
    assert said["Done on"] == "1 March 2026"
    assert asides(page)["Tools"] == {"C-frame", "deburring tool"}


def test_pictures_that_name_a_step_stand_on_its_page_alone(lay: LayContext) -> None:
    """A picture of step 5.2 does not explain step 5.3; one that names no step may."""
    done, begun = record_at(lay, "steps/5.2/"), record_at(lay, "steps/5.3/")
    assert [box.smallest for box in done.groups[1].items[0].pictures] == ["pictures/one-480.jpg"]
    assert [box.smallest for box in begun.groups[1].items[0].pictures] == ["pictures/two-480.jpg"]


def test_long_texts_are_cut_at_a_block(lay: LayContext) -> None:
    """A step's page quotes whole paragraphs and says where the rest is."""
    body = "\n\n".join(f"Paragraph {number}: " + "word " * 60 for number in range(12))
    files = {"entries/2026-04-01-x/index.md": entry("title: X\ndate: 2026-04-01\nsteps: [5.4]", body)}
    telling = record_at(lay, "steps/5.4/", files).groups[1].items[0]
    assert telling.cut
    assert telling.html.count("<p>") == telling.html.count("</p>") < 12


def test_the_mirrored_step_is_told(lay: LayContext) -> None:
    """Working on one side shows the other side's entries: at length where the step is still to come."""
    csv = (
        "assembly,step,title,page,closes,same_as\nflaps,5.1,Deburr the ribs,5-1,,\nflaps,5.2,a,,,\nflaps,5.3,b,,,\n"
        "left-wing,7.1,Prepare,7-1,,5.1\nleft-wing,7.2,Next,7-2,,\nleft-wing,7.10,Close,7-9,yes,\n"
    )
    there, back = (record_at(lay, f"steps/{step}/", {"steps.csv": csv}) for step in ("7.1", "5.1"))
    (twin,) = there.record
    assert (twin.title, twin.address) == ("The same on Flaps: step 5.1, done on 1 March 2026", "steps/5.1/")
    assert [telling.card.title for telling in twin.items] == ["First ribs", "Done over"]
    assert (there.after, back.record) == ((), ())
    assert [other.steps[0].id for other in back.after] == ["7.1"]


def test_an_inspection_links_what_put_its_findings_right(lay: LayContext) -> None:
    """Open ones say so; the inspector is a role unless build.yml says more."""
    page = record_at(lay, "inspections/2026-03-03-look/")
    assert [
        (line.id, line.mark.word, line.closed_by.text if line.closed_by else "") for line in page.groups[0].items
    ] == [
        ("F1", "put right", "Spar"),
        ("F2", "open", ""),
    ]
    said = cells(page.block)
    assert said["By"] == "the inspector"
    assert said["Outcome"] == "passed with findings"
    assert said["Findings"] == "2, 1 open"


def test_home_shows_the_newest_entry_and_a_few_before_it(lay: LayContext) -> None:
    """The newest first; the rest is in the register."""
    home = record_at(lay, "")
    assert home.groups[0].items[0].title == "Spar"
    assert [card.title for card in home.groups[1].items] == ["Done over", "Deburring the rest", "First ribs"]
    assert home.onward[0].text == "All 4 entries"


def test_home_without_entries_tells_no_zeros(lay: LayContext) -> None:
    """Nothing is counted that is not there: neither hours, steps and shares nor the states of the drawing."""
    names = ("02-01-first", "02-07-second", "02-08-secret", "03-01-again", "03-02-wing")
    drafts = {f"entries/2026-{name}/index.md": entry(f"date: 2026-{name[:5]}\ndraft: true") for name in names}
    home = record_at(lay, "", drafts)
    assert home.description == "Tarn, two-seat low-wing: the first entry is still to come."
    assert (home.bar, [group.items for group in home.groups]) == (None, [(), (), ()])
    assert "0" not in {cell.value for cell in home.block} | {line.text for line in home.drawing.legend}


def test_a_long_journal_is_parted_by_year(lay: LayContext) -> None:
    """Home stays short, the register has a page a year, and every entry is on one of them."""
    start = date(2024, 1, 1)
    files = {
        f"entries/{start + timedelta(days=4 * n)}/index.md": entry(
            f"title: E{n}\ndate: {start + timedelta(days=4 * n)}"
        )
        for n in range(ON_REGISTER + 20)
    }
    pages = list(context_pages(lay(files)))
    assert len(page_at(pages, "").groups[1].items) == ON_HOME
    register = [page for page in pages if page.template == "register.html"]
    told = [card.title for page in register for month in page.groups for card in month.items]  # type: ignore[attr-defined]
    assert len(told) == len(set(told)) == ON_REGISTER + 20 + 4
    assert [page.address for page in register] == ["entries/", "entries/year-2025/", "entries/year-2024/"]
    calendar = [page.address for page in pages if page.template == "calendar.html"]
    assert calendar == ["calendar/", "calendar/2025/", "calendar/2024/"]


def test_a_full_year_has_two_parts(lay: LayContext) -> None:
    """More entries than a page should hold: July to December stands where the year did, the rest below it."""
    days = [date(2026, 1, 1) + timedelta(days=day) for day in range(0, 365, 1)]
    files = {f"entries/{day}-x/index.md": entry(f"title: X\ndate: {day}") for day in days}
    pages = list(context_pages(lay(files)))
    for base, template in (("entries/", "register.html"), ("calendar/", "calendar.html")):
        parts = [page for page in pages if page.template == template]
        early = "entries/year-2026/january-to-june/" if base == "entries/" else "calendar/2026/january-to-june/"
        assert [page.address for page in parts][:2] == [base, early]
        assert [link.text for link in parts[0].parts][:2] == ["2026, July to December", "2026, January to June"]
        assert [page.part for page in parts][:2] == ["2026, July to December", "2026, January to June"]


def test_an_entry_that_is_named_like_a_year_page_keeps_its_address(lay: LayContext) -> None:
    """The folder's address is the contract; the page of the year steps aside."""
    addresses = lay({"entries/year-2026/index.md": entry("date: 2026-04-01")}).addresses
    assert addresses.entry_address["year-2026"] == "entries/year-2026/"
    assert addresses.year_address("entries/", 2026) == "entries/year-2026-2/"


def test_the_calendar_has_every_worked_day(lay: LayContext) -> None:
    """Weeks run from Monday to Sunday; a day shows its hours and its part."""
    months = record_at(lay, "calendar/").groups
    assert [month.title for month in months] == ["March 2026", "February 2026"]
    worked = {cell.cards[0].iso: cell for week in months[1].items for cell in week if cell.cards}
    assert list(worked) == ["2026-02-01", "2026-02-07"]
    assert worked["2026-02-07"].hours == "6 h 30 min"
    assert all(len(week) == 7 for month in months for week in month.items)
    # 1 March 2026 is a Sunday.
    assert months[0].items[0][6].number == 1


def test_tools_are_one_whatever_their_case(lay: LayContext) -> None:
    """`C-frame` and `c-frame` are one tool, in the form written first."""
    names = record_at(lay, "tools/").groups[0].items
    assert [(link.text, link.note) for link in names] == [("C-frame", "2 entries"), ("deburring tool", "1 entry")]
    page = record_at(lay, "tools/c-frame/")
    assert [card.title for card in page.groups[0].items] == ["Deburring the rest", "First ribs"]


def test_the_inventory_says_what_is_short_and_unchecked(lay: LayContext) -> None:
    """In words; the person by the name shown."""
    page = record_at(lay, "inventory/")
    assert cells(page.block) == {"Lines": "2", "Short": "1", "Not checked yet": "1", "Crates": "1"}
    assert page.groups[0].tables[0].rows[0][3] == "1 (1 short)"
    assert page.groups[0].tables[0].rows[0][7] == "Ada"
    assert page.groups[0].tables[0].rows[1][6] == "not yet"


def test_terms_link_back_to_the_entries_that_use_them(lay: LayContext) -> None:
    """The list of terms answers where a word was used."""
    files = {
        "entries/2026-04-01-x/index.md": entry("title: Dimpling day\ndate: 2026-04-01", "Every dimple looks the same.")
    }
    letters = record_at(lay, "terms/", files).groups
    used = {line.term.name: [link.text for link in line.entries] for letter in letters for line in letter.items}
    assert {name: entries for name, entries in used.items() if "Dimpling day" in entries} == {
        "dimpling": ["Dimpling day"]
    }
    assert [letter.title for letter in letters] == sorted(letter.title for letter in letters)


def test_own_pages_hold_the_builder_s_words(lay: LayContext) -> None:
    """content/pages/about.md stands at pages/about/."""
    page = page_at(list(context_pages(lay())), "pages/about/")
    assert "Two people and a garage." in html.unescape(page.html)
    assert page.title == "About us"


def test_an_assembly_is_shown_part_by_part_in_the_state_of_its_steps(lay: LayContext) -> None:
    """Where steps name shapes each part has theirs; where none does, all have the assembly's; a step picks its own."""
    steps = STEPS_CSV.replace("closes\n", "closes,shape\n").replace("5-2,\n", "5-2,,left flap\n")
    steps = steps.replace("5-3,\n", "5-3,,right flap\n")
    files = {"steps.csv": steps, "build.yml": BUILD_YML + "drawing: {wing: high}\n"}
    flaps = record_at(lay, "assemblies/flaps/", files)
    assert 'aria-label="Left flap: done"' in flaps.close_up.svg
    assert 'aria-label="Right flap: under way"' in flaps.close_up.svg
    assert 'href="../../steps/5.2/"' in flaps.close_up.svg
    wing = record_at(lay, "assemblies/left-wing/", files).close_up.svg
    state = record_at(lay, "assemblies/left-wing/", files).drawing.picked.mark.word
    assert f'aria-label="Left wing spar: {state}"' in wing
    picked = record_at(lay, "steps/5.2/", files).close_up
    assert picked.svg.count('aria-current="true"') == 1
    assert "what step 5.2 touches picked out" in picked.caption
    assert record_at(lay, "steps/5.1/", files).close_up is None
    assert record_at(lay, "assemblies/flaps/").close_up is None
