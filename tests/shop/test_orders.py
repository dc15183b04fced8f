"""Orders on record: where they stand, what waits for a machine, what they came to."""

from __future__ import annotations

import datetime
import io
import json
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

import pytest
from rich.console import Console

from kerfwright.errors import KerfwrightError
from kerfwright.output.order_list import print_orders, print_work, waiting
from kerfwright.output.order_report import print_report, report_json
from kerfwright.shop.order_states import state_of
from kerfwright.shop.orders import Orders, PlannedOrder, SheetOfPlan
from kerfwright.shop.records import RunRecords
from recorded_runs import a_run

DAY = datetime.date(2026, 5, 4)

SHEETS = tuple(
    SheetOfPlan(number, "board", f"S-00{number}", f"{number:02d}" * 32, 100.0, 240e3, 120e3, 7)
    for number in (1, 2)
)

REGATTA = PlannedOrder(
    "Regatta", "trial machine", "/out/regatta", "ab" * 32, SHEETS, Decimal("36.00"), "EUR"
)

LANTERN = replace(REGATTA, title="Lantern", sha256="cd" * 32, sheets=SHEETS[:1], net=None)


@pytest.fixture
def records(database_url: str) -> Iterator[RunRecords]:
    kept = RunRecords(database_url)
    yield kept
    kept.close()


@pytest.fixture
def orders(records: RunRecords) -> Orders:
    return Orders(records.database)


def run_of(number: int, **changes: object) -> object:
    return a_run(sheet=number, program_sha256=f"{number:02d}" * 32, **changes)


def printed(what: object, *words: object) -> str:
    text = io.StringIO()
    what(*words, console=Console(file=text, width=160))  # type: ignore[operator]
    return text.getvalue()


def test_an_order_goes_from_state_to_state_and_every_step_is_kept(orders: Orders) -> None:
    orders.add("Regatta", by="keeper", customer="harbour office", due=DAY, state="quoted")
    orders.step("Regatta", "ordered", by="keeper", note="by telephone")
    orders.plan(REGATTA, by="planner")
    orders.step("1", "running", by="keeper")
    one = orders.order("Regatta")
    assert (one.customer, one.due, one.state) == ("harbour office", DAY, "running")
    assert [(step.state, step.by, step.note) for step in one.steps] == [
        ("quoted", "keeper", ""),
        ("ordered", "keeper", "by telephone"),
        ("planned", "planner", ""),
        ("running", "keeper", ""),
    ]


def test_a_plan_without_an_order_makes_one(orders: Orders) -> None:
    planned = orders.plan(REGATTA, by="keeper")
    assert (planned.title, planned.state, planned.plan) == ("Regatta", "planned", REGATTA)
    assert orders.all() == [planned]


def test_the_last_plan_counts_and_the_same_plan_is_kept_once(orders: Orders) -> None:
    orders.plan(REGATTA, by="keeper")
    orders.plan(replace(REGATTA, net=Decimal("40.00")), by="keeper")
    (one,) = orders.all()
    assert one.plan is not None
    assert one.plan.net == Decimal("40.00")
    anew = replace(REGATTA, sha256="ef" * 32, sheets=SHEETS[:1])
    assert orders.plan(anew, by="keeper").plan == anew
    assert [step.state for step in orders.order("Regatta").steps] == ["ordered", "planned"]


def test_orders_are_listed_by_the_day_they_are_due(orders: Orders) -> None:
    for title, due in (("late", DAY.replace(day=9)), ("some day", None), ("soon", DAY)):
        orders.add(title, by="keeper", due=due)
    assert [one.title for one in orders.all()] == ["soon", "late", "some day"]


def test_runs_belong_to_the_sheet_whose_program_was_run(
    orders: Orders, records: RunRecords
) -> None:
    orders.plan(REGATTA, by="keeper")
    records.record([run_of(1), run_of(1, machine="other"), run_of(1, order="Other")], again=True)  # type: ignore[list-item]
    one = orders.order("Regatta")
    assert [len(work.runs) for work in one.work] == [1, 0]
    assert [sheet.number for sheet in one.to_run] == [2]
    records.forget(1)
    assert len(orders.order("Regatta").to_run) == 2


def test_earnings_an_hour_are_told_when_all_is_run(orders: Orders, records: RunRecords) -> None:
    orders.plan(REGATTA, by="keeper")
    records.record([run_of(1, actual_s=400.0)])  # type: ignore[list-item]
    assert orders.order("Regatta").an_hour is None
    records.record([run_of(2, actual_s=300.0), run_of(2, actual_s=200.0)], again=True)  # type: ignore[list-item]
    one = orders.order("Regatta")
    # 36.00 in 900 s are 144.00 an hour
    assert one.an_hour == Decimal(144)
    assert (one.actual_s, one.expected_s) == (900.0, 200.0)
    told = printed(print_report, [one]).partition("material laid in")[0].split()
    # expected, took, ratio, one re-make, three sheets of 0.24 m², 0.24 of 0.72 m² in parts
    assert told[-8:] == ["4.50", "1", "0", "0.72", "m²", "33%", "144.00", "EUR"]


def test_a_report_adds_up_orders_and_materials(orders: Orders, records: RunRecords) -> None:
    """Worked by hand: Regatta took 500 s for 36.00, Lantern 300 s for nothing that is known."""
    orders.plan(REGATTA, by="keeper")
    orders.plan(LANTERN, by="keeper")
    runs = [run_of(1, actual_s=300.0, scrapped_parts=2), run_of(2, actual_s=200.0)]
    runs.append(run_of(1, actual_s=300.0, order="Lantern"))
    records.record(runs, again=True)  # type: ignore[arg-type]
    report = json.loads(report_json(orders.all()))
    assert [one["title"] for one in report["orders"]] == ["Regatta", "Lantern"]
    whole = report["together"]
    assert (whole["expected_s"], whole["actual_s"]) == (300.0, 800.0)
    assert (whole["scrapped_parts"], whole["remakes"]) == (2, 0)
    assert (whole["an_hour"], whole["currency"]) == ("259.20", "EUR"), "Lantern has no price"
    (material,) = report["materials"]
    assert material == {
        "material": "board",
        "sheets": 3,
        "sheets_mm2": 720e3,
        "parts_mm2": 360e3,
    }
    told = printed(print_report, orders.all())
    assert "All together" in told
    assert "259.20 EUR" in told


def test_earnings_in_two_currencies_are_not_added_up(orders: Orders, records: RunRecords) -> None:
    orders.plan(replace(REGATTA, sheets=SHEETS[:1]), by="keeper")
    orders.plan(replace(LANTERN, net=Decimal(20), currency="SEK"), by="keeper")
    records.record([run_of(1), run_of(1, order="Lantern")], again=True)  # type: ignore[list-item]
    report = json.loads(report_json(orders.all()))
    assert all(one["an_hour"] for one in report["orders"])
    assert report["together"]["an_hour"] is None


def test_what_waits_for_a_machine_comes_by_the_day_it_is_due(
    orders: Orders, records: RunRecords
) -> None:
    orders.add("Lantern", by="keeper", due=DAY)
    orders.plan(REGATTA, by="keeper")
    orders.plan(LANTERN, by="keeper")
    records.record([run_of(1)])  # type: ignore[list-item]
    ((machine, sheets),) = waiting(orders.all(), None).items()
    assert machine == "trial machine"
    assert [(one.order.title, one.sheet.number) for one in sheets] == [
        ("Lantern", 1),
        ("Regatta", 2),
    ]
    assert waiting(orders.all(), "other") == {}
    said = printed(print_work, orders.all(), None, DAY.replace(day=5))
    assert "2026-05-04 (late)" in said
    assert "2 sheets, 3 min 20 s" in said
    orders.step("Lantern", "cancelled", by="keeper")
    assert "Lantern" not in printed(print_work, orders.all(), None, DAY)


def test_empty_lists_say_what_to_do(orders: Orders) -> None:
    assert "kerfwright orders add" in printed(print_orders, orders.all(), orders.place)
    assert "kerfwright orders plan" in printed(print_work, orders.all(), None, DAY)
    assert "No sheet" in printed(print_report, orders.all())


def test_one_title_is_one_order(orders: Orders) -> None:
    orders.add("Regatta", by="keeper")
    with pytest.raises(KerfwrightError) as told:
        orders.add("Regatta", by="keeper")
    assert told.value.code == "orders/title-taken"


def test_an_order_that_is_not_there_is_told(orders: Orders) -> None:
    with pytest.raises(KerfwrightError) as told:
        orders.order("Regatta")
    assert told.value.code == "orders/no-such-order"
    orders.add("Regatta", by="keeper")
    with pytest.raises(KerfwrightError, match='Did you mean "Regatta"'):
        orders.step("Regata", "done", by="keeper")


def test_a_state_that_there_is_not_is_told() -> None:
    assert state_of(" Done ") == "done"
    with pytest.raises(KerfwrightError, match="delivered") as told:
        state_of("finished")
    assert told.value.code == "orders/no-such-state"


def test_two_orders_of_one_title_have_plans_and_runs_of_their_own(
    orders: Orders, records: RunRecords
) -> None:
    orders.add("Regatta", by="keeper")
    orders.add("Regatta", reference="R-2", by="keeper", customer="sail loft")
    second = replace(REGATTA, reference="R-2", sha256="ef" * 32)
    orders.plan(REGATTA, by="keeper")
    assert orders.plan(second, by="keeper").customer == "sail loft"
    records.record([run_of(1, reference="R-2")])  # type: ignore[list-item]
    first, other = orders.all()
    assert (first.reference, first.title, first.plan) == ("", "Regatta", REGATTA)
    assert (other.reference, other.title, other.plan) == ("R-2", "Regatta", second)
    assert [len(work.runs) for work in first.work] == [0, 0]
    assert [len(work.runs) for work in other.work] == [1, 0]
    assert orders.order("R-2") == other
    assert orders.order("Regatta") == first
    assert "Regatta (R-2)" in printed(print_orders, [first, other], "here")


def test_a_title_that_does_not_tell_which_order_is_refused(orders: Orders) -> None:
    orders.add("Regatta", reference="R-1", by="keeper")
    orders.add("Regatta", reference="R-2", by="keeper")
    for refused in (lambda: orders.order("Regatta"), lambda: orders.plan(REGATTA, by="keeper")):
        with pytest.raises(KerfwrightError) as told:
            refused()
        assert told.value.code == "orders/several-of-title"
        assert '"R-1", "R-2"' in told.value.thing
    with pytest.raises(KerfwrightError) as told:
        orders.add("Another", reference="R-2", by="keeper")
    assert told.value.code == "orders/title-taken"
    assert len(orders.all()) == 2
