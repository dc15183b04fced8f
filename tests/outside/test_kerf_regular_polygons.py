"""Beam lines of regular polygons and circles, against school geometry.

A regular n-gon with inner radius r has the perimeter 2·n·r·tan(π/n) and the area n·r²·tan(π/n);
moved outward by half a kerf with mitred corners it is the n-gon with inner radius r + kerf/2.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.cutting.kerf import compensated
from kerfwright.geometry.flatten import arc_points
from kerfwright.geometry.paths import Path
from kerfwright.parts.model import Part


def polygon(corners: int, inner_mm: float, turned_rad: float = 0.3) -> Path:
    radius = inner_mm / math.cos(math.pi / corners)
    angles = np.arange(corners) * 2.0 * math.pi / corners + turned_rad
    return Path(radius * np.column_stack([np.cos(angles), np.sin(angles)]), closed=True)


# three corners, of 60° each, are the sharpest that are still mitred
@pytest.mark.parametrize("corners", [3, 4, 5, 6, 8, 12, 100])
@pytest.mark.parametrize("kerf_mm", [0.08, 0.2, 0.35])
def test_outline_and_hole_of_a_regular_polygon(corners: int, kerf_mm: float) -> None:
    part = Part("p", "p.svg", polygon(corners, 20.0), (polygon(corners, 9.0).reversed(),))
    beam, _ = compensated(part, kerf_mm)
    per_mm = 2.0 * corners * math.tan(math.pi / corners)
    (outline,), (hole,) = beam.outline, beam.holes
    assert outline.length_mm == pytest.approx(per_mm * (20.0 + kerf_mm / 2), abs=1e-3)
    assert hole.length_mm == pytest.approx(per_mm * (9.0 - kerf_mm / 2), abs=1e-3)
    assert abs(outline.signed_area_mm2) == pytest.approx(
        per_mm / 2 * (20.0 + kerf_mm / 2) ** 2, rel=1e-5
    )


@pytest.mark.parametrize("radius_mm", [1.0, 5.0, 60.0])
def test_a_round_outline_stays_round(radius_mm: float) -> None:
    ring = arc_points((0.0, 0.0), radius_mm, 0.0, 2.0 * math.pi, 0.01)[:-1]
    beam, _ = compensated(Part("p", "p.svg", Path(ring, closed=True)), 0.2)
    (outline,) = beam.outline
    radii = np.hypot(*outline.points.T)
    assert radii == pytest.approx(radius_mm + 0.1, abs=0.01)
    assert len(outline.points) <= len(ring)
