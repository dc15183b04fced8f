"""Shared edges of the perfect squared square of lowest order.

A. J. W. Duijvestijn, "Simple perfect squared square of lowest order", *Journal of Combinatorial
Theory, Series B* 25 (1978) 240-243: 21 squares, no two alike, fill a square of side 112. Its
Bouwkamp code, here from memory, lists sides row by row, each row placed from the left at the
lowest place of the skyline; the code is its own check, because no wrong number fills the square.
"""

from __future__ import annotations

import numpy as np
import pytest

from kerfwright.cutting.cuts import cut_strokes
from kerfwright.cutting.shared_edges import merge_edges
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import Path
from kerfwright.parts.model import Part
from kerfwright.shop.material import Recipe
from squared_square import BOUWKAMP_CODE, SIDE

SIDES = [side for row in BOUWKAMP_CODE for side in row]
SEPARATE_MM = 4 * sum(SIDES)
UNIQUE_MM = (SEPARATE_MM + 4 * SIDE) // 2
"""Each inner edge belongs to two squares, each outer one to one."""

ANGLES_DEG = [0.0, 90.0, 17.3, 211.7]


def squares(angle_deg: float) -> list[Path]:
    skyline = [0] * SIDE
    placed = []
    for row in BOUWKAMP_CODE:
        low = min(skyline)
        x = skyline.index(low)
        for side in row:
            assert set(skyline[x : x + side]) == {low}
            skyline[x : x + side] = [low + side] * side
            corners = [(x, low), (x + side, low), (x + side, low + side), (x, low + side)]
            placed.append(Path(np.array(corners, dtype=np.float64), closed=True))
            x += side
    assert skyline == [SIDE] * SIDE
    return [path.transformed(rotation(angle_deg)) for path in placed]


def test_the_squares_are_those_of_the_paper() -> None:
    assert len(SIDES) == len(set(SIDES)) == 21
    assert sum(side * side for side in SIDES) == SIDE * SIDE
    assert (SEPARATE_MM, UNIQUE_MM) == (1736, 1092)


@pytest.mark.parametrize("angle_deg", ANGLES_DEG)
@pytest.mark.parametrize("tolerance_mm", [0.01, 0.1])
def test_every_edge_is_found_once(angle_deg: float, tolerance_mm: float) -> None:
    merged = merge_edges(squares(angle_deg), range(21), tolerance_mm)
    assert merged.separate_mm == pytest.approx(1736.0)
    assert merged.unique_mm == pytest.approx(1092.0)
    assert merged.shared_mm == pytest.approx(1092.0 - 4 * SIDE)
    assert all(len(owners) <= 2 for owners in merged.owners)


@pytest.mark.parametrize("kerf_mm", [0.0, 0.2])
@pytest.mark.parametrize("angle_deg", ANGLES_DEG)
def test_cuts_are_as_long_as_the_edges(angle_deg: float, kerf_mm: float) -> None:
    parts = [Part(f"square {i}", "s.dxf", path) for i, path in enumerate(squares(angle_deg))]
    recipe = Recipe(machine="trial", process="cut", speed_mm_s=10.0, power=0.5, kerf_mm=kerf_mm)
    work = cut_strokes(parts, range(21), recipe, merge_mm=0.05, shared_edges=True)
    # the outline round all of them is cut half a kerf further out, on all four sides
    assert work.cut_mm == pytest.approx(1092.0 + 4 * kerf_mm, abs=1e-3)
    assert work.shared_mm == pytest.approx(644.0, abs=1e-3)
    assert work.separate_mm == pytest.approx(1736.0 + 21 * 4 * kerf_mm, abs=1e-3)
