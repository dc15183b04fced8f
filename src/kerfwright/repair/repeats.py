"""Finds lines that lie exactly on one another."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM


def repeats(units: Sequence[tuple[Path, ...]]) -> dict[int, int]:
    """Numbers of units that repeat an earlier one, each with the number of the one that is kept.

    A unit is one line, or all lines of an area in their order. Two lines are the same if their
    points lie within ``SAME_MM`` of one another, followed either way, and for closed lines from
    any point on.
    """
    alike: dict[tuple[tuple[int, bool], ...], list[int]] = defaultdict(list)
    for i, unit in enumerate(units):
        alike[tuple((len(path.points), path.closed) for path in unit)].append(i)
    found: dict[int, int] = {}
    for numbers in alike.values():
        if len(numbers) > 1:
            found |= _repeats_among(units, numbers)
    return found


def _repeats_among(units: Sequence[tuple[Path, ...]], numbers: list[int]) -> dict[int, int]:
    marks = _marks(units, numbers)
    tree = cKDTree(marks)
    # If points differ by d, their centre differs by at most d and their mean radius by 2d.
    reach_mm = 2.5 * SAME_MM
    nearest, _ = tree.query(marks, k=2)
    candidates = np.flatnonzero(np.asarray(nearest)[:, 1] <= reach_mm).tolist()
    found: dict[int, int] = {}
    for i in candidates:
        if numbers[i] in found:
            continue
        for j in sorted(tree.query_ball_point(marks[i], reach_mm)):
            if j > i and numbers[j] not in found and _same(units[numbers[i]], units[numbers[j]]):
                found[numbers[j]] = numbers[i]
    return found


def _marks(units: Sequence[tuple[Path, ...]], numbers: list[int]) -> FloatArray:
    """Centre and mean radius of each unit's points: the same whichever way they are followed."""
    points = np.stack([np.concatenate([path.points for path in units[i]]) for i in numbers])
    centres = points.mean(axis=1)
    radii = np.sqrt(((points - centres[:, None, :]) ** 2).sum(axis=2).mean(axis=1))
    return np.column_stack([centres, radii])


def _same(one: tuple[Path, ...], other: tuple[Path, ...]) -> bool:
    return all(_same_line(a, b) for a, b in zip(one, other, strict=True))


def _same_line(one: Path, other: Path) -> bool:
    a = one.points
    for b in (other.points, other.points[::-1]):
        if not one.closed:
            if _match(a, b):
                return True
            continue
        starts = np.flatnonzero(np.hypot(*(b - a[0]).T) <= SAME_MM)
        if any(_match(a, np.roll(b, -int(start), axis=0)) for start in starts):
            return True
    return False


def _match(a: FloatArray, b: FloatArray) -> bool:
    return bool(np.hypot(*(a - b).T).max() <= SAME_MM)
