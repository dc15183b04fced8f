"""Timed runs: what they show of a machine, and that they stay where they belong."""

from __future__ import annotations

import numpy as np
import pytest
from tests.timed_machines import MACHINES, QUAY, design, limits

from kerfwright.motion.run_candidates import candidates, start_mm
from kerfwright.motion.run_choice import (
    READINGS,
    STOPWATCH,
    TELLING,
    design_runs,
    expected_errors,
)
from kerfwright.motion.timed_runs import run_time_s, toolpath_of
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine

by_name = pytest.mark.parametrize("machine", MACHINES, ids=lambda machine: machine.name)


@by_name
def test_each_number_shows_in_some_run_and_none_hides_behind_another(machine: Machine) -> None:
    plan = design(machine.name)
    assert not plan.untold
    best = np.abs(plan.sensitivity).max(axis=0)
    for parameter, telling in zip(plan.parameters, best, strict=True):
        assert telling >= TELLING, parameter.name
    assert np.linalg.cond(plan.sensitivity) < 20.0
    errors = expected_errors(plan.sensitivity, np.full(len(plan.seconds), READINGS), STOPWATCH)
    assert errors.max() < 0.025


@by_name
def test_sensitivity_is_what_happens_when_a_number_changes(machine: Machine) -> None:
    """By whole toolpaths on changed machines, as anybody would try it out."""
    plan = design(machine.name)
    slow = machine.model_copy(
        update={
            "travel": machine.travel.model_copy(
                update={"speed_mm_s": (0.99 * machine.travel.speed_mm_s[0], 1e4)}
            )
        }
    )
    place = next(j for j, p in enumerate(plan.parameters) if p.key == "travel.speed_mm_s[1]")
    run = int(np.abs(plan.sensitivity[:, place]).argmax())
    path = toolpath_of(plan.runs.runs[run], plan.runs.start_mm)
    before, after = (time_toolpath(path, one).total_s for one in (machine, slow))
    assert np.log(after / before) / np.log(0.99) == pytest.approx(
        plan.sensitivity[run, place], abs=0.01
    )


@by_name
def test_runs_take_half_a_minute_and_the_set_is_short(machine: Machine) -> None:
    plan = design(machine.name)
    assert (plan.seconds > 20.0).all()
    assert (plan.seconds < 60.0).all()
    assert len(plan.runs.runs) <= len(plan.parameters) + 8
    names = [run.name for run in plan.runs.runs]
    assert len(set(names)) == len(names)


@by_name
def test_runs_stay_inside_the_bed_and_come_back_to_their_start(machine: Machine) -> None:
    plan = design(machine.name)
    start = np.array(plan.runs.start_mm)
    bed = np.array([machine.bed_width_mm, machine.bed_height_mm])
    for run in plan.runs.runs:
        path = toolpath_of(run, plan.runs.start_mm)
        assert (path.points >= start - 1e-9).all()
        assert (path.points <= bed - start + 1e-9).all()
        assert path.end_mm == pytest.approx(plan.runs.start_mm)
        assert not path.moves["power"].any()


@by_name
def test_a_long_run_is_timed_as_the_whole_toolpath_is(machine: Machine) -> None:
    for run in design(machine.name).runs.runs:
        whole = time_toolpath(toolpath_of(run, (0.0, 0.0)), machine).total_s
        assert run_time_s(run, machine) == pytest.approx(whole, rel=2e-4), run.name


def test_a_speed_that_the_bed_is_too_short_for_is_not_measured() -> None:
    small = QUAY.model_copy(
        update={
            "bed_width_mm": 200.0,
            "bed_height_mm": 150.0,
            "travel": limits((4e3, 4e3), (2e3, 2e3)),
        }
    )
    plan = design_runs(small)
    assert {p.key for p in plan.untold} >= {"travel.speed_mm_s[1]", "travel.speed_mm_s[2]"}
    assert not {p.key for p in plan.untold} & set(plan.runs.measures)


def test_every_candidate_fits_a_small_bed() -> None:
    small = QUAY.model_copy(update={"bed_width_mm": 110.0, "bed_height_mm": 90.0})
    margin = start_mm(small)[0]
    for run in candidates(small):
        points = toolpath_of(run, start_mm(small), 1).points
        assert points[:, 0].max() <= 110.0 - margin + 1e-9
        assert points[:, 1].max() <= 90.0 - margin + 1e-9
