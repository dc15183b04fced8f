"""How much energy a millimetre of cut takes at a thickness, from cuts at other thicknesses.

The energy of a line, E = n·P/v in J/mm for n passes of P watts at v mm/s, melts and vaporises a
kerf w wide through a sheet t thick: η·E = w·t·ρ·(c·ΔT + L), the lumped heat capacity model (Steen
& Mazumder, *Laser Material Processing*, 4th edition 2010, chapter 4; from memory). It grows in
proportion to the thickness. What is lost to the sides and on the way down makes it another
straight line, which takes two thicknesses to know, and more to know how well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.shop.material import Recipe
from kerfwright.trials.straight_fit import student


@dataclass(frozen=True, slots=True)
class LineEnergy:
    """Energy for a mm of cut; the range is that of one more recipe, where it can be told."""

    j_mm: float
    low_j_mm: float | None = None
    high_j_mm: float | None = None
    """95 % of new recipes lie within, if those at hand scatter about a straight line by chance."""


def line_energy_j_mm(recipe: Recipe, power_w: float) -> float:
    """Energy that each mm of a recipe's line gets from a laser of a rated power."""
    return power_w * recipe.power * recipe.passes / recipe.speed_mm_s


def in_proportion(thickness_mm: float, energy_j_mm: float, wanted_mm: float) -> LineEnergy:
    """Energy at a thickness from that at another one."""
    return LineEnergy(energy_j_mm * wanted_mm / thickness_mm)


def along_line(
    thicknesses_mm: Sequence[float], energies_j_mm: Sequence[float], wanted_mm: float
) -> LineEnergy:
    """Energy at a thickness by least squares through points of two thicknesses or more.

    The range is the prediction interval of simple regression (Weisberg, *Applied Linear
    Regression*, 3rd edition 2005, section 2.8.3); two points leave none.

    Raises:
        ValueError: the points do not tell a line on which thicker sheets take more energy.
    """
    t = np.asarray(thicknesses_mm, dtype=np.float64)
    e = np.asarray(energies_j_mm, dtype=np.float64)
    apart = t - t.mean()
    squares = float(apart @ apart)
    if len(t) < 2 or squares == 0.0:
        raise ValueError("a line takes two thicknesses")
    slope = float(apart @ (e - e.mean())) / squares
    wanted = float(e.mean()) + slope * (wanted_mm - float(t.mean()))
    if slope <= 0.0 or wanted <= 0.0:
        raise ValueError("thicker sheets took no more energy")
    spare = len(t) - 2
    if spare == 0:
        return LineEnergy(wanted)
    left = e - e.mean() - slope * apart
    variance = float(left @ left) / spare
    away = (wanted_mm - float(t.mean())) ** 2 / squares
    half = student(spare) * math.sqrt(variance * (1.0 + 1.0 / len(t) + away))
    return LineEnergy(wanted, max(wanted - half, 0.0), wanted + half)
