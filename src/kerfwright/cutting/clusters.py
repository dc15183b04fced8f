"""Outlines of all parts together: which parts share edges, and what is cut for whom."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from kerfwright.cutting.kerf import BeamLines, offset
from kerfwright.cutting.shared_edges import IntArray, SharedEdges, merge_edges, strokes_along
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import polygon_of, rings_of
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.parts.model import Part

LEAST_SHARED_MM = 1.0
"""Parts that touch over less than this, such as at a corner, are cut each by itself."""

JOIN_MM = 0.02
"""Ends of shared stretches this close are one point; half as wide as a fine kerf is too far."""

GRID_MM = 1e-6
"""Touching outlines are united on this grid, so that rounding leaves no hairlines between them."""


@dataclass(frozen=True, eq=False, slots=True)
class Outlines:
    """Beam lines of all outlines.

    ``cluster[i]`` numbers the parts that hang together by shared edges. ``own[i]`` are lines cut
    for part i (or, of parts that touch, once for all of them, under the first); ``shared`` pairs
    a line that belongs to two parts or more with one of them.
    """

    cluster: IntArray
    own: tuple[tuple[Path, ...], ...]
    shared: tuple[tuple[Path, int], ...]


def separate_outlines(lines: Sequence[BeamLines]) -> Outlines:
    """Every part by itself, whatever lies beside it."""
    return Outlines(
        np.arange(len(lines), dtype=np.int64), tuple(beam.outline for beam in lines), ()
    )


def shared_outlines(
    parts: Sequence[Part], lines: Sequence[BeamLines], kerf_mm: float, merge_mm: float
) -> tuple[Outlines, tuple[Finding, ...]]:
    """Cut once what coincides: first outlines that touch as drawn, then lines beside each other.

    Parts that touch become one body: its boundary is compensated outward, and what lies between
    its parts is cut along the drawn line.
    """
    count = len(parts)
    drawn = merge_edges([part.outline for part in parts], range(count), merge_mm)
    touching = _groups(drawn, count)
    own = [list(beam.outline) for beam in lines]
    for members in _members(touching):
        if len(members) > 1:
            for i in members:
                own[i] = []
            own[members[0]] = _boundary([parts[i] for i in members], kerf_mm)
    common = _shared_lines(drawn, touching)
    owners = [i for i, paths in enumerate(own) for _ in paths]
    beside = merge_edges([path for paths in own for path in paths], owners, merge_mm)
    linked = _groups(beside, count)
    common += _shared_lines(beside, linked)
    outlines = Outlines(
        _united(touching, linked),
        tuple(tuple(paths) for paths in _remainders(own, beside, linked)),
        tuple(common),
    )
    return outlines, _half_kerf_finding(parts, drawn, touching, kerf_mm)


def _groups(edges: SharedEdges, count: int) -> IntArray:
    """Number the groups of owners that share edges of some length, by owner."""
    lengths: defaultdict[tuple[int, int], float] = defaultdict(float)
    for piece, owners in zip(edges.pieces, edges.owners, strict=True):
        first, *others = sorted(owners)
        for other in others:
            lengths[first, other] += float(np.hypot(*(piece[2:] - piece[:2])))
    pairs = [pair for pair, length in lengths.items() if length >= LEAST_SHARED_MM]
    return _connected(pairs, count)


def _united(one: IntArray, other: IntArray) -> IntArray:
    """Groups of those that hang together by either numbering."""
    firsts = [
        (members[0], i) for groups in (one, other) for members in _members(groups) for i in members
    ]
    return _connected(firsts, len(one))


def _connected(pairs: Sequence[tuple[int, int]], count: int) -> IntArray:
    ends = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    links = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)


def _members(groups: IntArray) -> list[list[int]]:
    found: defaultdict[int, list[int]] = defaultdict(list)
    for i, group in enumerate(groups):
        found[int(group)].append(i)
    return list(found.values())


def _boundary(parts: Sequence[Part], kerf_mm: float) -> list[Path]:
    """Beam lines round parts that touch, and into the waste between them."""
    grown = [polygon_of(path) for part in parts for path in offset([part.outline], kerf_mm / 2)]
    united = shapely.union_all(grown, grid_size=GRID_MM)
    rings = [Path(ring, closed=True) for ring in rings_of(united)]
    return [ring for ring in rings if abs(ring.signed_area_mm2) > SAME_MM * ring.length_mm]


def _is_shared(owners: frozenset[int], groups: IntArray) -> bool:
    return len(owners) > 1 and len({int(groups[i]) for i in owners}) == 1


def _shared_lines(edges: SharedEdges, groups: IntArray) -> list[tuple[Path, int]]:
    """Lines along shared pieces, as long as possible within a group, each with one owner."""
    by_group: defaultdict[int, list[int]] = defaultdict(list)
    for number, owners in enumerate(edges.owners):
        if _is_shared(owners, groups):
            by_group[int(groups[min(owners)])].append(number)
    return [
        (path, min(min(edges.owners[number]) for number in numbers))
        for numbers in by_group.values()
        for path in strokes_along(edges.pieces[numbers], JOIN_MM)
    ]


def _remainders(
    own: Sequence[list[Path]], edges: SharedEdges, groups: IntArray
) -> list[list[Path]]:
    """What is left of each owner's lines once the shared pieces are taken out."""
    broken: set[int] = set()
    left: defaultdict[int, list[int]] = defaultdict(list)
    for number, owners in enumerate(edges.owners):
        if _is_shared(owners, groups):
            broken |= owners
        else:
            left[min(owners)].append(number)
    return [
        strokes_along(edges.pieces[left[i]], SAME_MM) if i in broken else paths
        for i, paths in enumerate(own)
    ]


def _half_kerf_finding(
    parts: Sequence[Part], drawn: SharedEdges, touching: IntArray, kerf_mm: float
) -> tuple[Finding, ...]:
    affected = sorted(
        {i for owners in drawn.owners if _is_shared(owners, touching) for i in owners}
    )
    if not affected or kerf_mm == 0.0:
        return ()
    length_mm = sum(path.length_mm for path, _ in _shared_lines(drawn, touching))
    return (
        Finding(
            Severity.NOTE,
            "cutting/shared-edge-costs-half-kerf",
            f"{len(affected)} parts touch along {length_mm:.1f} mm of edge, cut once along the "
            f"line: each loses {kerf_mm / 2:g} mm there.",
            "Draw the parts one kerf apart to keep them on size, or set shared_edges = false and "
            "a spacing.",
            drawing=parts[affected[0]].drawing,
            shape=parts[affected[0]].name,
            count=len(affected),
        ),
    )
