"""A quote as a PDF for the customer, its fonts embedded."""

from __future__ import annotations

import datetime
from decimal import Decimal

from fpdf.enums import TableBordersLayout
from fpdf.fonts import FontFace

from kerfwright.output.paper import SOFT, Paper, not_printable
from kerfwright.output.quote_page import valid_until
from kerfwright.output.text import printable, short_number
from kerfwright.quoting.model import Quote
from kerfwright.quoting.money import in_words
from kerfwright.shop.rates import Rates


def quote_words(quote: Quote, rates: Rates) -> tuple[str, ...]:
    """Words on the quote that come from the shop's files."""
    return (
        *(rates.shop, *rates.address, *rates.terms, quote.title, quote.tax.what),
        *(word for item in quote.items for word in (item.item, item.material)),
    )


def quote_pdf(quote: Quote, rates: Rates, made: datetime.date) -> bytes:
    """Return the quote on A4 pages: the shop, the items, tax and total, the terms."""
    pdf = Paper(quote.title, rates.shop)
    pdf.add_page()
    pdf.say(rates.shop, style="B", size=12)
    for line in rates.address:
        pdf.say(line, soft=True)
    pdf.ln(9)
    pdf.say(f"Quote of {made.isoformat()}", soft=True)
    pdf.say(quote.title, size=17, style="B")
    if quote.invented:
        pdf.say("Invented: rates, settings or order are examples. This is no offer.", style="B")
    pdf.ln(3)
    _items(pdf, quote, rates)
    pdf.ln(4)
    pdf.say(f"Valid until {valid_until(rates, made).isoformat()}.")
    for line in rates.terms:
        pdf.say(line)
    return bytes(pdf.output())


def _items(pdf: Paper, quote: Quote, rates: Rates) -> None:
    plain = not_printable([in_words(-quote.total, quote.currency, quote.locale)])

    def money(amount: Decimal) -> str:
        # what cannot be printed as people there write it has the currency's code instead
        if plain:
            return f"{quote.currency} {amount:,f}"
        return in_words(amount, quote.currency, quote.locale)

    with pdf.table(
        col_widths=(62, 52, 14, 26, 28),
        text_align=("LEFT", "LEFT", "RIGHT", "RIGHT", "RIGHT"),
        borders_layout=TableBordersLayout.HORIZONTAL_LINES,
        headings_style=FontFace(color=SOFT),
        line_height=5.5,
        padding=1,
    ) as table:
        row = table.row()
        for name in ("Item", "Material", "Pieces", "Each, about", "Price"):
            row.cell(name)
        for item in quote.items:
            off = short_number(float(item.discount) * 100)
            told = f" ({off} % off for {item.pieces})" if item.discount else ""
            row = table.row()
            row.cell(printable(item.item) + told)
            row.cell(printable(item.material))
            row.cell(str(item.pieces))
            row.cell(money(item.each))
            row.cell(money(item.price))
        sums = [("Net", quote.net)]
        if quote.tax.amount:
            share = short_number(float(rates.tax) * 100, 3)
            of_it = f"{printable(quote.tax.what)}, {share} % of {money(quote.net)}"
            sums.append((of_it, quote.tax.amount))
        for name, amount in sums:
            row = table.row()
            row.cell(name, colspan=4)
            row.cell(money(amount))
        row = table.row(style=FontFace(emphasis="BOLD"))
        row.cell("To be paid", colspan=4)
        row.cell(money(quote.total))
