"""The price of a planned order."""

from __future__ import annotations

from contextlib import suppress

from fastapi import APIRouter
from pydantic import BaseModel, ValidationError

from kerfwright.output.quote_document import QuoteDocument, QuotesDocument
from kerfwright.web.api.orders import ThisOrder
from kerfwright.web.price_files import NO_PRICE_FILE

router = APIRouter(tags=["price"])


class Price(BaseModel):
    """The quote of the order's plan, where there is one."""

    quote: QuoteDocument | None
    why_not: str


@router.get("/orders/{slug}/price")
def price_of(order: ThisOrder) -> Price:
    """Every line of the reckoning."""
    with suppress(OSError, ValidationError):
        text = (order.plan_folder / "quote.json").read_text(encoding="utf-8")
        return Price(quote=QuotesDocument.model_validate_json(text).quote, why_not="")
    why = "The order is not planned yet, or names no rates: without them nothing has a price."
    with suppress(OSError):
        why = (order.plan_folder / NO_PRICE_FILE).read_text(encoding="utf-8")
    return Price(quote=None, why_not=why)
