"""The outlines of DXF hatches, which are filled areas."""

from __future__ import annotations

import math

import numpy as np
import shapely
from ezdxf.entities.boundary_paths import (
    AbstractEdge,
    ArcEdge,
    EdgePath,
    EllipseEdge,
    LineEdge,
    PolylinePath,
    SplineEdge,
)
from ezdxf.entities.polygon import DXFPolygon
from ezdxf.math import (
    Vec2,
    Vec3,
    arc_angle_span_deg,
    fit_points_to_cad_cv,
    open_uniform_knot_vector,
)

from kerfwright.drawing.dxf.curves import bulged
from kerfwright.drawing.dxf.nurbs import nurbs_paths
from kerfwright.drawing.dxf.view import GAP, NO_LENGTH, View
from kerfwright.geometry.paths import FloatArray, Path, concatenated
from kerfwright.geometry.regions import FillRule
from kerfwright.geometry.tolerances import JOIN_MM, SAME_MM

_OUTERMOST = 1
_IGNORE_ISLANDS = 2
"""Hatch styles that fill the outermost area alone, and all of it (DXF Reference, HATCH, 75)."""


def hatch_of(entity: DXFPolygon, view: View) -> tuple[list[Path], FillRule]:
    """Boundaries of a HATCH or an MPOLYGON as closed paths, and the rule that fills them."""
    own = vars(entity.dxf)
    offset = own.get("offset_vector", (0.0, 0.0))
    plane = _Plane(view.of(entity), entity.dxf.elevation.z, (offset[0], offset[1]))
    rings: list[Path] = []
    for boundary in entity.paths:
        if isinstance(boundary, PolylinePath):
            rings.append(plane.polyline(boundary))
        elif isinstance(boundary, EdgePath):
            rings += plane.rings(boundary)
    areas = [ring for ring in rings if len(ring.points) >= 3]
    if len(areas) < len(rings):
        view.remarks.add(NO_LENGTH)
    rings = areas
    style = own.get("hatch_style", 0)
    if style == _OUTERMOST and len(rings) > 2:
        rings = _nested_at_most(rings, 1)
    if style != _IGNORE_ISLANDS:
        return rings, "evenodd"
    rings = _nested_at_most(rings, 0)
    return [r if r.signed_area_mm2 >= 0.0 else r.reversed() for r in rings], "nonzero"


def is_pattern(entity: DXFPolygon) -> bool:
    """Whether a hatch is drawn as a pattern or a colour blend and not in one colour."""
    # a gradient of kind 0 only says that there is none
    return not entity.dxf.solid_fill or (entity.gradient is not None and entity.gradient.kind != 0)


def _nested_at_most(rings: list[Path], depth: int) -> list[Path]:
    """Rings that lie within no more than ``depth`` others."""
    areas = [shapely.make_valid(shapely.Polygon(ring.points)) for ring in rings]
    order = np.argsort([-area.area for area in areas], kind="stable")
    kept: list[int] = []
    for place, i in enumerate(order.tolist()):
        around = sum(areas[j].covers(areas[i]) for j in order[:place].tolist())
        if around <= depth:
            kept.append(i)
    return [rings[i] for i in sorted(kept)]


class _Plane:
    """The plane of a hatch: its own coordinates at one height."""

    def __init__(self, view: View, elevation: float, offset: tuple[float, float]) -> None:
        self._view = view
        self._elevation = elevation
        self._offset = offset

    def _at(self, point: Vec2) -> Vec3:
        return Vec3(point[0] + self._offset[0], point[1] + self._offset[1], self._elevation)

    def polyline(self, boundary: PolylinePath) -> Path:
        """A boundary of corners and bulges."""
        corners = np.array([self._at(Vec2(x, y)).xyz for x, y, _ in boundary.vertices])
        bulges = np.array([bulge for _, _, bulge in boundary.vertices], dtype=np.float64)
        return bulged(self._view, corners.reshape(-1, 3), bulges, closed=True)

    def rings(self, boundary: EdgePath) -> list[Path]:
        """Closed lines out of a boundary's edges; gaps between them are remarked upon."""
        edges: list[Path] = []
        rings: list[Path] = []
        for edge in boundary.edges:
            for path in self._edge(edge):
                if path.closed:
                    rings.append(path)
                elif np.ptp(path.points, axis=0).any():
                    edges.append(path)
        made, widest = _end_to_end(edges)
        if widest > JOIN_MM:
            self._view.remarks.add(GAP)
        return rings + made

    def _edge(self, edge: AbstractEdge) -> list[Path]:
        """One edge in the direction in which the boundary follows it."""
        view = self._view
        if isinstance(edge, LineEdge):
            return [Path(view.straight(self._at(edge.start), self._at(edge.end)))]
        if isinstance(edge, ArcEdge):
            sweep_rad = math.radians(arc_angle_span_deg(edge.start_angle, edge.end_angle))
            start_rad = math.radians(edge.start_angle)
            path = view.arc(self._at(edge.center), edge.radius, start_rad, sweep_rad)
            return [path if edge.ccw else path.reversed()]
        if isinstance(edge, EllipseEdge):
            x, y = edge.major_axis[0], edge.major_axis[1]
            minor = Vec3(-y * edge.ratio, x * edge.ratio, 0.0)
            frame = view.frame(self._at(edge.center), Vec3(x, y, 0.0), minor)
            start_rad, end_rad = edge.start_param, edge.end_param
            sweep_rad = (end_rad - start_rad) % (2.0 * math.pi) or 2.0 * math.pi
            path = view.round(frame, start_rad, sweep_rad)
            return [path if edge.ccw else path.reversed()]
        if isinstance(edge, SplineEdge):
            return self._spline(edge)
        raise ValueError("unknown kind of edge")

    def _spline(self, edge: SplineEdge) -> list[Path]:
        chord_mm = self._view.chord_mm
        if not len(edge.control_points):
            points = [self._at(p) for p in edge.fit_points]
            tangents = None
            if edge.start_tangent is not None and edge.end_tangent is not None:
                tangents = [Vec3(edge.start_tangent), Vec3(edge.end_tangent)]
            curve = fit_points_to_cad_cv(points, tangents=tangents)
            seen = self._view.points(curve.control_points)
            return nurbs_paths(seen, np.array(curve.knots()), None, curve.degree, chord_mm)
        seen = self._view.points([self._at(p) for p in edge.control_points])
        knots = edge.knot_values or open_uniform_knot_vector(len(seen), edge.degree + 1)
        weights = np.array(edge.weights) if edge.weights else None
        return nurbs_paths(seen, np.array(knots), weights, edge.degree, chord_mm)


def _end_to_end(edges: list[Path]) -> tuple[list[Path], float]:
    """Closed rings out of open edges, and the widest gap that a straight line had to close.

    Edges follow one another as written, each turned the way that fits. Where the next one does
    not meet the line so far, one that does is looked for; a closed ring lets a new one begin.
    """
    waiting = list(edges)
    rings: list[Path] = []
    widest = 0.0
    while waiting:
        chain = [waiting.pop(0)]
        while waiting and not _is_closed(chain):
            number, gap = _next(chain, waiting)
            if gap > JOIN_MM and _gap(chain[-1].points[-1], chain[0].points[0]) <= gap:
                break
            widest = max(widest, gap)
            edge = waiting.pop(number)
            if len(chain) == 1:
                chain[0] = _turned_towards(chain[0], edge)
            end = chain[-1].points[-1]
            if _gap(end, edge.points[-1]) < _gap(end, edge.points[0]) - SAME_MM:
                edge = edge.reversed()
            if gap > SAME_MM:
                chain.append(Path(np.stack([end, edge.points[0]])))
            chain.append(edge)
        gap = _gap(chain[-1].points[-1], chain[0].points[0])
        widest = max(widest, gap)
        if gap > SAME_MM:
            chain.append(Path(np.stack([chain[-1].points[-1], chain[0].points[0]])))
        rings.append(concatenated(chain, closed=True))
    return rings, widest


def _is_closed(chain: list[Path]) -> bool:
    if len(chain) == 1 and len(chain[0].points) < 3:
        return False
    return _gap(chain[-1].points[-1], chain[0].points[0]) <= SAME_MM


def _next(chain: list[Path], waiting: list[Path]) -> tuple[int, float]:
    """Which waiting edge continues a chain, and the gap before it."""
    ends = [chain[-1].points[-1]]
    if len(chain) == 1:
        ends.append(chain[0].points[0])

    def gap_before(edge: Path) -> float:
        return min(_gap(end, tip) for end in ends for tip in (edge.points[0], edge.points[-1]))

    gap = gap_before(waiting[0])
    if gap <= JOIN_MM:
        return 0, gap
    gaps = [gap_before(edge) for edge in waiting]
    best = int(np.argmin(gaps))
    return best, gaps[best]


def _turned_towards(first: Path, second: Path) -> Path:
    """Turn a chain's first edge so that it ends where the second is."""
    tips = (second.points[0], second.points[-1])
    forward = min(_gap(first.points[-1], tip) for tip in tips)
    backward = min(_gap(first.points[0], tip) for tip in tips)
    return first.reversed() if backward < forward - SAME_MM else first


def _gap(a: FloatArray, b: FloatArray) -> float:
    return math.hypot(b[0] - a[0], b[1] - a[1])
