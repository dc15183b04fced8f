"""Beam order of rings at random places: how long planning takes, and the travel it leaves.

The rings are circles of 2 to 6 mm radius with 48 corners, as many to the square metre at every
size, cut on a machine that travels at 1000 mm/s with 3.1 m/s². Travel is compared with taking
the cheapest next ring (each still entered at its nearest place), with the drawn order, each
ring entered at its first corner, and with the best order found for rings that may only be entered
at their first corner.

That last problem is a plain travelling salesman, with which the Lin-Kernighan code of K. Helsgaun
(*European Journal of Operational Research* 126(1), 2000) can be asked through the package
``elkai``, if it is installed: its licence is not for every use, so no requirement names it.
"""

from __future__ import annotations

import argparse
import importlib
import importlib.util
import itertools
import math
import time
from dataclasses import replace
from typing import Any

import numpy as np

from benchmarks._machines import trial_machine
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.sequence.entries import Options
from kerfwright.sequence.first_tour import construct
from kerfwright.sequence.order import precedence_of, sequence
from kerfwright.sequence.tour import Travel, tour_s, travel_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import CUT_PHASE, MoveKind, Process, Stroke, Toolpath

SPACE_MM2 = 400.0
"""Bed for each ring."""

CORNERS = 48

MOST_MATRIX = 1000
"""Rings up to which the other program is asked: it wants every distance in one table."""

TICKS_PER_S = 10_000
"""That program counts in whole numbers."""


def run(argv: list[str]) -> dict[str, Any]:
    """Order every number of rings; seconds of planning and of travel."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks sequence", description=__doc__)
    parser.add_argument("--rings", type=int, nargs="+", default=[100, 1_000, 10_000])
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(argv)
    machine = trial_machine(bed_mm=(2500.0, 2500.0))
    sequence(rings(20, options.seed), (), machine)  # compiles
    rows = [measure(count, options.seed, machine) for count in options.rings]
    growth = [
        {
            "from": a["rings"],
            "to": b["rings"],
            "exponent": math.log(b["planning_s"] / a["planning_s"])
            / math.log(b["rings"] / a["rings"]),
        }
        for a, b in itertools.pairwise(rows)
        if a["rings"] != b["rings"]
    ]
    return {"seed": options.seed, "orders": rows, "growth_of_planning": growth}


def measure(count: int, seed: int, machine: Machine) -> dict[str, Any]:
    strokes = rings(count, seed)
    started = time.perf_counter()
    toolpath = sequence(strokes, (), machine)
    planning_s = time.perf_counter() - started
    ours = travel_of(toolpath, machine)
    cheapest = cheapest_next_s(strokes, machine)
    drawn = drawn_order_s(strokes, machine)
    dots = [replace(stroke, path=Path(stroke.path.points[:1])) for stroke in strokes]
    started = time.perf_counter()
    fixed = travel_of(sequence(dots, (), machine), machine)
    fixed_s = time.perf_counter() - started
    return {
        "rings": count,
        "planning_s": planning_s,
        "travel_s": ours,
        "to_cheapest_next": ours / cheapest,
        "to_drawn_order": ours / drawn,
        "planning_fixed_s": fixed_s,
        "travel_fixed_s": fixed,
        "to_fixed_entries": ours / fixed,
        **lin_kernighan(dots, fixed, machine),
    }


def lin_kernighan(dots: list[Stroke], ours_s: float, machine: Machine) -> dict[str, float]:
    """Compare with Helsgaun's program on the same places, if it is there and they are not many."""
    if importlib.util.find_spec("elkai") is None or len(dots) > MOST_MATRIX:
        return {}
    places = np.vstack([np.zeros(2), *(dot.path.points for dot in dots)])
    seconds = np.array(
        [[_leg_s(here, there, _axes(machine)) for there in places] for here in places]
    )
    # it makes round trips: one more place, next to the start and as far from all others
    n = len(places)
    ticks = np.zeros((n + 1, n + 1), dtype=np.int64)
    ticks[:n, :n] = np.rint(seconds * TICKS_PER_S)
    ticks[n, 1:n] = ticks[1:n, n] = 1000 * TICKS_PER_S
    started = time.perf_counter()
    tour = importlib.import_module("elkai").DistanceMatrix(ticks.tolist()).solve_tsp(runs=1)[:-1]
    theirs_s = time.perf_counter() - started
    tour = tour if tour[-1] == n else [tour[0], *tour[:0:-1]]
    legs = itertools.pairwise(tour[:-1])
    return {
        "lin_kernighan_s": theirs_s,
        "to_lin_kernighan": ours_s / sum(float(seconds[a, b]) for a, b in legs),
    }


def rings(count: int, seed: int) -> list[Stroke]:
    rng = np.random.default_rng(seed)
    side = math.sqrt(count * SPACE_MM2)
    turn = np.linspace(0.0, 2.0 * np.pi, CORNERS, endpoint=False)
    around = np.column_stack([np.cos(turn), np.sin(turn)])
    places = rng.uniform(0.0, side, (count, 2))
    radii = rng.uniform(2.0, 6.0, count)
    return [
        Stroke(
            path=Path(place + radius * around, closed=True),
            process=Process.CUT,
            kind=MoveKind.CUT,
            speed_mm_s=20.0,
            power=0.8,
            source=number,
            phase=CUT_PHASE,
        )
        for number, (place, radius) in enumerate(zip(places, radii, strict=True))
    ]


def _axes(machine: Machine) -> FloatArray:
    return np.array([*machine.travel.speed_mm_s, *machine.travel.acceleration_mm_s2])


def _leg_s(here: FloatArray, there: FloatArray, axes: FloatArray) -> float:
    return float(travel_s(here[0], here[1], there[0], there[1], axes))


def travel_of(toolpath: Toolpath, machine: Machine) -> float:
    """Seconds of all travels, each from rest to rest."""
    points, axes = toolpath.points, _axes(machine)
    travels = np.flatnonzero(toolpath.moves["kind"] == MoveKind.TRAVEL)
    return sum(_leg_s(points[k], points[k + 1], axes) for k in travels)


def drawn_order_s(strokes: list[Stroke], machine: Machine) -> float:
    """Seconds of travel from the corner of the bed to the first corner of every stroke in turn."""
    entries = [np.zeros(2), *(stroke.path.points[0] for stroke in strokes)]
    axes = _axes(machine)
    return sum(_leg_s(a, b, axes) for a, b in itertools.pairwise(entries))


def cheapest_next_s(strokes: list[Stroke], machine: Machine) -> float:
    """Seconds of travel if the cheapest next stroke is taken every time."""
    count = len(strokes)
    free = precedence_of(np.empty((0, 2), dtype=np.int64), np.arange(count), count)
    ways = Options.of(strokes).ways
    travel = Travel(np.zeros(2), _axes(machine))
    return float(tour_s(construct(ways, free, travel), ways, travel))
