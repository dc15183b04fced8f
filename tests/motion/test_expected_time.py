"""The time to expect of a program: from runs of the same clock only, by its share of processes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from kerfwright.motion.expected_time import LATEST_RUNS, ExpectedTime, past_runs
from kerfwright.motion.fingerprint import clock_fingerprint
from kerfwright.shop.machine import Controller, Machine
from kerfwright.shop.runs import Run
from recorded_runs import a_run, on_record


def run_on(machine: Machine, process: str, ratio: float) -> Run:
    return a_run(
        clock=clock_fingerprint(machine),
        by_process_s={process: 90.0},
        computed_s=100.0,
        actual_s=100.0 * ratio,
    )


def test_too_few_runs_lead_to_no_expectation(machine: Machine) -> None:
    past = past_runs(on_record(*[run_on(machine, "cut", 1.1)] * 2), machine)
    assert len(past.runs) == 2
    assert past.expected(100.0, {"cut": 90.0}) is None


def test_median_of_the_runs_corrects_the_clock(machine: Machine) -> None:
    runs = [run_on(machine, "cut", ratio) for ratio in (1.08, 1.10, 1.13)]
    expected = past_runs(on_record(*runs), machine).expected(200.0, {"cut": 150.0})
    assert expected is not None
    assert expected.total_s == pytest.approx(220.0)
    assert expected.low_s < 216.0
    assert expected.high_s > 226.0


def test_a_program_goes_by_its_share_of_the_processes(machine: Machine) -> None:
    runs = [run_on(machine, "cut", 1.0)] * 4 + [run_on(machine, "engrave", 1.21)] * 4
    past = past_runs(on_record(*runs), machine)
    assert past.own_ratios == pytest.approx({"cut": 1.0, "engrave": 1.21}, rel=0.01)
    half = past.expected(100.0, {"cut": 40.0, "engrave": 40.0})
    assert half is not None
    assert half.total_s == pytest.approx(110.0, rel=0.01)


def test_a_process_that_no_run_had_goes_by_the_median(machine: Machine) -> None:
    past = past_runs(on_record(*[run_on(machine, "cut", 1.2)] * 3), machine)
    for by_process_s in ({"score": 10.0}, {}):
        expected = past.expected(100.0, by_process_s)
        assert expected is not None
        assert expected.total_s == pytest.approx(120.0)


def test_runs_of_another_clock_do_not_count(machine: Machine) -> None:
    other = a_run(clock="another", actual_s=300.0)
    runs = [other, other, *[run_on(machine, "cut", 1.1)] * 3]
    past = past_runs(on_record(*runs), machine)
    assert (len(past.runs), past.other_clock) == (3, 2)
    expected = past.expected(100.0, {"cut": 90.0})
    assert expected is not None
    assert expected.total_s == pytest.approx(110.0)


def test_only_the_newest_runs_count(machine: Machine) -> None:
    old = [run_on(machine, "cut", 2.0)] * (2 * LATEST_RUNS)
    new = [run_on(machine, "cut", 1.1)] * LATEST_RUNS
    expected = past_runs(on_record(*old, *new), machine).expected(100.0, {"cut": 90.0})
    assert expected is not None
    assert expected.total_s == pytest.approx(110.0)


def test_odd_runs_are_named(machine: Machine) -> None:
    runs = [run_on(machine, "cut", ratio) for ratio in (1.1, 1.1, 3.3, 1.1, 1.1)]
    past = past_runs(on_record(*runs), machine)
    assert [one.number for one in past.set_aside] == [3]


def test_several_programs_take_the_sum() -> None:
    both = ExpectedTime(10.0, 9.0, 12.0) + ExpectedTime(20.0, 19.0, 21.0)
    assert both == ExpectedTime(30.0, 28.0, 33.0)


def test_fingerprint_changes_with_what_times_rest_on(machine: Machine) -> None:
    faster = machine.cutting.model_copy(update={"acceleration_mm_s2": (3200.0, 3100.0)})
    changes: list[dict[str, object]] = [
        {"cutting": faster},
        {"settle_s": 0.01},
        {"junction_deviation_mm": 0.02},
        {"slows_in_curves": False},
        {"controller": Controller(look_ahead_moves=16)},
    ]
    prints = {clock_fingerprint(machine.model_copy(update=change)) for change in changes}
    assert len(prints | {clock_fingerprint(machine)}) == len(changes) + 1


def test_fingerprint_does_not_change_with_anything_else(
    make_machine: Callable[..., Machine], machine: Machine
) -> None:
    changed = make_machine(
        name="another name",
        power_w=80.0,
        bed_width_mm=1200.0,
        spot_mm=0.15,
        invented=False,
        controller={"dialect": "rs274-ngc", "decimals": 4, "full_power_s_word": 255.0},
        settle_s=0.0,  # as when it is left out
    )
    assert clock_fingerprint(changed) == clock_fingerprint(machine)


def test_a_run_without_burning_teaches_nothing(machine: Machine) -> None:
    empty = replace(run_on(machine, "cut", 1.1), by_process_s={})
    assert past_runs(on_record(*[empty] * 5), machine).ratios is None
