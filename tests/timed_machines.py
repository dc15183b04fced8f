"""Three invented machines to measure, and machines that differ from what their files say."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from kerfwright.motion.parameters import parameters_of, values_of, with_values
from kerfwright.motion.run_choice import Design, design_runs
from kerfwright.motion.timed_runs import run_time_s
from kerfwright.shop.machine import AxisLimits, Controller, Machine

Pair = tuple[float, float]


def limits(speed: Pair, acceleration: Pair, jerk: Pair | None = None) -> AxisLimits:
    return AxisLimits(speed_mm_s=speed, acceleration_mm_s2=acceleration, jerk_mm_s3=jerk)


QUAY = Machine(
    name="Quay 90",
    bed_width_mm=900,
    bed_height_mm=600,
    power_w=60,
    travel=limits((800, 500), (5000, 3100)),
    cutting=limits((600, 500), (3100, 2600)),
    scanning=limits((1000, 500), (16000, 3100)),
    settle_s=0.02,
    beam_delay_s=0.01,
)
"""Junction deviation and settling."""

JETTY = Machine(
    name="Jetty 60",
    bed_width_mm=600,
    bed_height_mm=400,
    power_w=40,
    travel=limits((400, 300), (2500, 1500)),
    cutting=limits((250, 200), (1500, 1200)),
    scanning=limits((500, 250), (6000, 1500)),
    corner_speed_mm_s=15.0,
    settle_s=0.03,
    controller=Controller(moves_per_s=250.0, look_ahead_moves=10),
)
"""A corner speed, a slow link and a short look-ahead."""

DOCK = Machine(
    name="Dock 130",
    bed_width_mm=1300,
    bed_height_mm=900,
    power_w=100,
    travel=limits((700, 500), (6000, 4000), (200_000, 120_000)),
    cutting=limits((400, 400), (3000, 2500), (100_000, 80_000)),
    scanning=limits((900, 400), (12000, 3000), (900_000, 100_000)),
    junction_deviation_mm=0.02,
    settle_s=0.05,
)
"""Limited jerk."""

MACHINES = (QUAY, JETTY, DOCK)


@lru_cache(maxsize=8)
def design(machine_name: str) -> Design:
    return design_runs(next(machine for machine in MACHINES if machine.name == machine_name))


def real_machine(machine: Machine, rng: np.random.Generator, spread: float = 0.25) -> Machine:
    """A machine each of whose numbers differs from its file by up to ``spread``."""
    parameters = parameters_of(machine)
    factors = np.exp(rng.uniform(-spread, spread, len(parameters)))
    return with_values(machine, parameters, values_of(machine, parameters) * factors)


def timed(
    plan: Design, machine: Machine, rng: np.random.Generator, noise: float = 0.01, times: int = 3
) -> tuple[np.ndarray, np.ndarray]:
    """Run of each reading, and what a stopwatch with some noise reads."""
    run = np.repeat(np.arange(len(plan.runs.runs)), times)
    true_s = np.array([run_time_s(one, machine) for one in plan.runs.runs])
    return run, true_s[run] * (1.0 + noise * rng.standard_normal(len(run)))
