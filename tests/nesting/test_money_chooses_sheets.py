"""What sheets cost, what is left of them is worth, and which are taken for it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from shapely import box

from kerfwright.errors import KerfwrightError
from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.cost import Prices, cost_of, worth, worth_left
from kerfwright.nesting.model import Body, Layouts, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.remainder import Remainder
from kerfwright.nesting.until import Until, Watch, until_of

FULL = SheetSize("full", 600.0, 400.0, 3, cost=Decimal("12.00"))
HALF = SheetSize("half", 300.0, 400.0, 3, cost=Decimal("7.00"))
PRICES = Prices(offcut_least_mm=100.0)


def plates(quantity: int, width_mm: float = 130.0, height_mm: float = 120.0) -> Body:
    return Body("plate", (box(0.0, 0.0, width_mm, height_mm),), quantity, (0.0, 90.0))


def names(*bodies: Body, sheets: tuple[SheetSize, ...], prices: Prices = PRICES) -> list[str]:
    layouts: Layouts = nest(
        bodies, sheets, spacing_mm=2.0, margin_mm=5.0, seconds=0.05, seed=1, prices=prices
    )
    assert check_layouts(bodies, layouts, spacing_mm=2.0, margin_mm=5.0) == ()
    assert not layouts.unplaced
    return sorted(layout.sheet.name for layout in layouts.sheets)


def test_the_cheaper_sheet_is_taken_though_it_is_larger() -> None:
    dear = replace(HALF, cost=Decimal("13.00"))
    assert names(plates(6), sheets=(FULL, dear), prices=replace(PRICES, offcut_share=0.0)) == [
        "full"
    ]
    assert names(plates(6), sheets=(FULL, HALF)) == ["half"]


def test_offcuts_are_used_before_new_sheets() -> None:
    offcut = replace(HALF, name="offcut", cost=None, offcut=True)
    new = replace(HALF, cost=None)
    assert names(plates(6), sheets=(new, offcut)) == ["offcut"]
    # two offcuts have more area than one new sheet that would do
    small = SheetSize("offcut", 300.0, 260.0, 2, offcut=True)
    assert names(plates(8, 130.0, 118.0), sheets=(new, small)) == ["offcut", "offcut"]


def test_a_sheet_is_worth_its_cost_or_its_area() -> None:
    by_area = SheetSize("board", 1000.0, 500.0, 1, price_per_m2=Decimal("20"))
    assert worth(FULL, PRICES) == Decimal("12.00")
    assert worth(by_area, PRICES) == Decimal("10")
    assert worth(replace(by_area, offcut=True), PRICES) == Decimal("5")
    assert worth(SheetSize("board", 10.0, 10.0, 1), PRICES) is None


def test_what_is_left_is_worth_a_share_of_its_price() -> None:
    by_area = SheetSize("board", 1000.0, 500.0, 1, price_per_m2=Decimal("20"))
    assert worth_left(by_area, 500.0, 400.0, PRICES) == Decimal("2")
    assert worth_left(by_area, 500.0, 99.0, PRICES) == 0
    assert worth_left(FULL, 300.0, 400.0, PRICES) == Decimal("3")
    offcut = replace(FULL, offcut=True)
    assert worth_left(offcut, 300.0, 400.0, PRICES) == Decimal("6")


def test_the_terms_add_up() -> None:
    left = Remainder(0.9, rectangle=box(300.0, 0.0, 600.0, 400.0))
    prices = replace(PRICES, rate_per_hour=Decimal("36"), currency="crowns")
    cost = cost_of([(FULL, left)], 100.0, prices)
    assert cost.sheets == Decimal("12.00")
    assert cost.left_over == Decimal("3")
    assert cost.beam == Decimal("1")
    assert cost.total == Decimal("10.00")
    assert cost.in_words(prices) == (
        "sheets 12.00 crowns, less 3.00 crowns for what is left over, machine 1.00 crowns"
    )


def test_where_one_price_is_missing_nothing_is_summed() -> None:
    cost = cost_of(
        [(FULL, Remainder(1.0)), (replace(HALF, cost=None), Remainder(1.0))], None, PRICES
    )
    assert cost.sheets is None
    assert cost.total is None


# -- when a search ends -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "until"),
    [
        ("20s", Until(seconds=20.0)),
        ("1.5 min", Until(seconds=90.0)),
        ("stall", Until(stall=True)),
        ("density=0.8", Until(density=0.8)),
        ("Density = 80 %", Until(density=0.8)),
    ],
)
def test_an_end_is_read(text: str, until: Until) -> None:
    assert until_of(text) == until


@pytest.mark.parametrize("text", ["", "soon", "0s", "2h", "density=1.2", "density", "-3s"])
def test_an_end_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(KerfwrightError) as error:
        until_of(text)
    assert error.value.code == "nesting/until-unclear"


def test_a_search_ends_when_it_is_dense_enough() -> None:
    watch = Watch(Until(density=0.8))
    watch.better(0.79)
    assert not watch.ended()
    watch.better(0.8)
    assert watch.ended()
