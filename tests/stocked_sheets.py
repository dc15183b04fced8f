"""Sheets and offcuts written out by hand. All numbers are invented."""

from __future__ import annotations

import datetime
from dataclasses import replace
from decimal import Decimal

from kerfwright.shop.stock_ledger import Cause
from kerfwright.shop.stock_lots import Lot

DAY = datetime.date(2026, 5, 4)

KEEPER = Cause("keeper")

CUT_OFF = ((0.0, 0.0), (120.0, 0.0), (60.0, 100.0), (0.0, 100.0))

HOLE = ((10.0, 10.0), (20.0, 10.0), (20.0, 20.0))


def a_sheet(**changes: object) -> Lot:
    lot = Lot("board", 600.0, 400.0, DAY, location="rack 2", price_per_m2=Decimal("20.00"))
    return replace(lot, **changes)  # type: ignore[arg-type]


def an_offcut(**changes: object) -> Lot:
    lot = Lot("board", 120.0, 100.0, DAY, "offcut", (CUT_OFF, HOLE))
    return replace(lot, **changes)  # type: ignore[arg-type]
