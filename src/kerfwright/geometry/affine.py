"""Affine transforms of the plane."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt


@dataclass(frozen=True, slots=True)
class Affine:
    """x' = a·x + c·y + e and y' = b·x + d·y + f, the order SVG 1.1 section 7.4 uses."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def __matmul__(self, inner: Affine) -> Affine:
        """Compose: apply ``inner`` first, then this one."""
        return Affine(
            self.a * inner.a + self.c * inner.b,
            self.b * inner.a + self.d * inner.b,
            self.a * inner.c + self.c * inner.d,
            self.b * inner.c + self.d * inner.d,
            self.a * inner.e + self.c * inner.f + self.e,
            self.b * inner.e + self.d * inner.f + self.f,
        )

    def apply(self, points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Move points of shape (n, 2)."""
        linear = np.array([[self.a, self.b], [self.c, self.d]])
        return np.asarray(points @ linear + np.array([self.e, self.f]))

    @property
    def determinant(self) -> float:
        """Signed area scale; negative for a mirror."""
        return self.a * self.d - self.b * self.c

    @property
    def largest_scale(self) -> float:
        """How much the transform stretches in its most stretched direction."""
        half_sum = (self.a**2 + self.b**2 + self.c**2 + self.d**2) / 2
        return math.sqrt(half_sum + math.sqrt(max(half_sum**2 - self.determinant**2, 0.0)))


def translation(x_mm: float, y_mm: float) -> Affine:
    """Move by (x_mm, y_mm)."""
    return Affine(e=x_mm, f=y_mm)


def rotation(angle_deg: float) -> Affine:
    """Turn counter-clockwise about the origin; quarter turns are exact."""
    quarter, rest = divmod(angle_deg, 90.0)
    if rest == 0.0:
        cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    else:
        cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return Affine(cos, sin, -sin, cos)


def scaling(x: float, y: float) -> Affine:
    """Stretch by ``x`` and ``y`` about the origin."""
    return Affine(a=x, d=y)
