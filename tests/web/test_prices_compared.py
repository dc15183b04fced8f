"""The price of an order in other numbers and materials, worked out beside its plan."""

from __future__ import annotations

import time
from typing import Any

import pytest
from fastapi.testclient import TestClient

from kerfwright.planner import plan_shop
from kerfwright.quotation import compared, rates_of
from kerfwright.shop.files import load_shop
from small_shop import STOCK
from small_workshop import SLUG, SmallWorkshop

PRICE = f"/api/orders/{SLUG}/price"

COMPARISON = f"{PRICE}/comparison"


def ended(client: TestClient) -> dict[str, Any]:
    until = time.monotonic() + 240
    while time.monotonic() < until:
        told: dict[str, Any] = client.get(COMPARISON).json()
        if told["state"] != "planning":
            return told
        time.sleep(0.1)
    pytest.fail("the comparison did not end")


def test_quantities_are_priced_beside_the_plan_and_the_order_stays(
    workshop: SmallWorkshop,
) -> None:
    """The lines are those of the command; nine times as many need more sheets than there are."""
    order = workshop.order / "order.toml"
    text = order.read_text(encoding="utf-8").replace(STOCK, STOCK.replace("count = 1", "count = 2"))
    order.write_text(text, encoding="utf-8")
    files = {file: file.read_bytes() for file in workshop.folder.rglob("*") if file.is_file()}
    client = workshop.client()
    with client:
        asked = {"times": [2, 9, 2], "materials": ["board"]}
        assert client.post(COMPARISON, json=asked).status_code == 202
        second = client.post(COMPARISON, json=asked)
        assert second.json()["code"] == "pages/trial-runs"
        told = ended(client)
        assert told["state"] == "ready", told
        twice, many, board = told["lines"]
        shop = load_shop(order)
        (by_hand,) = compared(
            shop, rates_of(shop), times=(2,), materials=(), progress=lambda _words: None
        )
        assert by_hand.quote is not None
        assert (twice["total"], twice["sheets"]) == (f"{by_hand.quote.total:f}", 2)
        assert [one["each"] for one in twice["items"]] == [
            f"{one.each:f}" for one in by_hand.quote.items
        ]
        assert (many["total"], bool(many["why_not"])) == ("", True)
        plan_s = sum(sheet.times.total_s for sheet in plan_shop(shop).sheets)
        assert board["beam_s"] == pytest.approx(plan_s, abs=0.01)
        after = {file: file.read_bytes() for file in files}
        assert after == files
        assert client.delete(COMPARISON).status_code == 204
        assert client.get(COMPARISON).json()["state"] == "idle"


def test_a_comparison_can_be_stopped(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    with client:
        client.post(COMPARISON, json={"times": [2, 3, 4, 5]}).raise_for_status()
        client.delete(COMPARISON).raise_for_status()
        assert client.get(COMPARISON).json()["state"] == "idle"


def test_without_rates_there_is_nothing_to_compare_and_the_reason_is_told(
    workshop: SmallWorkshop,
) -> None:
    order = workshop.order / "order.toml"
    text = order.read_text(encoding="utf-8").replace('rates = "../../rates.toml"\n', "")
    order.write_text(text, encoding="utf-8")
    client = workshop.client()
    with client:
        client.post(COMPARISON, json={"times": [2]}).raise_for_status()
        told = ended(client)
        assert told["state"] == "failed"
        assert "names no rates" in told["words"]
        assert str(workshop.folder) not in told["words"]
    price = client.get(PRICE).json()
    assert (price["rates"], price["workshop_rates"]) == (None, "../../rates.toml")
    change = {"at": ["rates"], "value": price["workshop_rates"]}
    client.patch(f"/api/orders/{SLUG}", json={"changes": [change]}).raise_for_status()
    assert client.get(PRICE).json()["rates"] == "../../rates.toml"


def test_a_rates_file_that_is_gone_or_newer_is_told(workshop: SmallWorkshop) -> None:
    workshop.plan()
    client = workshop.client()
    assert client.get(PRICE).json()["rates_changed"] is False
    rates = workshop.folder / "rates.toml"
    rates.write_text(rates.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert client.get(PRICE).json()["rates_changed"] is True
    rates.unlink()
    (workshop.order / "plan" / "quote.json").unlink()
    told = client.get(PRICE).json()
    assert "there is none" in told["why_not"]
    assert told["workshop_rates"] is None


@pytest.mark.parametrize("asked", [{}, {"times": [0]}, {"times": [20_000]}, {"times": [2] * 13}])
def test_what_is_no_comparison_is_refused(planned: SmallWorkshop, asked: dict[str, Any]) -> None:
    assert planned.client().post(COMPARISON, json=asked).status_code == 422


def test_amounts_of_an_order_are_in_the_currency_of_its_rates(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    assert client.get(f"/api/orders/{SLUG}").json()["currency"] == "EUR"
    (workshop.folder / "rates.toml").write_text("currency = 5\n", encoding="utf-8")
    assert client.get(f"/api/orders/{SLUG}").raise_for_status().json()["currency"] == ""


def test_amounts_of_the_workshop_are_in_the_currency_of_its_own_rates(
    workshop: SmallWorkshop,
) -> None:
    client = workshop.client()
    rates = workshop.folder / "rates.toml"
    assert client.get("/api/workshop").json()["currency"] == "EUR"
    rates.write_text("currency = 5\n", encoding="utf-8")
    assert client.get("/api/workshop").raise_for_status().json()["currency"] == ""
    rates.unlink()
    assert client.get("/api/workshop").raise_for_status().json()["currency"] == ""
