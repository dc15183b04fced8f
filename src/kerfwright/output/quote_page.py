"""A quote as a page: for the customer, and with every line of the reckoning for the shop."""

from __future__ import annotations

import datetime
from decimal import Decimal
from functools import partial

from kerfwright.output.pages import render
from kerfwright.quoting.model import Quote
from kerfwright.quoting.money import in_words
from kerfwright.shop.rates import Rates


def quote_html(quote: Quote, rates: Rates, made: datetime.date, *, reckoning: bool) -> str:
    """Return a page that needs no other file; ``reckoning`` adds the costs, for the shop's eyes."""
    return render(
        "quote.html",
        quote=quote,
        rates=rates,
        made=made,
        until=valid_until(rates, made),
        reckoning=reckoning,
        money=partial(_money, quote),
    )


def valid_until(rates: Rates, made: datetime.date) -> datetime.date:
    """Last day on which a quote of ``made`` holds."""
    return made + datetime.timedelta(days=rates.valid_days)


def _money(quote: Quote, amount: Decimal) -> str:
    return in_words(amount, quote.currency, quote.locale)
