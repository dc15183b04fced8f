"""The game's tokens: pixel user units on a millimetre page, symbols, and layers within a layer."""

from __future__ import annotations

import math
from dataclasses import dataclass

from drawn_by.glyphs import Face
from drawn_by.svg import number, point, polar, wave_line

PX_PER_MM = 96 / 25.4
COLUMNS, ROWS, PITCH_MM, EDGE_MM = 6, 4, 42.0, 4.0


@dataclass(frozen=True)
class Kind:
    """A token's outline and scored lines about its centre, and where its number stands."""

    name: str
    outline: str
    score: str
    base_line_mm: float
    cap_mm: float = 8.4


BOAT = Kind(
    "boat",
    "M -18,9.5 C -16,14.6 -12.4,17.5 -7.6,17.5 H 8.6 C 13.4,17.5 16.8,14.6 18,9.5 H 14.9 "
    "C 14.2,-1 9.4,-11.2 2.3,-17.4 A 1.6,1.6 0 0 0 -0.3,-16.6 C -3.6,-7.6 -8.8,1.6 -14.6,9.5 Z",
    f"M -14.6,9.5 H 14.9 {wave_line(-11.6, 13.6, 23.2, 4, 1.3)}",
    6.6,
)
BUOY = Kind(
    "buoy",
    "M -2,-11.7 A 3.3,3.3 0 1 1 2,-11.7 L 2.4,-8.6 H 5.2 A 1.5,1.5 0 0 1 6.6,-7.5 L 11.4,8 "
    "H 15.5 A 1.7,1.7 0 0 1 17.2,9.7 V 10.6 C 17.2,14.9 12.2,17.5 6.8,17.5 H -6.8 "
    "C -12.2,17.5 -17.2,14.9 -17.2,10.6 V 9.7 A 1.7,1.7 0 0 1 -15.5,8 H -11.4 L -6.6,-7.5 "
    "A 1.5,1.5 0 0 1 -5.2,-8.6 H -2.4 Z",
    f"M -6.2,-5.6 H 6.2 M -11.4,8 H 11.4 {wave_line(-12.4, 13.2, 24.8, 4, 1.3)}",
    5.4,
    8.0,
)
LIGHT = Kind(
    "light",
    "M -1.1,-15.8 A 1.25,1.25 0 1 1 1.1,-15.8 C 3.6,-15.1 5.2,-13.4 5.6,-11.4 H 4.8 V -6.2 "
    "H 8.2 A 1.1,1.1 0 0 1 8.2,-4 H 7 L 9,11.2 H 12.2 C 14.6,11.2 16.2,13 16.4,15.4 "
    "A 2,2 0 0 1 14.4,17.5 H -14.4 A 2,2 0 0 1 -16.4,15.4 C -16.2,13 -14.6,11.2 -12.2,11.2 "
    "H -9 L -7,-4 H -8.2 A 1.1,1.1 0 0 1 -8.2,-6.2 H -4.8 V -11.4 H -5.6 "
    "C -5.2,-13.4 -3.6,-15.1 -1.1,-15.8 Z",
    "M -4.8,-11.4 H 4.8 M -4.8,-6.2 H 4.8 M -7.3,-1.6 H 7.3 M -9,11.2 H 9",
    8.3,
    7.6,
)


def wheel() -> Kind:
    """A ship's wheel: eight handles on a rim, the rim's inner edge scored as a ring."""
    rim, neck, half, grip, bulb = 13.4, 13.2, 1.35, 16.0, 2.0
    angle = math.degrees(math.asin(half / rim))
    parts = []
    for spoke in range(8):
        bearing = 45.0 * spoke
        turn = math.radians(bearing)
        right, up = (math.cos(turn), math.sin(turn)), (math.sin(turn), -math.cos(turn))
        start, end = polar(rim, bearing - angle), polar(rim, bearing + angle)
        reach = grip - math.sqrt(bulb**2 - half**2) - neck
        low = math.sqrt(rim**2 - half**2) + reach
        left = (low * up[0] - half * right[0], low * up[1] - half * right[1])
        side = (low * up[0] + half * right[0], low * up[1] + half * right[1])
        if spoke == 0:
            parts.append(f"M {point(*start)}")
        else:
            parts.append(f"A {number(rim)},{number(rim)} 0 0 1 {point(*start)}")
        parts.append(f"L {point(*left)} A {number(bulb)},{number(bulb)} 0 1 1 {point(*side)}")
        parts.append(f"L {point(*end)}")
    first = polar(rim, -angle)
    parts.append(f"A {number(rim)},{number(rim)} 0 0 1 {point(*first)} Z")
    ring = "M -9.8,0 A 9.8,9.8 0 1 1 9.8,0 A 9.8,9.8 0 1 1 -9.8,0 Z"
    return Kind("wheel", " ".join(parts), ring, 4.1, 8.2)


KINDS = (BOAT, BUOY, LIGHT, wheel())


def draw(numerals: Face) -> str:
    """Return the 24 tokens as SVG text."""
    width = COLUMNS * PITCH_MM + 2 * EDGE_MM
    height = ROWS * PITCH_MM + 2 * EDGE_MM
    symbols, outlines, scores, numbers = [], [], [], []
    for row, kind in enumerate(KINDS):
        symbols.append(
            f'    <symbol id="{kind.name}" viewBox="-21 -21 42 42" overflow="visible">\n'
            f'      <path d="{kind.outline}" />\n    </symbol>\n'
            f'    <path id="{kind.name}-lines" d="{kind.score}" />'
        )
        for column in range(COLUMNS):
            value = row * COLUMNS + column + 1
            x, y = EDGE_MM + column * PITCH_MM, EDGE_MM + row * PITCH_MM
            cx, cy = number(x + PITCH_MM / 2), number(y + PITCH_MM / 2)
            outlines.append(
                f'        <use id="token-{value}" xlink:href="#{kind.name}" x="{number(x)}" '
                f'y="{number(y)}" width="42" height="42" />'
            )
            scores.append(
                f'        <use id="lines-{value}" xlink:href="#{kind.name}-lines" '
                f'transform="translate({cx} {cy})" />'
            )
            d = numerals.line(str(value), 0.0, kind.base_line_mm, cap_mm=kind.cap_mm)
            numbers.append(
                f'        <g transform="matrix(1,0,0,1,{cx},{cy})">'
                f'<path id="number-{value}" aria-label="{value}" d="{d}" /></g>'
            )
    px_width, px_height = (f"{mm * PX_PER_MM:.6f}" for mm in (width, height))
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<!-- Invented example: "Buoys of Eiderwick" is a game that nobody has published. -->
<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"
     width="{width:g}mm" height="{height:g}mm" viewBox="0 0 {px_width} {px_height}">
  <title>Buoys of Eiderwick, tokens 1 to 24</title>
  <defs>
{chr(10).join(symbols)}
  </defs>
  <g id="Tokens">
    <g transform="scale({PX_PER_MM:.9f})">
      <g id="Engrave" fill="#7a4b1e" stroke="none">
{chr(10).join(numbers)}
      </g>
      <g id="Score" style="fill:none; stroke:#444; stroke-width:0.2">
{chr(10).join(scores)}
      </g>
      <g id="Outline" fill="none" stroke="black" stroke-width="0.2">
{chr(10).join(outlines)}
      </g>
    </g>
  </g>
</svg>
"""
