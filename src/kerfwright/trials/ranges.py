"""From the ends of a range to the values that are burned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.errors import KerfwrightError

MOST_STEPS = 20


@dataclass(frozen=True, slots=True)
class Range:
    """From where to where, both burned, in how many values."""

    option: str
    """Option that gives it, for messages."""
    low: float
    high: float
    steps: int

    def values(self, decimals: int, *, by_factor: bool) -> tuple[float, ...]:
        """Values rounded so that a label says exactly what is burned, rising.

        Speeds and intervals rise by one factor, so that neighbours differ alike.

        Raises:
            KerfwrightError: ``calibration/bad-range``.
        """
        if not 0.0 < self.low < self.high or not np.isfinite(self.high):
            raise self.bad("must rise from a value above 0 to a larger one")
        if not 2 <= self.steps <= MOST_STEPS:
            raise self.bad(f"must have 2 to {MOST_STEPS} values")
        spread = np.geomspace if by_factor else np.linspace
        values = [
            round(float(value), decimals) for value in spread(self.low, self.high, self.steps)
        ]
        if len(set(values)) < len(values) or values[0] <= 0.0:
            raise self.bad(f"has values that are the same to {decimals} decimals")
        return tuple(values)

    def bad(self, what: str) -> KerfwrightError:
        """The error for this range."""
        return KerfwrightError(
            "calibration/bad-range",
            file=f"{self.option} {self.low:g} {self.high:g} {self.steps}",
            thing=f"this range {what}.",
            remedy="Give the lowest value, the highest value, and how many values.",
        )


def powers(given: Range) -> tuple[float, ...]:
    """Powers as fractions of full power, to a tenth of a per cent.

    Raises:
        KerfwrightError: ``calibration/bad-range``.
    """
    if given.high > 1.0:
        raise given.bad("is above full power; powers are fractions of 1")
    return given.values(3, by_factor=False)
