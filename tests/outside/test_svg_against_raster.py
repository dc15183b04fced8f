"""SVG drawings as we read them against the same drawings drawn by another program's library.

Source: the resvg library (``resvg_py``), a general SVG rasteriser; the features are those of the
W3C's path examples (SVG 1.1 chapters 7 to 11). Our reading is filled through
``geometry.regions.filled`` and drawn by Pillow at four times the size.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from svg_raster import likeness, our_picture, their_picture

from kerfwright.drawing.svg.read import read_svg

LEAST_IOU = 0.995
WIDTH_PX = 1200
FINER = 4


def page(body: str, attributes: str = 'viewBox="0 0 400 300"', size: str = "") -> str:
    size = size or 'width="200mm" height="150mm"'
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f"{size} {attributes}>{body}</svg>"
    )


def likeness_of_fills(tmp_path: Path, text: str) -> float:
    file = tmp_path / "drawing.svg"
    file.write_text(text, encoding="utf-8")
    theirs = their_picture(text, WIDTH_PX)
    assert theirs.sum() > 5000, "the picture is too small for the threshold to mean anything"
    return likeness(our_picture(read_svg(file), theirs.shape, FINER), theirs)


ARC_FLAGS = "".join(
    f'<path d="M {x + 60},{y + 60} a 60,35 -20 {large},{sweep} 70,-20 z"/>'
    for x, y, large, sweep in [(30, 40, 0, 0), (230, 40, 0, 1), (40, 190, 1, 0), (200, 190, 1, 1)]
)

STAR = "M 100,20 160,200 10,80 190,80 40,200 z M 300,20 360,200 210,80 390,80 240,200 z"

ALIGNED = "".join(
    f'<svg x="{x}" y="{y}" width="{w}" height="{h}" viewBox="0 0 60 40" '
    f'preserveAspectRatio="{align} {how}" overflow="visible">'
    '<path d="M 0 0 H 60 V 40 H 0 Z M 8 8 V 32 H 30 L 52 20 L 30 8 Z" fill-rule="evenodd"/></svg>'
    for x, y, w, h, align, how in [
        (5, 5, 120, 40, "xMinYMin", "meet"),
        (5, 55, 120, 40, "xMidYMin", "meet"),
        (5, 105, 120, 40, "xMaxYMax", "meet"),
        (140, 5, 40, 120, "xMidYMin", "meet"),
        (185, 5, 40, 120, "xMidYMid", "meet"),
        (230, 5, 40, 120, "xMaxYMax", "meet"),
        (5, 155, 120, 40, "none", "meet"),
        (280, 60, 60, 20, "xMinYMin", "slice"),
        (280, 130, 60, 20, "xMidYMid", "slice"),
        (280, 220, 60, 20, "xMaxYMax", "slice"),
        (150, 200, 20, 40, "xMidYMid", "slice"),
        (215, 200, 20, 40, "xMaxYMin", "slice"),
        (80, 210, 20, 60, "xMinYMax", "slice"),
    ]
)

DRAWINGS = {
    "lines, absolute and relative": page(
        '<path d="M 100 20 L 300 20 200 250 z"/>'
        '<path d="m20,150h60v60h-60zm10 10v40h40v-40z"/>'
        '<path d="M320,200H380V280H320V200M335 215V265H365V215z"/>'
        '<path d="m10 20 60 10-20 30 5.5.5-3 20Z"/>'
    ),
    "cubic curves": page(
        '<path d="M100,200 C100,100 250,100 250,200 S400,300 380,200 L380 290 L100 290 Z"/>'
        '<path d="m20,20c40-40 90 90 130 10s60 60 80 30s10-40 60 10 v20 c-90,90-180-60-270,20z"/>'
    ),
    "quadratic curves": page(
        '<path d="M20,200 Q120,20 220,200 T380,200 V 290 H 20 Z"/>'
        '<path d="m20 20q30 60 60 0t60 0 60 0 60 0t60 0v50q-30-60-60 0t-60 0-60 0-60 0-60 0z"/>'
        '<path d="M330 120 T 380 110 Q 390 180 350 170 C 340 160 335 150 330 160 T 300 140 Z"/>'
    ),
    "arcs, all four flag pairs": page(ARC_FLAGS),
    "arcs, pie and radius scale-up": page(
        '<path d="M150,150 h-75 a75,75 0 1,0 75,-75 z"/>'
        '<path d="M137,137 v-75 a75,75 0 0,0 -75,75 z"/>'
        '<path d="M250 60 A 10 20 30 0 1 380 100 A 5 5 0 0 1 250 60 Z"/>'
        '<path d="M250 200a40 60 45 01100 40A-30 40 0 10250 200a0 5 0 0 1 20 80z"/>'
    ),
    "arcs with run-together flags": page(
        '<path d="M40 150a80 40 30 01160.5.5 50 90 0 11-40 100zm200-60A60 30-45 1 0330 90.5Z"/>'
    ),
    "basic shapes": page(
        '<rect x="10" y="10" width="120" height="80"/>'
        '<rect x="150" y="10" width="120" height="80" rx="30"/>'
        '<rect x="290" y="10" width="100" height="80" rx="200" ry="15"/>'
        '<circle cx="60" cy="150" r="45"/><ellipse cx="200" cy="150" rx="85" ry="30"/>'
        '<polygon points="300,110 390,130 350.5.5 340,190"/>'
        '<polyline points="20,220 60,280 100 210 140-10 180,290 220,215"/>'
        '<rect x="60%" y="75%" width="20%" height="10%"/><circle cx="90%" cy="85%" r="8%"/>'
    ),
    "nested transforms": page(
        '<g transform="translate(200,150) rotate(30)"><g transform="skewX(20),scale(1.5 .8)">'
        '<rect x="-60" y="-40" width="90" height="60"/><g transform="matrix(.5 .2 -.3 .7 60 -50)">'
        '<path d="M0 0 L100 0 A50 50 0 0 1 0 100 Z"/></g></g></g>'
        '<g transform="rotate(-45 60 220)"><rect x="20" y="200" width="80" height="40" rx="9"/>'
        '</g><g transform="scale(-1,1) translate(-390 20)"><path transform="skewY(-15)" '
        'd="M0 10 h70 v30 c-20 30-50-30-70 20z"/></g>'
    ),
    "view box, alignment, nested svg": page(ALIGNED),
    "page stretched unevenly": page(
        '<circle cx="20" cy="0" r="40"/><rect x="-90" y="-60" width="50" height="30"/>',
        'viewBox="-100 -70 200 140" preserveAspectRatio="none"',
        'width="6in" height="3in"',
    ),
    "page fitted at its end": page(
        '<circle cx="20" cy="0" r="40"/><rect x="-90" y="-60" width="50" height="30"/>',
        'viewBox="-100 -70 200 140" preserveAspectRatio="xMaxYMin"',
        'width="12pc" height="40mm"',
    ),
    "use, symbol, defs": page(
        '<defs><path id="leaf" d="M0 0 C 20 -40 60 -40 80 0 C 60 40 20 40 0 0 Z"/>'
        '<g id="pair"><use xlink:href="#leaf"/><use href="#leaf" y="50" transform="rotate(20)"/>'
        '</g></defs><symbol id="frame" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
        '<symbol id="ring" viewBox="0 0 40 20" preserveAspectRatio="xMinYMid" overflow="visible">'
        '<path fill-rule="evenodd" d="M0 0H40V20H0ZM10 5V15H30V5Z"/></symbol>'
        '<use href="#pair" x="30" y="60"/>'
        '<use href="#pair" transform="translate(260 80) scale(.8)"/>'
        '<use href="#frame" x="20" y="200" width="60" height="80"/>'
        '<use href="#ring" x="110" y="200" width="150" height="80" transform="rotate(-5)"/>'
        '<svg x="280" y="180" width="100" height="100" viewBox="0 0 200 200">'
        '<use href="#leaf" x="50" y="100"/></svg>'
    ),
    "style sheet": page(
        "<style><![CDATA[ .area { fill: black } path, rect, circle { fill: none } /* all off */"
        " #two { fill: #000 !important } g.in > rect { fill: rgb(0,0,0) }"
        " g circle { fill: black } g > g circle { fill: none }"
        " @media print { #paper { fill: hsl(0, 0%, 0%) } } ]]></style>"
        '<rect x="10" y="10" width="80" height="60"/>'
        '<rect class="wide area" x="110" y="10" width="80" height="60"/>'
        '<rect id="two" style="fill:none" x="210" y="10" width="80" height="60"/>'
        '<rect class="area" style="fill:none" x="310" y="10" width="80" height="60"/>'
        '<g class="in"><rect x="10" y="90" width="80" height="60"/><g>'
        '<rect x="110" y="90" width="80" height="60"/><circle cx="250" cy="120" r="30"/></g>'
        '<circle cx="350" cy="120" r="30"/></g>'
        '<g fill="none" color="black"><ellipse cx="60" cy="220" rx="50" ry="30"/>'
        '<ellipse fill="currentColor" cx="180" cy="220" rx="50" ry="30"/>'
        '<ellipse style="fill:inherit" fill="black" cx="300" cy="220" rx="50" ry="30"/></g>'
    ),
    "fill rules": page(
        f'<path d="{STAR}"/><g fill-rule="evenodd" transform="translate(0 90) scale(.9)">'
        '<path d="M 100,20 160,200 10,80 190,80 40,200 z"/></g>'
        '<path d="M230 200h80v80h-80zm20 20h40v40h-40z"/>'
        '<path d="M320 200h70v80h-70zm20 20v40h30v-40z"/>'
    ),
    "display, visibility, opacity": page(
        '<g display="none"><rect width="100" height="100"/></g>'
        '<g visibility="hidden"><rect x="120" width="100" height="100"/>'
        '<rect x="240" width="100" height="100" visibility="visible"/></g>'
        '<g style="opacity:0"><rect y="120" width="100" height="100"/></g>'
        '<rect x="120" y="120" width="100" height="100" fill-opacity="0"/>'
        '<rect x="240" y="120" width="100" height="100" style="display:inline"/>'
        '<switch><rect y="240" width="90" height="50" requiredExtensions="urn:x"/>'
        '<rect x="120" y="240" width="100" height="50"/><rect x="240" y="240" width="90" '
        'height="50"/></switch>'
    ),
    "damaged path drawn up to the damage": page(
        '<path d="M 20,20 L 200,20 200,150 20"/>'
        '<path d="M 220 20 h 150 v 100 z L 10 q 20 30"/>'
        '<path d="M 20 180 h 200 v 90 fault L 20 280 z"/>'
        '<path d="M 250 180 h 120 v 90 a 10 10 0 2 0 20 20 z"/>'
    ),
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_reads_what_a_general_rasteriser_draws(name: str, tmp_path: Path) -> None:
    assert likeness_of_fills(tmp_path, DRAWINGS[name]) >= LEAST_IOU
