"""Draws the pieces of one board together at an edge, by making its room smaller and smaller.

The two phases are those of Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329): exploring
with long steps, where a failure is followed by a disturbance of what nearly succeeded, then
squeezing the best layout by ever shorter steps.
"""

from __future__ import annotations

from collections.abc import Callable

from kerfwright.nesting.search.separation import Separation, State, exchanged

LONG_STEP = 0.002
"""Share by which the used length shrinks while exploring."""

FIRST_STEP = 0.05
"""The first try of each round; halved after every failure."""

STEPS = (1e-3, 1e-5)
"""First and last step of squeezing."""

EXPLORING_SHARE = 0.75
"""Share of a whole search for exploring."""

EXPLORING = {"patience": 60, "strikes": 3}
SQUEEZING = {"patience": 40, "strikes": 3}

POOL = 8
"""So many of the states that nearly succeeded are kept."""

SHORTEST = 1e-6
"""A gain below this share is none."""


def squeeze(search: Separation, axis: int, share: float, better: Callable[[State], None]) -> State:
    """Search until the limit; ``share``: how much of the whole search is over, from 0 to 1.

    ``axis``: 0 draws everything to the left, 1 to the bottom. The state at the start counts as
    legal. ``better`` is told every better state; the best is returned.
    """
    if share < EXPLORING_SHARE:
        return _explore(search, axis, better)
    first, last = STEPS
    spent = (share - EXPLORING_SHARE) / (1.0 - EXPLORING_SHARE)
    return _shorten(search, axis, first * (last / first) ** spent, better)


def _explore(search: Separation, axis: int, better: Callable[[State], None]) -> State:
    best = start = search.state()
    low, reach = float(search.room[axis]), search.reach(axis)
    step = FIRST_STEP
    nearly: list[tuple[float, State]] = []
    shapes = search.outlines.shapes
    shortest = search.shortest(axis) * (1.0 + SHORTEST)
    while not search.is_over and reach - low > shortest:
        search.room[2 + axis] = low + (reach - low) * (1.0 - step)
        search.put(start)
        if not nearly:
            cut(search, axis, step * (reach - low))
        done, state, least = search.separate(**EXPLORING)
        if done:
            search.put(state)
            reach, best, start = search.reach(axis), state, state
            better(state)
            nearly.clear()
            continue
        if step > LONG_STEP:
            step, start = max(0.5 * step, LONG_STEP), best
            continue
        nearly = sorted([*nearly, (least, state)], key=lambda pair: pair[0])[:POOL]
        # the least overlapping states are taken up again most often
        start = nearly[int(search.random() ** 2 * len(nearly))][1]
        start = exchanged(start, shapes.size[start.shape], shapes.box[start.shape], search.random)
    return best


def _shorten(search: Separation, axis: int, step: float, better: Callable[[State], None]) -> State:
    best = search.state()
    low, reach = float(search.room[axis]), search.reach(axis)
    shortest = search.shortest(axis) * (1.0 + SHORTEST)
    while not search.is_over and reach - low > shortest:
        search.room[2 + axis] = low + (reach - low) * (1.0 - step)
        search.put(best)
        cut(search, axis, step * (reach - low))
        done, state, _ = search.separate(**SQUEEZING)
        if done:
            search.put(state)
            reach, best = search.reach(axis), state
            better(state)
        else:
            step = max(0.7 * step, SHORTEST)
    return best


def cut(search: Separation, axis: int, by_mm: float) -> None:
    """Move everything beyond a random place back, as if a strip were taken out there."""
    state = search.state()
    at = (state.x, state.y)[axis]
    low, high = float(search.room[axis]), float(search.room[2 + axis])
    place = low + search.random() * (high - low)
    shapes = search.outlines.shapes.box[state.shape]
    middle = at + 0.5 * (shapes[:, axis] + shapes[:, 2 + axis])
    at[middle > place] -= by_mm
    search.put(state)
