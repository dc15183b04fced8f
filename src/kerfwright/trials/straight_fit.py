"""Least squares for a few readings: values with their intervals, and readings that stand out.

Ordinary least squares with 95 % intervals by Student's t. A reading stands out if its externally
studentised residual is larger than chance allows in that many readings, by Bonferroni's bound
(Weisberg, *Applied Linear Regression*, 3rd edition 2005, section 9.1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from kerfwright.geometry.paths import FloatArray

BoolArray = npt.NDArray[np.bool_]

CONFIDENCE = 0.95

SET_ASIDE_SHARE = 0.25
"""Largest share of the readings that may be set aside: with more, nobody knows which are right."""

SPARE = 2
"""Readings beyond the numbers that are found, at least: one leaves an interval without end."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A number with its 95 % interval."""

    value: float
    low: float
    high: float

    @property
    def half_width(self) -> float:
        """Half of the interval."""
        return (self.high - self.low) / 2.0


@dataclass(frozen=True, eq=False, slots=True)
class StraightFit:
    """Coefficients of a linear model."""

    coefficients: FloatArray
    """Shape (k,)."""
    covariance: FloatArray
    """Of the coefficients, shape (k, k)."""
    kept: BoolArray
    """Readings that were used, shape (n,)."""
    residuals: FloatArray
    """Of all readings, shape (n,)."""
    deviation: float
    """Standard deviation of a reading."""
    spare: int
    """Readings used beyond the number of coefficients."""

    def measured(self, weights: FloatArray) -> Measured:
        """A weighted sum of the coefficients, shape (k,), with its interval."""
        value = float(weights @ self.coefficients)
        spread = math.sqrt(float(weights @ self.covariance @ weights))
        half = student(self.spare) * spread
        return Measured(value, value - half, value + half)


def straight_fit(design: FloatArray, values: FloatArray, *, resolution: float) -> StraightFit:
    """Fit ``values`` (n,) by ``design`` (n, k); readings that stand out are set aside one by one.

    ``resolution`` is the step of the measuring tool. Readings that agree better than it can show
    are taken to be uniform within it: their deviation is at least step/√12 (JCGM 100:2008, 4.3.7).

    Raises:
        ValueError: fewer than two readings beyond the coefficients, or they do not tell them.
    """
    count, unknown = design.shape
    kept = np.ones(count, dtype=bool)
    if count < unknown + SPARE or np.linalg.matrix_rank(design) < unknown:
        raise ValueError("these readings do not tell the coefficients")
    floor = resolution / math.sqrt(12.0)
    while True:
        fit = _least_squares(design, values, kept, floor)
        aside = count - int(kept.sum())
        if aside + 1 > SET_ASIDE_SHARE * count or fit.spare <= SPARE:
            return fit
        worst = _worst(design, fit, floor)
        rest = kept.copy()
        if worst is not None:
            rest[worst] = False
        if worst is None or np.linalg.matrix_rank(design[rest]) < unknown:
            return fit
        kept = rest


def student(spare: int) -> float:
    """Half of a 95 % interval in standard deviations, by Student's t."""
    return float(stdtrit(spare, 0.5 + CONFIDENCE / 2.0))


def _least_squares(
    design: FloatArray, values: FloatArray, kept: BoolArray, floor: float
) -> StraightFit:
    used = design[kept]
    coefficients = np.asarray(np.linalg.lstsq(used, values[kept], rcond=None)[0], np.float64)
    residuals = values - design @ coefficients
    spare = len(used) - used.shape[1]
    deviation = max(math.sqrt(float((residuals[kept] ** 2).sum()) / spare), floor)
    covariance = np.asarray(deviation**2 * np.linalg.inv(used.T @ used), np.float64)
    return StraightFit(coefficients, covariance, kept, residuals, deviation, spare)


def _worst(design: FloatArray, fit: StraightFit, floor: float) -> int | None:
    """The kept reading that stands out most, if one does."""
    used = np.flatnonzero(fit.kept)
    table = design[used]
    leverage = np.einsum("ij,jk,ik->i", table, np.linalg.inv(table.T @ table), table)
    free = np.maximum(1.0 - leverage, 1e-12)
    squares = fit.residuals[used] ** 2
    # of the fit without the reading, in closed form
    without = (squares.sum() - squares / free) / (fit.spare - 1)
    deviations = np.sqrt(np.maximum(without, floor**2))
    scores = np.abs(fit.residuals[used]) / (deviations * np.sqrt(free))
    scores[free < 1e-9] = 0.0
    chance = (1.0 - CONFIDENCE) / (2.0 * len(used))
    limit = float(stdtrit(fit.spare - 1, 1.0 - chance))
    worst = int(np.argmax(scores))
    return int(used[worst]) if scores[worst] > limit else None
