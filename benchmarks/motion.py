"""How many moves a second the clock times, and how that grows."""

from __future__ import annotations

import argparse
import time
from typing import Any

import numpy as np

from benchmarks._machines import trial_machine
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath, moves_along


def run(argv: list[str]) -> dict[str, Any]:
    """Time random walks of growing length; best of ``--repeats``."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks motion")
    parser.add_argument("--repeats", type=int, default=3)
    options = parser.parse_args(argv)
    machine = trial_machine()
    time_toolpath(_walk(10), machine)
    rows = []
    for count in (10_000, 100_000, 1_000_000, 4_000_000):
        toolpath = _walk(count)
        seconds = min(_seconds(toolpath, machine) for _ in range(options.repeats))
        rows.append({"moves": count, "seconds": seconds, "moves a second": count / seconds})
    growth = np.polyfit(
        np.log([row["moves"] for row in rows[1:]]), np.log([row["seconds"] for row in rows[1:]]), 1
    )[0]
    return {"clock": rows, "growth exponent from 100,000 moves": float(growth)}


def _seconds(toolpath: Toolpath, machine: Machine) -> float:
    begin = time.perf_counter()
    time_toolpath(toolpath, machine)
    return time.perf_counter() - begin


def _walk(count: int) -> Toolpath:
    steps = np.random.default_rng(1).normal(size=(count, 2))
    points = np.cumsum(steps, axis=0)
    return Toolpath(moves_along(points, kind=MoveKind.CUT, speed_mm_s=100.0, power=0.5, source=0))
