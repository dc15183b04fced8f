"""Gets a tour out of where improving it got stuck.

Iterated local search with the double bridge (Martin, Otto & Felten, *Complex Systems* 5(3),
1991), kept local so that only the strokes around it have to be looked at again.
"""

from __future__ import annotations

import numpy as np

from kerfwright.kernels import borrowing
from kerfwright.sequence.kernel import Ground, Queue, improve, next_awake, wake
from kerfwright.sequence.moves import Journal, may_shift, shift, undo
from kerfwright.sequence.tour import Tour, enter_s, leave

LONGEST_KICK = 30
"""Longest run that a kick swaps, so that it stays local and is soon improved again."""

SEED = 1
"""Of the kicks: the same sheet gets the same order every time."""


@borrowing(error_model="numpy")
def shake(tour: Tour, ground: Ground, waiting: Queue, kept: Journal, kicks: int) -> float:
    """Swap neighbouring runs at random, improve again, and keep what is no worse; in place.

    Always the same random numbers. Returns the seconds gained. The queue must be empty.
    """
    np.random.seed(SEED)  # noqa: NPY002 - the only generator that compiled code has
    n = len(tour.order)
    longest = min(LONGEST_KICK, max(n // 3, 1))
    gained = 0.0
    if n < 2:
        return gained
    for _ in range(kicks):
        i = np.random.randint(0, n - 1)  # noqa: NPY002
        j = min(i + np.random.randint(0, longest), n - 2)  # noqa: NPY002
        k = min(j + np.random.randint(1, longest + 1), n - 1)  # noqa: NPY002
        if not may_shift(i, j, k, tour, ground.precedence):
            continue
        gain = -_swap(i, j, k, tour, ground, waiting, kept)
        gain += improve(tour, ground, waiting, kept)
        if gain < 0.0:
            undo(tour, ground.ways, kept)
        else:
            gained += gain
        kept.used[0] = 0
        while waiting.state[1] > 0:
            next_awake(waiting)
    return gained


@borrowing(error_model="numpy")
def _swap(
    i: int, j: int, k: int, tour: Tour, ground: Ground, waiting: Queue, kept: Journal
) -> float:
    """Swap the runs i..j and j+1..k; return the seconds that it costs."""
    before_s = 0.0
    for at in (i, j + 1, k + 1):
        x, y = leave(at - 1, tour, ground.ways, ground.travel)
        before_s += enter_s(x, y, at, tour, ground.ways, ground.travel)
    to = shift(i, j, k, tour, kept)
    after_s = 0.0
    for at in (i, to, k + 1):
        x, y = leave(at - 1, tour, ground.ways, ground.travel)
        after_s += enter_s(x, y, at, tour, ground.ways, ground.travel)
        wake(at - 1, tour, waiting)
        wake(at, tour, waiting)
    return after_s - before_s
