"""Compiled loops over rows: where they cross an area, what they leave uncovered, how they move.

Rows lie along x of a frame turned so that the scan angle is level. Tables of segments are flat
and sorted: row by row upwards, in a row from left to right.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]

LEAST_SAVED_S = 1e-6
"""A travel that saves less is rounding and is not made."""

RUN_UP, ROW, TRAVEL = 1, 2, 0
"""Values of :class:`kerfwright.toolpath.MoveKind`."""


@njit(cache=True, nogil=True)
def along_s(length: float, motion: FloatArray) -> float:
    """Seconds of a row from end to end, as :meth:`kerfwright.engraving.burn.RowMotion.along_s`;
    ``motion`` is a :attr:`~kerfwright.engraving.burn.RowMotion.closed_form`.
    """
    v, u, a = motion[0], motion[1], motion[2]
    if u >= v:
        return float(length / v + length * motion[3])
    longest = min(length, (v * v - u * u) / a)
    ramps = 2.0 * (np.sqrt(u * u + a * longest) - u) / a
    return float(ramps + (length - longest) / v + length * motion[3])


@njit(cache=True, nogil=True)
def crossings(
    edges: FloatArray, first_y: float, step: float, count: int
) -> tuple[IntArray, FloatArray, IntArray]:
    """Like :func:`cross_rows`, but not sorted along the lines, and with each crossing's edge."""
    n = len(edges)
    low = np.empty(n, dtype=np.int64)
    high = np.empty(n, dtype=np.int64)
    start = np.zeros(count + 1, dtype=np.int64)
    for e in range(n):
        y0 = min(edges[e, 1], edges[e, 3])
        y1 = max(edges[e, 1], edges[e, 3])
        low[e] = max(0, int(np.ceil((y0 - first_y) / step)))
        high[e] = min(count, int(np.ceil((y1 - first_y) / step)))
        for k in range(low[e], high[e]):
            start[k + 1] += 1
    for k in range(count):
        start[k + 1] += start[k]
    x = np.empty(start[count])
    edge = np.empty(start[count], dtype=np.int64)
    fill = start[:-1].copy()
    for e in range(n):
        if low[e] >= high[e]:
            continue
        slope = (edges[e, 2] - edges[e, 0]) / (edges[e, 3] - edges[e, 1])
        for k in range(low[e], high[e]):
            x[fill[k]] = edges[e, 0] + slope * (first_y + k * step - edges[e, 1])
            edge[fill[k]] = e
            fill[k] += 1
    return start, x, edge


FEW_CROSSINGS = 24
"""As many are put in order on the spot, without the memory that a call for sorting takes."""


@njit(cache=True, nogil=True)
def cross_rows(
    edges: FloatArray, first_y: float, step: float, count: int
) -> tuple[IntArray, FloatArray]:
    """Where level lines cross edges, sorted along each line.

    Args:
        edges: x0, y0, x1, y1 of every edge of closed rings, shape (n, 4).
        first_y: height of line 0.
        step: distance of neighbouring lines.
        count: number of lines.

    Returns:
        ``start`` of shape (count + 1,) and ``x``: line i has ``x[start[i]:start[i + 1]]``, an
        even number. An edge owns its lower end and not its upper one, so that a line through a
        vertex counts once.

    """
    start, x, _ = crossings(edges, first_y, step, count)
    for k in range(count):
        if start[k + 1] - start[k] > FEW_CROSSINGS:
            x[start[k] : start[k + 1]].sort()
            continue
        for i in range(start[k] + 1, start[k + 1]):
            one = x[i]
            at = i
            while at > start[k] and x[at - 1] > one:
                x[at] = x[at - 1]
                at -= 1
            x[at] = one
    return start, x


@njit(cache=True, nogil=True)
def _burned_near(
    y: float,
    row_y: FloatArray,
    row_start: IntArray,
    burn_a: FloatArray,
    burn_b: FloatArray,
    radius: float,
    spans: FloatArray,
) -> int:
    """Put what burns reach of the level line at ``y`` into ``spans``, from left to right; the
    number of spans.
    """
    r0 = np.searchsorted(row_y, y - radius, side="right")
    r1 = np.searchsorted(row_y, y + radius, side="left")
    n = 0
    for r in range(r0, r1):
        off = y - row_y[r]
        reach = np.sqrt(max(radius * radius - off * off, 0.0))
        known = n
        n += row_start[r + 1] - row_start[r]
        # a row lies from left to right itself: it is merged with those before it from the right
        old, new = known - 1, row_start[r + 1] - 1
        for at in range(n - 1, -1, -1):
            if new < row_start[r]:
                break
            low = burn_a[new] - reach
            if old >= 0 and spans[old, 0] > low:
                spans[at, 0], spans[at, 1] = spans[old, 0], spans[old, 1]
                old -= 1
            else:
                spans[at, 0], spans[at, 1] = low, burn_b[new] + reach
                new -= 1
    return n


@njit(cache=True, nogil=True)
def find_uncovered(
    lines: IntArray,
    line_start: IntArray,
    line_x: FloatArray,
    line_y: FloatArray,
    row_y: FloatArray,
    row_start: IntArray,
    burns: tuple[FloatArray, FloatArray],
    radius: float,
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Pieces of level lines inside an area that no round beam of ``radius`` has reached.

    Args:
        lines: numbers of the lines to look at.
        line_start: line j crosses the area's edges at ``line_x[line_start[j]]`` and so on.
        line_x: where lines cross edges, sorted along each line.
        line_y: height of every line.
        row_y: height of every row, rising.
        row_start: row r has burns ``row_start[r]`` to ``row_start[r + 1]``.
        burns: left and right end of every burn, sorted along each row.
        radius: half the width of a burn.

    Returns:
        line number, left and right end of every piece.

    """
    burn_a, burn_b = burns
    room, most = 0, 0
    for j in lines:
        r0 = np.searchsorted(row_y, line_y[j] - radius, side="right")
        r1 = np.searchsorted(row_y, line_y[j] + radius, side="left")
        near = row_start[r1] - row_start[r0] if r1 > r0 else 0
        room += (line_start[j + 1] - line_start[j]) // 2 + near
        most = max(most, near)
    number = np.empty(room, dtype=np.int64)
    left = np.empty(room)
    right = np.empty(room)
    spans = np.empty((most, 2))
    found = 0
    for j in lines:
        n = _burned_near(line_y[j], row_y, row_start, burn_a, burn_b, radius, spans)
        at = 0
        covered_to = -np.inf
        for c in range(line_start[j], line_start[j + 1], 2):
            x = line_x[c]
            end = line_x[c + 1]
            while True:
                while at < n and spans[at, 0] <= max(x, covered_to):
                    covered_to = max(covered_to, spans[at, 1])
                    at += 1
                x = max(x, covered_to)
                if x >= end:
                    break
                stop = min(end, spans[at, 0]) if at < n else end
                number[found] = j
                left[found] = x
                right[found] = stop
                found += 1
                if stop >= end:
                    break
                x = stop
    return number[:found], left[:found], right[:found]


@njit(cache=True)
def label_cells(row_start: IntArray, a: FloatArray, b: FloatArray) -> IntArray:
    """Cell of every segment: runs of rows in which one segment follows exactly one other.

    This is the boustrophedon cellular decomposition (Choset & Pignon 1997) of sampled rows.
    """
    cell = np.full(len(a), -1, dtype=np.int64)
    above = np.zeros(len(a), dtype=np.int64)
    below = np.zeros(len(a), dtype=np.int64)
    partner = np.full(len(a), -1, dtype=np.int64)
    for k in range(len(row_start) - 2):
        s, s_end = row_start[k], row_start[k + 1]
        t, t_end = row_start[k + 1], row_start[k + 2]
        while s < s_end and t < t_end:
            if min(b[s], b[t]) > max(a[s], a[t]):
                above[s] += 1
                below[t] += 1
                partner[t] = s
            if b[s] < b[t]:
                s += 1
            else:
                t += 1
    cells = 0
    for i in range(len(a)):
        if below[i] == 1 and above[partner[i]] == 1:
            cell[i] = cell[partner[i]]
        else:
            cell[i] = cells
            cells += 1
    return cell


@njit(cache=True)
def drive_rows(
    row_y: FloatArray,
    row_start: IntArray,
    burns: FloatArray,
    jump_after: npt.NDArray[np.bool_],
    order: IntArray,
    rightwards: bool,
    motion: FloatArray,
) -> tuple[FloatArray, IntArray]:
    """Moves along rows, to and fro, each with its run-up; the first point is where they start.

    Args:
        row_y: height of every row.
        row_start: row r has burns ``row_start[r]`` to ``row_start[r + 1]``.
        burns: left and right end of every burn, shape (n, 2).
        jump_after: whether the gap to the right of a burn is travelled, not crossed.
        order: rows in the order of burning.
        rightwards: direction of the first row.
        motion: burning speed, run-up, travel speed, travel acceleration, settling time, time of
            a step to the next row, and the steepest slant of a run-up: where half the step to the
            next row is no more than that, the way out and the way back lean towards each other
            and meet in one point, which saves the step; and above 0 if all rows are burned in one
            direction.

    Returns:
        points of shape (moves + 1, 2) and the kind of every move.

    """
    room = 2
    for r in order:
        room += 5 * (row_start[r + 1] - row_start[r]) + 5
    points = np.empty((room, 2))
    kind = np.empty(room, dtype=np.int64)
    r = order[0]
    run, steepest = motion[1], motion[6] * motion[1]
    d = 1.0 if rightwards else -1.0
    entry = burns[row_start[r], 0] if rightwards else burns[row_start[r + 1] - 1, 1]
    n = _put(points, kind, 0, entry - d * run, row_y[r], TRAVEL)
    for i in range(len(order)):
        r = order[i]
        s0, s1 = row_start[r], row_start[r + 1]
        if i > 0:
            last = points[n - 1, 0]
            entry, now, travels = _turn(last, d, burns[s0, 0], burns[s1 - 1, 1], motion)
            leave, arrive = last + d * run, entry - now * run
            step = TRAVEL if travels else RUN_UP
            if motion[7] > 0.0:
                step = _way_back(arrive - leave, motion)
            if not travels:
                # running on at speed past the shorter row's end beats stopping twice
                leave = arrive = max(leave, arrive) if d > 0 else min(leave, arrive)
            below = row_y[order[i - 1]]
            if not travels and 0.5 * abs(row_y[r] - below) <= steepest:
                n = _put(points, kind, n, arrive, 0.5 * (below + row_y[r]), RUN_UP)
            else:
                n = _put(points, kind, n, leave, below, RUN_UP)
                n = _put(points, kind, n, arrive, row_y[r], step)
            d = now
        n = _put(points, kind, n, entry, row_y[r], RUN_UP)
        n = _burn_row(points, kind, n, burns[s0:s1], jump_after[s0:s1], d, run)
    n = _put(points, kind, n, points[n - 1, 0] + d * run, row_y[order[-1]], RUN_UP)
    return points[:n], kind[1:n]


@njit(cache=True)
def _turn(
    last: float, d: float, left: float, right: float, motion: FloatArray
) -> tuple[float, float, bool]:
    """Where the next row is entered, in which direction, and whether the way there is travelled.

    Either the beam turns round and comes back, or it goes on the same way to a row ahead.
    """
    back = right if d > 0 else left
    ahead = left if d > 0 else right
    if motion[7] > 0.0:
        return ahead, d, True
    run_on = abs(last - back) / motion[0] + motion[5]
    jump = _rest_to_rest(last - back, motion)
    same = _rest_to_rest(last + d * 2.0 * motion[1] - ahead, motion)
    if same < min(run_on, jump):
        return ahead, d, True
    return back, -d, jump < run_on - LEAST_SAVED_S


@njit(cache=True)
def _way_back(distance: float, motion: FloatArray) -> int:
    """Kind of the move back to where a row begins: as fast as rows, or as a travel."""
    by_rows = (abs(distance) + 2.0 * motion[1]) / motion[0]
    return RUN_UP if by_rows <= _rest_to_rest(distance, motion) else TRAVEL


@njit(cache=True)
def _burn_row(
    points: FloatArray,
    kind: IntArray,
    n: int,
    burns: FloatArray,
    jump_after: npt.NDArray[np.bool_],
    d: float,
    run: float,
) -> int:
    """Put the burns of one row and the gaps between them; the beam is at the first already."""
    count = len(burns)
    y = points[n - 1, 1]
    for k in range(count):
        s = k if d > 0 else count - 1 - k
        here, there = (burns[s, 0], burns[s, 1]) if d > 0 else (burns[s, 1], burns[s, 0])
        if k > 0:
            if jump_after[s - 1 if d > 0 else s]:
                n = _put(points, kind, n, points[n - 1, 0] + d * run, y, RUN_UP)
                n = _put(points, kind, n, here - d * run, y, TRAVEL)
            n = _put(points, kind, n, here, y, RUN_UP)
        n = _put(points, kind, n, there, y, ROW)
    return n


@njit(cache=True)
def _put(points: FloatArray, kind: IntArray, n: int, x: float, y: float, what: int) -> int:
    points[n, 0] = x
    points[n, 1] = y
    kind[n] = what
    return n + 1


@njit(cache=True)
def _rest_to_rest(distance: float, motion: FloatArray) -> float:
    """Seconds of a travel from rest to rest, settling included."""
    length = abs(distance)
    top, acceleration = motion[2], motion[3]
    if length < top * top / acceleration:
        return float(2.0 * np.sqrt(length / acceleration) + motion[4])
    return float(length / top + top / acceleration + motion[4])
