"""From the darkness that a picture wants to the power, or the share of dots, that burns it.

A material's answer is measured on a grey ramp. Between the measured pairs runs a monotone cubic
(Fritsch & Carlson 1980, *Monotone piecewise cubic interpolation*; SciPy's PCHIP).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.material import Recipe

STEPS = 1024
"""Of the table that the curve is kept in."""

LEVELS = 100
"""Steps of darkness by power: finer than an eye tells apart."""

LEAST_RISE = 0.001
"""A curve with less darkness than this in the recipe's range says nothing of its tones."""


@dataclass(frozen=True, eq=False, slots=True)
class Tone:
    """A table of darkness, 0 bare and 1 the darkest that the recipe burns, and what makes it.

    ``strength`` is power as a fraction of full power, or for dots the share of dots.
    """

    dots: bool
    darkness: FloatArray
    strength: FloatArray

    def strength_for(self, darkness: FloatArray) -> FloatArray:
        """Power or share of dots for a darkness; nothing for none."""
        wanted = np.asarray(darkness, dtype=np.float64)
        found = np.interp(wanted, self.darkness, self.strength)
        return np.where(wanted > 0.0, found, 0.0)

    def darkness_of(self, strength: FloatArray) -> FloatArray:
        """Darkness that a power or a share of dots burns: the other way round."""
        given = np.asarray(strength, dtype=np.float64)
        return np.where(given > 0.0, np.interp(given, self.strength, self.darkness), 0.0)


def tone_of(recipe: Recipe) -> Tone:
    """Tone of a photo's recipe: its measured curve, else its gamma, else in proportion."""
    dots = recipe.method != "power"
    least, most = (0.0, 1.0) if dots else (recipe.power_min, recipe.power)
    darkness = np.linspace(0.0, 1.0, STEPS + 1)
    if recipe.grey_curve is None:
        return Tone(dots, darkness, least + (most - least) * darkness ** (recipe.gamma or 1.0))
    measured, strength = _rising(np.array(recipe.grey_curve), least)
    if measured[-1] - measured[0] < LEAST_RISE:
        return Tone(dots, darkness, least + (most - least) * darkness)
    curve = PchipInterpolator(strength, measured)
    reached = np.linspace(max(least, strength[0]), max(min(most, strength[-1]), strength[0]), 4097)
    burned = np.maximum.accumulate(np.asarray(curve(reached)))
    if burned[-1] < LEAST_RISE:
        return Tone(dots, darkness, least + (most - least) * darkness)
    # the lightest that can be burned may be darker than the lightest wanted: it is the nearest
    strength = np.minimum(np.interp(darkness * burned[-1], burned, reached), most)
    return Tone(dots, darkness, strength)


def _rising(pairs: FloatArray, least: float) -> tuple[FloatArray, FloatArray]:
    """Measured darkness and strength, from nothing on, no finer than anybody measures."""
    pairs = np.round(pairs, 6)
    pairs = pairs[np.append([True], np.diff(pairs[:, 0]) > 0.0)]
    if pairs[0, 0] > least and pairs[0, 1] > 0.0:
        pairs = np.vstack([[least, 0.0], pairs])
    return pairs[:, 1], pairs[:, 0]
