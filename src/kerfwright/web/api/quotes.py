"""What all orders of the workshop were quoted at."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter
from pydantic import BaseModel

from kerfwright.errors import KerfwrightError
from kerfwright.output.quote_document import QuoteDocument
from kerfwright.shop.files import load_order
from kerfwright.web.api.orders import Here, PlanState, plan_state
from kerfwright.web.api.price import quote_of, rates_changed, why_not_priced
from kerfwright.web.workshop import OrderFolder, Workshop

router = APIRouter(tags=["price"])


class QuotedOrder(BaseModel):
    """An order and the quote of its plan, where it has one."""

    slug: str
    title: str
    due: date | None = None
    """The soonest day on which something of it must be ready."""
    plan: PlanState = "none"
    rates_changed: bool = False
    """Whether the rates were changed since the order was planned: the price is then an old one."""
    quote: QuoteDocument | None = None
    why_not: str = ""
    """Why there is no quote."""


@router.get("/quotes")
def list_quotes(workshop: Here) -> list[QuotedOrder]:
    """All orders with their prices, or why they have none."""
    return [_quoted(workshop, order) for order in workshop.orders()]


def _quoted(workshop: Workshop, order: OrderFolder) -> QuotedOrder:
    try:
        workshop.require_inside(order)
        read = load_order(order.file)
    except KerfwrightError as error:
        return QuotedOrder(
            slug=order.slug, title=order.slug, why_not=f"{error.thing} {error.remedy}"
        )
    quote = quote_of(order)
    return QuotedOrder(
        slug=order.slug,
        title=read.title,
        due=read.due,
        plan=plan_state(order),
        rates_changed=quote is not None and rates_changed(order, read.rates),
        quote=quote,
        why_not="" if quote is not None else why_not_priced(order, read.rates),
    )
