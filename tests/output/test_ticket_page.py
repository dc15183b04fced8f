"""The ticket: everything that whoever runs the job must know, in the order of the work."""

from __future__ import annotations

import datetime
import itertools
import re
from dataclasses import replace

import pytest
from lxml import html

import planned_order
import planned_square
import worked_sheets
from kerfwright.findings import Finding, Severity
from kerfwright.motion.timing import Times
from kerfwright.output.files import SheetFiles
from kerfwright.output.text import duration
from kerfwright.output.ticket import order_of_work, ticket_html
from kerfwright.plan import Plan
from kerfwright.toolpath import Process


def page(plan: Plan | None = None) -> html.HtmlElement:
    plan = plan or planned_order.order()
    text = ticket_html(plan, planned_order.files_of(plan), made=datetime.date(2026, 5, 4))
    return html.document_fromstring(text)


def words(element: html.HtmlElement) -> str:
    return " ".join(element.text_content().split())


def section(root: html.HtmlElement, ident: str) -> html.HtmlElement:
    return root.xpath(f"//section[@aria-labelledby='{ident}']")[0]


def rows(table: html.HtmlElement) -> list[list[str]]:
    return [[words(cell) for cell in row.xpath("./th|./td")] for row in table.xpath(".//tr")]


def test_summary_says_what_machine_how_long_and_how_many() -> None:
    root = page()
    facts = {words(d.find("dt")): words(d.find("dd")) for d in root.xpath("//header//dl/div")}
    assert facts == {"Time": "1 h 03 min", "Parts": "5", "Sheets": "2", "Machine": "trial"}
    assert words(root.xpath("//h1")[0]) == "Regatta"
    assert root.xpath("//time/@datetime") == ["2026-05-04"]


def test_order_of_the_page_is_the_order_of_the_work() -> None:
    assert [heading.get("id") for heading in page().xpath("//h2")] == [
        "findings",
        "decisions",
        "before",
        "sheet-1",
        "sheet-2",
    ]


def test_headings_never_skip_a_level() -> None:
    levels = [int(heading.tag[1]) for heading in page().xpath("//h1|//h2|//h3|//h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_every_region_is_named_by_a_heading_or_label() -> None:
    root = page()
    for ident in root.xpath("//*[@aria-labelledby]/@aria-labelledby"):
        assert all(len(root.xpath(f"//*[@id='{one}']")) == 1 for one in ident.split())
    ids = root.xpath("//@id")
    assert len(ids) == len(set(ids))
    assert root.get("lang") == "en"
    assert all(box.xpath("ancestor::label") for box in root.xpath("//input"))


def test_invented_settings_are_announced_only_where_they_are() -> None:
    announced = "Invented settings."
    assert announced in words(page())
    assert announced not in words(page(planned_order.order(invented=False)))


def test_findings_come_worst_first_with_remedy_and_help() -> None:
    found = section(page(), "findings").xpath(".//li")
    assert [item.get("class") for item in found] == ["warn", "note"]
    assert "Rename it." in words(found[0])
    assert "sign.svg, path" in words(found[0])
    assert "(3 places)" in words(found[1])
    assert found[0].xpath(".//a/@href") == ["help/parts.html#layer-says-two"]


def test_many_findings_of_a_kind_are_folded_but_none_is_lost() -> None:
    many = tuple(
        Finding(Severity.NOTE, "parts/invisible", f"shape {i} left out", "Look.") for i in range(9)
    )
    stops = tuple(replace(finding, severity=Severity.STOP) for finding in many)
    root = page(replace(planned_order.order(), findings=many + stops))
    first, second = section(root, "findings").xpath("./ul/li")
    assert (first.get("class"), second.get("class")) == ("stop", "note")
    assert not first.xpath(".//details"), "whatever stops the work is always shown"
    assert words(second.xpath(".//summary")[0]) == "6 more of the kind"
    for item in (first, second):
        assert all(words(item).count(f"Shape {i} left out.") == 1 for i in range(9))
        assert words(item).count("Look.") == 1


def test_decisions_show_every_way_its_cost_and_the_key() -> None:
    first, second = section(page(), "decisions").xpath(".//article")
    text = words(first)
    for said in ("31 min 21 s · 120 m".replace(" · ", ""), "7 min 57 s", "Saves 23 min 24 s."):
        assert said in text
    assert words(first.xpath(".//li[@class='taken']/*[@class='way']")[0]).startswith("contour-par")
    assert words(first.xpath(".//code")[0]) == 'engrave = "scan"'
    assert "0.18 m²" in words(second)


def test_sheet_tells_settings_and_warns_of_untested_ones() -> None:
    root = page()
    first, second = (section(root, f"sheet-{number}") for number in (1, 2))
    table = rows(first.xpath(".//table")[0])
    assert table[0][:6] == [
        "Process",
        "Speed mm/s",
        "Power %",
        "Passes",
        "Kerf mm",
        "Interval mm",
    ]
    assert table[1] == ["engrave", "400", "35", "1", "–", "0.1", "–", "untested test first"]
    assert table[3][:6] == ["cut", "15", "80", "1", "0.2", "–"]
    assert "Not tested. engrave, score, cut:" in words(first)
    assert "Not tested." not in words(second)


def test_sheet_tells_its_order_of_work_with_times() -> None:
    """In laser mode the energy is power over speed times length: 21 W / 400 mm/s · 500 mm."""
    table = rows(section(page(), "sheet-1").xpath(".//table")[1])
    assert table[1:] == [
        ["1. engrave", "500 mm", "26.2 J", "0.052", "31 s"],
        ["2. score", "24 mm", "2.9 J", "0.12", "2.0 s"],
        ["3. cut", "144 mm", "460.8 J", "3.2", "38 s"],
        ["Whole program", "", "", "", "1 min 11 s"],
    ]


def test_times_of_steps_and_travel_add_up_to_the_program() -> None:
    plan = planned_order.order()
    sheet = plan.sheets[0]
    of_steps = sum(step.time_s or 0.0 for step in order_of_work(sheet))
    longer = replace(sheet, times=Times(of_steps, 24.0, 0.0))
    table = rows(
        section(page(replace(plan, sheets=(longer, *plan.sheets[1:]))), "sheet-1").xpath(
            ".//table"
        )[1]
    )
    assert table[-2:] == [
        ["travel between burns", "–", "–", "–", "24 s"],
        ["Whole program", "", "", "", duration(of_steps + 24.0)],
    ]


def test_process_known_only_by_its_time_is_not_lost() -> None:
    sheet = planned_order.first_sheet(times_by_process_s={Process.PHOTO: 5.0})
    steps = {step.process: (step.length_mm, step.time_s) for step in order_of_work(sheet)}
    assert steps[Process.PHOTO] == (None, 5.0)
    assert steps[Process.SCORE] == (pytest.approx(24.0), None)


def test_sheet_lists_parts_and_files() -> None:
    first = section(page(), "sheet-1")
    assert [row[::2] for row in rows(first.xpath(".//table")[2])][1:] == [
        ["blank made elsewhere: lay it in its place", "1"],
        ["ring", "1"],
        ["tile", "1"],
    ]
    name = "01-birch-plywood-offcut"
    links = first.xpath(".//dl[@class='files']//a/@href")
    assert links == [f"{name}.nc", f"{name}.svg", f"{name}.dxf"]


def test_numbered_parts_are_listed_as_people_count() -> None:
    names = ("token 10", "token 2", "7", "Token 1", "token 2")
    parts = tuple(planned_square.part(name) for name in names)
    plan = replace(planned_order.order(), sheets=(planned_order.first_sheet(parts=parts),))
    table = rows(section(page(plan), "sheet-1").xpath(".//table")[2])
    assert [row[::2] for row in table[1:]] == [
        ["7", "1"],
        ["Token 1", "1"],
        ["token 2", "2"],
        ["token 10", "1"],
    ]


def test_missing_program_is_said() -> None:
    plan = planned_order.order()
    plan = replace(plan, sheets=plan.sheets[:1])
    root = html.document_fromstring(ticket_html(plan, [SheetFiles(None, "a b.svg", "a#b.dxf")]))
    links = root.xpath("//dl[@class='files']//a/@href")
    assert links == ["a%20b.svg", "a%23b.dxf"]
    assert "none was written" in words(section(root, "sheet-1"))


def test_cautions_name_fire_fumes_eyes_and_whom_to_obey() -> None:
    before = section(page(), "before")
    text = words(before)
    for said in ("unattended", "extinguisher", "PVC", "interlock", "eyewear", "IEC 60825-1"):
        assert said in text
    for said in ("ANSI Z136.1", "local codes", "manual", "laser safety officer"):
        assert said in text
    assert len(before.xpath(".//input[@type='checkbox']")) == len(before.xpath(".//li")) >= 5


def test_warnings_about_a_sheet_stand_with_it_too() -> None:
    warning = Finding(
        Severity.WARN, "sequence/thin-strip", "Hot here.", x_mm=3.0, y_mm=4.0, sheet=2
    )
    plan = planned_order.order()
    root = page(replace(plan, findings=(*plan.findings, warning)))
    assert "Look. Hot here. at x 3.00 mm, y 4.00 mm" in words(section(root, "sheet-2"))
    assert "Hot here." not in words(section(root, "sheet-1"))
    assert "Hot here." in words(section(root, "findings"))


def test_what_else_the_recipes_ask_for_stands_in_the_settings() -> None:
    plan = replace(planned_order.order(), sheets=(worked_sheets.sheet("plain, everything"),))
    table = rows(section(page(plan), "sheet-1").xpath(".//table")[0])
    assert table[0][6] == "Further"
    assert table[3][6] == (
        "lead-in straight 2 mm, pierce 0.3 s, overcut 1 mm, focus 0.5 mm deeper each pass, "
        "4 holding tabs 0.8 mm wide, air on"
    )


def test_materials_own_cautions_stand_with_the_sheet() -> None:
    plan = planned_order.order(" oak")
    assert "Caution. Glue oak" in words(section(page(plan), "sheet-1"))


def test_page_asks_for_nothing_from_elsewhere() -> None:
    root = page()
    for element in root.iter():
        for key in ("src", "href", "data", "action", "poster", "srcset"):
            value = element.get(key, "") if isinstance(element.tag, str) else ""
            assert not re.match(r"([a-z]+:|//|/)", value), value
    styles = " ".join(root.xpath("//style/text()"))
    assert "@import" not in styles
    assert "url(" not in styles
    assert not root.xpath("//script|//link|//iframe|//img")


def test_hostile_words_stay_words() -> None:
    plan = planned_order.order(planned_order.HOSTILE)
    text = ticket_html(plan, planned_order.files_of(plan))
    text.encode("utf-8")
    root = html.document_fromstring(text)
    assert not root.xpath("//script")
    tame = {element.tag for element in page().iter() if isinstance(element.tag, str)}
    hostile = {element.tag for element in root.iter() if isinstance(element.tag, str)}
    assert hostile - tame <= {"br", "ul", "li"}
    assert "Regatta<script>alert('x')</script> \"&amp; ]]> -->" in words(root.xpath("//h1")[0])
    assert "{{ 7*7 }}" in words(root)
    assert not re.search("[\x00-\x08\x0e-\x1f\u202e\ud800-\udfff]", text)


def test_pages_that_the_ticket_links_to() -> None:
    links = page().xpath("//a[starts-with(@href, 'help/')]/@href")
    assert {link.partition("#")[0] for link in links} == {
        "help/order.html",
        "help/parts.html",
        "help/records.html",
        "help/ticket.html",
    }


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.0, "0.0 s"),
        (4.24, "4.2 s"),
        (9.96, "10 s"),
        (59.6, "1 min 00 s"),
        (185.0, "3 min 05 s"),
        (3599.7, "1 h 00 min"),
        (3720.0, "1 h 02 min"),
        (float("inf"), "unknown"),
    ],
)
def test_durations_read_as_people_say_them(seconds: float, said: str) -> None:
    assert duration(seconds) == said


def test_planned_square_alone_makes_a_ticket() -> None:
    plan = replace(planned_order.order(), sheets=(planned_square.sheet(),))
    assert "sheet-1" in page(plan).xpath("//h2/@id")
