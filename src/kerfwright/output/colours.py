"""Colours along time or energy: evenly stepped for the eye, and without red against green.

Interpolated in OKLab (Ottosson 2020, *A perceptual color space for image processing*; also CSS
Color Module Level 4, section 10), where equal steps of lightness look equal. Each ramp runs from
near the background's lightness to far from it, so late or strong always stands out most, and is
told by lightness alone where hues are not seen.
"""

from __future__ import annotations

import math
from typing import Literal

Scheme = Literal["light", "dark"]

OKLCH_STOPS: dict[Scheme, tuple[tuple[float, float, float], ...]] = {
    "light": (
        (0.660, 0.125, 75.0),
        (0.610, 0.135, 60.0),
        (0.560, 0.145, 42.0),
        (0.510, 0.150, 20.0),
        (0.460, 0.150, 355.0),
        (0.410, 0.145, 330.0),
        (0.360, 0.140, 305.0),
        (0.310, 0.125, 285.0),
        (0.260, 0.100, 272.0),
    ),
    "dark": (
        (0.540, 0.140, 285.0),
        (0.588, 0.150, 305.0),
        (0.636, 0.150, 330.0),
        (0.684, 0.145, 355.0),
        (0.732, 0.135, 20.0),
        (0.780, 0.130, 45.0),
        (0.828, 0.130, 70.0),
        (0.876, 0.130, 90.0),
        (0.924, 0.110, 102.0),
    ),
}
"""Lightness, chroma and hue in degrees; the lightness steps are equal."""


def ramp(count: int, scheme: Scheme) -> list[str]:
    """Return ``count`` colours as ``#rrggbb``, from start to end, for a light or dark page."""
    stops = [_oklab(stop) for stop in OKLCH_STOPS[scheme]]
    colours = []
    for i in range(count):
        place = i / max(count - 1, 1) * (len(stops) - 1)
        low = min(int(place), len(stops) - 2)
        share = place - low
        lab = [(1 - share) * p + share * q for p, q in zip(stops[low], stops[low + 1], strict=True)]
        colours.append(_hex(lab[0], lab[1], lab[2]))
    return colours


def _oklab(stop: tuple[float, float, float]) -> tuple[float, float, float]:
    lightness, chroma, hue_deg = stop
    hue = math.radians(hue_deg)
    return lightness, chroma * math.cos(hue), chroma * math.sin(hue)


def _hex(lightness: float, a: float, b: float) -> str:
    """Nearest colour that a screen can show: chroma is taken back until it fits."""
    share = 1.0
    while True:
        channels = _linear_srgb(lightness, share * a, share * b)
        if share < 0.01 or all(-1e-4 <= channel <= 1.0001 for channel in channels):
            break
        share *= 0.97
    return "#" + "".join(f"{round(255 * _encoded(c)):02x}" for c in channels)


def _linear_srgb(lightness: float, a: float, b: float) -> tuple[float, float, float]:
    long = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3
    medium = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3
    short = (lightness - 0.0894841775 * a - 1.2914855480 * b) ** 3
    return (
        4.0767416621 * long - 3.3077115913 * medium + 0.2309699292 * short,
        -1.2684380046 * long + 2.6097574011 * medium - 0.3413193965 * short,
        -0.0041960863 * long - 0.7034186147 * medium + 1.7076147010 * short,
    )


def _encoded(channel: float) -> float:
    """Gamma of sRGB, IEC 61966-2-1."""
    channel = min(max(channel, 0.0), 1.0)
    return 12.92 * channel if channel <= 0.0031308 else 1.055 * channel ** (1 / 2.4) - 0.055
