"""Open and closed lines as arrays of points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.affine import Affine

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Path:
    """A line through ``points`` of shape (n, 2), in mm; a closed one does not repeat its first."""

    points: FloatArray
    closed: bool = False

    def __post_init__(self) -> None:
        if self.points.ndim != 2 or self.points.shape[1] != 2:
            raise ValueError(f"points must have shape (n, 2), not {self.points.shape}")

    @property
    def line(self) -> FloatArray:
        """All points in order, the first repeated at the end of a closed path."""
        if self.closed and len(self.points):
            return np.vstack([self.points, self.points[:1]])
        return self.points

    @property
    def length_mm(self) -> float:
        """Length along the path."""
        steps = np.diff(self.line, axis=0)
        return float(np.hypot(steps[:, 0], steps[:, 1]).sum())

    @property
    def signed_area_mm2(self) -> float:
        """Area by the shoelace formula; positive for counter-clockwise, 0 for an open path."""
        if not self.closed or len(self.points) < 3:
            return 0.0
        x, y = (self.points - self.points[0]).T
        return float(0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1)))

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Smallest x, smallest y, largest x, largest y."""
        low, high = self.points.min(axis=0), self.points.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def reversed(self) -> Path:
        """Return the same line followed the other way."""
        return Path(np.ascontiguousarray(self.points[::-1]), self.closed)

    def transformed(self, transform: Affine) -> Path:
        """Return the line moved by ``transform``."""
        return Path(transform.apply(self.points), self.closed)

    def entered_at(self, vertex: int) -> Path:
        """Return a closed path starting at ``vertex``."""
        return Path(np.roll(self.points, -vertex, axis=0), self.closed)


def without_repeats(points: FloatArray, tolerance_mm: float, *, closed: bool) -> FloatArray:
    """Drop points within ``tolerance_mm`` of the one before them (and, closed, of the first)."""
    if len(points) < 2:
        return points
    keep = np.ones(len(points), dtype=bool)
    last = 0
    for i in range(1, len(points)):
        if np.hypot(*(points[i] - points[last])) <= tolerance_mm:
            keep[i] = False
        else:
            last = i
    kept = points[keep]
    if not closed and len(kept) > 1 and not keep[-1]:
        kept[-1] = points[-1]
    if closed and len(kept) > 1 and np.hypot(*(kept[-1] - kept[0])) <= tolerance_mm:
        kept = kept[:-1]
    return kept
