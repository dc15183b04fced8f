"""The HTTP interface, one module a subject. Everything the pages do they do by it."""

from __future__ import annotations

from kerfwright.web.api.batches import router as batches
from kerfwright.web.api.beam import router as beam
from kerfwright.web.api.calibration import router as calibration
from kerfwright.web.api.drawings import router as drawings
from kerfwright.web.api.fixtures import router as fixtures
from kerfwright.web.api.new_order import router as new_order
from kerfwright.web.api.orders import router as orders
from kerfwright.web.api.orders_on_record import router as orders_on_record
from kerfwright.web.api.planning import router as planning
from kerfwright.web.api.price import router as price
from kerfwright.web.api.programs import router as programs
from kerfwright.web.api.quotes import router as quotes
from kerfwright.web.api.recipes import router as recipes
from kerfwright.web.api.records import router as records
from kerfwright.web.api.reservations import router as reservations
from kerfwright.web.api.runs import router as runs
from kerfwright.web.api.sheets import router as sheets
from kerfwright.web.api.stock import router as stock
from kerfwright.web.api.workshop import router as workshop

ROUTERS = (
    batches,
    beam,
    calibration,
    drawings,
    fixtures,
    new_order,
    orders,
    orders_on_record,
    planning,
    price,
    programs,
    quotes,
    recipes,
    records,
    reservations,
    runs,
    sheets,
    stock,
    workshop,
)
