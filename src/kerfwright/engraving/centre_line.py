"""Centre lines of narrow remains: one stroke burns what is no wider than the beam.

The medial axis of a polygon is where its boundary is nearest at two places; the Voronoi diagram
of closely spaced boundary points comes near to it (Attali, Boissonnat & Edelsbrunner 2009,
*Stability and computation of medial axes*). Its edges belong to the axis where the two points
that make them are seen at a wide angle; the others run into corners.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from scipy.spatial import QhullError, Voronoi
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.geometry.paths import FloatArray

FATTEN = 0.25
"""Remains grow by this share of the beam first, so that hair-thin ones have a clear middle."""

SAMPLE = 0.5
"""Distance of boundary points as a share of the beam."""

JOGGLE = 1e-3
"""Boundary points are moved by up to this share of their distance from one another.

Points opposite each other along two straight edges lie four to a circle by the thousand, and the
diagram then takes time with their square: a minute for the border of a sign.
"""

LEAST_STROKE = 0.02
"""Strokes shorter than this share of the beam are none: they say nothing of where the middle is."""

WIDE_ANGLE_RAD = np.radians(110.0)


def centre_lines(
    remains: list[Polygon], area: MultiPolygon, beam_mm: float, tolerance_mm: float
) -> list[FloatArray]:
    """Lines inside ``area`` along the middle of ``remains``, each of shape (n, 2) in mm.

    Remains that are equal but for their place, as those of equal letters, are looked at once.
    """
    fat = shapely.union_all(shapely.buffer(np.array(remains), FATTEN * beam_mm, quad_segs=2))
    # the diagram's cost is in its points: those that round a corner finer than this say nothing
    pieces = shapely.simplify(shapely.normalize(shapely.get_parts(fat)), 0.05 * beam_mm)
    first, equal = _equal_pieces(pieces)
    axis = _medial_axis(pieces[first], SAMPLE * beam_mm)
    merged = shapely.line_merge(axis)
    lines = shapely.get_parts(_without_spurs(merged, beam_mm))
    lines = shapely.simplify(lines, tolerance_mm, preserve_topology=False)
    lines = _at_every_place(lines, pieces, first, equal)
    shapely.prepare(area)
    outside = ~shapely.covers(area, lines)
    lines = np.concatenate(
        [lines[~outside], shapely.get_parts(shapely.intersection(lines[outside], area))]
    )
    kept = _strokes(lines, beam_mm)
    kept += _missed(remains, kept, area, beam_mm)
    return [shapely.get_coordinates(line) for line in kept]


def _equal_pieces(pieces: FloatArray) -> tuple[IntArray, IntArray]:
    """Numbers of the pieces that are the first of their shape, and for every piece which."""
    known: dict[tuple[int, bytes], int] = {}
    first: list[int] = []
    equal = np.empty(len(pieces), dtype=np.int64)
    corners = shapely.bounds(pieces)[:, :2]
    for number, (piece, corner) in enumerate(zip(pieces, corners, strict=True)):
        places = np.round(shapely.get_coordinates(piece) - corner, 6) + 0.0
        key = (shapely.get_num_interior_rings(piece), places.tobytes())
        if key not in known:
            known[key] = len(first)
            first.append(number)
        equal[number] = known[key]
    return np.array(first, dtype=np.int64), equal


def _at_every_place(
    lines: FloatArray, pieces: FloatArray, first: IntArray, equal: IntArray
) -> FloatArray:
    """Lines in the first pieces of every shape, in all pieces of that shape."""
    if len(first) == len(pieces) or len(lines) == 0:
        return lines
    owner = shapely.STRtree(pieces[first]).nearest(lines)
    corners = shapely.bounds(pieces)[:, :2]
    placed = []
    for number, shape in enumerate(equal.tolist()):
        by = corners[number] - corners[first[shape]]
        placed.append(shapely.transform(lines[owner == shape], lambda points, by=by: points + by))
    out: FloatArray = np.concatenate(placed)
    return out


def _medial_axis(pieces: FloatArray, sample_mm: float) -> BaseGeometry:
    """Voronoi edges inside the pieces whose makers are seen at a wide angle."""
    border = shapely.segmentize(shapely.boundary(pieces), sample_mm)
    sites = np.unique(np.round(shapely.get_coordinates(border), 9), axis=0)
    off_mm = JOGGLE * sample_mm
    sites = sites + np.random.default_rng(1).uniform(-off_mm, off_mm, sites.shape)
    try:
        diagram = Voronoi(sites)
    except QhullError:
        return shapely.MultiLineString()
    ends = np.asarray(diagram.ridge_vertices)
    makers = np.asarray(diagram.ridge_points)
    finite = (ends >= 0).all(axis=1)
    ends, makers = ends[finite], makers[finite]
    apart = np.hypot(*(sites[makers[:, 0]] - sites[makers[:, 1]]).T)
    middle = diagram.vertices[ends].mean(axis=1)
    radius = np.hypot(*(middle - sites[makers[:, 0]]).T)
    wide = apart >= 2.0 * radius * np.sin(0.5 * WIDE_ANGLE_RAD)
    segments = shapely.linestrings(diagram.vertices[ends[wide]])
    tree = shapely.STRtree(segments)
    shapely.prepare(pieces)
    inside = np.unique(tree.query(pieces, predicate="covers")[1])
    return shapely.multilinestrings(segments[inside])


def _without_spurs(merged: BaseGeometry, beam_mm: float) -> BaseGeometry:
    """Drop branches shorter than half the beam that end free and start at a fork."""
    lines = shapely.get_parts(merged)
    if len(lines) < 2:
        return merged
    tips = np.concatenate(
        [
            shapely.get_coordinates(shapely.get_point(lines, 0)),
            shapely.get_coordinates(shapely.get_point(lines, -1)),
        ]
    )
    _, which, counts = np.unique(tips, axis=0, return_inverse=True, return_counts=True)
    degree = counts[which.reshape(-1)]
    first, last = degree[: len(lines)], degree[len(lines) :]
    spur = (np.minimum(first, last) == 1) & (np.maximum(first, last) > 2)
    keep = ~(spur & (shapely.length(lines) < 0.5 * beam_mm))
    return shapely.line_merge(shapely.multilinestrings(lines[keep]))


def _missed(
    remains: list[Polygon], lines: list[BaseGeometry], area: MultiPolygon, beam_mm: float
) -> list[BaseGeometry]:
    """Short strokes through remains that no line comes near: specks with no clear axis."""
    pieces = np.array(remains)
    if lines:
        near, _ = shapely.STRtree(lines).query(pieces, predicate="dwithin", distance=1e-6)
        pieces = np.delete(pieces, np.unique(near))
    strokes = []
    for piece in pieces:
        frame = shapely.get_coordinates(shapely.minimum_rotated_rectangle(piece))
        if len(frame) < 4:
            continue
        long = np.argmax(np.hypot(*np.diff(frame[:3], axis=0).T))
        a, b, c, d = np.roll(frame[:4], -int(long), axis=0)
        span = 0.5 * np.array([a + d, b + c])
        inside = shapely.get_parts(shapely.intersection(shapely.linestrings(span), area))
        strokes += _strokes(inside, beam_mm)
    return strokes


def _strokes(geometries: Iterable[BaseGeometry], beam_mm: float) -> list[BaseGeometry]:
    least_mm = LEAST_STROKE * beam_mm
    return [one for one in geometries if one.geom_type == "LineString" and one.length > least_mm]
