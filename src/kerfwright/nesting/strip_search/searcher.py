"""One searcher's strip, which can be shortened: pieces laid, drawn apart, disturbed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kerfwright.nesting.search.separation import Limit, State, exchanged, random_state
from kerfwright.nesting.search.separation_kernel import next_random
from kerfwright.nesting.strip_search import moves_kernel, rounds_kernel
from kerfwright.nesting.strip_search.field_kernel import field_for, keep_inside, measure
from kerfwright.nesting.strip_search.line_kernel import Lying
from kerfwright.nesting.strip_search.no_fit_kernel import IntArray, NoFits

ROUNDS = 2000
"""So many rounds, by the number of pieces, are moved before it is asked whether to end."""

TURNING_SHARE = 0.5
"""Share of disturbances by which a block is turned; the rest exchanges two pieces."""

LEAST_BLOCK, MOST_BLOCK = 0.15, 0.7
"""Length and width of a block, as shares of the strip's."""

UNEVEN = 0.3
"""The first layout takes the large before the small, sizes varied by up to this share."""


def reach_mm(fits: NoFits, state: State) -> float:
    """How long a strip is that ``state`` needs."""
    return float((state.x + fits.box[state.shape, 2]).max())


class Searcher:
    """Pieces (some more than once) in a strip of fixed height.

    ``turns``: shape (n, 2), first outline and one past the last of each piece.
    """

    def __init__(
        self, fits: NoFits, turns: IntArray, height_mm: float, *, seed: int, limit: Limit
    ) -> None:
        self.fits = fits
        self.limit = limit
        count = len(turns)
        self._field = field_for(turns, np.array([0.0, height_mm]), random_state(seed))
        self._ways = rounds_kernel.room_for_ways(count)
        self._rounds = max(ROUNDS // count, 1)

    @property
    def length_mm(self) -> float:
        """Length of the strip in which pieces may lie."""
        return float(self._field.room[0])

    @length_mm.setter
    def length_mm(self, length_mm: float) -> None:
        self._field.room[0] = length_mm

    def random(self) -> float:
        """Uniform random number from 0 to 1."""
        return float(next_random(self._field.random))

    def state(self) -> State:
        """Return a copy of where everything lies."""
        return _copy(self._field.lying)

    def put(self, state: State) -> None:
        """Lay everything where it lay in ``state``."""
        rounds_kernel.lay(self._field.lying, Lying(state.shape, state.x, state.y))

    def reach_mm(self, state: State) -> float:
        """How long a strip is that ``state`` needs."""
        return reach_mm(self.fits, state)

    def lay_first(self) -> State | None:
        """A layout without overlaps, the large before the small; ``None`` if a piece is too big."""
        field = self._field
        sizes = self.fits.size[field.turns[:, 0]]
        box = self.fits.box
        self.length_mm = float((box[:, 2:] - box[:, :2]).max() * (len(sizes) + 1))
        varied = sizes * [1.0 + UNEVEN * (2.0 * self.random() - 1.0) for _ in sizes]
        if not moves_kernel.lay_first(self.fits, field, np.argsort(-varied)):
            return None
        return self.state()

    def separate(self, *, patience: int, strikes: int) -> tuple[bool, State, float]:
        """Draw everything apart; returns success, and the least overlapping state with its sum.

        Gives up after ``strikes`` times ``patience`` rounds without less overlap, starting each
        time again from the best state, with the weights that were learnt.
        """
        field, ways = self._field, self._ways
        field.weight.fill(1.0)
        if not keep_inside(self.fits, field):
            return False, self.state(), np.inf
        least = measure(self.fits, field)
        rounds_kernel.lay(ways.least, field.lying)
        struck = 0
        while least > 0.0 and struck < strikes:
            before, vain = least, 0
            while least > 0.0 and vain < patience:
                if self.limit.is_reached(0):
                    return False, _copy(ways.least), least
                least, vain = rounds_kernel.draw_apart(
                    self.fits, field, ways, least, vain, patience, self._rounds
                )
            struck = 0 if least < rounds_kernel.LESS * before else struck + 1
            if least > 0.0:
                rounds_kernel.lay(field.lying, ways.least)
                measure(self.fits, field)
        return least <= 0.0, _copy(ways.least), least

    def drawn_apart(
        self, state: State, length_mm: float, *, patience: int, strikes: int
    ) -> tuple[bool, State, float]:
        """Draw a state apart, as :meth:`separate` does, in a strip of that length."""
        self.length_mm = length_mm
        self.put(state)
        return self.separate(patience=patience, strikes=strikes)

    def shortened(self, state: State, by_mm: float) -> State:
        """Return the state with a stretch taken out at a random place."""
        place = self.random() * self.reach_mm(state)
        box = self.fits.box[state.shape]
        beyond = state.x + 0.5 * (box[:, 0] + box[:, 2]) > place
        return State(state.shape, np.where(beyond, state.x - by_mm, state.x), state.y)

    def disturbed(self, state: State) -> State:
        """Turn a block of neighbours half round, or exchange two pieces."""
        turned = self._with_block_turned(state) if self.random() < TURNING_SHARE else None
        sizes, box = self.fits.size[state.shape], self.fits.box[state.shape]
        return turned or exchanged(state, sizes, box, self.random)

    def _with_block_turned(self, state: State) -> State | None:
        """Turn a block of pieces half round as one: only at its rim do pieces come to overlap.

        ``None`` where there is but one piece, or one that may not be turned.
        """
        box = self.fits.box[state.shape]
        at = np.column_stack([state.x, state.y])
        low, high = at + box[:, :2], at + box[:, 2:]
        middle = 0.5 * (low + high)
        within = np.ones(len(at), dtype=bool)
        for axis, room in enumerate(self._field.room):
            across = room * (LEAST_BLOCK + (MOST_BLOCK - LEAST_BLOCK) * self.random())
            begin = self.random() * (room - across)
            within &= (middle[:, axis] > begin) & (middle[:, axis] < begin + across)
        turned = self.fits.half_turned[state.shape]
        if within.sum() < 2 or (turned[within] < 0).any():
            return None
        shape = np.where(within, turned, state.shape)
        about = low[within].min(axis=0) + high[within].max(axis=0)
        x, y = np.where(within[:, None], about - high - self.fits.box[shape, :2], at).T
        return State(shape, x, y)


def _copy(lying: Lying) -> State:
    return State(lying.shape.copy(), lying.x.copy(), lying.y.copy())


def turns_of_copies(first: Sequence[int], quantities: Sequence[int]) -> IntArray:
    """First outline and one past the last, shape (n, 2), of every copy of every kind."""
    kinds = np.repeat(np.arange(len(quantities)), quantities)
    starts = np.array(first, dtype=np.int64)
    return np.column_stack([starts[kinds], starts[kinds + 1]])
