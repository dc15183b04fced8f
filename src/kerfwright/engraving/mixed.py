"""Engraving by cells: parts of an area burned each in the way that is fastest there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon, Polygon

from kerfwright.engraving.alone import AlonePiece, alone_pieces
from kerfwright.engraving.burn import UNCOVERED_SHARE, Burn
from kerfwright.engraving.cell_areas import CellAreas, cell_areas
from kerfwright.engraving.cell_links import linked, order_blocks
from kerfwright.engraving.cells import Division, divide
from kerfwright.engraving.contour_parallel import Loops, contour_parallel
from kerfwright.engraving.row_cells import Entries, RowCells
from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Toolpath

CLOSE_RACE = 1.05
"""Divisions that the model finds this much slower than the best are not timed."""


@dataclass(frozen=True, eq=False, slots=True)
class EngravedCell:
    """A part of an area that is burned in one way.

    ``way`` is ``scan`` or ``contour-parallel``; ``angle_deg`` is that of the rows, ``None`` for
    loops. ``seconds`` are those of one pass, without the travel to the cell and within it from
    one block of rows to the next. Pieces that share rows are one cell.
    """

    area: MultiPolygon
    way: str
    angle_deg: float | None
    seconds: float


@dataclass(frozen=True, eq=False, slots=True)
class Mixed:
    """An area burned cell by cell, one pass."""

    toolpath: Toolpath
    cells: tuple[EngravedCell, ...]
    seconds: float
    uncovered_mm2: float


@dataclass(frozen=True, eq=False, slots=True)
class _Cell:
    """What is burned in one way, with its blocks, each entered in one of several ways."""

    area: MultiPolygon
    angle_deg: float | None
    blocks: tuple[Entries, ...]
    uncovered_mm2: float


def mixed(
    area: MultiPolygon,
    loops: Loops,
    rows_s: Mapping[float, float],
    angles_deg: Sequence[float],
    burn: Burn,
    machine: Machine,
    *,
    seams: bool = True,
) -> Mixed | None:
    """Engrave an area by cells; ``loops`` is the whole of it in loops, ``rows_s`` what rows
    over all of it take at some angles, ``angles_deg`` those of its cells.

    Pieces keep the way that suits them, and share rows with others where that saves time; with
    ``seams`` a piece may be cut into cells too. Both are made and timed if the model finds them
    close, and the faster is returned; nothing if all of the area is one cell.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.

    """
    row_cells = RowCells(burn, machine)
    pieces = alone_pieces(area, loops, angles_deg, row_cells)
    alone_s = np.array([piece.seconds for piece in pieces])
    divisions = divide(
        area, angles_deg, alone_s, rows_s, burn, machine, seams=seams, loops=loops.toolpath
    )
    made = []
    for division in _close_race(divisions):
        cells = _cells(cell_areas(area, division, burn), pieces, area, row_cells)
        if len(cells) > 1:
            made.append(_joined(cells, loops, machine))
    return min(made, key=lambda one: one.seconds, default=None)


def _close_race(divisions: Sequence[Division]) -> list[Division]:
    """The divisions worth timing, no two of them alike."""
    kept: list[Division] = []
    for division in divisions:
        rivals = [other.seconds for other in divisions if other.more == division.more]
        alike = any(np.array_equal(division.label, other.label) for other in kept)
        if division.seconds <= CLOSE_RACE * min(rivals) and not alike:
            kept.append(division)
    return kept


def _cells(
    areas: CellAreas, pieces: Sequence[AlonePiece], area: MultiPolygon, row_cells: RowCells
) -> list[_Cell]:
    in_rows: list[tuple[list[Polygon], float]] = []
    looped = [_looped(polygon, row_cells.burn, row_cells.machine) for polygon in areas.looped]
    for angle, polygons in zip(areas.angles_deg, areas.rows, strict=True):
        if polygons:
            in_rows += [(cell, angle) for cell in row_cells.share_rows(polygons, angle)]
    for number in areas.alone:
        own, piece = area.geoms[number], pieces[number]
        if piece.angle_deg is None:
            looped.append(_Cell(MultiPolygon([own]), None, piece.blocks, 0.0))
        else:
            in_rows.append(([own], piece.angle_deg))
    least_mm2 = row_cells.least_mm2(in_rows, UNCOVERED_SHARE * area.area)
    cells = []
    for polygons, angle in in_rows:
        rows = row_cells.rows(polygons, angle, least_mm2)
        cells.append(_Cell(MultiPolygon(polygons), angle, rows.blocks, rows.uncovered_mm2))
    return cells + looped


def _looped(polygon: Polygon, burn: Burn, machine: Machine) -> _Cell:
    area = MultiPolygon([polygon])
    loops = contour_parallel(area, burn, machine)
    blocks = ((loops.toolpath,),) if len(loops.toolpath) else ()
    return _Cell(area, None, blocks, loops.uncovered_mm2)


def _joined(cells: Sequence[_Cell], loops: Loops, machine: Machine) -> Mixed:
    """Order the blocks of all cells and travel from each to the next."""
    blocks = [entries for cell in cells for entries in cell.blocks]
    owner = [number for number, cell in enumerate(cells) for _ in cell.blocks]
    order = order_blocks(blocks, machine)
    toolpath, spans = linked([blocks[block][way] for block, way in order], machine)
    seconds = move_times_s(toolpath, machine)
    cell_s = [0.0] * len(cells)
    for (block, _), (begin, end) in zip(order, spans, strict=True):
        cell_s[owner[block]] += float(seconds[begin:end].sum())
    uncovered = sum(cell.uncovered_mm2 for cell in cells)
    if any(cell.angle_deg is None for cell in cells):
        # how it is shared among the pieces is not known: all of it is counted
        uncovered += loops.uncovered_mm2
    told = tuple(
        EngravedCell(
            cell.area, "contour-parallel" if cell.angle_deg is None else "scan", cell.angle_deg, s
        )
        for cell, s in zip(cells, cell_s, strict=True)
    )
    return Mixed(toolpath, told, time_toolpath(toolpath, machine).total_s, uncovered)
