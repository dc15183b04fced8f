"""The exact check finds every kind of planted fault, and nothing in a legal layout."""

from __future__ import annotations

import pytest
from shapely import Point, box

from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.model import Body, Layouts, Placement, SheetLayout, SheetSize

SQUARE = Body("square", (box(0.0, 0.0, 10.0, 10.0),), 2, (0.0, 90.0))
RING = Body("ring", (Point(0, 0).buffer(30.0).difference(Point(0, 0).buffer(20.0)),), 1, (0.0,))
SHEET = SheetSize("sheet", 100.0, 100.0, 1)


def on_sheet(
    *placements: Placement, used: float = 0.02, unplaced: dict[int, int] | None = None
) -> Layouts:
    return Layouts((SheetLayout(SHEET, placements, used),), unplaced or {})


def faults(layouts: Layouts, *bodies: Body, spacing_mm: float = 2.0) -> tuple[str, ...]:
    return check_layouts(bodies or (SQUARE,), layouts, spacing_mm=spacing_mm, margin_mm=5.0)


def test_a_legal_layout_has_none() -> None:
    assert faults(on_sheet(Placement(0, 0.0, 5.0, 5.0), Placement(0, 90.0, 27.0, 5.0))) == ()


@pytest.mark.parametrize(
    ("second", "what"),
    [
        (Placement(0, 0.0, 14.99, 5.0), "overlap by"),
        (Placement(0, 0.0, 16.999, 5.0), "mm apart"),
        (Placement(0, 0.0, 5.0, 85.001), "outside the usable area"),
        (Placement(0, 0.0, 4.999, 40.0), "outside the usable area"),
        (Placement(0, 0.0, float("nan"), 40.0), "no numbers"),
        (Placement(0, 45.0, 50.0, 40.0), "turn by 45° is not allowed"),
        (Placement(3, 0.0, 50.0, 40.0), "unknown bodies"),
    ],
)
def test_a_planted_fault_is_named(second: Placement, what: str) -> None:
    found = faults(on_sheet(Placement(0, 0.0, 5.0, 5.0), second))
    assert any(what in fault for fault in found), found


def test_touching_is_legal_without_spacing_and_overlapping_is_not() -> None:
    first = Placement(0, 0.0, 5.0, 5.0)
    assert faults(on_sheet(first, Placement(0, 0.0, 15.0, 5.0)), spacing_mm=0.0) == ()
    assert faults(on_sheet(first, Placement(0, 0.0, 14.9, 5.0)), spacing_mm=0.0)


def test_a_missing_copy_is_noticed_and_an_unplaced_one_accounted_for() -> None:
    one = Placement(0, 0.0, 5.0, 5.0)
    assert any("1 placed" in fault for fault in faults(on_sheet(one, used=0.01)))
    assert faults(on_sheet(one, used=0.01, unplaced={0: 1})) == ()


def test_a_copy_too_many_is_noticed() -> None:
    three = [Placement(0, 0.0, 5.0 + 20.0 * i, 5.0) for i in range(3)]
    assert any("3 placed" in fault for fault in faults(on_sheet(*three, used=0.03)))


def test_more_sheets_than_there_are_is_noticed() -> None:
    sheet = SheetLayout(SHEET, (Placement(0, 0.0, 5.0, 5.0),), 0.01)
    assert any("2 sheets" in fault for fault in faults(Layouts((sheet, sheet), {})))


def test_a_wrong_used_fraction_is_noticed() -> None:
    layouts = on_sheet(Placement(0, 0.0, 5.0, 5.0), Placement(0, 0.0, 27.0, 5.0), used=0.03)
    assert any("is used" in fault for fault in faults(layouts))


def test_a_part_in_anothers_hole_keeps_the_spacing_from_the_hole() -> None:
    single = Body("square", SQUARE.footprint, 1, (0.0,))
    used = (100.0 + RING.footprint[0].area) / 10000.0
    inside = on_sheet(Placement(0, 0.0, 45.0, 45.0), Placement(1, 0.0, 50.0, 50.0), used=used)
    assert faults(inside, single, RING) == ()
    near = on_sheet(Placement(0, 0.0, 57.6, 45.0), Placement(1, 0.0, 50.0, 50.0), used=used)
    assert any("apart" in fault for fault in faults(near, single, RING))


def test_the_pieces_of_one_body_may_be_close() -> None:
    pair = Body("pair", (box(0, 0, 10, 10), box(10.1, 0, 20, 10)), 1, (0.0,))
    assert faults(on_sheet(Placement(0, 0.0, 5.0, 5.0), used=0.0199), pair) == ()
