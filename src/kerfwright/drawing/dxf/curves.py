"""The lines of DXF entities, seen from above, in mm, with the exact curves they were drawn as."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
from ezdxf.entities.arc import Arc
from ezdxf.entities.circle import Circle
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.ellipse import Ellipse
from ezdxf.entities.line import Line
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.polyline import Polyline
from ezdxf.entities.solid import Solid
from ezdxf.entities.spline import Spline
from ezdxf.math import (
    BSpline,
    Vec3,
    arc_angle_span_deg,
    arc_angle_span_rad,
    fit_points_to_cad_cv,
    open_uniform_knot_vector,
    round_knots,
)

from kerfwright.drawing.dxf.nurbs import nurbs_paths
from kerfwright.drawing.dxf.view import WIDE, FarAwayError, NotALineError, View
from kerfwright.geometry.curves import Span
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM

_FRAME_CONTROL_POINT = 16
"""Vertex flag of a spline's control frame (DXF Reference, VERTEX, group code 70)."""

_SPLINE_FIT = 4
_QUADRATIC = 5
"""Flag and smooth type of a spline-fit polyline (DXF Reference, POLYLINE, codes 70 and 75)."""


def line_of(entity: Line, view: View) -> list[Path]:
    """LINE."""
    own = vars(entity.dxf)
    return [Path(view.straight(own["start"], own["end"]))]


def circle_of(entity: Circle, view: View) -> list[Path]:
    """CIRCLE."""
    own = vars(entity.dxf)
    return [view.of(entity).arc(own["center"], abs(own["radius"]), 0.0, 2.0 * math.pi)]


def arc_of(entity: Arc, view: View) -> list[Path]:
    """ARC, counter-clockwise from its start to its end angle in its own coordinate system."""
    own = vars(entity.dxf)
    start_deg = own["start_angle"]
    sweep_rad = math.radians(arc_angle_span_deg(start_deg, own["end_angle"]))
    start_rad = math.radians(start_deg)
    return [view.of(entity).arc(own["center"], abs(own["radius"]), start_rad, sweep_rad)]


def ellipse_of(entity: Ellipse, view: View) -> list[Path]:
    """ELLIPSE, whole or from its start to its end parameter."""
    own = vars(entity.dxf)
    major = own["major_axis"]
    minor = entity.dxf.extrusion.normalize().cross(major) * own["ratio"]
    start_rad = entity.dxf.start_param
    sweep_rad = arc_angle_span_rad(start_rad, entity.dxf.end_param)
    return [view.round(view.frame(own["center"], major, minor), start_rad, sweep_rad)]


def lwpolyline_of(entity: LWPolyline, view: View) -> list[Path]:
    """LWPOLYLINE with its bulges."""
    rows = np.asarray(entity.lwpoints.values, dtype=np.float64).reshape(-1, 5)
    if entity.dxf.const_width or rows[:, 2:4].any():
        view.remarks.add(WIDE)
    elevation = np.full(len(rows), entity.dxf.elevation)
    corners = np.column_stack([rows[:, :2], elevation])
    return [bulged(view.of(entity), corners, rows[:, 4], closed=entity.closed)]


def polyline_of(entity: Polyline, view: View) -> list[Path]:
    """POLYLINE, flat with bulges or in space; meshes raise :class:`NotALineError`."""
    if not (entity.is_2d_polyline or entity.is_3d_polyline):
        raise NotALineError
    vertices = [v for v in entity.vertices if not v.dxf.flags & _FRAME_CONTROL_POINT]
    closed = bool(entity.is_closed)
    if len(vertices) < 2 and entity.dxf.flags & _SPLINE_FIT:
        return _unfitted(entity, view)
    rows = np.array([v.dxf.location.xyz for v in vertices], dtype=np.float64).reshape(-1, 3)
    if entity.is_3d_polyline:
        return [bulged(view, rows, np.zeros(len(rows)), closed=closed)]
    if any(v.dxf.start_width or v.dxf.end_width for v in vertices) or (
        entity.dxf.default_start_width or entity.dxf.default_end_width
    ):
        view.remarks.add(WIDE)
    rows[:, 2] = entity.dxf.elevation.z
    bulges = np.array([v.dxf.bulge for v in vertices], dtype=np.float64)
    return [bulged(view.of(entity), rows, bulges, closed=closed)]


def _unfitted(entity: Polyline, view: View) -> list[Path]:
    """Spline-fit polyline of which the file has only the control frame: its uniform B-spline."""
    rows = np.array([v.dxf.location.xyz for v in entity.vertices], dtype=np.float64)
    degree = 2 if entity.dxf.smooth_type == _QUADRATIC else 3
    if entity.is_3d_polyline:
        seen = view.seen(rows)
    else:
        rows[:, 2] = entity.dxf.elevation.z
        seen = view.of(entity).seen(rows)
    if entity.is_closed:
        seen = np.vstack([seen, seen[:degree]])
        knots = np.arange(len(seen) + degree + 1, dtype=np.float64)
    else:
        degree = min(degree, len(seen) - 1)
        knots = np.array(open_uniform_knot_vector(len(seen), degree + 1))
    return [closed_where_it_meets(p) for p in nurbs_paths(seen, knots, None, degree, view.chord_mm)]


def bulged(view: View, corners: FloatArray, bulges: FloatArray, *, closed: bool) -> Path:
    """Line through corners of shape (n, 3), each bulge bending the way to the next corner.

    A bulge is the tangent of a quarter of the arc's angle, positive counter-clockwise (DXF
    Reference, LWPOLYLINE, group code 42).
    """
    points = view.seen(corners)
    if closed and len(points) > 2 and (points[0] == points[-1]).all():
        points, corners, bulges = points[:-1], corners[:-1], bulges[:-1]
    if not bulges.any():
        return Path(points, closed)
    rows, bends = corners.tolist(), bulges.tolist()
    pieces: list[FloatArray] = []
    spans: list[Span] = []
    at, straight_from, count = 0, 0, len(rows)
    for i in range(count if closed else count - 1):
        start, end = rows[i], rows[(i + 1) % count]
        span_units = math.hypot(end[0] - start[0], end[1] - start[1])
        # written so that a NaN counts as bent
        if abs(bends[i]) * span_units / 2.0 * view.stretch <= view.chord_mm / 10.0:
            at += 1
            continue
        arc = _bulge_arc(view, start, end, bends[i])
        steps = len(arc.points) - 1
        spans.append(Span(at, at + steps, arc.spans[0].curve))
        pieces += [points[straight_from : i + 1], arc.points[1:-1]]
        at, straight_from = at + steps, i + 1
    return Path(np.vstack([*pieces, points[straight_from:]]), closed, tuple(spans))


def _bulge_arc(view: View, start: list[float], end: list[float], bulge: float) -> Path:
    (x0, y0, z), (x1, y1, _) = start, end
    aside = (1.0 - bulge * bulge) / (4.0 * bulge)
    x = (x0 + x1) / 2.0 - (y1 - y0) * aside
    y = (y0 + y1) / 2.0 + (x1 - x0) * aside
    radius = math.hypot(x0 - x, y0 - y)
    if not math.isfinite(radius):
        raise FarAwayError
    start_rad, sweep_rad = math.atan2(y0 - y, x0 - x), 4.0 * math.atan(bulge)
    return view.arc(Vec3(x, y, z), radius, start_rad, sweep_rad)


def spline_of(entity: Spline, view: View) -> list[Path]:
    """SPLINE by its control points, or through its fit points where it has no others."""
    if entity.control_point_count():
        degree = int(entity.dxf.degree)
        control = np.array(list(entity.control_points), dtype=np.float64).reshape(-1, 3)
        knots = list(entity.knots) or open_uniform_knot_vector(len(control), degree + 1)
        knots = round_knots(list(knots), entity.dxf.knot_tolerance)
        weights = np.array(entity.weights, dtype=np.float64) if len(entity.weights) else None
        paths = nurbs_paths(view.seen(control), np.array(knots), weights, degree, view.chord_mm)
        return [closed_where_it_meets(path) for path in paths]
    return fitted(entity, view)


def fitted(entity: Spline, view: View) -> list[Path]:
    """SPLINE through its fit points."""
    points = [Vec3(p) for p in entity.fit_points]
    if entity.closed and len(points) > 2:
        return bspline_paths(_ring_through(points), view)
    own = vars(entity.dxf)
    tangents = None
    if "start_tangent" in own and "end_tangent" in own:
        tangents = [own["start_tangent"], own["end_tangent"]]
    return bspline_paths(fit_points_to_cad_cv(points, tangents=tangents), view)


def bspline_paths(curve: BSpline, view: View) -> list[Path]:
    """Lines along a B-spline whose control points are in the view's space."""
    seen = view.points(curve.control_points)
    weights = np.array(curve.weights()) if curve.weights() else None
    paths = nurbs_paths(seen, np.array(curve.knots()), weights, curve.degree, view.chord_mm)
    return [closed_where_it_meets(path) for path in paths]


def _ring_through(fit_points: list[Vec3]) -> BSpline:
    """Smooth closed cubic through points, parametrised by the chords between them."""
    from scipy.interpolate import make_interp_spline  # noqa: PLC0415 (slow to load)

    ring = [p for p, after in pairwise([*fit_points, fit_points[0]]) if not p.isclose(after)]
    points = np.array([p.xyz for p in [*ring, ring[0]]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    curve = make_interp_spline(along, points, k=3, bc_type="periodic")
    return BSpline([Vec3(p) for p in curve.c], order=4, knots=curve.t.tolist())


def closed_where_it_meets(path: Path) -> Path:
    """Close a line whose last point is its first."""
    points = path.points
    if len(points) > 3 and math.hypot(*(points[-1] - points[0])) <= SAME_MM:
        return Path(points[:-1], True, path.spans)
    return path


def solid_of(entity: Solid, view: View) -> list[Path]:
    """SOLID and TRACE: a filled area of three or four corners."""
    own = vars(entity.dxf)
    if not {"vtx0", "vtx1", "vtx2"} <= own.keys():
        raise ValueError("corners are missing")
    if "vtx3" not in own:
        return [Path(view.of(entity).points([own["vtx0"], own["vtx1"], own["vtx2"]]), closed=True)]
    return [Path(view.of(entity).points(entity.vertices()), closed=True)]


LINES: dict[str, Callable[..., list[Path]]] = {
    "LINE": line_of,
    "ARC": arc_of,
    "CIRCLE": circle_of,
    "ELLIPSE": ellipse_of,
    "LWPOLYLINE": lwpolyline_of,
    "POLYLINE": polyline_of,
    "SPLINE": spline_of,
    "HELIX": spline_of,
}
"""Readers of entities that are lines, by DXF type."""


def lines_of(entity: DXFEntity, view: View) -> list[Path]:
    """Lines of an entity whose type is one of :data:`LINES`.

    Raises:
        FarAwayError: a coordinate or a radius is beyond any sheet.
        NotALineError: the entity is a mesh.
        Exception: anything else that damaged data provokes in the DXF library.
    """
    return [path for path in LINES[entity.dxftype()](entity, view) if len(path.points)]
