"""The quote of a plan, written beside it for the pages and the customer."""

from __future__ import annotations

from pathlib import Path

from kerfwright.output.quote_files import write_quote
from kerfwright.plan import Plan
from kerfwright.quotation import quoted
from kerfwright.shop.files import Shop

QUOTE_FILES = ("quote.json", "quote.pdf", "quote.html", "reckoning.html")


def write_price(shop: Shop, plan: Plan, folder: Path) -> None:
    """Write the quote into the plan's folder; without rates, take an earlier one away.

    Raises:
        KerfwrightError: a material has no price.
    """
    if shop.rates is None:
        for name in QUOTE_FILES:
            (folder / name).unlink(missing_ok=True)
        return
    write_quote(quoted(shop, plan, shop.rates), shop.rates, folder)
