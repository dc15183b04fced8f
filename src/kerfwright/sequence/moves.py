"""What changes a tour, whether the precedence allows it, and how it is undone."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.kernels import borrowing
from kerfwright.sequence.tour import IntArray, Precedence, Tour, Ways

_TURNED, _SHIFTED, _TAKEN = range(3)


class Journal(NamedTuple):
    """Changes in the order they were made: rows (kind, i, j, k), and how many are in use.

    A journal without rows keeps nothing.
    """

    rows: IntArray
    used: IntArray


@njit(cache=True, error_model="numpy")
def journal_of(size: int) -> Journal:
    """Return an empty journal for ``size`` changes."""
    return Journal(np.zeros((size, 4), dtype=np.int64), np.zeros(1, dtype=np.int64))


@borrowing(error_model="numpy")
def is_full(kept: Journal) -> bool:
    """Whether a journal that keeps changes has no room for those of one more step."""
    return len(kept.rows) > 0 and kept.used[0] + 4 > len(kept.rows)


@borrowing(error_model="numpy")
def _note(kind: int, i: int, j: int, k: int, kept: Journal) -> None:
    if len(kept.rows) > 0:
        row = kept.rows[kept.used[0]]
        row[0], row[1], row[2], row[3] = kind, i, j, k
        kept.used[0] += 1


@borrowing(error_model="numpy")
def take(s: int, option: int, tour: Tour, kept: Journal) -> None:
    """Enter stroke ``s`` by another of its options."""
    _note(_TAKEN, s, tour.choice[s], 0, kept)
    tour.choice[s] = option


@borrowing(error_model="numpy")
def turn(i: int, j: int, tour: Tour, ways: Ways, kept: Journal) -> None:
    """Turn the run of positions i..j round, every stroke of it followed the other way."""
    _note(_TURNED, i, j, 0, kept)
    _turn(i, j, tour, ways)


@borrowing(error_model="numpy")
def _turn(i: int, j: int, tour: Tour, ways: Ways) -> None:
    while i <= j:
        one, other = tour.order[i], tour.order[j]
        tour.order[i], tour.order[j] = other, one
        tour.position[one], tour.position[other] = j, i
        tour.choice[one] = ways.flip[tour.choice[one]]
        if i < j:
            tour.choice[other] = ways.flip[tour.choice[other]]
        i += 1
        j -= 1


@borrowing(error_model="numpy")
def shift(i: int, j: int, k: int, tour: Tour, kept: Journal) -> int:
    """Move the run i..j between the positions k and k + 1; return where it begins then."""
    _note(_SHIFTED, i, j, k, kept)
    return _shift(i, j, k, tour)


@borrowing(error_model="numpy")
def _shift(i: int, j: int, k: int, tour: Tour) -> int:
    low, high = min(i, k + 1), max(j, k)
    to = k - (j - i) if k > j else k + 1
    middle = j + 1 if k > j else i
    # two runs beside each other change places by being reversed, each and then both
    _reverse(low, middle - 1, tour.order)
    _reverse(middle, high, tour.order)
    _reverse(low, high, tour.order)
    for at in range(low, high + 1):
        tour.position[tour.order[at]] = at
    return to


@borrowing(error_model="numpy")
def _reverse(i: int, j: int, order: IntArray) -> None:
    while i < j:
        order[i], order[j] = order[j], order[i]
        i += 1
        j -= 1


@borrowing(error_model="numpy")
def undo(tour: Tour, ways: Ways, kept: Journal) -> None:
    """Take back everything that the journal holds, the last change first."""
    for at in range(kept.used[0] - 1, -1, -1):
        kind, i, j, k = kept.rows[at]
        if kind == _TAKEN:
            tour.choice[i] = j
        elif kind == _TURNED:
            _turn(i, j, tour, ways)
        elif k > j:
            _shift(k - j + i, k, i - 1, tour)
        else:
            _shift(k + 1, k + 1 + j - i, j, tour)
    kept.used[0] = 0


@borrowing(error_model="numpy")
def may_turn(i: int, j: int, tour: Tour, ways: Ways, precedence: Precedence) -> bool:
    """Whether all strokes of the run can be followed backwards and none waits for another."""
    for k in range(i, j + 1):
        one = tour.order[k]
        if ways.flip[tour.choice[one]] < 0:
            return False
        for at in range(precedence.after_first[one], precedence.after_first[one + 1]):
            if i <= tour.position[precedence.after[at]] <= j:
                return False
    return True


@borrowing(error_model="numpy")
def may_shift(i: int, j: int, k: int, tour: Tour, precedence: Precedence) -> bool:
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
