"""The job ticket on paper: one page for each sheet, to lie beside the machine."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence

import numpy as np
import segno

from kerfwright.findings import Severity, number_of
from kerfwright.output.checklist import AUTHORITY, checks_of_sheet
from kerfwright.output.expected_times import duration_range, rough_duration
from kerfwright.output.files import PLAN_FILE, SheetFiles
from kerfwright.output.kept_free import kept_free_in_words
from kerfwright.output.paper import RULE, SOFT, Paper
from kerfwright.output.recipe_words import further_settings
from kerfwright.output.sheet_papers import SheetPapers, papers_of_plan
from kerfwright.output.text import duration, encodable, length, short_number, shortened
from kerfwright.output.ticket import (
    LEAST_TOLD_S,
    order_of_work,
    part_counts,
    travel_between_s,
)
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.shop.material import RecipeStatus

MARGIN_MM = 14.0
WIDTH_MM = 210.0 - 2.0 * MARGIN_MM
PICTURE_WIDE_MM = WIDTH_MM / 2.0 - 2.0
PICTURES_HIGH_MM = (24.0, 74.0)
"""Room for each of the two pictures: its width, and the least and the most height."""

CAPTION_MM = 5.5
PAGE_MM = 297.0
FOOT_MM = 17.0
"""Height of the page, and of what stays free at its foot."""

PARTS_TOLD = 12
"""Kinds of parts that are listed; a page has no room for more."""

CAUTIONS_TOLD = 4
WARNINGS_TOLD = 2
"""Of a sheet's own warnings."""
KEPT_FREE_TOLD = 240
"""Characters about areas that are kept free; ticket.html has them all."""

QR_MM = 24.0
TICK_MM = 3.2


def ticket_pdf(
    plan: Plan,
    files: Sequence[SheetFiles],
    *,
    made: datetime.date | None = None,
    papers: Sequence[SheetPapers] | None = None,
) -> bytes:
    """Return the ticket as PDF, one A4 page a sheet.

    ``files`` has one entry for each sheet, ``papers`` too if they are made already.

    Raises:
        ValueError: the numbers of sheets and files differ.
    """
    trial = _paper(plan, made)
    pdf = _paper(plan, made, lettered_like=trial)
    trial.set_auto_page_break(auto=False)
    all_shown = papers or papers_of_plan(plan)
    for sheet, names, shown in zip(plan.sheets, files, all_shown, strict=True):
        # the words first come on trial: the pictures have what room is left on the page
        trial.add_page()
        _head(trial, plan, sheet, names)
        _below(trial, plan, sheet)
        room_mm = PAGE_MM - FOOT_MM - CAPTION_MM - trial.get_y()
        pdf.add_page()
        _code(pdf, plan, sheet, names)
        _head(pdf, plan, sheet, names)
        _pictures(pdf, sheet, shown, float(np.clip(room_mm, *PICTURES_HIGH_MM)))
        _below(pdf, plan, sheet)
    return bytes(pdf.output())


def _paper(plan: Plan, made: datetime.date | None, lettered_like: Paper | None = None) -> Paper:
    day = f", {made.isoformat()}" if made else ""
    pdf = Paper(
        plan.title,
        f"{shortened(plan.title, 60)}{day} · {shortened(plan.machine.name, 40)}",
        margin_mm=MARGIN_MM,
        lettered_like=lettered_like,
    )
    # the papers of the same plan are the same, whenever they are printed
    pdf.set_creation_date(datetime.datetime.combine(made or datetime.date(2000, 1, 1), NOON))
    return pdf


def _below(pdf: Paper, plan: Plan, sheet: PlannedSheet) -> None:
    """Everything that stands below the pictures."""
    _settings(pdf, sheet)
    _work(pdf, sheet)
    _parts(pdf, sheet)
    _cautions(pdf, plan, sheet)
    _ticks(pdf, plan, sheet)
    _to_fill_in(pdf)


NOON = datetime.time(12, tzinfo=datetime.UTC)


def _head(pdf: Paper, plan: Plan, sheet: PlannedSheet, files: SheetFiles) -> None:
    """The words beside the code."""
    top = pdf.get_y()
    text_mm = WIDTH_MM - QR_MM - 4.0
    pdf.say(f"Job ticket · sheet {sheet.number} of {len(plan.sheets)}", soft=True, width_mm=text_mm)
    pdf.say(shortened(plan.title, 90), style="B", size=15, width_mm=text_mm)
    size = " × ".join(
        short_number(side)
        for side in (sheet.sheet.width_mm, sheet.sheet.height_mm, sheet.material.thickness_mm)
    )
    pdf.say(
        f"{shortened(sheet.material.name, 60)}: lay in {shortened(sheet.sheet.name, 40)}, "
        f"{size} mm, its lower left corner at the program’s zero.",
        width_mm=text_mm,
    )
    if kept := kept_free_in_words(sheet.sheet):
        pdf.say(f"Kept free: {shortened(kept, KEPT_FREE_TOLD)}.", width_mm=text_mm)
    parts = number_of(len(sheet.parts), "part")
    pdf.say(
        f"Program {shortened(files.program or 'none', 90)} · {_time(sheet)} · {parts} · "
        f"{sheet.used_fraction:.0%} used",
        style="B",
        width_mm=text_mm,
    )
    if plan.invented:
        pdf.say(
            "Invented settings: examples of no real shop. Test everything on an offcut first.",
            style="B",
            width_mm=text_mm,
        )
    pdf.set_y(max(pdf.get_y(), top + QR_MM) + 2.0)


def _time(sheet: PlannedSheet) -> str:
    expected = sheet.expected
    if expected is None:
        return duration(sheet.times.total_s)
    times = duration_range(expected.low_s, expected.high_s)
    return f"{rough_duration(expected.total_s)} ({times})"


def code_words(plan: Plan, sheet: PlannedSheet, files: SheetFiles) -> str:
    """What the code says: which sheet of which plan, and the fingerprint of its program."""
    proof = f"\nsha256 {files.program_sha256}" if files.program_sha256 else ""
    place = f"{PLAN_FILE}, sheet {sheet.number}"
    return encodable(f"{shortened(plan.title, 60)}\n{place}\n{files.program or ''}{proof}")


def _code(pdf: Paper, plan: Plan, sheet: PlannedSheet, files: SheetFiles) -> None:
    picture = io.BytesIO()
    segno.make(code_words(plan, sheet, files), micro=False).save(
        picture, kind="png", scale=6, border=1
    )
    pdf.image(picture, x=210.0 - MARGIN_MM - QR_MM, y=pdf.get_y(), w=QR_MM)


def _pictures(pdf: Paper, sheet: PlannedSheet, shown: SheetPapers, high_mm: float) -> None:
    top = pdf.get_y()
    aspect = sheet.sheet.height_mm / sheet.sheet.width_mm
    wide = min(PICTURE_WIDE_MM, high_mm / aspect)
    for i, (picture, words) in enumerate(
        zip(shown.printed, ("Layout", "Beam: early light, late dark"), strict=True)
    ):
        x = MARGIN_MM + i * (WIDTH_MM / 2.0 + 2.0)
        pdf.image(io.BytesIO(picture), x=x, y=top, w=wide)
        pdf.set_xy(x, top + wide * aspect + 0.5)
        pdf.say(words, soft=True, size=8)
    pdf.set_xy(MARGIN_MM, top + wide * aspect + CAPTION_MM)


def _settings(pdf: Paper, sheet: PlannedSheet) -> None:
    rows: list[list[str] | str] = []
    for process, recipe in sheet.recipes.items():
        widths = (recipe.kerf_mm, recipe.interval_mm)
        rows.append(
            [
                process.value,
                short_number(recipe.speed_mm_s),
                short_number(recipe.power * 100),
                str(recipe.passes),
                *("–" if width is None else short_number(width, 3) for width in widths),
                recipe.status.value
                + (": test first" if recipe.status is RecipeStatus.UNTESTED else ""),
            ]
        )
        if further := further_settings(sheet, process):
            rows.append(f"{process.value}: {', '.join(further)}")
    header = ("Settings", "mm/s", "Power %", "Passes", "Kerf mm", "Interval mm", "Status")
    pdf.rows(header, rows, (26, 20, 20, 18, 24, 28, 46), "LRRRRRR")
    pdf.ln(1.5)


def _work(pdf: Paper, sheet: PlannedSheet) -> None:
    rows = [
        [
            f"{number}. {step.process.value}",
            "–" if step.length_mm is None else length(step.length_mm),
            "–" if step.time_s is None else duration(step.time_s),
        ]
        for number, step in enumerate(order_of_work(sheet), 1)
    ]
    if (between_s := travel_between_s(sheet)) >= LEAST_TOLD_S:
        rows.append(["travel between burns", "–", duration(between_s)])
    pdf.rows(("Order of work", "Burned", "Time"), rows, (90, 46, 46), "LRR")
    pdf.ln(1.5)


def _parts(pdf: Paper, sheet: PlannedSheet) -> None:
    counts = [f"{count} × {shortened(name, 40)}" for (name, _, _), count in part_counts(sheet)]
    more = len(counts) - PARTS_TOLD
    told = ", ".join(counts[:PARTS_TOLD])
    pdf.say(
        f"Parts: {told}{f' and {more} more kinds, see ticket.html' if more > 0 else ''}.", size=9
    )
    pdf.ln(1.5)


def _cautions(pdf: Paper, plan: Plan, sheet: PlannedSheet) -> None:
    """What the material asks for, and what was found on this very sheet."""
    cautions = sheet.material.cautions
    for caution in cautions[:CAUTIONS_TOLD]:
        pdf.say(f"Caution. {shortened(caution, 220)}", style="B", size=8.5)
    if len(cautions) > CAUTIONS_TOLD:
        more = number_of(len(cautions) - CAUTIONS_TOLD, "more caution")
        pdf.say(f"{more} in ticket.html: read before the beam goes on.", style="B", size=8.5)
    warnings = [f for f in plan.findings if f.severity is Severity.WARN]
    here = [f for f in warnings if f.sheet == sheet.number][:WARNINGS_TOLD]
    for finding in here:
        pdf.say(f"Look. {shortened(finding.what, 320)} {finding.where}", style="B", size=8.5)
    if len(warnings) > len(here):
        told = number_of(len(warnings) - len(here), "more warning" if here else "warning")
        pdf.say(f"{told} in ticket.html: read before the beam goes on.", style="B", size=8.5)
    pdf.ln(1)


def _ticks(pdf: Paper, plan: Plan, sheet: PlannedSheet) -> None:
    for check in checks_of_sheet(sheet, plan.machine):
        _tick(pdf, f"{check.what} {check.why}")
    pdf.say(AUTHORITY, soft=True, size=8)
    pdf.ln(2)


def _to_fill_in(pdf: Paper) -> None:
    for label, width_mm in (("Minutes it took", 22), ("Scrapped", 14), ("Done by", 40)):
        pdf.cell(pdf.get_string_width(label) + 2, 5, label)
        x, y = pdf.get_x(), pdf.get_y() + 4.6
        pdf.set_draw_color(*SOFT)
        pdf.line(x, y, x + width_mm, y)
        pdf.set_draw_color(*RULE)
        pdf.set_x(x + width_mm + 5)
    pdf.ln(5)


def _tick(pdf: Paper, words: str) -> None:
    x, y = pdf.get_x(), pdf.get_y()
    pdf.set_draw_color(*SOFT)
    pdf.rect(x, y + 0.4, TICK_MM, TICK_MM)
    pdf.set_draw_color(*RULE)
    pdf.set_x(x + TICK_MM + 2.0)
    pdf.set_font_size(8.5)
    pdf.multi_cell(0, 3.9, words, align="L", new_x="LMARGIN", new_y="NEXT")
    pdf.set_font_size(10)
    pdf.ln(0.6)
