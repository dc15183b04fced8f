"""Beam order of rings at random places: how long planning takes, and the travel it leaves.

The rings are circles of 2 to 6 mm radius with 48 corners, as many to the square metre at every
size, cut on a machine that travels at 1000 mm/s with 3.1 m/s². Travel is compared with taking
the cheapest next ring (each still entered at its nearest corner) and with the drawn order, each
ring entered at its first corner.
"""

from __future__ import annotations

import argparse
import itertools
import math
import time
from typing import Any

import numpy as np

from benchmarks._machines import trial_machine
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.sequence.order import _Options, _precedence, sequence
from kerfwright.sequence.tour import Travel, construct, tour_s, travel_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import CUT_PHASE, MoveKind, Process, Stroke, Toolpath

SPACE_MM2 = 400.0
"""Bed for each ring."""

CORNERS = 48


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
    return {
        "rings": count,
        "planning_s": planning_s,
        "travel_s": ours,
        "to_cheapest_next": ours / cheapest,
        "to_drawn_order": ours / drawn,
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
    free = _precedence(np.empty((0, 2), dtype=np.int64), np.arange(count), count)
    ways = _Options(strokes).ways
    travel = Travel(np.zeros(2), _axes(machine))
    return float(tour_s(construct(ways, free, travel), ways, travel))
