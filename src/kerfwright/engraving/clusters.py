"""Which polygons share rows, and at which angle: groups that are joined while that saves time.

Every polygon starts by itself. The two groups that save most by sharing rows are joined first, at
the angle that is best for both together, and what is saved with others is worked out again
(savings: Clarke & Wright 1964, *Scheduling of vehicles from a central depot to a number of delivery
points*). Then single polygons change over to another group or out of any, and parts of the whole
are taken out and put back where they cost least (Schrimpf et al. 2000, *Record breaking
optimization results using the ruin and recreate principle*), from the same random numbers always.
Each group keeps an angle of its own. Seconds are those of a model of rows; work is counted in
edges looked at, so that the same area ends the same.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import MultiPolygon, Polygon

from kerfwright.engraving.burn import Burn
from kerfwright.engraving.cell_angles import away_deg, directions_deg, edge_steps
from kerfwright.engraving.cells import MOST_MORE_ROWS, SEAM_TRAVEL_MM
from kerfwright.engraving.row_model import LEAST_S, RowModel, finer_angle
from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine

MOST_POLYGONS = 250
"""Of more polygons the groups that are given stay."""

MOST_EDGES = 5_000_000
"""Edges crossed by rows that the search looks at, at most."""

JOINING_SHARE = 0.5
"""How much of that work the joining of pairs may take."""

NEAR = 8
"""Neighbours whose groups a polygon may join."""

OWN_ANGLES = 2
"""Directions of each polygon's edges that are tried for its groups."""

SAME_DEG = 0.5

RUINS = 250
"""Parts taken out and put back since the last that saved time, before the search ends."""

TAKEN_OUT = 6

Members = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Cluster:
    """Polygons that share rows at ``angle_deg``; without an angle, one that is burned alone."""

    members: Members
    angle_deg: float | None
    seconds: float


def clusters(
    polygons: Sequence[Polygon],
    given: Sequence[tuple[Members, float | None]],
    alone_s: FloatArray,
    angles_deg: Sequence[float],
    rows_s: Mapping[float, float],
    burn: Burn,
    machine: Machine,
) -> list[Cluster]:
    """Group ``polygons`` by time; the better of what comes of ``given`` groups and of none.

    ``alone_s`` is what each takes by itself, in loops or rows of its own, infinite where that is
    not to be had; ``angles_deg`` are tried for every group. ``rows_s`` is what rows of all
    take at some angles, which tells what the model leaves out. Nothing if there are too few or
    too many polygons.
    """
    if not 2 <= len(polygons) <= MOST_POLYGONS:
        return []
    search = _Search(polygons, alone_s, angles_deg, rows_s, burn, machine)
    ends = [
        search.improved(start)
        for start in (search.joined(), [search.as_given(*group) for group in given])
    ]
    best = min(ends, key=_total_s)
    return [search.with_finer_angle(one) for one in search.shaken(best)]


def _total_s(groups: Sequence[Cluster]) -> float:
    return sum(group.seconds for group in groups)


class _Search:
    def __init__(
        self,
        polygons: Sequence[Polygon],
        alone_s: FloatArray,
        angles_deg: Sequence[float],
        all_rows_s: Mapping[float, float],
        burn: Burn,
        machine: Machine,
    ) -> None:
        limits = machine.travel.acceleration_mm_s2
        self.seam_s = 2.0 * float(np.sqrt(SEAM_TRAVEL_MM / min(limits))) + machine.settle_s
        self.alone_s = alone_s + self.seam_s
        self.model = RowModel(polygons, burn, machine)
        self.middles = shapely.get_coordinates(shapely.centroid(np.array(polygons)))
        count = min(NEAR + 1, len(polygons))
        _, near = cKDTree(self.middles).query(self.middles, k=count)
        self.near = [set(row[1:].tolist()) for row in np.asarray(near)]
        for one, others in enumerate(self.near):
            for other in others:
                self.near[other].add(one)
        self.common = tuple(angles_deg)
        self.own = [self._own_angles(polygon) for polygon in polygons]
        self.known: dict[Members, Cluster] = {}
        self.more = self._rows_between(all_rows_s)

    @property
    def tired(self) -> bool:
        return self.model.looked > MOST_EDGES

    def _rows_between(self, all_rows_s: Mapping[float, float]) -> float:
        """Rows that all polygons take for every row of the model, as in the cells' model."""
        everyone = tuple(range(len(self.own)))
        model_s = self.model.seconds(everyone, list(all_rows_s))
        shares = np.array(list(all_rows_s.values())) / model_s
        return float(np.clip(np.median(shares), 1.0, MOST_MORE_ROWS))

    def _own_angles(self, polygon: Polygon) -> tuple[float, ...]:
        fresh = directions_deg(*edge_steps(MultiPolygon([polygon])))
        return tuple(a for a in fresh if _is_new(a, self.common))[:OWN_ANGLES]

    def best(self, members: Members, also_deg: Sequence[float] = ()) -> Cluster:
        """The group by its best angle, or alone; members in rising order."""
        known = self.known.get(members)
        if known is not None:
            return known
        tried = list(self.common)
        biggest = sorted(members, key=lambda p: -self.model.height_mm[p])[:3]
        for angle in (*also_deg, *self._along(members), *(a for p in biggest for a in self.own[p])):
            if _is_new(angle, tried):
                tried.append(angle)
        seconds = self._rows_s(members, tried)
        at = int(np.argmin(seconds))
        group = Cluster(members, tried[at], float(seconds[at]))
        if len(members) == 1 and self.alone_s[members[0]] <= group.seconds:
            group = Cluster(members, None, float(self.alone_s[members[0]]))
        self.known[members] = group
        return group

    def as_given(self, members: Members, angle_deg: float | None) -> Cluster:
        """A group at the angle it came with, or at a better one."""
        if angle_deg is None:
            return Cluster(members, None, float(self.alone_s[members[0]]))
        return self.best(tuple(sorted(members)), (angle_deg,))

    def _rows_s(self, members: Members, angles: Sequence[float]) -> FloatArray:
        seconds: FloatArray = self.more * self.model.seconds(members, angles) + self.seam_s
        return seconds

    def _along(self, members: Members) -> list[float]:
        """The direction in which a group's middles lie."""
        if len(members) < 2:
            return []
        off = self.middles[list(members)]
        off = off - off.mean(axis=0)
        _, _, axes = np.linalg.svd(off, full_matrices=False)
        return [round(float(np.degrees(np.arctan2(axes[0, 1], axes[0, 0])) % 180.0), 3) % 180.0]

    def with_finer_angle(self, group: Cluster) -> Cluster:
        """The group at an angle near by, if that is faster."""
        if group.angle_deg is None:
            return group
        members = group.members
        angle, seconds = finer_angle(
            group.angle_deg, group.seconds, lambda angles: self._rows_s(members, angles)
        )
        return Cluster(members, angle, seconds)

    def joined(self) -> list[Cluster]:
        """Groups of polygons joined while a pair saves time, the most first."""
        groups = {p: self.best((p,)) for p in range(len(self.own))}
        owner = list(groups)
        heap: list[tuple[float, int, int, Cluster]] = []

        def offer(one: int, other: int) -> None:
            if self.model.looked > JOINING_SHARE * MOST_EDGES:
                return
            both = self._both(groups[one], groups[other])
            saved = groups[one].seconds + groups[other].seconds - both.seconds
            if saved > LEAST_S:
                heapq.heappush(heap, (-saved, min(one, other), max(one, other), both))

        for p in list(groups):
            for other in sorted(self.near[p]):
                if p < other:
                    offer(p, other)
        fresh = len(groups)
        while heap:
            _, one, other, both = heapq.heappop(heap)
            if one not in groups or other not in groups:
                continue
            del groups[one], groups[other]
            groups[fresh] = both
            for p in both.members:
                owner[p] = fresh
            for beside in sorted(self._beside(both.members, owner) - {fresh}):
                offer(fresh, beside)
            fresh += 1
        return list(groups.values())

    def _both(self, one: Cluster, other: Cluster) -> Cluster:
        angles = [g.angle_deg for g in (one, other) if g.angle_deg is not None]
        return self.best(tuple(sorted(one.members + other.members)), angles)

    def _beside(self, members: Sequence[int], owner: Sequence[int]) -> set[int]:
        return {owner[q] for p in members for q in self.near[p]}

    def improved(self, groups: list[Cluster]) -> list[Cluster]:
        """Groups after every polygon has gone where it costs least, until none moves."""
        groups = list(groups)
        moved = True
        while moved and not self.tired:
            moved = False
            for p in range(len(self.own)):
                moved |= not self.tired and self._moved(groups, p)
        return [group for group in groups if group.members]

    def _moved(self, groups: list[Cluster], p: int) -> bool:
        """Move a polygon to the group where it saves most."""
        owner = _owners(groups, len(self.own))
        home = owner[p]
        rest = self._without(groups[home], (p,))
        if groups[home].seconds - rest.seconds < LEAST_S:
            return False  # it lies in the rows of others and costs nothing there
        best, where, after = groups[home].seconds - LEAST_S, -1, groups[home]
        for to in sorted(self._beside((p,), owner) - {home}):
            grown = self._both(groups[to], Cluster((p,), groups[home].angle_deg, 0.0))
            cost = rest.seconds + grown.seconds - groups[to].seconds
            if cost < best:
                best, where, after = cost, to, grown
        single = self.best((p,))
        if len(groups[home].members) > 1 and rest.seconds + single.seconds < best:
            groups[home] = rest
            groups.append(single)
            return True
        if where < 0:
            return False
        groups[home], groups[where] = rest, after
        return True

    def _without(self, group: Cluster, out: Sequence[int]) -> Cluster:
        left = tuple(p for p in group.members if p not in out)
        if not left:
            return Cluster((), None, 0.0)
        angles = () if group.angle_deg is None else (group.angle_deg,)
        return self.best(left, angles)

    def shaken(self, groups: list[Cluster]) -> list[Cluster]:
        """Groups after neighbours were taken out and put back, kept where that saved time."""
        random = np.random.default_rng(1)
        best_s = _total_s(groups)
        in_vain = 0
        while in_vain < RUINS and not self.tired:
            in_vain += 1
            seed = int(random.integers(len(self.own)))
            out = [seed, *random.permutation(sorted(self.near[seed])).tolist()]
            out = out[: int(random.integers(2, TAKEN_OUT + 1))]
            tried = [self._without(group, out) for group in groups]
            tried = [group for group in tried if group.members]
            for p in random.permutation(out).tolist():
                self._put(tried, p)
            seconds = _total_s(tried)
            if seconds < best_s - LEAST_S:
                groups, best_s, in_vain = tried, seconds, 0
        return self.improved(groups)

    def _put(self, groups: list[Cluster], p: int) -> None:
        """Put a polygon into the group where it costs least, or by itself."""
        owner = _owners(groups, len(self.own))
        best_at, best = len(groups), self.best((p,))
        least = best.seconds
        for to in sorted(self._beside((p,), owner) - {-1}):
            grown = self._both(groups[to], Cluster((p,), None, 0.0))
            if grown.seconds - groups[to].seconds < least:
                best_at, best, least = to, grown, grown.seconds - groups[to].seconds
        groups[best_at : best_at + 1] = [best]


def _owners(groups: Sequence[Cluster], count: int) -> list[int]:
    owner = [-1] * count
    for number, group in enumerate(groups):
        for p in group.members:
            owner[p] = number
    return owner


def _is_new(angle_deg: float, known: Sequence[float]) -> bool:
    return all(away_deg(angle_deg, other) > SAME_DEG for other in known)
