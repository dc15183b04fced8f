"""Times a whole tour with the heat that cuts leave behind, and looks for a cooler one."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.sequence.kernel import Ground
from kerfwright.sequence.moves import Journal, journal_of, may_shift, may_turn, shift, turn, undo
from kerfwright.sequence.tour import (
    IntArray,
    Precedence,
    Tour,
    Travel,
    Ways,
    enter_s,
    leave,
    option_s,
)

SEED = 1
"""Of the changes tried: the same sheet gets the same order every time."""

LONGEST_RUN = 4
"""Strokes that are moved, or turned round, at once."""

ANYWHERE = 4
"""One in so many runs is moved anywhere."""


class Heat(NamedTuple):
    """Strokes near each stroke as compressed rows, seconds each burns, and what is asked.

    After a stroke, near ones are to begin no sooner than ``cooling_s`` later; a second sooner
    costs ``weight`` seconds. With ``wait`` the beam stands still for it.
    """

    near_first: IntArray
    near: IntArray
    burn_s: FloatArray
    cooling_s: float
    weight: float
    wait: bool


@njit(cache=True, error_model="numpy")
def heated_s(tour: Tour, ways: Ways, travel: Travel, heat: Heat) -> float:
    """Seconds of all travels, and of all cuts that begin too soon, these weighed."""
    now_s, cost_s = 0.0, 0.0
    ended_s = np.full(len(tour.order), -np.inf)
    for k in range(len(tour.order)):
        s = tour.order[k]
        x, y = leave(k - 1, tour, ways, travel)
        leg_s = enter_s(x, y, k, tour, ways, travel)
        short_s = _too_soon_s(s, now_s + leg_s, ended_s, heat)
        cost_s += leg_s + heat.weight * short_s
        now_s += leg_s + heat.burn_s[s] + (short_s if heat.wait else 0.0)
        ended_s[s] = now_s
    return cost_s


@njit(cache=True, error_model="numpy")
def _too_soon_s(s: int, begin_s: float, ended_s: FloatArray, heat: Heat) -> float:
    """Seconds until the last of the near strokes has cooled."""
    cool_s = begin_s
    for at in range(heat.near_first[s], heat.near_first[s + 1]):
        cool_s = max(cool_s, ended_s[heat.near[at]] + heat.cooling_s)
    return cool_s - begin_s


@njit(cache=True, error_model="numpy")
def soonest_cool(
    tour: Tour, ways: Ways, precedence: Precedence, travel: Travel, heat: Heat
) -> Tour:
    """Take, of the strokes whose forerunners are done, the one that costs least, heat included."""
    n = len(tour.order)
    waits = precedence.before_first[1:] - precedence.before_first[:-1]
    order, position = np.empty(n, dtype=np.int64), np.full(n, -1, dtype=np.int64)
    ended_s = np.full(n, -np.inf)
    x, y = travel.start
    now_s = 0.0
    for k in range(n):
        best, best_s, best_leg_s, best_short_s = -1, math.inf, 0.0, 0.0
        for s in range(n):
            if waits[s] > 0 or position[s] >= 0:
                continue
            leg_s = option_s(x, y, tour.choice[s], ways, travel)
            if leg_s >= best_s:
                continue
            short_s = _too_soon_s(s, now_s + leg_s, ended_s, heat)
            if leg_s + heat.weight * short_s < best_s:
                best, best_s = s, leg_s + heat.weight * short_s
                best_leg_s, best_short_s = leg_s, short_s
        order[k], position[best] = best, k
        now_s += best_leg_s + heat.burn_s[best] + (best_short_s if heat.wait else 0.0)
        ended_s[best] = now_s
        x, y = ways.ends[tour.choice[best], 2], ways.ends[tour.choice[best], 3]
        for at in range(precedence.after_first[best], precedence.after_first[best + 1]):
            waits[precedence.after[at]] -= 1
    return Tour(order, position, tour.choice.copy())


@njit(cache=True, error_model="numpy")
def in_rounds(tour: Tour, precedence: Precedence, heat: Heat) -> Tour:
    """Go through the tour in rounds, in each leaving out what is near to something in it.

    Greedy colouring of the graph of near strokes; a round is a colour. A stroke is never in an
    earlier round than its forerunners.
    """
    n = len(tour.order)
    round_of = np.full(n, -1, dtype=np.int64)
    taken = np.full(n + 1, -1, dtype=np.int64)
    for k in range(n):
        s = tour.order[k]
        number = 0
        for at in range(precedence.before_first[s], precedence.before_first[s + 1]):
            number = max(number, round_of[precedence.before[at]])
        for at in range(heat.near_first[s], heat.near_first[s + 1]):
            if round_of[heat.near[at]] >= 0:
                taken[round_of[heat.near[at]]] = s
        while taken[number] == s:
            number += 1
        round_of[s] = number
    order = tour.order[np.argsort(round_of[tour.order], kind="mergesort")]
    position = np.empty(n, dtype=np.int64)
    position[order] = np.arange(n)
    return Tour(order, position, tour.choice.copy())


@njit(cache=True, error_model="numpy")
def spread(tour: Tour, ground: Ground, heat: Heat, trials: int) -> float:
    """Move and turn short runs at random, mostly beside near strokes; return what was gained.

    What costs no more is kept. Always the same random numbers.
    """
    np.random.seed(SEED)  # noqa: NPY002 - the only generator that compiled code has
    n = len(tour.order)
    before_s = heated_s(tour, ground.ways, ground.travel, heat)
    now_s = before_s
    kept = journal_of(4)
    for trial in range(trials if n > 1 else 0):
        i = np.random.randint(0, n)  # noqa: NPY002
        j = min(i + np.random.randint(0, LONGEST_RUN), n - 1)  # noqa: NPY002
        k = np.random.randint(-1, n)  # noqa: NPY002
        beside = ground.neighbours[tour.order[i], trial % ground.neighbours.shape[1]]
        if beside >= 0 and trial % ANYWHERE != 0:
            k = tour.position[beside] - np.random.randint(0, 2)  # noqa: NPY002
        kept.used[0] = 0
        if not _tried(i, j, k, tour, ground, kept):
            continue
        changed_s = heated_s(tour, ground.ways, ground.travel, heat)
        if changed_s > now_s:
            undo(tour, ground.ways, kept)
        else:
            now_s = changed_s
    return before_s - now_s


@njit(cache=True, error_model="numpy")
def _tried(i: int, j: int, k: int, tour: Tour, ground: Ground, kept: Journal) -> bool:
    """Move the run i..j between k and k + 1, or turn it if k is within, where that is allowed."""
    if i - 1 <= k <= j:
        if not may_turn(i, j, tour, ground.ways, ground.precedence):
            return False
        turn(i, j, tour, ground.ways, kept)
        return True
    if not may_shift(i, j, k, tour, ground.precedence):
        return False
    shift(i, j, k, tour, kept)
    return True
