"""Outlines of all parts together: which parts share edges, and what is cut for whom."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import MultiPolygon, Polygon

from kerfwright.cutting.kerf import BeamLines
from kerfwright.cutting.shared_edges import IntArray, SharedEdges, merge_edges
from kerfwright.cutting.web import Web, is_shared, web_of
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import as_area, filled, rings_of
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.parts.model import Part

LEAST_SHARED_MM = 1.0
"""Parts that touch over less than this, such as at a corner, are cut each by itself."""

GRID_MM = 1e-6
"""Touching outlines are united on this grid, so that rounding leaves no hairlines between them."""


@dataclass(frozen=True, eq=False, slots=True)
class Outlines:
    """Beam lines of all outlines.

    ``cluster[i]`` numbers the parts that hang together by shared edges. Parts alone in theirs
    have their outline in ``own[i]``, outlines and holes of all others are in ``web``.
    ``pockets`` are what the lines of a cluster cut out, with the cluster's number.
    """

    cluster: IntArray
    own: tuple[tuple[Path, ...], ...]
    web: Web | None
    pockets: tuple[tuple[Polygon, int], ...]


def separate_outlines(lines: Sequence[BeamLines]) -> Outlines:
    """Every part by itself, whatever lies beside it."""
    own = tuple(beam.outline for beam in lines)
    pockets = [
        (pocket, i)
        for i, paths in enumerate(own)
        if len(paths) > 1
        for pocket in _pockets(filled(paths, "evenodd"))
    ]
    return Outlines(np.arange(len(lines), dtype=np.int64), own, None, tuple(pockets))


def shared_outlines(
    parts: Sequence[Part], lines: Sequence[BeamLines], kerf_mm: float, merge_mm: float
) -> tuple[Outlines, tuple[Finding, ...]]:
    """Cut once what coincides: first outlines that touch as drawn, then lines beside each other.

    Parts that touch become one body: its boundary is compensated outward, and what lies between
    its parts is cut along the drawn line.
    """
    count = len(parts)
    rings = [(part.outline, *part.holes) for part in parts]
    drawn = merge_edges(
        [path for paths in rings for path in paths],
        [i for i, paths in enumerate(rings) for _ in paths],
        merge_mm,
    )
    touching = _groups(drawn, count)
    own = [list(beam.rings) for beam in lines]
    for members in _members(touching):
        if len(members) > 1:
            for i in members:
                own[i] = []
            own[members[0]] = _boundary([lines[i] for i in members])
    owners = [i for i, paths in enumerate(own) for _ in paths]
    merged = merge_edges([path for paths in own for path in paths], owners, merge_mm)
    linked = _groups(merged, count)
    cluster = _united(touching, linked)
    alone = np.bincount(cluster, minlength=count)[cluster] == 1
    areas = [
        (_cluster_area([own[i] for i in members], merge_mm), int(cluster[members[0]]))
        for members in _members(cluster)
    ]
    outlines = Outlines(
        cluster,
        tuple(beam.outline if alone[i] else () for i, beam in enumerate(lines)),
        None if alone.all() else web_of(rings, (drawn, touching), (merged, linked), cluster, areas),
        tuple((pocket, number) for area, number in areas for pocket in _pockets(area)),
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


def _boundary(lines: Sequence[BeamLines]) -> list[Path]:
    """Beam lines round parts that touch, and into the waste between and inside them."""
    grown = [filled(beam.rings, "evenodd") for beam in lines]
    united = shapely.union_all(grown, grid_size=GRID_MM)
    rings = [Path(ring, closed=True) for ring in rings_of(united)]
    return [ring for ring in rings if abs(ring.signed_area_mm2) > SAME_MM * ring.length_mm]


def _cluster_area(own: Sequence[Sequence[Path]], merge_mm: float) -> MultiPolygon:
    """What the lines of a cluster enclose, with no gaps where lines were merged."""
    areas = [filled(paths, "evenodd") for paths in own if paths]
    if len(areas) == 1:
        return areas[0]
    reach = merge_mm / 2 + SAME_MM
    grown = [area.buffer(reach, join_style="mitre", mitre_limit=2.0) for area in areas]
    united = shapely.union_all(grown)
    return as_area(united.buffer(-reach, join_style="mitre", mitre_limit=2.0))


def _pockets(area: MultiPolygon) -> list[Polygon]:
    return [Polygon(ring) for polygon in area.geoms for ring in polygon.interiors]


def _half_kerf_finding(
    parts: Sequence[Part], drawn: SharedEdges, touching: IntArray, kerf_mm: float
) -> tuple[Finding, ...]:
    affected = sorted({i for owners in drawn.owners if is_shared(owners, touching) for i in owners})
    if not affected or kerf_mm == 0.0:
        return ()
    length_mm = sum(
        float(np.hypot(*(piece[2:] - piece[:2])))
        for piece, owners in zip(drawn.pieces, drawn.owners, strict=True)
        if is_shared(owners, touching)
    )
    return (
        Finding(
            Severity.NOTE,
            "cutting/shared-edge-costs-half-kerf",
            f"{len(affected)} parts touch along {length_mm:.1f} mm of edge, cut once along the "
            f"line: each loses {kerf_mm / 2:g} mm there.",
            "To keep them on size, draw the parts one kerf apart, or let them be nested "
            '(place = "nest").',
            drawing=parts[affected[0]].drawing,
            shape=parts[affected[0]].name,
            count=len(affected),
        ),
    )
