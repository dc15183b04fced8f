"""The stock on the terminal and as JSON."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Literal

from pydantic import BaseModel, ConfigDict
from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.findings import number_of
from kerfwright.output.text import area, printable, short_number
from kerfwright.shop.stock_lots import Lot, Movement, StockedLot

CENT = Decimal("0.01")


class LotRecord(BaseModel):
    """A lot in stock; lengths in mm."""

    model_config = ConfigDict(frozen=True)

    label: str
    material: str
    kind: Literal["sheet", "offcut"]
    width_mm: float
    height_mm: float
    area_mm2: float
    rings: tuple[tuple[tuple[float, float], ...], ...]
    on_hand: int
    reserved: dict[str, int]
    free: int
    location: str
    cost: str | None
    price_per_m2: str | None
    worth: str | None
    received_on: datetime.date
    cut_from: str | None
    note: str


class StockRecord(BaseModel):
    """What was asked for of the stock."""

    schema_version: Literal[1] = 1
    lots: tuple[LotRecord, ...]
    worth: str


def stock_record(lots: Sequence[StockedLot], offcut_share: float) -> StockRecord:
    """Gather lots and what they are worth."""
    records = tuple(_record(one, offcut_share) for one in lots)
    return StockRecord(lots=records, worth=f"{value_of(lots, offcut_share)[0]}")


def stock_json(lots: Sequence[StockedLot], offcut_share: float) -> str:
    """Return lots as indented JSON text."""
    return stock_record(lots, offcut_share).model_dump_json(indent=2)


def value_of(lots: Sequence[StockedLot], offcut_share: float) -> tuple[Decimal, int]:
    """What all that is on hand is worth, and how many sheets of it have no price."""
    total, unpriced = Decimal(0), 0
    for one in lots:
        worth = one.lot.worth(offcut_share)
        if worth is None:
            unpriced += one.on_hand
        else:
            total += worth * one.on_hand
    return total.quantize(CENT, ROUND_HALF_EVEN), unpriced


def print_stock(
    lots: Sequence[StockedLot], place: str, offcut_share: float, console: Console | None = None
) -> None:
    """Print lots, a table for each material, and what they are worth."""
    console = console or Console()
    if not lots:
        _say(
            console,
            f"Nothing of the kind is in stock in {place}. To put sheets in: kerfwright stock "
            'receive "birch plywood 3 mm" 600x400 --count 5',
        )
        return
    for material in dict.fromkeys(one.lot.material for one in lots):
        console.print(Text(printable(material), style="bold"))
        console.print(_table([one for one in lots if one.lot.material == material], offcut_share))
    total, unpriced = value_of(lots, offcut_share)
    without = f"; {number_of(unpriced, 'sheet')} without a price not counted" if unpriced else ""
    if total:
        _say(
            console, f"Worth {total} in all, offcuts at {offcut_share:.0%} of their price{without}."
        )


def print_movements(movements: Sequence[Movement], console: Console | None = None) -> None:
    """Print the ledger."""
    console = console or Console()
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in ("day", "label", "what"):
        table.add_column(name, no_wrap=True)
    for name in ("on hand", "reserved"):
        table.add_column(name, justify="right")
    table.add_column("for")
    table.add_column("by")
    for line in movements:
        table.add_row(
            line.moved_at.astimezone().strftime("%Y-%m-%d %H:%M"),
            line.label,
            line.what,
            f"{line.on_hand:+d}" if line.on_hand else "",
            f"{line.held:+d}" if line.held else "",
            Text(printable(_cause(line))),
            Text(printable(line.moved_by)),
        )
    console.print(table)


def lot_in_words(one: StockedLot) -> str:
    """A lot on one line."""
    return printable(
        f"{one.label}: {one.lot.material}, {size_in_words(one.lot)}; {_counts(one)}"
        + (f"; {one.lot.location}" if one.lot.location else "")
        + (f"; cut from {one.cut_from}" if one.cut_from else "")
    )


def use_in_words(taken: StockedLot, back: StockedLot | None) -> str:
    """What a run took out of stock and put in, on one line."""
    words = f"1 of {taken.label} is used, {number_of(taken.on_hand, 'sheet')} left"
    if back is None:
        return f"{words}; no offcut was put into stock."
    return (
        f"{words}. The offcut goes back as {back.label}: {size_in_words(back.lot)}. "
        f"Write {back.label} on it."
    )


def size_in_words(lot: Lot) -> str:
    """Size and, where it is no full rectangle, area."""
    size = rectangle_in_words(lot)
    return f"{size} ({area(lot.area.area)})" if lot.rings else size


def rectangle_in_words(lot: Lot) -> str:
    """Size of the smallest rectangle round a piece."""
    return f"{short_number(lot.width_mm, 1)} × {short_number(lot.height_mm, 1)} mm"


def _counts(one: StockedLot) -> str:
    held = ", ".join(f"{count} for {order}" for order, count in one.held.items())
    return f"{one.on_hand} on hand" + (f", reserved: {held}" if held else "")


def _cause(line: Movement) -> str:
    beside = f" ({line.reference})" if line.reference else ""
    words = [f"{line.order}{beside}"] if line.order or beside else []
    words += [f"sheet {line.sheet}"] if line.sheet is not None else []
    words += [f"run {line.run}"] if line.run is not None else []
    words += [line.note] if line.note else []
    return ", ".join(words)


def _record(one: StockedLot, offcut_share: float) -> LotRecord:
    lot, worth = one.lot, one.lot.worth(offcut_share)
    return LotRecord(
        label=one.label,
        material=lot.material,
        kind=lot.kind,
        width_mm=round(lot.width_mm, 3),
        height_mm=round(lot.height_mm, 3),
        area_mm2=round(lot.area.area, 3),
        rings=tuple(tuple((round(x, 3), round(y, 3)) for x, y in ring) for ring in lot.rings),
        on_hand=one.on_hand,
        reserved=dict(one.held),
        free=one.free,
        location=lot.location,
        cost=None if lot.cost is None else f"{lot.cost:f}",
        price_per_m2=None if lot.price_per_m2 is None else f"{lot.price_per_m2:f}",
        worth=None if worth is None else f"{worth.quantize(CENT, ROUND_HALF_EVEN)}",
        received_on=lot.received_on,
        cut_from=one.cut_from,
        note=lot.note,
    )


def _table(lots: Sequence[StockedLot], offcut_share: float) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("label", no_wrap=True)
    table.add_column("kind", no_wrap=True)
    table.add_column("size", no_wrap=True)
    for name in ("on hand", "free", "each worth"):
        table.add_column(name, justify="right", no_wrap=True)
    words = {
        "area": [area(one.lot.area.area) if one.lot.rings else "" for one in lots],
        "reserved for": [", ".join(f"{o} ({n})" for o, n in one.held.items()) for one in lots],
        "lies": [one.lot.location for one in lots],
        "note": [one.lot.note for one in lots],
    }
    told = {name: column for name, column in words.items() if any(column)}
    for name in told:
        table.add_column(name, no_wrap=name == "area")
    for number, one in enumerate(lots):
        worth = one.lot.worth(offcut_share)
        table.add_row(
            one.label,
            one.lot.kind,
            rectangle_in_words(one.lot),
            str(one.on_hand),
            str(one.free),
            "–" if worth is None else str(worth.quantize(CENT, ROUND_HALF_EVEN)),
            *(Text(printable(column[number])) for column in told.values()),
            style="dim" if one.on_hand == 0 else None,
        )
    return table


def _say(console: Console, words: str) -> None:
    console.print(words, markup=False, highlight=False, soft_wrap=True)
