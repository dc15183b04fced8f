"""What has no place is told with the reason: a part, a kit, or the sheets."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import Polygon, box

from kerfwright.errors import KerfwrightError
from kerfwright.nesting.left_over import (
    Stock,
    left_over_findings,
    require_all_placed,
    why_unplaced,
)
from kerfwright.nesting.model import Body, Kit, Layouts, SheetSize
from kerfwright.nesting.nest import nest

BOARD = SheetSize("board", 120.0, 100.0, 2)
OFFCUT = SheetSize("offcut", 120.0, 100.0, 1, outline=Polygon([(0, 0), (120, 0), (0, 100)]))


def plate(width_mm: float, height_mm: float, quantity: int = 1, kit: Kit | None = None) -> Body:
    name = f"{width_mm:g} × {height_mm:g}"
    return Body(name, (box(0.0, 0.0, width_mm, height_mm),), quantity, (0.0, 90.0), kit=kit)


def stock(*sheets: SheetSize) -> Stock:
    return Stock("ply", sheets, spacing_mm=2.0, margin_mm=5.0)


def laid_out(bodies: list[Body], there: Stock) -> Layouts:
    return nest(bodies, there.sheets, spacing_mm=2.0, margin_mm=5.0, seconds=0.1, seed=1)


def reasons(bodies: list[Body], there: Stock) -> dict[str, str]:
    left = why_unplaced(bodies, there, laid_out(bodies, there))
    return {bodies[one.body].name: one.reason for one in left}


def refused(bodies: list[Body], there: Stock) -> KerfwrightError:
    with pytest.raises(KerfwrightError) as caught:
        require_all_placed(bodies, there, laid_out(bodies, there), file="order.toml")
    return caught.value


def test_a_kit_that_covers_more_than_the_largest_sheet_says_by_how_much() -> None:
    kit = Kit("dinghy")
    bodies = [plate(100.0, 60.0, kit=kit), plate(90.0, 50.0, kit=kit)]
    told = refused(bodies, stock(replace(BOARD, name="small", width_mm=80.0), BOARD))
    assert told.code == "nesting/kit-too-big"
    # 100 × 60 + 90 × 50 mm² against (120 - 10) × (100 - 10) mm²
    assert "its 2 parts cover 105.0 cm²" in told.thing
    assert "board (120 × 100 mm), has 99.0 cm² inside its margin." in told.thing


def test_a_kit_whose_parts_go_on_no_sheet_side_by_side() -> None:
    kit = Kit("dinghy")
    bodies = [plate(70.0, 60.0, kit=kit), plate(65.0, 60.0, kit=kit)]
    told = refused(bodies, stock(BOARD))
    assert told.code == "nesting/kit-too-big"
    assert "no way of laying them there was found" in told.thing


def test_a_kit_that_fits_a_sheet_of_which_there_are_too_few() -> None:
    kit = Kit("frame (1)", 3)
    bodies = [plate(100.0, 40.0, 3, kit), plate(90.0, 40.0, 3, kit)]
    there = stock(BOARD)
    assert reasons(bodies, there) == {b.name: "out-of-sheets" for b in bodies}
    assert refused(bodies, there).code == "nesting/out-of-sheets"


def test_findings_tell_kits_and_parts_apart() -> None:
    kit = Kit("dinghy")
    bodies = [plate(100.0, 60.0, kit=kit), plate(90.0, 50.0, kit=kit), plate(150.0, 20.0)]
    there = stock(BOARD)
    found = left_over_findings(bodies, there, laid_out(bodies, there))
    assert [one.count for one in found] == [1, 2]
    assert "fit no sheet of ply: 1 × 150 × 20." in found[0].what
    assert "fit no sheet together of ply" in found[1].what
    assert '"dinghy" must lie on one sheet' in found[1].what


def test_a_part_that_only_fits_the_rectangle_round_an_offcut() -> None:
    told = refused([plate(80.0, 70.0)], stock(OFFCUT))
    assert told.code == "nesting/part-too-big"
    assert "offcut (120 × 100 mm, no full rectangle)" in told.thing
    assert "The rectangle round a sheet would take" in told.thing


def test_a_part_that_fits_an_offcut_that_is_full() -> None:
    assert reasons([plate(40.0, 30.0, 9)], stock(OFFCUT)) == {"40 × 30": "out-of-sheets"}
