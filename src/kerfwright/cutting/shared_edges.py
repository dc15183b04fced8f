"""Edges that several cuts share, each kept once: the arrangement of all cut lines.

It is made one path after the other. Where a path runs along pieces that are kept already, within
the tolerance, it gives up its own line and becomes one more owner of theirs; everywhere else its
own line stays exactly as it is. So nothing drifts when many lines lie close together, and no edge
that is not shared is ever moved. Where a path leaves a shared piece that does not lie exactly on
its own line, a short jog joins the two.

Overlapping pieces are found by a tree of boxes, in O(n log n) as long as no place is crowded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from kerfwright.cutting.intervals import Interval, apart_from, clipped
from kerfwright.cutting.overlaps import Overlap, Segments, overlaps
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM

IntArray = npt.NDArray[np.int64]

TINY_MM = 1e-6


@dataclass(frozen=True, eq=False, slots=True)
class SharedEdges:
    """Straight pieces that meet at nodes only, no two overlapping, and whose they are.

    ``ends`` holds the two nodes of every piece. ``separate_mm`` is the length of the lines given,
    ``unique_mm`` that of the pieces, ``shared_mm`` that of pieces with two or more owners.
    """

    nodes: FloatArray
    """Shape (m, 2), mm."""
    ends: IntArray
    """Shape (n, 2)."""
    owners: tuple[frozenset[int], ...]
    paths: tuple[frozenset[int], ...]
    """Numbers of the paths that run along each piece."""
    separate_mm: float
    unique_mm: float
    shared_mm: float
    farthest_mm: float
    """How far apart two lines lay, at most, that became one."""

    @property
    def pieces(self) -> FloatArray:
        """Pieces as (ax, ay, bx, by), shape (n, 4), mm."""
        return self.nodes[self.ends].reshape(-1, 4)

    @property
    def shared(self) -> npt.NDArray[np.bool_]:
        """Which pieces have two or more owners, shape (n,)."""
        return np.array([len(owners) > 1 for owners in self.owners], dtype=bool)


def merge_edges(paths: Sequence[Path], owners: Sequence[int], tolerance_mm: float) -> SharedEdges:
    """Keep every stretch of ``paths`` once; ``owners[i]`` says whose path i is.

    Pieces no further than ``tolerance_mm`` from each other all along an overlap count as one,
    whatever their direction; earlier paths keep their place. A path that runs over itself is
    kept once as well.
    """
    segments = Segments.of(paths)
    arrangement = _Arrangement(segments, tolerance_mm)
    for path, found in _by_path(overlaps(segments, max(tolerance_mm, SAME_MM)), segments):
        arrangement.lay(path, found)
    nodes, ends, paths_of = _joined(*_split_at_contacts(*arrangement.pieces()))
    owners_of = tuple(frozenset(owners[path] for path in those) for those in paths_of)
    lengths = _lengths_mm(nodes[ends].reshape(-1, 4))
    shared = np.array([len(those) > 1 for those in owners_of], dtype=bool)
    return SharedEdges(
        nodes=nodes,
        ends=ends,
        owners=owners_of,
        paths=tuple(paths_of),
        separate_mm=float(segments.length.sum()),
        unique_mm=float(lengths.sum()),
        shared_mm=float(lengths[shared].sum()),
        farthest_mm=arrangement.farthest_mm,
    )


@dataclass(frozen=True, slots=True)
class _Run:
    """A stretch of a path, in mm along it, that lies on kept pieces."""

    start: float
    end: float
    overlaps: tuple[Overlap, ...]

    @property
    def ends(self) -> tuple[tuple[Overlap, float, float], tuple[Overlap, float, float]]:
        """First and last overlap with where the run ends on the later segment and the path."""
        first, last = self.overlaps[0], self.overlaps[-1]
        return (first, first.on_later[0], self.start), (last, last.on_later[1], self.end)


@dataclass(eq=False, slots=True)
class _Arrangement:
    segments: Segments
    tolerance_mm: float
    farthest_mm: float = 0.0
    given_up: dict[int, list[Interval]] = field(default_factory=dict)
    """Stretches of a segment that run along an earlier one, in mm along it."""
    joined_by: dict[int, list[tuple[float, float, int]]] = field(default_factory=dict)
    """Stretches of a segment that a later path joined, and its number."""
    jogs: list[tuple[FloatArray, FloatArray, int]] = field(default_factory=list)

    def lay(self, path: int, found: Sequence[Overlap]) -> None:
        """Lay a path over what is kept, given its overlaps with earlier segments."""
        by_segment: dict[int, list[Overlap]] = {}
        for overlap in found:
            by_segment.setdefault(overlap.later, []).append(overlap)
        chosen: list[Overlap] = []
        for later in sorted(by_segment):
            chosen += self._nearest(by_segment[later])
        for run in self._runs(path, chosen):
            self._give_up(path, run)

    def _nearest(self, overlaps_of_one: list[Overlap]) -> list[Overlap]:
        """Choose what a segment runs along: kept lines only, the nearest first, none twice."""
        taken: list[Interval] = []
        chosen: list[Overlap] = []
        for overlap in sorted(overlaps_of_one, key=lambda o: (round(o.apart, 6), o.earlier)):
            for earlier in apart_from(overlap.on_earlier, self.given_up.get(overlap.earlier, [])):
                for later in apart_from(overlap.later_of(earlier), taken):
                    if later[1] - later[0] > TINY_MM:
                        chosen.append(overlap.part(later))
                        taken.append(later)
        return sorted(chosen, key=lambda o: o.on_later)

    def _runs(self, path: int, chosen: list[Overlap]) -> list[_Run]:
        """Put overlaps behind one another that follow without a break."""
        segments = self.segments
        total = float(segments.path_length[path])
        runs: list[list[Overlap]] = []
        for overlap in chosen:
            if runs and self._follows(runs[-1][-1], overlap, 0.0):
                runs[-1].append(overlap)
            else:
                runs.append([overlap])
        if (
            len(runs) > 1
            and segments.closed[path]
            and self._follows(runs[-1][-1], runs[0][0], total)
        ):
            runs[0] = runs.pop() + runs[0]
        made = []
        for run in runs:
            start = self._along_path(run[0].later, run[0].on_later[0])
            end = self._along_path(run[-1].later, run[-1].on_later[1])
            made.append(_Run(start, end if end > start else end + total, tuple(run)))
        return [run for run in made if self._worth_it(run, total)]

    def _along_path(self, segment: int, along_mm: float) -> float:
        return float(self.segments.start[segment]) + along_mm

    def _follows(self, before: Overlap, after: Overlap, turn_mm: float) -> bool:
        """Whether two overlaps follow, or leave out but the corner of a bend that both share."""
        end = self._along_path(before.later, before.on_later[1])
        gap = self._along_path(after.later, after.on_later[0]) + turn_mm - end
        if gap <= SAME_MM:
            return True
        one = self._on_kept(before, before.on_later[1])
        other = self._on_kept(after, after.on_later[0])
        return bool(gap <= 2.0 * self.tolerance_mm and np.hypot(*(one - other)) <= SAME_MM)

    def _worth_it(self, run: _Run, total: float) -> bool:
        """Two jogs must not be longer than what they save."""
        length = run.end - run.start
        jogs = sum(overlap.apart for overlap, _, _ in run.ends)
        return length >= total - SAME_MM or length > jogs + SAME_MM

    def _give_up(self, path: int, run: _Run) -> None:
        segments = self.segments
        total = float(segments.path_length[path])
        for overlap in run.overlaps:
            self.joined_by.setdefault(overlap.earlier, []).append((*overlap.on_earlier, path))
            self.farthest_mm = max(self.farthest_mm, overlap.apart)
        for segment in segments.of_path(path):
            start, length = float(segments.start[segment]), float(segments.length[segment])
            for turn in (0.0, total):
                stretch = clipped((run.start - turn - start, run.end - turn - start), length)
                if stretch is not None:
                    self.given_up.setdefault(segment, []).append(stretch)
        if run.end - run.start < total - SAME_MM:
            for overlap, along, _ in run.ends:
                leaves = segments.at(overlap.later, along)
                self.jogs.append((leaves, self._on_kept(overlap, along), path))

    def _on_kept(self, overlap: Overlap, along_later: float) -> FloatArray:
        return self.segments.at(overlap.earlier, overlap.earlier_at(along_later))

    def pieces(self) -> tuple[FloatArray, list[frozenset[int]]]:
        """Return all kept pieces, split where their owners change, with their paths."""
        segments = self.segments
        untouched = np.ones(len(segments), dtype=bool)
        untouched[[*self.given_up, *self.joined_by]] = False
        rest = np.flatnonzero(untouched)
        made: list[FloatArray] = [segments.ends[rest]]
        paths_of = [frozenset((path,)) for path in segments.path[rest].tolist()]
        for segment in np.flatnonzero(~untouched).tolist():
            ends, those = self._pieces_of(segment)
            made.append(ends)
            paths_of += those
        for leaves, joins, path in self.jogs:
            made.append(np.concatenate([leaves, joins])[None])
            paths_of.append(frozenset((path,)))
        return np.vstack(made), paths_of

    def _pieces_of(self, segment: int) -> tuple[FloatArray, list[frozenset[int]]]:
        segments = self.segments
        own = int(segments.path[segment])
        joined = self.joined_by.get(segment, [])
        ends: list[FloatArray] = []
        paths_of: list[frozenset[int]] = []
        whole = (0.0, float(segments.length[segment]))
        for low, high in apart_from(whole, self.given_up.get(segment, [])):
            inside = [end for a, b, _ in joined for end in (a, b) if low < end < high]
            cuts = _spread_out([low, *sorted(inside), high])
            for a, b in pairwise(cuts):
                middle = (a + b) / 2.0
                others = (path for x, y, path in joined if x <= middle <= y)
                ends.append(np.concatenate([segments.at(segment, a), segments.at(segment, b)]))
                paths_of.append(frozenset((own, *others)))
        return np.array(ends).reshape(-1, 4), paths_of


def _spread_out(cuts: list[float]) -> list[float]:
    """Drop cuts that lie within the width of a point of their neighbours; the ends stay."""
    low, high = cuts[0], cuts[-1]
    kept = [low]
    for cut in cuts[1:-1]:
        if cut - kept[-1] > SAME_MM and high - cut > SAME_MM:
            kept.append(cut)
    return [*kept, high]


def _by_path(found: list[Overlap], segments: Segments) -> list[tuple[int, list[Overlap]]]:
    by_path: dict[int, list[Overlap]] = {}
    for overlap in found:
        by_path.setdefault(int(segments.path[overlap.later]), []).append(overlap)
    return sorted(by_path.items())


def _split_at_contacts(
    pieces: FloatArray, paths_of: list[frozenset[int]]
) -> tuple[FloatArray, list[frozenset[int]]]:
    """Split pieces of paths that share something where an end of another piece lies on them."""
    sharing = {path for paths in paths_of if len(paths) > 1 for path in paths}
    touched = np.flatnonzero([not sharing.isdisjoint(paths) for paths in paths_of])
    if len(touched) == 0:
        return pieces, paths_of
    those = pieces[touched]
    points = np.unique(those.reshape(-1, 2), axis=0)
    tree = shapely.STRtree(shapely.linestrings(those.reshape(-1, 2, 2)))
    point, on = tree.query(shapely.points(points), predicate="dwithin", distance=SAME_MM)
    delta = those[on, 2:] - those[on, :2]
    length = np.hypot(delta[:, 0], delta[:, 1])
    along = ((points[point] - those[on, :2]) * delta).sum(axis=1) / np.maximum(length, TINY_MM)
    inside = (along > SAME_MM) & (along < length - SAME_MM)
    cuts: dict[int, list[tuple[float, int]]] = {}
    for at, which, piece in zip(
        along[inside].tolist(), point[inside].tolist(), touched[on[inside]].tolist(), strict=True
    ):
        cuts.setdefault(piece, []).append((at, which))
    whole = np.ones(len(pieces), dtype=bool)
    whole[list(cuts)] = False
    made = [pieces[whole]]
    made_paths = [paths_of[i] for i in np.flatnonzero(whole).tolist()]
    for piece in sorted(cuts):
        through = [points[which] for _, which in sorted(cuts[piece])]
        corners = np.vstack([pieces[piece, :2], *through, pieces[piece, 2:]])
        made.append(np.hstack([corners[:-1], corners[1:]]))
        made_paths += [paths_of[piece]] * (len(corners) - 1)
    return np.vstack(made), made_paths


def _joined(
    pieces: FloatArray, paths_of: list[frozenset[int]]
) -> tuple[FloatArray, IntArray, list[frozenset[int]]]:
    """Make ends that lie together one node, and pieces between the same two nodes one piece."""
    corners = pieces.reshape(-1, 2)
    node_of = _same_points(corners)
    nodes = corners[np.unique(node_of, return_index=True)[1]]
    known: dict[tuple[int, int], frozenset[int]] = {}
    for (a, b), paths in zip(node_of.reshape(-1, 2).tolist(), paths_of, strict=True):
        if a != b:
            between = (min(a, b), max(a, b))
            known[between] = known.get(between, frozenset()) | paths
    return nodes, np.array(list(known), dtype=np.int64).reshape(-1, 2), list(known.values())


def _same_points(points: FloatArray) -> IntArray:
    """Number points so that those within the width of a point have the same number."""
    n = len(points)
    if n == 0:
        return np.empty(0, dtype=np.int64)
    pairs = cKDTree(points).query_pairs(SAME_MM, output_type="ndarray")
    links = coo_array((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), (n, n))
    _, label = connected_components(links, directed=False)
    first = np.unique(label, return_index=True)[1]
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first, kind="stable")] = np.arange(len(first))
    return np.asarray(rank[label])


def _lengths_mm(pieces: FloatArray) -> FloatArray:
    return np.asarray(np.hypot(pieces[:, 2] - pieces[:, 0], pieces[:, 3] - pieces[:, 1]))
