"""Which timed runs tell a machine's numbers best: chosen by how its times change with them.

The choice is an A-optimal design of experiments, grown greedily: the next run is the one that
lowers the sum of the numbers' expected variances most (Atkinson, Donev & Tobias, *Optimum
Experimental Designs, with SAS*, 2007, chapters 10 and 12).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.parameters import Parameter, first_guess, parameters_of, with_values
from kerfwright.motion.run_candidates import candidates, start_mm
from kerfwright.motion.timed_runs import run_time_s, run_times_s, touches
from kerfwright.shop.machine import Machine
from kerfwright.shop.timed_run import TimedRun, TimedRuns

STOPWATCH = 0.01
"""Relative error of one reading that the choice reckons with."""

READINGS = 3
"""Of every run."""

WANTED_ERROR = 0.013
"""Relative standard error that every number shall come out with, a quarter of 5 %."""

TELLING = 0.3
"""A run tells a number if the number's change by 1 % changes its time by as much of a per cent."""

LEAST_TELLING = 0.1
"""Below this, at its best, a number is not measured."""

MORE_RUNS = 8
"""At most so many more than there are numbers."""

STEP = 1e-3
UNKNOWN = 1.0
"""Spread (of the logarithm) of a number of which no run tells anything."""

SLACK = 0.03
"""Sensitivities no further apart than this count alike; the longer stroke is
gentler."""

ELSEWHERE = ((1.0, 1.0), (1.25, 0.75), (0.75, 1.3))
"""Speeds, and accelerations with what else slows them down, times those of the file: a choice
must hold there as well."""


@dataclass(frozen=True, slots=True)
class Design:
    """Runs for a machine, and what each of them tells of each of its numbers."""

    runs: TimedRuns
    parameters: tuple[Parameter, ...]
    """Numbers that the runs tell."""
    untold: tuple[Parameter, ...]
    """Numbers that no run on this machine can tell."""
    sensitivity: FloatArray
    """d(log t)/d(log p) at the machine file's numbers, shape (runs, parameters)."""
    seconds: FloatArray
    """Expected seconds of every run, shape (runs,)."""


def design_runs(machine: Machine) -> Design:
    """Choose a short set of runs for a machine.

    Every number is told by at least one run that tells it as well as any run can, and more runs
    are added until each number is expected within :data:`WANTED_ERROR`.
    """
    parameters = parameters_of(machine)
    pool = candidates(machine)
    guess = first_guess(machine, parameters)
    machine_there = with_values(machine, parameters, guess)
    tables = [
        sensitivity(pool, machine_there, parameters, _scaled(guess, parameters, *scales))
        for scales in ELSEWHERE
    ]
    here = np.abs(tables[0])
    told = np.flatnonzero(here.max(axis=0) >= LEAST_TELLING)
    chosen = sorted(_chosen([table[:, told] for table in tables], pool))
    runs = _named([pool[i] for i in chosen])
    measured = tuple(parameters[i] for i in told)
    return Design(
        runs=TimedRuns(
            machine=machine.name,
            start_mm=start_mm(machine),
            measures=tuple(parameter.key for parameter in measured),
            runs=tuple(runs),
        ),
        parameters=measured,
        untold=tuple(parameter for i, parameter in enumerate(parameters) if i not in told),
        sensitivity=tables[0][chosen][:, told],
        seconds=np.array([run_time_s(run, machine) for run in runs]),
    )


def sensitivity(
    runs: Sequence[TimedRun],
    machine: Machine,
    parameters: Sequence[Parameter],
    values: FloatArray,
) -> FloatArray:
    """d(log t)/d(log p) by central differences, shape (runs, parameters)."""
    table = np.zeros((len(runs), len(parameters)))
    for j, parameter in enumerate(parameters):
        touched = [i for i, run in enumerate(runs) if touches(run, parameter)]
        some = [runs[i] for i in touched]
        step = 0.5 / values[j] if parameter.field == "look_ahead_moves" else STEP
        logs = []
        for sign in (1.0, -1.0):
            moved = values.copy()
            moved[j] *= math.exp(sign * step)
            logs.append(np.log(run_times_s(some, machine, parameters, moved)))
        table[touched, j] = (logs[0] - logs[1]) / (2.0 * step)
    return table


def expected_errors(table: FloatArray, readings: FloatArray, error: float) -> FloatArray:
    """Relative standard error of every number, given how often each run is timed.

    A number that no run tells has an error of :data:`UNKNOWN`.
    """
    weighted = table * (readings / error**2)[:, None]
    information = table.T @ weighted + np.eye(table.shape[1]) / UNKNOWN**2
    return np.asarray(np.sqrt(np.diag(np.linalg.inv(information))))


def _scaled(
    values: FloatArray, parameters: Sequence[Parameter], speeds: float, others: float
) -> FloatArray:
    fast = ("speed_mm_s", "corner_speed_mm_s")
    slow = ("acceleration_mm_s2", "moves_per_s", "look_ahead_moves")
    scale = dict.fromkeys(fast, speeds) | dict.fromkeys(slow, others)
    return values * [scale.get(parameter.field, 1.0) for parameter in parameters]


def _chosen(tables: list[FloatArray], pool: Sequence[TimedRun]) -> list[int]:
    """Indices of the runs to write: the best for each number, then what lowers errors most."""
    chosen: list[int] = []
    gentleness = np.array([run.length_mm for run in pool])
    worst = np.min([np.abs(table) for table in tables], axis=0)
    here = np.abs(tables[0])
    for j in range(here.shape[1]):
        # of those that tell well, here and wherever the machine really lies, one that tells
        # little else, and then the gentlest
        score = np.minimum(here[:, j], 0.5) + 0.5 * worst[:, j]
        good = np.flatnonzero(score >= score.max() - SLACK)
        pure = np.round(here[good, j] / np.linalg.norm(here[good], axis=1), 1)
        best = int(good[np.lexsort((gentleness[good], pure))[-1]])
        if here[best, j] < TELLING:
            best = int(np.argmax(here[:, j]))
        if best not in chosen:
            chosen.append(best)
    chosen += [i for i in _rule_runs(pool) if i not in chosen]
    weight = READINGS / STOPWATCH**2
    infos = [np.eye(t.shape[1]) / UNKNOWN**2 + weight * t[chosen].T @ t[chosen] for t in tables]
    while len(chosen) < min(here.shape[1] + MORE_RUNS, len(pool)):
        inverses = [np.linalg.inv(info) for info in infos]
        errors = np.sqrt([np.diag(inverse) for inverse in inverses])
        if errors[0].max() <= WANTED_ERROR:
            break
        gain = np.zeros(len(pool))
        for table, inverse in zip(tables, inverses, strict=True):
            # by Sherman and Morrison: what one more row takes off the trace of the inverse
            moved = table @ inverse
            gain += weight * (moved**2).sum(axis=1) / (1.0 + weight * (moved * table).sum(axis=1))
        gain[chosen] = -1.0
        best = int(np.argmax(gain))
        chosen.append(best)
        rows = [table[best] for table in tables]
        infos = [info + weight * np.outer(row, row) for info, row in zip(infos, rows, strict=True)]
    return chosen


def _rule_runs(pool: Sequence[TimedRun]) -> list[int]:
    """Loops show whether the controller slows down in curves; the square corners of stairs beside
    the blunt ones of zigzags show whether its rule for corners is that of the machine file."""
    firsts = ([i for i, run in enumerate(pool) if run.shape == one] for one in ("loops", "stairs"))
    return [i for first in firsts for i in first[:1]]


def _named(runs: Sequence[TimedRun]) -> list[TimedRun]:
    """Number runs that would have the same name."""
    names = [run.name for run in runs]
    return [
        run
        if names.count(run.name) == 1
        else run.model_copy(update={"name": f"{run.name}-{names[: i + 1].count(run.name)}"})
        for i, run in enumerate(runs)
    ]
