"""Sheets of the stock on record that are reserved for a planned order."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter
from pydantic import BaseModel

from kerfwright.errors import KerfwrightError
from kerfwright.output.planned_runs import WrittenPlan
from kerfwright.output.stock_list import lot_in_words
from kerfwright.shop.stock_ledger import Cause
from kerfwright.shop.stock_lots import StockedLot
from kerfwright.shop.stock_records import whoever
from kerfwright.web import kept
from kerfwright.web.api.orders import Here, ThisOrder

router = APIRouter(tags=["stock"])


class Wanted(BaseModel):
    """Sheets of a label: how many the plan takes, and how many are reserved for the order."""

    label: str
    wanted: int
    reserved: int


class Reservation(BaseModel):
    """What the order's plan takes from stock, and what was done, in words."""

    sheets: list[Wanted]
    words: list[str] = []


@router.get("/orders/{slug}/reservation")
def show_reservation(workshop: Here, order: ThisOrder) -> Reservation:
    """Which sheets in stock the plan takes, and what of them is reserved for the order."""
    written = WrittenPlan(order.plan_folder)
    with kept.stock(workshop) as stock:
        return _reservation(written, stock.lots(gone=True))


@router.put("/orders/{slug}/reservation")
def reserve(workshop: Here, order: ThisOrder) -> Reservation:
    """Reserve the sheets that the plan takes, instead of those of an earlier plan."""
    written = WrittenPlan(order.plan_folder)
    if not written.labels:
        raise KerfwrightError(
            "stock/no-labels",
            file=str(written.file),
            thing="the plan takes no sheet from the stock on record.",
            remedy="Let the order take its sheets from stock, and plan it again.",
        )
    with kept.stock(workshop) as stock:
        words = [lot_in_words(one) for one in stock.reserve(written.labels, _cause(written))]
        return _reservation(written, stock.lots(gone=True), words)


@router.delete("/orders/{slug}/reservation")
def release(workshop: Here, order: ThisOrder) -> Reservation:
    """Release everything that is reserved for the order."""
    written = WrittenPlan(order.plan_folder)
    with kept.stock(workshop) as stock:
        words = [lot_in_words(one) for one in stock.release_order(_cause(written))]
        return _reservation(written, stock.lots(gone=True), words)


def _cause(written: WrittenPlan) -> Cause:
    return Cause(whoever(), written.title, written.sha256, reference=written.reference)


def _reservation(
    written: WrittenPlan, lots: Sequence[StockedLot], words: Sequence[str] = ()
) -> Reservation:
    whose = written.reference or written.title
    held = {one.label: one.held.get(whose, 0) for one in lots}
    labels = [*written.labels, *(label for label, n in held.items() if n)]
    return Reservation(
        sheets=[
            Wanted(label=label, wanted=written.labels[label], reserved=held.get(label, 0))
            for label in dict.fromkeys(labels)
        ],
        words=list(words),
    )
