"""The harbour sign: millimetre user units, labelled layers, a style sheet and inline styles."""

from __future__ import annotations

from drawn_by.glyphs import Face
from drawn_by.svg import disc, rounded, wave_band, wave_line

WIDTH_MM, HEIGHT_MM = 600.0, 290.0
INSET_MM, BORDER_MM = 10.0, 13.0
TEXT_X = 394.0
TEXT_WIDTH = 308.0

MAINSAIL = "M 4.5,-44 C 21,-27 33,-4 37,21 H 4.5 Z"
JIB = "M -1.5,-36 V 21 H -33 C -23,5 -9,-15 -1.5,-36 Z"
HULL = (
    "M -46,24.5 C -20,28 18,28 48,22.5 C 44.5,33.5 38,43 29,45.5 "
    "H -23 C -34,44.5 -42,36.5 -46,24.5 Z"
)


def boat() -> str:
    """A disc with a sailing boat and the sea left out of it, about its centre."""
    sea = " ".join(
        wave_band(x, y, length, crests, 3.2, 2.6)
        for x, y, length, crests in ((-40, 51.2, 80, 5), (-24, 58.8, 48, 3))
    )
    return f"{disc(0, 0, 71)} {MAINSAIL} {JIB} {HULL} {sea}"


def fitted(face: Face, text: str, y: float, *, cap_mm: float) -> str:
    """A line of text spaced out to the full width of the lettering."""
    tight = face.width_mm(text, cap_mm=cap_mm)
    loose = face.width_mm(text, cap_mm=cap_mm, tracking=1.0)
    tracking = (TEXT_WIDTH - tight) / (loose - tight)
    return face.line(text, TEXT_X, y, cap_mm=cap_mm, tracking=tracking)


def draw(serif: Face, sans: Face) -> str:
    """Return the sign as SVG text."""
    inner = INSET_MM + BORDER_MM
    border = " ".join(
        rounded(d, d, WIDTH_MM - 2 * d, HEIGHT_MM - 2 * d, r)
        for d, r in ((INSET_MM, 20.0), (inner, 7.0))
    )
    left = TEXT_X - TEXT_WIDTH / 2
    return f"""<?xml version="1.0" encoding="UTF-8" standalone="no"?>
<!-- Invented example: there is no such harbour. -->
<svg xmlns="http://www.w3.org/2000/svg"
     xmlns:draw="urn:example:drawing-program"
     width="{WIDTH_MM:g}mm" height="{HEIGHT_MM:g}mm" viewBox="0 0 {WIDTH_MM:g} {HEIGHT_MM:g}"
     version="1.1" id="svg5">
  <title>Harbour sign, Eiderwick</title>
  <defs id="defs2">
    <style id="style4">
      .line {{ fill: none; stroke: #000000; stroke-width: 0.2 }}
      .area {{ fill: #3b4754; stroke: none }}
    </style>
    <circle id="screw" r="2.75" />
  </defs>
  <g draw:groupmode="layer" draw:label="Guides" id="layer1"
     style="fill:none;stroke:#5b8fb0;stroke-width:0.15">
    <path id="centre-across" d="M 0,145 H 600" />
    <path id="centre-up" d="M 300,0 V 290" />
    <rect id="lettering-box" x="{left:g}" y="76" width="{TEXT_WIDTH:g}" height="138" />
  </g>
  <g draw:groupmode="layer" draw:label="Engrave" id="layer2">
    <g draw:groupmode="layer" draw:label="Border" id="layer6">
      <path id="border" style="fill-rule:evenodd" class="area"
            d="{border}" />
    </g>
    <g draw:groupmode="layer" draw:label="Emblem" id="layer7"
       transform="translate(140,145) scale(1.12)">
      <path id="medallion" class="area" style="fill-rule:evenodd"
            d="{boat()}" />
      <path id="rim" class="area" style="fill-rule:evenodd"
            d="{disc(0, 0, 77)} {disc(0, 0, 74.4)}" />
    </g>
    <g draw:groupmode="layer" draw:label="Lettering" id="layer8" class="area">
      <path id="text-name" aria-label="EIDERWICK"
            d="{fitted(serif, "EIDERWICK", 110, cap_mm=34)}" />
      <path id="sea" d="{wave_band(left, 134.5, TEXT_WIDTH, 12, 5.0, 3.4)}" />
      <path id="text-house" aria-label="HARBOUR HOUSE"
            d="{fitted(serif, "HARBOUR HOUSE", 183.5, cap_mm=22.5)}" />
      <path id="text-ferry" aria-label="RING THE BELL FOR THE FERRY"
            d="{fitted(sans, "RING THE BELL FOR THE FERRY", 214, cap_mm=11.5)}" />
    </g>
  </g>
  <g draw:groupmode="layer" draw:label="Score" id="layer3" class="line">
    <path id="swell" d="{wave_line(left, 144.9, TEXT_WIDTH, 12, 5.0)}" />
  </g>
  <g draw:groupmode="layer" draw:label="Holes" id="layer4" class="line">
    <use href="#screw" id="screw-left" x="36" y="145" />
    <use href="#screw" id="screw-right" transform="translate(564 145)" />
  </g>
  <g draw:groupmode="layer" draw:label="Outline" id="layer5">
    <rect id="board" class="line" x="0" y="0" width="600" height="290" rx="30" ry="30" />
  </g>
</svg>
"""
