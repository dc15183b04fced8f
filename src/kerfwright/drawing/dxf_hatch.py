"""The outlines of DXF hatches, which are filled areas."""

from __future__ import annotations

import math

import numpy as np
from ezdxf.entities.boundary_paths import (
    AbstractEdge,
    ArcEdge,
    EdgePath,
    EllipseEdge,
    LineEdge,
    PolylinePath,
    SplineEdge,
)
from ezdxf.entities.hatch import Hatch
from ezdxf.math import OCS, BSpline, Vec2, Vec3, arc_angle_span_deg, fit_points_to_cad_cv

from kerfwright.drawing.dxf_curves import View, bspline_points, bulged
from kerfwright.geometry.flatten import ellipse_points
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.regions import FillRule
from kerfwright.geometry.tolerances import SAME_MM

_IGNORE_ISLANDS = 2
"""Hatch style "fill everything inside the outermost boundary" (DXF Reference, HATCH, code 75)."""


def hatch_of(entity: Hatch, view: View) -> tuple[list[Path], FillRule]:
    """Boundaries of a hatch as closed paths, and the rule that fills them."""
    ocs, elevation = entity.ocs(), entity.dxf.elevation.z
    rings: list[Path] = []
    for boundary in entity.paths:
        if isinstance(boundary, PolylinePath):
            rings.append(bulged(view, ocs, elevation, boundary.vertices, closed=True))
        elif isinstance(boundary, EdgePath):
            edges = [_edge(edge, ocs, elevation, view) for edge in boundary.edges]
            rings += [Path(ring, closed=True) for ring in _rings(edges)]
    rings = [ring for ring in rings if len(ring.points) >= 3]
    if entity.dxf.hatch_style != _IGNORE_ISLANDS:
        return rings, "evenodd"
    return [r if r.signed_area_mm2 >= 0.0 else r.reversed() for r in rings], "nonzero"


def is_pattern(entity: Hatch) -> bool:
    """Whether a hatch is drawn as a pattern or a colour blend and not in one colour."""
    return not entity.dxf.solid_fill or entity.gradient is not None


def _edge(edge: AbstractEdge, ocs: OCS, elevation: float, view: View) -> FloatArray:
    """Points of one edge in the direction in which the boundary follows it."""

    def outside(point: Vec2) -> Vec3:
        return ocs.to_wcs(Vec3(point[0], point[1], elevation))

    if isinstance(edge, LineEdge):
        return view.points((outside(edge.start), outside(edge.end)))
    if isinstance(edge, ArcEdge):
        centre = Vec3(edge.center[0], edge.center[1], elevation)
        sweep_rad = math.radians(arc_angle_span_deg(edge.start_angle, edge.end_angle))
        points = view.arc(ocs, centre, edge.radius, math.radians(edge.start_angle), sweep_rad)
        return points if edge.ccw else points[::-1]
    if isinstance(edge, EllipseEdge):
        x, y = edge.major_axis[0], edge.major_axis[1]
        frame = view.frame(
            outside(edge.center),
            ocs.to_wcs(Vec3(x, y, 0)),
            ocs.to_wcs(Vec3(-y, x, 0) * edge.ratio),
        )
        start_rad, end_rad = edge.start_param, edge.end_param
        sweep_rad = (end_rad - start_rad) % (2.0 * math.pi) or 2.0 * math.pi
        points = ellipse_points(frame, start_rad, sweep_rad, view.chord_mm)
        return points if edge.ccw else points[::-1]
    if isinstance(edge, SplineEdge):
        if len(edge.control_points):
            curve = BSpline(
                [outside(p) for p in edge.control_points],
                order=edge.degree + 1,
                knots=edge.knot_values or None,
                weights=edge.weights or None,
            )
        else:
            curve = fit_points_to_cad_cv([outside(p) for p in edge.fit_points])
        return bspline_points(curve, view)
    raise ValueError("unknown kind of edge")


def _rings(edges: list[FloatArray]) -> list[FloatArray]:
    """Put edges end to end, each turned the way that fits; a closed ring lets a new one begin."""
    rings: list[FloatArray] = []
    ring: FloatArray | None = None
    for edge in edges:
        if ring is None:
            ring = edge
        elif _meets(ring):
            rings.append(ring[:-1])
            ring = edge
        else:
            ring = _joined(ring, edge)
    if ring is not None:
        rings.append(ring[:-1] if _meets(ring) else ring)
    return rings


def _meets(ring: FloatArray) -> bool:
    return len(ring) > 2 and math.hypot(*(ring[-1] - ring[0])) <= SAME_MM


def _joined(ring: FloatArray, edge: FloatArray) -> FloatArray:
    ways = (
        (ring, edge),
        (ring, edge[::-1]),
        (ring[::-1], edge),
        (ring[::-1], edge[::-1]),
    )
    gaps = [math.hypot(*(before[-1] - after[0])) for before, after in ways]
    before, after = ways[int(np.argmin(gaps))]
    return np.vstack([before, after[1:] if min(gaps) <= SAME_MM else after])
