"""No-fit polygons of all pairs of outlines in all their turns.

The Minkowski sum of one outline and the other turned about: sums of their convex pieces, joined.
Two outlines turned alike have the no-fit polygon turned likewise, and exchanged the one mirrored in
the origin, so that few have to be reckoned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely import Polygon

from kerfwright.cores import at_once, cores
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area, rings_of
from kerfwright.nesting.convex_pieces import exact_pieces
from kerfwright.nesting.strip_search.no_fit_kernel import IntArray, NoFits, slabs_of

ALIKE = 1e-9
"""Turns of which the outlines differ by so little of their area are one."""

TOUCHING = 1e-10
"""An overlap less deep than this share of the smallest outline's size is contact, and rounding."""

JOINED_A_SECOND = 25_000
"""Pairs of convex pieces that are summed and joined in a second, roughly."""

WHOLE_TURN_DEG = 360.0

Relation = tuple[int, int, float]
"""Two kinds, and by how much further the other is turned than the one."""


@dataclass(frozen=True, eq=False, slots=True)
class Turns:
    """Every kind in every turn that looks different.

    ``kind`` and ``turn_deg`` by outline; outlines of kind k from ``first[k]`` on.
    """

    rings: tuple[FloatArray, ...]
    pieces: tuple[tuple[FloatArray, ...], ...]
    kind: tuple[int, ...]
    turn_deg: tuple[float, ...]
    first: tuple[int, ...]

    @property
    def seconds(self) -> float:
        """How long their no-fit polygons will take, roughly."""
        counts = [len(cut) for cut in self.pieces]
        sums = sum(counts[one] * counts[other] for one, other, _ in self.relations())
        return sums / JOINED_A_SECOND

    def least_mm(self, quantities: Sequence[int], across_mm: float) -> float:
        """Length that a strip for so many of each kind needs: for their areas, and the longest."""
        firsts = [self.rings[n] for n in self.first[:-1]]
        areas = [Polygon(ring).area * n for ring, n in zip(firsts, quantities, strict=True)]
        lengths = [float(np.ptp(ring[:, 0])) for ring in self.rings]
        shortest = [min(lengths[a:b]) for a, b in pairwise(self.first)]
        return float(max(sum(areas) / across_mm, *shortest))

    def relations(self) -> list[Relation]:
        """What has to be reckoned: each two kinds in each turn towards each other once."""
        found = {
            self._relation(a, b)
            for a in range(len(self.kind))
            for b in range(len(self.kind))
            if self.kind[a] <= self.kind[b]
        }
        return sorted(found)

    def half_turned(self) -> IntArray:
        """Which outline each becomes by half a turn, shape (n,); -1 where it may not be turned."""
        placed = [_at_origin(ring) for ring in self.rings]
        about = [_at_origin(-ring) for ring in self.rings]
        found = [
            next((other for other in range(a, b) if _alike(about[one], placed[other])), -1)
            for a, b in pairwise(self.first)
            for one in range(a, b)
        ]
        return np.array(found, dtype=np.int64)

    def _relation(self, a: int, b: int) -> Relation:
        further = (self.turn_deg[b] - self.turn_deg[a]) % WHOLE_TURN_DEG
        return self.kind[a], self.kind[b], round(further, 9) % WHOLE_TURN_DEG

    def sides(self, a: int, b: int, reckoned: dict[Relation, FloatArray]) -> FloatArray:
        """Sides of one no-fit polygon, shape (m, 4), from those that are reckoned."""
        if self.kind[a] > self.kind[b]:
            return -self.sides(b, a, reckoned)
        base = reckoned[self._relation(a, b)]
        return rotation(self.turn_deg[a]).apply(base.reshape(-1, 2)).reshape(-1, 4)


def turns_of(rings: Sequence[FloatArray], turns_deg: Sequence[Sequence[float]]) -> Turns:
    """Turn every ring, shape (n, 2), by its angles; turns that look alike count once."""
    turned, kinds, kept_deg, first = [], [], [], [0]
    for kind, (ring, angles_deg) in enumerate(zip(rings, turns_deg, strict=True)):
        seen: list[Polygon] = []
        for turn_deg in angles_deg:
            points = rotation(turn_deg).apply(ring)
            outline = _at_origin(points)
            if any(_alike(outline, other) for other in seen):
                continue
            seen.append(outline)
            turned.append(points)
            kinds.append(kind)
            kept_deg.append(turn_deg)
        first.append(len(turned))
    pieces = [tuple(exact_pieces(shapely.make_valid(Polygon(ring)))) for ring in rings]
    return Turns(tuple(turned), tuple(pieces), tuple(kinds), tuple(kept_deg), tuple(first))


def no_fits(turns: Turns) -> NoFits:
    """Reckon all no-fit polygons, on all cores."""
    relations = turns.relations()
    share = max(-(-len(relations) // (4 * cores())), 1)
    shares = [relations[n : n + share] for n in range(0, len(relations), share)]
    tasks = [lambda some=some: [_reckoned(turns, one) for one in some] for some in shares]
    found = [sides for some in at_once(tasks) for sides in some]
    reckoned = dict(zip(relations, found, strict=True))
    count = len(turns.rings)
    sides = [turns.sides(a, b, reckoned) for a in range(count) for b in range(count)]
    around = np.array([_box_of(side.reshape(-1, 2)) for side in sides])
    start = np.concatenate([[0], np.cumsum([len(side) for side in sides])]).astype(np.int64)
    edge = np.ascontiguousarray(np.vstack(sides).T)
    slab, slab_start = slabs_of(edge, start, around)
    size = np.sqrt(shapely.area(shapely.convex_hull([Polygon(ring) for ring in turns.rings])))
    return NoFits(
        edge=edge,
        inverse=1.0 / ((edge[2] - edge[0]) ** 2 + (edge[3] - edge[1]) ** 2),
        start=start,
        around=around,
        scale=np.ones(count * count),
        slab=slab,
        slab_start=slab_start,
        box=np.array([_box_of(ring) for ring in turns.rings]),
        half_turned=turns.half_turned(),
        size=size,
        contact=TOUCHING * float(size.min()),
    )


def weighed_by_size(fits: NoFits, emphasis: float) -> NoFits:
    """Overlaps counted by size: large outlines, which are harder to place, ``emphasis`` more."""
    one, other = fits.size[:, None], fits.size[None, :]
    scale = np.sqrt(np.minimum(one, other)) * (one * other) ** emphasis
    return fits._replace(scale=scale.ravel())


def _at_origin(ring: FloatArray) -> Polygon:
    return Polygon(ring - ring.min(axis=0))


def _alike(one: Polygon, other: Polygon) -> bool:
    return bool(one.symmetric_difference(other).area < ALIKE * one.area)


def _box_of(points: FloatArray) -> FloatArray:
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def _reckoned(turns: Turns, relation: Relation) -> FloatArray:
    """Sides of the differences of places at which the one not turned overlaps the other."""
    one, other, further_deg = relation
    turn = rotation(further_deg)
    sums = [
        shapely.multipoints((turn.apply(b)[:, None, :] - a[None, :, :]).reshape(-1, 2))
        for a in turns.pieces[one]
        for b in turns.pieces[other]
    ]
    joined = as_area(shapely.union_all(shapely.convex_hull(sums)))
    rings = rings_of(joined)
    return np.vstack([np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring in rings])
