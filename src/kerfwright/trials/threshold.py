"""The boundary between cells that did and cells that did not, by logistic regression.

Few cells often part cleanly, and then the likelihood has no maximum. Firth's penalty keeps the
estimate finite and takes away its first-order bias (Firth, *Bias reduction of maximum likelihood
estimates*, Biometrika 80, 1993; Heinze & Schemper, *A solution to the problem of separation in
logistic regression*, Statistics in Medicine 21, 2002).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from kerfwright.geometry.paths import FloatArray
from kerfwright.trials.straight_fit import Measured

NORMAL_95 = 1.959964
ROUNDS = 200
LONGEST_STEP = 5.0
SAME = 1e-6
"""Spread of x below which all are one."""


@dataclass(frozen=True, eq=False, slots=True)
class Boundary:
    """Where the chance is one half, with its 95 % interval, and how steeply it rises there."""

    at: Measured
    slope: float
    """Change of the log odds for 1 of x."""

    def chance_at(self, x: float) -> float:
        """Chance of doing it."""
        return float(expit(self.slope * (x - self.at.value)))


def boundary(x: FloatArray, did: FloatArray, trials: FloatArray) -> Boundary:
    """Fit a rising chance over ``x``: of ``trials`` at each, ``did`` did it; shapes (n,).

    The interval is by the delta method from the fit's covariance.

    Raises:
        ValueError: nothing did or everything did, or the chance does not rise with ``x``.
    """
    if not 0.0 < did.sum() < trials.sum():
        raise ValueError("both outcomes are needed")
    middle, width = float(x.mean()), float(x.std())
    if width < SAME:
        raise ValueError("everything was tried at the same place")
    scaled = (x - middle) / width
    design = np.column_stack([np.ones_like(scaled), scaled])
    found = np.zeros(2)
    for _ in range(ROUNDS):
        step, covariance = _firth_step(design, found, did, trials)
        length = float(np.abs(step).max())
        found = found + step * min(1.0, LONGEST_STEP / max(length, 1e-12))
        if length < 1e-9:
            break
    a, b = found.tolist()
    if b <= 0.0:
        raise ValueError("the chance does not rise")
    at = -a / b
    slope = np.array([-1.0 / b, a / b**2])
    half = NORMAL_95 * math.sqrt(float(slope @ covariance @ slope))
    limits = (middle + width * (at + side * half) for side in (0.0, -1.0, 1.0))
    return Boundary(Measured(*limits), b / width)


def _firth_step(
    design: FloatArray, found: FloatArray, did: FloatArray, trials: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """One step of Fisher scoring on Firth's score, and the covariance where it starts."""
    chance = expit(design @ found)
    weight = trials * np.maximum(chance * (1.0 - chance), 1e-12)
    covariance = np.asarray(np.linalg.inv(design.T @ (weight[:, None] * design)), np.float64)
    leverage = weight * np.einsum("ij,jk,ik->i", design, covariance, design)
    score = design.T @ (did - trials * chance + leverage * (0.5 - chance))
    return covariance @ score, covariance
