"""Text in an SVG as we set it against the same text set by another program's library.

Source: the resvg library (``resvg_py``), a general SVG rasteriser with its own shaping, given the
same font file. The font is the one built in ``letters.py``; so no font of the machine matters.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import resvg_py
from PIL import Image, ImageChops, ImageDraw

from kerfwright.drawing.model import Drawing
from kerfwright.drawing.svg.read import read_svg
from kerfwright.geometry.regions import filled
from letters import FAMILY, write_font

LEAST_IOU = 0.98
WIDTH_PX = 1600
FINER = 3

Mask = npt.NDArray[np.bool_]


def their_picture(text: str, font: Path) -> Mask:
    png = resvg_py.svg_to_bytes(
        svg_string=text,
        background="#ffffff",
        width=WIDTH_PX,
        dpi=96.0,
        skip_system_fonts=True,
        font_files=[str(font)],
        text_rendering="geometric_precision",
    )
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("L")) < 128


def our_picture(drawing: Drawing, shape: tuple[int, int]) -> Mask:
    height, width = shape
    size = (width * FINER, height * FINER)
    scale = np.array([size[0] / drawing.width_mm, size[1] / drawing.height_mm])
    whole = Image.new("L", size)
    for drawn in drawing.shapes:
        if drawn.paint.fill is None:
            continue
        one = Image.new("L", size)
        pen = ImageDraw.Draw(one)
        for polygon in filled(drawn.paths, drawn.paint.fill_rule).geoms:
            for ring, ink in [(polygon.exterior, 255), *((hole, 0) for hole in polygon.interiors)]:
                points = np.asarray(ring.coords)[:, :2] * scale
                points[:, 1] = size[1] - points[:, 1]
                # Pillow counts from the middles of pixels
                pen.polygon([(x, y) for x, y in points - 0.5], fill=ink)
        whole = ImageChops.lighter(whole, one)
    return np.asarray(whole.resize((width, height), Image.Resampling.BOX)) >= 128


TEXTS = {
    "kerned, joined, turned": '<text x="20" y="90" font-size="80">AVA fi xo</text>'
    '<g transform="translate(60 260) rotate(-20) scale(1.4 .8)">'
    '<text font-size="60">pAVo</text></g>',
    "anchors": '<g font-size="50"><text x="200" y="60" text-anchor="middle">AoV</text>'
    '<text x="390" y="130" text-anchor="end">Hxp</text><text x="9" y="200">HA</text></g>',
    "parts": '<text x="10" y="60" font-size="40">A<tspan fill="#010101">oV</tspan> x'
    '<tspan x="10" dy="60">HH <tspan font-size="70">p</tspan></tspan>'
    '<tspan dx="20" dy="-10">oo</tspan></text>',
    "lists": '<text x="10 80 150,220" y="60 90 120" dx="0 0 0 0 5 5" rotate="0 20 -30 45" '
    'font-size="60">AHxpoVA</text>',
    "spacing": '<text x="10" y="60" letter-spacing="6" font-size="40">AoHx</text>'
    '<text x="10" y="130" word-spacing="30" font-size="40">A o H x</text>'
    '<text x="200" y="220" text-anchor="middle" letter-spacing="0.2em" font-size="40">AHo</text>',
    "raised and lowered": '<text x="10" y="100" font-size="60">H<tspan baseline-shift="sub">o'
    '</tspan><tspan baseline-shift="super">A</tspan><tspan baseline-shift="20">x</tspan></text>'
    '<g font-size="50"><text x="10" y="200" dominant-baseline="middle">xA</text>'
    '<text x="120" y="200" dominant-baseline="central">xA</text>'
    '<text x="250" y="200" dominant-baseline="hanging">xA</text></g>',
    "white space": '<text x="10" y="60" font-size="40">  A   o\n  x <tspan> H </tspan> p</text>'
    '<text x="10" y="130" xml:space="preserve" font-size="40">  A   H</text>',
    "to a length": '<text x="10" y="60" textLength="350" font-size="40">AoHx</text>'
    '<text x="10" y="130" textLength="350" lengthAdjust="spacingAndGlyphs" font-size="40">AoH'
    "</text>",
    "along a straight line": '<path id="p" d="M20 250 L380 60" fill="none" stroke="none"/>'
    '<text font-size="60"><textPath href="#p" startOffset="10%">AoH xp</textPath></text>',
    "from right to left": '<text x="10" y="80" font-size="60">A \u05d0\u05d1 H \u05d1\u05d0</text>',
    "lines along it": '<text x="10" y="70" font-size="60" text-decoration="underline">AHx</text>'
    '<text x="10" y="170" font-size="60" text-decoration="line-through">AHx</text>',
}


@pytest.mark.parametrize("name", TEXTS)
def test_text_fills_what_a_general_rasteriser_fills(name: str, tmp_path: Path) -> None:
    font = write_font(tmp_path)
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" '
        f'viewBox="0 0 400 300" font-family="{FAMILY}">{TEXTS[name]}</svg>'
    )
    file = tmp_path / "drawing.svg"
    file.write_text(text, encoding="utf-8")
    theirs = their_picture(text, font)
    ours = our_picture(read_svg(file), theirs.shape)
    assert theirs.sum() > 5000, "the picture is too small for the threshold to mean anything"
    assert (ours & theirs).sum() / (ours | theirs).sum() >= LEAST_IOU
