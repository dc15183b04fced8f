"""Paper: A4 pages with embedded fonts, and our pictures as they print."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Literal

from font_source_sans_pro import font_files_ttf
from fpdf import FPDF
from fpdf.enums import Align, TableBordersLayout
from fpdf.fonts import FontFace, TTFFont

from kerfwright.output.text import printable

FONT = "source sans"
"""Source Sans, under the SIL Open Font License: Latin, Greek and Cyrillic letters."""

FONT_FILES = {
    "": font_files_ttf["SourceSansPro"],
    "B": font_files_ttf["SourceSansProBold"],
}

SOFT = (90, 88, 82)
RULE = (200, 197, 188)

_VARIABLES = re.compile(r"--([a-z]+):([^;}]+)")
_DARK = re.compile(r"@media screen and \(prefers-color-scheme:dark\)\{(?:[^{}]*\{[^{}]*\})*\}")


class Paper(FPDF):
    """A4 pages, or others of ``size``, with ``foot`` and the page's number at the foot of each.

    A trial of the same words may lend its fonts, which are slow to read: ``lettered_like`` it.
    """

    def __init__(
        self,
        title: str,
        foot: str,
        *,
        margin_mm: float = 20.0,
        size: str | tuple[float, float] = "A4",
        lettered_like: Paper | None = None,
    ) -> None:
        super().__init__(format=size)
        self._foot = printable(foot)
        self.set_title(printable(title))
        self.set_creator("Kerfwright")
        self.set_lang("en")
        self.set_margins(margin_mm, margin_mm - 2.0)
        self.set_auto_page_break(auto=True, margin=16)
        if lettered_like is not None:
            self.fonts.update(lettered_like.fonts)
        else:
            for style, file in FONT_FILES.items():
                self.add_font(FONT, style, Path(file))
        self.set_font(FONT, size=10)
        self.set_draw_color(*RULE)

    def footer(self) -> None:
        """Put the foot below a page; the library asks for it."""
        self.set_y(-12)
        self.set_font(FONT, size=8)
        self.set_text_color(*SOFT)
        self.cell(0, 5, self._foot)
        self.cell(0, 5, f"{self.page_no()} of {{nb}}", align=Align.R)
        self.set_text_color(0)
        self.set_font(FONT, size=10)

    def say(
        self,
        words: str,
        *,
        style: Literal["", "B"] = "",
        size: float = 10,
        soft: bool = False,
        width_mm: float = 0.0,
    ) -> None:
        """Write a paragraph from the left margin on."""
        self.set_font(FONT, style, size)
        self.set_text_color(*(SOFT if soft else (0, 0, 0)))
        self.multi_cell(
            width_mm, size * 0.47, printable(words), align=Align.L, new_x="LMARGIN", new_y="NEXT"
        )
        self.set_text_color(0)
        self.set_font(FONT, size=10)

    def rows(
        self,
        header: Sequence[str],
        rows: Sequence[Sequence[str] | str],
        widths: Sequence[int],
        align: str,
    ) -> None:
        """A table, its rows parted by lines; ``align`` has L or R for each column.

        A row that is one text goes over all columns.
        """
        sides = {"L": "LEFT", "R": "RIGHT"}
        with self.table(
            col_widths=tuple(widths),
            text_align=tuple(sides[letter] for letter in align),
            borders_layout=TableBordersLayout.HORIZONTAL_LINES,
            headings_style=FontFace(color=SOFT),
            line_height=4.6,
            padding=0.7,
        ) as table:
            for cells in (header, *rows):
                row = table.row()
                if isinstance(cells, str):
                    row.cell(printable(cells), colspan=len(header), align=Align.L)
                    continue
                for cell in cells:
                    row.cell(printable(cell))


def not_printable(words: Iterable[str]) -> str:
    """Letters that the paper's font lacks, each once: a PDF would leave them out."""
    font = Paper("", "").fonts[FONT]
    known = font.cmap if isinstance(font, TTFFont) else {}
    return "".join(
        letter for letter in dict.fromkeys(printable("".join(words))) if ord(letter) not in known
    )


def printed_picture(svg: str, width_px: int) -> bytes:
    """One of our pictures as PNG, as it looks on a light page, lettered in the paper's font."""
    import resvg_py  # noqa: PLC0415 – only papers need it, and it takes a moment to load

    light = _DARK.sub("", svg)
    for name, value in _VARIABLES.findall(light):
        light = light.replace(f"var(--{name})", value)
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=light,
            background="#ffffff",
            width=width_px,
            dpi=96.0,
            skip_system_fonts=True,
            font_files=[str(file) for file in FONT_FILES.values()],
            font_family="Source Sans Pro",
            sans_serif_family="Source Sans Pro",
        )
    )
