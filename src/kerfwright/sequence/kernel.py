"""Compiled search for a short order of strokes, each with several ways in and out.

The problem is a precedence-constrained generalised travelling salesman (Fischetti, Salazar
González & Toth, *Operations Research* 45(3), 1997): visit every stroke once, through one of its
options. Cheapest-next construction; then Or-opt (Or 1976) and 2-opt (Croes, *Operations
Research* 6(6), 1958) on neighbour lists, as Bentley (*ORSA Journal on Computing* 4(4), 1992)
describes them, in turn with a dynamic programme that chooses all options anew for the order.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

LONGEST_TURN = 1000
"""Longest run of strokes that 2-opt turns round; longer ones hardly ever pay."""

LONGEST_MOVE = 3
ROUNDS = 40
LONGEST_KICK = 30
FEW_OPTIONS = 1000
"""Up to so many options all are chosen anew after every kick."""
SEED = 1
GAIN_S = 1e-9


class Ways(NamedTuple):
    """The options of every stroke: those of stroke s are the rows ``first[s]:first[s + 1]``.

    ``ends`` has a row (entry x, entry y, exit x, exit y) for each; ``flip`` names the option that
    follows the stroke the other way, -1 if there is none. ``boxes`` bounds the entries of every
    stroke (low x, low y, high x, high y), and spares looking at far ones.
    """

    first: IntArray
    ends: FloatArray
    flip: IntArray
    boxes: FloatArray


class Precedence(NamedTuple):
    """Compressed rows: ``after[after_first[s]:after_first[s + 1]]`` must come after stroke s."""

    after_first: IntArray
    after: IntArray
    before_first: IntArray
    before: IntArray


class Travel(NamedTuple):
    """Where the beam starts, and the travel limits (x speed, y speed, x and y acceleration)."""

    start: FloatArray
    axes: FloatArray


class Tour(NamedTuple):
    """An order of strokes, each stroke's position in it, and its chosen option."""

    order: IntArray
    position: IntArray
    choice: IntArray


@njit(cache=True)
def travel_s(ax: float, ay: float, bx: float, by: float, axes: FloatArray) -> float:
    """Seconds of a straight move from rest to rest; ``axes`` as in :class:`Travel`.

    Along the line the slower axis limits the speed and the weaker one the acceleration, which
    need not be the same axis: with p = max(length / speed) and q = max(length / acceleration)
    over the axes the trapezoid takes p + q/p and, if it is too short for it, the triangle 2·√q.
    """
    dx, dy = abs(bx - ax), abs(by - ay)
    p: float = max(dx / axes[0], dy / axes[1])
    q: float = max(dx / axes[2], dy / axes[3])
    if p * p > q:
        return p + q / p
    return 2.0 * math.sqrt(q)


@njit(cache=True)
def construct(ways: Ways, precedence: Precedence, travel: Travel) -> Tour:
    """Take the cheapest next stroke whose forerunners are done.

    The order is shorter than the number of strokes if the precedence has a cycle.
    """
    n = len(ways.first) - 1
    waits = np.empty(n, dtype=np.int64)
    position = np.full(n, -1, dtype=np.int64)
    order = np.empty(n, dtype=np.int64)
    choice = np.zeros(n, dtype=np.int64)
    ready = np.empty(n, dtype=np.int64)
    count = 0
    for s in range(n):
        waits[s] = precedence.before_first[s + 1] - precedence.before_first[s]
        if waits[s] == 0:
            ready[count] = s
            count += 1
    x, y = travel.start
    done = 0
    while count > 0:
        at, option = _cheapest(x, y, ready[:count], ways, travel.axes)
        s = ready[at]
        count -= 1
        ready[at] = ready[count]
        order[done] = s
        position[s] = done
        choice[s] = option
        done += 1
        x, y = ways.ends[option, 2], ways.ends[option, 3]
        for k in range(precedence.after_first[s], precedence.after_first[s + 1]):
            waits[precedence.after[k]] -= 1
            if waits[precedence.after[k]] == 0:
                ready[count] = precedence.after[k]
                count += 1
    return Tour(order[:done], position, choice)


@njit(cache=True)
def _cheapest(x: float, y: float, ready: IntArray, ways: Ways, axes: FloatArray) -> tuple[int, int]:
    """Where in ``ready`` the stroke nearest in time stands, and by which option to enter it."""
    best = math.inf
    best_at = best_option = -1
    for at in range(len(ready)):
        s = ready[at]
        near_x = min(max(x, ways.boxes[s, 0]), ways.boxes[s, 2])
        near_y = min(max(y, ways.boxes[s, 1]), ways.boxes[s, 3])
        if travel_s(x, y, near_x, near_y, axes) >= best:
            continue
        for option in range(ways.first[s], ways.first[s + 1]):
            cost = travel_s(x, y, ways.ends[option, 0], ways.ends[option, 1], axes)
            if cost < best:
                best, best_at, best_option = cost, at, option
    return best_at, best_option


@njit(cache=True)
def choose_options(tour: Tour, ways: Ways, travel: Travel) -> None:
    """Choose the best option of every stroke for the order, by dynamic programming."""
    n = len(tour.order)
    ends, first = ways.ends, ways.first
    cost = np.zeros(len(ends))
    came = np.full(len(ends), -1, dtype=np.int64)
    x, y = travel.start
    for k in range(n):
        s = tour.order[k]
        for option in range(first[s], first[s + 1]):
            in_x, in_y = ends[option, 0], ends[option, 1]
            if k == 0:
                cost[option] = travel_s(x, y, in_x, in_y, travel.axes)
                continue
            earlier = tour.order[k - 1]
            best = math.inf
            for last in range(first[earlier], first[earlier + 1]):
                total = cost[last] + travel_s(ends[last, 2], ends[last, 3], in_x, in_y, travel.axes)
                if total < best:
                    best = total
                    came[option] = last
            cost[option] = best
    if n == 0:
        return
    s = tour.order[n - 1]
    option = first[s] + int(np.argmin(cost[first[s] : first[s + 1]]))
    for k in range(n - 1, -1, -1):
        tour.choice[tour.order[k]] = option
        option = came[option]


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
def tour_s(tour: Tour, ways: Ways, travel: Travel) -> float:
    """Seconds of all travels of the tour, from the start to the last entry."""
    total = 0.0
    for k in range(len(tour.order)):
        x, y = _leave(k - 1, tour, ways, travel)
        total += _enter_s(x, y, k, tour, ways, travel)
    return total


@njit(cache=True)
def _leave(k: int, tour: Tour, ways: Ways, travel: Travel) -> tuple[float, float]:
    """Where the beam is after position ``k``; -1 is the start."""
    if k < 0:
        return travel.start[0], travel.start[1]
    option = tour.choice[tour.order[k]]
    return ways.ends[option, 2], ways.ends[option, 3]


@njit(cache=True)
def _enter_s(x: float, y: float, k: int, tour: Tour, ways: Ways, travel: Travel) -> float:
    """Seconds from (x, y) to the entry at position ``k``; none after the last."""
    if k >= len(tour.order):
        return 0.0
    return _option_s(x, y, tour.choice[tour.order[k]], ways, travel)


@njit(cache=True)
def _option_s(x: float, y: float, option: int, ways: Ways, travel: Travel) -> float:
    return travel_s(x, y, ways.ends[option, 0], ways.ends[option, 1], travel.axes)


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
    x, y = _leave(i - 1, tour, ways, travel)
    tail_x, tail_y = ways.ends[tail, 2], ways.ends[tail, 3]
    turned_head = ways.flip[head]
    head_x, head_y = ways.ends[turned_head, 2], ways.ends[turned_head, 3]
    old = _enter_s(x, y, i, tour, ways, travel)
    old += _enter_s(tail_x, tail_y, j + 1, tour, ways, travel)
    new = _option_s(x, y, ways.flip[tail], ways, travel)
    new += _enter_s(head_x, head_y, j + 1, tour, ways, travel)
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
    x, y = _leave(i - 1, tour, ways, travel)
    gap_x, gap_y = _leave(k, tour, ways, travel)
    old = _enter_s(x, y, i, tour, ways, travel)
    old += _enter_s(tail_x, tail_y, j + 1, tour, ways, travel)
    old += _enter_s(gap_x, gap_y, k + 1, tour, ways, travel)
    closed_up = _enter_s(x, y, j + 1, tour, ways, travel)
    straight = closed_up + _option_s(gap_x, gap_y, head, ways, travel)
    straight += _enter_s(tail_x, tail_y, k + 1, tour, ways, travel)
    turned = math.inf
    if i == j and ways.flip[head] >= 0:
        other = ways.flip[head]
        turned = closed_up + _option_s(gap_x, gap_y, other, ways, travel)
        turned += _enter_s(ways.ends[other, 2], ways.ends[other, 3], k + 1, tour, ways, travel)
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
