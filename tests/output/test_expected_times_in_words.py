"""Expected times as people say them."""

from __future__ import annotations

from dataclasses import replace

import pytest

import planned_order
from kerfwright.learning import learned
from kerfwright.motion.expected_time import PastRuns, past_runs
from kerfwright.motion.fingerprint import clock_fingerprint
from kerfwright.output.expected_times import (
    duration_range,
    rough_duration,
    runs_in_words,
    time_of_plan,
)
from kerfwright.output.plan_json import plan_document
from kerfwright.output.ticket import ticket_html
from kerfwright.plan import Plan
from recorded_runs import a_run, on_record


def taught(count: int, ratio: float = 1.1) -> Plan:
    """The planned order, its machine having ``count`` runs on record."""
    plan = planned_order.order()
    runs = on_record(
        *[a_run(clock=clock_fingerprint(plan.machine), actual_s=100.0 * ratio)] * count
    )
    return learned(plan, lambda _: runs, wanted=True)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (4.2, "4.2 s"),
        (185.0, "3 min 05 s"),
        (2730.0, "46 min"),
        (3600.0, "60 min"),
        (6120.0, "1 h 42 min"),
    ],
)
def test_times_are_said_no_finer_than_they_are_known(seconds: float, said: str) -> None:
    assert rough_duration(seconds) == said


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (4.0, 5.0, "4.0–5.0 s"),
        (9.0, 12.0, "9–12 s"),
        (95.0, 110.0, "1.6–1.8 min"),
        (705.0, 746.0, "11.8–12.4 min"),
        (2520.0, 2940.0, "42–49 min"),
        (5880.0, 6900.0, "1:38–1:55 h"),
    ],
)
def test_ranges(low: float, high: float, said: str) -> None:
    assert duration_range(low, high) == said


def test_plan_that_learned_says_time_range_and_runs() -> None:
    # 71 s and 3720 s by the clock, 1.1 times that is 69.5 min; runs exactly alike leave ± 2 %
    assert time_of_plan(taught(12)) == "70 min (68–71 min; from 12 recorded runs)"


def test_plan_of_a_machine_without_runs_says_so() -> None:
    assert "No runs of trial recorded yet" in runs_in_words(taught(0))
    assert "2 runs of trial recorded so far" in runs_in_words(taught(2))
    assert time_of_plan(taught(2)) == time_of_plan(planned_order.order()) == "1 h 03 min"


def test_plan_that_nobody_taught_says_nothing() -> None:
    assert runs_in_words(planned_order.order()) == ""


def test_ticket_tells_the_expected_time_its_range_and_the_clocks() -> None:
    plan = taught(5)
    text = ticket_html(plan, planned_order.files_of(plan)).replace("\N{NO-BREAK SPACE}", " ")
    assert "70 min" in text
    assert "(68–71 min; from 5 recorded runs)" in text
    assert "The clock alone says 1 h 03 min" in text
    assert "expected: 68.2" in text, "1.1 × 3720 s, the second sheet"
    assert "kerfwright record FOLDER --sheet 2" in text


def test_document_keeps_the_clocks_time_beside_the_expected() -> None:
    plan = taught(5)
    document = plan_document(plan, planned_order.files_of(plan))
    first = document.sheets[0]
    assert first.time_s == pytest.approx(71.0)
    assert first.expected is not None
    assert first.expected.time_s == pytest.approx(78.1)
    assert document.totals.time_s == pytest.approx(3791.0)
    assert document.totals.expected is not None
    assert document.totals.expected.time_s == pytest.approx(4170.1)
    assert document.past_runs is not None
    assert (document.past_runs.runs, document.past_runs.median) == (5, 1.1)


def test_plan_with_a_sheet_that_has_no_expectation_has_none_itself() -> None:
    plan = taught(5)
    first, *rest = plan.sheets
    assert replace(plan, sheets=(replace(first, expected=None), *rest)).expected is None


def test_runs_of_other_machine_settings_are_told() -> None:
    plan = planned_order.order()
    runs = on_record(a_run(clock="another"), a_run(clock="another"))
    told = learned(plan, lambda _: runs, wanted=True)
    (finding,) = (one for one in told.findings if one.code == "records/other-clock")
    assert finding.count == 2
    assert isinstance(told.past_runs, PastRuns)
    assert past_runs(runs, plan.machine).ratios is None


def test_runs_of_other_settings_are_not_told_once_there_are_new_ones() -> None:
    plan = planned_order.order()
    runs = on_record(a_run(clock="another"), *[a_run(clock=clock_fingerprint(plan.machine))] * 3)
    told = learned(plan, lambda _: runs, wanted=True)
    assert told.past_runs is not None
    assert told.past_runs.other_clock == 1
    assert "records/other-clock" not in {one.code for one in told.findings}
