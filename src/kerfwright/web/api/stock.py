"""Sheets and offcuts on record: what is there, what comes in, what goes out."""

from __future__ import annotations

import datetime
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Response
from fastapi.responses import PlainTextResponse
from pydantic import BaseModel, ConfigDict, Field

from kerfwright.output.stock_list import LotRecord, StockRecord, stock_record
from kerfwright.shop.stock_csv import csv_of, lots_of_csv
from kerfwright.shop.stock_fits import fits
from kerfwright.shop.stock_ledger import Cause
from kerfwright.shop.stock_lots import Lot, LotKind, Moved, StockedLot
from kerfwright.shop.stock_records import whoever
from kerfwright.shop.stock_words import amount_of, outline_of, size_of
from kerfwright.web import kept
from kerfwright.web.api.orders import Here

router = APIRouter(tags=["stock"])

OFFCUT_SHARE = 0.5

MOST = 1_000_000

MOST_LABELS = 500
"""Printed at once."""

Words = Annotated[str, Field(max_length=200)]


class Arrival(BaseModel):
    """Sheets, or an offcut, that come into stock."""

    model_config = ConfigDict(extra="forbid")

    material: Annotated[str, Field(min_length=1, max_length=200)]
    size: Words
    """Width and height in mm, such as 600x400."""
    count: Annotated[int, Field(ge=1, le=MOST)] = 1
    kind: LotKind = "sheet"
    outline: Annotated[str, Field(max_length=20_000)] = ""
    """Corners of an odd piece: "0,0 120,0 60,100"; holes after a semicolon."""
    location: Words = ""
    cost: Words = ""
    price_per_m2: Words = ""
    label: Words = ""
    """By default the next free one."""
    note: Words = ""


class Movement(BaseModel):
    """What happens to a lot that is there."""

    model_config = ConfigDict(extra="forbid")

    what: Literal["scrap", "return", "use", "release", "more"]
    count: Annotated[int, Field(ge=1, le=MOST)] = 1
    note: Words = ""


class Place(BaseModel):
    """Where a lot lies."""

    model_config = ConfigDict(extra="forbid")

    location: Words


class MovementRecord(BaseModel):
    """A line of the ledger."""

    number: int
    label: str
    what: Moved
    on_hand: int
    held: int
    moved_at: datetime.datetime
    moved_by: str
    order: str
    sheet: int | None
    run: int | None
    note: str


class StockTable(BaseModel):
    """A CSV table of stock, as text."""

    model_config = ConfigDict(extra="forbid")

    text: Annotated[str, Field(max_length=5_000_000)]


class Labels(BaseModel):
    """Which labels are to be printed."""

    model_config = ConfigDict(extra="forbid")

    labels: Annotated[
        tuple[Annotated[str, Field(min_length=1, max_length=50)], ...],
        Field(min_length=1, max_length=MOST_LABELS),
    ]
    small_pages: bool = False
    """A page of 90 × 50 mm for each, no A4 sheet of ten."""


@router.get("/stock")
def list_stock(
    workshop: Here,
    material: Annotated[str, Query(max_length=200)] = "",
    at_least: Annotated[str, Query(max_length=50)] = "",
    gone: bool = False,
    offcut_share: Annotated[float, Query(ge=0.0, le=1.0)] = OFFCUT_SHARE,
) -> StockRecord:
    """What is in stock; ``at_least`` leaves free pieces that a rectangle like 200x150 fits in."""
    with kept.stock(workshop) as stock:
        lots = stock.lots(gone=gone)
    words = material.casefold().split()
    lots = [one for one in lots if all(word in one.lot.material.casefold() for word in words)]
    if at_least:
        size = size_of(at_least, "at least")
        lots = [one for one in lots if one.free > 0 and fits(one.lot.area, *size)]
        lots.sort(key=lambda one: one.lot.area.area)
    return stock_record(lots, offcut_share)


@router.post("/stock", status_code=201)
def receive(workshop: Here, arrival: Arrival) -> list[LotRecord]:
    """Put sheets or an offcut into stock."""
    lot = Lot(
        arrival.material,
        *size_of(arrival.size, "size"),
        datetime.date.today(),
        arrival.kind,
        outline_of(arrival.outline, "outline"),
        arrival.location,
        amount_of(arrival.cost, "cost"),
        amount_of(arrival.price_per_m2, "price"),
        arrival.note,
    )
    with kept.stock(workshop) as stock:
        return _lots(stock.receive([(lot, arrival.count, arrival.label or None)], _cause()))


@router.get("/stock/table.csv", response_class=PlainTextResponse)
def stock_table(workshop: Here) -> PlainTextResponse:
    """The stock as a CSV table."""
    with kept.stock(workshop) as stock:
        text = csv_of(stock.lots())
    name = 'attachment; filename="stock.csv"'
    return PlainTextResponse(text, media_type="text/csv", headers={"content-disposition": name})


@router.post("/stock/table", status_code=201)
def take_in_table(workshop: Here, table: StockTable) -> list[LotRecord]:
    """Put every row of a CSV table into stock, all or none."""
    rows = lots_of_csv(table.text, "the table", today=datetime.date.today())
    with kept.stock(workshop) as stock:
        return _lots(stock.receive(rows, _cause("from a table")))


@router.post("/stock/labels", response_class=Response)
def print_labels(workshop: Here, wanted: Labels) -> Response:
    """Labels of lots as PDF: size, outline, material, place, and a code."""
    from kerfwright.output.labels import label_of_lot, labels_pdf  # noqa: PLC0415 (fpdf)

    with kept.stock(workshop) as stock:
        lots = [stock.lot(one) for one in dict.fromkeys(wanted.labels)]
    pdf = labels_pdf([label_of_lot(one) for one in lots], small_pages=wanted.small_pages)
    name = 'attachment; filename="labels.pdf"'
    return Response(pdf, media_type="application/pdf", headers={"content-disposition": name})


@router.get("/stock/{label}/movements")
def movements(workshop: Here, label: str) -> list[MovementRecord]:
    """What was done with a lot, line by line."""
    with kept.stock(workshop) as stock:
        return [
            MovementRecord.model_validate(one, from_attributes=True)
            for one in stock.movements(label)
        ]


@router.post("/stock/{label}/movements", status_code=201)
def move(workshop: Here, label: str, movement: Movement) -> LotRecord:
    """Scrap, use, return or release sheets of a lot, or add more that are alike."""
    cause = _cause(movement.note)
    with kept.stock(workshop) as stock:
        match movement.what:
            case "scrap":
                lot = stock.scrap(label, movement.count, cause)
            case "return":
                lot = stock.give_back(label, movement.count, cause)
            case "use":
                lot = stock.use(label, movement.count, cause)[0]
            case "more":
                lot = stock.receive_more(label, movement.count, cause)
            case _:
                lot = stock.release(label, cause)
    return _lots([lot])[0]


@router.put("/stock/{label}/place")
def put(workshop: Here, label: str, place: Place) -> LotRecord:
    """Note where a lot lies now."""
    with kept.stock(workshop) as stock:
        return _lots([stock.put(label, place.location)])[0]


def _lots(lots: list[StockedLot]) -> list[LotRecord]:
    return list(stock_record(lots, OFFCUT_SHARE).lots)


def _cause(note: str = "") -> Cause:
    return Cause(whoever(), note=note)
