"""Every cost has its line, and the lines lead to the price; rates and work are invented."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.errors import KerfwrightError
from kerfwright.quoting.model import ItemWork, Quote, SheetWork, Work
from kerfwright.quoting.price import price
from kerfwright.shop.rates import Rates

RATES: dict[str, Any] = {
    "shop": "Quay workshop",
    "currency": "EUR",
    "machine_per_hour": 30,
    "labour_per_hour": 36,
    "sheets": [{"material": "ply", "price_per_m2": 20}],
}

WORK = Work(
    items=(
        ItemWork("tokens", "ply", 12, 24, 30_000.0, 600.0),
        ItemWork("sign", "ply", 1, 1, 90_000.0, 1200.0),
    ),
    sheets=(SheetWork("ply", "half sheet", 240_000.0, 120_000.0, 60_000.0, 1800.0),),
)


def quote(work: Work = WORK, **rates: Any) -> Quote:
    return price(
        work,
        Rates.model_validate(RATES | rates),
        title="Regatta",
        rates_file="rates.toml",
        invented=True,
    )


def amounts(priced: Quote) -> dict[str, Decimal]:
    return {line.what: line.amount for line in (*priced.costs, *priced.surcharges)}


def test_sheets_and_the_machine_s_time_are_charged() -> None:
    # 0.24 m² at 20 a m²; half an hour at 30
    assert amounts(quote()) == {
        "ply, half sheet": Decimal("4.80"),
        "machine": Decimal("15.00"),
        "margin": Decimal("0.00"),
    }


def test_labour_is_charged_once_for_the_order_and_by_sheet_and_part() -> None:
    found = amounts(quote(setup_minutes=10, sheet_minutes=5, part_minutes=Decimal("0.5")))
    assert found["setting up"] == Decimal("6.00")
    assert found["sheets"] == Decimal("3.00")
    assert found["parts"] == Decimal("7.50")  # 25 parts of half a minute


def test_material_by_area_has_waste_on_top() -> None:
    found = amounts(quote(material_by="area", waste=Decimal("0.25")))
    assert found["ply"] == Decimal("3.00")  # 0.12 m² and a quarter, at 20


def test_what_can_be_used_again_is_taken_back() -> None:
    found = amounts(quote(offcut_credit=Decimal("0.5")))
    assert found["ply, offcut"] == Decimal("-0.60")  # 0.06 m² at half of 20


def test_a_sheet_s_own_price_comes_first() -> None:
    own = replace(WORK, sheets=(replace(WORK.sheets[0], price=Decimal("3.10")),))
    assert amounts(quote(own, sheets=[]))["ply, half sheet"] == Decimal("3.10")


def test_every_sheet_has_its_own_price_by_area() -> None:
    board, old = WORK.sheets[0], replace(WORK.sheets[0], name="old board", offcut_mm2=0.0)
    work = replace(
        WORK,
        sheets=(
            replace(board, price_per_m2=Decimal(50)),
            replace(old, price_per_m2=Decimal(10)),
            replace(old, name="plain board"),
        ),
    )
    found = amounts(quote(work, offcut_credit=Decimal("0.5")))
    assert found["ply, half sheet"] == Decimal("12.00")  # 0.24 m² at 50
    assert found["ply, old board"] == Decimal("2.40")
    assert found["ply, plain board"] == Decimal("4.80")  # at the rates' 20
    assert found["ply, offcut"] == Decimal("-1.50")  # 0.06 m² at half of 50


def test_what_comes_back_of_a_sheet_priced_whole_is_worth_its_share() -> None:
    own = replace(WORK, sheets=(replace(WORK.sheets[0], price=Decimal("4.00")),))
    found = amounts(quote(own, sheets=[], offcut_credit=Decimal(1)))
    assert found["ply, offcut"] == Decimal("-1.00")  # a quarter of the sheet


def test_the_time_shown_is_the_time_charged() -> None:
    work = replace(WORK, sheets=(replace(WORK.sheets[0], beam_s=3033.6),))
    machine = quote(work, machine_per_hour=360).costs[1]
    assert machine.how.startswith("50 min 34 s")
    assert machine.amount == Decimal("303.40")  # 3034 s, a tenth each


def test_rates_finer_than_coins_are_shown_in_full() -> None:
    how = {line.what: line.how for line in quote(consumables_per_hour=Decimal("0.125")).costs}
    assert how["consumables"] == "30 min 00 s, €0.125 an hour"
    assert how["machine"] == "30 min 00 s, €30.00 an hour"


def test_a_discount_is_a_share_of_what_is_shown() -> None:
    breaks = [{"pieces": 10, "discount": Decimal("0.5")}]
    priced = quote(breaks=breaks, machine_per_hour=Decimal("30.03"))
    (line,) = [one for one in priced.surcharges if one.what.startswith("discount")]
    assert line.how == "50 % of €6.21 for 12 pieces"  # 1.20 + 5.005, rounded once
    assert line.amount == Decimal("-3.11")


def test_margin_and_tax_are_shares() -> None:
    priced = quote(margin=Decimal("0.1"), tax=Decimal("0.2"), tax_name="VAT")
    assert priced.net == Decimal("21.78")  # 19.80 and a tenth
    assert (priced.tax.what, priced.tax.amount) == ("VAT", Decimal("4.36"))  # 4.356
    assert priced.total == Decimal("26.14")


def test_the_highest_break_that_is_reached_counts() -> None:
    breaks = [
        {"pieces": 5, "discount": Decimal("0.1")},
        {"pieces": 12, "discount": Decimal("0.2")},
        {"pieces": 50, "discount": Decimal("0.5")},
    ]
    priced = quote(breaks=breaks)
    tokens = priced.items[0]
    # the tokens cause a quarter of the sheet and a third of the time: 1.20 + 5.00
    assert amounts(priced)["discount on tokens"] == Decimal("-1.24")
    assert (tokens.price, tokens.each) == (Decimal("4.96"), Decimal("0.41"))
    assert priced.items[1].discount == 0


def test_no_order_is_done_below_the_minimum() -> None:
    priced = quote(minimum=25)
    assert priced.net == Decimal("25.00")
    assert amounts(priced)["up to the minimum"] == Decimal("5.20")


def test_a_material_without_price_stops_the_quote() -> None:
    with pytest.raises(KerfwrightError, match='"ply" has no price') as stopped:
        quote(sheets=[])
    assert stopped.value.code == "rates/material-without-price"
    with pytest.raises(KerfwrightError, match='a price for "ply 3"; is that the one'):
        quote(sheets=[{"material": "ply 3", "price_per_m2": 20}])


def test_blanks_cost_no_material() -> None:
    blank = Work(
        items=(ItemWork("mug", "tray", 2, 2, 0.0, 600.0),),
        sheets=(SheetWork("tray", "tray", 90_000.0, 0.0, 0.0, 600.0),),
    )
    assert amounts(quote(blank)) == {"machine": Decimal("5.00"), "margin": Decimal("0.00")}


@given(
    beam_s=st.lists(st.floats(0.0, 1e5), min_size=1, max_size=5),
    area_mm2=st.floats(1.0, 1e6),
    pieces=st.integers(1, 100),
    margin=st.decimals(0, 2, places=3),
    minimum=st.decimals(0, 500, places=2),
    tax=st.decimals(0, 1, places=3),
)
def test_every_list_of_amounts_adds_up(
    beam_s: list[float],
    area_mm2: float,
    pieces: int,
    margin: Decimal,
    minimum: Decimal,
    tax: Decimal,
) -> None:
    work = Work(
        items=tuple(
            ItemWork(f"item {i}", "ply", pieces + i, pieces, area_mm2 * (i + 1), seconds)
            for i, seconds in enumerate(beam_s)
        ),
        sheets=(SheetWork("ply", "sheet", 15.0 * area_mm2, area_mm2, 0.0, sum(beam_s)),),
    )
    priced = quote(
        work,
        margin=margin,
        minimum=minimum,
        tax=tax,
        part_minutes=Decimal("0.3"),
        breaks=[{"pieces": 50, "discount": Decimal("0.15")}],
    )
    assert priced.cost + sum(line.amount for line in priced.surcharges) == priced.net
    assert sum(item.price for item in priced.items) == priced.net
    assert priced.net + priced.tax.amount == priced.total
    assert priced.net >= minimum
    assert all(item.price >= 0 for item in priced.items)
