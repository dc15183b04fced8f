"""The prize plaque: point user units, style classes, no layers; stroke colours tell the process."""

from __future__ import annotations

import math

from drawn_by.glyphs import Anchor, Face
from drawn_by.svg import Point, disc, number, point, polar, polygon

PT_PER_MM = 72 / 25.4
WIDTH_MM, HEIGHT_MM = 88.0, 122.0
NOTCH_MM, ARCH_MM, INSET_MM = 11.0, 90.0, 4.5
ROSE_X, ROSE_Y = 44.0, 56.5
LETTERS: tuple[tuple[str, float, float, Anchor], ...] = (
    ("N", 0.0, -29.0, "middle"),
    ("E", 29.0, 2.1, "start"),
    ("S", 0.0, 33.2, "middle"),
    ("W", -29.0, 2.1, "end"),
)
CUT, SCORE = "#b3261e", "#1f6f8b"


def frame(inset: float) -> str:
    """The plaque's outline moved inwards: arched top and round notches, arcs about fixed points."""
    u = PT_PER_MM
    left, right, bottom = inset, WIDTH_MM - inset, HEIGHT_MM - inset
    notch, arch = NOTCH_MM + inset, ARCH_MM - inset
    shoulder = 12.0
    # Upper notches are centred on the board's own corners, at height ``shoulder``.
    arch_y = ARCH_MM
    along, half = WIDTH_MM / 2, WIDTH_MM / 2
    centre_gap = math.hypot(half, arch_y - shoulder)
    # Where the notch's circle meets the arch's circle.
    a = (notch**2 - arch**2 + centre_gap**2) / (2 * centre_gap)
    h = math.sqrt(notch**2 - a**2)
    ux, uy = half / centre_gap, (arch_y - shoulder) / centre_gap
    meet_x, meet_y = a * ux + h * uy, shoulder + a * uy - h * ux
    side = math.sqrt(notch**2 - inset**2)

    def at(x: float, y: float) -> str:
        return point(x * u, y * u)

    def arc(radius: float, sweep: int, x: float, y: float) -> str:
        return f"A {number(radius * u)},{number(radius * u)} 0 0 {sweep} {at(x, y)}"

    return " ".join(
        [
            f"M {at(meet_x, meet_y)}",
            arc(arch, 1, 2 * along - meet_x, meet_y),
            arc(notch, 0, right, shoulder + side),
            f"L {at(right, HEIGHT_MM - side)}",
            arc(notch, 0, WIDTH_MM - side, bottom),
            f"L {at(side, bottom)}",
            arc(notch, 0, left, HEIGHT_MM - side),
            f"L {at(left, shoulder + side)}",
            arc(notch, 0, meet_x, meet_y),
            "Z",
        ]
    )


def _inset(corners: tuple[Point, Point, Point], by: float) -> list[Point]:
    """A triangle moved inwards on all sides: shrunk about the centre of its inscribed circle."""
    sides = [math.dist(corners[i - 2], corners[i - 1]) for i in range(3)]
    around = sum(sides)
    x, y = (sum(w * c[i] for w, c in zip(sides, corners, strict=True)) / around for i in (0, 1))
    (ax, ay), (bx, by_), (cx, cy) = corners
    radius = abs((bx - ax) * (cy - ay) - (cx - ax) * (by_ - ay)) / around
    share = 1 - by / radius
    return [(x + share * (cx - x), y + share * (cy - y)) for cx, cy in corners]


def ray(length: float, corner: Point, foot: float) -> tuple[str, str]:
    """A compass point in two halves: the right one filled, the left one only framed.

    It points up from (0, -``foot``) to (0, -``length``) and is widest at ``corner``, in mm.
    """
    u = PT_PER_MM
    tip, heel = (0.0, -length * u), (0.0, -foot * u)
    right, left = (corner[0] * u, corner[1] * u), (-corner[0] * u, corner[1] * u)
    solid = polygon([tip, right, heel])
    return solid, f"{polygon([tip, left, heel])} {polygon(_inset((tip, left, heel), 0.5 * u))}"


def ring(radius: float, thick: float) -> str:
    """An engraved ring about the origin."""
    u = PT_PER_MM
    return f"{disc(0, 0, radius * u)} {disc(0, 0, (radius - thick) * u)}"


def ticks() -> str:
    """Bars between two rings, one every 7.5 degrees but where a point stands."""
    u = PT_PER_MM
    bars = []
    for i in range(48):
        bearing, half = 7.5 * i, 0.9
        bars.append(
            polygon(
                polar(r * u, bearing + turn)
                for r, turn in ((24.2, -half), (26.0, -half), (26.0, half), (24.2, half))
            )
        )
    return " ".join(bars)


def draw(serif: Face, sans: Face) -> str:
    """Return the plaque as SVG text."""
    u = PT_PER_MM
    long, waist, share = 22.8, 5.8, 0.24
    cardinal, cardinal_frame = ray(long, polar(waist, 45.0), 0.0)
    # A half point stands in the angle between two long ones: its corners lie on their edges.
    far = polar(long, 45.0)
    corner = (share * far[0], -waist + share * (far[1] + waist))
    diagonal, diagonal_frame = ray(16.4, corner, waist)
    letters = " ".join(
        serif.line(letter, x, y, cap_mm=4.2, anchor=anchor, units_per_mm=u)
        for letter, x, y, anchor in LETTERS
    )

    def text(face: Face, words: str, y: float, cap: float, tracking: float) -> str:
        return face.line(words, WIDTH_MM / 2, y, cap_mm=cap, tracking=tracking, units_per_mm=u)

    width, height = (number(mm * u) for mm in (WIDTH_MM, HEIGHT_MM))
    turned = "\n".join(
        f'      <use xlink:href="#{name}" transform="rotate({angle})"/>'
        for name, first in (("point", 0), ("half-point", 45))
        for angle in range(first, 360, 90)
    )
    centre = f"translate({number(ROSE_X * u)} {number(ROSE_Y * u)})"
    return f"""<?xml version="1.0" encoding="utf-8"?>
<!-- Invented example. Red lines are cut, blue lines are scored: the order file says so. -->
<svg version="1.1" xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"
  x="0px" y="0px" width="{WIDTH_MM:g}mm" height="{HEIGHT_MM:g}mm" viewBox="0 0 {width} {height}">
<style type="text/css">
  .st0{{fill:none;stroke:{CUT};stroke-width:0.5;stroke-miterlimit:10;}}
  .st1{{fill:none;stroke:{SCORE};stroke-width:0.5;}}
  .st2{{fill:#2B2B2B;}}
  .st3{{fill-rule:evenodd;clip-rule:evenodd;fill:#2B2B2B;}}
</style>
<defs>
  <g id="point">
    <path class="st2" d="{cardinal}"/>
    <path class="st3" d="{cardinal_frame}"/>
  </g>
  <g id="half-point">
    <path class="st2" d="{diagonal}"/>
    <path class="st3" d="{diagonal_frame}"/>
  </g>
</defs>
<g id="plaque">
  <path class="st0" d="{frame(0.0)}"/>
  <circle class="st0" cx="{number(WIDTH_MM / 2 * u)}" cy="{number(8.5 * u)}" r="{number(2 * u)}"/>
  <path class="st1" d="{frame(INSET_MM)}"/>
  <g id="artwork">
    <g id="rose" transform="{centre}">
{turned}
      <path class="st3" d="{ring(27.0, 1.0)}"/>
      <path class="st3" d="{ring(24.2, 0.5)}"/>
      <path class="st2" d="{ticks()}"/>
      <path class="st2" d="{letters}"/>
    </g>
    <g id="lettering">
      <path class="st2" d="{text(sans, "EIDERWICK", 18.4, 3.2, 0.42)}"/>
      <path class="st2" d="{text(serif, "REGATTA", 104.4, 6.6, 0.16)}"/>
      <path class="st2" d="{text(sans, "FOR FAIR SAILING", 111.6, 2.9, 0.14)}"/>
    </g>
  </g>
  <line class="st1" x1="{number(24 * u)}" y1="{number(94.3 * u)}"
    x2="{number(64 * u)}" y2="{number(94.3 * u)}"/>
</g>
</svg>
"""
