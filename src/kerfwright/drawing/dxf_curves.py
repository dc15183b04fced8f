"""The lines of DXF entities, seen from above, in mm.

Every curve goes through the whole chain of block transforms before it is flattened, so that the
chord tolerance holds in the finished drawing whatever a block's scale is. Circular and elliptic
arcs are images of a unit circle, which stay exact under any scale, mirror or tilt.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
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
from ezdxf.math import OCS, BSpline, Matrix44, Vec3, arc_angle_span_deg, arc_angle_span_rad

from kerfwright.geometry.affine import Affine
from kerfwright.geometry.flatten import ellipse_points
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import COORDINATE_LIMIT_MM, SAME_MM

RADIUS_LIMIT_MM = 1e4 * COORDINATE_LIMIT_MM
"""A nearly straight arc may have its centre far outside the drawing, but not without end."""

_FRAME_CONTROL_POINT = 16
"""Vertex flag of a spline's control frame (DXF Reference, VERTEX, group code 70)."""


class FarAwayError(ValueError):
    """A coordinate or a radius is not finite, or beyond any sheet."""


class NotALineError(ValueError):
    """The entity has no lines that could be read: a mesh, for example."""


@dataclass(slots=True)
class View:
    """How an entity's own space is seen: ``matrix`` leads to mm, z is looked along.

    ``out_of_plane`` and ``wide`` are set when something was not flat, or had a width.
    """

    matrix: Matrix44
    chord_mm: float
    out_of_plane: bool = False
    wide: bool = False
    stretch: float = field(init=False)

    def __post_init__(self) -> None:
        values = np.array(tuple(self.matrix)).reshape(4, 4)
        if not np.isfinite(values).all():
            raise FarAwayError
        self.stretch = float(np.linalg.norm(values[:3, :2], ord=2))

    def points(self, vertices: Iterable[Vec3]) -> FloatArray:
        """Where vertices are seen, shape (n, 2), in mm."""
        space = np.array([v.xyz for v in self.matrix.transform_vertices(vertices)])
        if space.size == 0:
            return np.empty((0, 2))
        if not np.isfinite(space).all() or np.abs(space[:, :2]).max() > COORDINATE_LIMIT_MM:
            raise FarAwayError
        if np.ptp(space[:, 2]) > SAME_MM:
            self.out_of_plane = True
        return np.ascontiguousarray(space[:, :2])

    def frame(self, centre: Vec3, x_axis: Vec3, y_axis: Vec3) -> Affine:
        """Where the unit circle is seen that has this centre and these axes."""
        x = self.matrix.transform_direction(x_axis)
        y = self.matrix.transform_direction(y_axis)
        o = self.matrix.transform(centre)
        size = max(x.magnitude, y.magnitude)
        if not math.isfinite(size + o.magnitude) or size > RADIUS_LIMIT_MM:
            raise FarAwayError
        if math.hypot(x.z, y.z) > SAME_MM:
            self.out_of_plane = True
        return Affine(x.x, x.y, y.x, y.y, o.x, o.y)

    def arc(
        self, ocs: OCS, centre: Vec3, radius: float, start_rad: float, sweep_rad: float
    ) -> FloatArray:
        """Points of a circular arc whose centre and angles are in ``ocs``."""
        x_axis, y_axis = ocs.to_wcs(Vec3(radius, 0, 0)), ocs.to_wcs(Vec3(0, radius, 0))
        frame = self.frame(ocs.to_wcs(centre), x_axis, y_axis)
        return ellipse_points(frame, start_rad, sweep_rad, self.chord_mm)


def line_of(entity: Line, view: View) -> list[Path]:
    """LINE."""
    return [Path(view.points((entity.dxf.start, entity.dxf.end)))]


def circle_of(entity: Circle, view: View) -> list[Path]:
    """CIRCLE."""
    points = view.arc(entity.ocs(), entity.dxf.center, abs(entity.dxf.radius), 0.0, 2.0 * math.pi)
    return [Path(points[:-1], closed=True)]


def arc_of(entity: Arc, view: View) -> list[Path]:
    """ARC, counter-clockwise from its start to its end angle in its own coordinate system."""
    start_deg = entity.dxf.start_angle
    sweep_rad = math.radians(arc_angle_span_deg(start_deg, entity.dxf.end_angle))
    points = view.arc(
        entity.ocs(),
        entity.dxf.center,
        abs(entity.dxf.radius),
        math.radians(start_deg),
        sweep_rad,
    )
    return [_whole_turn(points, sweep_rad)]


def ellipse_of(entity: Ellipse, view: View) -> list[Path]:
    """ELLIPSE, whole or from its start to its end parameter."""
    major = entity.dxf.major_axis
    minor = entity.dxf.extrusion.normalize().cross(major) * entity.dxf.ratio
    start_rad = entity.dxf.start_param
    sweep_rad = arc_angle_span_rad(start_rad, entity.dxf.end_param)
    frame = view.frame(entity.dxf.center, major, minor)
    return [_whole_turn(ellipse_points(frame, start_rad, sweep_rad, view.chord_mm), sweep_rad)]


def _whole_turn(points: FloatArray, sweep_rad: float) -> Path:
    if math.isclose(sweep_rad, 2.0 * math.pi, abs_tol=1e-9):
        return Path(points[:-1], closed=True)
    return Path(points)


def lwpolyline_of(entity: LWPolyline, view: View) -> list[Path]:
    """LWPOLYLINE with its bulges."""
    rows = entity.get_points("xyseb")
    view.wide = bool(entity.dxf.const_width) or any(row[2] or row[3] for row in rows)
    corners = [(row[0], row[1], row[4]) for row in rows]
    return [bulged(view, entity.ocs(), entity.dxf.elevation, corners, closed=entity.closed)]


def polyline_of(entity: Polyline, view: View) -> list[Path]:
    """POLYLINE, flat with bulges or in space; meshes raise :class:`NotALineError`."""
    vertices = [v for v in entity.vertices if not v.dxf.flags & _FRAME_CONTROL_POINT]
    if entity.is_3d_polyline:
        points = view.points(v.dxf.location for v in vertices)
        return [Path(points, closed=entity.is_closed)]
    if not entity.is_2d_polyline:
        raise NotALineError
    view.wide = any(v.dxf.start_width or v.dxf.end_width for v in vertices) or bool(
        entity.dxf.default_start_width or entity.dxf.default_end_width
    )
    corners = [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in vertices]
    elevation = entity.dxf.elevation.z
    return [bulged(view, entity.ocs(), elevation, corners, closed=entity.is_closed)]


def bulged(
    view: View,
    ocs: OCS,
    elevation: float,
    corners: Sequence[tuple[float, float, float]],
    *,
    closed: bool,
) -> Path:
    """Line through corners (x, y, bulge), each bulge bending the way to the next corner.

    A bulge is the tangent of a quarter of the arc's angle, positive counter-clockwise (DXF
    Reference, LWPOLYLINE, group code 42).
    """
    ends = [ocs.to_wcs(Vec3(x, y, elevation)) for x, y, _ in corners]
    points = view.points(ends)
    if not any(bulge for _, _, bulge in corners):
        return Path(points, closed)
    pieces: list[FloatArray] = []
    count = len(corners)
    for i in range(count if closed else count - 1):
        j = (i + 1) % count
        (x0, y0, bulge), (x1, y1, _) = corners[i], corners[j]
        pieces.append(points[i : i + 1])
        sagitta_mm = abs(bulge) * math.hypot(x1 - x0, y1 - y0) / 2.0 * view.stretch
        if not math.isfinite(sagitta_mm):
            raise FarAwayError
        if sagitta_mm > view.chord_mm / 10.0:
            arc = _bulge_arc(view, ocs, elevation, (x0, y0), (x1, y1), bulge)
            pieces.append(arc[1:-1])
    if not closed:
        pieces.append(points[-1:])
    return Path(np.vstack(pieces), closed)


def _bulge_arc(
    view: View,
    ocs: OCS,
    elevation: float,
    start: tuple[float, float],
    end: tuple[float, float],
    bulge: float,
) -> FloatArray:
    (x0, y0), (x1, y1) = start, end
    aside = (1.0 - bulge * bulge) / (4.0 * bulge)
    x = (x0 + x1) / 2.0 - (y1 - y0) * aside
    y = (y0 + y1) / 2.0 + (x1 - x0) * aside
    radius = math.hypot(x0 - x, y0 - y)
    start_rad, sweep_rad = math.atan2(y0 - y, x0 - x), 4.0 * math.atan(bulge)
    return view.arc(ocs, Vec3(x, y, elevation), radius, start_rad, sweep_rad)


def spline_of(entity: Spline, view: View) -> list[Path]:
    """SPLINE by its control points, or through its fit points where it has no others."""
    fit_points = [Vec3(p) for p in entity.fit_points]
    if entity.closed and len(fit_points) > 2 and not entity.control_point_count():
        curve = _ring_through(fit_points)
    else:
        curve = entity.construction_tool()
    return [_closed_where_it_meets(bspline_points(curve, view))]


def _ring_through(fit_points: list[Vec3]) -> BSpline:
    """Smooth closed cubic through points, parametrised by the chords between them."""
    from scipy.interpolate import make_interp_spline  # noqa: PLC0415 (slow to load)

    ring = [p for p, after in pairwise([*fit_points, fit_points[0]]) if not p.isclose(after)]
    points = np.array([p.xyz for p in [*ring, ring[0]]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    curve = make_interp_spline(along, points, k=3, bc_type="periodic")
    return BSpline([Vec3(p) for p in curve.c], order=4, knots=curve.t.tolist())


def _closed_where_it_meets(points: FloatArray) -> Path:
    if len(points) > 3 and math.hypot(*(points[-1] - points[0])) <= SAME_MM:
        return Path(points[:-1], closed=True)
    return Path(points)


def bspline_points(curve: BSpline, view: View) -> FloatArray:
    """Points along a B-spline over its domain, both ends included.

    The number of pieces of a knot span comes from its second derivative, since a chord over a
    step h strays by at most h² max|C''| / 8 (de Boor, *A Practical Guide to Splines*, on linear
    interpolation); it is then checked at the middle of every piece and doubled where needed.
    """
    from scipy.interpolate import BSpline as Basis  # noqa: PLC0415 (slow to load, seldom needed)

    degree = curve.degree
    knots = np.array(curve.knots(), dtype=np.float64)
    seen = view.points(Vec3(p) for p in curve.control_points)
    weights = np.array(curve.weights() or np.ones(len(seen)), dtype=np.float64)
    if not (np.isfinite(knots).all() and np.isfinite(weights).all() and (weights > 0.0).all()):
        raise ValueError("knots and weights must be finite, weights positive")
    lifted = Basis(knots, np.column_stack([seen * weights[:, None], weights]), degree)

    def at(t: FloatArray) -> FloatArray:
        rows = lifted(t)
        return np.asarray(rows[:, :2] / rows[:, 2:])

    spans = np.unique(knots[degree : len(seen) + 1])
    if len(spans) < 2:
        raise ValueError("the spline has no length")
    parameters = [spans[:1]]
    for low, high in pairwise(spans):
        parameters.append(_span_parameters(at, float(low), float(high), view.chord_mm)[1:])
    points = at(np.concatenate(parameters))
    if not np.isfinite(points).all():
        raise FarAwayError
    return points


_SAMPLES = 17
_PIECES_LIMIT = 1 << 16


def _span_parameters(
    at: Callable[[FloatArray], FloatArray], low: float, high: float, chord_mm: float
) -> FloatArray:
    samples = at(np.linspace(low, high, _SAMPLES))
    second = np.diff(samples, n=2, axis=0) * (_SAMPLES - 1) ** 2
    bend = float(np.hypot(second[:, 0], second[:, 1]).max())
    pieces = max(1, math.ceil(math.sqrt(bend / (8.0 * chord_mm))))
    while pieces < _PIECES_LIMIT:
        t = np.linspace(low, high, 2 * pieces + 1)
        points = at(t)
        if _stray(points) <= chord_mm:
            return np.asarray(t[::2])
        pieces *= 2
    raise ValueError("the spline breaks off between two of its knots")


def _stray(points: FloatArray) -> float:
    """Largest distance of every second point from the chord of its two neighbours."""
    start, middle, end = points[:-2:2], points[1::2], points[2::2]
    chord, out = end - start, middle - start
    along = np.einsum("ij,ij->i", chord, chord)
    share = np.einsum("ij,ij->i", out, chord) / np.where(along > 0.0, along, 1.0)
    off = out - np.clip(share, 0.0, 1.0)[:, None] * chord
    return float(np.hypot(off[:, 0], off[:, 1]).max())


def solid_of(entity: Solid, view: View) -> list[Path]:
    """SOLID and TRACE: a filled area of three or four corners."""
    corners = view.points(entity.wcs_vertices())
    return [Path(corners, closed=True)]


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
