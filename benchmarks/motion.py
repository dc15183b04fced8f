"""How many moves a second the clock times, with each thing it may be asked to mind."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from benchmarks._machines import trial_machine
from kerfwright.motion.causes import causes_s
from kerfwright.motion.kernel import Rules, time_moves
from kerfwright.motion.line_energy import peak_line_energy
from kerfwright.motion.timing import time_toolpath
from kerfwright.motion.trace import trace_of
from kerfwright.shop.machine import Controller, Machine
from kerfwright.toolpath import MoveKind, Toolpath, moves_along

WANTED_MOVES_A_S = 10_000_000
LARGE = (1_000_000, 4_000_000)


def run(argv: list[str]) -> dict[str, Any]:
    """Time toolpaths of growing length and of every sort; best of ``--repeats``."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks motion")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--moves", type=int, default=1_000_000)
    options = parser.parse_args(argv)
    rows = [_growth_row(count, options.repeats) for count in (10_000, 100_000, *LARGE)]
    growth = np.polyfit(
        np.log([row["moves"] for row in rows[1:]]),
        np.log([row["whole clock, s"] for row in rows[1:]]),
        1,
    )[0]
    slowest = min(row["kernel, moves a second"] for row in rows)
    return {
        "corners only, random walk": rows,
        "growth exponent from 100,000 moves": float(growth),
        f"kernel: at least {WANTED_MOVES_A_S:,} moves a second": slowest >= WANTED_MOVES_A_S,
        "whole clock, one thing more each": _features(options.moves, options.repeats),
        "what is made of it": _uses(options.moves, options.repeats),
    }


def _growth_row(count: int, repeats: int) -> dict[str, Any]:
    """The whole clock, and its kernel alone on arrays that lie ready."""
    walk, machine = _walk(count), _machine(slows_in_curves=False)
    x, y = (np.ascontiguousarray(column) for column in walk.points.T)
    speed, kind = (np.ascontiguousarray(walk.moves[name]) for name in ("speed_mm_s", "kind"))
    limits = np.tile([1000.0, 1000.0, 3100.0, 3100.0, 0.0, 0.0], (len(MoveKind), 1))
    stop = np.zeros(count, dtype=bool)
    rules = Rules(machine.junction_deviation_mm, curves=False)
    whole = _best_s(lambda: time_toolpath(walk, machine), repeats)
    kernel = _best_s(lambda: time_moves(x, y, speed, kind, limits, stop, rules), repeats)
    return {
        "moves": count,
        "whole clock, s": whole,
        "moves a second": count / whole,
        "kernel, moves a second": count / kernel,
    }


def _features(count: int, repeats: int) -> list[dict[str, Any]]:
    """The whole clock, from the toolpath to the sums of its times."""
    walk, spiral = _walk(count), _spiral(count)
    cases: dict[str, tuple[Toolpath, Machine]] = {
        "corners only, random walk": (walk, _machine(slows_in_curves=False)),
        "curves, random walk": (walk, _machine()),
        "curves, spiral": (spiral, _machine()),
        "look-ahead 16, spiral": (spiral, _machine(look_ahead_moves=16)),
        "2000 moves a second, spiral": (spiral, _machine(moves_per_s=2000.0)),
        "jerk, spiral": (spiral, _machine(jerk_mm_s3=1e6)),
        "all of it, spiral": (
            spiral,
            _machine(look_ahead_moves=16, moves_per_s=2000.0, jerk_mm_s3=1e6),
        ),
        "settling and beam delay, walk": (walk, _machine(settle_s=0.01, beam_delay_s=0.01)),
    }
    return [
        _row(name, count, _best_s(partial(time_toolpath, toolpath, machine), repeats))
        for name, (toolpath, machine) in cases.items()
    ]


def _uses(count: int, repeats: int) -> list[dict[str, Any]]:
    walk, machine = _walk(count), _machine()
    trace = trace_of(walk, machine)
    uses: dict[str, Callable[[], object]] = {
        "trace": lambda: trace_of(walk, machine),
        "peak line energy": lambda: peak_line_energy(trace, walk, machine.spot_mm),
        "what the time goes to": lambda: causes_s(walk, machine),
    }
    return [_row(name, count, _best_s(use, min(repeats, 3))) for name, use in uses.items()]


def _row(name: str, count: int, seconds: float) -> dict[str, Any]:
    return {"case": name, "seconds": seconds, "moves a second": count / seconds}


def _best_s(work: Callable[[], object], repeats: int) -> float:
    """Best of some tries; the first, not counted, compiles or loads what is needed."""
    work()
    tries = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        tries.append(time.perf_counter() - begin)
    return min(tries)


def _machine(
    *,
    slows_in_curves: bool = True,
    look_ahead_moves: int | None = None,
    moves_per_s: float | None = None,
    jerk_mm_s3: float | None = None,
    settle_s: float = 0.0,
    beam_delay_s: float = 0.0,
) -> Machine:
    machine = trial_machine()
    controller = Controller(look_ahead_moves=look_ahead_moves, moves_per_s=moves_per_s)
    changes: dict[str, Any] = {
        "slows_in_curves": slows_in_curves,
        "settle_s": settle_s,
        "beam_delay_s": beam_delay_s,
        "controller": controller,
    }
    if jerk_mm_s3 is not None:
        limited = {"jerk_mm_s3": (jerk_mm_s3, jerk_mm_s3)}
        for name in ("travel", "cutting", "scanning"):
            changes[name] = getattr(machine, name).model_copy(update=limited)
    return machine.model_copy(update=changes)


def _cut(points: np.ndarray[Any, np.dtype[np.float64]]) -> Toolpath:
    return Toolpath(moves_along(points, kind=MoveKind.CUT, speed_mm_s=100.0, power=0.5, source=0))


def _walk(count: int) -> Toolpath:
    """Nothing but corners."""
    return _cut(np.cumsum(np.random.default_rng(1).normal(size=(count, 2)), axis=0))


def _spiral(count: int) -> Toolpath:
    """Chords of 0.1 mm, bending all the way."""
    along = 0.1 * np.arange(1, count + 1)
    radius = np.sqrt(25.0 + 0.05 * along)
    angle = np.cumsum(0.1 / radius)
    return _cut(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))
