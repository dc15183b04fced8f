"""The price of a planned order, and of other ways beside it."""

from __future__ import annotations

import os
from contextlib import suppress
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, ValidationError

from kerfwright.errors import KerfwrightError
from kerfwright.output.files import PLAN_FILE
from kerfwright.output.quote_document import QuoteDocument, QuotesDocument
from kerfwright.shop.files import load_order
from kerfwright.web.api.held import ending, held
from kerfwright.web.api.orders import Here, ThisOrder
from kerfwright.web.price_compared import Asked, Comparison, Comparisons
from kerfwright.web.price_files import NO_PRICE_FILE
from kerfwright.web.workshop import OrderFolder, Workshop

router = APIRouter(tags=["price"], lifespan=ending("comparisons"))


def comparisons_of(request: Request, workshop: Here) -> Comparisons:
    """Return what prices orders otherwise."""
    return held(request, "comparisons", lambda: Comparisons(workshop.records))


TheComparisons = Annotated[Comparisons, Depends(comparisons_of)]


class Price(BaseModel):
    """The quote of the order's plan, where there is one, and the rates that it goes by."""

    quote: QuoteDocument | None
    why_not: str
    rates: str | None
    """The rates file that the order names."""
    rates_changed: bool
    """Whether the rates were changed since the order was planned: the price is then an old one."""
    workshop_rates: str | None
    """The workshop's rates file as the order would name it; null where there is none."""


@router.get("/orders/{slug}/price")
def price_of(order: ThisOrder, workshop: Here) -> Price:
    """Every line of the reckoning."""
    named = load_order(order.file).rates
    quote = quote_of(order)
    return Price(
        quote=quote,
        why_not="" if quote is not None else why_not_priced(order, named),
        rates=named,
        rates_changed=quote is not None and rates_changed(order, named),
        workshop_rates=_offered(order, workshop),
    )


@router.post("/orders/{slug}/price/comparison", status_code=202)
def compare(order: ThisOrder, comparisons: TheComparisons, asked: Asked) -> Comparison:
    """Plan and price the order in other numbers and materials; the order stays as it is."""
    if not list(asked.ways()):
        raise KerfwrightError(
            "rates/times-unclear",
            file=order.slug,
            thing="nothing to compare with was chosen.",
            remedy="Say how many times the order is to be made, or choose a material.",
        )
    comparisons.start(order, asked)
    return comparisons.state(order.slug)


@router.get("/orders/{slug}/price/comparison")
def comparison(order: ThisOrder, comparisons: TheComparisons) -> Comparison:
    """How far the comparison is, with the lines that are there."""
    return comparisons.state(order.slug)


@router.delete("/orders/{slug}/price/comparison", status_code=204)
def stop_comparison(order: ThisOrder, comparisons: TheComparisons) -> None:
    """Stop the comparison, or put it away."""
    comparisons.stop(order.slug)


def quote_of(order: OrderFolder) -> QuoteDocument | None:
    """The quote that planning wrote, where there is one that can be read."""
    with suppress(OSError, ValidationError):
        text = (order.plan_folder / "quote.json").read_text(encoding="utf-8")
        return QuotesDocument.model_validate_json(text).quote
    return None


def why_not_priced(order: OrderFolder, named: str | None) -> str:
    """Why an order has no quote; ``named`` is the rates file that it names."""
    if named is None:
        return "The order names no rates, and without them nothing has a price."
    if not (order.folder / named).is_file():
        return f"The order names the rates file {named}, and there is none."
    with suppress(OSError):
        return (order.plan_folder / NO_PRICE_FILE).read_text(encoding="utf-8")
    return "The price is known once the order is planned with its rates."


def rates_changed(order: OrderFolder, named: str | None) -> bool:
    """Whether the rates file was changed since the order was planned."""
    with suppress(OSError):
        planned_ns = (order.plan_folder / PLAN_FILE).stat().st_mtime_ns
        return named is not None and (order.folder / named).stat().st_mtime_ns > planned_ns
    return False


def _offered(order: OrderFolder, workshop: Workshop) -> str | None:
    rates = workshop.rates_file()
    if rates is None:
        return None
    return os.path.relpath(rates.resolve(), order.folder.resolve()).replace(os.sep, "/")
