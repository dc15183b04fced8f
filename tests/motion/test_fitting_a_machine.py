"""A machine comes back from the seconds of its timed runs."""

from __future__ import annotations

import numpy as np
import pytest
from tests.timed_machines import DOCK, JETTY, MACHINES, QUAY, design, real_machine, timed

from kerfwright.motion.fit_result import Fit, TooFewReadingsError, UnfitReadingsError
from kerfwright.motion.fitting import fit_machine
from kerfwright.motion.parameters import parameters_of, values_of
from kerfwright.motion.timed_runs import run_time_s
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath, join, moves_along

SEEDS = range(3)


def measured(machine: Machine, run: np.ndarray, seconds: np.ndarray) -> Fit:
    plan = design(machine.name)
    return fit_machine(machine, plan.runs.runs, plan.parameters, run, seconds)


def unseen(rng: np.random.Generator, machine: Machine) -> list[Toolpath]:
    """Twelve programs unlike the runs: strokes anywhere, rows, zigzags and loops."""
    size = np.array([machine.bed_width_mm, machine.bed_height_mm])
    speeds = machine.cutting.speed_mm_s

    def travel(to: np.ndarray) -> np.ndarray:
        return moves_along(
            to.reshape(1, 2), kind=MoveKind.TRAVEL, speed_mm_s=1e6, power=0.0, source=-1
        )

    def burn(points: np.ndarray, kind: MoveKind, speed: float) -> np.ndarray:
        return moves_along(points, kind=kind, speed_mm_s=speed, power=0.5, source=0)

    def strokes() -> Toolpath:
        pieces = []
        for _ in range(30):
            ends = rng.uniform(0.1, 0.9, (2, 2)) * size
            speed = float(rng.uniform(20.0, max(speeds)))
            pieces += [travel(ends[0]), burn(ends[1:], MoveKind.CUT, speed)]
        return Toolpath(join(pieces))

    def rows() -> Toolpath:
        wide = float(rng.uniform(20.0, 0.5 * size[0]))
        speed = float(rng.uniform(0.4, 1.0)) * machine.scanning.speed_mm_s[0]
        pieces = [travel(np.array([50.0, 50.0]))]
        for number in range(60):
            y = 50.0 + 0.25 * number
            ends = np.array([[50.0, y], [60.0, y], [60.0 + wide, y], [70.0 + wide, y]])
            ends = ends if number % 2 == 0 else ends[::-1]
            pieces += [
                burn(ends[:2], MoveKind.RUN_UP, speed),
                burn(ends[2:3], MoveKind.ROW, speed),
                burn(ends[3:], MoveKind.RUN_UP, speed),
            ]
        return Toolpath(join(pieces))

    def zigzags() -> Toolpath:
        tooth, turn = rng.uniform(2.0, 20.0), rng.uniform(0.3, 2.5)
        step = tooth * np.array([np.cos(turn / 2), np.sin(turn / 2)])
        number = np.arange(1, 200)
        line = 20.0 + np.column_stack([step[0] * (number % 40), step[1] * (number % 2)])
        return Toolpath(join([travel(line[0]), burn(line[1:], MoveKind.CUT, 0.8 * min(speeds))]))

    def loops() -> Toolpath:
        pieces = []
        for radius in rng.uniform(5.0, 60.0, 8):
            angle = np.linspace(0.0, 2.0 * np.pi, max(int(radius * 6), 24))
            circle = 80.0 + radius * np.column_stack([np.cos(angle), np.sin(angle)])
            pieces += [travel(circle[0]), burn(circle[1:], MoveKind.LOOP, max(speeds))]
        return Toolpath(join(pieces))

    return [make() for make in (strokes, rows, zigzags, loops) for _ in range(3)]


@pytest.mark.parametrize("machine", MACHINES, ids=lambda machine: machine.name)
@pytest.mark.parametrize("seed", SEEDS)
def test_numbers_and_times_come_back_from_noisy_readings(machine: Machine, seed: int) -> None:
    rng = np.random.default_rng(seed)
    real = real_machine(machine, rng)
    fit = measured(machine, *timed(design(machine.name), real, rng))
    parameters = parameters_of(machine)
    truth = dict(zip(parameters, values_of(real, parameters), strict=True))
    for estimate in fit.estimates:
        true = truth[estimate.parameter]
        if estimate.parameter.field == "look_ahead_moves":
            assert abs(estimate.after - true) <= 1.0
        else:
            assert estimate.after == pytest.approx(true, rel=0.05), estimate.parameter.name
    assert not fit.off
    assert fit.spread == pytest.approx(0.01, rel=0.4)
    runs = design(machine.name).runs.runs
    assert fit.modelled_s == pytest.approx([run_time_s(run, fit.machine) for run in runs])
    assert fit.before_s == pytest.approx([run_time_s(run, machine) for run in runs])
    for program in unseen(rng, machine):
        assert time_toolpath(program, fit.machine).total_s == pytest.approx(
            time_toolpath(program, real).total_s, rel=0.015
        )


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    held = []
    for seed in range(4):
        rng = np.random.default_rng(100 + seed)
        real = real_machine(QUAY, rng)
        fit = measured(QUAY, *timed(design(QUAY.name), real, rng))
        truth = values_of(real, [one.parameter for one in fit.estimates])
        held += [
            one.low <= true <= one.high for one, true in zip(fit.estimates, truth, strict=True)
        ]
    # 95 % of 56 is 53, give or take 1.6
    assert len(held) == 56
    assert sum(held) >= 47


def test_exact_readings_give_the_machine_back_exactly() -> None:
    rng = np.random.default_rng(7)
    real = real_machine(DOCK, rng)
    fit = measured(DOCK, *timed(design(DOCK.name), real, rng, noise=0.0, times=1))
    truth = values_of(real, [one.parameter for one in fit.estimates])
    assert [one.after for one in fit.estimates] == pytest.approx(truth, rel=2e-3)


def test_a_slip_of_the_stopwatch_is_named_and_set_aside() -> None:
    rng = np.random.default_rng(1)
    real = real_machine(QUAY, rng)
    run, seconds = timed(design(QUAY.name), real, rng)
    clean = measured(QUAY, run, seconds)
    seconds[7] *= 2.0
    seconds[20] *= 0.5
    fit = measured(QUAY, run, seconds)
    names = [one.name for one in design(QUAY.name).runs.runs]
    assert [(one.run, one.readings) for one in fit.off] == [(names[2], 1), (names[6], 1)]
    assert [one.factor for one in fit.off] == pytest.approx([2.0, 0.5], rel=0.05)
    assert np.flatnonzero(~fit.kept).tolist() == [7, 20]
    for before, after in zip(clean.estimates, fit.estimates, strict=True):
        assert after.after == pytest.approx(before.after, rel=0.02)


def test_a_program_timed_wrongly_each_time_is_named_if_others_show_the_same() -> None:
    rng = np.random.default_rng(2)
    real = real_machine(QUAY, rng, 0.1)
    plan = design(QUAY.name)
    run, seconds = timed(plan, real, rng)
    shows = np.abs(plan.sensitivity) > 0.15
    place = int(shows.sum(axis=0).argmax())
    assert shows[:, place].sum() > 3
    wrong = int(np.abs(plan.sensitivity)[:, place].argmax())
    seconds[run == wrong] *= 2.0
    fit = measured(QUAY, run, seconds)
    assert [(one.run, one.readings) for one in fit.off] == [(plan.runs.runs[wrong].name, 3)]
    assert fit.off[0].factor == pytest.approx(2.0, rel=0.05)


def test_two_programs_that_contradict_each_other_are_refused() -> None:
    rng = np.random.default_rng(3)
    plan = design(QUAY.name)
    run, seconds = timed(plan, QUAY, rng)
    place = next(
        j for j, p in enumerate(plan.parameters) if p.key == "travel.acceleration_mm_s2[2]"
    )
    pair = np.flatnonzero(np.abs(plan.sensitivity[:, place]) > 0.4)
    seconds[run == pair[0]] *= 2.0
    if len(pair) > 2:
        kept = ~np.isin(run, pair[2:])
        run, seconds = run[kept], seconds[kept]
    with pytest.raises(UnfitReadingsError) as refused:
        measured(QUAY, run, seconds)
    assert {one.run for one in refused.value.off} <= {plan.runs.runs[i].name for i in pair}


def test_what_was_not_timed_is_named_with_the_program_to_run() -> None:
    rng = np.random.default_rng(4)
    plan = design(QUAY.name)
    run, seconds = timed(plan, QUAY, rng)
    kept = np.array([not plan.runs.runs[i].name.startswith("travel-y") for i in run])
    with pytest.raises(TooFewReadingsError) as refused:
        measured(QUAY, run[kept], seconds[kept])
    assert {p.key for p in refused.value.parameters} == {
        "travel.speed_mm_s[2]",
        "travel.acceleration_mm_s2[2]",
    }
    assert refused.value.runs
    assert all(name.startswith("travel-y") for name in refused.value.runs)


def test_no_settling_is_told_from_a_little() -> None:
    rng = np.random.default_rng(5)
    still = JETTY.model_copy(update={"settle_s": 0.0})
    fit = measured(JETTY, *timed(design(JETTY.name), still, rng))
    settle = next(one for one in fit.estimates if one.parameter.field == "settle_s")
    assert settle.after == 0.0
    assert fit.machine.settle_s == 0.0


@pytest.mark.parametrize("slows", [True, False])
def test_loops_tell_whether_the_controller_slows_down_in_curves(slows: bool) -> None:
    rng = np.random.default_rng(6)
    real = real_machine(QUAY, rng).model_copy(update={"slows_in_curves": slows})
    machine = QUAY.model_copy(update={"slows_in_curves": not slows})
    fit = measured(machine, *timed(design(QUAY.name), real, rng))
    assert fit.machine.slows_in_curves == slows
    assert not fit.off


def test_a_speed_beyond_what_was_asked_is_said_to_be_at_least_that() -> None:
    rng = np.random.default_rng(8)
    fast = QUAY.model_copy(
        update={"scanning": QUAY.scanning.model_copy(update={"speed_mm_s": (2500.0, 500.0)})}
    )
    fit = measured(QUAY, *timed(design(QUAY.name), fast, rng))
    found = {one.parameter.key: one for one in fit.estimates}
    assert found["scanning.speed_mm_s[1]"].at_least
    assert found["scanning.speed_mm_s[1]"].after == pytest.approx(1500.0, rel=0.02)
    assert not found["scanning.speed_mm_s[2]"].at_least
