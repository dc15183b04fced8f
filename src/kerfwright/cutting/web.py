"""The web of lines between parts that share edges, and what lies beside every piece of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon

from kerfwright.cutting.enclosing import OUTSIDE
from kerfwright.cutting.overlaps import BoolArray
from kerfwright.cutting.shared_edges import IntArray, SharedEdges
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM

ON_LINE_MM = 10.0 * SAME_MM
"""Middles of pieces lie no further from the line of what a cluster encloses."""


@dataclass(frozen=True, eq=False, slots=True)
class Web:
    """All lines of the parts that share edges, as pieces between nodes, each piece once.

    ``beside`` has what lies on the two sides of each piece: the number of a part, of a pocket of
    waste (``faces`` counts both) or ``OUTSIDE``. Where that is not known, one part stands twice.
    """

    nodes: FloatArray
    """Shape (m, 2), mm."""
    ends: IntArray
    """Shape (n, 2)."""
    beside: IntArray
    """Shape (n, 2)."""
    shared: BoolArray
    """Shape (n,): whether a piece belongs to two parts."""
    faces: int

    @property
    def lengths_mm(self) -> FloatArray:
        """Length of each piece, shape (n,)."""
        steps = self.nodes[self.ends[:, 1]] - self.nodes[self.ends[:, 0]]
        return np.asarray(np.hypot(steps[:, 0], steps[:, 1]))


def is_shared(owners: frozenset[int], groups: IntArray) -> bool:
    """Whether a piece belongs to two parts of one group."""
    return len(owners) > 1 and len({int(groups[i]) for i in owners}) == 1


def web_of(
    rings: Sequence[Sequence[Path]],
    drawn: tuple[SharedEdges, IntArray],
    merged: tuple[SharedEdges, IntArray],
    cluster: IntArray,
    areas: Sequence[tuple[MultiPolygon, int]],
) -> Web:
    """Put together what is cut between touching parts and along the lines round all others.

    Args:
        rings: outline and holes of each part, as drawn.
        drawn: their edges, and the groups of parts that touch.
        merged: edges of the beam lines, under the first part of those that touch, and the
            groups of lines that lie beside each other.
        cluster: the group of each part by either.
        areas: what the beam lines of a cluster enclose, and its number.

    """
    edges, touching = drawn
    between = [i for i, owners in enumerate(edges.owners) if is_shared(owners, touching)]
    inner = [sorted(edges.owners[i])[:2] for i in between]
    lines, linked = merged
    clustered = np.bincount(cluster, minlength=len(cluster)) > 1
    around = [i for i, owners in enumerate(lines.owners) if clustered[cluster[min(owners)]]]
    halves = np.array([is_shared(lines.owners[i], linked) for i in around], dtype=bool)
    owned = np.array(
        [
            (sorted(lines.owners[i]) * 2)[:2] if half else [min(lines.owners[i])] * 2
            for i, half in zip(around, halves, strict=True)
        ],
        dtype=np.int64,
    ).reshape(-1, 2)
    middles = lines.nodes[lines.ends[around]].mean(axis=1)
    beside = np.column_stack([_nearest(rings, touching, owned[:, k], middles) for k in (0, 1)])
    single = np.flatnonzero(~halves)
    second, faces = _waste(areas, cluster[owned[single, 0]], middles[single], len(rings))
    known = second >= OUTSIDE
    beside[single[known], 1] = second[known]
    return Web(
        nodes=np.vstack([edges.nodes, lines.nodes]),
        ends=np.vstack([edges.ends[between], lines.ends[around] + len(edges.nodes)]),
        beside=np.vstack([np.array(inner, dtype=np.int64).reshape(-1, 2), beside]),
        shared=np.concatenate([np.ones(len(between), dtype=bool), halves]),
        faces=faces,
    )


def _nearest(
    rings: Sequence[Sequence[Path]], touching: IntArray, owner: IntArray, middles: FloatArray
) -> IntArray:
    """Which of the parts that touch ``owner``, or itself, a piece with this middle belongs to."""
    found = owner.copy()
    members: defaultdict[int, list[int]] = defaultdict(list)
    for i, group in enumerate(touching.tolist()):
        members[group].append(i)
    for group in np.unique(touching[owner]).tolist():
        if len(members[group]) > 1:
            whose = [i for i in members[group] for _ in rings[i]]
            edges = [shapely.linearrings(p.points) for i in members[group] for p in rings[i]]
            pieces = np.flatnonzero(touching[owner] == group)
            near = shapely.STRtree(edges).query_nearest(
                shapely.points(middles[pieces]), all_matches=False
            )[1]
            found[pieces] = np.array(whose)[near]
    return found


def _waste(
    areas: Sequence[tuple[MultiPolygon, int]], cluster: IntArray, middles: FloatArray, parts: int
) -> tuple[IntArray, int]:
    """Pocket or ``OUTSIDE`` on the other side of pieces with one part, less where unknown.

    Also how many faces there are, with the pockets behind the parts.
    """
    rings: list[shapely.LinearRing] = []
    faces: list[int] = []
    whose: list[int] = []
    count = parts
    for area, number in areas:
        for polygon in area.geoms:
            inner = list(polygon.interiors)
            rings += [polygon.exterior, *inner]
            faces += [OUTSIDE, *range(count, count + len(inner))]
            whose += [number] * (1 + len(inner))
            count += len(inner)
    second = np.full(len(middles), OUTSIDE - 1, dtype=np.int64)
    if len(middles) and rings:
        points = shapely.points(middles)
        point, ring = shapely.STRtree(rings).query(points, predicate="dwithin", distance=ON_LINE_MM)
        same = np.array(whose)[ring] == cluster[point]
        second[point[same]] = np.array(faces)[ring[same]]
    return second, count
