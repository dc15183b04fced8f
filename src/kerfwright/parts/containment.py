"""Which closed outline lies in which: a forest, by even-odd depth.

Outlines of real drawings touch: parts stand edge to edge, and the same line is drawn twice with a
rounding error between. Everything here therefore holds up to ``JOIN_MM``; a sliver narrower than
that is no overlap. Neighbours are found with an STR-tree (Leutenegger, Edgington & Lopez 1997), so
the work grows with the pairs whose boxes meet and not with the square of the outlines.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon, STRtree

from kerfwright.geometry.tolerances import JOIN_MM

IntArray = npt.NDArray[np.intp]

NO_PARENT = -1

FINE_MM = 1e-6
"""Grid for what cannot be worked out without one; far below anything that is burned."""


@dataclass(frozen=True, eq=False, slots=True)
class Crossing:
    """Two outlines that cross, and the first point of each crossing, shape (n, 2) in mm."""

    first: int
    second: int
    points: npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Containment:
    """Where each outline lies.

    ``parent`` is the innermost outline around each, :data:`NO_PARENT` for none; ``depth`` how many
    are around it, both of shape (n,). ``twice`` are outlines that repeat an earlier one, as
    (repeat, first); ``frames`` are outlines that the ones inside them fill without a rest. Both
    kinds are in no one's way: they are nobody's parent and do not count for depth.
    """

    parent: IntArray
    depth: IntArray
    twice: tuple[tuple[int, int], ...]
    frames: tuple[int, ...]
    crossings: tuple[Crossing, ...]

    def children(self) -> dict[int, list[int]]:
        """Outlines directly inside each; those inside none under :data:`NO_PARENT`."""
        inside: dict[int, list[int]] = {}
        gone = {repeat for repeat, _ in self.twice} | set(self.frames)
        for index, parent in enumerate(self.parent.tolist()):
            if index not in gone:
                inside.setdefault(parent, []).append(index)
        return inside


def contain(polygons: Sequence[Polygon]) -> Containment:
    """Find out which of ``polygons`` (valid, without holes) lies in which."""
    count = len(polygons)
    shapes = np.array(polygons, dtype=object)
    areas = shapely.area(shapes) if count else np.empty(0)
    outer, inner = _meeting_pairs(shapes, areas)
    pairs, twice, crossings = _classify(shapes, areas, outer, inner)
    gone = {repeat for repeat, _ in twice}
    pairs = [(o, i) for o, i in pairs if o not in gone and i not in gone]
    frames = _frames(shapes, areas, _parents(count, pairs, areas), gone)
    hidden = set(frames)
    pairs = [(o, i) for o, i in pairs if o not in hidden and i not in hidden]
    depth = np.zeros(count, dtype=np.intp)
    for _, i in pairs:
        depth[i] += 1
    return Containment(
        _parents(count, pairs, areas), depth, tuple(twice), tuple(frames), tuple(crossings)
    )


def _meeting_pairs(
    shapes: npt.NDArray[np.object_], areas: npt.NDArray[np.float64]
) -> tuple[IntArray, IntArray]:
    """Pairs that have a point in common, the larger first; equal ones in their own order."""
    if len(shapes) < 2:
        return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
    shapely.prepare(shapes)
    first, second = STRtree(shapes).query(shapes, predicate="intersects")
    rank = np.empty(len(shapes), dtype=np.intp)
    rank[np.argsort(-areas, kind="stable")] = np.arange(len(shapes))
    keep = rank[first] < rank[second]
    first, second = first[keep], second[keep]
    order = np.lexsort((second, first))
    return first[order], second[order]


def _classify(
    shapes: npt.NDArray[np.object_],
    areas: npt.NDArray[np.float64],
    outer: IntArray,
    inner: IntArray,
) -> tuple[list[tuple[int, int]], list[tuple[int, int]], list[Crossing]]:
    """Sort meeting pairs into containing, repeating and crossing ones; touching ones drop out."""
    contains = np.asarray(shapely.contains(shapes[outer], shapes[inner]))
    nearly_equal = areas[inner] >= areas[outer] - JOIN_MM * shapely.length(shapes[outer])
    sure = contains & ~nearly_equal
    pairs = list(zip(outer[sure].tolist(), inner[sure].tolist(), strict=True))
    twice: dict[int, int] = {}
    crossings: list[Crossing] = []
    touching = np.zeros(len(outer), dtype=bool)
    touching[~sure] = shapely.touches(shapes[outer[~sure]], shapes[inner[~sure]])
    for o, i in zip(
        outer[~sure & ~touching].tolist(), inner[~sure & ~touching].tolist(), strict=True
    ):
        a, b = shapes[o], shapes[i]
        if is_sliver(common(a, b)):
            continue
        inside = is_sliver(less(b, a))
        if inside and is_sliver(less(a, b)):
            early, late = min(o, i), max(o, i)
            twice.setdefault(late, twice.get(early, early))
        elif inside:
            pairs.append((o, i))
        else:
            crossings.append(Crossing(o, i, _crossing_points(a, b)))
    return pairs, sorted(twice.items()), crossings


def common(a: shapely.Geometry, b: shapely.Geometry) -> shapely.Geometry:
    """What two geometries have in common.

    The geometry library gives up on edges that run along each other but for a rounding error
    (found by trial, GEOS 3.14); on a grid it does not.
    """
    try:
        return shapely.intersection(a, b)
    except shapely.GEOSException:
        return shapely.intersection(a, b, grid_size=FINE_MM)


def less(a: shapely.Geometry, b: shapely.Geometry) -> shapely.Geometry:
    """What is left of the first geometry without the second; see :func:`common`."""
    try:
        return shapely.difference(a, b)
    except shapely.GEOSException:
        return shapely.difference(a, b, grid_size=FINE_MM)


def is_sliver(area: shapely.Geometry) -> bool:
    """Whether an area is nowhere wider than ``JOIN_MM``."""
    # too small for a disc of that width
    if area.area < math.pi / 4.0 * JOIN_MM**2:
        return True
    # a strip of width w has w/2 of area for each mm of its edge; buffering is dear
    if area.area > JOIN_MM * area.length:
        return False
    return bool(shapely.is_empty(shapely.buffer(area, -JOIN_MM / 2)))


def _crossing_points(a: Polygon, b: Polygon) -> npt.NDArray[np.float64]:
    met = common(a.exterior, b.exterior)
    pieces = getattr(met, "geoms", [met])
    points = [shapely.get_coordinates(piece)[0] for piece in pieces if not piece.is_empty]
    return np.array(sorted(map(tuple, points))).reshape(-1, 2)


def _parents(count: int, pairs: list[tuple[int, int]], areas: npt.NDArray[np.float64]) -> IntArray:
    parent = np.full(count, NO_PARENT, dtype=np.intp)
    for o, i in pairs:
        if parent[i] == NO_PARENT or areas[o] < areas[parent[i]]:
            parent[i] = o
    return parent


def _frames(
    shapes: npt.NDArray[np.object_],
    areas: npt.NDArray[np.float64],
    parent: IntArray,
    gone: set[int],
) -> list[int]:
    """Outlines that the ones directly inside them fill: a line round a puzzle, no part.

    Only where a part would be, at even depth: a hole that is filled by parts is a tray.
    """
    inside: dict[int, list[int]] = {}
    for index, around in enumerate(parent.tolist()):
        if around != NO_PARENT and index not in gone:
            inside.setdefault(around, []).append(index)
    frames: set[int] = set()
    for around in sorted(inside, key=lambda index: -areas[index]):
        children = inside[around]
        lengths = shapely.length(shapes[[around, *children]]).sum()
        if (
            areas[around] - areas[children].sum() <= JOIN_MM * lengths
            and _parts_around(around, parent, frames) % 2 == 0
            and is_sliver(less(shapes[around], shapely.union_all(shapes[children])))
        ):
            frames.add(around)
    return sorted(frames)


def _parts_around(index: int, parent: IntArray, frames: set[int]) -> int:
    """Depth of an outline, frames not counted."""
    depth = 0
    while (index := int(parent[index])) != NO_PARENT:
        depth += index not in frames
    return depth
