"""Edges that lie on one another, kept once: the arrangement of all cut lines.

Straight pieces that overlap lengthwise within a tolerance form bundles. Along each bundle every
stretch is kept once, with the owners of all pieces that cover it; what no other piece overlaps
stays as it is. Found by boxes in a tree, so that the work grows as n log n for cut lines that
overlap a bounded number of others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False, slots=True)
class SharedEdges:
    """Straight pieces (ax, ay, bx, by), shape (n, 4), no two overlapping, and whose they are.

    ``separate_mm`` is the length of the lines given, ``unique_mm`` that of the pieces,
    ``shared_mm`` that of pieces with two or more owners.
    """

    pieces: FloatArray
    owners: tuple[frozenset[int], ...]
    separate_mm: float
    unique_mm: float
    shared_mm: float

    @property
    def shared(self) -> npt.NDArray[np.bool_]:
        """Which pieces have two or more owners, shape (n,)."""
        return np.array([len(owners) > 1 for owners in self.owners], dtype=bool)


def merge_edges(paths: Sequence[Path], owners: Sequence[int], tolerance_mm: float) -> SharedEdges:
    """Keep every stretch of ``paths`` once; ``owners[i]`` says whose path i is.

    Pieces no further than ``tolerance_mm`` from each other all along an overlap count as one,
    whatever their direction. A path that runs over itself is kept once as well.
    """
    pieces, owner = _pieces(paths, owners)
    lengths = _lengths_mm(pieces)
    bundle = _bundles(pieces, tolerance_mm)
    alone = np.bincount(bundle, minlength=len(pieces))[bundle] == 1
    kept = [pieces[alone]]
    whose = [frozenset({int(one)}) for one in owner[alone]]
    together = np.flatnonzero(~alone)
    by_bundle = together[np.argsort(bundle[together], kind="stable")]
    breaks = np.flatnonzero(np.diff(bundle[by_bundle])) + 1
    for members in np.split(by_bundle, breaks) if len(by_bundle) else ():
        stretches, covered_by = _stretches(pieces[members], owner[members], tolerance_mm)
        kept.append(stretches)
        whose += covered_by
    unique = np.vstack(kept)
    unique_lengths = _lengths_mm(unique)
    is_shared = np.array([len(one) > 1 for one in whose], dtype=bool)
    return SharedEdges(
        unique,
        tuple(whose),
        float(lengths.sum()),
        float(unique_lengths.sum()),
        float(unique_lengths[is_shared].sum()) if len(whose) else 0.0,
    )


def strokes_along(pieces: FloatArray, join_mm: float) -> list[Path]:
    """Join pieces end to end into lines as long as possible, each piece once.

    Ends within ``join_mm`` meet. Lines start where an odd number of pieces meets, as an Euler
    trail must, and go straight on where several ways are open; what is left are closed lines.
    """
    if len(pieces) == 0:
        return []
    points, at = _joined_ends(pieces, join_mm)
    web = _Web(points, at)
    odd = np.flatnonzero(np.bincount(at.ravel(), minlength=len(points)) % 2)
    trails = [trail for vertex in odd if len(trail := web.trail(int(vertex))) > 1]
    trails += [trail for vertex in range(len(points)) if len(trail := web.trail(vertex)) > 1]
    return [_path(points, trail) for trail in trails]


def _pieces(paths: Sequence[Path], owners: Sequence[int]) -> tuple[FloatArray, IntArray]:
    rows = [np.hstack([path.line[:-1], path.line[1:]]) for path in paths]
    if not rows:
        return np.empty((0, 4)), np.empty(0, dtype=np.int64)
    pieces = np.vstack(rows)
    owner = np.repeat(np.asarray(owners, dtype=np.int64), [len(row) for row in rows])
    long_enough = _lengths_mm(pieces) > 0.0
    return pieces[long_enough], owner[long_enough]


def _lengths_mm(pieces: FloatArray) -> FloatArray:
    return np.asarray(np.hypot(pieces[:, 2] - pieces[:, 0], pieces[:, 3] - pieces[:, 1]))


def _bundles(pieces: FloatArray, tolerance_mm: float) -> IntArray:
    """Number of the bundle that each piece belongs to; touching end to end is no overlap."""
    n = len(pieces)
    if n == 0:
        return np.empty(0, dtype=np.int64)
    reach = tolerance_mm + SAME_MM
    low = np.minimum(pieces[:, :2], pieces[:, 2:]) - reach / 2
    high = np.maximum(pieces[:, :2], pieces[:, 2:]) + reach / 2
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    one, other = shapely.STRtree(boxes).query(boxes)
    ahead = one < other
    one, other = one[ahead], other[ahead]
    lengths = _lengths_mm(pieces)
    swap = lengths[one] < lengths[other]
    longer, shorter = np.where(swap, other, one), np.where(swap, one, other)
    near = _overlap(pieces[longer], pieces[shorter], tolerance_mm + SAME_MM / 10)
    links = coo_array((np.ones(near.sum()), (longer[near], shorter[near])), shape=(n, n))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)


def _overlap(longer: FloatArray, shorter: FloatArray, tolerance_mm: float) -> npt.NDArray[np.bool_]:
    """Whether the shorter piece lies along the longer one, over more than a point's length."""
    a, direction = longer[:, :2], longer[:, 2:] - longer[:, :2]
    length = np.hypot(direction[:, 0], direction[:, 1])
    direction = direction / length[:, None]
    p, q = shorter[:, :2] - a, shorter[:, 2:] - a
    along_p, along_q = (p * direction).sum(axis=1), (q * direction).sum(axis=1)
    aside_p = p[:, 1] * direction[:, 0] - p[:, 0] * direction[:, 1]
    aside_q = q[:, 1] * direction[:, 0] - q[:, 0] * direction[:, 1]
    start = np.clip(np.minimum(along_p, along_q), 0.0, length)
    end = np.clip(np.maximum(along_p, along_q), 0.0, length)
    span = along_q - along_p
    steep = np.abs(span) <= np.abs(aside_q - aside_p)
    slope = (aside_q - aside_p) / np.where(steep, 1.0, span)
    at_start = aside_p + slope * (start - along_p)
    at_end = aside_p + slope * (end - along_p)
    furthest = np.maximum(np.abs(at_start), np.abs(at_end))
    # a tiny piece counts by its share: flattened curves are made of nothing else
    least = np.minimum(4.0 * tolerance_mm, 0.5 * np.abs(span))
    return np.asarray(
        ~steep & (end - start > np.maximum(least, SAME_MM)) & (furthest <= tolerance_mm)
    )


def _stretches(
    pieces: FloatArray, owner: IntArray, tolerance_mm: float
) -> tuple[FloatArray, list[frozenset[int]]]:
    """Cut a bundle at every end of its pieces; keep each stretch once with all its owners."""
    longest = pieces[int(np.argmax(_lengths_mm(pieces)))]
    origin = longest[:2]
    direction = (longest[2:] - origin) / np.hypot(*(longest[2:] - origin))
    along = np.column_stack(
        [(pieces[:, :2] - origin) @ direction, (pieces[:, 2:] - origin) @ direction]
    )
    low, high = along.min(axis=1), along.max(axis=1)
    marks = _snapped(np.concatenate([low, high]), max(tolerance_mm, SAME_MM))
    found: list[tuple[float, float, frozenset[int]]] = []
    for start, end in pairwise(marks):
        middle = (start + end) / 2
        covering = frozenset(owner[(low < middle) & (high > middle)].tolist())
        if not covering:
            continue
        if found and found[-1][1] == start and found[-1][2] == covering:
            found[-1] = (found[-1][0], end, covering)
        else:
            found.append((start, end, covering))
    stretches = np.array(
        [[*(origin + start * direction), *(origin + end * direction)] for start, end, _ in found]
    ).reshape(-1, 4)
    return stretches, [covering for _, _, covering in found]


def _snapped(values: FloatArray, tolerance_mm: float) -> list[float]:
    """Values in order, those within the tolerance of the one before left out."""
    ordered = np.sort(values)
    marks = [float(ordered[0])]
    for value in ordered[1:]:
        if value - marks[-1] > tolerance_mm:
            marks.append(float(value))
    # the far end of the bundle is kept, not the mark a hair before it
    if len(marks) > 1:
        marks[-1] = max(marks[-1], float(ordered[-1]))
    return marks


def _joined_ends(pieces: FloatArray, join_mm: float) -> tuple[FloatArray, IntArray]:
    """Points where pieces end, and for each piece which points, shape (n, 2)."""
    ends = pieces.reshape(-1, 2)
    tree = shapely.STRtree(shapely.points(ends))
    one, other = tree.query(shapely.points(ends), predicate="dwithin", distance=max(join_mm, 1e-9))
    links = coo_array((np.ones(len(one)), (one, other)), shape=(len(ends), len(ends)))
    count, vertex = connected_components(links, directed=False)
    first = np.full(count, -1, dtype=np.int64)
    for number in range(len(ends) - 1, -1, -1):
        first[vertex[number]] = number
    return ends[first], np.asarray(vertex, dtype=np.int64).reshape(-1, 2)


class _Web:
    """Pieces as edges between points, taken one by one."""

    def __init__(self, points: FloatArray, at: IntArray) -> None:
        self._points = points
        self._ends = at
        self._open: list[list[int]] = [[] for _ in range(len(points))]
        for piece, (one, other) in enumerate(at):
            if one != other:
                self._open[one].append(piece)
                self._open[other].append(piece)

    def trail(self, vertex: int) -> list[int]:
        """Follow pieces from a point, as straight as possible, until no open one is left."""
        trail = [vertex]
        heading: FloatArray | None = None
        while self._open[vertex]:
            piece = self._straightest(vertex, heading)
            one, other = (int(end) for end in self._ends[piece])
            self._open[one].remove(piece)
            self._open[other].remove(piece)
            following = other if one == vertex else one
            heading = self._points[following] - self._points[vertex]
            trail.append(following)
            vertex = following
        return trail

    def _straightest(self, vertex: int, heading: FloatArray | None) -> int:
        choices = self._open[vertex]
        if heading is None or len(choices) == 1:
            return choices[0]
        far = [int(self._ends[piece].sum()) - vertex for piece in choices]
        ways = self._points[far] - self._points[vertex]
        cosines = ways @ heading / (np.hypot(ways[:, 0], ways[:, 1]) * np.hypot(*heading))
        return choices[int(np.argmax(cosines))]


def _path(points: FloatArray, trail: Sequence[int]) -> Path:
    closed = len(trail) > 3 and trail[0] == trail[-1]
    return Path(points[list(trail[:-1] if closed else trail)], closed)
