"""Rounds of moves, each tried in a few ways of which the best is taken.

Guided local search: after each round pairs that overlap still weigh more (see
:mod:`.moves_kernel`). That the best of a few ways does more than as many rounds is measured; the
work of Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329) does so on several cores.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.kernels import borrowing
from kerfwright.nesting.strip_search.field_kernel import Field, weighted_sum
from kerfwright.nesting.strip_search.line_kernel import Lying
from kerfwright.nesting.strip_search.moves_kernel import move_all
from kerfwright.nesting.strip_search.no_fit_kernel import NoFits

WAYS = 3
"""So many ways each round is tried in."""

LESS = 0.98
"""Overlaps have to fall below this share of the least for a round not to be in vain."""

HEAVIER, HEAVIEST, LIGHTER = 1.2, 2.0, 0.95
"""Factors of a pair's weight: least and greatest while it overlaps, and when it does not."""


class Ways(NamedTuple):
    """Room for how a round began, for the best way so far, and for the least overlapping layout.

    ``begun_loss`` and ``found_loss``: shape (n, n), as the field's ``loss``.
    """

    begun: Lying
    begun_loss: FloatArray
    found: Lying
    found_loss: FloatArray
    least: Lying


def room_for_ways(pieces: int) -> Ways:
    """Room for so many pieces."""
    lying = [Lying(np.zeros(pieces, np.int64), *np.zeros((2, pieces))) for _ in range(3)]
    losses = np.zeros((2, pieces, pieces))
    return Ways(lying[0], losses[0], lying[1], losses[1], lying[2])


@njit(cache=True, nogil=True)
def draw_apart(
    fits: NoFits, field: Field, ways: Ways, least: float, vain: int, patience: int, most: int
) -> tuple[float, int]:
    """Move until nothing overlaps, at most ``most`` rounds or until ``patience`` were in vain.

    ``least``: least sum of overlaps so far; ``vain``: rounds without less. Returns the new ones;
    the layout that overlaps least is laid in ``ways.least``.
    """
    for _ in range(most):
        total = _round(fits, field, ways)
        vain = 0 if total < LESS * least else vain + 1
        if total < least:
            least = total
            lay(ways.least, field.lying)
        if least <= 0.0 or vain >= patience:
            break
    return least, vain


@njit(cache=True, nogil=True)
def _round(fits: NoFits, field: Field, ways: Ways) -> float:
    """Move every overlapping piece once, in the best of a few ways; returns the overlaps."""
    lay(ways.begun, field.lying)
    ways.begun_loss[:] = field.loss
    best, last = np.inf, 0
    for way in range(WAYS):
        if way > 0:
            lay(field.lying, ways.begun)
            field.loss[:] = ways.begun_loss
        move_all(fits, field)
        value = 0.0
        for i in range(len(field.loss)):
            value += weighted_sum(field, i)
        if value < best:
            best, last = value, way
            lay(ways.found, field.lying)
            ways.found_loss[:] = field.loss
    if last < WAYS - 1:
        lay(field.lying, ways.found)
        field.loss[:] = ways.found_loss
    return _reweigh(field)


@borrowing()
def lay(to: Lying, where: Lying) -> None:
    """Lay everything as it lies elsewhere."""
    for i in range(len(to.shape)):
        to.shape[i], to.x[i], to.y[i] = where.shape[i], where.x[i], where.y[i]


@borrowing(fastmath={"reassoc", "contract", "nsz", "nnan"})
def _reweigh(field: Field) -> float:
    """Weigh pairs by whether they overlap still; returns the sum of overlaps, each once."""
    loss, weight = field.loss, field.weight
    most = total = 0.0
    for i in range(len(loss)):
        for j in range(len(loss)):
            most = max(most, loss[i, j])
            total += loss[i, j]
    rise = (HEAVIEST - HEAVIER) / most if most > 0.0 else 0.0
    for i in range(len(loss)):
        for j in range(len(loss)):
            if loss[i, j] > 0.0:
                weight[i, j] *= HEAVIER + rise * loss[i, j]
            else:
                weight[i, j] = max(1.0, weight[i, j] * LIGHTER)
    return 0.5 * total
