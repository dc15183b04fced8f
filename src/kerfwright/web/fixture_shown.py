"""Fixtures as the pages show them, with the marks as they lie in the pockets.

Drawings are read here, so this runs in the processes that read drawings.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import shapely
from pydantic import BaseModel
from shapely import Polygon
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.read import read_drawing
from kerfwright.errors import KerfwrightError
from kerfwright.fixtures.board import board_of
from kerfwright.fixtures.fit import fitted_into
from kerfwright.fixtures.pockets import Pocket, Pockets, pockets_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import rings_of
from kerfwright.output.beam_lines import simplified
from kerfwright.output.plan_json import FindingRecord, finding_record
from kerfwright.output.text import short_number
from kerfwright.parts.model import Part
from kerfwright.prepare import prepare_item
from kerfwright.shop.batch_rows import rows_of
from kerfwright.shop.files import Shop
from kerfwright.shop.fixture import Fixture
from kerfwright.shop.order import Item, Settings

EDGE_MM = 0.02
"""Furthest that a pocket's outline strays here: the pages only draw it."""

MARK_CHARACTERS = 200_000
"""Path data of an item's marks in one shape of pocket; they are coarsened until it fits."""

MOST_POCKETS = 1_500
"""Pockets that are outlined; of more only the first are shown."""

BoardKind = Literal["svg", "dxf"]


@dataclass(frozen=True, slots=True)
class Described:
    """A fixture, where its drawing's path starts, and what else is needed to find its pockets."""

    fixture: Fixture
    folder: Path
    file: str
    settings: Settings

    def pockets(self) -> Pockets:
        """Find the pockets; errors as :func:`~kerfwright.fixtures.pockets.pockets_of`."""
        return pockets_of(self.fixture, self.folder, self.file, self.settings)


class PocketShown(BaseModel):
    """A pocket; ``outline`` is that of the blank, in mm from the fixture's lower left corner."""

    number: int
    shape: int
    in_use: bool
    centre_mm: tuple[float, float]
    outline: list[tuple[float, float]]


class PocketsShown(BaseModel):
    """The pockets of a fixture; lengths in mm, y upwards."""

    pockets: list[PocketShown] = []
    count: int = 0
    """How many there are, those that are not outlined counted."""
    marks_mm: list[tuple[float, float]] = []
    """Middles of the two marks on the bed by which it is found there, where it has room for
    them."""
    trouble: str = ""
    """Why its pockets cannot be shown, where they cannot."""


class ShapeMarks(BaseModel):
    """Marks in one shape of pocket: path data in mm from its centre, y upwards."""

    shape: int
    lines: str
    areas: str
    """To be filled by the nonzero rule."""


class ItemInPockets(BaseModel):
    """How an item's marks lie in its fixture, and in which pockets of its first load."""

    fixture: str
    copies: int
    loads: int
    filled: list[int]
    """Numbers of the pockets that hold it in the first load that has one."""
    marks: list[ShapeMarks]
    findings: list[FindingRecord]


def pockets_shown(described: Described) -> PocketsShown:
    """Return the outlines of a fixture's pockets, or why there are none."""
    try:
        found = described.pockets()
    except KerfwrightError as error:
        return PocketsShown(trouble=f"{error.thing} {error.remedy}")
    usable = {pocket.number for pocket in found.usable}
    x, y = described.fixture.at_mm
    marks: list[tuple[float, float]] = []
    # a board that cannot be cut may have been made some other way
    with suppress(KerfwrightError):
        marks = [(x + a, y + b) for a, b in board_of(found).marks_mm]
    return PocketsShown(
        pockets=[_pocket(pocket, pocket.number in usable) for pocket in found.all[:MOST_POCKETS]],
        count=len(found.all),
        marks_mm=marks,
    )


def board_drawn(
    described: Described, kind: BoardKind, folder: Path, *, clearance_mm: float | None, marks: bool
) -> Path:
    """Write the drawing from which a fixture is cut into a folder; returns its path.

    Raises:
        KerfwrightError: its pockets are wrong, or too near to one another.
    """
    from kerfwright.fixtures.board_file import write_board  # noqa: PLC0415 (ezdxf loads slowly)

    out = folder / f"board.{kind}"
    write_board(board_of(described.pockets(), clearance_mm=clearance_mm, marks=marks), out)
    return out


def page_mm(drawing: Path, settings: Settings) -> tuple[float, float]:
    """Width and height of a drawing's page.

    Raises:
        KerfwrightError: it cannot be read.
    """
    read = read_drawing(drawing, settings.chord_mm)
    return read.width_mm, read.height_mm


def item_in_pockets(shop: Shop, number: int) -> ItemInPockets:
    """Lay an item's marks into the pockets of its fixture; of a batch, those of its first row.

    Raises:
        KerfwrightError: the drawing, the table or the fixture is wrong.
    """
    item = shop.order.items[number]
    fixture = shop.fixture(item.fixture or "")
    file = shop.order_file.name
    usable = pockets_of(fixture, shop.folder, file, shop.order.settings).usable
    before = sum(
        _copies(shop, one)
        for one in shop.order.items[:number]
        if (one.fixture, one.material) == (item.fixture, item.material)
    )
    copies = _copies(shop, item)
    prepared = prepare_item(shop, item)
    page = prepared.drawing.width_mm, prepared.drawing.height_mm
    findings = dict.fromkeys(prepared.findings)
    marks = []
    for shape, pocket in {one.shape: one for one in reversed(usable)}.items():
        if not prepared.parts:
            break
        about = translate(pocket.outline, *(-side for side in pocket.centre_mm))
        laid = fitted_into(about, prepared.parts[:1], item, page)
        findings |= dict.fromkeys(laid.findings)
        marks += [_marks(shape, part) for part in laid.parts]
    first = before % len(usable) if usable else 0
    return ItemInPockets(
        fixture=fixture.name,
        copies=copies,
        loads=math.ceil((first + copies) / len(usable)) if usable else 0,
        filled=[pocket.number for pocket in usable[first : first + copies]],
        marks=marks,
        findings=[finding_record(one) for one in findings if one.code.startswith("fixtures/")],
    )


def _copies(shop: Shop, item: Item) -> int:
    if item.batch is None:
        return item.quantity
    return item.quantity * len(rows_of(shop.folder / item.batch.rows))


def _pocket(pocket: Pocket, in_use: bool) -> PocketShown:
    corners = shapely.get_coordinates(pocket.outline.simplify(EDGE_MM).exterior).tolist()
    return PocketShown(
        number=pocket.number,
        shape=pocket.shape,
        in_use=in_use,
        centre_mm=pocket.centre_mm,
        outline=[(round(x, 3), round(y, 3)) for x, y in corners],
    )


def _marks(shape: int, part: Part) -> ShapeMarks:
    scored = [path.line for mark in part.scores for path in mark.paths]
    photos = [Polygon(mark.picture.corners_mm) for mark in part.photos]
    scored += [line for photo in photos for line in _closed(photo)]
    areas = [line for mark in part.engraves for line in _closed(mark.area)]
    lines = [*((0, line) for line in scored), *((1, line) for line in areas)]
    data = ["", ""]
    for owner, line in simplified(lines, EDGE_MM, MARK_CHARACTERS):
        points = "L".join(f"{short_number(x, 2)} {short_number(y, 2)}" for x, y in line.tolist())
        data[owner] += f"M{points}"
    return ShapeMarks(shape=shape, lines=data[0], areas=data[1])


def _closed(area: BaseGeometry) -> list[FloatArray]:
    return [np.vstack([ring, ring[:1]]) for ring in rings_of(area)]
