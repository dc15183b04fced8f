"""Finds lines that lie exactly on one another."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM


def without_doubled_points(paths: Sequence[Path]) -> list[Path]:
    """Drop points that repeat the one before them exactly, and the last of a closed path its first.

    Paths without such points are returned as they are.
    """
    if not paths:
        return []
    counts = np.array([len(path.points) for path in paths])
    points = np.concatenate([path.points for path in paths])
    doubled = np.zeros(len(points), dtype=bool)
    doubled[1:] = (points[1:] == points[:-1]).all(axis=1)
    starts = np.cumsum(counts) - counts
    doubled[starts[counts > 0]] = False
    touched = np.zeros(len(paths), dtype=bool)
    touched[np.searchsorted(np.cumsum(counts), np.flatnonzero(doubled), side="right")] = True
    out: list[Path] = []
    for path, start, count, cut in zip(paths, starts, counts, touched, strict=True):
        kept = path.points
        if cut:
            kept = kept[~doubled[start : start + count]]
        if path.closed and len(kept) > 1 and (kept[0] == kept[-1]).all():
            kept = kept[:-1]
        out.append(path if len(kept) == count else Path(kept, path.closed))
    return out


def repeats(units: Sequence[tuple[Path, ...]], *, same_way: bool = False) -> dict[int, int]:
    """Numbers of units that repeat an earlier one, each with the number of the one that is kept.

    A unit is one line, or all lines of an area in their order. Two lines are the same if their
    points lie within ``SAME_MM`` of one another, followed either way, and for closed lines from
    any point on. With ``same_way`` the lines of a unit must all run as in the other or all the
    other way: a nonzero fill (SVG 1.1 section 11.3) turns a hole into an area if only it turns.
    """
    alike: dict[tuple[tuple[int, bool], ...], list[int]] = defaultdict(list)
    for i, unit in enumerate(units):
        alike[tuple((len(path.points), path.closed) for path in unit)].append(i)
    found: dict[int, int] = {}
    for numbers in alike.values():
        if len(numbers) > 1:
            found |= _repeats_among(units, numbers, same_way)
    return found


def _repeats_among(
    units: Sequence[tuple[Path, ...]], numbers: list[int], same_way: bool
) -> dict[int, int]:
    marks = _marks(units, numbers)
    tree = cKDTree(marks)
    # If points differ by d, their centre and mean radius differ by at most d, their lie by 3.2 d.
    reach_mm = 4.0 * SAME_MM
    nearest, _ = tree.query(marks, k=2)
    candidates = np.flatnonzero(np.asarray(nearest)[:, 1] <= reach_mm).tolist()
    found: dict[int, int] = {}
    for i in candidates:
        if numbers[i] in found:
            continue
        for j in sorted(tree.query_ball_point(marks[i], reach_mm)):
            if j <= i or numbers[j] in found:
                continue
            if _same(units[numbers[i]], units[numbers[j]], same_way):
                found[numbers[j]] = numbers[i]
    return found


def _marks(units: Sequence[tuple[Path, ...]], numbers: list[int]) -> FloatArray:
    """Centre, mean radius and lie of each unit's points, whichever way they are followed.

    The lie is the mean square of the points as complex numbers about their centre, over the
    radius: it tells apart lines that are turned about one centre, such as the spokes of a wheel.
    """
    points = np.stack([np.concatenate([path.points for path in units[i]]) for i in numbers])
    centres = points.mean(axis=1)
    x, y = np.moveaxis(points - centres[:, None, :], 2, 0)
    radii = np.sqrt((x**2 + y**2).mean(axis=1))
    scale = np.maximum(radii, 20.0 * SAME_MM)
    lie = [(x**2 - y**2).mean(axis=1) / scale, (2.0 * x * y).mean(axis=1) / scale]
    return np.column_stack([centres, radii, *lie])


def _same(one: tuple[Path, ...], other: tuple[Path, ...], same_way: bool) -> bool:
    ways = [_same_ways(a, b) for a, b in zip(one, other, strict=True)]
    if same_way:
        return all(ahead for ahead, _ in ways) or all(back for _, back in ways)
    return all(ahead or back for ahead, back in ways)


def _same_ways(one: Path, other: Path) -> tuple[bool, bool]:
    """Whether two lines are the same as they are drawn, and with one of them reversed."""
    return (
        _same_points(one.points, other.points, one.closed),
        _same_points(one.points, other.points[::-1], one.closed),
    )


def _same_points(a: FloatArray, b: FloatArray, closed: bool) -> bool:
    if not closed:
        return _match(a, b)
    starts = np.flatnonzero(np.hypot(*(b - a[0]).T) <= SAME_MM)
    return any(_match(a, np.roll(b, -int(start), axis=0)) for start in starts)


def _match(a: FloatArray, b: FloatArray) -> bool:
    return bool(np.hypot(*(a - b).T).max() <= SAME_MM)
