"""Labels to stick on offcuts: what a piece is, how large, and where it stands in the stock."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass

import segno
from shapely import Polygon
from shapely.affinity import translate

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import rings_of
from kerfwright.output.leftovers import is_worth_keeping
from kerfwright.output.paper import FONT, RULE, SOFT, Paper
from kerfwright.output.text import encodable, printable, short_number, shortened
from kerfwright.plan import Plan
from kerfwright.shop.stock_lots import StockedLot

WIDE_MM, HIGH_MM = 90.0, 50.0
COLUMNS, ROWS = 2, 5
PAD_MM = 3.5
QR_MM = 17.0
PICTURE_MM = (34.0, 23.0)
TEXT_MM = WIDE_MM - PICTURE_MM[0] - 3.0 * PAD_MM
MARK_MM = 4.0
"""Length of a cut mark at the page's edge; where labels meet, half of it every way."""

MARK_OFF_MM = 1.5
"""Cut marks keep so far from the labels."""

ROUNDING_MM = 0.01
"""Sizes are rounded down, so that nobody cuts more from a piece than there is."""

NOON = datetime.time(12, tzinfo=datetime.UTC)

COARSER = 500.0
"""Outlines are simplified by their longer side over this: nobody sees it on a label."""


@dataclass(frozen=True, eq=False, slots=True)
class OffcutLabel:
    """What stands on a label. Without ``label`` there is a line to write it on.

    ``outline`` is the piece in any coordinates, in mm; ``came_from`` says what it was left of.
    """

    label: str
    material: str
    outline: Polygon
    day: datetime.date | None
    code: str
    thickness_mm: float | None = None
    location: str = ""
    came_from: str = ""

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the smallest upright rectangle round it."""
        x_low, y_low, x_high, y_high = self.outline.bounds
        return x_high - x_low, y_high - y_low


def label_of_lot(one: StockedLot) -> OffcutLabel:
    """The label of a piece, or of sheets that are alike, in the stock on record."""
    lot = one.lot
    return OffcutLabel(
        label=one.label,
        material=lot.material,
        outline=lot.area,
        day=lot.received_on,
        code=encodable(f"{one.label}\n{shortened(lot.material, 60)}"),
        location=lot.location,
        came_from=f"cut from {one.cut_from}" if one.cut_from else "",
    )


def labels_of_plan(plan: Plan, made: datetime.date | None) -> tuple[OffcutLabel, ...]:
    """Labels for what a plan will leave over and is worth keeping.

    Their place in the stock is known only when the run is recorded: a line is left for it.
    """
    labels = []
    for sheet in plan.sheets:
        left = sheet.left
        if left is None or left.offcut.is_empty or not is_worth_keeping(left, plan.offcut_least_mm):
            continue
        words = f"{shortened(plan.title, 60)}, sheet {sheet.number}"
        labels.append(
            OffcutLabel(
                label="",
                material=sheet.material.name,
                outline=left.offcut,
                day=made,
                code=encodable(f"{words}\n{shortened(sheet.material.name, 60)}"),
                thickness_mm=sheet.material.thickness_mm,
                location=plan.from_stock.location(sheet.sheet.name) or "",
                came_from=f"left of {shortened(f'{sheet.sheet.name}, {words}', 70)}",
            )
        )
    return tuple(labels)


def labels_pdf(labels: Sequence[OffcutLabel], *, small_pages: bool = False) -> bytes:
    """Return labels of 90 × 50 mm as PDF: ten on an A4 page with cut marks, or a page each."""
    pdf = _LabelPaper(small_pages=small_pages)
    days = [one.day for one in labels if one.day is not None]
    day = max(days, default=datetime.date(2000, 1, 1))
    # the labels of the same pieces are the same, whenever they are printed
    pdf.set_creation_date(datetime.datetime.combine(day, NOON))
    a_page = 1 if small_pages else COLUMNS * ROWS
    for number, one in enumerate(labels):
        row, column = divmod(number % a_page, COLUMNS)
        if number % a_page == 0:
            pdf.add_page()
            if not small_pages:
                _cut_marks(pdf)
        x, y = (0.0, 0.0) if small_pages else _corner(row, column)
        _draw(pdf, one, x, y)
    return bytes(pdf.output())


class _LabelPaper(Paper):
    """Pages without a foot: A4, or of one label's size."""

    def __init__(self, *, small_pages: bool) -> None:
        size = (WIDE_MM, HIGH_MM) if small_pages else "A4"
        super().__init__("Labels", "", margin_mm=PAD_MM, size=size)
        self.set_auto_page_break(auto=False)

    def footer(self) -> None:
        """Nothing: a label has no room for it."""


def _corner(row: int, column: int) -> tuple[float, float]:
    left, top = (210.0 - COLUMNS * WIDE_MM) / 2.0, (297.0 - ROWS * HIGH_MM) / 2.0
    return left + column * WIDE_MM, top + row * HIGH_MM


def _cut_marks(pdf: Paper) -> None:
    """Short lines beyond the labels' edges and crosses where four meet: no line on a label."""
    pdf.set_draw_color(*SOFT)
    pdf.set_line_width(0.15)
    left, top = _corner(0, 0)
    right, foot = _corner(ROWS, COLUMNS)
    xs = [_corner(0, column)[0] for column in range(COLUMNS + 1)]
    ys = [_corner(row, 0)[1] for row in range(ROWS + 1)]
    for x in xs:
        pdf.line(x, top - MARK_OFF_MM - MARK_MM, x, top - MARK_OFF_MM)
        pdf.line(x, foot + MARK_OFF_MM, x, foot + MARK_OFF_MM + MARK_MM)
    for y in ys:
        pdf.line(left - MARK_OFF_MM - MARK_MM, y, left - MARK_OFF_MM, y)
        pdf.line(right + MARK_OFF_MM, y, right + MARK_OFF_MM + MARK_MM, y)
    half = MARK_MM / 4.0
    for x in xs[1:-1]:
        for y in ys[1:-1]:
            pdf.line(x - half, y, x + half, y)
            pdf.line(x, y - half, x, y + half)
    pdf.set_draw_color(*RULE)
    pdf.set_line_width(0.2)


def _draw(pdf: Paper, one: OffcutLabel, x: float, y: float) -> None:
    right = x + WIDE_MM - PAD_MM
    picture = io.BytesIO()
    segno.make(one.code, micro=False).save(picture, kind="png", scale=6, border=1)
    pdf.image(picture, x=right - QR_MM, y=y + PAD_MM, w=QR_MM)
    _outline(pdf, one.outline, right - PICTURE_MM[0], y + HIGH_MM - PAD_MM - PICTURE_MM[1])
    pdf.set_xy(x + PAD_MM, y + PAD_MM)
    if one.label:
        _line(pdf, one.label, size=_size_that_fits(pdf, one.label), bold=True)
    else:
        _line_to_write_on(pdf)
    size = " × ".join(short_number(int(side + ROUNDING_MM)) for side in one.size_mm)
    thick = "" if one.thickness_mm is None else f" × {short_number(one.thickness_mm)}"
    _line(pdf, f"{size}{thick} mm", size=13, bold=True)
    _line(pdf, shortened(one.material, 54), size=9.5)
    if one.location:
        _line(pdf, f"Place: {shortened(one.location, 40)}", size=8.5)
    for words in (one.day.isoformat() if one.day else "", one.came_from):
        if words:
            _line(pdf, words, size=7.5, soft=True)


def _line(pdf: Paper, words: str, *, size: float, bold: bool = False, soft: bool = False) -> None:
    x = pdf.get_x()
    pdf.set_font(FONT, "B" if bold else "", size)
    pdf.set_text_color(*(SOFT if soft else (0, 0, 0)))
    pdf.multi_cell(TEXT_MM, size * 0.42, printable(words), align="L", new_x="LEFT", new_y="NEXT")
    pdf.set_xy(x, pdf.get_y() + 0.6)
    pdf.set_text_color(0)


def _size_that_fits(pdf: Paper, words: str) -> float:
    pdf.set_font(FONT, "B", 24)
    return float(min(24.0, 24.0 * TEXT_MM * 0.94 / pdf.get_string_width(words)))


def _line_to_write_on(pdf: Paper) -> None:
    x, y = pdf.get_x(), pdf.get_y()
    pdf.set_font(FONT, "", 7.5)
    pdf.set_text_color(*SOFT)
    pdf.cell(TEXT_MM, 3.2, "Label in stock")
    pdf.set_text_color(0)
    pdf.set_draw_color(*SOFT)
    pdf.line(x, y + 11.0, x + TEXT_MM - 4.0, y + 11.0)
    pdf.set_draw_color(*RULE)
    pdf.set_xy(x, y + 12.5)


def _outline(pdf: Paper, outline: Polygon, x: float, y: float) -> None:
    """The piece as it lies, to scale, in the middle of its place."""
    x_low, y_low, x_high, y_high = outline.bounds
    wide, high = x_high - x_low, y_high - y_low
    scale = min(PICTURE_MM[0] / wide, PICTURE_MM[1] / high)
    piece = translate(outline, -x_low, -y_low).simplify(max(wide, high) / COARSER)
    left = x + (PICTURE_MM[0] - scale * wide) / 2.0
    foot = y + (PICTURE_MM[1] + scale * high) / 2.0

    def laid(ring: FloatArray) -> list[tuple[float, float]]:
        return [(left + scale * px, foot - scale * py) for px, py in ring.tolist()]

    pdf.set_draw_color(0)
    pdf.set_line_width(0.25)
    for ring in rings_of(piece):
        pdf.polygon(laid(ring), style="D")
    pdf.set_line_width(0.2)
    pdf.set_draw_color(*RULE)
