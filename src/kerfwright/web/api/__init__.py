"""The HTTP interface, one module a subject. Everything the pages do they do by it."""

from __future__ import annotations

from kerfwright.web.api.batches import router as batches
from kerfwright.web.api.orders import router as orders

ROUTERS = (orders, batches)
