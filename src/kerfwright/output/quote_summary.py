"""A quote on the terminal: every line of the reckoning, and other ways beside it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.output.text import duration, printable
from kerfwright.quoting.model import Quote
from kerfwright.quoting.money import in_words


def print_quote(quote: Quote, console: Console | None = None) -> None:
    """Print costs, surcharges, items and the total."""
    console = console or Console()
    console.print(Text(printable(quote.title), style="bold"))
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("for")
    table.add_column("how")
    table.add_column("amount", justify="right", no_wrap=True)

    def add(what: str, how: str, amount: Decimal, style: str = "") -> None:
        words = in_words(amount, quote.currency, quote.locale)
        table.add_row(Text(printable(what), style), Text(printable(how)), Text(words, style))

    for line in quote.costs:
        add(line.what, line.how, line.amount)
    add("costs", "", quote.cost, "bold")
    for line in quote.surcharges:
        add(line.what, line.how, line.amount)
    add("net", "", quote.net, "bold")
    for item in quote.items:
        each = in_words(item.each, quote.currency, quote.locale)
        add(f"  of it {item.item}", f"{item.pieces} × about {each}", item.price)
    add(quote.tax.what, quote.tax.how, quote.tax.amount)
    add("to be paid", "", quote.total, "bold")
    console.print(table)
    if quote.invented:
        console.print("Rates, settings or the order are invented: this is no offer.", style="bold")


def print_variants(
    variants: Sequence[tuple[str, Quote | None, str]], console: Console | None = None
) -> None:
    """Print quotes beside each other: name, quote, and why there is none."""
    console = console or Console()
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("variant")
    for name in ("sheets", "machine", "net", "to be paid"):
        table.add_column(name, justify="right", no_wrap=True)
    notes = []
    for name, quote, why_not in variants:
        if quote is None:
            table.add_row(Text(printable(name)), "–", "–", "–", "–")
            notes.append(f"{printable(name)}: not possible: {printable(why_not)}")
            continue
        table.add_row(
            Text(printable(name)),
            str(quote.sheets),
            duration(quote.beam_s),
            *(in_words(sum_, quote.currency, quote.locale) for sum_ in (quote.net, quote.total)),
        )
    console.print(table)
    for note in notes:
        console.print(note, markup=False, highlight=False, soft_wrap=True)
