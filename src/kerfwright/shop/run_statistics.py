"""What past runs say of the next: numbers in, numbers out.

A run is a row: its shares of the processes in the predicted seconds, and its ratio, actual over
predicted seconds. All of it is done on logarithms, so that half and double are equally far off.

- The machine's ratio is the **median** of all runs.
- Where at least two processes were each half or more of at least three runs, every such process
  gets a ratio of its own: the one that leaves the least sum of absolute deviations over all runs,
  each run weighing on a process with its share of it. With one process that is the median again.
  The machine's median counts as one more run of every process: little evidence moves little.
- A run far from all others is **set aside** when the range is worked out: more than five times as
  far off as is usual, and half as long again or more.
- The **range** is where four of five new runs should fall. It lies between order statistics of the
  runs' deviations; below nine runs these cannot reach so far, and their range is made longer.

Sources: S. S. Wilks, "Determination of sample sizes for setting tolerance limits", Annals of
Mathematical Statistics 12 (1941), for the share that order statistics cover; E. J. Schlossmacher,
"An iterative technique for absolute deviations curve fitting", Journal of the American Statistical
Association 68 (1973), for the least absolute deviations.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.runs import LEAST_RUNS

COVERED = 0.8
"""Share of new runs that should fall into the range."""

LEAST_SPREAD = 0.02
"""The range reaches at least this far to both sides (in logarithms, so 2 %): a stopwatch is
started and stopped by hand."""

LENGTHENED = {3: 0.65, 4: 0.335, 5: 0.196, 6: 0.117, 7: 0.065, 8: 0.028}
"""By the number of runs, the fraction of their range that is added at both ends so that
``COVERED`` of new runs fall into it. Holds for normal deviations; from nine runs on the order
statistics do it alone, whatever the deviations are like."""

HALF = 0.5
"""A process with this share of a run's seconds dominates it."""

FAR_OFF = 5.0
"""Times the usual deviation (the median one, scaled to a normal standard deviation)."""

FAR_OFF_AT_LEAST = math.log(1.5)

NORMAL_PER_MEDIAN_DEVIATION = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""

ROUNDING = 0.005
"""Deviations below this (0.5 %) are squared instead of taken absolutely, so that the least sum
has one place and not a stretch of them."""

MOST_ROUNDS = 500


@dataclass(frozen=True, eq=False, slots=True)
class Ratios:
    """What runs took, over what was predicted.

    ``by_process`` has shape (k,), in the order of the columns of shares; a process without a ratio
    of its own has the median. ``own`` tells which have one. ``low`` and ``high`` are factors on
    the expected time.
    """

    median: float
    by_process: FloatArray
    own: npt.NDArray[np.bool_]
    low: float
    high: float
    runs: int
    set_aside: npt.NDArray[np.bool_]
    """Which runs the range leaves out, shape (n,)."""

    def expected(self, shares: FloatArray) -> float:
        """Ratio for a run with these shares of the processes, shape (k,).

        What they lack to 1 goes by the median.
        """
        median = math.log(self.median)
        return math.exp(median + float(shares @ (np.log(self.by_process) - median)))


def ratios_of_runs(shares: FloatArray, ratios: FloatArray) -> Ratios | None:
    """Learn from runs with ``shares`` of shape (n, k), rows summing to 1, and ``ratios`` (n,).

    ``None`` where there are fewer than ``LEAST_RUNS``.

    Raises:
        ValueError: shapes do not fit, shares do not sum to 1, or a ratio is not positive.
    """
    _require_runs(shares, ratios)
    runs = len(ratios)
    if runs < LEAST_RUNS:
        return None
    off = np.log(ratios)
    median = float(np.median(off))
    own = _own_ratio(shares)
    differences = np.zeros(shares.shape[1])
    if own.any():
        differences[own] = _least_absolute(shares[:, own], off - median)
    deviations = off - median - shares @ differences
    aside = _set_aside(deviations)
    low, high = _range(np.sort(deviations[~aside]))
    return Ratios(
        median=math.exp(median),
        by_process=np.exp(median + differences),
        own=own,
        low=math.exp(low),
        high=math.exp(high),
        runs=runs,
        set_aside=aside,
    )


def _require_runs(shares: FloatArray, ratios: FloatArray) -> None:
    if shares.ndim != 2 or ratios.shape != shares.shape[:1]:
        raise ValueError(f"shares of shape {shares.shape} and ratios {ratios.shape} do not fit")
    if not np.allclose(shares.sum(axis=1), 1.0) or (shares < 0.0).any():
        raise ValueError("the shares of a run must be 0 or more and sum to 1")
    if not (np.isfinite(ratios) & (ratios > 0.0)).all():
        raise ValueError("a ratio must be a positive number")


def _own_ratio(shares: FloatArray) -> npt.NDArray[np.bool_]:
    """Which processes dominate enough runs; one alone is the machine's median anyway."""
    enough: npt.NDArray[np.bool_] = (shares >= HALF).sum(axis=0) >= LEAST_RUNS
    return enough if enough.sum() >= 2 else np.zeros_like(enough)


def _least_absolute(shares: FloatArray, off: FloatArray) -> FloatArray:
    """Differences of the processes with the least sum of |off - shares @ differences|.

    By weighted least squares, each row weighing with the inverse of its last deviation
    (Schlossmacher). A row of each process alone with difference 0 stands for the median.
    """
    count = shares.shape[1]
    rows = np.vstack([shares, np.eye(count)])
    wanted = np.concatenate([off, np.zeros(count)])
    differences = np.zeros(count)
    for _ in range(MOST_ROUNDS):
        weights = 1.0 / np.hypot(wanted - rows @ differences, ROUNDING)
        weighted = rows * weights[:, np.newaxis]
        better = np.linalg.solve(rows.T @ weighted, weighted.T @ wanted)
        moved = float(np.abs(better - differences).max())
        differences = better
        if moved < 1e-9:
            break
    return differences


def _set_aside(deviations: FloatArray) -> npt.NDArray[np.bool_]:
    """Runs far from all others, as long as enough others are left."""
    away = np.abs(deviations - np.median(deviations))
    usual = max(NORMAL_PER_MEDIAN_DEVIATION * float(np.median(away)), LEAST_SPREAD)
    aside: npt.NDArray[np.bool_] = away > max(FAR_OFF * usual, FAR_OFF_AT_LEAST)
    return aside if len(aside) - aside.sum() >= LEAST_RUNS else np.zeros_like(aside)


def _range(deviations: FloatArray) -> tuple[float, float]:
    """Between which deviations ``COVERED`` of new runs fall; ``deviations`` are sorted.

    Of n runs, a new one falls below the k-th with a chance of k / (n + 1) (Wilks).
    """
    count = len(deviations)
    ends = (1.0 - COVERED) / 2.0
    if count in LENGTHENED:
        more = LENGTHENED[count] * (deviations[-1] - deviations[0])
        low, high = deviations[0] - more, deviations[-1] + more
    else:
        place = ends * (count + 1) - 1.0
        low, high = np.interp([place, count - 1 - place], np.arange(count), deviations)
    return min(float(low), -LEAST_SPREAD), max(float(high), LEAST_SPREAD)
