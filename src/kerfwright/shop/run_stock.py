"""A run and what it does to the stock, in one transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely import Polygon

from kerfwright.shop.recipe_history import Described, note_within
from kerfwright.shop.records import RunRecords
from kerfwright.shop.runs import RecordedRun, Run
from kerfwright.shop.stock_ledger import Cause, Ledger
from kerfwright.shop.stock_lots import Lot, StockedLot, offcut_of
from kerfwright.shop.stock_records import used

SAME_SIZE_MM = 0.5
"""Sheets that differ by less are of one size; what is left of another size nobody has planned."""


@dataclass(frozen=True, eq=False, slots=True)
class SheetUse:
    """The sheet that a run takes, and what is left of it, in the sheet's coordinates."""

    label: str
    left: Polygon | None
    size_mm: tuple[float, float]
    plan_sha256: str


@dataclass(frozen=True, slots=True)
class RunWithStock:
    """A recorded run, what its sheet's lot holds now, and the offcut that came back."""

    recorded: RecordedRun
    taken: StockedLot | None = None
    back: StockedLot | None = None


def record_with_stock(
    records: RunRecords,
    runs: Sequence[Run],
    uses: Sequence[SheetUse | None],
    *,
    by: str,
    again: bool = False,
    burned: Sequence[Described] = (),
) -> list[RunWithStock]:
    """Keep runs, take their sheets out of stock and put the offcuts in: all of it, or nothing.

    ``uses`` has one entry for each run; ``burned`` are the recipes of all of them.

    Raises:
        KerfwrightError: ``records/recorded-before``, ``stock/no-such-label`` or
            ``stock/not-enough``.
    """
    with records.database.writing() as session:
        ledger = Ledger(session, records.place)
        recorded = records.record_within(session, runs, again=again)
        note_within(session, burned)
        return [
            RunWithStock(one) if use is None else _with_stock(ledger, one, use, by)
            for one, use in zip(recorded, uses, strict=True)
        ]


def _with_stock(ledger: Ledger, one: RecordedRun, use: SheetUse, by: str) -> RunWithStock:
    run = one.run
    cause = Cause(by, run.order, use.plan_sha256, run.sheet, one.number, reference=run.reference)
    parent = ledger.lot(use.label).lot
    left = None
    if use.left is not None and _is_as_large(parent, use.size_mm):
        left = offcut_of(parent, use.left, left_on=run.ran_on)
    taken, back = used(ledger, use.label, 1, cause, left)
    return RunWithStock(one, taken, back)


def _is_as_large(lot: Lot, size_mm: tuple[float, float]) -> bool:
    """Whether the piece is as large as the planned one, lying either way."""
    sides = zip(sorted((lot.width_mm, lot.height_mm)), sorted(size_mm), strict=True)
    return all(abs(side - planned) <= SAME_SIZE_MM for side, planned in sides)
