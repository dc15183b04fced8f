"""The commands for orders on record. Everything heavy is imported by the command that needs it."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from kerfwright.cli.records import By, RecordsPlace
from kerfwright.errors import KerfwrightError

if TYPE_CHECKING:
    from kerfwright.shop.orders import Orders

Command = Callable[..., Any]

Title = Annotated[str, typer.Argument(help="The order's title, reference or number in the list.")]


def add_order_commands(app: typer.Typer, told_plainly: Callable[[Command], Command]) -> None:
    """Give ``app`` the command ``orders`` with its own commands."""
    orders = typer.Typer(
        help="Orders on record: where they stand, what is to be run today, what they came to.",
        no_args_is_help=True,
    )
    for command in (add, change, state, plan, today, schedule, report):
        orders.command()(told_plainly(command))
    orders.command("list")(told_plainly(list_orders))
    app.add_typer(orders, name="orders")


def add(
    title: Annotated[str, typer.Argument(help="Title, the same as in the order file.")],
    reference: Annotated[
        str, typer.Option(help="What tells it from another order of that title, such as 2026-014.")
    ] = "",
    customer: Annotated[str, typer.Option(help="Whose it is, in your own words.")] = "",
    due: Annotated[str | None, typer.Option(help="Day it must be ready, as 2026-05-04.")] = None,
    quoted: Annotated[bool, typer.Option("--quoted", help="It is only quoted so far.")] = False,
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Put a new order on record."""
    from kerfwright.output.order_list import order_in_words

    with _opened(place) as kept:
        day = None if due is None else _day(due)
        added = kept.add(
            title,
            by=_who(by),
            reference=reference,
            customer=customer,
            due=day,
            state="quoted" if quoted else "ordered",
        )
        typer.echo(order_in_words(added))


def change(
    title: Title,
    customer: Annotated[str | None, typer.Option(help="Whose it is, in your own words.")] = None,
    due: Annotated[str | None, typer.Option(help="Day it must be ready, as 2026-05-04.")] = None,
    place: RecordsPlace = None,
) -> None:
    """Put right whose an order is, or when it must be ready."""
    from kerfwright.output.order_list import order_in_words

    if customer is None and due is None:
        raise KerfwrightError(
            "orders/nothing-to-change",
            file="kerfwright orders change",
            thing="neither --customer nor --due was given.",
            remedy='Write, for example: kerfwright orders change "Regatta" --due 2026-05-11',
        )
    day = None if due is None else _day(due)
    with _opened(place) as kept:
        typer.echo(order_in_words(kept.change(title, customer=customer, due=day)))


def state(
    title: Title,
    now: Annotated[
        str,
        typer.Argument(help="quoted, ordered, planned, running, done, delivered or cancelled."),
    ],
    note: Annotated[str, typer.Option(help="Anything worth remembering.")] = "",
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Say where an order stands now."""
    from kerfwright.output.order_list import order_in_words
    from kerfwright.shop.order_states import state_of

    with _opened(place) as kept:
        typer.echo(order_in_words(kept.step(title, state_of(now), by=_who(by), note=note)))


def plan(
    folder: Annotated[Path, typer.Argument(help="The plan's folder, or the plan.json in it.")],
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Keep a plan with the order of its title, and what the quote in its folder asks."""
    from kerfwright.output.order_list import order_in_words
    from kerfwright.output.planned_runs import WrittenPlan

    planned = WrittenPlan(folder).planned()
    with _opened(place) as kept:
        typer.echo(order_in_words(kept.plan(planned, by=_who(by))))


def list_orders(
    all_of_them: Annotated[
        bool, typer.Option("--all", help="Also what is delivered or cancelled.")
    ] = False,
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    place: RecordsPlace = None,
) -> None:
    """List orders, what is due first at the top."""
    from kerfwright.output.order_list import orders_json, print_orders

    with _opened(place) as kept:
        orders = kept.all()
        if not all_of_them:
            orders = [one for one in orders if one.state not in ("delivered", "cancelled")]
        if json:
            typer.echo(orders_json(orders))
        else:
            print_orders(orders, kept.place)


def today(
    machine: Annotated[str | None, typer.Option(help="Only sheets for this machine.")] = None,
    place: RecordsPlace = None,
) -> None:
    """List the sheets that are still to be run by machine, what is due first at the top."""
    from kerfwright.output.order_list import print_work

    with _opened(place) as kept:
        print_work(kept.all(), machine, datetime.date.today())


def schedule(
    rates: Annotated[
        Path | None,
        typer.Option(help="Rates file with the shop's [hours] and the minutes between sheets."),
    ] = None,
    machine: Annotated[str | None, typer.Option(help="Only this machine.")] = None,
    begin: Annotated[
        str | None, typer.Option("--from", help="Day to begin on, as 2026-05-04; by default now.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    place: RecordsPlace = None,
) -> None:
    """Lay what is to be run into working hours, what is due first first, and say what is late."""
    from kerfwright.output.order_list import waiting
    from kerfwright.output.schedule_list import print_schedule, schedule_json
    from kerfwright.shop.files import load_rates
    from kerfwright.shop.hours import WEEKDAYS
    from kerfwright.shop.schedule import Job
    from kerfwright.shop.schedule import schedule as scheduled

    known = None if rates is None else load_rates(rates)
    hours = known.hours if known is not None else None
    between_s = 60.0 * float(known.sheet_minutes) if known is not None else 0.0
    start = datetime.datetime.now().replace(second=0, microsecond=0)
    if begin is not None:
        start = datetime.datetime.combine(_day(begin, "--from"), datetime.time())
    with _opened(place) as kept:
        work = waiting(kept.all(), machine)
    slots = {
        name: scheduled(
            [Job(w.order.title, w.sheet.number, w.sheet.time_s, w.order.due) for w in sheets],
            hours or WEEKDAYS,
            start,
            between_s=between_s,
        )
        for name, sheets in work.items()
    }
    if json:
        typer.echo(schedule_json(slots))
        return
    print_schedule(slots, _hours_in_words(rates if hours is not None else None, between_s))


def _hours_in_words(rates: Path | None, between_s: float) -> str:
    whose = (
        f"Hours are those of {rates}"
        if rates is not None
        else "Reckoned with Monday to Friday, 8 to 16 o'clock; [hours] in --rates FILE are yours"
    )
    between = f", with {between_s / 60.0:g} min between sheets" if between_s else ""
    return f"{whose}{between}."


def report(
    title: Annotated[str | None, typer.Argument(help="An order; by default all.")] = None,
    since: Annotated[
        str | None, typer.Option(help="Only orders with a run on this day or later.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    place: RecordsPlace = None,
) -> None:
    """Compare what was expected with what it came to: time, material, earnings an hour."""
    from kerfwright.output.order_report import print_report, report_json

    first = None if since is None else _day(since, "--since")
    with _opened(place) as kept:
        orders = kept.all() if title is None else [kept.order(title)]
    if first is not None:
        orders = [one for one in orders if one.last_run is not None and one.last_run >= first]
    if json:
        typer.echo(report_json(orders))
    else:
        print_report(orders)


@contextmanager
def _opened(place: str | None) -> Iterator[Orders]:
    from kerfwright.shop.database import Database, records_place
    from kerfwright.shop.orders import Orders

    database = Database(records_place(place))
    try:
        yield Orders(database)
    finally:
        database.close()


def _who(by: str | None) -> str:
    from kerfwright.shop.stock_records import whoever

    return by or whoever()


def _day(text: str, option: str = "--due") -> datetime.date:
    try:
        return datetime.date.fromisoformat(text.strip())
    except ValueError:
        raise KerfwrightError(
            "orders/wrong-day",
            file=option,
            thing=f'"{text}" is no day.',
            remedy="Write year, month and day, such as 2026-05-04.",
        ) from None
