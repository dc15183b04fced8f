"""Engraving by cells: parts of an area burned each in the way that is fastest there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from shapely import MultiPolygon, Polygon

from kerfwright.cores import at_once
from kerfwright.engraving.alone import AlonePiece, alone_pieces
from kerfwright.engraving.burn import UNCOVERED_SHARE, Burn
from kerfwright.engraving.cell_areas import CellAreas, cell_areas
from kerfwright.engraving.cell_links import linked, order_blocks
from kerfwright.engraving.cells import Division, divide
from kerfwright.engraving.clusters import clusters
from kerfwright.engraving.contour_parallel import Loops, contour_parallel
from kerfwright.engraving.row_cells import Entries, RowCells
from kerfwright.geometry.paths import FloatArray
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


@dataclass(frozen=True, eq=False, slots=True)
class _Split:
    """What is burned how: polygons that share rows at an angle, polygons burned in loops, and
    numbers of those burned by themselves.
    """

    in_rows: list[tuple[list[Polygon], float]]
    looped: list[Polygon]
    alone: list[int]


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
    divisions = divide(area, angles_deg, alone_s, rows_s, burn, machine, seams=seams, loops=loops)

    def made_of(division: Division) -> tuple[Mixed, _Split]:
        split = _split(cell_areas(area, division, burn), row_cells)
        return _joined(_cells(split, pieces, area, row_cells), loops, machine), split

    made = at_once([partial(made_of, division) for division in _close_race(divisions)])
    if not made:
        return None
    best, split = min(made, key=lambda one: one[0].seconds)
    regrouped = _regrouped(split, alone_s, area, angles_deg, rows_s, burn, machine)
    if regrouped is not None:
        other = _joined(_cells(regrouped, pieces, area, row_cells), loops, machine)
        best = min(best, other, key=lambda one: one.seconds)
    return best if len(best.cells) > 1 else None


def _close_race(divisions: Sequence[Division]) -> list[Division]:
    """The divisions worth timing, no two of them alike."""
    kept: list[Division] = []
    for division in divisions:
        rivals = [other.seconds for other in divisions if other.more == division.more]
        alike = any(np.array_equal(division.label, other.label) for other in kept)
        if division.seconds <= CLOSE_RACE * min(rivals) and not alike:
            kept.append(division)
    return kept


def _split(areas: CellAreas, row_cells: RowCells) -> _Split:
    in_rows: list[tuple[list[Polygon], float]] = []
    for angle, polygons in zip(areas.angles_deg, areas.rows, strict=True):
        if polygons:
            in_rows += [(cell, angle) for cell in row_cells.share_rows(polygons, angle)]
    return _Split(in_rows, areas.looped, areas.alone)


def _regrouped(
    split: _Split,
    alone_s: FloatArray,
    area: MultiPolygon,
    angles_deg: Sequence[float],
    rows_s: Mapping[float, float],
    burn: Burn,
    machine: Machine,
) -> _Split | None:
    """The same polygons grouped by time (:mod:`kerfwright.engraving.clusters`); nothing if that
    is not worth it.
    """
    number_of = {polygon.wkb: number for number, polygon in enumerate(area.geoms)}
    polygons = [polygon for cell, _ in split.in_rows for polygon in cell]
    numbers = [number_of.get(polygon.wkb, -1) for polygon in polygons] + split.alone
    polygons += [area.geoms[number] for number in split.alone]
    ends = np.cumsum([len(cell) for cell, _ in split.in_rows]).tolist()
    given: list[tuple[tuple[int, ...], float | None]] = [
        (tuple(range(end - len(cell), end)), angle)
        for end, (cell, angle) in zip(ends, split.in_rows, strict=True)
    ]
    given += [((place,), None) for place in range(len(polygons) - len(split.alone), len(polygons))]
    own_s = np.array([alone_s[number] if number >= 0 else np.inf for number in numbers])
    found = clusters(polygons, given, own_s, angles_deg, rows_s, burn, machine)
    if not found:
        return None
    in_rows = [
        ([polygons[p] for p in group.members], group.angle_deg)
        for group in found
        if group.angle_deg is not None
    ]
    alone = [numbers[group.members[0]] for group in found if group.angle_deg is None]
    return _Split(in_rows, split.looped, alone)


def _cells(
    split: _Split, pieces: Sequence[AlonePiece], area: MultiPolygon, row_cells: RowCells
) -> list[_Cell]:
    looped = [_looped(polygon, row_cells.burn, row_cells.machine) for polygon in split.looped]
    in_rows = list(split.in_rows)
    for number in split.alone:
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
