"""An order from its first word to what it came to, by the commands."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from kerfwright.cli import BAD_INPUT
from small_shop import SmallShop, run


@pytest.fixture(autouse=True)
def records_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KERFWRIGHT_RECORDS", str(tmp_path / "records.sqlite"))


def orders(*words: object) -> str:
    ran = run("orders", *words)
    assert ran.exit_code == 0, ran.stderr
    return ran.stdout


def listed() -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(orders("list", "--all", "--json"))["orders"]
    return found


def test_an_order_from_its_first_word_to_what_it_came_to(shop: SmallShop) -> None:
    orders("add", "Small order", "--customer", "harbour office", "--due", "2026-05-04")
    document = shop.planned()
    shop.write("out/quote.json", json.dumps({"quote": {"net": "30.00", "currency": "EUR"}}))
    assert "1 of 1 sheet to be run" in orders("plan", shop.out)
    assert "Small order" in orders("today", "--machine", "trial machine")
    assert "Nothing is to be run" in orders("today", "--machine", "other")
    ran = run("record", shop.out, "--minutes", "30", "--sure", "--scrapped", 1)
    assert ran.exit_code == 0, ran.stderr
    (one,) = listed()
    assert (one["state"], one["net"], one["an_hour"]) == ("planned", "30.00", "60.00")
    (sheet,) = one["sheets"]
    assert sheet["expected_s"] == document["sheets"][0]["time_s"]
    assert [made["actual_s"] for made in sheet["runs"]] == [1800.0]
    assert "60.00" in orders("report", "Small order")
    assert json.loads(orders("report", "--json"))["together"]["an_hour"] == "60.00"
    assert "No sheet" in orders("report", "--since", "2999-01-01")
    orders("state", 1, "delivered", "--note", "fetched")
    assert "Small order" not in orders("list")
    assert listed()[0]["state"] == "delivered"


def test_a_quote_that_cannot_be_read_is_no_quote(planned: SmallShop) -> None:
    planned.write("out/quote.json", "{}")
    orders("plan", planned.out)
    assert listed()[0]["net"] is None


RATES = """\
shop = "Quay workshop"
currency = "EUR"
machine_per_hour = 30
labour_per_hour = 36
sheet_minutes = 5
[hours]
monday = ["08:00-12:00"]
thursday = ["13:00-17:00"]
"""


def test_the_days_to_come_and_what_will_be_late(shop: SmallShop) -> None:
    """4 May 2026 is a Monday."""
    shop.write("rates.toml", RATES)
    orders("add", "Small order", "--due", "2026-05-04")
    seconds = shop.planned()["sheets"][0]["time_s"]
    orders("plan", shop.out)
    words = ("schedule", "--rates", shop.folder / "rates.toml", "--from")
    (slot,) = json.loads(orders(*words, "2026-05-04", "--json"))["slots"]
    assert slot["begin"] == "2026-05-04T08:00:00"
    took = datetime.fromisoformat(slot["end"]) - datetime.fromisoformat(slot["begin"])
    assert took.total_seconds() == pytest.approx(seconds + 300.0, abs=0.01)
    assert (slot["machine"], slot["late_days"]) == ("trial machine", 0)
    told = orders(*words, "2026-05-05")
    assert "Thu 2026-05-07" in told
    assert "13:00" in told
    assert "Small order will be late by 3 days." in told
    assert "Reckoned with Monday to Friday" in orders("schedule", "--from", "2026-05-04")


def test_wrong_hours_are_told_with_how_to_write_them(shop: SmallShop) -> None:
    shop.write("rates.toml", RATES.replace("08:00-12:00", "8 to 12"))
    ran = run("orders", "schedule", "--rates", shop.folder / "rates.toml")
    assert ran.exit_code == BAD_INPUT
    assert "hours.monday" in ran.stderr
    assert '["08:00-12:00", "13:00-17:00"]' in ran.stderr


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("add", "Regatta", "--due", "tomorrow"), "orders/wrong-day"),
        (("schedule", "--from", "tomorrow"), "orders/wrong-day"),
        (("state", "Regatta", "done"), "orders/no-such-order"),
        (("state", "Regatta", "finished"), "orders/no-such-state"),
        (("report", "Regatta"), "orders/no-such-order"),
        (("plan", "no-such-folder"), "records/not-a-plan"),
    ],
)
def test_what_cannot_be_is_told_plainly(words: tuple[str, ...], code: str) -> None:
    ran = run("orders", *words)
    assert ran.exit_code == BAD_INPUT
    assert code in ran.stderr
    assert listed() == []
