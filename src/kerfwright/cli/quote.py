"""The command that prices an order. Everything heavy is imported by the command itself."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Annotated, Any

import typer

from kerfwright.cli.records import RecordsPlace, runs_reader
from kerfwright.cli.stock import stock_reader
from kerfwright.errors import KerfwrightError

Command = Callable[..., Any]
Say = Callable[[str], None]


def add_quote_command(
    app: typer.Typer,
    told_plainly: Callable[[Command], Command],
    progress: Callable[[], AbstractContextManager[Say]],
) -> None:
    """Give ``app`` the command ``quote``; ``progress`` shows what is being done."""

    def quote(
        order: Annotated[Path, typer.Argument(help="The order file (TOML).")],
        out: Annotated[
            Path | None, typer.Option(help="Folder for quote.pdf, quote.html and the reckoning.")
        ] = None,
        times: Annotated[
            str, typer.Option(help="Also price so many times everything, such as 2,5,10.")
        ] = "",
        material: Annotated[
            list[str] | None, typer.Option(help="Also price all of it in this material.")
        ] = None,
        json: Annotated[bool, typer.Option("--json", help="Print JSON, no summary.")] = False,
        records: RecordsPlace = None,
    ) -> None:
        """Price an order: every cost, margin, discount and tax, and other ways beside it."""
        from kerfwright.output.quote_files import write_quote
        from kerfwright.output.quote_summary import print_quote, print_variants
        from kerfwright.planner import plan_shop
        from kerfwright.quotation import (
            compared,
            quoted,
            rates_of,
            require_materials,
            require_prices,
        )
        from kerfwright.shop.files import load_shop
        from kerfwright.warm import warm

        others = _numbers(times)
        with progress() as say:
            shop = load_shop(order, stock_reader(records))
            rates = rates_of(shop)
            require_materials(shop, material or ())
            require_prices(shop, rates)
            say("Loading the planner; on a new computer this takes some minutes, once")
            warm()
            runs_of = runs_reader(records)
            priced = quoted(shop, plan_shop(shop, say, runs_of), rates)
            variants = compared(
                shop, rates, times=others, materials=material or (), progress=say, runs_of=runs_of
            )
            lacking = "" if out is None else write_quote(priced, rates, out)
        beside = [(one.name, one.quote, one.why_not) for one in variants]
        if json:
            from kerfwright.output.quote_document import quotes_json

            typer.echo(quotes_json(priced, beside))
            return
        print_quote(priced)
        if variants:
            print_variants([("as ordered", priced, ""), *beside])
        if out is not None:
            typer.echo(
                f"Written to {out}: quote.pdf and quote.html for the customer, "
                "reckoning.html for the shop."
            )
        if lacking:
            typer.echo(
                f"quote.pdf lacks these letters, since its font has none for them: {lacking}. "
                "Print quote.html from a browser instead.\n"
                "  More: kerfwright help rates/letters-missing",
                err=True,
            )

    app.command()(told_plainly(quote))


def _numbers(times: str) -> list[int]:
    try:
        numbers = [int(word) for word in times.split(",") if word.strip()]
    except ValueError:
        numbers = [0]
    numbers = [number for number in numbers if number != 1]
    if any(not 1 <= number <= 10_000 for number in numbers):
        raise KerfwrightError(
            "rates/times-unclear",
            file="--times",
            thing=f'"{times}" is no list of whole numbers.',
            remedy="Give how many times the order is to be made, such as --times 2,5,10.",
        )
    return numbers
