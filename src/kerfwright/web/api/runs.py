"""Runs on record, the sheets that wait for a machine, and what an order came to."""

from __future__ import annotations

import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from kerfwright.output.order_list import OrdersRecord, orders_record, waiting
from kerfwright.output.planned_runs import Timed, WrittenPlan
from kerfwright.output.recorded_runs import RunRecords, run_in_words, run_records
from kerfwright.output.stock_list import use_in_words
from kerfwright.shop.order_states import state_of
from kerfwright.shop.run_stock import record_with_stock
from kerfwright.shop.stock_records import whoever
from kerfwright.shop.stopwatch import seconds_of_minutes
from kerfwright.web import kept
from kerfwright.web.api.orders import Here, ThisOrder

router = APIRouter(tags=["runs"])


class Finished(BaseModel):
    """A run of a planned sheet, as whoever stood at the machine tells it."""

    model_config = ConfigDict(extra="forbid")

    sheet: Annotated[int, Field(ge=1, le=100_000)]
    minutes: Annotated[str, Field(min_length=1, max_length=20)]
    """What it took: 31:40, 1:02:30 or 31.5."""
    ran_on: datetime.date | None = None
    scrapped_parts: Annotated[int | None, Field(ge=0, le=1_000_000)] = None
    note: Annotated[str, Field(max_length=500)] = ""
    again: bool = False
    """The same program was run another time."""
    sure: bool = False
    """Record it although it looks wrong."""
    laid_in: Annotated[str | None, Field(max_length=50)] = None
    """Label of the piece that was taken, if not the planned one."""


class Told(BaseModel):
    """What was done, in words."""

    words: list[str]


class WaitingSheet(BaseModel):
    """A sheet that waits for its machine."""

    machine: str
    order: str
    due: datetime.date | None
    sheet: int
    material: str
    expected_s: float


class Standing(BaseModel):
    """Where an order stands now."""

    model_config = ConfigDict(extra="forbid")

    state: Annotated[str, Field(max_length=30)]
    note: Annotated[str, Field(max_length=500)] = ""


@router.get("/runs")
def list_runs(
    workshop: Here,
    machine: Annotated[str, Query(max_length=200)] = "",
    forgotten: bool = False,
) -> RunRecords:
    """Recorded runs, oldest first."""
    with kept.runs(workshop) as records:
        return run_records(records.runs(machine or None, forgotten=forgotten))


@router.post("/orders/{slug}/runs", status_code=201)
def record_run(workshop: Here, order: ThisOrder, finished: Finished) -> Told:
    """Record what a run took; its sheet leaves the stock on record and its offcut comes in."""
    written = WrittenPlan(order.plan_folder)
    day = finished.ran_on or datetime.date.today()
    took_s = seconds_of_minutes(finished.minutes)
    timed = Timed(took_s, day, finished.sheet, finished.note, finished.scrapped_parts)
    run = written.run(timed, sure=finished.sure)
    use = written.use(finished.sheet, laid_in=finished.laid_in)
    words = []
    with kept.runs(workshop) as records:
        for one in record_with_stock(records, [run], [use], by=whoever(), again=finished.again):
            words.append(run_in_words(one.recorded))
            if one.taken is not None:
                words.append(use_in_words(one.taken, one.back))
    return Told(words=words)


@router.delete("/runs/{number}")
def forget_run(workshop: Here, number: Annotated[int, Field(ge=1, lt=2**31)]) -> Told:
    """Take a run out: it stays on record, but nothing learns from it."""
    with kept.runs(workshop) as records:
        return Told(words=[run_in_words(records.forget(number))])


@router.get("/orders-on-record")
def orders_on_record(workshop: Here) -> OrdersRecord:
    """Orders on record with their runs, what is due first at the top."""
    with kept.shop_orders(workshop) as orders:
        return orders_record(orders.all())


@router.get("/waiting")
def waiting_sheets(workshop: Here) -> list[WaitingSheet]:
    """Sheets that wait for a machine, what is due first at the top."""
    with kept.shop_orders(workshop) as orders:
        by_machine = waiting(orders.all(), None)
    return [
        WaitingSheet(
            machine=machine,
            order=one.order.title,
            due=one.order.due,
            sheet=one.sheet.number,
            material=one.sheet.material,
            expected_s=one.sheet.time_s,
        )
        for machine, sheets in by_machine.items()
        for one in sheets
    ]


@router.put("/orders/{slug}/on-record")
def keep_plan(workshop: Here, order: ThisOrder) -> OrdersRecord:
    """Keep the order's plan on record, so that its sheets wait for the machine."""
    planned = WrittenPlan(order.plan_folder).planned()
    with kept.shop_orders(workshop) as orders:
        return orders_record([orders.plan(planned, by=whoever())])


@router.put("/orders-on-record/{number}/state")
def order_stands(
    workshop: Here, number: Annotated[int, Field(ge=1, lt=2**31)], standing: Standing
) -> OrdersRecord:
    """Say where an order on record stands now."""
    state = state_of(standing.state)
    with kept.shop_orders(workshop) as orders:
        one = orders.step(str(number), state, by=whoever(), note=standing.note)
        return orders_record([one])
