"""Slots come out as wide as the sheet is thick and the allowance says, whatever was drawn."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from cut_parts import KERF_MM, Points, circle, closed, cut, left_by, part, rectangle, turned
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.cutting.fit import fitted
from kerfwright.findings import Severity
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.curves import Arc, Span
from kerfwright.geometry.paths import Path
from kerfwright.parts.model import Part

THICKNESS_MM = 3.1
WIDTH_DRAWN_MM = 3.0


def notched(width_mm: float, depth_mm: float = 10.0) -> Points:
    """A board of 40 × 20 mm with a notch from above."""
    left, right, low = 20.0 - width_mm / 2, 20.0 + width_mm / 2, 20.0 - depth_mm
    return [(0, 0), (40, 0), (40, 20), (right, 20), (right, low), (left, low), (left, 20), (0, 20)]


ACROSS = shapely.LineString([(0, 15), (40, 15)])


@pytest.mark.parametrize("fit_mm", [-0.1, 0.0, 0.05, 0.2])
@pytest.mark.parametrize("drawn_mm", [2.6, 3.0, 3.1, 3.6])
def test_the_slot_after_the_cut_is_thickness_and_fit(drawn_mm: float, fit_mm: float) -> None:
    (board,), findings = fitted([part(notched(drawn_mm))], THICKNESS_MM, fit_mm)
    work = cut([board])
    left = left_by([stroke.path for stroke in work.strokes], KERF_MM)
    gaps = shapely.difference(ACROSS, left)
    assert gaps.length == pytest.approx(THICKNESS_MM + fit_mm, abs=1e-3)
    assert findings[0].code == "cutting/slots-fitted"
    # no deeper and no shallower, and the board as large as ever
    assert board.outline.bounds_mm == (0.0, 0.0, 40.0, 20.0)
    assert board.polygon.contains(shapely.Point(20.0, 9.99))
    assert not board.polygon.contains(shapely.Point(20.0, 10.01))


def test_slot_holes_are_fitted_across_and_keep_their_length() -> None:
    plate = part(rectangle(0, 0, 40), rectangle(10, 10, 20, WIDTH_DRAWN_MM))
    (made,), (found,) = fitted([plate], THICKNESS_MM, 0.1)
    x0, y0, x1, y1 = made.holes[0].bounds_mm
    assert (x1 - x0, y1 - y0) == pytest.approx((20.0, 3.2))
    assert (y0 + y1) / 2 == pytest.approx(11.5)
    assert found.count == 1


def test_a_square_hole_for_a_square_peg_is_fitted_both_ways() -> None:
    plate = part(rectangle(0, 0, 40), rectangle(10, 10, WIDTH_DRAWN_MM))
    (made,), (found,) = fitted([plate], THICKNESS_MM, 0.1)
    x0, y0, x1, y1 = made.holes[0].bounds_mm
    assert (x1 - x0, y1 - y0) == pytest.approx((3.2, 3.2))
    assert found.count == 2


def test_what_is_no_slot_stays_as_drawn() -> None:
    wide, shallow = part(notched(8.0)), part(notched(3.0, depth_mm=1.0))
    round_ = part(rectangle(0, 0, 40), circle(20, 20, WIDTH_DRAWN_MM / 2))
    tongue = part(
        [(0, 0), (20, 0), (20, 10), (11.5, 10), (11.5, 20), (8.5, 20), (8.5, 10), (0, 10)]
    )
    drawn = [wide, shallow, round_, tongue]
    made, (found,) = fitted(drawn, THICKNESS_MM, 0.1)
    for one, other in zip(drawn, made, strict=True):
        assert one.polygon.equals(other.polygon)
    assert (found.code, found.severity) == ("cutting/no-slots-to-fit", Severity.WARN)


def test_a_slot_that_would_break_out_stays_as_drawn_and_is_told() -> None:
    thin = part(rectangle(0, 0, 40, 3.2), rectangle(5, 0.05, 30, 3.1))
    (made,), (found,) = fitted([thin], THICKNESS_MM, 0.5)
    assert made.polygon.equals(thin.polygon)
    assert (found.code, found.severity) == ("cutting/slots-not-fitted", Severity.WARN)


def test_blanks_are_not_changed() -> None:
    blank = part(notched(3.0), blank=True)
    (made,), _ = fitted([blank], THICKNESS_MM, 0.1)
    assert made is blank


def test_curves_away_from_the_slot_stay_exact() -> None:
    turn = np.linspace(np.pi, 2 * np.pi, 40)
    bow = np.column_stack([20 + 20 * np.cos(turn), 20 * np.sin(turn)])
    top = np.array(notched(3.0)[2:])
    points = np.vstack([bow, top])
    arc = Span(0, len(bow) - 1, Arc((20.0, 0.0), 20.0, np.pi, np.pi))
    board = Part("p", "p.svg", Path(points, closed=True, spans=(arc,)))
    (made,), _ = fitted([board], THICKNESS_MM, 0.1)
    assert made.outline.spans == (arc,)


def test_sides_with_more_points_than_they_need_are_moved_whole() -> None:
    points = np.array(notched(3.0))
    dense = shapely.get_coordinates(shapely.segmentize(shapely.Polygon(points), 0.7))[:-1]
    (made,), _ = fitted([part(dense.tolist())], THICKNESS_MM, 0.1)
    gaps = shapely.difference(ACROSS, made.polygon)
    assert gaps.length == pytest.approx(3.2)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(-180.0, 180.0),
    st.floats(1.0, 8.0),
    st.floats(-0.15, 0.15),
    st.floats(-0.3, 0.3),
    st.integers(0, 7),
)
def test_slots_are_found_however_the_part_is_turned(
    turn_deg: float, thickness_mm: float, off_share: float, fit_mm: float, first: int
) -> None:
    drawn = notched(thickness_mm * (1 + off_share), depth_mm=12.0)
    drawn = drawn[first:] + drawn[:first]
    (turned_part,) = turned([part(drawn)], turn_deg)
    (made,), _ = fitted([turned_part], thickness_mm, fit_mm)
    back = made.transformed(rotation(-turn_deg))
    gap = shapely.difference(ACROSS.buffer(1e-9, cap_style="flat"), back.polygon)
    assert gap.area / 2e-9 == pytest.approx(thickness_mm + fit_mm, abs=1e-4)
    assert back.polygon.is_valid


def test_a_press_fit_kit_goes_together() -> None:
    """Two boards with half-depth slots, crossed: each fills the other's slot but for the fit."""
    board = part(notched(3.0))
    (made,), _ = fitted([board], THICKNESS_MM, 0.05)
    other = shapely.box(20 - THICKNESS_MM / 2, 10, 20 + THICKNESS_MM / 2, 20)
    assert made.polygon.disjoint(other.buffer(-1e-6))
    assert not board.polygon.disjoint(other.buffer(-1e-6))
    assert closed(notched(3.0)).signed_area_mm2 > made.outline.signed_area_mm2
