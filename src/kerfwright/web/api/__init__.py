"""The HTTP interface, one module a subject. Everything the pages do they do by it."""

from __future__ import annotations

from kerfwright.web.api.beam import router as beam
from kerfwright.web.api.orders import router as orders

ROUTERS = (orders, beam)
