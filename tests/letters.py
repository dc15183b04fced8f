"""A small font of plain shapes, so that every letter's place can be reckoned by hand.

A thousand units to the em. A and H are boxes of 600 × 700, V a triangle as wide, x a box of
500 × 500, p one that goes 200 below the line, o a ring with curves, f and i bars. A and V are
kerned by -100, f and i join. The advance is 100 more than the width.
"""

from __future__ import annotations

from pathlib import Path

from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

FAMILY = "Quay Test"
FILE = "quaytest.ttf"

_Box = tuple[int, int, int, int]

BOXES: dict[str, _Box] = {
    ".notdef": (0, 0, 300, 300),
    "A": (0, 0, 600, 700),
    "H": (0, 0, 600, 700),
    "x": (0, 0, 500, 500),
    "p": (0, -200, 500, 500),
    "f": (0, 0, 200, 700),
    "i": (0, 0, 100, 500),
    "f_i": (0, 0, 400, 700),
    "alef": (0, 0, 300, 600),
    "bet": (0, 0, 400, 600),
}
LETTERS = {ord(c): c for c in "AHxpfiVo"} | {32: "space", 0x5D0: "alef", 0x5D1: "bet"}

_FEATURES = """
languagesystem DFLT dflt; languagesystem latn dflt;
feature kern { pos A V -100; } kern;
feature liga { sub f i by f_i; } liga;
"""


def write_font(
    folder: Path,
    *,
    family: str = FAMILY,
    style: str = "Regular",
    weight: int = 400,
    width_class: int = 5,
    italic: bool = False,
    file: str = FILE,
    wider: int = 0,
) -> Path:
    """Write the font into ``folder``; ``wider`` makes A and its advance wider."""
    glyphs, advances = _glyphs(wider)
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap(LETTERS)
    builder.setupGlyf(glyphs)
    builder.setupHorizontalMetrics({name: (advance, 0) for name, advance in advances.items()})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable(
        {
            "familyName": family,
            "styleName": style,
            "psName": f"{family.replace(' ', '')}-{style}",
            "fullName": f"{family} {style}",
        }
    )
    builder.setupOS2(
        usWeightClass=weight,
        usWidthClass=width_class,
        fsSelection=1 if italic else 64,
        sxHeight=500,
        sCapHeight=700,
        ySubscriptYOffset=150,
        ySuperscriptYOffset=400,
        yStrikeoutPosition=250,
    )
    builder.setupPost(underlinePosition=-100, underlineThickness=50)
    addOpenTypeFeaturesFromString(builder.font, _FEATURES)
    path = folder / file
    builder.save(path)
    return path


def _glyphs(wider: int) -> tuple[dict[str, object], dict[str, int]]:
    glyphs: dict[str, object] = {}
    advances: dict[str, int] = {}
    for name, (left, low, right, high) in BOXES.items():
        more = wider if name == "A" else 0
        pen = TTGlyphPen(None)
        pen.moveTo((left, low))
        pen.lineTo((left, high))
        pen.lineTo((right + more, high))
        pen.lineTo((right + more, low))
        pen.closePath()
        glyphs[name], advances[name] = pen.glyph(), right + more + 100
    pen = TTGlyphPen(None)
    pen.moveTo((300, 0))
    pen.lineTo((0, 700))
    pen.lineTo((600, 700))
    pen.closePath()
    glyphs["V"], advances["V"] = pen.glyph(), 700
    glyphs["o"], advances["o"] = _ring(), 600
    glyphs["space"], advances["space"] = TTGlyphPen(None).glyph(), 300
    return glyphs, advances


def _ring() -> object:
    """Two rounds of four quadratic curves, the outer one clockwise, the inner one against it."""
    pen = TTGlyphPen(None)
    corners = [(-1, -1), (-1, 1), (1, 1), (1, -1)]
    middles = [(-1, 0), (0, 1), (1, 0), (0, -1)]

    def at(place: tuple[int, int], reach: int) -> tuple[int, int]:
        return 250 + place[0] * reach, 250 + place[1] * reach

    for reach, way in ((250, 1), (150, -1)):
        pen.moveTo(at(middles[0], reach))
        for step in range(4):
            corner = corners[step + 1 - 4] if way == 1 else corners[-step]
            middle = middles[step + 1 - 4] if way == 1 else middles[-step - 1]
            pen.qCurveTo(at(corner, reach), at(middle, reach))
        pen.closePath()
    return pen.glyph()
