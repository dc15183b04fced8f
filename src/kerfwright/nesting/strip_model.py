"""Pieces of a strip, and where they lie in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray


class StripError(Exception):
    """No layout was found."""


@dataclass(frozen=True, eq=False, slots=True)
class StripPiece:
    """A simple polygon, shape (n, 2), in mm; wanted ``quantity`` times."""

    ring: FloatArray
    quantity: int
    turns_deg: tuple[float, ...]

    @property
    def area_mm2(self) -> float:
        """Area of all copies."""
        return float(Polygon(self.ring).area * self.quantity)

    @property
    def middle(self) -> FloatArray:
        """Middle of the ring's bounding box."""
        return np.asarray(0.5 * (self.ring.min(axis=0) + self.ring.max(axis=0)))


@dataclass(frozen=True, slots=True)
class StripSpot:
    """Piece number ``piece`` turned about its origin, then moved; the strip starts at (0, 0)."""

    piece: int
    turn_deg: float
    x_mm: float
    y_mm: float

    @classmethod
    def about_middle(
        cls, number: int, piece: StripPiece, turn_deg: float, at: FloatArray
    ) -> StripSpot:
        """Spot of a piece turned about its middle, which then lies ``at`` a place."""
        x, y = at - rotation(turn_deg).apply(piece.middle)
        return cls(number, turn_deg, float(x), float(y))

    def ring(self, piece: StripPiece) -> FloatArray:
        """The piece's ring where it lies."""
        at = np.array([self.x_mm, self.y_mm])
        return np.asarray(rotation(self.turn_deg).apply(piece.ring) + at)


@dataclass(frozen=True, slots=True)
class Strip:
    """What a search found: ``density`` is pieces' area over used width × height."""

    width_mm: float
    height_mm: float
    spots: tuple[StripSpot, ...]
    density: float
