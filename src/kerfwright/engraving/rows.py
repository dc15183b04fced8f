"""Rows of an area: where they burn, and what of the area they leave uncovered."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from shapely import MultiPolygon

from kerfwright.engraving.burn import UNCOVERED_SHARE, Burn
from kerfwright.engraving.row_ends import row_ends
from kerfwright.engraving.rows_kernel import IntArray, cross_rows, find_uncovered
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import rings_of

LINES_PER_INTERVAL = 32
"""Level lines on which coverage is measured, in each interval."""

ROUNDS = 4
"""How often rows between the rows are looked for."""

MOST_ROWS = 500_000
"""More come from an interval in the wrong unit, and would fill the memory."""

VISIBLE_INTERVALS2 = 5.0
"""A space between rows with this many square intervals uncovered always gets a row."""

SHORT_MM = 1e-6
"""Segments this short come from rows that graze a corner."""


@dataclass(frozen=True, eq=False, slots=True)
class Rows:
    """Burned segments in the frame turned by ``-angle_deg``, sorted by row and from left to right.

    ``y`` has one height a row, ``start`` of shape (rows + 1,) says which segments belong to it.
    ``regular`` marks the rows of the even grid; the others lie between them, where a level edge
    would else be left uncovered.
    """

    angle_deg: float
    y: FloatArray
    start: IntArray
    a: FloatArray
    b: FloatArray
    regular: IntArray
    """Number on the even grid, -1 for a row between."""
    uncovered_mm2: float

    @property
    def row_of(self) -> IntArray:
        """Row of every segment."""
        return np.repeat(np.arange(len(self.y)), np.diff(self.start))


def edges_of(area: MultiPolygon, angle_deg: float) -> FloatArray:
    """Every edge of an area turned by ``-angle_deg``: x0, y0, x1, y1, shape (n, 4)."""
    turn = rotation(-angle_deg)
    rings = [turn.apply(ring) for ring in rings_of(area)]
    if not rings:
        return np.empty((0, 4))
    return np.vstack([np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring in rings])


def rows_of(
    area: MultiPolygon,
    burn: Burn,
    angle_deg: float,
    *,
    close: bool = True,
    least_mm2: float | None = None,
) -> Rows:
    """Lay rows one interval apart, centred on the area, and more where coverage needs them.

    The grid is centred so that the first and the last row lie half an interval inside or, if the
    height is no whole number of intervals, a little nearer to the edge. A level edge between two
    rows can still miss both; there a short row is added, worst places first, until at most
    ``UNCOVERED_SHARE`` of the area is left or, with ``least_mm2``, until no space between two
    rows has as much as that uncovered. Without ``close`` only the even rows are laid, and what
    they leave is not measured.
    """
    edges = edges_of(area, angle_deg)
    if len(edges) == 0:
        nothing = np.empty(0)
        none = np.empty(0, dtype=np.int64)
        return Rows(angle_deg, nothing, np.zeros(1, dtype=np.int64), nothing, nothing, none, 0.0)
    grid = _grid_of(area, edges, burn, angle_deg)
    even = _even_rows(edges, burn, angle_deg, grid)
    if not close:
        return even
    visible_mm2 = VISIBLE_INTERVALS2 * burn.interval_mm**2
    if least_mm2 is not None:
        return _close(even, edges, burn, grid, np.inf, min(least_mm2, visible_mm2))
    return _close(even, edges, burn, grid, UNCOVERED_SHARE * area.area, visible_mm2)


def open_spaces_mm2(area: MultiPolygon, burn: Burn, angle_deg: float) -> FloatArray:
    """Area that even rows leave uncovered in each space between two of them, shape (spaces,)."""
    edges = edges_of(area, angle_deg)
    if len(edges) == 0:
        return np.empty(0)
    grid = _grid_of(area, edges, burn, angle_deg)
    rows = _even_rows(edges, burn, angle_deg, grid)
    line_y, fine = grid.line_y, grid.line_step
    radius = 0.5 * burn.footprint_mm
    line_start, line_x = cross_rows(edges, float(line_y[0]), fine, len(line_y))
    every = np.arange(len(line_y))
    line, left, right = find_uncovered(
        every, line_start, line_x, line_y, rows.y, rows.start, (rows.a, rows.b), radius
    )
    sums: FloatArray = np.bincount(grid.space[line], (right - left) * fine).astype(np.float64)
    return sums


def require_few_rows(area: MultiPolygon, burn: Burn) -> None:
    """Refuse an interval at which level or upright rows over an area are too many to plan.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.

    """
    x0, y0, x1, y1 = area.bounds
    _refuse_too_many(math.ceil(max(x1 - x0, y1 - y0) / burn.interval_mm - 1e-6), burn.interval_mm)


def _refuse_too_many(count: int, step: float) -> None:
    if count > MOST_ROWS:
        raise KerfwrightError(
            "engraving/too-many-rows",
            file="engraving recipe",
            thing=f"interval_mm = {step:g} gives {count} rows for one area.",
            remedy=f"Use a wider interval; at most {MOST_ROWS} rows are planned.",
        )


def _grid_of(area: MultiPolygon, edges: FloatArray, burn: Burn, angle_deg: float) -> _Grid:
    step = burn.interval_mm
    low, high = float(edges[:, 1].min()), float(edges[:, 1].max())
    count = max(1, int(np.ceil((high - low) / step - 1e-6)))
    _refuse_too_many(count, step)
    first = 0.5 * (low + high) - 0.5 * (count - 1) * step
    return _Grid(first, count, step, _missed_heights(area, angle_deg, first, step))


@dataclass(frozen=True, eq=False, slots=True)
class _Grid:
    """Even rows: height of the first, how many, how far apart; ``missed`` lie between two."""

    first: float
    count: int
    step: float
    missed: FloatArray
    """Middle height of every polygon so thin that no row meets it."""

    @property
    def line_step(self) -> float:
        return self.step / LINES_PER_INTERVAL

    @property
    def line_y(self) -> FloatArray:
        """Heights of the lines on which coverage is measured."""
        lines = np.arange(self.count * LINES_PER_INTERVAL, dtype=np.float64)
        heights: FloatArray = self.first + (lines - 0.5 * (LINES_PER_INTERVAL - 1)) * self.line_step
        return heights

    @property
    def space(self) -> IntArray:
        """Space between two rows that each of these lines lies in."""
        lines = np.arange(self.count * LINES_PER_INTERVAL)
        return (lines + LINES_PER_INTERVAL // 2) // LINES_PER_INTERVAL

    def missed_lines(self) -> IntArray:
        """Nearest of these lines to every missed polygon."""
        lines = np.round((self.missed - self.line_y[0]) / self.line_step).astype(np.int64)
        return np.unique(np.clip(lines, 0, self.count * LINES_PER_INTERVAL - 1))


def _missed_heights(area: MultiPolygon, angle_deg: float, first: float, step: float) -> FloatArray:
    turn = rotation(-angle_deg)
    outlines = [turn.apply(np.asarray(polygon.exterior.coords)[:, :2]) for polygon in area.geoms]
    low = np.array([outline[:, 1].min() for outline in outlines])
    high = np.array([outline[:, 1].max() for outline in outlines])
    met = np.floor((high - first) / step) >= np.ceil((low - first) / step)
    middle: FloatArray = 0.5 * (low + high)
    return middle[~met]


def _even_rows(edges: FloatArray, burn: Burn, angle_deg: float, grid: _Grid) -> Rows:
    row, a, b = row_ends(edges, grid.first, grid.step, grid.count, burn.footprint_mm)
    keep = b - a > SHORT_MM
    table = np.column_stack([row[keep], a[keep], b[keep]])
    y: FloatArray = grid.first + np.arange(grid.count, dtype=np.float64) * grid.step
    return _sorted_rows(angle_deg, y, np.arange(grid.count), table, 0.0)


def _sorted_rows(
    angle_deg: float, y: FloatArray, regular: IntArray, table: FloatArray, uncovered_mm2: float
) -> Rows:
    """Rows from a table of row number, left and right end, in any order."""
    by_height = np.argsort(y, kind="stable")
    place = np.empty(len(y), dtype=np.int64)
    place[by_height] = np.arange(len(y))
    row = place[table[:, 0].astype(np.int64)]
    order = np.lexsort([table[:, 1], row])
    start = np.searchsorted(row[order], np.arange(len(y) + 1))
    return Rows(
        angle_deg,
        y[by_height],
        start.astype(np.int64),
        np.ascontiguousarray(table[order, 1]),
        np.ascontiguousarray(table[order, 2]),
        regular[by_height],
        uncovered_mm2,
    )


def _close(
    rows: Rows, edges: FloatArray, burn: Burn, grid: _Grid, allowed_mm2: float, visible_mm2: float
) -> Rows:
    """Add rows between the rows until coverage is good enough, or no row helps any more."""
    line_y, fine = grid.line_y, grid.line_step
    line_start, line_x = cross_rows(edges, float(line_y[0]), fine, len(line_y))
    radius = 0.5 * burn.footprint_mm
    uncovered = np.inf
    forced = grid.missed_lines()
    line, left, right = np.empty(0, dtype=np.int64), np.empty(0), np.empty(0)
    looked_at = np.ones(len(line_y), dtype=bool)
    for round_ in range(ROUNDS + 1):
        found = find_uncovered(
            np.flatnonzero(looked_at),
            line_start,
            line_x,
            line_y,
            rows.y,
            rows.start,
            (rows.a, rows.b),
            radius,
        )
        as_before = ~looked_at[line]
        line, left, right = (
            np.concatenate([old[as_before], new])
            for old, new in zip((line, left, right), found, strict=True)
        )
        lengths = np.bincount(line, right - left, minlength=len(line_y)).astype(np.float64)
        was, uncovered = uncovered, float(lengths.sum() * fine)
        rows = replace(rows, uncovered_mm2=uncovered)
        worst = _lines_to_burn(lengths, grid.space, allowed_mm2 / fine, visible_mm2 / fine)
        chosen = np.union1d(worst, forced)
        chosen = chosen[lengths[chosen] > 0.0]
        if len(chosen) == 0 or uncovered >= was or round_ == ROUNDS:
            break
        forced = np.empty(0, dtype=np.int64)
        number = np.full(len(line_y), -1, dtype=np.int64)
        number[chosen] = len(rows.y) + np.arange(len(chosen))
        use = number[line] >= 0
        between = np.column_stack([number[line[use]], left[use], right[use]])
        table = np.vstack([np.column_stack([rows.row_of, rows.a, rows.b]), between])
        rows = _sorted_rows(
            rows.angle_deg,
            np.concatenate([rows.y, line_y[chosen]]),
            np.concatenate([rows.regular, np.full(len(chosen), -1, dtype=np.int64)]),
            table[table[:, 2] - table[:, 1] > SHORT_MM],
            uncovered,
        )
        # a new row is seen on the lines within its reach, and on no others
        from_, to = (np.searchsorted(line_y, line_y[chosen] + by) for by in (-radius, radius))
        steps = np.bincount(from_, minlength=len(line_y) + 1)
        steps -= np.bincount(to, minlength=len(line_y) + 1)
        looked_at = np.cumsum(steps)[:-1] > 0
    return rows


def _lines_to_burn(
    lengths: FloatArray, space: IntArray, allowed: float, visible: float
) -> IntArray:
    """Middle uncovered line of the worst spaces between rows, until the rest may stay.

    ``lengths`` is the uncovered length on every line; ``allowed`` in all, ``visible`` in one
    space, are lengths too.
    """
    sums = np.bincount(space, lengths)
    worst = np.argsort(-sums, kind="stable")
    before_it = sums.sum() - np.cumsum(sums[worst]) + sums[worst]
    worst = worst[(before_it > allowed) | (sums[worst] >= visible)]
    worst = worst[sums[worst] > 0.0]
    running = np.cumsum(lengths)
    first = np.searchsorted(space, worst)
    base = np.where(first > 0, running[first - 1], 0.0)
    middle = np.searchsorted(running, base + 0.5 * sums[worst])
    return np.unique(np.minimum(middle, len(lengths) - 1))
