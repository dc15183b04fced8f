"""A machine fitted to times that were worked out by hand.

Source: any mechanics handbook: a stroke from rest to rest takes L/v + v/a, or 2·sqrt(L/a) where the
speed is not reached; with limited jerk (Biagiotti & Melchiorri, *Trajectory Planning for Automatic
Machines and Robots*, 2008, section 3.4) L/v + v/a + a/J, and 4·(L/2J)^(1/3) where neither speed nor
acceleration is reached. A zigzag of teeth whose corners are taken at v_c takes
2·(sqrt(v_c² + a·L) − v_c)/a a tooth, with v_c² = a·δ·s/(1 − s), s the sine of half the angle
between the teeth and a what the y axis gives, which turns the beam there.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.timed_machines import limits

from kerfwright.motion.fitting import fit_machine
from kerfwright.motion.parameters import parameters_of
from kerfwright.shop.machine import Machine
from kerfwright.shop.timed_run import TimedRun


def stroke_s(length: float, v: float, a: float) -> float:
    return length / v + v / a if length >= v * v / a else 2.0 * math.sqrt(length / a)


def run(name: str, **given: object) -> TimedRun:
    fields = {"shape": "strokes", "limits": "travel", "along": "x", "asked_mm_s": 5000.0}
    return TimedRun.model_validate({"name": name, "repeats": 100, **fields, **given})


def bench(**more: object) -> Machine:
    return Machine.model_validate(
        {
            "name": "bench",
            "bed_width_mm": 900,
            "bed_height_mm": 600,
            "power_w": 60,
            "travel": limits((600, 600), (4000, 4000)),
            "cutting": limits((900, 900), (2000, 2000)),
            "scanning": limits((900, 900), (2000, 2000)),
            **more,
        }
    )


def fitted(machine: Machine, runs: list[TimedRun], seconds: list[float], *keys: str) -> list[float]:
    parameters = [p for p in parameters_of(machine) if p.key in keys]
    number = np.repeat(np.arange(len(runs)), 3)
    fit = fit_machine(machine, runs, parameters, number, np.array(seconds)[number])
    assert not fit.off
    return [estimate.after for estimate in fit.estimates]


def test_speed_and_acceleration_of_strokes() -> None:
    v, a = 470.0, 5300.0
    lengths = [10.0, 30.0, 250.0, 800.0]
    runs = [run(f"stroke-{length:g}", length_mm=length) for length in lengths]
    seconds = [200 * stroke_s(length, v, a) for length in lengths]
    found = fitted(bench(), runs, seconds, "travel.speed_mm_s[1]", "travel.acceleration_mm_s2[1]")
    assert found == pytest.approx([v, a], rel=1e-3)


def test_jerk_of_strokes() -> None:
    v, a, jerk = 470.0, 5300.0, 240_000.0
    machine = bench(travel=limits((600, 600), (4000, 4000), (150_000, 150_000)))
    short, middle, long = 0.5, 30.0, 800.0
    assert short < 2.0 * a**3 / jerk**2
    # reaches the acceleration, not the speed: T = a/J + sqrt((a/J)² + 4·L/a)
    build_up = a / jerk
    seconds = [
        4.0 * (short / (2.0 * jerk)) ** (1.0 / 3.0),
        build_up + math.sqrt(build_up**2 + 4.0 * middle / a),
        long / v + v / a + build_up,
    ]
    runs = [run(f"stroke-{length:g}", length_mm=length) for length in (short, middle, long)]
    found = fitted(
        machine,
        runs,
        [200 * one for one in seconds],
        "travel.speed_mm_s[1]",
        "travel.acceleration_mm_s2[1]",
        "travel.jerk_mm_s3[1]",
    )
    assert found == pytest.approx([v, a, jerk], rel=2e-3)


def test_junction_deviation_of_a_zigzag() -> None:
    a, deviation, turn = 2600.0, 0.017, math.radians(30.0)
    half = math.cos(turn / 2.0)
    corner = math.sqrt(a * deviation * half / (1.0 - half))
    teeth, repeats = 200, 20
    seconds = [200 * stroke_s(20.0, 900.0, a), 200 * stroke_s(40.0, 900.0, a)]
    zigzags = []
    for length in (0.8, 1.6):
        # both teeth lie half the turn off the axis, which has a/cos(turn/2) to give along them
        along = a / math.cos(turn / 2.0)
        peak = math.sqrt(corner**2 + along * length)
        inner = 2.0 * (peak - corner) / along
        # the first and the last tooth start and end at rest
        ends = math.sqrt((2.0 * along * length + corner**2) / 2.0)
        outer = ends / along + (ends - corner) / along
        seconds.append(2 * repeats * ((teeth - 2) * inner + 2 * outer))
        zigzags.append(
            run(
                f"zigzag-{length:g}",
                shape="zigzag",
                limits="cutting",
                length_mm=length,
                count=teeth,
                turn_deg=30.0,
                repeats=repeats,
                decimals=6,
            )
        )
    strokes = [
        run(f"stroke-{length:g}", limits="cutting", length_mm=length) for length in (20.0, 40.0)
    ]
    found = fitted(
        bench(slows_in_curves=False, cutting=limits((900, 900), (2000, a))),
        [*strokes, *zigzags],
        seconds,
        "cutting.acceleration_mm_s2[1]",
        "junction_deviation_mm",
    )
    assert found == pytest.approx([a, deviation], rel=5e-3)


def test_settling_between_travel_and_slow_moves() -> None:
    settle = 0.037
    runs = [
        run(f"settle-{length:g}", shape="settle", limits="cutting", length_mm=length)
        for length in (0.5, 2.0, 6.0)
    ]
    seconds = [
        100
        * (stroke_s(one.length_mm, 600.0, 4000.0) + settle + stroke_s(one.length_mm, 900.0, 2000.0))
        for one in runs
    ]
    assert fitted(bench(), runs, seconds, "settle_s") == pytest.approx([settle], rel=5e-3)
