"""The job ticket on paper: one page for each sheet, to lie beside the machine."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence

import segno

from kerfwright.findings import Severity, number_of
from kerfwright.output.expected_times import duration_range, rough_duration
from kerfwright.output.files import PLAN_FILE, SheetFiles
from kerfwright.output.paper import RULE, SOFT, Paper, printed_picture
from kerfwright.output.pictures import beam_picture, sheet_picture
from kerfwright.output.text import duration, encodable, length, short_number, shortened
from kerfwright.output.ticket import (
    LEAST_TOLD_S,
    cautions_of,
    order_of_work,
    part_counts,
    travel_between_s,
)
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.shop.material import RecipeStatus

MARGIN_MM = 14.0
WIDTH_MM = 210.0 - 2.0 * MARGIN_MM
PICTURE_MM = (WIDTH_MM / 2.0 - 2.0, 74.0)
"""Room for each of the two pictures."""

PICTURE_PX = 1100
PARTS_TOLD = 12
"""Kinds of parts that are listed; a page has no room for more."""

CAUTIONS_TOLD = 4
QR_MM = 24.0
TICK_MM = 3.2


def ticket_pdf(
    plan: Plan, files: Sequence[SheetFiles], *, made: datetime.date | None = None
) -> bytes:
    """Return the ticket as PDF, one A4 page a sheet; ``files`` has one entry for each sheet.

    Raises:
        ValueError: the numbers of sheets and files differ.
    """
    day = f", {made.isoformat()}" if made else ""
    pdf = Paper(
        plan.title,
        f"{shortened(plan.title, 60)}{day} · {shortened(plan.machine.name, 40)}",
        margin_mm=MARGIN_MM,
    )
    # the papers of the same plan are the same, whenever they are printed
    pdf.set_creation_date(datetime.datetime.combine(made or datetime.date(2000, 1, 1), NOON))
    for sheet, names in zip(plan.sheets, files, strict=True):
        pdf.add_page()
        _head(pdf, plan, sheet, names)
        _pictures(pdf, plan, sheet)
        _settings(pdf, sheet)
        _work(pdf, sheet)
        _parts(pdf, sheet)
        _ticks(pdf, plan, sheet)
    return bytes(pdf.output())


NOON = datetime.time(12, tzinfo=datetime.UTC)


def _head(pdf: Paper, plan: Plan, sheet: PlannedSheet, files: SheetFiles) -> None:
    top = pdf.get_y()
    _code(pdf, plan, sheet, files)
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


def _pictures(pdf: Paper, plan: Plan, sheet: PlannedSheet) -> None:
    top = pdf.get_y()
    wide, high = PICTURE_MM
    aspect = sheet.sheet.height_mm / sheet.sheet.width_mm
    wide = min(wide, high / aspect)
    pictures = (sheet_picture(sheet), beam_picture(sheet, machine=plan.machine))
    for i, (picture, words) in enumerate(
        zip(pictures, ("Layout", "Beam: early light, late dark"), strict=True)
    ):
        x = MARGIN_MM + i * (WIDTH_MM / 2.0 + 2.0)
        pdf.image(io.BytesIO(printed_picture(picture, PICTURE_PX)), x=x, y=top, w=wide)
        pdf.set_xy(x, top + wide * aspect + 0.5)
        pdf.say(words, soft=True, size=8)
    pdf.set_xy(MARGIN_MM, top + wide * aspect + 5.5)


def _settings(pdf: Paper, sheet: PlannedSheet) -> None:
    rows = []
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


def _ticks(pdf: Paper, plan: Plan, sheet: PlannedSheet) -> None:
    cautions = sheet.material.cautions
    for caution in cautions[:CAUTIONS_TOLD]:
        pdf.say(f"Caution. {shortened(caution, 220)}", style="B", size=8.5)
    if len(cautions) > CAUTIONS_TOLD:
        more = number_of(len(cautions) - CAUTIONS_TOLD, "more caution")
        pdf.say(f"{more} in ticket.html: read before the beam goes on.", style="B", size=8.5)
    warnings = [f for f in plan.findings if f.severity is Severity.WARN]
    if warnings:
        told = number_of(len(warnings), "warning")
        pdf.say(f"{told} in ticket.html: read before the beam goes on.", style="B", size=8.5)
    pdf.ln(1)
    for what, why in cautions_of([sheet]):
        _tick(pdf, f"{what} {why}")
    pdf.say(
        "The machine’s manual, IEC 60825-1 (in the United States also ANSI Z136.1), local codes "
        "and the person responsible for laser safety come before anything on this page.",
        soft=True,
        size=8,
    )
    pdf.ln(2)
    for label, width_mm in (("Minutes it took", 22), ("Scrapped", 14), ("Done by", 40)):
        pdf.cell(pdf.get_string_width(label) + 2, 5, label)
        x, y = pdf.get_x(), pdf.get_y() + 4.6
        pdf.set_draw_color(*SOFT)
        pdf.line(x, y, x + width_mm, y)
        pdf.set_draw_color(*RULE)
        pdf.set_x(x + width_mm + 5)


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
