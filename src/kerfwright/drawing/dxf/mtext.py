"""Sets MTEXT: paragraphs, wrapping, columns and changes of font, by the ezdxf library's layout."""

from __future__ import annotations

import math

from ezdxf.entities.mtext import MText
from ezdxf.fonts.font_face import FontFace as NamedFace
from ezdxf.math import Matrix44
from ezdxf.render.abstract_mtext_renderer import AbstractMTextRenderer
from ezdxf.tools import text_layout as tl
from ezdxf.tools.text import MTextContext, MTextParser, TokenType

from kerfwright.drawing.dxf.fonts import DxfFonts
from kerfwright.drawing.dxf.letters import Lettering, SetLine
from kerfwright.drawing.lettering.setting import bar, moved
from kerfwright.geometry.affine import Affine, rotation, scaling, translation

_TAB = 4.0
"""Width of a tabulator in heights of a capital letter, as the library takes it."""

_SLACK = 1.0 + 1e-9
"""Keeps a line from being wrapped by the last digit of its own width."""


class MTextSetter(AbstractMTextRenderer):
    """Sets one MTEXT into a :class:`Lettering`, in the plane of its insertion point."""

    def __init__(self, fonts: DxfFonts, face: NamedFace, lettering: Lettering) -> None:
        super().__init__()
        self._fonts = fonts
        self._face = face
        self._lettering = lettering
        self._own_colour: object = None

    def set(self, mtext: MText) -> None:
        """Set the text.

        Raises:
            NoFontError: a font that it names is missing.
            UnsetTextError: a font lacks characters.
        """
        context = self.make_mtext_context(mtext)
        self._own_colour = _colour_of(context)
        if mtext.dxf.get("width", 0.0) < 1e-6 and not mtext.has_columns:
            mtext = mtext.copy()
            mtext.dxf.width = self._widest(mtext) * _SLACK
        layout = self.layout_engine(mtext)
        layout.place(align=tl.LayoutAlignment(mtext.dxf.attachment_point))
        layout.render(Matrix44())

    def word(self, test: str, ctx: MTextContext) -> tl.ContentCell:
        """Return a word as a cell of the layout."""
        line = self._line(test, ctx)
        return tl.Text(
            width=line.advance * self._em(line, ctx) * ctx.width_factor,
            height=ctx.cap_height,
            valign=tl.CellAlignment(ctx.align),
            stroke=self.get_stroke(ctx),
            renderer=_Ink(self._lettering, line, ctx, self._colour(ctx)),
        )

    def fraction(self, data: tuple[str, str, str], ctx: MTextContext) -> tl.ContentCell:
        """Return a stacked fraction as a cell."""
        upper, lower, kind = data
        if not kind:
            return self.word(upper, ctx)
        line = self._line("", ctx)
        return tl.Fraction(
            top=self.word(upper, ctx),
            bottom=self.word(lower, ctx),
            stacking=self.get_stacking(kind),
            renderer=_Ink(self._lettering, line, ctx, self._colour(ctx)),
        )

    def get_font_face(self, mtext: MText) -> NamedFace:  # noqa: ARG002 (the library's name)
        """Return the face of the text's style."""
        return self._face

    def make_bg_renderer(self, mtext: MText) -> tl.ContentRenderer:  # noqa: ARG002
        """Draw no background: what lies behind a text is no work for the beam."""
        return tl.DoNothingRenderer()

    def space_width(self, ctx: MTextContext) -> float:
        """Width of a space."""
        line = self._line(" ", ctx)
        return line.advance * self._em(line, ctx) * ctx.width_factor

    def _line(self, text: str, ctx: MTextContext) -> SetLine:
        choice = self._fonts.choice(ctx.font_face)
        return self._lettering.line(text, choice, ctx.char_tracking_factor)

    @staticmethod
    def _em(line: SetLine, ctx: MTextContext) -> float:
        return float(ctx.cap_height) / line.metrics.cap_height

    def _colour(self, ctx: MTextContext) -> object:
        colour = _colour_of(ctx)
        return None if colour == self._own_colour else colour

    def _widest(self, mtext: MText) -> float:
        """Width of the longest paragraph of a text that is not wrapped."""
        widest = width = 0.0
        context = self.make_mtext_context(mtext)
        for token in MTextParser(mtext.all_columns_raw_content(), context):
            ctx = token.ctx
            if token.type == TokenType.NEW_PARAGRAPH:
                width = 0.0
            elif token.type == TokenType.WORD:
                width += self.word(token.data, ctx).total_width
            elif token.type == TokenType.STACK:
                width += self.fraction(token.data, ctx).total_width
            elif token.type == TokenType.TABULATOR:
                width += _TAB * mtext.dxf.char_height
            elif token.type in (TokenType.SPACE, TokenType.NBSP):
                width += self.space_width(ctx)
            widest = max(widest, width)
        return widest


def _colour_of(ctx: MTextContext) -> object:
    return tuple(ctx.rgb) if ctx.rgb is not None else int(ctx.aci)


class _Ink(tl.ContentRenderer):
    """Adds a word's outlines, and the lines along it, where the layout puts them."""

    def __init__(
        self, lettering: Lettering, line: SetLine, ctx: MTextContext, colour: object
    ) -> None:
        self._lettering = lettering
        self._line = line
        self._colour = colour
        self._em = float(ctx.cap_height) / line.metrics.cap_height
        slant = math.tan(math.radians(ctx.oblique))
        self._shape = scaling(ctx.width_factor, 1.0) @ Affine(c=slant)

    def render(
        self,
        left: float,
        bottom: float,
        right: float,  # noqa: ARG002 (the library's names)
        top: float,  # noqa: ARG002
        m: Matrix44 | None = None,  # noqa: ARG002
    ) -> None:
        """Add the word with its left end and baseline at (left, bottom)."""
        place = translation(left, bottom) @ self._shape @ scaling(self._em, self._em)
        self._lettering.add([moved(o, place) for o in self._line.outlines], self._colour)

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        m: Matrix44 | None = None,  # noqa: ARG002
    ) -> None:
        """Add a line as a bar as thick as the font's underline."""
        thickness = self._line.metrics.line_thickness * self._em
        length = math.hypot(x2 - x1, y2 - y1)
        if not length:
            return
        drawn = bar(0.0, length, 0.0, thickness, ccw=self._line.runs_ccw)
        place = translation(x1, y1) @ rotation(math.degrees(math.atan2(y2 - y1, x2 - x1)))
        self._lettering.add([moved(drawn, place)], self._colour)
