"""Times in ``plan.json`` with what past runs teach."""

from __future__ import annotations

from kerfwright.motion.expected_time import ExpectedTime, PastRuns
from kerfwright.output.record import Count, NotNegative, Record, known, rounded


class ExpectedRecord(Record):
    """A time with what past runs of the machine teach; four of five new runs fall between."""

    time_s: NotNegative
    """Expected time."""
    low_s: NotNegative
    """Lower end of the range."""
    high_s: NotNegative
    """Upper end of the range."""


class PastRunsRecord(Record):
    """What the recorded runs of the machine say; ratios are real over computed times."""

    runs: Count
    """Runs that are learned from."""
    other_clock: Count
    """Runs that do not count, because they were computed from other machine settings."""
    set_aside: tuple[Count, ...]
    """Numbers of runs so far from the others that the range leaves them out."""
    median: NotNegative | None
    """Median ratio of all runs; null where there are too few to learn from."""
    by_process: dict[str, NotNegative]
    """Ratio of each process that has one of its own."""
    low: NotNegative | None
    """Lower end of the range, as a factor on the expected time."""
    high: NotNegative | None
    """Upper end of the range, as a factor on the expected time."""


def expected_record(expected: ExpectedTime | None) -> ExpectedRecord | None:
    """Turn an expected time into its record, where there is one."""
    if expected is None:
        return None
    return ExpectedRecord(
        time_s=rounded(expected.total_s),
        low_s=rounded(expected.low_s),
        high_s=rounded(expected.high_s),
    )


def past_runs_record(past: PastRuns | None) -> PastRunsRecord | None:
    """Turn what past runs say into its record, where somebody looked."""
    if past is None:
        return None
    ratios = past.ratios
    return PastRunsRecord(
        runs=len(past.runs),
        other_clock=past.other_clock,
        set_aside=tuple(one.number for one in past.set_aside),
        median=known(ratios.median) if ratios else None,
        by_process={process: rounded(ratio) for process, ratio in past.own_ratios.items()},
        low=known(ratios.low) if ratios else None,
        high=known(ratios.high) if ratios else None,
    )
