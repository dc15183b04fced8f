"""Inward offsets of an area, level by level, and what their lines leave uncovered.

Every level is the exact erosion of the area by a disc: corners that turn into the area get round
joins, so that each point of the area lies within half an interval of a level, except along the
ridges where levels die out. Those remains are found here too.

An offset taken from the original at every level costs the whole outline each time; an offset
taken from the level before piles up one rounding a level. So levels are taken from an *anchor*,
and a new anchor is made every ``LEVELS_PER_ANCHOR`` levels, at a tolerance that keeps the sum of
all anchors' errors below a tenth of the interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyclipr
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from kerfwright.engraving.burn import Burn
from kerfwright.engraving.loop_corners import (
    STRAYING,
    Rings,
    rounded_if_faster,
    sharp_if_faster,
)
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import CLIPPER_UNITS_PER_MM, as_area, rings_of
from kerfwright.shop.machine import Machine

LEVELS_PER_ANCHOR = 24

DRIFT_INTERVALS = 0.1
"""Largest sum of roundings over all levels."""

SPECK_INTERVALS2 = 1e-4
"""Remains smaller than this share of a square interval are roundings of the offsets."""

SHARP_RAD = np.radians(30.0)
"""A turn this sharp stops the machine nearly."""

MOST_MITRED_POINTS = 200
"""Outlines of more points are curved, and mitred corners hardly count in their loops."""


@dataclass(frozen=True, eq=False, slots=True)
class Levels:
    """``levels[k]`` are the rings at depth half a step and k steps; ``remains`` the rest.

    Outlines run counter-clockwise and holes clockwise. The first ``outer_remains`` of the remains
    lie outside the first level: tips of the outline, and all that is too thin for a loop.
    """

    levels: list[Rings]
    remains: list[Polygon]
    outer_remains: int


def levels_of(
    area: MultiPolygon,
    burn: Burn,
    tolerance_mm: float,
    *,
    machine: Machine | None = None,
    sharp_corners: bool = False,
) -> Levels:
    """Offset ``area`` inwards until nothing is left.

    ``tolerance_mm`` is how far a ring that is burned may stray from the true offset, on top of
    the anchors' drift. Strips between rings that are narrower than that do not count as remains.
    With a ``machine``, corners of inner loops are rounded where that saves it time and the spot
    covers what is cut off, and mitred round corners of the outline that turn inwards where that
    saves it time. With ``sharp_corners`` all are mitred and nothing is rounded: corners look
    crisper, and the machine stops at them.
    """
    join = pyclipr.JoinType.Miter if sharp_corners else pyclipr.JoinType.Round
    levels: list[Rings] = []
    outer: list[Polygon] = []
    inner: list[Polygon] = []
    known: dict[tuple[object, ...], tuple[FloatArray, Levels]] = {}
    for polygon in area.geoms:
        # one by one: the offsets' sweep slows down with everything that lies at one height
        corner = np.array(polygon.bounds[:2])
        key = _shape_of(polygon, corner)
        if key not in known:
            exact = rings = _eroded(polygon, burn, tolerance_mm, join)
            if machine is not None and not sharp_corners:
                rings = rounded_if_faster(exact, burn, machine, tolerance_mm)
                if _turns_inwards(polygon):
                    mitred = _eroded(polygon, burn, tolerance_mm, pyclipr.JoinType.Miter)
                    rings = sharp_if_faster(mitred, rings, burn, machine)
            gapless = rings is exact and 0.5 * burn.footprint_mm >= burn.interval_mm
            known[key] = (corner, _with_remains(polygon, rings, burn, tolerance_mm, gapless))
        one = _shifted(known[key][1], corner - known[key][0])
        levels += [[] for _ in range(len(one.levels) - len(levels))]
        for level, own in zip(levels, one.levels, strict=False):
            level.extend(own)
        outer += one.remains[: one.outer_remains]
        inner += one.remains[one.outer_remains :]
    return Levels(levels, outer + inner, len(outer))


def _turns_inwards(polygon: Polygon) -> bool:
    """Whether a polygon of few straight edges has sharp corners that turn inwards."""
    if shapely.get_num_coordinates(polygon) > MOST_MITRED_POINTS:
        return False
    for ring in rings_of(orient(polygon)):
        edges = np.roll(ring, -1, axis=0) - ring
        heading = np.arctan2(edges[:, 1], edges[:, 0])
        turn = (heading - np.roll(heading, 1) + np.pi) % (2.0 * np.pi) - np.pi
        if (turn < -SHARP_RAD).any():
            return True
    return False


def _shape_of(polygon: Polygon, corner: FloatArray) -> tuple[object, ...]:
    """What polygons have in common that are equal but for their place."""
    rings = tuple(len(ring.coords) for ring in (polygon.exterior, *polygon.interiors))
    places = np.round(shapely.get_coordinates(polygon) - corner, 6) + 0.0
    return rings, places.tobytes()


def _shifted(one: Levels, by: FloatArray) -> Levels:
    if not by.any():
        return one
    levels = [[ring + by for ring in rings] for rings in one.levels]
    remains = list(shapely.transform(np.array(one.remains), lambda points: points + by))
    return Levels(levels, remains, one.outer_remains)


def _eroded(
    polygon: Polygon, burn: Burn, tolerance_mm: float, join: pyclipr.JoinType
) -> list[Rings]:
    """Rings of every level of one polygon; none if one stroke burns it."""
    step = step_mm(burn, tolerance_mm)
    fine = _drift_mm(polygon, burn, tolerance_mm)
    anchor = _simplified(rings_of(orient(polygon)), fine)
    anchor_depth = 0.0
    levels: list[Rings] = []
    depth = 0.5 * step
    while anchor:
        exact = _offset(anchor, anchor_depth - depth, fine, join)
        rings = _simplified(exact, tolerance_mm)
        if not rings or (not levels and _one_stroke_covers(rings, burn, tolerance_mm)):
            break
        levels.append(rings)
        if len(levels) % LEVELS_PER_ANCHOR == 0:
            anchor, anchor_depth = _simplified(exact, fine), depth
        depth += step
    return levels


def _one_stroke_covers(rings: Rings, burn: Burn, tolerance_mm: float) -> bool:
    """Whether a polygon is nowhere wider than the spot: its middle line burns it in one pass."""
    spare = 0.5 * (burn.footprint_mm - burn.interval_mm) - tolerance_mm
    return spare > 0.0 and not _offset(rings, -spare, tolerance_mm)


def _drift_mm(polygon: Polygon, burn: Burn, tolerance_mm: float) -> float:
    """Tolerance of one offset, so that all anchors together stay within the drift."""
    anchors = max(1.0, _depth_mm(polygon) / burn.interval_mm / LEVELS_PER_ANCHOR)
    return min(0.5 * DRIFT_INTERVALS * burn.interval_mm / anchors, 0.5 * tolerance_mm)


def _with_remains(
    polygon: Polygon, levels: list[Rings], burn: Burn, tolerance_mm: float, gapless: bool
) -> Levels:
    """Levels of one polygon with what the spot does not reach along them.

    Where each level reaches the next one (``gapless``), only the outline is looked at.
    """
    if not levels:
        return Levels([], [polygon], 1)
    speck_mm2 = SPECK_INTERVALS2 * burn.interval_mm**2
    radius = 0.5 * burn.footprint_mm
    remains: list[Polygon] = []
    outer_remains = 0
    beyond = rings_of(orient(polygon))  # what no earlier level reaches
    for number, rings in enumerate([*levels, []]):
        if beyond:
            reached = _offset(rings, radius, 0.5 * tolerance_mm)
            remains += _difference(beyond, reached, speck_mm2)
        if number == 0:
            outer_remains = len(remains)
        beyond = [] if gapless else _offset(rings, -radius, 0.5 * tolerance_mm)
    return Levels(levels, remains, outer_remains)


def _depth_mm(polygon: Polygon) -> float:
    """Depth of a polygon: the radius of the largest circle in it, or a little more."""
    x0, y0, x1, y1 = polygon.bounds
    narrow = min(x1 - x0, y1 - y0)
    near = 0.02 * narrow
    radius = float(shapely.maximum_inscribed_circle(polygon, near).length)
    return float(min(radius + near, 0.5 * narrow))


def _offset(
    rings: Rings,
    delta_mm: float,
    tolerance_mm: float,
    join: pyclipr.JoinType = pyclipr.JoinType.Round,
) -> Rings:
    """Grow (or, negative, shrink) rings by ``delta_mm``."""
    if not rings:
        return []
    offsetter = pyclipr.ClipperOffset()
    offsetter.scaleFactor = CLIPPER_UNITS_PER_MM
    offsetter.arcTolerance = tolerance_mm * CLIPPER_UNITS_PER_MM
    offsetter.addPaths(rings, join, pyclipr.EndType.Polygon)
    return [np.asarray(ring) for ring in offsetter.execute(delta_mm) if len(ring) >= 3]


def _difference(rings: Rings, less: Rings, speck_mm2: float) -> list[Polygon]:
    """Polygons of what ``rings`` hold and ``less`` do not."""
    if not rings:
        return []
    clipper = pyclipr.Clipper()
    clipper.scaleFactor = CLIPPER_UNITS_PER_MM
    clipper.addPaths(rings, pyclipr.Subject, False)
    if less:
        clipper.addPaths(less, pyclipr.Clip, False)
    tree = clipper.execute2(pyclipr.Difference, pyclipr.FillRule.NonZero)
    found: list[Polygon] = []
    waiting = list(tree.children)
    while waiting:
        outline = waiting.pop()
        holes = [hole for hole in outline.children if len(hole.polygon) >= 3]
        waiting.extend(inner for hole in outline.children for inner in hole.children)
        if len(outline.polygon) < 3:
            continue
        polygon = Polygon(outline.polygon, [hole.polygon for hole in holes])
        if polygon.area > speck_mm2:
            found += [polygon] if polygon.is_valid else as_area(shapely.make_valid(polygon)).geoms
    return found


def _simplified(rings: Rings, tolerance_mm: float) -> Rings:
    """Drop points that stray at most ``tolerance_mm`` from the line without them."""
    if not rings:
        return []
    sizes = [len(ring) + 1 for ring in rings]
    closed = np.vstack([np.vstack([ring, ring[:1]]) for ring in rings])
    owner = np.repeat(np.arange(len(rings)), sizes)
    lines = shapely.linestrings(closed, indices=owner)
    thin = shapely.simplify(lines, tolerance_mm, preserve_topology=False)
    points, number = shapely.get_coordinates(thin, return_index=True)
    cuts = np.flatnonzero(np.diff(number)) + 1
    out = []
    for ring, original in zip(np.split(points, cuts), rings, strict=True):
        out.append(ring[:-1] if len(ring) >= 4 else original)
    return out


def curve_tolerance_mm(burn: Burn, junction_deviation_mm: float) -> float:
    """How far burned rings may stray from the true offset.

    A twentieth of the interval; less where the spot is hardly wider than the interval, so that
    two neighbours straying apart leave no strip; and no more than the machine's junction
    deviation δ: on a curve of radius R in chords of sagitta e the corner rule allows
    v² = a·R·δ/e, so that with e ≤ δ chords slow the machine no more than the curve itself,
    v² = a·R. Never below a four-hundredth of the interval.
    """
    spare = burn.footprint_mm - burn.interval_mm
    tolerance = min(burn.interval_mm / 20.0, spare / STRAYING)
    if junction_deviation_mm > 0.0:
        tolerance = min(tolerance, junction_deviation_mm)
    return max(tolerance, burn.interval_mm / 400.0)


def step_mm(burn: Burn, tolerance_mm: float) -> float:
    """From one ring to the next: the interval, less what the spot cannot close of two rings'
    straying, which would leave hairs as long as the rings.
    """
    spare = burn.footprint_mm - burn.interval_mm
    return burn.interval_mm - max(0.0, STRAYING * tolerance_mm - spare)
