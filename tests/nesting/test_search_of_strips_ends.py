"""The strip's search hands over what it has when it is told to stop."""

from __future__ import annotations

import numpy as np
from search_layouts import QUARTERS, star
from shapely import Polygon

from kerfwright.geometry.affine import rotation
from kerfwright.nesting.strip import StripPiece, solve_strip


def test_a_strip_that_is_stopped_is_complete_and_keeps_its_spacing() -> None:
    rng = np.random.default_rng(2)
    rings = [np.array(star(rng.uniform(10.0, 30.0, 9)).exterior.coords)[:-1] for _ in range(5)]
    pieces = [StripPiece(ring, 3, QUARTERS) for ring in rings]
    strip = solve_strip(pieces, 120.0, spacing_mm=2.0, seconds=3.0, seed=1, stop=lambda: True)
    placed = [
        Polygon(rotation(s.turn_deg).apply(pieces[s.piece].ring) + np.array([s.x_mm, s.y_mm]))
        for s in strip.spots
    ]
    assert len(placed) == 15
    for i, one in enumerate(placed):
        # the engine's single precision falls short by less than this
        assert all(one.distance(other) > 2.0 - 1e-3 for other in placed[:i])
