"""Writes a quote into a folder."""

from __future__ import annotations

import datetime
from pathlib import Path

from kerfwright.output.paper import not_printable
from kerfwright.output.quote_document import quotes_json
from kerfwright.output.quote_page import quote_html
from kerfwright.output.quote_pdf import quote_pdf, quote_words
from kerfwright.output.whole_file import whole_file
from kerfwright.output.writing import require_folder
from kerfwright.quoting.model import Quote
from kerfwright.shop.rates import Rates


def write_quote(quote: Quote, rates: Rates, folder: Path) -> str:
    """Write ``quote.pdf`` and ``quote.html`` for the customer, the reckoning and ``quote.json``.

    Returns the letters of names and terms that the PDF lacks, since its font has none for them.

    Raises:
        KerfwrightError: the folder cannot be written.
    """
    require_folder(folder)
    made = datetime.date.today()
    pages = {
        "quote.pdf": quote_pdf(quote, rates, made),
        "quote.html": quote_html(quote, rates, made, reckoning=False).encode(),
        "reckoning.html": quote_html(quote, rates, made, reckoning=True).encode(),
        "quote.json": (quotes_json(quote, ()) + "\n").encode(),
    }
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in pages.items():
        with whole_file(folder / name) as file:
            file.write_bytes(content)
    return not_printable(quote_words(quote, rates))
