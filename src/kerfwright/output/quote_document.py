"""A quote as a document for other programs. Amounts are texts, so that no reader rounds them."""

from __future__ import annotations

from collections.abc import Sequence

from kerfwright.output.record import Count, NotNegative, Record
from kerfwright.output.text import encodable
from kerfwright.quoting.model import Quote, QuoteLine


class LineRecord(Record):
    """One line of the reckoning."""

    what: str
    """What it is for."""
    how: str
    """How it is worked out."""
    amount: str
    """Rounded amount, as a decimal number."""


class ItemRecord(Record):
    """Price of an item of the order, before tax."""

    item: str
    """What the item is called."""
    material: str
    """Name of its material."""
    pieces: Count
    """How many are ordered."""
    price: str
    """Price of all of them."""
    each: str
    """Price of one, rounded; only told, not reckoned with."""
    discount: str
    """Share taken off for the number of them."""


class QuoteDocument(Record):
    """A quote. The items add up to ``net``, and so do costs and surcharges."""

    title: str
    """What the order is called."""
    currency: str
    """Currency, by its ISO 4217 code."""
    costs: tuple[LineRecord, ...]
    """What the work costs the shop."""
    surcharges: tuple[LineRecord, ...]
    """From the costs to the net price: margin, discounts, the minimum."""
    items: tuple[ItemRecord, ...]
    """What each item is sold for."""
    net: str
    """Price before tax."""
    tax: LineRecord
    """The tax on it."""
    total: str
    """What is to be paid."""
    beam_s: NotNegative
    """Expected time of the machine."""
    sheets: Count
    """How many sheets are used."""
    invented: bool
    """True where rates, settings or order are examples."""


def quote_document(quote: Quote) -> QuoteDocument:
    """Turn a quote into its document."""
    return QuoteDocument(
        title=encodable(quote.title),
        currency=quote.currency,
        costs=tuple(_line(line) for line in quote.costs),
        surcharges=tuple(_line(line) for line in quote.surcharges),
        items=tuple(
            ItemRecord(
                item=encodable(item.item),
                material=encodable(item.material),
                pieces=item.pieces,
                price=f"{item.price:f}",
                each=f"{item.each:f}",
                discount=f"{item.discount:f}",
            )
            for item in quote.items
        ),
        net=f"{quote.net:f}",
        tax=_line(quote.tax),
        total=f"{quote.total:f}",
        beam_s=round(quote.beam_s, 3),
        sheets=quote.sheets,
        invented=quote.invented,
    )


def _line(line: QuoteLine) -> LineRecord:
    return LineRecord(what=encodable(line.what), how=line.how, amount=f"{line.amount:f}")


class VariantRecord(Record):
    """The order made otherwise, and its price."""

    variant: str
    """What is different."""
    quote: QuoteDocument | None
    """Its quote; null where it cannot be made."""
    why_not: str
    """Why it cannot be made; empty where it can."""


class QuotesDocument(Record):
    """A quote, and others that were asked for beside it."""

    quote: QuoteDocument
    """The order as it is."""
    variants: tuple[VariantRecord, ...]
    """The order made otherwise."""


def quotes_json(quote: Quote, variants: Sequence[tuple[str, Quote | None, str]]) -> str:
    """Return a quote as indented JSON; ``variants`` are name, quote, and why there is none."""
    document = QuotesDocument(
        quote=quote_document(quote),
        variants=tuple(
            VariantRecord(
                variant=encodable(name),
                quote=None if other is None else quote_document(other),
                why_not=encodable(why_not),
            )
            for name, other, why_not in variants
        ),
    )
    return document.model_dump_json(indent=2)
