"""Improves a tour: Or-opt and 2-opt on neighbour lists, and kicks out of where they get stuck.

Or-opt after Or (1976), 2-opt after Croes (*Operations Research* 6(6), 1958); neighbour lists and
don't-look bits as Bentley (*ORSA Journal on Computing* 4(4), 1992) describes them.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.sequence.tour import (
    IntArray,
    Precedence,
    Tour,
    Travel,
    Ways,
    choose_options,
    enter_s,
    leave,
    option_s,
    tour_s,
)

BoolArray = npt.NDArray[np.bool_]

LONGEST_TURN = 1000
"""Longest run of strokes that 2-opt turns round; longer ones hardly ever pay."""

LONGEST_MOVE = 3
"""Longest run that Or-opt moves, as Or has it (from memory)."""

ROUNDS = 40
"""A guard only: improving ends long before, when nothing is left to improve."""

LONGEST_KICK = 30
"""Longest run that a kick swaps, so that it stays local and is soon improved again."""

FEW_OPTIONS = 1000
"""Up to so many options all are chosen anew after every kick."""

SEED = 1
"""Of the kicks: the same sheet gets the same order every time."""

GAIN_S = 1e-9
"""Less is rounding, and could be gained for ever in a circle."""


@njit(cache=True)
def improve(
    tour: Tour,
    ways: Ways,
    precedence: Precedence,
    travel: Travel,
    neighbours: IntArray,
    awake: BoolArray,
) -> int:
    """Improve the tour in place around the strokes ``awake``; return how many changes were made.

    ``neighbours`` has a row of near strokes for each stroke, filled up with -1. A change wakes
    the strokes around it; at the end all are asleep (Bentley's don't-look bits).
    """
    changes = 0
    for _ in range(ROUNDS):
        earlier = changes
        for s in range(len(tour.order)):
            if not awake[s]:
                continue
            awake[s] = False
            for near in neighbours[s]:
                if near < 0:
                    break
                at, to = tour.position[s], tour.position[near]
                around = tour.order[max(at - LONGEST_MOVE, 0) : at + LONGEST_MOVE + 1].copy()
                if _try_turn(at, to, tour, ways, precedence, travel) or _try_move(
                    at, to, tour, ways, precedence, travel
                ):
                    changes += 1
                    awake[around] = True
                    _wake(tour.position[s], tour, awake)
                    _wake(tour.position[near], tour, awake)
        if changes == earlier:
            break
    return changes


@njit(cache=True)
def _wake(at: int, tour: Tour, awake: BoolArray) -> None:
    """Wake the strokes near position ``at``."""
    for k in range(max(at - LONGEST_MOVE, 0), min(at + LONGEST_MOVE + 1, len(tour.order))):
        awake[tour.order[k]] = True


@njit(cache=True)
def shake(
    tour: Tour,
    ways: Ways,
    precedence: Precedence,
    travel: Travel,
    neighbours: IntArray,
    kicks: int,
) -> int:
    """Swap neighbouring runs at random, improve again, and keep what is better; in place.

    Iterated local search with the double bridge (Martin, Otto & Felten, *Complex Systems* 5(3),
    1991). Always the same random numbers. Returns how many kicks were kept.
    """
    np.random.seed(SEED)  # noqa: NPY002 - the only generator that compiled code has
    n = len(tour.order)
    longest = min(LONGEST_KICK, max(n // 3, 1))
    kept = 0
    if n < 2:
        return kept
    awake = np.zeros(n, dtype=np.bool_)
    best_s = tour_s(tour, ways, travel)
    best = Tour(tour.order.copy(), tour.position.copy(), tour.choice.copy())
    for _ in range(kicks):
        for _ in range(np.random.randint(1, 3)):  # noqa: NPY002
            i = np.random.randint(0, n - 1)  # noqa: NPY002
            j = min(i + np.random.randint(0, longest), n - 2)  # noqa: NPY002
            k = min(j + np.random.randint(1, longest + 1), n - 1)  # noqa: NPY002
            if _may_move(i, j, k, tour, precedence):
                _shift(i, j, k, tour)
                _wake(i, tour, awake)
                _wake(i + k - j, tour, awake)
                _wake(k, tour, awake)
        improve(tour, ways, precedence, travel, neighbours, awake)
        if len(ways.ends) <= FEW_OPTIONS:
            choose_options(tour, ways, travel)
        now_s = tour_s(tour, ways, travel)
        if now_s < best_s - GAIN_S:
            kept += 1
            best_s = now_s
            _copy(tour, best)
        else:
            _copy(best, tour)
            awake[:] = False
    return kept


@njit(cache=True)
def _copy(source: Tour, target: Tour) -> None:
    target.order[:] = source.order
    target.position[:] = source.position
    target.choice[:] = source.choice


@njit(cache=True)
def _try_turn(
    at: int, to: int, tour: Tour, ways: Ways, precedence: Precedence, travel: Travel
) -> bool:
    """2-opt: turn a run round so that position ``at``, or what is turned of it, leaves for ``to``.

    The second form also reaches the runs at the very beginning, which no stroke precedes.
    """
    return _turn_if_shorter(at + 1, to, tour, ways, precedence, travel) or _turn_if_shorter(
        at, to - 1, tour, ways, precedence, travel
    )


@njit(cache=True)
def _turn_if_shorter(
    i: int, j: int, tour: Tour, ways: Ways, precedence: Precedence, travel: Travel
) -> bool:
    if j < i or j - i >= LONGEST_TURN:
        return False
    head, tail = tour.choice[tour.order[i]], tour.choice[tour.order[j]]
    if ways.flip[head] < 0 or ways.flip[tail] < 0:
        return False
    x, y = leave(i - 1, tour, ways, travel)
    tail_x, tail_y = ways.ends[tail, 2], ways.ends[tail, 3]
    turned_head = ways.flip[head]
    head_x, head_y = ways.ends[turned_head, 2], ways.ends[turned_head, 3]
    old = enter_s(x, y, i, tour, ways, travel)
    old += enter_s(tail_x, tail_y, j + 1, tour, ways, travel)
    new = option_s(x, y, ways.flip[tail], ways, travel)
    new += enter_s(head_x, head_y, j + 1, tour, ways, travel)
    if new >= old - GAIN_S or not _may_turn(i, j, tour, ways, precedence):
        return False
    tour.order[i : j + 1] = tour.order[i : j + 1][::-1].copy()
    for k in range(i, j + 1):
        one = tour.order[k]
        tour.position[one] = k
        tour.choice[one] = ways.flip[tour.choice[one]]
    return True


@njit(cache=True)
def _may_turn(i: int, j: int, tour: Tour, ways: Ways, precedence: Precedence) -> bool:
    """Whether all strokes of the run can be followed backwards and none waits for another."""
    for k in range(i, j + 1):
        one = tour.order[k]
        if ways.flip[tour.choice[one]] < 0:
            return False
        for at in range(precedence.after_first[one], precedence.after_first[one + 1]):
            if i <= tour.position[precedence.after[at]] <= j:
                return False
    return True


@njit(cache=True)
def _try_move(
    at: int, to: int, tour: Tour, ways: Ways, precedence: Precedence, travel: Travel
) -> bool:
    """Or-opt: move a short run that begins or ends at ``at`` to just behind or before ``to``."""
    for length in range(1, LONGEST_MOVE + 1):
        for begins in range(2):
            i = at if begins else at - length + 1
            j = i + length - 1
            if i < 0 or j >= len(tour.order) or (length == 1 and begins == 0):
                continue
            for behind in range(2):
                # the run goes between positions k and k + 1
                k = to if behind else to - 1
                if (
                    (k < i - 1 or k > j)
                    and _may_move(i, j, k, tour, precedence)
                    and _move_if_shorter(i, j, k, tour, ways, travel)
                ):
                    return True
    return False


@njit(cache=True)
def _may_move(i: int, j: int, k: int, tour: Tour, precedence: Precedence) -> bool:
    """Whether no stroke of the run i..j passes one that it must come before or after."""
    for at in range(i, j + 1):
        s = tour.order[at]
        if k > j:
            for m in range(precedence.after_first[s], precedence.after_first[s + 1]):
                if j < tour.position[precedence.after[m]] <= k:
                    return False
        else:
            for m in range(precedence.before_first[s], precedence.before_first[s + 1]):
                if k < tour.position[precedence.before[m]] < i:
                    return False
    return True


@njit(cache=True)
def _move_if_shorter(i: int, j: int, k: int, tour: Tour, ways: Ways, travel: Travel) -> bool:
    """Move the run i..j between k and k + 1, a single stroke also turned, if that is shorter."""
    head, tail = tour.choice[tour.order[i]], tour.choice[tour.order[j]]
    tail_x, tail_y = ways.ends[tail, 2], ways.ends[tail, 3]
    x, y = leave(i - 1, tour, ways, travel)
    gap_x, gap_y = leave(k, tour, ways, travel)
    old = enter_s(x, y, i, tour, ways, travel)
    old += enter_s(tail_x, tail_y, j + 1, tour, ways, travel)
    old += enter_s(gap_x, gap_y, k + 1, tour, ways, travel)
    closed_up = enter_s(x, y, j + 1, tour, ways, travel)
    straight = closed_up + option_s(gap_x, gap_y, head, ways, travel)
    straight += enter_s(tail_x, tail_y, k + 1, tour, ways, travel)
    turned = math.inf
    if i == j and ways.flip[head] >= 0:
        other = ways.flip[head]
        turned = closed_up + option_s(gap_x, gap_y, other, ways, travel)
        turned += enter_s(ways.ends[other, 2], ways.ends[other, 3], k + 1, tour, ways, travel)
    if min(straight, turned) >= old - GAIN_S:
        return False
    if turned < straight:
        tour.choice[tour.order[i]] = ways.flip[head]
    _shift(i, j, k, tour)
    return True


@njit(cache=True)
def _shift(i: int, j: int, k: int, tour: Tour) -> None:
    """Move the run i..j between the positions k and k + 1."""
    run = tour.order[i : j + 1].copy()
    length = len(run)
    if k > j:
        for at in range(j + 1, k + 1):
            tour.order[at - length] = tour.order[at]
        to = k - length + 1
    else:
        for at in range(i - 1, k, -1):
            tour.order[at + length] = tour.order[at]
        to = k + 1
    for at in range(length):
        tour.order[to + at] = run[at]
    for at in range(min(i, to), max(j, k) + 1):
        tour.position[tour.order[at]] = at
