"""A quote as a PDF for the customer, its fonts embedded."""

from __future__ import annotations

import datetime
from decimal import Decimal
from pathlib import Path
from typing import Literal

from font_source_sans_pro import font_files_ttf
from fpdf import FPDF
from fpdf.enums import Align, TableBordersLayout
from fpdf.fonts import FontFace

from kerfwright.output.quote_page import valid_until
from kerfwright.output.text import printable, short_number
from kerfwright.quoting.model import Quote
from kerfwright.quoting.money import in_words
from kerfwright.shop.rates import Rates

FONT = "source sans"
"""Source Sans, under the SIL Open Font License: Latin, Greek and Cyrillic letters."""

FONT_FILES = {
    "": font_files_ttf["SourceSansPro"],
    "B": font_files_ttf["SourceSansProBold"],
}

SOFT = (90, 88, 82)
RULE = (200, 197, 188)


def quote_pdf(quote: Quote, rates: Rates, made: datetime.date) -> bytes:
    """Return the quote on A4 pages: the shop, the items, tax and total, the terms."""
    pdf = _Paper(quote.title, rates.shop)
    pdf.add_page()
    pdf.heading(rates.shop, rates.address)
    pdf.say(f"Quote of {made.isoformat()}", soft=True)
    pdf.say(quote.title, size=17, style="B")
    if quote.invented:
        pdf.say("Invented: rates, settings or order are examples. This is no offer.", style="B")
    pdf.ln(3)
    _items(pdf, quote)
    pdf.ln(4)
    pdf.say(f"Valid until {valid_until(rates, made).isoformat()}.")
    for line in rates.terms:
        pdf.say(line)
    return bytes(pdf.output())


def _items(pdf: _Paper, quote: Quote) -> None:
    def money(amount: Decimal) -> str:
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
            sums.append((f"{printable(quote.tax.what)}, {quote.tax.how}", quote.tax.amount))
        for name, amount in sums:
            row = table.row()
            row.cell(name, colspan=4)
            row.cell(money(amount))
        row = table.row(style=FontFace(emphasis="BOLD"))
        row.cell("To be paid", colspan=4)
        row.cell(money(quote.total))


class _Paper(FPDF):
    """A4 pages with the shop's name and the page's number at the foot."""

    def __init__(self, title: str, shop: str) -> None:
        super().__init__(format="A4")
        self._shop = printable(shop)
        self.set_title(printable(title))
        self.set_author(self._shop)
        self.set_lang("en")
        self.set_margins(20, 18)
        self.set_auto_page_break(auto=True, margin=20)
        for style, file in FONT_FILES.items():
            self.add_font(FONT, style, Path(file))
        self.set_font(FONT, size=10)
        self.set_draw_color(*RULE)

    def footer(self) -> None:
        self.set_y(-14)
        self.set_font(FONT, size=8)
        self.set_text_color(*SOFT)
        self.cell(0, 5, self._shop)
        self.cell(0, 5, f"{self.page_no()} of {{nb}}", align=Align.R)
        self.set_text_color(0)
        self.set_font(FONT, size=10)

    def heading(self, shop: str, address: tuple[str, ...]) -> None:
        self.say(shop, style="B", size=12)
        for line in address:
            self.say(line, soft=True)
        self.ln(9)

    def say(
        self, words: str, *, style: Literal["", "B"] = "", size: float = 10, soft: bool = False
    ) -> None:
        self.set_font(FONT, style, size)
        self.set_text_color(*(SOFT if soft else (0, 0, 0)))
        self.multi_cell(0, size * 0.5, printable(words), new_x="LMARGIN", new_y="NEXT")
        self.set_text_color(0)
        self.set_font(FONT, size=10)
