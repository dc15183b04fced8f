"""A machine's numbers from the seconds of timed runs.

Robust least squares on the logarithms of the times (soft L1, Triggs et al., *Bundle adjustment: a
modern synthesis*, 2000, section 4.3), numbers above 0 by their logarithms too. Readings far off
are set aside one after the other and named. Intervals are those of the linearised problem at its
solution, from the Jacobian and the spread of what is left over.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.special import stdtrit

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.fit_problem import (
    BoolArray,
    IntArray,
    Problem,
    asked_cap,
    cost,
    held_at,
    solve,
)
from kerfwright.motion.fit_result import (
    Estimate,
    Fit,
    Off,
    TooFewReadingsError,
    UnfitReadingsError,
)
from kerfwright.motion.parameters import Parameter, first_guess, values_of, with_values
from kerfwright.motion.run_choice import STOPWATCH, expected_errors, sensitivity
from kerfwright.motion.timed_runs import run_times_s
from kerfwright.shop.machine import Machine
from kerfwright.shop.timed_run import TimedRun

TOLD = 0.08
"""Relative standard error, at a hand's precision, up to which readings tell a number."""

NOT_TOLD = 0.25
"""Relative standard error above which a fitted number is dropped again."""

SPREADS_OFF = 5.0
LEAST_OFF = 0.05
"""A reading is off by so many spreads, and at least by so much of its time."""

MOST_OFF = 0.25
"""Share of the readings that may be set aside."""

LEAST_SPREAD = 0.001
"""No clock is read more exactly than this."""

ASIDE = 0.03
"""Step of an x by which its error is worked out, to either side."""

CONFIDENCE = 0.975
WORTH = 1.0
"""Drop of the sum of squares that makes it worth believing in a settling time, or in a number
other than that of the machine file; in squares of twice a hand's error, as costs are."""

HALVINGS = 12
RESTARTS = 2
RESTART_SPREAD = 0.15

AT_THE_CAP = 0.985
CURVES_OFF = 0.03
"""Loops that are off by more make it worth asking whether the controller slows down in curves."""


def fit_machine(
    machine: Machine,
    runs: Sequence[TimedRun],
    parameters: Sequence[Parameter],
    run_of_reading: IntArray,
    seconds: FloatArray,
) -> Fit:
    """Find a machine's numbers from readings.

    Args:
        machine: as its file has it; where the search starts.
        runs: all runs that were written.
        parameters: the numbers to find.
        run_of_reading: index into ``runs`` for every reading, shape (readings,).
        seconds: readings, above 0, shape (readings,).

    Raises:
        TooFewReadingsError: some of the numbers cannot be told.
        UnfitReadingsError: too many readings contradict the others.

    """
    chosen = tuple(parameters)
    problem = Problem(machine, tuple(runs), chosen, run_of_reading, np.log(seconds))
    everything = np.ones(len(seconds), dtype=bool)
    _require_told(problem, everything)
    x = _first_solution(problem, everything)
    problem, x = _with_better_curves(problem, x)
    problem, x = _without_settling(problem, x)
    x, kept = _without_those_off(problem, x)
    before = dict(zip(chosen, values_of(machine, chosen), strict=True))
    problem, x = _without_untold(problem, x, kept, before)
    down, up, spread = _errors(problem, x, kept)
    x = _with_whole_moves(problem, x, kept)
    fitted = with_values(problem.machine, problem.parameters, problem.values(x))
    found = {
        estimate.parameter: estimate
        for estimate in (
            *_estimates(problem, x, (down, up), kept, before),
            *_held(problem, chosen, before),
        )
    }
    modelled = np.exp(problem.log_times(x))
    return Fit(
        machine=fitted,
        estimates=tuple(found[parameter] for parameter in chosen),
        run_of_reading=run_of_reading,
        seconds=seconds,
        modelled_s=modelled,
        before_s=run_times_s(runs, machine, (), np.empty(0)),
        kept=kept,
        off=_named_off(problem, np.log(seconds) - np.log(modelled)[run_of_reading], ~kept),
        spread=spread,
    )


def _require_told(problem: Problem, kept: BoolArray) -> None:
    readings = np.bincount(problem.run_of_reading[kept], minlength=len(problem.runs))
    start = first_guess(problem.machine, problem.parameters)
    machine = with_values(problem.machine, problem.parameters, start)
    table = sensitivity(problem.runs, machine, problem.parameters, start)
    errors = expected_errors(table, readings.astype(float), STOPWATCH)
    possible = expected_errors(table, np.maximum(readings, 3.0), STOPWATCH)
    untold = np.flatnonzero(errors > np.maximum(TOLD, 1.5 * possible))
    few = len(problem.log_s) <= len(problem.parameters)
    if len(untold) == 0 and not few:
        return
    unread = np.flatnonzero(readings == 0)
    needed = list(range(len(problem.parameters))) if len(untold) == 0 else untold.tolist()
    best = [int(unread[np.argmax(np.abs(table[unread, j]))]) for j in needed if len(unread)]
    raise TooFewReadingsError(
        tuple(problem.parameters[j] for j in needed),
        tuple(problem.runs[i].name for i in sorted(set(best))),
    )


def _first_solution(problem: Problem, everything: BoolArray) -> FloatArray:
    """Solve from the machine file's numbers, and from other places where times bend and jump.

    A look-ahead may start where it makes no difference, and jerk makes several valleys.
    """
    start = problem.x(first_guess(problem.machine, problem.parameters))
    found = [solve(problem, start, everything)]
    fields = [parameter.field for parameter in problem.parameters]
    if "look_ahead_moves" in fields:
        ahead = fields.index("look_ahead_moves")
        for factor in (0.5, 2.0):
            moved = found[0].copy()
            moved[ahead] = start[ahead] + math.log(factor)
            found.append(solve(problem, moved, everything))
    if "jerk_mm_s3" in fields:
        scatter = np.random.default_rng(1)
        for _ in range(RESTARTS):
            moved = found[0] + RESTART_SPREAD * scatter.standard_normal(len(start))
            found.append(solve(problem, moved, everything))
    return min(found, key=lambda one: cost(problem, one))


def _with_better_curves(problem: Problem, x: FloatArray) -> tuple[Problem, FloatArray]:
    """Turn ``slows_in_curves`` round if loops are off and the readings then fit better."""
    everything = np.ones(len(problem.log_s), dtype=bool)
    off = problem.log_times(x)[problem.run_of_reading] - problem.log_s
    loops = np.array([run.shape == "loops" for run in problem.runs])[problem.run_of_reading]
    if not loops.any() or float(np.abs(off[loops]).min()) < CURVES_OFF:
        return problem, x
    machine = problem.machine
    turned = machine.model_copy(update={"slows_in_curves": not machine.slows_in_curves})
    other = replace(problem, machine=turned)
    other_x = solve(other, x, everything)
    other_off = other.log_times(other_x)[other.run_of_reading] - other.log_s
    better = np.abs(other_off).sum() < np.abs(off).sum()
    better &= bool(np.abs(other_off[loops]).max() < np.abs(off[loops]).min())
    return (other, other_x) if better else (problem, x)


def _without_those_off(problem: Problem, x: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Set readings aside, the worst first, and solve again until the others agree."""
    kept = np.ones(len(problem.log_s), dtype=bool)
    while True:
        off = problem.log_s - problem.log_times(x)[problem.run_of_reading]
        freedom = max(int(kept.sum()) - len(x), 1)
        spread = 1.4826 * float(np.median(np.abs(off[kept]))) * math.sqrt(kept.sum() / freedom)
        limit = max(SPREADS_OFF * max(spread, LEAST_SPREAD), LEAST_OFF)
        worst = float(np.abs(off[kept]).max())
        if worst <= limit:
            # what was set aside early may fit by now
            back = ~kept & (np.abs(off) <= limit)
            if not back.any():
                return x, kept
            kept |= back
            return solve(problem, x, kept), kept
        kept &= np.abs(off) < max(0.7 * worst, limit)
        if (~kept).mean() > MOST_OFF:
            raise UnfitReadingsError(_named_off(problem, off, ~kept))
        try:
            _require_told(problem, kept)
        except TooFewReadingsError:
            raise UnfitReadingsError(_named_off(problem, off, ~kept)) from None
        x = solve(problem, x, kept)


def _named_off(problem: Problem, off: FloatArray, aside: BoolArray) -> tuple[Off, ...]:
    found = []
    for i, run in enumerate(problem.runs):
        of_run = aside & (problem.run_of_reading == i)
        if of_run.any():
            factor = math.exp(float(np.median(off[of_run])))
            found.append(Off(run.name, factor, int(of_run.sum())))
    return tuple(found)


def _errors(
    problem: Problem, x: FloatArray, kept: BoolArray
) -> tuple[FloatArray, FloatArray, float]:
    """Standard error of every x downwards and upwards, and the spread of the readings.

    They differ where a number has come to the point from which on it makes no difference.
    """
    run = problem.run_of_reading[kept]
    off = problem.log_s[kept] - problem.log_times(x)[run]
    freedom = max(len(off) - len(x), 1)
    spread = max(math.sqrt(float(off @ off) / freedom), LEAST_SPREAD)
    count = np.bincount(run, minlength=len(problem.runs)).astype(float)
    down, up = (
        expected_errors(problem.jacobian(x, np.full(len(x), step)), count, spread)
        for step in (-ASIDE, ASIDE)
    )
    return down, up, spread


def _without_settling(problem: Problem, x: FloatArray) -> tuple[Problem, FloatArray]:
    """Hold settling at 0 if that fits as well: a machine that waits, however shortly, also stops,
    and one that does not may not."""
    at = [j for j, parameter in enumerate(problem.parameters) if parameter.field == "settle_s"]
    if not at:
        return problem, x
    everything = np.ones(len(problem.log_s), dtype=bool)
    held = held_at(problem, at[0], 0.0)
    held_x = solve(held, np.delete(x, at[0]), everything)
    if cost(held, held_x) <= cost(problem, x) + WORTH:
        return held, held_x
    return problem, x


def _without_untold(
    problem: Problem,
    x: FloatArray,
    kept: BoolArray,
    before: dict[Parameter, float],
) -> tuple[Problem, FloatArray]:
    """Hold numbers of which the readings say nothing as the machine file has them, or, if that
    fits less well, as near to it as may be."""
    while True:
        error = np.minimum(*_errors(problem, x, kept)[:2])
        worst = int(np.argmax(error))
        parameter = problem.parameters[worst]
        if error[worst] < NOT_TOLD or parameter.field == "settle_s":
            return problem, x
        value = _nearest_that_fits(problem, x, worst, before[parameter])
        problem = held_at(problem, worst, value)
        x = solve(problem, np.delete(x, worst), kept)


def _nearest_that_fits(problem: Problem, x: FloatArray, j: int, before: float) -> float:
    """Value of a number nearest to what it was before that fits as well as the one found."""
    limit = cost(problem, x) + WORTH
    tried = x.copy()
    fits, too_far = float(x[j]), float(problem.x(np.full(len(x), before))[j])
    tried[j] = too_far
    if cost(problem, tried) <= limit:
        return before
    for _ in range(HALVINGS):
        tried[j] = 0.5 * (fits + too_far)
        if cost(problem, tried) <= limit:
            fits = tried[j]
        else:
            too_far = tried[j]
    tried[j] = fits
    return float(problem.values(tried)[j])


def _with_whole_moves(problem: Problem, x: FloatArray, kept: BoolArray) -> FloatArray:
    """The best x with a whole number of moves ahead."""
    ahead = [j for j, p in enumerate(problem.parameters) if p.field == "look_ahead_moves"]
    if not ahead:
        return x
    moves = max(round(float(problem.values(x)[ahead[0]])), 1)
    held = held_at(problem, ahead[0], float(moves))
    rest = solve(held, np.delete(x, ahead[0]), kept)
    return np.insert(rest, ahead[0], math.log(moves))


def _held(
    problem: Problem, chosen: Sequence[Parameter], before: dict[Parameter, float]
) -> list[Estimate]:
    """What is said of numbers that were held."""
    held = [parameter for parameter in chosen if parameter not in problem.parameters]
    values = values_of(problem.machine, held).tolist()
    found = []
    for parameter, value in zip(held, values, strict=True):
        was = before[parameter]
        settle = parameter.field == "settle_s"
        more, told = not settle and value > was, settle or value != was
        found.append(Estimate(parameter, was, value, value, value, at_least=more, told=told))
    return found


def _estimates(
    problem: Problem,
    x: FloatArray,
    errors: tuple[FloatArray, FloatArray],
    kept: BoolArray,
    before: dict[Parameter, float],
) -> list[Estimate]:
    reach = float(stdtrit(max(int(kept.sum()) - len(x), 1), CONFIDENCE))
    down, up = errors
    values = problem.values(x)
    lows, highs = problem.values(x - reach * down), problem.values(x + reach * up)
    found = []
    for i, parameter in enumerate(problem.parameters):
        cap = asked_cap(problem, parameter)
        found.append(
            Estimate(
                parameter,
                before=before[parameter],
                after=float(values[i]),
                low=float(lows[i]),
                high=float(highs[i]),
                at_least=bool(
                    up[i] >= NOT_TOLD or (cap is not None and values[i] >= AT_THE_CAP * cap)
                ),
            )
        )
    return found
