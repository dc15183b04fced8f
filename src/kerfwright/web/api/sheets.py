"""Sheets of the order's plan: what lies where, and whether parts may lie elsewhere."""

from __future__ import annotations

from typing import Annotated

import numpy as np
import shapely
from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from shapely import Polygon
from shapely.affinity import rotate, translate

from kerfwright.errors import KerfwrightError
from kerfwright.nesting.model import SheetSize
from kerfwright.web.api.orders import ThisOrder
from kerfwright.web.sheet_files import PAGES_FOLDER, SHEETS_FILE, SheetOnPage, SheetsOnPages
from kerfwright.web.workshop import OrderFolder

router = APIRouter(tags=["sheets"])

SLACK_MM = 0.03
"""Outlines on the pages are coarsened: nearer by so much is not yet called too near."""

Finite = Annotated[float, Field(ge=-1e5, le=1e5)]


class Moved(BaseModel):
    """A part moved by hand: where the lower left corner of its box comes to lie."""

    model_config = ConfigDict(extra="forbid")

    part: Annotated[int, Field(ge=0, le=1_000_000)]
    """Which of the sheet's parts, from 0."""
    x_mm: Finite
    y_mm: Finite
    turned_deg: Annotated[float, Field(ge=-360.0, le=360.0)] = 0.0
    """How far it is turned from how it lies in the plan, to the left."""


class Moves(BaseModel):
    """Parts of one sheet moved by hand."""

    model_config = ConfigDict(extra="forbid")

    moved: Annotated[list[Moved], Field(max_length=1000)]


class Trouble(BaseModel):
    """Why a part may not lie there."""

    part: int
    words: str


@router.get("/orders/{slug}/sheets")
def list_sheets(order: ThisOrder) -> SheetsOnPages:
    """Sheets of the plan with all outlines; none before the order is planned."""
    try:
        text = (order.plan_folder / PAGES_FOLDER / SHEETS_FILE).read_text(encoding="utf-8")
        return SheetsOnPages.model_validate_json(text)
    except (OSError, ValidationError):
        return SheetsOnPages(sheets=[])


@router.post("/orders/{slug}/sheets/{number}/check")
def check_moves(
    order: ThisOrder, number: Annotated[int, Field(ge=1, le=100_000)], moves: Moves
) -> list[Trouble]:
    """Whether parts may lie where they were moved: inside the sheet, and apart from all others.

    The plan that follows checks everything exactly.
    """
    sheet = _sheet_of(order, number)
    outlines = [Polygon(part.rings[0], part.rings[1:]) for part in sheet.parts]
    moved = {one.part: one for one in moves.moved if one.part < len(outlines)}
    for one in moved.values():
        turned = rotate(outlines[one.part], one.turned_deg, origin=(0.0, 0.0))
        x_mm, y_mm = turned.bounds[:2]
        outlines[one.part] = translate(turned, one.x_mm - x_mm, one.y_mm - y_mm)
    room = _size(sheet).usable(sheet.margin_mm, sheet.spacing_mm).buffer(SLACK_MM)
    troubles = []
    tree = shapely.STRtree(outlines)
    for n in moved:
        if not room.covers(outlines[n]):
            words = "it passes the sheet's margin, or lies on an area kept free"
            troubles.append(Trouble(part=n, words=words))
        near = tree.query(outlines[n], predicate="dwithin", distance=sheet.spacing_mm - SLACK_MM)
        troubles += [
            Trouble(part=n, words=f"it is too near to {sheet.parts[other].name}")
            for other in np.sort(near)
            if other != n and outlines[n].distance(outlines[other]) < sheet.spacing_mm - SLACK_MM
        ]
    return troubles


def _size(sheet: SheetOnPage) -> SheetSize:
    return SheetSize(
        sheet.name,
        sheet.width_mm,
        sheet.height_mm,
        1,
        outline=Polygon(sheet.outline[0], sheet.outline[1:]),
        keep_out=tuple(Polygon(zone.ring) for zone in sheet.kept_free),
    )


def _sheet_of(order: OrderFolder, number: int) -> SheetOnPage:
    found = next((one for one in list_sheets(order).sheets if one.number == number), None)
    if found is None:
        raise KerfwrightError(
            "pages/nothing-there",
            file=order.slug,
            thing=f"the plan has no sheet {number}.",
            remedy="Load the page again: the order may have been planned anew.",
        )
    return found
