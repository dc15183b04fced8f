"""How the space of a DXF entity is seen from above, in mm.

Every curve goes through the whole chain of block transforms before it is flattened, so that the
chord tolerance holds in the finished drawing whatever a block's scale is. Circular and elliptic
arcs are images of a unit circle, which stay exact under any scale, mirror or tilt.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.math import OCS, Matrix44, Vec3

from kerfwright.geometry.affine import Affine
from kerfwright.geometry.curves import Curve, Span, ellipse_arc
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import COORDINATE_LIMIT_MM, SAME_MM

RADIUS_LIMIT_MM = 1e4 * COORDINATE_LIMIT_MM
"""A nearly straight arc may have its centre far outside the drawing, but not without end."""

OUT_OF_PLANE = "dxf-out-of-plane"
WIDE = "dxf-wide-line"
GAP = "dxf-hatch-gap"
NO_LENGTH = "no-length"

_UPWARDS = (0.0, 0.0, 1.0)


class FarAwayError(ValueError):
    """A coordinate or a radius is not finite, or beyond any sheet."""


class NotALineError(ValueError):
    """The entity has no lines that could be read: a mesh, for example."""


@dataclass(slots=True)
class View:
    """An entity's own space: ``matrix`` leads from there to mm, z is looked along.

    ``remarks`` gathers what was met on the way, as findings' slugs.
    """

    matrix: Matrix44
    chord_mm: float
    remarks: set[str] = field(default_factory=set)
    stretch: float = field(init=False)
    _rows: FloatArray = field(init=False)
    _turned: dict[tuple[float, float, float], View] = field(init=False, default_factory=dict)
    _flat: tuple[float, ...] | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        rows = np.array(tuple(self.matrix)).reshape(4, 4)[:, :3]
        if not np.isfinite(rows).all():
            raise FarAwayError
        self._rows = rows
        self.stretch = float(np.linalg.norm(rows[:3, :2], ord=2))
        if not (rows[2, :2].any() or rows[:2, 2].any()):
            (a, b), (c, d), (e, f) = rows[[0, 1, 3], :2].tolist()
            self._flat = (a, b, c, d, e, f, float(rows[2, 2]))

    def of(self, entity: DXFEntity) -> View:
        """The same view from an entity's own coordinate system (OCS)."""
        extrusion = vars(entity.dxf).get("extrusion")
        return self if extrusion is None else self.along(extrusion)

    def along(self, extrusion: Vec3) -> View:
        """The same view from the coordinate system whose z axis is ``extrusion``."""
        key = extrusion.xyz
        if key == _UPWARDS:
            return self
        view = self._turned.get(key)
        if view is None:
            matrix = OCS(extrusion).matrix * self.matrix if OCS(extrusion).transform else None
            view = View(matrix, self.chord_mm, self.remarks) if matrix is not None else self
            self._turned[key] = view
        return view

    def points(self, vertices: Iterable[Vec3]) -> FloatArray:
        """Where vertices are seen, shape (n, 2), in mm."""
        return self.seen(np.array([v.xyz for v in vertices], dtype=np.float64).reshape(-1, 3))

    def seen(self, rows: FloatArray) -> FloatArray:
        """Where points of shape (n, 3) are seen, shape (n, 2), in mm."""
        if len(rows) == 0:
            return np.empty((0, 2))
        space = rows @ self._rows[:3] + self._rows[3]
        # a NaN fails the comparison as well
        if not np.abs(space[:, :2]).max() <= COORDINATE_LIMIT_MM:
            raise FarAwayError
        if not np.ptp(space[:, 2]) <= SAME_MM:
            self.remarks.add(OUT_OF_PLANE)
        return np.ascontiguousarray(space[:, :2])

    def straight(self, start: Vec3, end: Vec3) -> FloatArray:
        """Where two points are seen, as :meth:`seen` but quick, since most entities are lines."""
        if self._flat is None:
            return self.points((start, end))
        a, b, c, d, e, f, upwards = self._flat
        x0, y0, z0 = start.xyz
        x1, y1, z1 = end.xyz
        u0, v0, u1, v1 = (
            a * x0 + c * y0 + e,
            b * x0 + d * y0 + f,
            a * x1 + c * y1 + e,
            b * x1 + d * y1 + f,
        )
        limit = COORDINATE_LIMIT_MM
        if not (abs(u0) <= limit and abs(v0) <= limit and abs(u1) <= limit and abs(v1) <= limit):
            raise FarAwayError
        if z0 != z1 and not abs((z1 - z0) * upwards) <= SAME_MM:
            self.remarks.add(OUT_OF_PLANE)
        return np.array(((u0, v0), (u1, v1)))

    def frame(self, centre: Vec3, x_axis: Vec3, y_axis: Vec3) -> Affine:
        """Where the unit circle is seen that has this centre and these axes."""
        (xx, xy, xz), (yx, yy, yz) = (np.array((x_axis.xyz, y_axis.xyz)) @ self._rows[:3]).tolist()
        x, y, _ = (np.array(centre.xyz) @ self._rows[:3] + self._rows[3]).tolist()
        size = max(math.hypot(xx, xy, xz), math.hypot(yx, yy, yz))
        if not math.isfinite(size + x + y) or size > RADIUS_LIMIT_MM:
            raise FarAwayError
        if math.hypot(xz, yz) > SAME_MM:
            self.remarks.add(OUT_OF_PLANE)
        return Affine(xx, xy, yx, yy, x, y)

    def arc(self, centre: Vec3, radius: float, start_rad: float, sweep_rad: float) -> Path:
        """Circular arc about ``centre`` in this view's plane, closed if it goes all round."""
        if self._flat is None or not abs(radius) * self.stretch <= RADIUS_LIMIT_MM:
            frame = self.frame(centre, Vec3(radius, 0.0, 0.0), Vec3(0.0, radius, 0.0))
        else:
            a, b, c, d, e, f, _ = self._flat
            x, y, _ = centre.xyz
            u, v = a * x + c * y + e, b * x + d * y + f
            frame = Affine(radius * a, radius * b, radius * c, radius * d, u, v)
            if not math.isfinite(u + v):
                raise FarAwayError
        return self.round(frame, start_rad, sweep_rad)

    def round(self, frame: Affine, start_rad: float, sweep_rad: float) -> Path:
        """Image under ``frame`` of an arc of the unit circle, closed if it goes all round."""
        if not math.isfinite(start_rad + sweep_rad):
            raise FarAwayError
        whole = math.isclose(abs(sweep_rad), 2.0 * math.pi, abs_tol=1e-9)
        return along_curve(ellipse_arc(frame, start_rad, sweep_rad), self.chord_mm, closed=whole)


def along_curve(curve: Curve, chord_mm: float, *, closed: bool = False) -> Path:
    """A single exact curve as a path; a closed one ends where it begins."""
    points = curve.points(chord_mm)
    span = Span(0, len(points) - 1, curve)
    return Path(points[:-1] if closed else points, closed, (span,))
