"""Small pieces for writing SVG files by hand."""

from __future__ import annotations

import math
from collections.abc import Iterable

Point = tuple[float, float]


def number(value: float) -> str:
    """Three decimals at most, no trailing zeros, no minus zero."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def point(x: float, y: float) -> str:
    """Two coordinates as path data."""
    return f"{number(x)},{number(y)}"


def polygon(points: Iterable[Point]) -> str:
    """Closed path through ``points``."""
    return "M " + " L ".join(point(x, y) for x, y in points) + " Z"


def polar(radius: float, angle_deg: float, centre: Point = (0.0, 0.0)) -> Point:
    """Point at a compass bearing: 0 is up, 90 to the right, y downwards."""
    angle = math.radians(angle_deg)
    return centre[0] + radius * math.sin(angle), centre[1] - radius * math.cos(angle)


def disc(x: float, y: float, radius: float) -> str:
    """A circle as two arcs."""
    r = number(radius)
    return (
        f"M {point(x - radius, y)} a {r},{r} 0 1 0 {number(2 * radius)},0 "
        f"a {r},{r} 0 1 0 {number(-2 * radius)},0 z"
    )


def rounded(x: float, y: float, width: float, height: float, radius: float) -> str:
    """A rectangle with round corners."""
    r, w, h = number(radius), number(width - 2 * radius), number(height - 2 * radius)
    return (
        f"M {point(x + radius, y)} h {w} a {r},{r} 0 0 1 {r},{r} v {h} "
        f"a {r},{r} 0 0 1 -{r},{r} h -{w} a {r},{r} 0 0 1 -{r},-{r} v -{h} "
        f"a {r},{r} 0 0 1 {r},-{r} z"
    )


def wave_line(x: float, y: float, length: float, crests: int, height: float) -> str:
    """An open wave from left to right: cubic curves with level crests and troughs."""
    half = length / crests / 2
    parts = [f"M {point(x, y)}"]
    for i in range(2 * crests):
        rise = -height if i % 2 == 0 else height
        pull = number(half * 0.4)
        parts.append(f"c {pull},0 {number(half * 0.6)},{number(rise)} {point(half, rise)}")
    return " ".join(parts)


def wave_band(x: float, y: float, length: float, crests: int, height: float, thick: float) -> str:
    """A filled wave of even thickness."""
    half = length / crests / 2
    back = []
    for i in range(2 * crests):
        rise = height if i % 2 else -height
        pull = number(-half * 0.4)
        back.append(f"c {pull},0 {number(-half * 0.6)},{number(rise)} {point(-half, rise)}")
    return f"{wave_line(x, y, length, crests, height)} v {number(thick)} {' '.join(back)} z"
