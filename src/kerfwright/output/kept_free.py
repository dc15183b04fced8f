"""Areas of a sheet that are kept free, and why, in words and in its picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import rings_of
from kerfwright.nesting.model import SheetSize
from kerfwright.output import path_data
from kerfwright.output.beam_lines import GRID_MM
from kerfwright.output.part_names import LETTER_WIDTH
from kerfwright.output.record import Number, Record, rounded
from kerfwright.output.text import encodable, printable, short_number, shortened, xml_text

HATCHES = 70
"""Hatch lines over the longer side of a sheet."""

LABEL_LENGTH = 28


class KeptFreeRecord(Record):
    """An area of a sheet on which nothing lies."""

    outline: tuple[tuple[Number, Number], ...]
    """Corners [x, y] in mm, from the sheet's lower left corner."""
    why: str
    """What is there, as the order says; may be empty."""


@dataclass(frozen=True, eq=False, slots=True)
class KeptFree:
    """One area, and what is there; ``why`` may be empty."""

    area: Polygon
    why: str

    @property
    def in_words(self) -> str:
        """What is there, its size and where its lower left corner is."""
        x0, y0, x1, y1 = (short_number(value) for value in self._box)
        return f"{shortened(self.why, 60) or 'an area'}, {x1} × {y1} mm at ({x0}, {y0})"

    @property
    def _box(self) -> tuple[float, float, float, float]:
        x0, y0, x1, y1 = self.area.bounds
        return x0, y0, x1 - x0, y1 - y0


def kept_free(sheet: SheetSize) -> tuple[KeptFree, ...]:
    """Areas of a sheet that are kept free, in the order in which the order lists them."""
    whys = (*sheet.keep_out_why, *("" for _ in sheet.keep_out[len(sheet.keep_out_why) :]))
    return tuple(KeptFree(area, why) for area, why in zip(sheet.keep_out, whys, strict=True))


def kept_free_in_words(sheet: SheetSize) -> str:
    """All areas in words, such as ``clamp, 25 × 20 mm at (0, 0); knot, …``; empty for none."""
    return "; ".join(one.in_words for one in kept_free(sheet))


def kept_free_records(sheet: SheetSize) -> tuple[KeptFreeRecord, ...]:
    """Turn areas that are kept free into their records."""
    return tuple(
        KeptFreeRecord(
            outline=tuple((rounded(x), rounded(y)) for x, y in rings_of(one.area)[0]),
            why=encodable(one.why),
        )
        for one in kept_free(sheet)
    )


def kept_free_picture(sheet: SheetSize) -> str:
    """Areas as hatched paths with a title each, and a label where there is room for one."""
    return "".join(_hatched(sheet, one) for one in kept_free(sheet))


def _hatched(sheet: SheetSize, one: KeptFree) -> str:
    high_mm = sheet.height_mm
    data = path_data.rings(rings_of(one.area), high_mm, decimals=2)
    data += "".join(
        path_data.subpath(path_data.flipped(line, high_mm), closed=False, decimals=2)
        for line in _hatch(one.area, max(sheet.width_mm, high_mm) / HATCHES)
    )
    title = xml_text(f"Kept free: {printable(one.why) or 'no reason given'}")
    return (
        f"<g><title>{title}</title>"
        f'<path class="hatch" transform="scale({GRID_MM})" stroke-width="{_hair_mm(sheet):.3f}" '
        f'd="{data}"/>{_label(sheet, one)}</g>'
    )


def _hair_mm(sheet: SheetSize) -> float:
    return max(sheet.width_mm, sheet.height_mm) / 1200


def _hatch(area: BaseGeometry, step_mm: float) -> list[FloatArray]:
    """Lines at 45° over an area, on one grid for the whole sheet."""
    x0, y0, x1, y1 = area.bounds
    # lines x - y = c
    offsets = np.arange(np.ceil((x0 - y1) / step_mm), np.floor((x1 - y0) / step_mm) + 1) * step_mm
    lines = [shapely.LineString([(y0 + c, y0), (y1 + c, y1)]) for c in offsets.tolist()]
    cut = shapely.intersection(np.array(lines, dtype=object), area)
    parts = shapely.get_parts(cut)
    return [shapely.get_coordinates(line) for line in parts[shapely.length(parts) > 0.0]]


def _label(sheet: SheetSize, one: KeptFree) -> str:
    words = printable(one.why)
    words = words if len(words) <= LABEL_LENGTH else words[: LABEL_LENGTH - 1] + "…"
    if not words:
        return ""
    longer = max(sheet.width_mm, sheet.height_mm)
    x, y = shapely.get_coordinates(one.area.representative_point())[0].tolist()
    x0, _, x1, y1 = one.area.bounds
    size = min(longer / 55, 2.0 * min(x - x0, x1 - x) / (LETTER_WIDTH * len(words)), y1 - y)
    if size < longer / 110:
        return ""
    return (
        f'<text x="{x * GRID_MM:.0f}" y="{(sheet.height_mm - y) * GRID_MM:.0f}" '
        f'font-size="{size * GRID_MM:.0f}">{xml_text(words)}</text>'
    )
