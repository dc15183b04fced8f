"""Warnings of fire: heat in one place, cuts along the edge, thin strips. Numbers are invented.

That such places flame more easily is common practice of the trade, no source. Lengths and distances
are checked against plain geometry.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

import planned_square as square
from kerfwright.findings import Finding, Severity
from kerfwright.nesting.model import SheetSize
from kerfwright.sequence.burn_risk import burn_risks
from kerfwright.sequence.thin_strips import cuts_along_edge, strips_between_cuts
from kerfwright.shop.material import FireWatch, Material
from kerfwright.toolpath import MoveArray, MoveKind, Toolpath, join

SHEET = SheetSize("board", 300.0, 200.0, 1)

Point = tuple[float, float]


def line(start: Point, end: Point, passes: int = 1) -> MoveArray:
    return square.burn([start, end], MoveKind.CUT, square.CUT, passes)


def cuts(*lines: tuple[Point, Point]) -> Toolpath:
    return Toolpath(join([line(*one) for one in lines]))


def hinge(apart_mm: float, count: int = 18) -> Toolpath:
    """Slits of 20 mm side by side, as for a board that is to bend."""
    return cuts(*[((90 + k * apart_mm, 90), (90 + k * apart_mm, 110)) for k in range(count)])


def told(toolpath: Toolpath, sheet: SheetSize = SHEET, **fire: object) -> dict[str, Finding]:
    material = Material(name="ply", thickness_mm=3.0, fire=FireWatch.model_validate(fire))
    found = burn_risks(toolpath, square.machine(), material, square.CUT, sheet, 3)
    assert len({one.code for one in found}) == len(found)
    assert all(one.sheet == 3 for one in found)
    return {one.code.partition("/")[2]: one for one in found}


def test_one_cut_through_the_middle_of_a_sheet_is_told_of_nothing() -> None:
    assert not told(cuts(((50, 100), (250, 100))))


def test_dense_cuts_are_warned_of_with_sheet_place_and_joules() -> None:
    """18 slits of 20 mm, 3.2 J/mm, on 4 cm²: 288 J/cm², near the limit of 300."""
    noted = told(hinge(1.0))["heat-in-one-place"]
    assert noted.severity is Severity.NOTE
    assert "On sheet 3, up to 288 J/cm²" in noted.what
    assert (noted.x_mm, noted.y_mm) == (pytest.approx(98.5, abs=10), pytest.approx(100, abs=10))
    assert noted.count == 1
    assert told(hinge(0.8, 22))["heat-in-one-place"].severity is Severity.WARN
    assert "heat-in-one-place" not in told(hinge(4.0))


def test_the_material_file_says_what_is_too_much() -> None:
    assert told(hinge(1.0), limit_j_cm2=250.0)["heat-in-one-place"].severity is Severity.WARN
    assert not told(hinge(1.0), limit_j_cm2=600.0)
    assert not told(hinge(1.0), window_min=0.2)
    assert not told(hinge(0.8, 40), burns=False)


def test_places_apart_are_counted() -> None:
    far = hinge(1.0).moves.copy()
    far["x_mm"] += 100.0
    both = Toolpath(join([hinge(1.0).moves, far]))
    assert told(both)["heat-in-one-place"].count == 2


def test_a_long_cut_along_the_sheets_edge_is_warned_of() -> None:
    near = told(cuts(((20, 2), (200, 2)), ((297.5, 20), (297.5, 150))))["cut-along-edge"]
    assert near.severity is Severity.WARN
    assert near.count == 2
    assert "for 310 mm" in near.what
    assert near.y_mm == pytest.approx(2.0)
    assert not told(cuts(((20, 2), (100, 2)))), "80 mm is not long"
    assert not told(cuts(((20, 5), (200, 5)))), "5 mm is not near"
    assert told(cuts(((20, 5), (200, 5))), edge_mm=6.0)


def test_cuts_that_cross_the_edge_do_not_run_along_it() -> None:
    ladder = cuts(*[((20.0 + k * 5, -2), (20.0 + k * 5, 150)) for k in range(40)])
    assert "cut-along-edge" not in told(ladder)


def test_the_edge_of_an_offcut_is_its_outline() -> None:
    outline = Polygon(box(0, 0, 300, 200).exterior, [box(100, 80, 200, 120).exterior])
    pierced = SheetSize("rest", 300.0, 200.0, 1, outline=outline)
    below_hole = cuts(((80, 78), (220, 78)))
    assert "cut-along-edge" in told(below_hole, pierced)
    assert not told(below_hole)


def test_cuts_that_run_beside_each_other_are_noted_once_for_both() -> None:
    noted = told(cuts(((50, 100), (200, 100)), ((50, 100.8), (200, 100.8))))["thin-strip"]
    assert noted.severity is Severity.NOTE
    assert "300 mm of cuts" in noted.what
    assert noted.count == 1


@pytest.mark.parametrize(
    ("second", "why"),
    [
        (((50, 101.1), (200, 101.1)), "1.1 mm is not near"),
        (((50, 100.15), (200, 100.15)), "less than the kerf: nothing is left between"),
        (((50, 100), (200, 100)), "the same line again"),
        (((60, 100.8), (100, 100.8)), "80 mm in all is not long"),
        (((120, 20), (120, 180)), "they cross"),
    ],
)
def test_other_cuts_make_no_strip(second: tuple[Point, Point], why: str) -> None:
    assert not told(cuts(((50, 100), (200, 100)), second)), why


def test_passes_of_a_line_count_once() -> None:
    twice = Toolpath(join([line((50, 100 + y), (200, 100 + y), 2) for y in (0.0, 0.8)]))
    (strip,) = strips_between_cuts(twice, closer_mm=1.0, kerf_mm=0.2, long_mm=100.0, passes=2)
    assert strip.length_mm == pytest.approx(300.0, abs=2.0)


def test_pieces_of_a_bent_strip_hang_together() -> None:
    angles = np.linspace(0.0, np.pi, 80)
    bows = [
        [(150 + r * np.cos(a), 50 + r * np.sin(a)) for a in angles.tolist()] for r in (40.0, 40.7)
    ]
    bent = Toolpath(join([square.burn(bow, MoveKind.CUT, square.CUT) for bow in bows]))
    (strip,) = strips_between_cuts(bent, closer_mm=1.0, kerf_mm=0.2, long_mm=100.0)
    assert strip.length_mm == pytest.approx(np.pi * 80.7, rel=0.03)


@settings(max_examples=40)
@given(
    apart=st.floats(0.3, 2.5),
    shift=st.floats(-250.0, 250.0),
    angle=st.floats(0.0, 360.0),
    backwards=st.booleans(),
)
def test_a_strip_is_as_long_as_the_cuts_overlap(
    apart: float, shift: float, angle: float, backwards: bool
) -> None:
    turn = np.exp(1j * np.radians(angle))

    def at(along: float, beside: float) -> Point:
        point = turn * complex(along, beside)
        return point.real, point.imag

    ends = (at(shift, apart), at(shift + 200.0, apart))
    toolpath = cuts((at(0, 0), at(200, 0)), ends[::-1] if backwards else ends)
    found = strips_between_cuts(toolpath, closer_mm=2.0, kerf_mm=0.2, long_mm=20.0)
    overlap_mm = max(200.0 - abs(shift), 0.0)
    expected_mm = 2.0 * overlap_mm if apart < 2.0 else 0.0
    assert sum(one.length_mm for one in found) == pytest.approx(expected_mm, abs=25.0)
    if abs(apart - 2.0) > 1e-6 and expected_mm > 50.0:
        assert sum(one.length_mm for one in found) == pytest.approx(expected_mm, abs=8.0)


@given(distance=st.floats(0.0, 20.0))
def test_near_the_edge_is_what_is_nearer_than_asked(distance: float) -> None:
    toolpath = cuts(((30, distance), (270, distance)))
    found = cuts_along_edge(toolpath, SHEET, closer_mm=8.0, long_mm=100.0)
    assert bool(found) == (distance <= 8.0)
