"""Lead-ins: the beam goes on in the waste beside a cut and comes into the cut from there.

Where the beam goes on it stands, and burns a spot wider than the kerf. The spot and the way from
it to the cut lie in waste: no nearer to any part than a beam that cuts it on size, the spot
farther off. Whatever keeps off all parts so crosses no other cut either, since cuts run along
parts.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import CHORD_MM
from kerfwright.shop.material import LeadIn

LENGTH_SHARES = (1.0, 0.5, 0.25)
"""Where there is no room for the whole length, shorter ones are tried."""

ANGLES_DEG = (0.0, 30.0, -30.0, 45.0, -45.0, 60.0, -60.0, 90.0, -90.0, 135.0, -135.0)
"""By how much a straight lead-in turns into the cut; the less the better."""

SIDES = (1.0, -1.0)
"""Quarter circles turn into the cut from its left or its right."""

SPOT_SHARE = 0.45
"""How far from every cut a lead-in starts, as a share of its length: half of it at 30°."""

ROUNDING_MM = 0.01
"""How much nearer than half a kerf to a part a lead-in may come, where it meets the cut."""


@dataclass(frozen=True, eq=False, slots=True)
class LeadIns:
    """Finds lead-ins between parts, on the sheet of ``sheet_mm`` (width, height) if known."""

    shape: LeadIn
    length_mm: float
    half_kerf_mm: float
    parts: shapely.STRtree
    sheet_mm: tuple[float, float] | None = None

    @classmethod
    def between(
        cls,
        parts: Iterable[Polygon],
        *,
        shape: LeadIn,
        length_mm: float,
        kerf_mm: float,
        sheet_mm: tuple[float, float] | None,
    ) -> LeadIns:
        """Lead-ins that keep off ``parts``, whether they are cut or only lie there."""
        return cls(shape, length_mm, kerf_mm / 2.0, shapely.STRtree(list(parts)), sheet_mm)

    def lengths_mm(self) -> tuple[float, ...]:
        """Lengths to try, the longest first; what is shorter than asked is wider than the kerf."""
        lengths = [share * self.length_mm for share in LENGTH_SHARES]
        return (lengths[0], *(one for one in lengths[1:] if one > 2.0 * self.half_kerf_mm))

    def first(
        self, entries: FloatArray, directions: FloatArray, length_mm: float
    ) -> tuple[int, FloatArray] | None:
        """First entry with room for a lead-in of that length, and its points down to the entry.

        ``entries`` and ``directions`` (of the cut from there on) have shape (n, 2).
        """
        ways = _ways(self.shape, length_mm)
        along = directions / np.hypot(*directions.T)[:, None]
        across = np.column_stack([-along[:, 1], along[:, 0]])
        # (entries, ways, points, 2)
        candidates = (
            entries[:, None, None]
            + ways[None, :, :, :1] * along[:, None, None]
            + ways[None, :, :, 1:] * across[:, None, None]
        )
        flat = candidates.reshape(-1, ways.shape[1], 2)
        free = self._in_waste(flat, length_mm).reshape(len(entries), len(ways))
        if not free.any():
            return None
        entry = int(free.any(axis=1).argmax())
        return entry, candidates[entry, int(free[entry].argmax())]

    def _in_waste(self, lines: FloatArray, length_mm: float) -> np.ndarray:
        """Whether each of some lines, shape (n, points, 2), is a good lead-in."""
        spots = lines[:, 0]
        free = np.ones(len(lines), dtype=bool)
        if self.sheet_mm is not None:
            low, high = self.half_kerf_mm, np.array(self.sheet_mm) - self.half_kerf_mm
            # a quarter circle reaches further out than its ends; where it ends is the cut's affair
            before = lines[:, :-1]
            free &= ((before >= low) & (before <= high)).all(axis=(1, 2))
        apart_mm = max(self.half_kerf_mm - ROUNDING_MM, 0.0)
        if apart_mm == 0.0:
            # without a kerf the cut runs on the part's edge, where the lead-in has to end
            lines = lines.copy()
            lines[:, -1] += (spots - lines[:, -1]) * min(2.0 * ROUNDING_MM / length_mm, 0.5)
        for shapes, distance in (
            (shapely.points(spots), self.half_kerf_mm + SPOT_SHARE * length_mm),
            (shapely.linestrings(lines), apart_mm),
        ):
            left = np.flatnonzero(free)
            near, _ = self.parts.query(shapes[left], predicate="dwithin", distance=distance)
            free[left[near]] = False
        return free


def _ways(shape: LeadIn, length_mm: float) -> FloatArray:
    """Lead-ins into an entry at (0, 0) cut towards +x, the best first; shape (k, points, 2)."""
    if shape == "arc":
        # a quarter circle of this length that ends in the direction of the cut
        radius = length_mm / (math.pi / 2.0)
        step = 2.0 * math.acos(max(1.0 - CHORD_MM / radius, 0.5))
        turn = np.linspace(math.pi / 2.0, 0.0, math.ceil(math.pi / 2.0 / step) + 1)
        return np.array(
            [
                radius * np.column_stack([-np.sin(turn), side * (1.0 - np.cos(turn))])
                for side in SIDES
            ]
        )
    angles = np.radians(ANGLES_DEG)
    spots = -length_mm * np.column_stack([np.cos(angles), np.sin(angles)])
    return np.stack([spots, np.zeros_like(spots)], axis=1)
