"""One board's pieces while they are searched: overlapping, drawn apart, put back."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.search import separation_kernel as kernel
from kerfwright.nesting.search.model import Stop
from kerfwright.nesting.search.outlines import Outlines
from kerfwright.nesting.search.overlap_kernel import IntArray


@dataclass(slots=True)
class Limit:
    """When a searcher has to end: counted work, a point in time, or when it is told to."""

    work: float
    deadline_s: float
    stop: Stop

    def is_reached(self, work: int) -> bool:
        """Whether it is time to end, ``work`` positions having been tried."""
        return work >= self.work or time.monotonic() >= self.deadline_s or self.stop()


@dataclass(frozen=True, eq=False, slots=True)
class State:
    """Where everything lies: outlines and positions of the movable pieces."""

    shape: IntArray
    x: FloatArray
    y: FloatArray


def random_state(seed: int) -> kernel.WordArray:
    """State from which random numbers are drawn; another for every seed."""
    # any state but 0 will do; odd multiples of the seed spread it over all bits
    state = np.array([(2 * seed + 1) * 0x9E3779B97F4A7C15 % 2**64], dtype=np.uint64)
    for _ in range(8):
        kernel.next_random(state)
    return state


LARGE = 0.01
"""Pieces whose sizes differ by this share are worth an exchange."""


def exchanged(
    state: State, sizes: FloatArray, box: FloatArray, random: Callable[[], float]
) -> State:
    """Exchange two of the larger pieces that differ, middle for middle.

    ``sizes``, shape (n,), and ``box``, shape (n, 4), low and high corner, are the outlines' of the
    pieces as they lie; ``random`` draws from 0 to 1.
    """
    large = np.flatnonzero(sizes >= np.median(sizes))
    i = int(large[int(random() * len(large))])
    others = large[np.abs(sizes[large] - sizes[i]) > LARGE * sizes[i]]
    if len(others) == 0:
        others = np.delete(np.arange(len(sizes)), i)
    if len(others) == 0:
        return state
    j = int(others[int(random() * len(others))])
    x, y = state.x.copy(), state.y.copy()
    middles = 0.5 * (box[:, :2] + box[:, 2:])
    dx, dy = (middles[i] + (x[i], y[i])) - (middles[j] + (x[j], y[j]))
    x[i], y[i] = x[i] - dx, y[i] - dy
    x[j], y[j] = x[j] + dx, y[j] + dy
    return State(state.shape, x, y)


class Separation:
    """Pieces (some more than once) on one board, to be drawn apart within its ``room``.

    ``pieces`` gives each copy's piece number; :attr:`room` (low and high corner, changeable) is
    where they may lie, less the board's walls.
    """

    def __init__(
        self,
        outlines: Outlines,
        board: int,
        room: FloatArray,
        pieces: Sequence[int],
        state: State,
        *,
        seed: int,
        limit: Limit,
    ) -> None:
        self.outlines = outlines
        self.limit = limit
        walls = outlines.walls[board]
        count = len(pieces) + len(walls)
        still = np.zeros(len(walls))
        self._field = kernel.Field(
            shape=np.concatenate([state.shape, np.array(walls, dtype=np.int64)]),
            x=np.concatenate([state.x, still]),
            y=np.concatenate([state.y, still]),
            turns=np.array(
                [(outlines.first[p], outlines.first[p + 1]) for p in pieces], dtype=np.int64
            ).reshape(-1, 2),
            bare=outlines.bare,
            loss=np.zeros((count, count)),
            weight=np.ones((count, count)),
            room=room.astype(np.float64),
            random=random_state(seed),
            work=np.zeros(1, dtype=np.int64),
        )

    @property
    def room(self) -> FloatArray:
        """Low and high corner of where pieces may lie; may be written to."""
        return self._field.room

    @property
    def work(self) -> int:
        """Positions tried so far."""
        return int(self._field.work[0])

    @property
    def is_over(self) -> bool:
        """Whether the limit is reached."""
        return self.limit.is_reached(self.work)

    def state(self) -> State:
        """Return a copy of where everything lies."""
        movable = len(self._field.turns)
        field = self._field
        return State(
            field.shape[:movable].copy(), field.x[:movable].copy(), field.y[:movable].copy()
        )

    def put(self, state: State) -> None:
        """Lay everything where it lay in ``state``."""
        movable = len(self._field.turns)
        self._field.shape[:movable] = state.shape
        self._field.x[:movable] = state.x
        self._field.y[:movable] = state.y

    def random(self) -> float:
        """Uniform random number from 0 to 1."""
        return float(kernel.next_random(self._field.random))

    def reach(self, axis: int) -> float:
        """How far the pieces' own outlines reach along an axis (0 right, 1 up)."""
        movable = len(self._field.turns)
        if movable == 0:
            return float(self.room[axis])
        shape = self._field.bare[self._field.shape[:movable]]
        at = (self._field.x, self._field.y)[axis][:movable]
        return float((self.outlines.shapes.box[shape, 2 + axis] + at).max())

    def shortest(self, axis: int) -> float:
        """Return a length along an axis that the pieces need at the very least."""
        box = self.outlines.shapes.box
        return max(
            (
                float((box[bare, 2 + axis] - box[bare, axis]).min())
                for bare in (self._field.bare[first:last] for first, last in self._field.turns)
            ),
            default=0.0,
        )

    def separate(self, *, patience: int, strikes: int) -> tuple[bool, State, float]:
        """Draw everything apart; returns success, and the least overlapping state with its sum.

        Gives up after ``strikes`` times ``patience`` rounds without less overlap, starting each
        time again from the best state, with the weights that were learnt.
        """
        shapes, field = self.outlines.shapes, self._field
        field.weight.fill(1.0)
        if not kernel.keep_inside(shapes, field):
            return False, self.state(), math.inf
        least = kernel.measure(shapes, field)
        best = self.state()
        struck = 0
        while least > 0.0 and struck < strikes:
            before, vain = least, 0
            while least > 0.0 and vain < patience:
                if self.is_over:
                    return False, best, least
                total = kernel.move_all(shapes, field)
                vain = 0 if total < 0.98 * least else vain + 1
                if total < least:
                    least, best = total, self.state()
            struck = 0 if least < 0.98 * before else struck + 1
            if least > 0.0:
                self.put(best)
                kernel.measure(shapes, field)
        return least <= 0.0, best, least
