"""The quote of a plan, written beside it for the pages and the customer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kerfwright.errors import KerfwrightError

if TYPE_CHECKING:
    from kerfwright.plan import Plan
    from kerfwright.shop.files import Shop

NO_PRICE_FILE = "no-price.txt"

QUOTE_FILES = ("quote.json", "quote.pdf", "quote.html", "reckoning.html")


def write_price(shop: Shop, plan: Plan, folder: Path) -> None:
    """Write the quote into the plan's folder; without rates, take an earlier one away.

    A plan is a plan without its price: why there is none stands in :data:`NO_PRICE_FILE`.
    """
    # the server reads what is written here; only the process that plans needs all the planner
    from kerfwright.output.quote_files import write_quote  # noqa: PLC0415
    from kerfwright.quotation import quoted  # noqa: PLC0415

    for name in (*QUOTE_FILES, NO_PRICE_FILE):
        (folder / name).unlink(missing_ok=True)
    if shop.rates is None:
        return
    try:
        write_quote(quoted(shop, plan, shop.rates), shop.rates, folder)
    except KerfwrightError as error:
        (folder / NO_PRICE_FILE).write_text(f"{error.thing} {error.remedy}", encoding="utf-8")
