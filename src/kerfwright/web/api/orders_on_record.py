"""Orders on record: whose, due when, where they stand, when their sheets run, what they came to."""

from __future__ import annotations

import datetime
from typing import Annotated

from fastapi import APIRouter, Path, Query
from pydantic import BaseModel, ConfigDict, Field

from kerfwright.errors import KerfwrightError
from kerfwright.output.order_list import (
    OrderRecord,
    OrdersRecord,
    beside,
    orders_record,
    waiting,
)
from kerfwright.output.order_report import ReportRecord, report_record
from kerfwright.output.planned_runs import WrittenPlan
from kerfwright.output.schedule_list import SlotRecord, schedule_record, schedule_warnings
from kerfwright.shop.files import load_rates
from kerfwright.shop.hours import WEEKDAYS
from kerfwright.shop.order_states import state_of
from kerfwright.shop.orders import Orders, ShopOrder
from kerfwright.shop.schedule import Job, schedule
from kerfwright.shop.stock_records import whoever
from kerfwright.web import kept
from kerfwright.web.api.orders import Here, ThisOrder
from kerfwright.web.workshop import Workshop

router = APIRouter(tags=["orders on record"])

Number = Annotated[int, Path(ge=1, lt=2**31)]


class WaitingSheet(BaseModel):
    """A sheet that waits for its machine."""

    machine: str
    order: str
    due: datetime.date | None
    sheet: int
    material: str
    expected_s: float


class KnownOrder(OrderRecord):
    """An order on record, and the order of this workshop whose plan it keeps, if any."""

    slug: str | None


class KnownOrders(BaseModel):
    """Orders on record, what is due first at the top."""

    orders: list[KnownOrder]


class Standing(BaseModel):
    """Where an order stands now."""

    model_config = ConfigDict(extra="forbid")

    state: Annotated[str, Field(max_length=30)]
    note: Annotated[str, Field(max_length=500)] = ""


class Whose(BaseModel):
    """Whose an order is, and when it must be ready; what is left out stays."""

    model_config = ConfigDict(extra="forbid")

    customer: Annotated[str | None, Field(max_length=200)] = None
    due: datetime.date | None = None
    """``null`` where it is said: due on no day."""


class Schedule(BaseModel):
    """Sheets that wait, laid into working hours."""

    slots: tuple[SlotRecord, ...]
    hours: str
    """Whose hours these are, in words."""
    warnings: tuple[str, ...]
    """What will be late, and what has no time, in words."""


@router.get("/orders-on-record")
def orders_on_record(workshop: Here) -> KnownOrders:
    """Orders on record with their runs, what is due first at the top."""
    slugs = {str(one.plan_folder.resolve()): one.slug for one in workshop.orders()}
    with kept.shop_orders(workshop) as orders:
        records = orders_record(orders.all()).orders
    return KnownOrders(
        orders=[KnownOrder(**one.model_dump(), slug=slugs.get(one.folder or "")) for one in records]
    )


@router.put("/orders/{slug}/on-record")
def keep_plan(workshop: Here, order: ThisOrder) -> OrdersRecord:
    """Keep the order's plan on record, so that its sheets wait for the machine."""
    planned = WrittenPlan(order.plan_folder).planned()
    with kept.shop_orders(workshop) as orders:
        return orders_record([orders.plan(planned, by=whoever())])


@router.put("/orders-on-record/{number}/state")
def order_stands(workshop: Here, number: Number, standing: Standing) -> OrdersRecord:
    """Say where an order on record stands now."""
    state = state_of(standing.state)
    with kept.shop_orders(workshop) as orders:
        one = orders.step(_name(orders, number), state, by=whoever(), note=standing.note)
        return orders_record([one])


@router.patch("/orders-on-record/{number}")
def order_is_whose(workshop: Here, number: Number, whose: Whose) -> OrdersRecord:
    """Put right whose an order is, or when it must be ready."""
    no_day = "due" in whose.model_fields_set and whose.due is None
    with kept.shop_orders(workshop) as orders:
        one = orders.change(
            _name(orders, number), customer=whose.customer, due=whose.due, no_day=no_day
        )
        return orders_record([one])


@router.get("/waiting")
def waiting_sheets(workshop: Here) -> list[WaitingSheet]:
    """Sheets that wait for a machine, what is due first at the top."""
    with kept.shop_orders(workshop) as orders:
        by_machine = waiting(orders.all(), None)
    return [
        WaitingSheet(
            machine=machine,
            order=_title(one.order),
            due=one.order.due,
            sheet=one.sheet.number,
            material=one.sheet.material,
            expected_s=one.sheet.time_s,
        )
        for machine, sheets in by_machine.items()
        for one in sheets
    ]


@router.get("/schedule")
def scheduled(
    workshop: Here,
    begin: Annotated[datetime.date | None, Query(description="By default now.")] = None,
) -> Schedule:
    """Waiting sheets laid into working hours, what is due first first, and what is late."""
    rates_file = workshop.rates_file()
    rates = None if rates_file is None else load_rates(rates_file)
    hours = None if rates is None else rates.hours
    between_s = 0.0 if rates is None else 60.0 * float(rates.sheet_minutes)
    start = datetime.datetime.now().replace(second=0, microsecond=0)
    if begin is not None and begin != start.date():
        start = datetime.datetime.combine(begin, datetime.time())
    with kept.shop_orders(workshop) as orders:
        by_machine = waiting(orders.all(), None)
    slots = {
        machine: schedule(
            [Job(_title(w.order), w.sheet.number, w.sheet.time_s, w.order.due) for w in sheets],
            hours or WEEKDAYS,
            start,
            between_s=between_s,
        )
        for machine, sheets in by_machine.items()
    }
    return Schedule(
        slots=schedule_record(slots).slots,
        hours=_hours_in_words(workshop, own=hours is not None, between_s=between_s),
        warnings=tuple(schedule_warnings(slots)),
    )


@router.get("/report")
def report(workshop: Here, since: datetime.date | None = None) -> ReportRecord:
    """What orders with recorded runs came to; ``since`` leaves out those last run before."""
    with kept.shop_orders(workshop) as orders:
        known = orders.all()
    if since is not None:
        known = [one for one in known if one.last_run is not None and one.last_run >= since]
    return report_record(known)


def _name(orders: Orders, number: int) -> str:
    """By what an order of that number is known; the number alone could be another's title.

    Raises:
        KerfwrightError: ``pages/nothing-there``.
    """
    found = next((one for one in orders.all() if one.number == number), None)
    if found is None:
        raise KerfwrightError(
            "pages/nothing-there",
            file=orders.place,
            thing=f"no order on record has the number {number}.",
            remedy="Load the page again.",
        )
    return found.reference or found.title


def _title(order: ShopOrder) -> str:
    return f"{order.title}{beside(order)}"


def _hours_in_words(workshop: Workshop, *, own: bool, between_s: float) -> str:
    file = workshop.rates_file()
    whose = (
        "Reckoned with Monday to Friday, 8 to 16 o'clock; a table [hours] in rates.toml is yours"
    )
    if own and file is not None:
        whose = f"Hours are those of {workshop.shown(str(file))}"
    minutes = between_s / 60.0
    return f"{whose}{f', with {minutes:g} min between sheets' if between_s else ''}."
