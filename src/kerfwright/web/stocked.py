"""What is in stock on record, for orders that take their sheets from there."""

from __future__ import annotations

from collections.abc import Sequence

from kerfwright.shop.database import Database, records_place
from kerfwright.shop.stock_lots import StockedLot, StockOf
from kerfwright.shop.stock_records import Stock
from kerfwright.web.workshop import Workshop


def stock_reader(workshop: Workshop) -> StockOf:
    """Return what reads the stock of some materials as it is asked for."""

    def stock_of(materials: Sequence[str]) -> Sequence[StockedLot]:
        database = Database(records_place(workshop.records))
        try:
            return Stock(database).of_materials(materials)
        finally:
            database.close()

    return stock_of
