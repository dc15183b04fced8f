"""Improves a tour: Or-opt, 2-opt and other entries, around the strokes that lie near.

Or-opt after Or (1976), 2-opt after Croes (*Operations Research* 6(6), 1958); neighbour lists,
the bound on what a new leg may cost and the queue of strokes to look at again as Bentley (*ORSA
Journal on Computing* 4(4), 1992) describes them.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.kernels import borrowing
from kerfwright.sequence.moves import Journal, is_full, may_shift, may_turn, shift, take, turn
from kerfwright.sequence.tour import (
    IntArray,
    Precedence,
    Tour,
    Travel,
    Ways,
    enter_s,
    leave,
    option_s,
    travel_s,
)

LONGEST_MOVE = 3
"""Longest run that Or-opt moves, as Or has it (from memory)."""

GAIN_S = 1e-9
"""Less is rounding, and could be gained for ever in a circle."""


class Ground(NamedTuple):
    """What a tour is improved on.

    ``neighbours`` has a row of near strokes for each stroke, filled up with -1. 2-opt turns runs
    of up to ``longest_turn`` strokes.
    """

    ways: Ways
    precedence: Precedence
    travel: Travel
    neighbours: IntArray
    longest_turn: int


class Queue(NamedTuple):
    """Strokes to look at, first come first served: a ring buffer, its head and length, members."""

    strokes: IntArray
    state: IntArray
    member: IntArray


def queue(n: int) -> Queue:
    """Return a queue for ``n`` strokes with none in it."""
    return Queue(
        np.zeros(n, dtype=np.int64), np.zeros(2, dtype=np.int64), np.zeros(n, dtype=np.int64)
    )


@borrowing(error_model="numpy")
def wake_all(tour: Tour, waiting: Queue) -> None:
    """Put all strokes into the queue, in the order of the tour."""
    for at in range(len(tour.order)):
        wake(at, tour, waiting)


@njit(cache=True, error_model="numpy")
def different(candidates: IntArray, count: int) -> IntArray:
    """Keep the first ``count`` different ones of each row that are not its own number; -1 none."""
    kept = np.full((len(candidates), count), -1, dtype=np.int64)
    for s in range(len(candidates)):
        used = 0
        for other in candidates[s]:
            if used == count:
                break
            if other != s and not np.any(kept[s, :used] == other):
                kept[s, used] = other
                used += 1
    return kept


@borrowing(error_model="numpy")
def wake(at: int, tour: Tour, waiting: Queue) -> None:
    """Put the stroke at a position into the queue, if there is such a position."""
    if not 0 <= at < len(tour.order):
        return
    s = tour.order[at]
    if waiting.member[s] == 0:
        n = len(waiting.strokes)
        waiting.strokes[(waiting.state[0] + waiting.state[1]) % n] = s
        waiting.state[1] += 1
        waiting.member[s] = 1


@borrowing(error_model="numpy")
def next_awake(waiting: Queue) -> int:
    """Take the first stroke out of the queue, which must not be empty."""
    s = waiting.strokes[waiting.state[0]]
    waiting.state[0] = (waiting.state[0] + 1) % len(waiting.strokes)
    waiting.state[1] -= 1
    waiting.member[s] = 0
    return int(s)


@borrowing(error_model="numpy")
def improve(tour: Tour, ground: Ground, waiting: Queue, kept: Journal) -> float:
    """Improve the tour in place around the strokes in the queue; return the seconds gained.

    A change puts the strokes around it into the queue; at the end it is empty, unless the
    journal is full before.
    """
    gained = 0.0
    while waiting.state[1] > 0 and not is_full(kept):
        s = next_awake(waiting)
        gain = _other_entry(s, tour, ground, waiting, kept)
        if gain == 0.0:
            gain = _beside_neighbours(s, tour, ground, waiting, kept)
        if gain > 0.0:
            gained += gain
            wake(tour.position[s], tour, waiting)
    return gained


@borrowing(error_model="numpy")
def _other_entry(s: int, tour: Tour, ground: Ground, waiting: Queue, kept: Journal) -> float:
    """Enter a stroke by its best option between the strokes before and after it."""
    ways, travel = ground.ways, ground.travel
    first, last = ways.first[s], ways.first[s + 1]
    if last - first < 2:
        return 0.0
    at = tour.position[s]
    x, y = leave(at - 1, tour, ways, travel)
    best, best_s = -1, math.inf
    for option in range(first, last):
        cost = option_s(x, y, option, ways, travel)
        if cost < best_s:
            cost += enter_s(ways.ends[option, 2], ways.ends[option, 3], at + 1, tour, ways, travel)
            if cost < best_s:
                best, best_s = option, cost
    now = tour.choice[s]
    old_s = option_s(x, y, now, ways, travel)
    old_s += enter_s(ways.ends[now, 2], ways.ends[now, 3], at + 1, tour, ways, travel)
    if best_s >= old_s - GAIN_S:
        return 0.0
    take(s, best, tour, kept)
    wake(at - 1, tour, waiting)
    wake(at + 1, tour, waiting)
    return old_s - best_s


@borrowing(error_model="numpy")
def _beside_neighbours(s: int, tour: Tour, ground: Ground, waiting: Queue, kept: Journal) -> float:
    """Bring a stroke beside one of its neighbours by a move that gains, if there is one.

    A move that gains has somewhere a new leg that is shorter than an old one at the same end of
    a stroke (Bentley's bound); only such new legs at ``s`` are followed up.
    """
    ways, travel = ground.ways, ground.travel
    axes = travel.axes
    at = tour.position[s]
    x, y = leave(at - 1, tour, ways, travel)
    into_s = enter_s(x, y, at, tour, ways, travel)
    x, y = leave(at, tour, ways, travel)
    out_s = enter_s(x, y, at + 1, tour, ways, travel)
    own = ways.ends[tour.choice[s]]
    for near in ground.neighbours[s]:
        if near < 0:
            break
        to = tour.position[near]
        other = ways.ends[tour.choice[near]]
        gain = 0.0
        if travel_s(other[2], other[3], own[0], own[1], axes) < into_s:
            gain = _runs(at, 1, to, False, tour, ground, waiting, kept)
        if gain == 0.0 and travel_s(own[2], own[3], other[0], other[1], axes) < out_s:
            gain = _runs(at, -1, to - 1, False, tour, ground, waiting, kept)
        if gain == 0.0 and travel_s(own[2], own[3], other[2], other[3], axes) < out_s:
            gain = _turned(min(at, to) + 1, max(at, to), tour, ground, waiting, kept)
            if gain == 0.0:
                gain = _runs(at, -1, to, True, tour, ground, waiting, kept)
        if gain == 0.0 and travel_s(own[0], own[1], other[0], other[1], axes) < into_s:
            gain = _turned(min(at, to), max(at, to) - 1, tour, ground, waiting, kept)
            if gain == 0.0:
                gain = _runs(at, 1, to - 1, True, tour, ground, waiting, kept)
        if gain > 0.0:
            return gain
    return 0.0


@borrowing(error_model="numpy")
def _turned(i: int, j: int, tour: Tour, ground: Ground, waiting: Queue, kept: Journal) -> float:
    """2-opt: turn the run i..j round if that gains."""
    ways, travel = ground.ways, ground.travel
    if j < i or j - i >= ground.longest_turn:
        return 0.0
    head, tail = tour.choice[tour.order[i]], tour.choice[tour.order[j]]
    if ways.flip[head] < 0 or ways.flip[tail] < 0:
        return 0.0
    x, y = leave(i - 1, tour, ways, travel)
    turned = ways.ends[ways.flip[head]]
    old_s = option_s(x, y, head, ways, travel)
    old_s += enter_s(ways.ends[tail, 2], ways.ends[tail, 3], j + 1, tour, ways, travel)
    new_s = option_s(x, y, ways.flip[tail], ways, travel)
    new_s += enter_s(turned[2], turned[3], j + 1, tour, ways, travel)
    if new_s >= old_s - GAIN_S or not may_turn(i, j, tour, ways, ground.precedence):
        return 0.0
    turn(i, j, tour, ways, kept)
    for edge in (i - 1, i, j, j + 1):
        wake(edge, tour, waiting)
    return old_s - new_s


@borrowing(error_model="numpy")
def _runs(
    at: int,
    step: int,
    k: int,
    turned: bool,
    tour: Tour,
    ground: Ground,
    waiting: Queue,
    kept: Journal,
) -> float:
    """Or-opt: move a run from ``at`` on, or up to it, between k and k + 1 if that gains."""
    for length in range(LONGEST_MOVE):
        i, j = (at, at + length) if step > 0 else (at - length, at)
        if i < 0 or j >= len(tour.order) or i - 1 <= k <= j:
            break
        gain = _moved(i, j, k, turned, tour, ground, waiting, kept)
        if gain > 0.0:
            return gain
    return 0.0


@borrowing(error_model="numpy")
def _moved(
    i: int, j: int, k: int, turned: bool, tour: Tour, ground: Ground, waiting: Queue, kept: Journal
) -> float:
    """Move the run i..j between k and k + 1, turned round or not, if that gains."""
    ways, travel = ground.ways, ground.travel
    head, tail = tour.choice[tour.order[i]], tour.choice[tour.order[j]]
    x, y = leave(i - 1, tour, ways, travel)
    gap_x, gap_y = leave(k, tour, ways, travel)
    old_s = option_s(x, y, head, ways, travel)
    old_s += enter_s(ways.ends[tail, 2], ways.ends[tail, 3], j + 1, tour, ways, travel)
    old_s += enter_s(gap_x, gap_y, k + 1, tour, ways, travel)
    new_s = enter_s(x, y, j + 1, tour, ways, travel)
    if turned:
        head, tail = ways.flip[tail], ways.flip[head]
        if head < 0 or tail < 0:
            return 0.0
    new_s += option_s(gap_x, gap_y, head, ways, travel)
    new_s += enter_s(ways.ends[tail, 2], ways.ends[tail, 3], k + 1, tour, ways, travel)
    if new_s >= old_s - GAIN_S or not may_shift(i, j, k, tour, ground.precedence):
        return 0.0
    if turned and not may_turn(i, j, tour, ways, ground.precedence):
        return 0.0
    wake(i - 1, tour, waiting)
    wake(j + 1, tour, waiting)
    to = shift(i, j, k, tour, kept)
    if turned:
        turn(to, to + j - i, tour, ways, kept)
    for edge in (to - 1, to, to + j - i, to + j - i + 1):
        wake(edge, tour, waiting)
    return old_s - new_s
