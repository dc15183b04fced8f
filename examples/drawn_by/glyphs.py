"""Lettering as outlines, from a TrueType font."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from fontTools.pens.boundsPen import BoundsPen  # type: ignore[import-untyped]
from fontTools.pens.svgPathPen import SVGPathPen  # type: ignore[import-untyped]
from fontTools.pens.transformPen import TransformPen  # type: ignore[import-untyped]
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

from drawn_by.svg import number

Anchor = Literal["start", "middle", "end"]


class Face:
    """One font, setting single lines of text with kerning."""

    def __init__(self, path: Path) -> None:
        self._font = TTFont(path)
        self._glyphs = self._font.getGlyphSet()
        self._names = self._font.getBestCmap()
        self._kern = self._font["kern"].kernTables[0].kernTable if "kern" in self._font else {}
        self._em = self._font["head"].unitsPerEm
        self._cap = self._ink("H")[3]

    def _ink(self, letter: str) -> tuple[float, float, float, float]:
        pen = BoundsPen(self._glyphs)
        self._glyphs[self._names[ord(letter)]].draw(pen)
        return pen.bounds or (0.0, 0.0, 0.0, 0.0)

    def _pens(self, text: str, tracking: float) -> list[float]:
        """Where each letter starts, in font units; ``tracking`` is in ems."""
        starts, x, before = [], 0.0, None
        for letter in text:
            name = self._names[ord(letter)]
            x += self._kern.get((before, name), 0)
            starts.append(x)
            x += self._glyphs[name].width + tracking * self._em
            before = name
        return starts

    def width_mm(self, text: str, *, cap_mm: float, tracking: float = 0.0) -> float:
        """Width of the ink from the first letter's left to the last one's right."""
        starts = self._pens(text, tracking)
        ink = starts[-1] + self._ink(text[-1])[2] - starts[0] - self._ink(text[0])[0]
        return ink * cap_mm / self._cap

    def line(
        self,
        text: str,
        x_mm: float,
        y_mm: float,
        *,
        cap_mm: float,
        tracking: float = 0.0,
        anchor: Anchor = "middle",
        units_per_mm: float = 1.0,
    ) -> str:
        """Return SVG path data for ``text`` with capitals ``cap_mm`` high.

        (``x_mm``, ``y_mm``) is the base line's left end, middle or right end, y downwards.
        """
        scale = cap_mm / self._cap
        width = self.width_mm(text, cap_mm=cap_mm, tracking=tracking)
        left = x_mm - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        left -= self._ink(text[0])[0] * scale
        pen = SVGPathPen(self._glyphs, ntos=number)
        for letter, start in zip(text, self._pens(text, tracking), strict=True):
            u = units_per_mm
            move = (scale * u, 0.0, 0.0, -scale * u, (left + start * scale) * u, y_mm * u)
            self._glyphs[self._names[ord(letter)]].draw(TransformPen(pen, move))
        return str(pen.getCommands())
