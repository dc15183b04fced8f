"""The commands for recorded runs. Everything heavy is imported by the command that needs it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from kerfwright.errors import KerfwrightError

if TYPE_CHECKING:
    from kerfwright.shop.records import RunRecords
    from kerfwright.shop.runs import RecordedRun, RunsOf

Command = Callable[..., Any]

MOST_PARTS = 1_000_000

LAST_NUMBER = 2**31 - 1
"""Databases count no further."""

RecordsPlace = Annotated[
    str | None,
    typer.Option(
        "--records",
        help="File or database URL of the records.",
        envvar="KERFWRIGHT_RECORDS",
        show_envvar=True,
    ),
]


By = Annotated[
    str | None,
    typer.Option(help="Who it was, for the ledger; by default whoever is logged in."),
]


def add_record_commands(app: typer.Typer, told_plainly: Callable[[Command], Command]) -> None:
    """Give ``app`` the commands ``record``, ``records``, ``backup`` and ``restore``."""
    app.command()(told_plainly(record))
    app.command()(told_plainly(records))
    app.command()(told_plainly(backup))
    app.command()(told_plainly(restore))


def runs_reader(place: str | None) -> RunsOf:
    """Return what reads the runs of a machine as the planner asks for them."""

    def runs_of(machine: str) -> Sequence[RecordedRun]:
        with _opened(place) as kept:
            return kept.runs(machine)

    return runs_of


def record(  # noqa: PLR0913, PLR0917 – all that can be said of a run, most of it optional
    plan: Annotated[
        Path | None, typer.Argument(help="The plan's folder, or the plan.json in it.")
    ] = None,
    sheet: Annotated[
        list[int] | None,
        typer.Option(help="Which sheet was run; give --sheet and the time once for each."),
    ] = None,
    minutes: Annotated[
        list[str] | None, typer.Option(help="What it took: 31:40, 1:02:30 or 31.5.")
    ] = None,
    seconds: Annotated[list[str] | None, typer.Option(help="The same in seconds.")] = None,
    date: Annotated[str | None, typer.Option(help="Day of the run, as 2026-05-04.")] = None,
    note: Annotated[str, typer.Option(help="Anything worth remembering.")] = "",
    scrapped: Annotated[
        int | None,
        typer.Option(help="How many parts were no good; for one sheet.", min=0, max=MOST_PARTS),
    ] = None,
    scrap: Annotated[
        list[str] | None,
        typer.Option(help="Name of a part that was no good, as lid#2; once for each, one sheet."),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="The same program was run another time.")
    ] = False,
    sure: Annotated[
        bool, typer.Option("--sure", help="Record it although it looks wrong.")
    ] = False,
    forget: Annotated[
        int | None,
        typer.Option(
            help="Take the run of this number out; nothing is deleted.", min=1, max=LAST_NUMBER
        ),
    ] = None,
    stock: Annotated[
        bool,
        typer.Option(
            "--stock/--no-stock",
            help="Take the sheet out of the stock on record, and put its offcut in.",
        ),
    ] = True,
    laid_in: Annotated[
        str | None,
        typer.Option(help="Label of the piece that was taken, if not the planned one; one sheet."),
    ] = None,
    by: By = None,
    place: RecordsPlace = None,
) -> None:
    """Record what a run really took, so that later plans expect it.

    A sheet that the plan took from the stock on record is used up, and what is left of it comes
    back as an offcut with a label of its own.
    """
    if forget is not None:
        _require_nothing_else(plan, sheet, minutes, seconds)
        _forget(forget, place)
        return
    if plan is None:
        raise _unclear("no plan was given.")
    from kerfwright.output.planned_runs import Timed, WrittenPlan
    from kerfwright.shop.stock_records import whoever
    from kerfwright.shop.stopwatch import day_of

    took_s = _times_s(sheet or [], minutes or [], seconds or [])
    if (scrapped is not None or scrap) and len(took_s) > 1:
        raise _unclear("--scrapped and --scrap belong to one sheet, and several were given.")
    if scrapped is not None and scrap:
        raise _unclear("--scrap names the parts, and counts them: leave out --scrapped.")
    if laid_in is not None and (len(took_s) > 1 or not stock):
        raise _unclear("--laid-in belongs to one sheet, taken out of stock.")
    day = day_of(date)
    numbers: Sequence[int | None] = sheet or [None]
    written = WrittenPlan(plan)
    spoilt = written.parts_named(numbers[0], scrap or ())
    if spoilt:
        scrapped = len(spoilt)
        note = "; ".join([*([note] if note else []), f"scrapped {', '.join(spoilt)}"])
    runs = [
        written.run(Timed(actual_s, day, number, note, scrapped), sure=sure)
        for number, actual_s in zip(numbers, took_s, strict=True)
    ]
    burned = [one for number in numbers for one in written.burned(number, by=by or whoever())]
    uses = [written.use(number, laid_in=laid_in) if stock else None for number in numbers]
    from kerfwright.output.recorded_runs import how_to_make_again, run_in_words
    from kerfwright.output.stock_list import use_in_words
    from kerfwright.shop.run_stock import record_with_stock

    with _opened(place) as kept:
        for one in record_with_stock(
            kept, runs, uses, by=by or whoever(), again=again, burned=burned
        ):
            typer.echo(run_in_words(one.recorded))
            if one.taken is not None:
                typer.echo(use_in_words(one.taken, one.back))
        for name in spoilt:
            typer.echo(how_to_make_again(plan, runs[0].sheet, name))
        same = [one for one in kept.runs(runs[0].machine) if one.run.clock == runs[0].clock]
    _say_how_many(same)


def records(
    machine: Annotated[str | None, typer.Option(help="Only runs of this machine.")] = None,
    forgotten: Annotated[
        bool, typer.Option("--all", help="Also runs that were taken out.")
    ] = False,
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    place: RecordsPlace = None,
) -> None:
    """List the recorded runs."""
    from kerfwright.output.recorded_runs import print_runs, runs_json

    with _opened(place) as kept:
        runs = kept.runs(machine, forgotten=forgotten)
        if json:
            typer.echo(runs_json(runs))
        else:
            print_runs(runs, kept.place)


def backup(
    file: Annotated[Path, typer.Argument(help="Where to write it (JSON).")],
    place: RecordsPlace = None,
) -> None:
    """Write everything on record into one file: runs, stock, orders."""
    from kerfwright.shop.backup import backup_text, write_backup
    from kerfwright.shop.database import Database, records_place

    database = Database(records_place(place))
    try:
        write_backup(file, backup_text(database))
    finally:
        database.close()
    typer.echo(f"Everything in {database.place} is written to {file}.")


def restore(
    file: Annotated[Path, typer.Argument(help="What backup wrote.")],
    place: RecordsPlace = None,
) -> None:
    """Read a backup into a place that holds no records yet."""
    from kerfwright.shop import backup as kept
    from kerfwright.shop.database import Database, records_place

    database = Database(records_place(place))
    try:
        counts = kept.restore(database, kept.read_backup(file), str(file))
    finally:
        database.close()
    rows = ", ".join(f"{count} in {name}" for name, count in counts.items() if count)
    typer.echo(f"Read back into {database.place}: {rows or 'nothing, it was empty'}.")


def _forget(number: int, place: str | None) -> None:
    """Take a run out; what it did to the stock stays, and is told."""
    from kerfwright.output.recorded_runs import run_in_words
    from kerfwright.shop.stock_records import Stock

    with _opened(place) as kept:
        typer.echo(f"Taken out. {run_in_words(kept.forget(number))}")
        stock = Stock(kept.database)
        moved = [line for line in stock.movements() if line.run == number]
        for line in moved:
            if line.what == "used":
                rests = [
                    f"kerfwright stock scrap {one.label}"
                    for one in moved
                    if one.what == "returned" and stock.lot(one.label).on_hand
                ]
                words = ", and for what was put in as left of it: ".join(
                    [f"kerfwright stock return {line.label}", *rests]
                )
                typer.echo(f"Its sheet stays used. If it was not: {words}")


@contextmanager
def _opened(place: str | None) -> Iterator[RunRecords]:
    from kerfwright.shop.database import records_place
    from kerfwright.shop.records import RunRecords

    kept = RunRecords(records_place(place))
    try:
        yield kept
    finally:
        kept.close()


def _times_s(sheets: Sequence[int], minutes: Sequence[str], seconds: Sequence[str]) -> list[float]:
    from kerfwright.shop.stopwatch import seconds_of, seconds_of_minutes

    if bool(minutes) == bool(seconds):
        given = "minutes and seconds were given" if minutes else "no time was given"
        raise _unclear(f"{given}.")
    times = [seconds_of_minutes(one) for one in minutes] or [seconds_of(one) for one in seconds]
    if len(times) != max(len(sheets), 1):
        raise _unclear(f"{len(sheets)} sheets and {len(times)} times were given.")
    return times


def _require_nothing_else(*given: object) -> None:
    if any(given):
        raise _unclear("--forget takes a run out and records none.")


def _unclear(what: str) -> KerfwrightError:
    return KerfwrightError(
        "records/unclear",
        file="kerfwright record",
        thing=what,
        remedy="Write, for example: kerfwright record FOLDER --sheet 1 --minutes 31:40; for "
        "several sheets each --sheet with its own --minutes.",
    )


def _say_how_many(runs: Sequence[RecordedRun]) -> None:
    from kerfwright.findings import number_of
    from kerfwright.shop.runs import LEAST_RUNS

    missing = LEAST_RUNS - len(runs)
    more = f"; {missing} more and plans learn from them" if missing > 0 else ""
    typer.echo(f"{number_of(len(runs), 'run')} of this machine recorded{more}.")
