"""The ticket on paper: one page a sheet, with a code that names the program. Numbers invented."""

from __future__ import annotations

import datetime
import io
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from PIL import Image

import planned_order
import worked_sheets
from kerfwright.findings import Finding, Severity
from kerfwright.output.paper import printed_picture
from kerfwright.output.pictures import sheet_picture
from kerfwright.output.ticket_pdf import code_words, ticket_pdf
from kerfwright.plan import Plan
from kerfwright.toolpath import Process

DAY = datetime.date(2026, 5, 4)


def pages(plan: Plan) -> list[str]:
    with pypdfium2.PdfDocument(ticket_pdf(plan, planned_order.files_of(plan), made=DAY)) as pdf:
        return [page.get_textpage().get_text_bounded() for page in pdf]


def test_every_sheet_has_one_page_with_what_is_needed_beside_the_machine() -> None:
    plan = planned_order.order()
    first, second = pages(plan)
    assert "sheet 1 of 2" in first
    assert "sheet 2 of 2" in second
    for text in (first, second):
        assert "Regatta" in text
        assert "Never leave a burning laser unattended" in text
        assert "IEC 60825-1" in text
        assert "Minutes it took" in text
    assert "1. engrave" in first
    assert "31 s" in first
    assert "untested: test first" in first
    assert "untested" not in second
    assert "2 × tile" in second


@pytest.mark.parametrize("words", [planned_order.HOSTILE, "long " * 40])
def test_names_do_not_break_pages(words: str) -> None:
    plan = planned_order.order(words)
    found = pages(plan)
    assert len(found) == 2
    assert all("Never leave" in text for text in found)


def test_many_parts_and_cautions_stay_on_their_page() -> None:
    plan = planned_order.order()
    sheet = plan.sheets[0]
    parts = tuple(replace(sheet.parts[0], name=f"part {i}") for i in range(60))
    cautious = sheet.material.model_copy(update={"cautions": ("Mind the glue. " * 5,) * 12})
    crowded = replace(sheet, parts=parts, material=cautious)
    (page,) = pages(replace(plan, sheets=(crowded,)))
    assert "48 more kinds" in page
    assert "8 more cautions" in page


def test_everything_that_the_recipes_ask_for_is_on_the_page() -> None:
    plan = planned_order.order()
    cut = {"cooling_mm": 5.0, "cooling_s": 8.0, "cooling_wait": True}
    full = worked_sheets.sheet("plain, everything")
    recipes = {**full.recipes}
    recipes[Process.CUT] = recipes[Process.CUT].model_copy(update=cut)
    (page,) = pages(replace(plan, sheets=(replace(full, recipes=recipes),)))
    told = " ".join(page.split())
    for said in (
        "lead-in straight 2 mm",
        "pierce 0.3 s",
        "focus 0.5 mm deeper each pass",
        "4 holding tabs 0.8 mm wide",
        "cooling 8 s within 5 mm, waiting",
        "air on",
        "Air. The recipe asks for it: cut.",
    ):
        assert said in told


def test_warnings_about_a_sheet_stand_on_its_page_and_no_other() -> None:
    plan = planned_order.order()
    hot = [
        Finding(Severity.WARN, "sequence/heat-in-one-place", f"Hot in place {k}." * 12, sheet=2)
        for k in range(3)
    ]
    first, second = pages(replace(plan, findings=(*plan.findings, *hot)))
    assert "Look. Hot in place 0." in second
    assert "2 more warnings in ticket.html" in second, "the third, and one about a drawing"
    assert "Hot" not in first
    assert "4 warnings in ticket.html" in first


def test_the_fullest_page_is_still_one() -> None:
    """Everything at once, as far as it is told: the pictures give way."""
    plan = planned_order.order()
    full = worked_sheets.sheet("laser mode, everything")
    cautious = full.material.model_copy(update={"cautions": ("Mind the glue. " * 30,) * 12})
    hot = Finding(
        Severity.WARN, "sequence/heat-in-one-place", "Hot. " * 90, x_mm=1, y_mm=1, sheet=1
    )
    parts = tuple(replace(full.parts[0], name=f"a part with a long name {i}") for i in range(60))
    crowded = replace(full, parts=parts, material=cautious)
    findings = (*plan.findings, hot, replace(hot, what="Hotter. " * 90))
    found = pages(replace(plan, sheets=(crowded,), findings=findings))
    assert len(found) == 1
    assert "Minutes it took" in found[0]


def test_the_code_names_the_program_and_its_fingerprint() -> None:
    plan = planned_order.order()
    files = replace(planned_order.files_of(plan)[0], program_sha256="ab" * 32)
    words = code_words(plan, plan.sheets[0], files)
    assert words.splitlines() == [
        "Regatta",
        "plan.json, sheet 1",
        files.program,
        "sha256 " + "ab" * 32,
    ]


def test_the_same_plan_prints_the_same_paper() -> None:
    plan = planned_order.order()
    files = planned_order.files_of(plan)
    assert ticket_pdf(plan, files, made=DAY) == ticket_pdf(plan, files, made=DAY)


def test_pictures_print_light_with_dark_lines() -> None:
    png = printed_picture(sheet_picture(planned_order.first_sheet()), 400)
    grey = np.asarray(Image.open(io.BytesIO(png)).convert("L"))
    assert np.median(grey) > 230
    assert grey.min() < 100
