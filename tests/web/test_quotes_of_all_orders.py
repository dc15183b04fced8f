"""One page has what every order was quoted at, or why it has no price."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from small_workshop import SLUG, SmallWorkshop


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> SmallWorkshop:
    made = SmallWorkshop(tmp_path_factory.mktemp("eiderwick"))
    made.plan()
    return made


def test_an_order_has_the_quote_of_its_plan(planned: SmallWorkshop) -> None:
    (told,) = planned.client().get("/api/quotes").json()
    paper = json.loads((planned.order / "plan" / "quote.json").read_text(encoding="utf-8"))
    assert (told["slug"], told["plan"], told["rates_changed"]) == (SLUG, "current", False)
    assert told["quote"] == paper["quote"]
    # 20 % tax on the net price, to the cent
    net = Decimal(told["quote"]["net"])
    assert Decimal(told["quote"]["total"]) == (net * Decimal("1.2")).quantize(Decimal("0.01"))
    assert told["why_not"] == ""


def test_a_price_older_than_its_rates_is_told(planned: SmallWorkshop) -> None:
    rates = planned.folder / "rates.toml"
    text = rates.read_text(encoding="utf-8")
    rates.write_text(text + "\n", encoding="utf-8")
    (told,) = planned.client().get("/api/quotes").json()
    assert (told["plan"], told["rates_changed"]) == ("out-of-date", True)


def test_orders_without_a_price_say_why(tmp_path: Path) -> None:
    made = SmallWorkshop(tmp_path / "shop")
    (unplanned,) = made.client().get("/api/quotes").json()
    assert unplanned["quote"] is None
    assert "planned with its rates" in unplanned["why_not"]
    file = made.order / "order.toml"
    file.write_text(file.read_text(encoding="utf-8").replace('rates = "../../rates.toml"', ""))
    (without,) = made.client().get("/api/quotes").json()
    assert "names no rates" in without["why_not"]
    file.write_text("title = ", encoding="utf-8")
    (broken,) = made.client().get("/api/quotes").json()
    assert broken["quote"] is None
    assert broken["why_not"]
