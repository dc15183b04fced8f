"""The order says how far straight pieces may stray from the curves they stand for."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from kerfwright.prepare import prepare_drawing
from kerfwright.shop.order import Settings

RADIUS_MM = 15.0
DISC = f"""<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">
<circle cx="20" cy="20" r="{RADIUS_MM}" fill="none" stroke="black"/></svg>"""


@pytest.mark.parametrize("chord_mm", [0.2, 0.01, 0.001])
def test_a_disc_is_as_fine_as_was_asked(tmp_path: Path, chord_mm: float) -> None:
    """Least number of sides by the sagitta r(1 - cos(pi / n)): elementary geometry."""
    file = tmp_path / "disc.svg"
    file.write_text(DISC)
    prepared = prepare_drawing(file, settings=Settings(chord_mm=chord_mm))
    sides = len(prepared.parts[0].outline.points)
    least = math.pi / math.acos(1.0 - chord_mm / RADIUS_MM)
    assert least - 1e-6 <= sides <= least + 1.0
    assert prepared.parts[0].outline.spans
