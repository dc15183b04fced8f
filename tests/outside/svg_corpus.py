"""Writes a corpus of small SVG drawings, each about one feature and the section that defines it.

Sections are those of SVG 1.1 second edition unless another standard is named. The drawings are
our own. ``python svg_corpus.py FOLDER`` writes them as files to look at.
"""

from __future__ import annotations

import base64
import io
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

STROKE = 'fill="none" stroke="black" stroke-width="5" stroke-linejoin="round"'


@dataclass(frozen=True, slots=True)
class Piece:
    """One drawing of the corpus; ``section`` says where its feature is defined."""

    feature: str
    section: str
    body: str
    page: str = 'width="200mm" height="150mm" viewBox="0 0 400 300"'
    lines: bool = False
    """Whether lines are compared too, by their ink."""

    @property
    def file_name(self) -> str:
        words = "".join(c if c.isalnum() else " " for c in self.feature.lower())
        return "-".join(words.split()) + ".svg"

    @property
    def text(self) -> str:
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg" '
            f'xmlns:xlink="http://www.w3.org/1999/xlink" {self.page}>\n'
            f"<title>{self.feature}</title>\n<desc>{self.section}</desc>\n{self.body}\n</svg>\n"
        )


def picture_data(kind: str = "PNG") -> str:
    """A ``data:`` address of a picture of 8 by 4 dots, dark in an L."""
    dots = np.full((4, 8), 255, dtype=np.uint8)
    dots[:, :2] = 0
    dots[3, :] = 0
    dots[0, 6:] = 0
    packed = io.BytesIO()
    Image.fromarray(dots).save(packed, kind)
    return f"data:image/{kind.lower()};base64,{base64.b64encode(packed.getvalue()).decode()}"


LEAF = "M0 0C20-40 60-40 80 0C60 40 20 40 0 0Z"
STAR = "M100 20 160 200 10 80 190 80 40 200z"

PATHS = [
    Piece(
        "path lines absolute and relative",
        "8.3.4",
        '<path d="M20 20L120 20 120 90H60V140z"/><path d="m160 20l100 0 0 70h-60v50z"/>'
        '<path d="M20 170H180V280H20zM50 200v50h100v-50z"/><path d="m220 170 60 20 60-20-20 90z"/>',
    ),
    Piece(
        "relative move after closepath",
        "8.3.3",
        '<path d="m20 20h60v60h-60zm90 0h60v60h-60zm90 20 40 60h-80z m0 100h80v60z h-90v40z"/>',
    ),
    Piece(
        "implicit line commands after moveto",
        "8.3.2",
        '<path d="M20 20 120 20 120 120 20 120zm130 0 100 0 0 100-100 0z"/>'
        '<path d="M280-20 380 30-20 290 60 150"/>',
    ),
    Piece(
        "numbers run together",
        "8.3.9",
        '<path d="M20.5.5.5 20.5 40.25.25 100 3e1 1.2e2-5 150 90-.5 99z"/>'
        '<path d="M200 1E2L3e+2.5e2 2.5e2 9e1z"/>',
    ),
    Piece(
        "cubic curves",
        "8.3.6",
        '<path d="M20 150C20 20 150 20 150 150S280 280 280 150L280 290 20 290z"/>'
        '<path d="m300 20c60 0 60 60 0 60s-60 60 0 60l80 0 0-120z"/>',
    ),
    Piece(
        "smooth cubic without a cubic before",
        "8.3.6",
        '<path d="M20 20L120 20S200 60 120 140 40 200 20 140z"/>'
        '<path d="M220 20Q300 0 320 60S380 140 300 200 220 100 220 60z"/>',
    ),
    Piece(
        "quadratic curves",
        "8.3.7",
        '<path d="M20 100Q110 0 200 100T380 100V200H20z"/>'
        '<path d="m20 220q40 60 80 0t80 0 80 0 80 0v70h-320z"/>',
    ),
    Piece(
        "smooth quadratic without a quadratic before",
        "8.3.7",
        '<path d="M20 20H120T200 90 60 200 20 120z"/>'
        '<path d="M220 20C300 20 300 100 360 100T300 200 220 100z"/>',
    ),
    Piece(
        "arcs with all flags",
        "8.3.8",
        "".join(
            f'<path d="M{x} {y}a60 35-20 {flags} 70-20z"/>'
            for x, y, flags in [(60, 90, "00"), (260, 90, "01"), (60, 220, "10"), (240, 220, "11")]
        ),
    ),
    Piece(
        "arcs with radii scaled up",
        "F.6.6",
        '<path d="M40 150A10 20 30 0 1 180 100L180 280z"/>'
        '<path d="M220 60A5 5 0 0 1 360 60V140H220z"/><path d="M220 280a1-2 0 1 0 120-60z"/>',
    ),
    Piece(
        "arcs without a radius are lines",
        "F.6.2",
        '<path d="M20 20A0 50 0 0 1 180 20 50 0 0 0 1 180 140 40 40 0 1 1 180 140L20 200z"/>'
        '<path d="M220 60a-60-30 20 1 1 60 60z"/>',
    ),
    Piece(
        "path drawn up to its error",
        "F.2",
        '<path d="M20 20H180V120H20L40 60 90"/><path d="M220 20h150v100h-150zx l50 50"/>'
        '<path d="M20 160h150v100 20 h-150z M 5 5 l q"/>',
    ),
    Piece(
        "arcs as lines with a width",
        "8.3.8",
        f'<g {STROKE}><path d="M40 60A60 40 20 1 1 160 100"/><path d="M220 40q80 0 80 80t80 80"/>'
        '<path d="M40 180c60-60 120 60 180 0s80 40 120 100z" stroke-linejoin="round"/></g>',
        lines=True,
    ),
]

SHAPES = [
    Piece(
        "rectangles and their corners",
        "9.2",
        '<rect x="10" y="10" width="110" height="70"/>'
        '<rect x="140" y="10" width="110" height="70" rx="25"/>'
        '<rect x="270" y="10" width="110" height="70" ry="25"/>'
        '<rect x="10" y="100" width="110" height="70" rx="40" ry="10"/>'
        '<rect x="140" y="100" width="110" height="70" rx="900" ry="12"/>'
        '<rect x="270" y="100" width="110" height="70" rx="900" ry="900"/>'
        '<rect x="10" y="200" width="110" height="70" rx="0" ry="30"/>'
        '<rect x="140" y="200" width="110" height="70" rx="10%" ry="5%"/>',
    ),
    Piece(
        "circles and ellipses",
        "9.3",
        '<circle cx="70" cy="80" r="60"/><ellipse cx="240" cy="80" rx="90" ry="40"/>'
        '<circle cx="20%" cy="70%" r="10%"/><ellipse cx="60%" cy="75%" rx="20%" ry="20%"/>'
        '<circle r="30"/><circle cx="350" cy="250" r="0"/>',
    ),
    Piece(
        "ellipse with one radius",
        "SVG 2 section 10.4",
        '<ellipse cx="100" cy="100" rx="80"/><ellipse cx="300" cy="100" ry="70" rx="auto"/>',
    ),
    Piece(
        "polygons and polylines are filled",
        "9.6",
        '<polygon points="20,20 120,40 100,140 40 100"/>'
        '<polyline points="160 20,280 30 240,140-5 290 180 60"/>'
        '<polygon points="300,20 380,40 350.5.5"/>',
    ),
    Piece(
        "lines have no fill",
        "9.5",
        f'<line x1="20" y1="20" x2="200" y2="90" {STROKE}/><line x1="20" y1="90" x2="380" y2="280" '
        'stroke="black" stroke-width="8" fill="black"/><line x1="5%" y1="90%" x2="50%" y2="95%" '
        'stroke="black" stroke-width="1%"/>',
        lines=True,
    ),
    Piece(
        "negative sizes are errors and zero draws nothing",
        "9.2",
        '<rect x="50" y="50" width="0" height="100"/><rect x="100" y="20" width="200" height="90"/>'
        '<circle cx="60" cy="200" r="0"/><ellipse cx="200" cy="200" rx="90" ry="60"/>',
    ),
]

PLACES = [
    Piece(
        "transform lists",
        "7.6",
        '<g transform="translate(200,150) rotate(30)"><g transform="skewX(20),scale(1.5 .8)">'
        '<rect x="-60" y="-40" width="90" height="60"/><g transform="matrix(.5 .2 -.3 .7 60 -50)">'
        '<path d="M0 0L100 0A50 50 0 0 1 0 100Z"/></g></g></g>'
        '<rect transform="rotate(-45 60 220)" x="20" y="200" width="80" height="40"/>'
        '<path transform="translate(390)scale(-1 1)skewY(-15)" d="M0 40h70v30h-70z"/>',
    ),
    Piece(
        "transform with an origin of its own",
        "CSS Transforms 1 section 5",
        '<rect transform-origin="100 100" transform="rotate(30)" x="60" y="60" width="80" '
        'height="80"/><g transform-origin="300 200" transform="scale(2 1)"><circle cx="300" '
        'cy="200" r="40"/></g>',
    ),
    Piece(
        "view box kept in proportion",
        "7.8",
        '<circle cx="0" cy="0" r="60"/><rect x="-95" y="-60" width="40" height="30"/>',
        'width="180mm" height="60mm" viewBox="-100 -70 200 140"',
    ),
    Piece(
        "view box stretched",
        "7.8",
        '<circle cx="0" cy="0" r="60"/><rect x="-95" y="-60" width="40" height="30"/>',
        'width="180mm" height="60mm" viewBox="-100 -70 200 140" preserveAspectRatio="none"',
    ),
    Piece(
        "view box at the end",
        "7.8",
        '<circle cx="0" cy="0" r="60"/><rect x="-95" y="-60" width="40" height="30"/>',
        'width="60mm" height="180mm" viewBox="-100 -70 200 140" preserveAspectRatio="xMinYMax"',
    ),
    Piece(
        "view box cut to fill",
        "7.8",
        '<circle cx="0" cy="0" r="60"/>',
        'width="140mm" height="140mm" viewBox="-100 -70 200 140" '
        'preserveAspectRatio="xMidYMid slice"',
    ),
    Piece(
        "units of length",
        "CSS Values and Units 3 section 5.2",
        '<rect x="5mm" y="1cm" width="1in" height="40pt"/><rect x="10pc" y="20pt" width="60px" '
        'height="3cm"/><circle cx="4cm" cy="3em" r="1em" font-size="20" /><rect x="50%" y="50%" '
        'width="10%" height="25%"/>',
        'width="8in" height="6in"',
    ),
    Piece(
        "nested drawings cut at their frames",
        "14.3.3",
        '<svg x="20" y="20" width="150" height="100"><circle cx="0" cy="50" r="60"/>'
        '<rect x="100" y="60" width="200" height="100"/></svg>'
        '<svg x="200" y="20" width="150" height="100" viewBox="0 0 10 10"><circle cx="10" cy="10" '
        'r="5"/></svg><svg x="20" y="150" width="100" height="100" overflow="visible"><rect x="50" '
        'y="50" width="100" height="40"/></svg><svg x="220" y="160" width="150" height="120" '
        'viewBox="0 0 100 40" preserveAspectRatio="xMidYMid slice"><circle cx="50" cy="20" r="40"/>'
        "</svg>",
    ),
    Piece(
        "lines cut at a nested frame",
        "14.3.3",
        f'<svg x="50" y="50" width="300" height="200"><g {STROKE}><path d="M-50 100H350"/>'
        '<path d="M100-50V300"/><circle cx="200" cy="100" r="120"/></g></svg>',
        lines=True,
    ),
    Piece(
        "percentages in nested drawings",
        "7.10",
        '<svg x="10%" y="10%" width="50%" height="50%"><rect x="10%" y="10%" width="50%" '
        'height="50%"/><svg viewBox="0 0 20 20"><circle cx="75%" cy="75%" r="10%"/></svg></svg>',
    ),
    Piece(
        "use and symbol",
        "5.6",
        f'<defs><path id="leaf" d="{LEAF}"/><g id="pair"><use xlink:href="#leaf"/><use '
        'href="#leaf" y="60" transform="rotate(10)"/></g></defs><symbol id="ring" viewBox="0 0 '
        '40 40"><path fill-rule="evenodd" d="M0 0H60V40H0zM10 10V30H30V10z"/></symbol>'
        '<use href="#pair" x="20" y="50"/><use href="#pair" transform="translate(250 '
        '60) scale(.8)"/>'
        '<use href="#ring" x="20" y="180" width="100" height="100"/><use href="#ring" x="160" '
        'y="180" width="180" height="90"/>',
    ),
    Piece(
        "a copy takes the style of its place",
        "5.6",
        '<defs fill="none"><rect id="r" width="80" height="60"/><g id="f" fill="none"><rect y="90" '
        'width="80" height="60"/></g></defs><use href="#r" x="20" y="20" fill="black"/>'
        '<g fill="black"><use href="#r" x="150" y="20"/><use href="#f" x="150" y="20"/></g>'
        f'<use href="#f" x="260" y="20" {STROKE}/>',
        lines=True,
    ),
    Piece(
        "copies of nested drawings take another size",
        "5.6",
        '<defs><svg id="s" width="50" height="50" viewBox="0 0 10 10"><path d="M0 0L10 0 5 10z"/>'
        '</svg></defs><use href="#s"/><use href="#s" x="100" y="50" width="200" height="100"/>'
        '<use href="#s" x="20" y="180" height="100"/>',
    ),
    Piece(
        "links are groups",
        "17.1",
        '<a xlink:href="#x" transform="rotate(10)" fill="none"><rect fill="black" x="60" y="20" '
        'width="120" height="60"/><rect x="60" y="120" width="120" height="60"/></a><g><a><circle '
        'cx="300" cy="200" r="60"/></a></g>',
    ),
    Piece(
        "switch takes the first that fits",
        "5.8",
        '<switch><rect width="100" height="100" requiredExtensions="urn:x"/>'
        '<rect x="120" width="100" height="100" systemLanguage="xx"/>'
        '<rect x="240" width="100" height="100" systemLanguage="de, en-GB"/>'
        '<rect y="120" width="100" height="100"/></switch><switch><g><circle cx="60" cy="220" '
        'r="50"/></g><circle cx="220" cy="220" r="50"/></switch>',
    ),
]

STYLES = [
    Piece(
        "cascade by specificity and order",
        "CSS Cascading 4 section 6",
        "<style>rect{fill:none}.a{fill:black}#two{fill:#000}g.in>rect{fill:rgb(0,0,0)}"
        ".b{fill:none}.b{fill:black}rect.c.c{fill:none}</style>"
        '<rect x="10" y="10" width="80" height="60"/><rect class="x a" x="110" y="10" width="80" '
        'height="60"/><rect id="two" x="210" y="10" width="80" height="60"/><g class="in"><rect '
        'x="10" y="90" width="80" height="60"/></g><rect class="b" x="110" y="90" width="80" '
        'height="60" fill="none"/><rect class="c" style="fill:black" x="210" y="90" width="80" '
        'height="60"/><rect class="c" x="310" y="90" width="80" height="60"/>',
    ),
    Piece(
        "important declarations",
        "CSS Cascading 4 section 6.4",
        "<style>rect{fill:black !important}.n{fill:none!important}</style>"
        '<rect style="fill:none" x="10" y="10" width="150" height="60"/><rect class="n" '
        'style="fill:black !important" x="200" y="100" width="150" height="60"/>',
    ),
    Piece(
        "inheritance",
        "6.4",
        '<g fill="none"><g><rect x="10" y="10" width="80" height="60"/><rect x="110" y="10" '
        'width="80" height="60" fill="black"/></g><g style="fill:black"><rect x="210" y="10" '
        'width="80" height="60"/><g fill="none"><rect x="310" y="10" width="80" height="60"/></g>'
        '</g></g><g fill="black"><rect fill="none" style="fill:inherit" x="10" y="100" width="180" '
        'height="60"/></g>',
    ),
    Piece(
        "current colour",
        "12.2",
        '<g color="black" fill="none"><rect fill="currentColor" x="10" y="10" width="150" '
        'height="60"/><g fill="currentColor"><circle cx="250" cy="80" r="50"/></g><rect '
        'stroke="currentColor" stroke-width="9" x="30" y="150" width="150" height="90"/></g>',
        lines=True,
    ),
    Piece(
        "fill rules",
        "11.3",
        f'<path d="{STAR}"/><path transform="translate(200 0)" fill-rule="evenodd" d="{STAR}"/>'
        '<path d="M20 210h80v80h-80zm20 20h40v40h-40z"/><path d="M120 210h80v80h-80zm20 20v40h40'
        'v-40z"/><g fill-rule="evenodd"><path d="M220 210h80v80h-80zm20 20h40v40h-40z"/></g>',
    ),
    Piece(
        "display and visibility",
        "11.5",
        '<g display="none"><rect width="100" height="100" display="inline"/></g>'
        '<g visibility="hidden"><rect x="120" width="100" height="100"/><rect x="240" width="100" '
        'height="100" visibility="visible"/></g><rect y="120" width="100" height="100" '
        'visibility="collapse"/><rect x="120" y="120" width="100" height="100" '
        'style="display:inline"/>',
    ),
    Piece(
        "opacity of nothing",
        "14.5",
        '<g opacity="0"><rect width="100" height="100" opacity="1"/></g><rect x="120" width="100" '
        'height="100" fill-opacity="0"/><rect x="240" width="100" height="100" opacity="1"/>'
        '<rect y="150" width="100" height="100" fill="none" stroke="black" stroke-width="20" '
        'stroke-opacity="0%"/><rect x="240" y="150" width="100" height="100" fill="transparent"/>',
    ),
    Piece(
        "gradients and patterns are paint",
        "13.2",
        '<defs><linearGradient id="g"><stop offset="0"/><stop offset="1" stop-color="#222"/>'
        '</linearGradient><linearGradient id="h" xlink:href="#g"/><radialGradient id="one"><stop/>'
        '</radialGradient><linearGradient id="none"/><linearGradient id="clear"><stop '
        'stop-opacity="0"/><stop offset="1" stop-opacity="0"/></linearGradient><pattern id="p" '
        'width="10" height="10" patternUnits="userSpaceOnUse"><rect width="10" height="10"/>'
        '</pattern></defs><rect x="10" y="10" width="80" height="60" fill="url(#g)"/>'
        '<rect x="110" y="10" width="80" height="60" fill="url(#h)"/><rect x="210" y="10" '
        'width="80" height="60" fill="url(#one)"/><rect x="310" y="10" width="80" height="60" '
        'fill="url(#none)"/><rect x="10" y="90" width="80" height="60" fill="url(#p)"/>'
        '<rect x="110" y="90" width="80" height="60" fill="url(#clear)"/><rect x="210" y="90" '
        'width="80" height="60" fill="url(#nothing) black"/>',
    ),
    Piece(
        "line width in its units and scaled",
        "11.4",
        '<g fill="none" stroke="black"><path d="M20 30H380" stroke-width="2mm"/><path d="M20 80'
        'H380" stroke-width="4%"/><path transform="scale(3)" d="M10 45H120" stroke-width="4"/>'
        '<path d="M20 260H380" stroke-width="0"/></g>',
        'width="400px" height="300px" viewBox="0 0 400 300"',
        lines=True,
    ),
    Piece(
        "selectors by place and attribute",
        "Selectors 3",
        "<style>rect:first-child{fill:none} [data-k=v]{fill:none} "
        "g rect+circle{fill:none} rect:not(.s){stroke:none}</style>"
        '<g><rect width="80" height="80"/><rect x="100" width="80" height="80"/><rect x="200" '
        'width="80" height="80"/><circle cx="350" cy="40" r="40"/></g><g><circle cx="50" cy="200" '
        'r="40" data-k="v"/><circle cx="150" cy="200" r="40" data-k="w"/><rect x="220" y="160" '
        'width="80" height="80" class="s" stroke="black" stroke-width="20" '
        'stroke-linejoin="round"/></g>',
        lines=True,
    ),
]

CLIPS = [
    Piece(
        "clip by a circle",
        "14.3.5",
        '<clipPath id="c"><circle cx="200" cy="150" r="100"/></clipPath>'
        '<rect clip-path="url(#c)" x="150" y="20" width="220" height="150"/>',
    ),
    Piece(
        "clip in units of the box",
        "14.3.5",
        '<clipPath id="c" clipPathUnits="objectBoundingBox"><circle cx=".5" cy=".5" r=".5"/>'
        '</clipPath><rect clip-path="url(#c)" x="20" y="20" width="150" height="100"/>'
        '<g clip-path="url(#c)"><rect x="200" y="50" width="50" height="50"/><path d="M200 250H380'
        'V150z"/></g>',
    ),
    Piece(
        "clip is the union of its children",
        "14.3.5",
        '<clipPath id="c"><rect x="20" y="20" width="100" height="250"/><circle cx="250" cy="150" '
        'r="80"/><polygon points="300,20 390,20 390,150"/></clipPath><path clip-path="url(#c)" '
        'd="M0 100H400V200H0zM0 0H400V60H0z"/>',
    ),
    Piece(
        "clip rule",
        "14.3.6",
        f'<clipPath id="e" clip-rule="evenodd"><path d="{STAR}"/></clipPath><clipPath id="n"><path '
        f'fill-rule="evenodd" d="{STAR}"/></clipPath><rect width="200" height="300" '
        'clip-path="url(#e)"/><rect transform="translate(200)" width="200" height="300" '
        'clip-path="url(#n)"/>',
    ),
    Piece(
        "clip on a clip and on its children",
        "14.3.5",
        '<clipPath id="a" clip-path="url(#b)"><rect x="50" y="50" width="200" height="200"/>'
        '<circle cx="300" cy="150" r="90" clip-path="url(#d)"/></clipPath><clipPath id="b"><rect '
        'y="100" width="400" height="120"/></clipPath><clipPath id="d"><rect x="300" width="100" '
        'height="300"/></clipPath><rect clip-path="url(#a)" width="400" height="300"/>',
    ),
    Piece(
        "clip by a copy with transforms",
        "14.3.5",
        f'<defs><path id="leaf" d="{LEAF}"/></defs><clipPath id="c" transform="translate(40 100) '
        'scale(2)"><use href="#leaf" x="10" transform="rotate(20)"/></clipPath><rect '
        'clip-path="url(#c)" width="400" height="300"/><g transform="translate(180 60) scale(.5) '
        'rotate(-10)" clip-path="url(#c)"><path d="M0 0H500V150H0z"/></g>',
    ),
    Piece(
        "nested clips of groups",
        "14.3.5",
        '<clipPath id="a"><rect x="40" y="40" width="250" height="200"/></clipPath><clipPath '
        'id="b"><circle cx="150" cy="140" r="120"/></clipPath><g clip-path="url(#a)"><g '
        'transform="rotate(20 150 150)" clip-path="url(#b)"><rect width="400" height="140"/>'
        '<rect y="170" width="400" height="30"/></g><circle cx="330" cy="60" r="80"/></g>',
    ),
    Piece(
        "lines under a clip",
        "14.3.5",
        '<clipPath id="c"><path clip-rule="evenodd" d="M40 40H360V260H40zM150 100V200H250V100z"/>'
        f'</clipPath><g clip-path="url(#c)" {STROKE}><path d="M0 150H400"/><path d="M200 0V300"/>'
        '<circle cx="200" cy="150" r="130"/><path d="M20 80C100 20 300 20 390 80"/></g>',
        lines=True,
    ),
    Piece(
        "empty clips hide everything",
        "14.3.5",
        '<clipPath id="e"/><clipPath id="h"><rect width="400" height="300" display="none"/>'
        '</clipPath><rect clip-path="url(#e)" width="150" height="100"/><rect '
        'clip-path="url(#h)" x="160" width="150" height="100"/><rect y="150" width="150" '
        'height="100"/>',
    ),
    Piece(
        "clip on a copy",
        "5.6",
        '<defs><rect id="r" width="150" height="100"/></defs><clipPath id="c"><circle cx="50" '
        'cy="50" r="60"/></clipPath><use href="#r" clip-path="url(#c)"/><use href="#r" x="200" '
        'y="150" clip-path="url(#c)"/><g transform="translate(200 0)" clip-path="url(#c)"><use '
        'href="#r" x="20" y="20"/></g>',
    ),
    Piece(
        "clip without paint of its own",
        "14.3.5",
        '<g fill="none"><clipPath id="c"><rect fill="none" stroke="black" stroke-width="90" x="50" '
        'y="50" width="100" height="100"/><rect opacity="0" x="200" y="50" width="100" '
        'height="100"/></clipPath></g><rect clip-path="url(#c)" width="400" height="300"/>',
    ),
    Piece(
        "clip on the outermost drawing",
        "14.3.5",
        '<clipPath id="c"><circle cx="200" cy="150" r="120"/></clipPath><rect y="100" width="400" '
        'height="100"/><rect x="150" width="30" height="300"/>',
        'width="200mm" height="150mm" viewBox="0 0 400 300" clip-path="url(#c)"',
    ),
    Piece(
        "clip through nested drawings and copies",
        "14.3.5",
        '<clipPath id="c"><path d="M0 0H30V30H0z"/></clipPath><symbol id="s" viewBox="0 0 40 '
        '40"><g clip-path="url(#c)"><circle cx="25" cy="25" r="20"/></g></symbol><use href="#s" '
        'width="200" height="150"/><svg x="200" y="100" width="180" height="180" viewBox="0 0 40 '
        '40" overflow="visible"><use href="#s" width="40" height="40" '
        'transform="rotate(10)"/></svg>',
    ),
    Piece(
        "mask of white and black",
        "14.4",
        '<mask id="m" maskUnits="userSpaceOnUse" x="0" y="0" width="400" height="300"><rect '
        'x="50" y="50" width="250" height="200" fill="white"/><circle cx="175" cy="150" r="70"/>'
        '<circle cx="175" cy="150" r="30" fill="#fff"/></mask><rect mask="url(#m)" width="400" '
        'height="220"/>',
    ),
    Piece(
        "mask in units of the box",
        "14.4",
        '<mask id="m" maskContentUnits="objectBoundingBox"><rect width="1" height="1" '
        'fill="white"/><circle cx=".5" cy=".5" r=".4"/></mask><rect mask="url(#m)" x="20" y="20" '
        'width="150" height="200"/><g mask="url(#m)"><rect x="200" y="50" width="180" '
        'height="60"/><rect x="200" y="160" width="180" height="60"/></g>',
    ),
    Piece(
        "mask ends at its frame",
        "14.4",
        '<mask id="m"><rect x="-500" y="-500" width="2000" height="2000" fill="white"/></mask>'
        '<mask id="n" x="0" y="0" width=".5" height="50%"><rect width="500" height="500" '
        'fill="white"/></mask><g mask="url(#m)"><rect x="20" y="20" width="100" height="100"/></g>'
        '<rect mask="url(#n)" x="200" y="20" width="180" height="200"/>',
    ),
    Piece(
        "mask by paint and not by light",
        "CSS Masking 1 section 7.4",
        '<mask id="m" style="mask-type:alpha" maskUnits="userSpaceOnUse" x="0" y="0" width="400" '
        'height="300"><circle cx="150" cy="150" r="100"/></mask><rect mask="url(#m)" width="400" '
        'height="300"/>',
    ),
]

ARROW = '<path d="M0 0L10 5 0 10z"/>'
MARKER = 'viewBox="0 0 10 10" refX="5" refY="5" markerWidth="4" markerHeight="4"'

LINES = [
    Piece(
        "marks at start middle and end",
        "11.6.2",
        f'<marker id="m" {MARKER} orient="auto">{ARROW}</marker><g fill="none" stroke="black" '
        'stroke-width="6" marker-start="url(#m)" marker-mid="url(#m)" marker-end="url(#m)">'
        '<path d="M40 40H180L240 110V200"/><polyline points="300,40 370,120 300,200 370,280"/>'
        '<line x1="40" y1="250" x2="220" y2="270"/></g>',
        lines=True,
    ),
    Piece(
        "marks of closed paths",
        "11.6.2",
        f'<marker id="m" {MARKER}><circle cx="5" cy="5" r="5"/></marker><g fill="none" '
        'stroke="black" stroke-width="5" stroke-linejoin="round" style="marker:url(#m)">'
        '<path d="M60 60H180V180z"/><polygon '
        'points="260,60 360,80 300,180"/><path d="M60 230h80v40zm150 0h80v40"/></g>',
        lines=True,
    ),
    Piece(
        "marks on curves",
        "F.5",
        f'<marker id="m" {MARKER} orient="auto">{ARROW}</marker><g fill="none" stroke="black" '
        'stroke-width="5" style="marker:url(#m)"><path d="M40 60C80 0 160 120 200 60S300 20 340 '
        '80"/><path style="marker-mid:none" d="M40 200A60 40 20 1 1 140 220"/>'
        '<path d="M240 200q60-90 120 0t-60 60"/></g>',
        lines=True,
    ),
    Piece(
        "marks turned by an angle or reversed",
        "SVG 2 section 13.7",
        f'<marker id="a" {MARKER} orient="45">{ARROW}</marker><marker id="b" {MARKER} '
        f'orient="auto-start-reverse">{ARROW}</marker><marker id="c" {MARKER}>{ARROW}</marker>'
        '<g stroke="black" stroke-width="6"><path marker-end="url(#a)" marker-start="url(#a)" '
        'd="M60 40H300"/><path marker-end="url(#b)" marker-start="url(#b)" d="M60 120L300 160"/>'
        '<path marker-end="url(#c)" marker-start="url(#c)" d="M60 220L300 260"/></g>',
        lines=True,
    ),
    Piece(
        "size of marks and their frame",
        "11.6.1",
        '<marker id="u" markerUnits="userSpaceOnUse" viewBox="0 0 10 10" refX="0" refY="5" '
        f'markerWidth="40" markerHeight="30">{ARROW}</marker><marker id="s" refX="1" refY="1" '
        'markerWidth="3" markerHeight="3"><circle cx="1" cy="1" r="2"/></marker><marker id="v" '
        'refX="1" refY="1" overflow="visible"><circle cx="1" cy="1" r="2"/></marker>'
        '<g stroke="black" stroke-width="10"><path marker-end="url(#u)" d="M40 50H250"/>'
        '<path marker-end="url(#s)" d="M40 140H250"/><path marker-end="url(#v)" d="M40 230H250"/>'
        "</g>",
        lines=True,
    ),
    Piece(
        "dashes",
        "11.4",
        '<g fill="none" stroke="black" stroke-width="6"><path d="M20 30H380" '
        'stroke-dasharray="30 10"/><path d="M20 60H380" stroke-dasharray="30,10,5"/>'
        '<path d="M20 90H380" stroke-dasharray="40" stroke-dashoffset="25"/><path d="M20 120H380" '
        'stroke-dasharray="10% 2%" stroke-dashoffset="-13"/><path d="M20 150H380" '
        'stroke-dasharray="5mm 2mm"/><path d="M20 180H380" stroke-dasharray="0 0"/>'
        '<path d="M20 210H380" stroke-dasharray="10 -5"/></g>',
        'width="400px" height="300px" viewBox="0 0 400 300"',
        lines=True,
    ),
    Piece(
        "dashes round shapes and curves",
        "11.4",
        '<g fill="none" stroke="black" stroke-width="6" stroke-dasharray="25 12"><circle cx="80" '
        'cy="80" r="60"/><rect x="170" y="20" width="90" height="110" rx="20"/><path d="M290 20'
        'h90v110h-60z"/><path d="M20 200C100 120 150 290 230 200m20 0q60-70 120 20"/>'
        '<ellipse cx="100" cy="260" rx="70" ry="25" stroke-dashoffset="60"/></g>',
        lines=True,
    ),
    Piece(
        "dashed lines under a clip",
        "14.3.5",
        '<clipPath id="c"><circle cx="200" cy="150" r="120"/></clipPath><g clip-path="url(#c)" '
        'fill="none" stroke="black" stroke-width="6" stroke-dasharray="20 10"><path d="M0 80H400"/>'
        '<path d="M0 150H400"/><path d="M200 0V300"/></g>',
        lines=True,
    ),
]

PICTURES = [
    Piece(
        "picture in its frame",
        "5.7",
        f'<image href="{picture_data()}" x="20" y="20" width="150" height="150" '
        f'image-rendering="optimizeSpeed"/><image href="{picture_data()}" x="200" y="20" '
        'width="150" height="150" preserveAspectRatio="none" image-rendering="optimizeSpeed"/>'
        f'<image xlink:href="{picture_data("GIF")}" x="20" y="200" width="150" '
        'height="90" preserveAspectRatio="xMaxYMax" image-rendering="optimizeSpeed"/>',
    ),
    Piece(
        "picture turned and cut",
        "5.7",
        f'<image transform="rotate(20) skewX(10)" href="{picture_data()}" x="80" y="10" '
        'width="160" height="80" image-rendering="optimizeSpeed"/><clipPath id="c"><circle '
        f'cx="250" cy="220" r="60"/></clipPath><image clip-path="url(#c)" href="{picture_data()}" '
        'x="200" y="170" width="180" height="90" image-rendering="optimizeSpeed"/>',
    ),
]

CORPUS = [*PATHS, *SHAPES, *PLACES, *STYLES, *CLIPS, *LINES, *PICTURES]


def write(folder: Path) -> None:
    """Write every drawing of the corpus into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for piece in CORPUS:
        (folder / piece.file_name).write_text(piece.text, encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]))
