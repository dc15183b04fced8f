"""The HTTP interface, one module a subject. Everything the pages do they do by it."""

from __future__ import annotations

from kerfwright.web.api.drawings import router as drawings
from kerfwright.web.api.new_order import router as new_order
from kerfwright.web.api.orders import router as orders

ROUTERS = (orders, drawings, new_order)
