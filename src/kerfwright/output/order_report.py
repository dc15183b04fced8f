"""What orders came to, on the terminal and as JSON: time, material, earnings."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Literal

from pydantic import BaseModel
from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.output.order_list import beside
from kerfwright.output.text import area, duration, printable
from kerfwright.shop.order_figures import (
    MaterialUse,
    OrderFigures,
    figures_of,
    material_use,
    together,
)
from kerfwright.shop.orders import ShopOrder

CENT = Decimal("0.01")

REPORT_COLUMNS = (
    ("expected", 11),
    ("took", 11),
    ("×", 4),
    ("re-makes", 8),
    ("scrapped", 8),
    ("material", 8),
    ("used", 4),
    ("an hour", 10),
)


class FiguresRecord(BaseModel):
    """Figures of one order, or of all together (without a title); seconds and mm²."""

    title: str | None
    reference: str
    """What tells the order from others of its title; empty where the title does."""
    expected_s: float
    actual_s: float
    remakes: int
    scrapped_parts: int
    sheets_mm2: float
    parts_mm2: float
    an_hour: str | None
    currency: str


class MaterialRecord(BaseModel):
    """Sheets of a material that were run; mm²."""

    material: str
    sheets: int
    sheets_mm2: float
    parts_mm2: float


class ReportRecord(BaseModel):
    """What the orders with recorded runs came to."""

    schema_version: Literal[1] = 1
    orders: tuple[FiguresRecord, ...]
    together: FiguresRecord
    materials: tuple[MaterialRecord, ...]


def report_record(orders: Sequence[ShopOrder]) -> ReportRecord:
    """Gather what orders with recorded runs came to."""
    run = _run(orders)
    figures = [figures_of(one) for one in run]
    return ReportRecord(
        orders=tuple(
            _record(one.title, its, one.reference) for one, its in zip(run, figures, strict=True)
        ),
        together=_record(None, together(figures)),
        materials=tuple(
            MaterialRecord(
                material=one.material,
                sheets=one.sheets,
                sheets_mm2=one.sheets_mm2,
                parts_mm2=one.parts_mm2,
            )
            for one in material_use(run)
        ),
    )


def report_json(orders: Sequence[ShopOrder]) -> str:
    """Return what orders came to as indented JSON text."""
    return report_record(orders).model_dump_json(indent=2)


def print_report(orders: Sequence[ShopOrder], console: Console | None = None) -> None:
    """Print what orders came to, all of them together, and what they took of each material."""
    console = console or Console()
    run = _run(orders)
    if not run:
        console.print(
            "No sheet of a planned order has a recorded run yet.",
            markup=False,
            highlight=False,
            soft_wrap=True,
        )
        return
    figures = [figures_of(one) for one in run]
    for number, (one, its) in enumerate(zip(run, figures, strict=True)):
        console.print(Text(printable(f"{one.title}{beside(one)}"), style="bold"))
        console.print(_table(its, headed=number == 0))
    if len(run) > 1:
        console.print(Text("All together", style="bold"))
        console.print(_table(together(figures), headed=False))
    console.print()
    console.print(_materials(material_use(run)))


def _run(orders: Sequence[ShopOrder]) -> list[ShopOrder]:
    return [one for one in orders if one.actual_s]


def _table(its: OrderFigures, *, headed: bool) -> Table:
    """Numbers of one order, as wide as those of every other; 80 signs with their gaps."""
    table = Table(box=None, pad_edge=False, header_style="dim", show_header=headed)
    for name, wide in REPORT_COLUMNS:
        table.add_column(name, justify="right", no_wrap=True, min_width=wide)
    table.add_row(
        duration(its.expected_s),
        duration(its.actual_s),
        "–" if its.ratio is None else f"{its.ratio:.2f}",
        str(its.remakes),
        str(its.scrapped),
        area(its.sheets_mm2),
        "–" if its.used_fraction is None else f"{its.used_fraction:.0%}",
        _an_hour(its),
    )
    return table


def _an_hour(its: OrderFigures) -> str:
    if its.an_hour is None:
        return "–"
    amount = its.an_hour.quantize(CENT, ROUND_HALF_EVEN)
    return printable(f"{amount} {its.currency}".strip())


def _materials(uses: Sequence[MaterialUse]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("material laid in")
    for name in ("sheets", "area", "used"):
        table.add_column(name, justify="right", no_wrap=True)
    for one in uses:
        table.add_row(
            Text(printable(one.material)),
            str(one.sheets),
            area(one.sheets_mm2),
            f"{one.parts_mm2 / one.sheets_mm2:.0%}" if one.sheets_mm2 else "–",
        )
    return table


def _record(title: str | None, its: OrderFigures, reference: str = "") -> FiguresRecord:
    an_hour = its.an_hour
    return FiguresRecord(
        title=title,
        reference=reference,
        expected_s=its.expected_s,
        actual_s=its.actual_s,
        remakes=its.remakes,
        scrapped_parts=its.scrapped,
        sheets_mm2=its.sheets_mm2,
        parts_mm2=its.parts_mm2,
        an_hour=None if an_hour is None else f"{an_hour.quantize(CENT, ROUND_HALF_EVEN)}",
        currency=its.currency,
    )
