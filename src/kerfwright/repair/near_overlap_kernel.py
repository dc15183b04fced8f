"""Kernels that find where pieces of line run along others within a tolerance, piece after piece.

Chains of pieces are laid one after another, the most important first. Each is compared with what
is kept already and gives up the runs that lie on it; only the rest is kept and compared with those
that follow. What is kept therefore never lies on itself, so that few pieces are near any place
however many are given, and a tolerance never adds up from one line to the next.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.repair.cell_kernel import NO_END, TINY_MM, Grid, entered, gathered, with_room

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

SHORTS, LONGS, TURNED = 0, 1, 2
"""Frames of the grid: of short pieces, of long ones near them, and from here on of long ones."""

STEEPEST = 0.5
STEEPEST_LONG = 0.02
CURVED = 6.0
LONG = 2.0 * CURVED / STEEPEST_LONG
"""How much two directions may differ, and how many tolerances a long piece has."""

RUN_ALL, RUN_ENDED, RUN_OWN, RUN_LOOSE = 2.0, 8.0, 100.0, 1000.0
"""Tolerances that a run must be long: see ``repair.near_overlaps``."""


class Given(NamedTuple):
    """Pieces of line and their chains; a piece's row holds ax, ay, bx, by in mm."""

    pieces: FloatArray
    full_mm: FloatArray
    """Length of the straight line that each was drawn as."""
    ends: IntArray
    """Numbers of both ends of every piece, shape (n, 2)."""
    sharp: BoolArray
    """Whether a line ends or turns sharply at the ends of every piece, shape (n, 2)."""
    whole: BoolArray
    """Pieces that give nothing up."""
    chain_pieces: IntArray
    chain_back: IntArray
    """1 for pieces that their chain follows backwards."""
    chain_starts: IntArray


class Kept(NamedTuple):
    """What is kept so far, in the grid where it is looked for."""

    grid: Grid
    occupied: BoolArray
    """Cells near short pieces; empty if there are none."""
    lines: FloatArray
    """ax, ay, bx, by, length of the whole line."""
    notes: IntArray
    """Numbers of both ends, 1 for each where a line ends, chain."""
    seen: BoolArray
    found: IntArray
    used: IntArray
    """How many there are, shape (1,)."""


class Run(NamedTuple):
    """Stretches of one chain that lie on others, in its order."""

    rows: IntArray
    """Piece, number of the end that bounds it at both sides."""
    spans: FloatArray
    """From, to, in mm along the piece."""
    flags: BoolArray
    """Goes on from the one before, begins and stops where a line ends, lies on its own chain."""


@njit(cache=True)
def covers(
    piece: FloatArray,
    full_mm: float,
    chain: int,
    found: IntArray,
    count: int,
    kept: FloatArray,
    notes: IntArray,
    tolerance: float,
) -> tuple[FloatArray, IntArray, BoolArray]:
    """Where a piece lies on kept ones, in mm along it, sorted and united.

    ``kept`` rows are ax, ay, bx, by, length of the whole line; ``notes`` rows the numbers of both
    ends, whether a line ends at each, and the chain. Returns spans (from, to), bounds (number of
    the end that is there, or ``NO_END``), and flags: whether a line ends at each, whether it is
    an end of a kept piece at all, and whether one of the same chain is among them.
    """
    ax, ay = piece[0], piece[1]
    length = np.hypot(piece[2] - ax, piece[3] - ay)
    ux, uy = (piece[2] - ax) / length, (piece[3] - ay) / length
    spans = np.empty((count, 2), np.float64)
    bounds = np.empty((count, 2), np.int64)
    flags = np.empty((count, 5), np.bool_)
    m = 0
    longest = 0
    for k in range(count):
        t = found[k]
        px, py, qx, qy = kept[t, 0] - ax, kept[t, 1] - ay, kept[t, 2] - ax, kept[t, 3] - ay
        da, db = ux * py - uy * px, ux * qy - uy * qx
        if (da > tolerance and db > tolerance) or (da < -tolerance and db < -tolerance):
            continue
        ta, tb = ux * px + uy * py, ux * qx + uy * qy
        first = 0
        if ta > tb:
            ta, tb, da, db, first = tb, ta, db, da, 1
        if tb <= TINY_MM or ta >= length - TINY_MM:
            continue
        steepest = CURVED * tolerance * (1.0 / full_mm + 1.0 / kept[t, 4])
        steepest = min(max(steepest, STEEPEST_LONG), STEEPEST)
        if abs(db - da) > steepest * (tb - ta):
            continue
        low, high = ta, tb
        at_low, at_high = abs(da) <= tolerance, abs(db) <= tolerance
        if not at_low:
            low = ta + (tb - ta) * (np.copysign(tolerance, da) - da) / (db - da)
        if not at_high:
            high = ta + (tb - ta) * (np.copysign(tolerance, db) - da) / (db - da)
        hard_low = at_low and notes[t, 2 + first] == 1 and low >= -tolerance
        hard_high = at_high and notes[t, 3 - first] == 1 and high <= length + tolerance
        bounds[m, 0] = notes[t, first] if at_low and low > TINY_MM else NO_END
        bounds[m, 1] = notes[t, 1 - first] if at_high and high < length - TINY_MM else NO_END
        low = 0.0 if low <= TINY_MM else low
        high = length if high >= length - TINY_MM else high
        if high - low <= TINY_MM:
            continue
        spans[m, 0], spans[m, 1] = low, high
        flags[m, 0], flags[m, 1], flags[m, 2], flags[m, 3] = hard_low, hard_high, at_low, at_high
        flags[m, 4] = notes[t, 4] == chain
        m += 1
        if m > 1 and _lies_in(spans, flags, m - 1, longest):
            m -= 1
        elif high - low > spans[longest, 1] - spans[longest, 0]:
            longest = m - 1
    return _united(spans[:m], bounds[:m], flags[:m])


@njit(cache=True)
def _lies_in(spans: FloatArray, flags: BoolArray, one: int, other: int) -> bool:
    """Whether a stretch lies in another, which then takes what it says about common ends."""
    low, high = spans[one, 0] - spans[other, 0], spans[other, 1] - spans[one, 1]
    if low < -TINY_MM or high < -TINY_MM:
        return False
    flags[other, 0] |= flags[one, 0] and low <= TINY_MM
    flags[other, 1] |= flags[one, 1] and high <= TINY_MM
    flags[other, 4] |= flags[one, 4]
    return True


@njit(cache=True)
def _united(
    spans: FloatArray, bounds: IntArray, flags: BoolArray
) -> tuple[FloatArray, IntArray, BoolArray]:
    if len(spans) < 2:
        return spans, bounds, flags
    order = np.argsort(spans[:, 0])
    spans, bounds, flags = spans[order], bounds[order], flags[order]
    last = 0
    for k in range(1, len(spans)):
        if spans[k, 0] > spans[last, 1] + TINY_MM:
            last += 1
            spans[last], bounds[last], flags[last] = spans[k], bounds[k], flags[k]
            continue
        if spans[k, 0] <= spans[last, 0] + TINY_MM:
            flags[last, 0] |= flags[k, 0]
        more = spans[k, 1] - spans[last, 1]
        if more > TINY_MM:
            spans[last, 1], bounds[last, 1] = spans[k, 1], bounds[k, 1]
            flags[last, 1], flags[last, 3] = flags[k, 1], flags[k, 3]
        elif more >= -TINY_MM:
            flags[last, 1] |= flags[k, 1]
        flags[last, 4] |= flags[k, 4]
    return spans[: last + 1], bounds[: last + 1], flags[: last + 1]


@njit(cache=True)
def _frame_of(piece: FloatArray, turned: int) -> int:
    angle = np.arctan2(piece[3] - piece[1], piece[2] - piece[0]) % np.pi
    return int(angle / np.pi * turned) % turned


@njit(cache=True)
def _near(kept: Kept, piece: FloatArray, is_long: bool, reach: float) -> int:
    """Put the numbers of kept pieces that may run along a piece into ``found``; returns how many.

    Long pieces look for each other in cells that are long and narrow along their own direction.
    """
    grid, seen, found = kept.grid, kept.seen, kept.found
    count = 0
    if len(kept.occupied):
        count = gathered(grid, SHORTS, piece, reach, seen, found, count)
    if not is_long:
        count = gathered(grid, LONGS, piece, reach, seen, found, count)
    else:
        turned = len(grid.frames) - TURNED
        own = _frame_of(piece, turned)
        angle = np.arctan2(piece[3] - piece[1], piece[2] - piece[0])
        for step in range(-1, 2):
            frame = TURNED + (own + step) % turned
            apart = (angle - np.arctan2(grid.frames[frame, 1], grid.frames[frame, 0])) % np.pi
            if min(apart, np.pi - apart) <= 0.5 * np.pi / turned + STEEPEST_LONG:
                count = gathered(grid, frame, piece, reach, seen, found, count)
    for k in range(count):
        seen[found[k]] = False
    return count


@njit(cache=True)
def _keep(
    kept: Kept, given: Given, p: int, low: float, high: float, chain: int, long_mm: float
) -> Kept:
    """Keep what lies between ``low`` and ``high`` of piece p; the result replaces ``kept``."""
    number = kept.used[0]
    kept.used[0] += 1
    lines, notes = with_room(kept.lines, number + 1), with_room(kept.notes, number + 1)
    seen, found = kept.seen, kept.found
    if len(seen) < len(lines):
        seen, found = np.zeros(len(lines), np.bool_), np.empty(len(lines), np.int64)
    x0, y0, x1, y1 = given.pieces[p]
    length = np.hypot(x1 - x0, y1 - y0)
    line, note = lines[number], notes[number]
    line[:4] = given.pieces[p]
    line[4] = given.full_mm[p]
    note[0], note[1], note[4] = given.ends[p, 0], given.ends[p, 1], chain
    note[2], note[3] = given.sharp[p, 0], given.sharp[p, 1]
    if low > 0.0:
        line[0], line[1] = x0 + (x1 - x0) * low / length, y0 + (y1 - y0) * low / length
        note[0], note[2] = NO_END, 0
    if high < length:
        line[2], line[3] = x0 + (x1 - x0) * high / length, y0 + (y1 - y0) * high / length
        note[1], note[3] = NO_END, 0
    grid = kept.grid
    anywhere = kept.occupied[:0]
    if given.full_mm[p] <= long_mm:
        grid = entered(grid, SHORTS, number, line, anywhere)
    else:
        if len(kept.occupied):
            grid = entered(grid, LONGS, number, line, kept.occupied)
        frame = TURNED + _frame_of(line, len(grid.frames) - TURNED)
        grid = entered(grid, frame, number, line, anywhere)
    return Kept(grid, kept.occupied, lines, notes, seen, found, kept.used)


@njit(cache=True)
def _chain_laid(given: Given, kept: Kept, chain: int, tolerance: float) -> tuple[Run, int, Kept]:
    """Compare a chain with what is kept, and keep what of it does not lie there.

    Returns the rest as a :class:`Run` with the number of its rows, and ``kept`` as it is now.
    """
    first, stop = given.chain_starts[chain], given.chain_starts[chain + 1]
    rows = np.empty((4, 3), np.int64)
    places = np.empty((4, 2), np.float64)
    marks = np.empty((4, 4), np.bool_)
    count = 0
    running = False
    for k in range(first, stop):
        p, back = given.chain_pieces[k], given.chain_back[k]
        piece = given.pieces[p]
        length = np.hypot(piece[2] - piece[0], piece[3] - piece[1])
        near = _near(kept, piece, given.full_mm[p] > LONG * tolerance, tolerance)
        spans, bounds, flags = covers(
            piece, given.full_mm[p], chain, kept.found, near, kept.lines, kept.notes, tolerance
        )
        m = len(spans)
        rows, places = with_room(rows, count + m), with_room(places, count + m)
        marks = with_room(marks, count + m)
        x = 0.0
        for q in range(m):
            s = m - 1 - q if back else q
            low, high = spans[s, 0], spans[s, 1]
            if back:
                low, high = length - high, length - low
            sharp_low, sharp_high = given.sharp[p, back], given.sharp[p, 1 - back]
            hard_low = flags[s, back] or (low <= TINY_MM and sharp_low)
            hard_high = flags[s, 1 - back] or (high >= length - TINY_MM and sharp_high)
            end_low, end_high = bounds[s, back], bounds[s, 1 - back]
            # what is left of a line's end where it lies on another's end is no line of its own
            if sharp_low and flags[s, 2 + back] and low <= tolerance:
                low, end_low, hard_low = 0.0, NO_END, True
            if sharp_high and flags[s, 3 - back] and length - high <= tolerance:
                high, end_high, hard_high = length, NO_END, True
            if low > x + TINY_MM:
                u, v = (length - low, length - x) if back else (x, low)
                kept = _keep(kept, given, p, u, v, chain, LONG * tolerance)
                running = False
            rows[count, 0], rows[count, 1 + back], rows[count, 2 - back] = p, end_low, end_high
            places[count, back], places[count, 1 - back] = low, high
            if back:
                places[count, 0], places[count, 1] = length - high, length - low
            marks[count, 0], marks[count, 1], marks[count, 2] = running, hard_low, hard_high
            marks[count, 3] = flags[s, 4]
            count += 1
            running = True
            x = high
        if x < length - TINY_MM:
            u, v = (0.0, length - x) if back else (x, length)
            kept = _keep(kept, given, p, u, v, chain, LONG * tolerance)
            running = False
    return Run(rows, places, marks), count, kept


@njit(cache=True)
def _counts(run: Run, first: int, stop: int, is_all: bool, tolerance: float) -> bool:
    """Whether stretches ``first`` to ``stop`` of a chain are long enough to be given up."""
    length = 0.0
    own = False
    for k in range(first, stop):
        length += run.spans[k, 1] - run.spans[k, 0]
        own |= run.flags[k, 3]
    least = RUN_LOOSE
    if run.flags[first, 1] and run.flags[stop - 1, 2]:
        least = RUN_OWN if own else (RUN_ALL if is_all else RUN_ENDED)
    return length > least * tolerance


@njit(cache=True)
def laid(
    given: Given, order: IntArray, kept: Kept, tolerance: float
) -> tuple[IntArray, FloatArray]:
    """Lay chains over one another in ``order``; returns the stretches that they give up.

    These are rows of piece and the numbers of the ends that bound the stretch, ``NO_END`` where
    none does; and from, to in mm along the piece.
    """
    rows = np.empty((16, 3), np.int64)
    spans = np.empty((16, 2), np.float64)
    count = 0
    for chain in order:
        head = given.chain_starts[chain]
        if given.whole[given.chain_pieces[head]]:
            for k in range(head, given.chain_starts[chain + 1]):
                p = given.chain_pieces[k]
                kept = _keep(kept, given, p, 0.0, np.inf, chain, LONG * tolerance)
            continue
        before = kept.used[0]
        run, m, kept = _chain_laid(given, kept, chain, tolerance)
        is_all = kept.used[0] == before
        first = 0
        while first < m:
            stop = first + 1
            while stop < m and run.flags[stop, 0]:
                stop += 1
            given_up = _counts(run, first, stop, is_all, tolerance)
            if given_up:
                rows, spans = with_room(rows, count + m), with_room(spans, count + m)
            for k in range(first, stop):
                if given_up:
                    rows[count], spans[count] = run.rows[k], run.spans[k]
                    count += 1
                else:
                    p, low, high = run.rows[k, 0], run.spans[k, 0], run.spans[k, 1]
                    kept = _keep(kept, given, p, low, high, chain, LONG * tolerance)
            first = stop
    return rows[:count], spans[:count]
