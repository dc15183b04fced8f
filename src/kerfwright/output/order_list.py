"""Orders on the terminal and as JSON: the list and today's work."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Literal

from pydantic import BaseModel, ConfigDict
from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.findings import number_of
from kerfwright.output.text import duration, printable
from kerfwright.shop.order_states import TO_BE_RUN
from kerfwright.shop.orders import SheetOfPlan, ShopOrder

CENT = Decimal("0.01")


class RunOfSheetRecord(BaseModel):
    """A run of a sheet; seconds."""

    run: int
    ran_on: datetime.date
    actual_s: float
    scrapped_parts: int


class SheetOfOrderRecord(BaseModel):
    """A sheet of an order's last plan with its runs."""

    number: int
    material: str
    sheet: str
    expected_s: float
    runs: tuple[RunOfSheetRecord, ...]


class OrderRecord(BaseModel):
    """An order on record."""

    model_config = ConfigDict(frozen=True)

    number: int
    title: str
    reference: str
    customer: str
    due: datetime.date | None
    state: str
    machine: str | None
    folder: str | None
    plan_sha256: str | None
    net: str | None
    currency: str
    an_hour: str | None
    sheets: tuple[SheetOfOrderRecord, ...]


class OrdersRecord(BaseModel):
    """All orders that were asked for, what is due first at the top."""

    schema_version: Literal[1] = 1
    orders: tuple[OrderRecord, ...]


@dataclass(frozen=True, slots=True)
class Waiting:
    """A sheet that waits for a machine."""

    order: ShopOrder
    sheet: SheetOfPlan


def orders_record(orders: Sequence[ShopOrder]) -> OrdersRecord:
    """Gather orders on record."""
    return OrdersRecord(orders=tuple(_record(one) for one in orders))


def orders_json(orders: Sequence[ShopOrder]) -> str:
    """Return orders as indented JSON text."""
    return orders_record(orders).model_dump_json(indent=2)


def order_in_words(order: ShopOrder) -> str:
    """An order on one line."""
    words = [f'{order.number}: "{order.title}"{beside(order)} is {order.state}']
    words += [f"due {order.due}"] if order.due else []
    if order.plan is not None:
        words.append(f"{len(order.to_run)} of {number_of(len(order.work), 'sheet')} to be run")
    return printable(", ".join(words))


def print_orders(orders: Sequence[ShopOrder], place: str, console: Console | None = None) -> None:
    """Print a table of orders."""
    console = console or Console()
    if not orders:
        _say(
            console,
            f'No open orders in {place}. To put one on record: kerfwright orders add "Regatta" '
            "--due 2026-05-04",
        )
        return
    table = _table(("", "order", "customer", "due", "state"), ("sheets run", "to run"))
    for one in orders:
        done = f"{len(one.work) - len(one.to_run)}/{len(one.work)}" if one.plan else "–"
        left_s = sum(sheet.time_s for sheet in one.to_run)
        table.add_row(
            str(one.number),
            Text(printable(f"{one.title}{beside(one)}")),
            Text(printable(one.customer)),
            one.due.isoformat() if one.due else "–",
            one.state,
            done,
            duration(left_s) if left_s else "–",
        )
    console.print(table)


def waiting(orders: Sequence[ShopOrder], machine: str | None) -> dict[str, list[Waiting]]:
    """Sheets still to be run by machine, in the order of ``orders``."""
    work: dict[str, list[Waiting]] = {}
    for one in orders:
        if one.plan is None or one.state not in TO_BE_RUN:
            continue
        if machine is None or one.plan.machine == machine:
            work.setdefault(one.plan.machine, []).extend(
                Waiting(one, sheet) for sheet in one.to_run
            )
    return {name: sheets for name, sheets in work.items() if sheets}


def print_work(
    orders: Sequence[ShopOrder],
    machine: str | None,
    today: datetime.date,
    console: Console | None = None,
) -> None:
    """Print what waits for each machine, and when it would be through if run in one go."""
    console = console or Console()
    work = waiting(orders, machine)
    if not work:
        of = f' on "{machine}"' if machine else ""
        others = ", ".join(waiting(orders, None)) if machine else ""
        also = f" Sheets wait for {others}." if others else ""
        _say(console, f"Nothing is to be run{of}.{also} kerfwright orders plan FOLDER adds a plan.")
        return
    for name, sheets in work.items():
        total_s = sum(one.sheet.time_s for one in sheets)
        console.print(Text(printable(name), style="bold"), end="")
        console.print(f": {number_of(len(sheets), 'sheet')}, {duration(total_s)}", highlight=False)
        table = _table(("due", "order", "sheet"), ("time", "through after"))
        through_s = 0.0
        for one in sheets:
            through_s += one.sheet.time_s
            due = one.order.due
            late = due is not None and due < today
            table.add_row(
                Text(
                    (f"{due} (late)" if late else str(due)) if due else "–",
                    style="bold red" if late else "",
                ),
                Text(printable(f"{one.order.title}{beside(one.order)}")),
                Text(printable(f"{one.sheet.number}: {one.sheet.material}, {one.sheet.sheet}")),
                duration(one.sheet.time_s),
                duration(through_s),
            )
        console.print(table)


def _record(order: ShopOrder) -> OrderRecord:
    plan = order.plan
    an_hour = order.an_hour
    return OrderRecord(
        number=order.number,
        title=order.title,
        reference=order.reference,
        customer=order.customer,
        due=order.due,
        state=order.state,
        machine=plan.machine if plan else None,
        folder=plan.folder if plan else None,
        plan_sha256=plan.sha256 if plan else None,
        net=f"{plan.net:f}" if plan and plan.net is not None else None,
        currency=plan.currency if plan else "",
        an_hour=None if an_hour is None else f"{an_hour.quantize(CENT, ROUND_HALF_EVEN)}",
        sheets=tuple(
            SheetOfOrderRecord(
                number=work.sheet.number,
                material=work.sheet.material,
                sheet=work.sheet.sheet,
                expected_s=work.sheet.time_s,
                runs=tuple(
                    RunOfSheetRecord(
                        run=run.number,
                        ran_on=run.ran_on,
                        actual_s=run.actual_s,
                        scrapped_parts=run.scrapped_parts,
                    )
                    for run in work.runs
                ),
            )
            for work in order.work
        ),
    )


def _table(words: Sequence[str], numbers: Sequence[str]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in words:
        table.add_column(name)
    for name in numbers:
        table.add_column(name, justify="right", no_wrap=True)
    return table


def beside(order: ShopOrder) -> str:
    """The order's reference in brackets, where it has one."""
    return f" ({order.reference})" if order.reference else ""


def _say(console: Console, words: str) -> None:
    console.print(words, markup=False, highlight=False, soft_wrap=True)
