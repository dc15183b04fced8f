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
    with _database(workshop) as database:
        yield Stock(database)


@contextmanager
def shop_orders(workshop: Workshop) -> Iterator[Orders]:
    """Open the orders on record."""
    with _database(workshop) as database:
        yield Orders(database)


@contextmanager
def runs(workshop: Workshop) -> Iterator[RunRecords]:
    """Open the recorded runs."""
    kept = RunRecords(records_place(workshop.records))
    try:
        yield kept
    finally:
        kept.close()


@contextmanager
def _database(workshop: Workshop) -> Iterator[Database]:
    database = Database(records_place(workshop.records))
    try:
        yield database
    finally:
        database.close()
