"""Cells of rows: polygons that share rows, each cell with a grid of rows of its own.

A cell's rows are centred on it and not on the whole area, so that its first and last row fit its
edges. Cells that are equal but for their place are worked out once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import MultiPolygon, Polygon
from shapely.affinity import translate

from kerfwright.engraving.burn import Burn, row_motion
from kerfwright.engraving.row_groups import group_segments
from kerfwright.engraving.rows import open_spaces_mm2, rows_of
from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.engraving.scan import row_blocks
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Toolpath

Entries = tuple[Toolpath, ...]
"""The same burns entered in several ways."""


@dataclass(frozen=True, eq=False, slots=True)
class CellRows:
    """Rows of a cell: blocks in no order; ``seconds`` leave out the travel between them."""

    blocks: tuple[Entries, ...]
    seconds: float
    uncovered_mm2: float


@dataclass(eq=False, slots=True)
class RowCells:
    """Lays the rows of cells and remembers those of equal ones; for several threads as well, which
    at worst lay equal rows twice."""

    burn: Burn
    machine: Machine
    _known: dict[tuple[object, ...], CellRows] = field(default_factory=dict)
    _open: dict[tuple[object, ...], FloatArray] = field(default_factory=dict)

    def least_mm2(self, cells: Sequence[tuple[list[Polygon], float]], allowed_mm2: float) -> float:
        """Uncovered area from which on a space between rows gets a row of its own.

        It is so large that all spaces with less leave ``allowed_mm2`` in all the ``cells``,
        given as polygons and angle: the worst places are burned first, wherever they are.
        """
        sums = [np.zeros(1)]
        for polygons, angle_deg in cells:
            key, area, _ = _at_origin(polygons, angle_deg)
            if key not in self._open:
                self._open[key] = open_spaces_mm2(area, self.burn, angle_deg)
            sums.append(self._open[key])
        spaces = np.sort(np.concatenate(sums))
        left = np.cumsum(spaces)
        if left[-1] <= allowed_mm2:
            return np.inf
        return float(spaces[np.searchsorted(left, allowed_mm2, side="right")])

    def rows(self, polygons: list[Polygon], angle_deg: float, least_mm2: float) -> CellRows:
        """Rows at ``angle_deg`` of polygons that are one cell; ``least_mm2`` as above.

        Raises:
            KerfwrightError: ``engraving/too-many-rows``.

        """
        same, at_origin, (x, y) = _at_origin(polygons, angle_deg)
        key = (*same, least_mm2)
        if key not in self._known:
            blocks, uncovered = row_blocks(
                at_origin, self.burn, self.machine, angle_deg=angle_deg, least_mm2=least_mm2
            )
            seconds = sum(time_toolpath(block[0], self.machine).total_s for block in blocks)
            self._known[key] = CellRows(tuple(blocks), seconds, uncovered)
        cell = self._known[key]
        placed = tuple(tuple(way.moved(x, y) for way in block) for block in cell.blocks)
        return CellRows(placed, cell.seconds, cell.uncovered_mm2)

    def share_rows(self, polygons: list[Polygon], angle_deg: float) -> list[list[Polygon]]:
        """Put polygons together that save time by sharing rows at ``angle_deg``."""
        if len(polygons) == 1:
            return [polygons]
        rows = rows_of(MultiPolygon(polygons), self.burn, angle_deg, close=False)
        motion = row_motion(self.machine, self.burn, angle_deg)
        group = group_segments(rows, motion, self.burn.interval_mm)
        middles = np.column_stack([0.5 * (rows.a + rows.b), rows.y[rows.row_of]])
        owner = _owners(polygons, shapely.points(rotation(angle_deg).apply(middles)))
        known = owner >= 0
        count = len(polygons)
        links = np.unique(group[known] * count + owner[known])
        size = count + (int(group.max()) + 1 if len(group) else 0)
        table = coo_array(
            (np.ones(len(links)), (links % count, count + links // count)), shape=(size, size)
        )
        _, cell = connected_components(table, directed=False)
        cells: dict[int, list[Polygon]] = {}
        for number, polygon in zip(cell[:count].tolist(), polygons, strict=True):
            cells.setdefault(number, []).append(polygon)
        return list(cells.values())


def _at_origin(
    polygons: list[Polygon], angle_deg: float
) -> tuple[tuple[object, ...], MultiPolygon, tuple[float, float]]:
    """What equal cells have in common, the cell moved to the origin, and where it lay."""
    area = MultiPolygon(polygons)
    x, y = area.bounds[:2]
    moved = translate(area, -x, -y)
    places = np.round(shapely.get_coordinates(moved), 6) + 0.0
    rings = tuple(len(ring.coords) for p in area.geoms for ring in (p.exterior, *p.interiors))
    return (places.tobytes(), rings, angle_deg), moved, (x, y)


def _owners(polygons: list[Polygon], points: np.ndarray) -> IntArray:
    """Polygon that each point lies in, -1 for none."""
    owner = np.full(len(points), -1, dtype=np.int64)
    # a tree of the points lets each polygon be prepared once
    polygon, point = shapely.STRtree(points).query(polygons, predicate="intersects")
    owner[point] = polygon
    return owner
