"""The HTTP interface, one module a subject. Everything the pages do they do by it."""

from __future__ import annotations

from kerfwright.web.api.orders import router as orders
from kerfwright.web.api.planning import router as planning

ROUTERS = (orders, planning)
