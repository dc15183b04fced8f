"""The records that go with a workshop: stock, runs, orders."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from kerfwright.shop.database import Database, records_place
from kerfwright.shop.orders import Orders
from kerfwright.shop.records import RunRecords
from kerfwright.shop.stock_records import Stock
from kerfwright.web.workshop import Workshop


@contextmanager
def stock(workshop: Workshop) -> Iterator[Stock]:
    """Open the stock on record."""
    with database(workshop) as opened:
        yield Stock(opened)


@contextmanager
def shop_orders(workshop: Workshop) -> Iterator[Orders]:
    """Open the orders on record."""
    with database(workshop) as opened:
        yield Orders(opened)


@contextmanager
def runs(workshop: Workshop) -> Iterator[RunRecords]:
    """Open the recorded runs."""
    kept = RunRecords(records_place(workshop.records))
    try:
        yield kept
    finally:
        kept.close()


@contextmanager
def database(workshop: Workshop) -> Iterator[Database]:
    """Open the records as they are."""
    opened = Database(records_place(workshop.records))
    try:
        yield opened
    finally:
        opened.close()
