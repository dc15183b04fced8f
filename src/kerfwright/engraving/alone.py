"""Pieces burned each by itself: in loops, or in rows along a direction of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from kerfwright.engraving.burn import Burn, row_motion
from kerfwright.engraving.cell_angles import directions_deg, edge_steps
from kerfwright.engraving.contour_parallel import Loops
from kerfwright.engraving.row_cells import Entries, RowCells
from kerfwright.geometry.affine import rotation
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath

NEW_DIRECTION_DEG = 1.0

CLEARLY_LESS = 0.95
"""Rows along a piece's own direction are worked out if they seem to take at most this share."""


@dataclass(frozen=True, eq=False, slots=True)
class AlonePiece:
    """A polygon burned by itself: blocks, each with its ways of entering it, one pass.

    ``angle_deg`` is that of its rows, ``None`` for loops. ``seconds`` is infinite and there are
    no blocks where neither loops nor rows of its own can be had.
    """

    blocks: tuple[Entries, ...]
    angle_deg: float | None
    seconds: float


NOT_ALONE = AlonePiece((), None, np.inf)


def alone_pieces(
    area: MultiPolygon, loops: Loops, angles_deg: Sequence[float], row_cells: RowCells
) -> list[AlonePiece]:
    """Every polygon of ``area`` by itself, in loops or in rows at an angle not in ``angles_deg``.

    ``loops`` is the whole area in loops. Rows are worked out where the height across them and
    the area promise less time than loops and than rows at any of ``angles_deg``.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.

    """
    burn, machine = row_cells.burn, row_cells.machine
    pieces = _loops_by_piece(area, loops)
    for number, polygon in enumerate(area.geoms):
        common = min(_promised_s(polygon, angle, burn, machine) for angle in angles_deg)
        own = _own_angle(polygon, angles_deg, burn, machine)
        if own is None:
            continue
        promised = _promised_s(polygon, own, burn, machine)
        if promised > CLEARLY_LESS * min(pieces[number].seconds, common):
            continue
        rows = row_cells.rows([polygon], own, burn.interval_mm**2)
        if rows.blocks and rows.seconds < pieces[number].seconds:
            pieces[number] = AlonePiece(rows.blocks, own, rows.seconds)
    return pieces


def _own_angle(
    polygon: Polygon, angles_deg: Sequence[float], burn: Burn, machine: Machine
) -> float | None:
    """Of the directions of its edges and its length that are not common ones, the fastest."""
    frame = np.diff(shapely.get_coordinates(shapely.minimum_rotated_rectangle(polygon)), axis=0)
    long = frame[np.argmax(np.hypot(frame[:, 0], frame[:, 1]))]
    tried = [round(float(np.degrees(np.arctan2(long[1], long[0])) % 180.0), 3)]
    tried += directions_deg(*edge_steps(MultiPolygon([polygon])))[:3]
    fresh = [
        angle
        for angle in tried
        if min(abs((angle - known + 90.0) % 180.0 - 90.0) for known in angles_deg)
        > NEW_DIRECTION_DEG
    ]
    return min(fresh, key=lambda a: _promised_s(polygon, a, burn, machine), default=None)


def _promised_s(polygon: Polygon, angle_deg: float, burn: Burn, machine: Machine) -> float:
    """Seconds of rows if each of them were one burn."""
    heights = rotation(-angle_deg).apply(shapely.get_coordinates(polygon.exterior))[:, 1]
    rows = float(np.ptp(heights)) / burn.interval_mm
    burned_mm = np.array(polygon.area / burn.interval_mm / max(rows, 1.0))
    return rows * float(row_motion(machine, burn, angle_deg).row_s(burned_mm))


def _loops_by_piece(area: MultiPolygon, loops: Loops) -> list[AlonePiece]:
    """Take the loops of an area apart: they finish one polygon before they go to the next."""
    toolpath = loops.toolpath
    found = [NOT_ALONE] * len(area.geoms)
    if len(toolpath) == 0:
        return found
    travels = np.flatnonzero(toolpath.moves["kind"] == MoveKind.TRAVEL)
    points = toolpath.points
    heads = np.concatenate([[0], travels + 1])
    owner = shapely.STRtree(list(area.geoms)).nearest(shapely.points(points[heads]))
    first = np.concatenate([[0], np.flatnonzero(np.diff(owner)) + 1])
    last = np.concatenate([travels, [len(toolpath)]])
    seconds = loops.move_s
    visited: set[int] = set()
    for one, after in zip(first.tolist(), [*first[1:].tolist(), len(heads)], strict=True):
        begin, end = int(heads[one]), int(last[after - 1])
        piece = int(owner[one])
        if piece in visited:  # come back to later: no toolpath of its own
            found[piece] = NOT_ALONE
            continue
        visited.add(piece)
        start = (float(points[begin, 0]), float(points[begin, 1]))
        own = Toolpath(toolpath.moves[begin:end], start)
        found[piece] = AlonePiece(((own,),), None, float(seconds[begin:end].sum()))
    return found
