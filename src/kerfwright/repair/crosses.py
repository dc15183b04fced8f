"""Open lines drawn across one another, such as marks to lay something by."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely

from kerfwright.geometry.paths import FloatArray
from kerfwright.repair.ends import Ends, NearPairs
from kerfwright.repair.lines import Lines
from kerfwright.repair.lines_kernel import BoolArray, IntArray

Geometries = npt.NDArray[np.object_]

LEAST_ARM = 0.25
"""An arm has at least this share of its line; what is shorter has run over at a corner."""


def arms_of_a_cross(lines: Lines, ends: Ends, pairs: NearPairs) -> BoolArray:
    """Which pairs are ends of two lines that cross, both of them far from these ends."""
    found = np.zeros(len(pairs.first), dtype=bool)
    first, second = pairs.first >> 1, pairs.second >> 1
    several = np.flatnonzero(first != second)
    if not len(several):
        return found
    used, place = np.unique(np.concatenate([first[several], second[several]]), return_inverse=True)
    drawn = np.array([shapely.LineString(lines.points_of(n)) for n in ends.numbers[used].tolist()])
    one, other = drawn[place[: len(several)]], drawn[place[len(several) :]]
    crossing = np.flatnonzero(shapely.crosses(one, other))
    meet, of = shapely.get_parts(
        shapely.intersection(one[crossing], other[crossing]), return_index=True
    )
    meet = shapely.centroid(meet)
    pair = several[crossing[of]]
    shortest = np.minimum(
        _share(one[crossing[of]], meet, pairs.first[pair]),
        _share(other[crossing[of]], meet, pairs.second[pair]),
    )
    found[pair[shortest >= LEAST_ARM]] = True
    return found


def _share(line: Geometries, at: Geometries, end: IntArray) -> FloatArray:
    """Share of each line from its end ``end`` (even: its first point) to a point on it."""
    along = shapely.line_locate_point(line, at, normalized=True)
    return np.asarray(np.where(end & 1, 1.0 - along, along))
