"""Sheets of a plan for the pages: outlines of everything, where it lies and where it comes from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import numpy as np
import shapely
from pydantic import BaseModel
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import rings_of
from kerfwright.output.leftovers import is_worth_keeping
from kerfwright.output.whole_file import whole_file
from kerfwright.parts.model import Part
from kerfwright.plan import Laid, Plan, PlannedSheet
from kerfwright.shop.files import Shop
from kerfwright.shop.order import StockSheet
from kerfwright.toolpath import Process
from kerfwright.ways import distances_mm

PAGES_FOLDER = "pages"

SHEETS_FILE = "sheets.json"

COARSER_MM = 0.01
"""Outlines on the pages stray so far from the planned ones at most."""

MARK_COARSER_MM = 0.05
"""The same for marks, which are only looked at."""

Ring = list[tuple[float, float]]


class KeptFree(BaseModel):
    """An area that no part may lie on, and what is there."""

    ring: Ring
    why: str
    stock: int | None
    """Which [[stock]] block of the order it stands in, from 0; null where in none."""
    number: int
    """Which of that block's areas, from 0."""


class PartOnSheet(BaseModel):
    """A part where it lies; corners in mm from the sheet's lower left corner."""

    name: str
    instance: int
    item: int | None
    part: int | None
    turn_deg: float
    mirrored: bool
    pinned: bool
    blank: bool
    rings: list[Ring]
    """Outline, then holes."""
    marks: list[Ring]
    """Lines that are scored, and edges of what is engraved."""


class LeftOver(BaseModel):
    """What is left of a sheet."""

    rings: list[Ring]
    worth_keeping: bool
    rectangle: tuple[float, float, float, float] | None
    """Smallest x and y, largest x and y of the largest rectangle in it."""


class PocketOnSheet(BaseModel):
    """A pocket of a fixture that lies there instead of a sheet."""

    number: int
    ring: Ring
    filled: bool
    """Whether a blank lies in it."""
    in_use: bool


class SheetOnPage(BaseModel):
    """A sheet and everything on it; lengths in mm."""

    number: int
    material: str
    name: str
    stock: int | None
    """Which [[stock]] block of the order it comes from, from 0."""
    width_mm: float
    height_mm: float
    margin_mm: float
    spacing_mm: float
    outline: list[Ring]
    kept_free: list[KeptFree]
    left: LeftOver | None
    used_fraction: float
    offcut: bool
    parts: list[PartOnSheet]
    pockets: list[PocketOnSheet] = []
    """Those of the fixture; none where it is a sheet."""
    same_as: int | None = None
    """The first sheet with the same program, where it is a load of a fixture like an earlier."""


class SheetsOnPages(BaseModel):
    """All sheets of a plan."""

    schema_version: Literal[1] = 1
    sheets: list[SheetOnPage]


def write_sheets(shop: Shop, plan: Plan, folder: Path) -> None:
    """Write the sheets of a plan into its folder."""
    seen: Counter[str] = Counter()
    same = _same_loads(plan)
    sheets = [
        _sheet(shop, plan, sheet, seen).model_copy(update={"same_as": same.get(sheet.number)})
        for sheet in plan.sheets
    ]
    (folder / PAGES_FOLDER).mkdir(exist_ok=True)
    with whole_file(folder / PAGES_FOLDER / SHEETS_FILE) as file:
        file.write_text(SheetsOnPages(sheets=sheets).model_dump_json(), encoding="utf-8")


def _same_loads(plan: Plan) -> dict[int, int]:
    """Loads of fixtures whose programs move and burn as that of an earlier load, and which."""
    first: dict[tuple[str, str, bytes], int] = {}
    same: dict[int, int] = {}
    for sheet in plan.sheets:
        if not sheet.sheet.pockets:
            continue
        moves = sheet.toolpath.moves.tobytes()
        number = first.setdefault((sheet.material.name, sheet.sheet.name, moves), sheet.number)
        if number != sheet.number:
            same[sheet.number] = number
    return same


def _sheet(shop: Shop, plan: Plan, sheet: PlannedSheet, seen: Counter[str]) -> SheetOnPage:
    cut = sheet.recipes.get(Process.CUT)
    kerf_mm = (cut.kerf_mm or 0.0) if cut else 0.0
    margin_mm, spacing_mm = distances_mm(shop.order.settings, kerf_mm, cut=cut is not None)
    stock = _stock_of(shop, sheet)
    left = sheet.left
    laid: tuple[Laid | None, ...] = sheet.laid or (None,) * len(sheet.parts)
    return SheetOnPage(
        number=sheet.number,
        material=sheet.material.name,
        name=sheet.sheet.name,
        stock=stock,
        width_mm=sheet.sheet.width_mm,
        height_mm=sheet.sheet.height_mm,
        margin_mm=margin_mm,
        spacing_mm=spacing_mm,
        outline=_rings(sheet.sheet.material),
        kept_free=_kept_free(sheet, stock, shop.order.stock),
        left=None
        if left is None
        else LeftOver(
            rings=_rings(left.offcut),
            worth_keeping=is_worth_keeping(left, plan.offcut_least_mm),
            rectangle=None if left.rectangle.is_empty else left.rectangle.bounds,
        ),
        used_fraction=sheet.used_fraction,
        offcut=sheet.sheet.offcut,
        parts=[_part(part, origin, seen) for part, origin in zip(sheet.parts, laid, strict=True)],
        pockets=_pockets(shop, sheet),
    )


def _pockets(shop: Shop, sheet: PlannedSheet) -> list[PocketOnSheet]:
    pockets = sheet.sheet.pockets
    if not pockets:
        return []
    filled = shapely.union_all([part.polygon for part in sheet.parts])
    out_of_use = shop.fixture(sheet.sheet.name).out_of_use
    return [
        PocketOnSheet(
            number=number,
            ring=_rings(pocket)[0],
            filled=filled.intersects(pocket.representative_point()),
            in_use=number not in out_of_use,
        )
        for number, pocket in enumerate(pockets, 1)
    ]


def _stock_of(shop: Shop, sheet: PlannedSheet) -> int | None:
    """The block of the order that a sheet is from; those from the records come behind."""
    own = shop.order.stock[: len(shop.order.stock) - len(shop.from_stock.sheets)]
    wanted = (sheet.material.name, sheet.sheet.name)
    return next((n for n, one in enumerate(own) if (one.material, one.name) == wanted), None)


def _kept_free(
    sheet: PlannedSheet, stock: int | None, blocks: Sequence[StockSheet]
) -> list[KeptFree]:
    wanted = (sheet.material.name, sheet.sheet.name)
    block = next((one for one in blocks if (one.material, one.name) == wanted), None)
    if block is None:
        return []
    return [
        KeptFree(ring=list(zone.ring), why=zone.why or "", stock=stock, number=number)
        for number, zone in enumerate(block.keep_out)
        if zone.ring is not None
    ]


def _part(part: Part, origin: Laid | None, seen: Counter[str]) -> PartOnSheet:
    seen[part.name] += 1
    lines = [path.points for mark in part.scores for path in mark.paths]
    lines += [ring for mark in part.engraves for ring in closed_rings(mark.area)]
    return PartOnSheet(
        name=part.name,
        instance=seen[part.name],
        item=None if origin is None else origin.item,
        part=None if origin is None else origin.part,
        turn_deg=0.0 if origin is None else origin.turn_deg,
        mirrored=origin is not None and origin.mirrored,
        pinned=origin is not None and origin.pinned,
        blank=part.blank,
        rings=_rings(part.polygon),
        marks=[_line(line) for line in lines if len(line) > 1],
    )


def closed_rings(area: BaseGeometry) -> list[FloatArray]:
    """Rings of an area, each ending on its first point."""
    return [np.vstack([ring, ring[:1]]) for ring in rings_of(area)]


def _rings(area: BaseGeometry) -> list[Ring]:
    return [_rounded(ring) for ring in rings_of(area.simplify(COARSER_MM))]


def _line(points: FloatArray) -> Ring:
    return _rounded(shapely.get_coordinates(LineString(points).simplify(MARK_COARSER_MM)))


def _rounded(points: FloatArray) -> Ring:
    return [(round(float(x), 3), round(float(y), 3)) for x, y in points]
