"""Runs with readings and the numbers of a machine to find from them, as a least-squares problem."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.parameters import Parameter, first_guess, with_values
from kerfwright.motion.timed_runs import run_times_s, touches
from kerfwright.shop.machine import Machine
from kerfwright.shop.timed_run import TimedRun

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

SOFT = 0.02
"""Relative error from which a reading pulls no harder: twice a hand's on a stopwatch."""

SETTLE_UNIT_S = 0.01
LONGEST_SETTLE_S = 10.0
FACTOR = 30.0
"""How many times larger or smaller than in the file a number may turn out."""

STEP = 1e-3


@dataclass(frozen=True, eq=False, slots=True)
class Problem:
    """Runs with readings, and the numbers to find; x are their logarithms, for settling seconds."""

    machine: Machine
    runs: tuple[TimedRun, ...]
    parameters: tuple[Parameter, ...]
    run_of_reading: IntArray
    log_s: FloatArray

    def values(self, x: FloatArray) -> FloatArray:
        """Values of the numbers at an x."""
        values = np.exp(x)
        for i, parameter in enumerate(self.parameters):
            if parameter.field == "settle_s":
                values[i] = max(x[i] * SETTLE_UNIT_S, parameter.least)
        return values

    def x(self, values: FloatArray) -> FloatArray:
        """The x of some values."""
        x = np.log(values)
        for i, parameter in enumerate(self.parameters):
            if parameter.field == "settle_s":
                x[i] = values[i] / SETTLE_UNIT_S
        return np.asarray(x)

    def log_times(self, x: FloatArray) -> FloatArray:
        """Logarithms of the seconds of every run."""
        times = run_times_s(self.runs, self.machine, self.parameters, self.values(x))
        return np.asarray(np.log(times))

    def jacobian(self, x: FloatArray, steps: FloatArray) -> FloatArray:
        """d(log t)/dx of every run by one step of each x, shape (runs, parameters)."""
        here = self.log_times(x)
        table = np.zeros((len(self.runs), len(x)))
        for j, parameter in enumerate(self.parameters):
            touched = [i for i, run in enumerate(self.runs) if touches(run, parameter)]
            moved = x.copy()
            moved[j] += steps[j]
            some = [self.runs[i] for i in touched]
            times = run_times_s(some, self.machine, self.parameters, self.values(moved))
            table[touched, j] = (np.log(times) - here[touched]) / steps[j]
        return table


def solve(problem: Problem, x: FloatArray, kept: BoolArray) -> FloatArray:
    """The x that fits the kept readings best, from a first x."""
    run = problem.run_of_reading[kept]
    log_s = problem.log_s[kept]
    low, high = _bounds(problem)

    def off(x: FloatArray) -> FloatArray:
        return np.asarray(problem.log_times(x)[run] - log_s)

    def slope(x: FloatArray) -> FloatArray:
        # above the highest x nothing changes any more
        return np.asarray(problem.jacobian(x, np.where(x + STEP <= high, STEP, -STEP))[run])

    found = least_squares(
        off,
        np.clip(x, low + 1e-9, high - 1e-9),
        jac=slope,
        bounds=(low, high),
        loss="soft_l1",
        f_scale=SOFT,
        x_scale="jac",
        xtol=1e-5,
        ftol=1e-6,
        gtol=1e-10,
        max_nfev=60,
    )
    return np.asarray(found.x)


def _bounds(problem: Problem) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest x; a speed cannot show above what its runs asked for."""
    start = first_guess(problem.machine, problem.parameters)
    low, high = problem.x(start / FACTOR), problem.x(start * FACTOR)
    for i, parameter in enumerate(problem.parameters):
        if parameter.field == "settle_s":
            low[i], high[i] = 0.0, LONGEST_SETTLE_S / SETTLE_UNIT_S
        elif parameter.field in ("junction_deviation_mm", "corner_speed_mm_s"):
            low[i] = math.log(parameter.least)
        elif parameter.field == "look_ahead_moves":
            low[i] = 0.0
        cap = asked_cap(problem, parameter)
        if cap is not None:
            high[i] = min(high[i], math.log(cap))
    return low, high


def asked_cap(problem: Problem, parameter: Parameter) -> float | None:
    """Highest speed that was asked of an axis with the beam's speed in the program."""
    if parameter.field != "speed_mm_s" or parameter.table == "travel":
        return None
    return max((run.asked_mm_s for run in problem.runs if touches(run, parameter)), default=None)


def cost(problem: Problem, x: FloatArray) -> float:
    """Robust sum of squares of all readings, in squares of :data:`SOFT`."""
    off = (problem.log_times(x)[problem.run_of_reading] - problem.log_s) / SOFT
    return float(2.0 * (np.sqrt(1.0 + off**2) - 1.0).sum())


def held_at(problem: Problem, j: int, value: float) -> Problem:
    """The same problem with one number held at a value."""
    machine = with_values(problem.machine, [problem.parameters[j]], [value])
    rest = tuple(p for i, p in enumerate(problem.parameters) if i != j)
    return replace(problem, parameters=rest, machine=machine)
