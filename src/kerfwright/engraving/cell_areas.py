"""The areas of cells: labels of boxes made polygons with straight seams that overlap a little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage
from shapely import MultiPolygon, Polygon

from kerfwright.engraving.burn import Burn
from kerfwright.engraving.cell_grid import Grid
from kerfwright.engraving.cells import Division
from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area

OVERLAP_SPOTS = 0.25
"""How far the rows of a cell run on over a seam into its neighbour, in widths of the spot."""

SEAM_PITCHES = 0.9
"""Steps of a seam smaller than this many boxes are made one straight line."""

LEAST_CELL_PITCHES2 = 1.0
"""What a seam cuts off a piece and is smaller than this many boxes stays with its neighbour."""


@dataclass(frozen=True, eq=False, slots=True)
class CellAreas:
    """``rows[k]`` are burned in rows at ``angles_deg[k]``, ``looped`` in loops; ``alone`` numbers
    polygons burned each by itself."""

    angles_deg: tuple[float, ...]
    rows: tuple[list[Polygon], ...]
    looped: list[Polygon]
    alone: list[int]


def cell_areas(area: MultiPolygon, division: Division, burn: Burn) -> CellAreas:
    """Cut ``area`` along the seams of ``division``.

    A polygon with one label stays as it is. The others are cut; each cell is longer by a quarter
    of the spot along its rows where it meets another, but never beyond the area, so that no seam
    stays unburned. Rows that lie along a seam need no more: they end half an interval from it.
    """
    labels = len(division.angles_deg)
    by_label: list[list[Polygon]] = [[] for _ in range(labels + 2)]
    alone: list[int] = []
    grid = division.grid
    order = np.lexsort([division.label, grid.piece])
    piece, first = np.unique(grid.piece[order], return_index=True)
    by_piece = dict(zip(piece.tolist(), np.split(order, first[1:]), strict=True))
    main = int(np.bincount(division.label, grid.held_mm2, minlength=labels + 2)[:labels].argmax())
    for number, polygon in enumerate(area.geoms):
        boxes = by_piece.get(number)
        own = np.unique(division.label[boxes]) if boxes is not None else np.array([main])
        if len(own) > 1:
            assert boxes is not None
            for label, cell in _cut(polygon, division, boxes, burn):
                by_label[label].append(cell)
        elif own[0] == labels:
            alone.append(number)
        else:
            by_label[int(own[0])].append(polygon)
    rows = tuple(by_label[:labels])
    return CellAreas(division.angles_deg, rows, by_label[labels + 1], alone)


def _cut(
    polygon: Polygon, division: Division, boxes: IntArray, burn: Burn
) -> list[tuple[int, Polygon]]:
    """Cells of one polygon with their labels."""
    grid = division.grid
    fields, labels = _fields(grid, boxes, division.label[boxes])
    turn = rotation(grid.frame_deg)
    placed = shapely.transform(np.array(fields), turn.apply)
    parts: list[tuple[int, Polygon]] = []
    for label, field in zip(labels, placed, strict=True):
        parts += [(label, part) for part in as_area(shapely.intersection(polygon, field)).geoms]
    return _grown(polygon, _without_slivers(parts, grid.pitch_mm), division.angles_deg, burn)


def _fields(grid: Grid, boxes: IntArray, label: IntArray) -> tuple[list[Polygon], list[int]]:
    """Polygons in the grid's frame that fill the boxes' rectangle, one for each connected label.

    Boxes without a label take the nearest one's, so that every bit of the polygon is in a field.
    """
    column, row = grid.column[boxes], grid.row[boxes]
    c0, c1 = max(int(column.min()) - 1, 0), min(int(column.max()) + 2, len(grid.x) - 1)
    r0, r1 = max(int(row.min()) - 1, 0), min(int(row.max()) + 2, len(grid.y) - 1)
    table = np.full((r1 - r0, c1 - c0), -1, dtype=np.int64)
    table[row - r0, column - c0] = label
    nearest = ndimage.distance_transform_edt(table < 0, return_distances=False, return_indices=True)
    table = table[tuple(nearest)]
    x, y = grid.x[c0 : c1 + 1].copy(), grid.y[r0 : r1 + 1].copy()
    x[0], x[-1] = x[0] - grid.pitch_mm, x[-1] + grid.pitch_mm
    y[0], y[-1] = y[0] - grid.pitch_mm, y[-1] + grid.pitch_mm
    fields = [
        field
        for field in shapely.get_parts(shapely.polygonize(_seams(table, x, y)))
        if field.area > 0.0
    ]
    inside = shapely.get_coordinates(shapely.point_on_surface(fields))
    i = np.clip(np.searchsorted(y, inside[:, 1], side="right") - 1, 0, table.shape[0] - 1)
    j = np.clip(np.searchsorted(x, inside[:, 0], side="right") - 1, 0, table.shape[1] - 1)
    straight = shapely.coverage_simplify(
        fields, SEAM_PITCHES * grid.pitch_mm, simplify_boundary=False
    )
    return list(straight), [int(k) for k in table[i, j]]


def _seams(table: IntArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """Lines between boxes of different labels, and round all of them."""
    framed = np.pad(table, 1, constant_values=-1)
    r, c = np.nonzero(framed[1:-1, 1:] != framed[1:-1, :-1])
    upright = np.stack([np.column_stack([x[c], y[r]]), np.column_stack([x[c], y[r + 1]])], axis=1)
    r, c = np.nonzero(framed[1:, 1:-1] != framed[:-1, 1:-1])
    level = np.stack([np.column_stack([x[c], y[r]]), np.column_stack([x[c + 1], y[r]])], axis=1)
    lines: FloatArray = shapely.linestrings(np.concatenate([upright, level]))
    return lines


def _without_slivers(
    parts: list[tuple[int, Polygon]], pitch_mm: float
) -> list[tuple[int, Polygon]]:
    """Give what is smaller than a box to the largest cell that it touches."""
    least = LEAST_CELL_PITCHES2 * pitch_mm**2
    large = [(label, part) for label, part in parts if part.area >= least]
    small = [part for _, part in parts if part.area < least]
    if not small or not large:
        return parts
    areas = [part for _, part in large]
    tree = shapely.STRtree(areas)
    taken: dict[int, list[Polygon]] = {}
    for sliver in small:
        near = tree.query(sliver, predicate="dwithin", distance=1e-6)
        if len(near) == 0:
            near = np.array([tree.nearest(sliver)])
        taken.setdefault(int(max(near, key=lambda k: areas[k].area)), []).append(sliver)
    out = []
    for number, (label, part) in enumerate(large):
        if number in taken:
            joined = shapely.union_all([part, *taken[number]])
            out += [(label, piece) for piece in as_area(joined).geoms]
        else:
            out.append((label, part))
    return out


def _grown(
    polygon: Polygon,
    parts: list[tuple[int, Polygon]],
    angles_deg: tuple[float, ...],
    burn: Burn,
) -> list[tuple[int, Polygon]]:
    """Let every cell run on along its rows, or all round if it has none; cells of one label that
    meet so become one."""
    reach = OVERLAP_SPOTS * burn.spot_mm
    out: list[tuple[int, Polygon]] = []
    for label in sorted({label for label, _ in parts}):
        own = shapely.union_all([part for other, part in parts if other == label])
        if label >= len(angles_deg):
            wider = own.buffer(reach, join_style="mitre")
            out += [(label, cell) for cell in as_area(wider.intersection(polygon)).geoms]
            continue
        along = rotation(angles_deg[label]).apply(np.array([[reach, 0.0]]))[0]
        moved = [
            shapely.transform(own, lambda points, by=by: points + by) for by in (along, -along)
        ]
        longer = shapely.intersection(shapely.union_all([own, *moved]), polygon)
        out += [(label, cell) for cell in as_area(longer).geoms]
    return out
