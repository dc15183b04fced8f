"""Expected times as people say them: ``45 min (42–49 min; from 12 recorded runs)``."""

from __future__ import annotations

from kerfwright.findings import number_of
from kerfwright.output.text import duration, printable
from kerfwright.plan import Plan
from kerfwright.shop.runs import LEAST_RUNS

ROUGH_FROM_S = 600.0
"""From ten minutes on nobody expects seconds."""

MINUTES_FROM_S, HOURS_FROM_S = 100.0, 6000.0
"""Where a range goes over to minutes, and everything to hours."""


def rough_duration(seconds: float) -> str:
    """Say a time no finer than it is known: ``42 s``, ``3 min 05 s``, ``45 min``."""
    if ROUGH_FROM_S <= seconds < HOURS_FROM_S:
        return f"{round(seconds / 60)} min"
    return duration(seconds)


def duration_range(low_s: float, high_s: float) -> str:
    """Say a range: ``52–58 s``, ``11.8–12.4 min``, ``42–49 min``, ``1:42–1:55 h``."""
    if high_s < 9.95:
        return f"{low_s:.1f}–{high_s:.1f} s"
    if high_s < MINUTES_FROM_S:
        return f"{low_s:.0f}–{high_s:.0f} s"
    if high_s < HOURS_FROM_S:
        decimals = 0 if high_s - low_s >= 120.0 else 1
        return f"{low_s / 60:.{decimals}f}–{high_s / 60:.{decimals}f} min"
    return f"{_hours(low_s)}–{_hours(high_s)} h"


def _hours(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def time_of_plan(plan: Plan) -> str:
    """Time of all sheets: expected with range and number of runs, else the clock's own."""
    expected = plan.expected
    if expected is None:
        return duration(sum(sheet.times.total_s for sheet in plan.sheets))
    times = duration_range(expected.low_s, expected.high_s)
    return f"{rough_duration(expected.total_s)} ({times}; from {runs_used(plan)})"


def runs_used(plan: Plan) -> str:
    """How many runs the times rest on: ``12 recorded runs``."""
    return number_of(len(plan.past_runs.runs) if plan.past_runs else 0, "recorded run")


def runs_in_words(plan: Plan) -> str:
    """What the times rest on, as a sentence; empty where nobody looked into the records."""
    past = plan.past_runs
    if past is None:
        return ""
    clock_s = sum(sheet.times.total_s for sheet in plan.sheets)
    if past.ratios is not None:
        return (
            f"The clock alone says {duration(clock_s)}; past runs took {past.ratios.median:.2f} "
            "times what it says."
        )
    machine = printable(plan.machine.name)
    if not past.runs:
        return f"No runs of {machine} recorded yet: times are the clock's alone."
    return (
        f"{number_of(len(past.runs), 'run')} of {machine} recorded so far: times are the clock's "
        f"alone until there are {LEAST_RUNS}."
    )
