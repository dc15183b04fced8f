"""A time that no plan in rows and loops can beat, whatever its cells: a fractional cover.

Every place of an area asks for 1 / interval mm of burn for each mm². A plan buys burn in rows, and
in loops. A row burns all that lies on a line between two of its points, as far as it likes, for
one turn and its length over the speed, gaps included; a turn of the loops that engrave the whole
area burns what lies along it for what the clock says of it. Paying for burn is a covering
problem; whatever prices p (seconds for a mm of burn, by place) make no row and no turn of a loop
worth more than it costs, Σ p · demand is at most the time of any plan (weak duality; Vašek Chvátal,
*Linear Programming*, 1983, chapter 5). The best prices come from a linear programme over boxes of
a grid, rows added where they are worth more than they cost (Gilmore & Gomory 1961) until hardly
any is. Rows begin and end at any box, and what they burn of one is measured exactly. What a turn of
the loops burns of a box is its share of what all of them burn there, so that the rounding to whole
loops makes no box dearer than they are.

Rows are sampled, so that others may be worth more still. Sample after sample, each of other
directions and places, rows are added and prices made anew, until what a new one finds is little:
islands in a row are lined up by directions so exact that one sample misses most of them. At last
prices are lowered until none of many rows that no price was made from is worth more than it costs.
Before that, box by box, they are raised: let m be the least cost over worth of all rows and turns
that pass a box, then with the price p·m instead of p a row of worth w and cost c is worth at most
the sum of its p·(c / w), which is c. So prices at which no row is worth more than it costs stay
such prices, and the bound only grows.

What this holds for: every plan whose burns are straight rows at the recipe's speed, at any angle
and place, in any order, each followed by a turn that reverses it or costs as much, and turns of
the loops of the whole area, whatever is taken from either. What is left out is in favour of the
plan's time being called far from the bound: travel between cells and within, rows closing curved
edges, run-ups of different rows, and that rows of several directions through one place cannot
share its burn as evenly as the sum allows, the less so the smaller the boxes are. Not held are
curves other than those loops, and rows slower than the recipe's speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numba import njit
from scipy.optimize import linprog
from scipy.sparse import csr_array, diags_array, vstack
from shapely import MultiPolygon

from kerfwright.engraving.burn import Burn, row_motion
from kerfwright.engraving.cell_grid import Grid, grid_of
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.rows import edges_of
from kerfwright.engraving.rows_kernel import IntArray, cross_rows
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import move_times_s
from kerfwright.shop.machine import Machine

BOXES = 1300
"""About as many boxes hold the prices; more make the bound tighter."""

STEP_DEG = 7.5

PLACES = 12
"""Rows tried for every box that they pass, each with directions of its own."""

GOLDEN = 0.6180339887
"""Samples are shifted by multiples of this, which never come near one another (Weyl 1916)."""

SAMPLES = 6
"""Samples of rows that prices are made from; each has other places and directions."""

KEPT = 3
"""The last so many samples and the prices made from them decide the bound."""

ROUNDS = 12
"""Prices made from one sample, at most."""

WORTH_ADDING = 1.02

MOST_ADDED = 3000

TURN_SHARE = 0.995
"""The clock passes the point of a turn at a crawl, not at rest; turns take that much less."""

HIGHEST_S_MM = 0.2

RAISES = 4


@dataclass(frozen=True, eq=False, slots=True)
class _Rows:
    """Lines across the area, cut into pieces at its outline and at every box, and what rows cost.

    A row may begin and end anywhere; of all that do, one from piece to piece is worth most for its
    cost, as a box has one price.
    """

    passes: csr_array
    """mm of every piece in its box, shape (pieces, boxes)."""
    a: FloatArray
    b: FloatArray
    first: IntArray
    """Line l has pieces ``first[l]`` to ``first[l + 1]``."""
    turn_s: FloatArray
    speed_mm_s: FloatArray


def cover_bound_s(
    area: MultiPolygon, burn: Burn, machine: Machine, *, boxes: int = BOXES, places: int = PLACES
) -> float:
    """Seconds that engraving ``area`` once takes at the least."""
    around = float(np.prod(np.ptp(np.array(area.bounds).reshape(2, 2), axis=0)))
    boxes = int(boxes * around / area.area)
    grid = grid_of(area, 0.0, burn.interval_mm, boxes)
    turns = _loops(area, burn, machine, grid)
    demand = grid.held_mm2 / burn.interval_mm
    prices = np.full(len(demand), HIGHEST_S_MM)

    def sample(number: int) -> _Rows:
        shift = number * GOLDEN % 1.0
        return _rows(area, burn, machine, grid, [(k + shift) / places for k in range(places)])

    samples = [sample(0)]
    covers, costs = turns
    made: list[FloatArray] = []
    for number in range(1, SAMPLES):
        for _ in range(ROUNDS):
            more, cost, worth = _worth_adding(samples[-1], prices)
            if worth < WORTH_ADDING:
                break
            covers, costs = vstack([covers, more]).tocsr(), np.append(costs, cost)
            prices = _prices(demand, covers, costs)
        made = [*made[1 - KEPT :], prices]
        samples = [*samples[1 - KEPT :], sample(number)]
    # each is the best for its sample and too dear elsewhere, the mean is hardly so anywhere
    prices = np.mean(made, axis=0)
    for _ in range(RAISES):
        prices = _raised(prices, turns, *samples)
    return _lowered_s(prices, demand, *samples, sample(SAMPLES))


def _raised(prices: FloatArray, turns: tuple[csr_array, FloatArray], *tried: _Rows) -> FloatArray:
    """Prices times the least cost over worth of all that passes a box; lowered where it is dear."""
    dearest = np.zeros(len(prices))
    for rows in tried:
        dear = _dearest(
            rows.passes @ prices, rows.a, rows.b, rows.first, rows.turn_s, rows.speed_mm_s
        )
        _raise_to(dearest, rows.passes, dear)
    passes, costs = turns
    _raise_to(dearest, passes, passes @ prices / costs)
    # what no row passes may have no price: nothing is known of it
    return np.divide(prices, dearest, out=np.zeros(len(prices)), where=dearest > 0.0)


def _raise_to(by_box: FloatArray, passes: csr_array, by_line: FloatArray) -> None:
    np.maximum.at(by_box, passes.indices, np.repeat(by_line, np.diff(passes.indptr)))


@njit(cache=True)
def _dearest(
    worth: FloatArray,
    a: FloatArray,
    b: FloatArray,
    first: IntArray,
    turn: FloatArray,
    speed: FloatArray,
) -> FloatArray:
    """Of every piece the largest worth over cost of a row that burns it."""
    out = np.zeros(len(worth))
    upto = np.empty(len(worth))
    for line in range(len(first) - 1):
        run = 0.0
        for j in range(first[line], first[line + 1]):
            run += worth[j]
            upto[j] = run
        for i in range(first[line], first[line + 1]):
            before = upto[i] - worth[i]
            best = 0.0
            for j in range(first[line + 1] - 1, i - 1, -1):
                cost = turn[line] + (b[j] - a[i]) / speed[line]
                best = max(best, (upto[j] - before) / cost)
                out[j] = max(out[j], best)
    return out


def _prices(demand: FloatArray, covers: csr_array, costs: FloatArray) -> FloatArray:
    limits = (0.0, HIGHEST_S_MM)
    # an interior point is fast, and need not be exact: prices are made good afterwards
    table: Any = covers  # sparse tables are taken too, which the stubs do not know
    solved = linprog(-demand, table, costs, bounds=limits, method="highs-ipm")
    return np.maximum(np.asarray(solved.x, dtype=np.float64), 0.0)


def _rows(
    area: MultiPolygon, burn: Burn, machine: Machine, grid: Grid, places: list[float]
) -> _Rows:
    boxes, ends, firsts, turns, speeds = [], [], [np.zeros(1, dtype=np.int64)], [], []
    numbers = _numbers(grid)
    found = 0
    for number, place in enumerate(places):
        shift_deg = STEP_DEG * ((number + place) / len(places) % 1.0)
        for angle in [0.0, 90.0, *np.arange(0.0, 180.0, STEP_DEG) + shift_deg]:
            edges = edges_of(area, angle)
            low, high = float(edges[:, 1].min()), float(edges[:, 1].max())
            count = max(1, round((high - low) / grid.pitch_mm))
            step = (high - low) / count
            start, x = cross_rows(edges, low + (place % 1.0 + 1e-3) * step, step, count)
            a, b = x[0::2], x[1::2]
            line = np.repeat(np.arange(count), np.diff(start) // 2)
            heights = (low + (place % 1.0 + 1e-3 + line) * step).astype(np.float64)
            turn = rotation(angle)
            whole, box, begin, end = _crossed(
                turn.apply(np.column_stack([a, heights])),
                turn.apply(np.column_stack([b, heights])),
                grid.x,
                grid.y,
                numbers,
            )
            boxes.append(box)
            ends.append(np.column_stack([a[whole] + begin, a[whole] + end]))
            pieces = np.bincount(line[whole], minlength=count)
            pieces = pieces[pieces > 0]
            firsts.append(found + np.cumsum(pieces))
            found += len(box)
            motion = row_motion(machine, burn, angle)
            turns.append(np.full(len(pieces), TURN_SHARE * motion.turn_s))
            speeds.append(np.full(len(pieces), motion.speed_mm_s))
    a, b = np.vstack(ends).T
    shape = (found, len(grid.row))
    return _Rows(
        csr_array((b - a, np.concatenate(boxes), np.arange(found + 1)), shape=shape),
        np.ascontiguousarray(a),
        np.ascontiguousarray(b),
        np.concatenate(firsts),
        np.concatenate(turns),
        np.concatenate(speeds),
    )


def _numbers(grid: Grid) -> IntArray:
    numbers = np.full((len(grid.y) - 1, len(grid.x) - 1), -1, dtype=np.int64)
    numbers[grid.row, grid.column] = np.arange(len(grid.row))
    return numbers


@njit(cache=True)
def _crossed(
    starts: FloatArray, ends: FloatArray, x: FloatArray, y: FloatArray, numbers: IntArray
) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Every box that a line passes, and from where to where along the line, exactly."""
    room = 0
    for i in range(len(starts)):
        for axis, at in ((0, x), (1, y)):
            one, other = np.searchsorted(at, starts[i, axis]), np.searchsorted(at, ends[i, axis])
            room += abs(one - other)
        room += 1
    line, box = np.empty(room, dtype=np.int64), np.empty(room, dtype=np.int64)
    begin, end = np.empty(room), np.empty(room)
    n = 0
    for i in range(len(starts)):
        step_x, step_y = ends[i, 0] - starts[i, 0], ends[i, 1] - starts[i, 1]
        length = np.hypot(step_x, step_y)
        cuts = [0.0, 1.0]
        for axis, at, step in ((0, x, step_x), (1, y, step_y)):
            one, other = np.searchsorted(at, starts[i, axis]), np.searchsorted(at, ends[i, axis])
            for k in range(min(one, other), max(one, other)):
                cuts.append((at[k] - starts[i, axis]) / step)  # noqa: PERF401 - for the compiler
        cuts.sort()
        for k in range(len(cuts) - 1):
            middle = 0.5 * (cuts[k] + cuts[k + 1])
            column = np.searchsorted(x, starts[i, 0] + middle * step_x) - 1
            row = np.searchsorted(y, starts[i, 1] + middle * step_y) - 1
            if 0 <= column < numbers.shape[1] and 0 <= row < numbers.shape[0]:
                number = numbers[row, column]
                if number >= 0:
                    line[n], box[n] = i, number
                    begin[n], end[n] = cuts[k] * length, cuts[k + 1] * length
                    n += 1
    return line[:n], box[:n], begin[:n], end[:n]


def _worth_adding(rows: _Rows, prices: FloatArray) -> tuple[csr_array, FloatArray, float]:
    """Rows worth more than they cost, one a line: what they pass, their cost, the largest ratio."""
    worth = rows.passes @ prices
    begin, end, cost, ratio = _best_rows(
        worth, rows.a, rows.b, rows.first, rows.turn_s, rows.speed_mm_s
    )
    taken = np.flatnonzero(ratio > 1.0 + 1e-4)
    taken = taken[np.argsort(-ratio[taken], kind="stable")][:MOST_ADDED]
    long = end[taken] - begin[taken]
    row = np.repeat(np.arange(len(taken)), long)
    piece = np.arange(long.sum()) - np.repeat(np.cumsum(long) - long, long) + begin[taken][row]
    chosen = csr_array((np.ones(len(row)), (row, piece)), shape=(len(taken), len(rows.a)))
    return chosen @ rows.passes, cost[taken], float(ratio.max())


@njit(cache=True)
def _best_rows(
    worth: FloatArray,
    a: FloatArray,
    b: FloatArray,
    first: IntArray,
    turn: FloatArray,
    speed: FloatArray,
) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Of every line the stretch of pieces whose worth over cost is largest."""
    lines = len(first) - 1
    begin = np.zeros(lines, dtype=np.int64)
    end = np.zeros(lines, dtype=np.int64)
    cost = np.zeros(lines)
    ratio = np.zeros(lines)
    for line in range(lines):
        for i in range(first[line], first[line + 1]):
            total = 0.0
            for j in range(i, first[line + 1]):
                total += worth[j]
                seconds = turn[line] + (b[j] - a[i]) / speed[line]
                if total / seconds > ratio[line]:
                    ratio[line] = total / seconds
                    begin[line], end[line], cost[line] = i, j + 1, seconds
    return begin, end, cost, ratio


def _loops(
    area: MultiPolygon, burn: Burn, machine: Machine, grid: Grid
) -> tuple[csr_array, FloatArray]:
    """Every turn of the loops, travel left out: what boxes it passes, and its seconds.

    A turn ends where the direction has turned once round since its beginning.
    """
    toolpath = contour_parallel(area, burn, machine).toolpath
    seconds, length = move_times_s(toolpath, machine), toolpath.lengths_mm
    steps = np.diff(toolpath.points, axis=0)
    heading = np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))
    burning = toolpath.burning & (length > 0.0)
    turn = _turns(heading, burning)
    moves = np.flatnonzero(burning)
    points = toolpath.points
    move, box, begin, end = _crossed(
        points[moves], points[moves + 1], grid.x, grid.y, _numbers(grid)
    )
    own = csr_array((end - begin, (move, box)), shape=(len(moves), len(grid.row)))
    shape = (int(turn.max()) + 1, len(moves))
    of_turn = csr_array((np.ones(len(moves)), (turn[moves], np.arange(len(moves)))), shape=shape)
    passes = of_turn @ own
    # how many loops happen to pass a box is not the place's: all of them together burn it once
    burned: FloatArray = passes.sum(axis=0)
    demand = grid.held_mm2 / burn.interval_mm
    share = np.divide(demand, burned, out=np.zeros(len(demand)), where=burned > 0.0)
    passes = (passes @ diags_array(share)).tocsr()
    taken = np.bincount(turn[moves], seconds[moves], minlength=shape[0]).astype(np.float64)
    timed = np.flatnonzero(taken > 0.0)
    return passes[timed], taken[timed]


@njit(cache=True)
def _turns(heading: FloatArray, burning: np.ndarray) -> IntArray:
    """Number of the turn that every move belongs to."""
    turn = np.zeros(len(heading), dtype=np.int64)
    now = 0
    began = heading[0]
    for i in range(len(heading)):
        if i > 0 and (not burning[i - 1] or abs(heading[i] - began) > 2.0 * np.pi):
            now += 1
            began = heading[i]
        turn[i] = now
    return turn


def _lowered_s(prices: FloatArray, demand: FloatArray, *tried: _Rows) -> float:
    """What the demand is worth at prices at which no row is worth more than it costs.

    Either all are lowered alike, or every box by the worst row that passes it: the better one.
    """
    worst = 1.0
    by_box = np.ones(len(prices))
    for rows in tried:
        ratio = _best_rows(
            rows.passes @ prices, rows.a, rows.b, rows.first, rows.turn_s, rows.speed_mm_s
        )[3]
        worst = max(worst, float(ratio.max()))
        for line in np.flatnonzero(ratio > 1.0):
            # any stretch of the line may be too dear, not only the worst one
            boxes = rows.passes[rows.first[line] : rows.first[line + 1]].indices
            by_box[boxes] = np.minimum(by_box[boxes], 1.0 / ratio[line])
    return max(float(demand @ prices) / worst, float(demand @ (prices * by_box)))
