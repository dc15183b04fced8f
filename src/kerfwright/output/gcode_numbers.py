"""Numbers of a program's words: as short as they go, and never in another's place."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]

FEED_DECIMALS = 2
"""Of mm/min: finer than any controller's step rate."""

POWER_STEPS = 1000
"""A power is written to at least this part of full power, and no finer than it needs."""

SECONDS_DECIMALS = 3


def number(steps: int, decimals: int) -> str:
    """Decimal number for a count of the last decimal, as short as it goes."""
    sign = "-" if steps < 0 else ""
    whole, rest = divmod(abs(steps), 10**decimals)
    if rest == 0:
        return f"{sign}{whole}"
    return f"{sign}{whole}.{rest:0{decimals}d}".rstrip("0")


def numbers(steps: IntArray, decimals: int) -> list[str]:
    """Decimal numbers for counts of the last decimal; each value is put into words once."""
    values, where = np.unique(steps, return_inverse=True)
    words = [number(value, decimals) for value in values.tolist()]
    return [words[i] for i in where.tolist()]


def rounded(value: float, decimals: int) -> str:
    """Decimal number for a value, as short as it goes."""
    return number(round(value * 10**decimals), decimals)


def feed_words(speed_mm_s: FloatArray) -> list[str]:
    """F numbers in mm/min; no speed becomes nothing."""
    steps = np.maximum(np.rint(np.nan_to_num(speed_mm_s) * 60.0 * 10**FEED_DECIMALS), 1.0)
    return numbers(steps.astype(np.int64), FEED_DECIMALS)


def power_decimals(full_power_s_word: float) -> int:
    """Decimals of an S word, so that a step is at most a thousandth of full power."""
    return max(0, math.ceil(math.log10(POWER_STEPS / full_power_s_word) - 1e-9))


def power_words(power: FloatArray, full_power_s_word: float) -> list[str]:
    """S numbers; a power above nothing never becomes nothing, and none is above full."""
    decimals = power_decimals(full_power_s_word)
    full = full_power_s_word * 10**decimals
    steps = np.clip(np.rint(power * full), np.where(power > 0.0, 1.0, 0.0), math.floor(full + 1e-6))
    return numbers(steps.astype(np.int64), decimals)
