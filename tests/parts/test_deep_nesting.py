"""Outlines many levels deep alternate between parts and holes; guides stay with their part."""

from __future__ import annotations

import numpy as np
import pytest

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.geometry.paths import Path
from kerfwright.parts.model import ProcessedShape
from kerfwright.parts.recognise import recognise_parts
from kerfwright.toolpath import Process


def square(half: float, x: float = 0.0) -> Path:
    corners = [(x - half, -half), (x + half, -half), (x + half, half), (x - half, half)]
    return Path(np.array(corners, dtype=float), closed=True)


def shape(name: str, path: Path, process: Process = Process.CUT) -> ProcessedShape:
    return ProcessedShape(Shape(name, (path,), "", Paint(stroke="#000000")), process, "given")


@pytest.mark.parametrize("levels", [6, 7, 12, 25])
def test_every_second_ring_is_a_part(levels: int) -> None:
    rings = [shape(f"ring {n}", square(5.0 * (n + 1))) for n in range(levels)]
    rings.reverse()
    # the order of drawing must not matter
    shuffled = rings[1::2] + rings[::2]
    parts, findings = recognise_parts(shuffled, Drawing("d", (), 300.0, 300.0), name="d")
    assert findings == ()
    assert len(parts) == (levels + 1) // 2
    sides = [10.0 * (levels - n) for n in range(levels)]
    areas = sorted(
        sides[n] ** 2 - (sides[n + 1] ** 2 if n + 1 < levels else 0.0) for n in range(0, levels, 2)
    )
    assert sorted(part.polygon.area for part in parts) == pytest.approx(areas)
    assert sum(len(part.holes) for part in parts) == levels // 2


def test_a_guide_goes_to_the_innermost_part_round_it() -> None:
    cuts = [shape("outer", square(50)), shape("hole", square(40)), shape("inner", square(30))]
    guide = shape("axis", Path(np.array([[-10.0, 0.0], [10.0, 0.0]])), Process.GUIDE)
    parts, findings = recognise_parts([*cuts, guide], Drawing("d", (), 1.0, 1.0), name="d")
    guides = {round(part.outline.bounds_mm[2]): part.guides for part in parts}
    assert guides[50] == ()
    assert len(guides[30]) == 1
    assert [finding.code for finding in findings] == ["parts/guides"]
