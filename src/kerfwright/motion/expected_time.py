"""The time to expect of a program: the clock's, corrected by what past runs of the machine took.

The clock's own time stays what it is; whatever compares ways of working goes by the clock.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.fingerprint import clock_fingerprint
from kerfwright.shop.machine import Machine
from kerfwright.shop.run_statistics import Ratios, ratios_of_runs
from kerfwright.shop.runs import LEAST_RUNS, RecordedRun

LATEST_RUNS = 100
"""Only the newest runs are learned from: belts, lenses and habits change."""


@dataclass(frozen=True, slots=True)
class ExpectedTime:
    """What a program should take, and the range that four of five runs should fall into."""

    total_s: float
    low_s: float
    high_s: float

    def __add__(self, other: ExpectedTime) -> ExpectedTime:
        """Both one after the other; what made the one slower makes the other slower too."""
        return ExpectedTime(
            self.total_s + other.total_s, self.low_s + other.low_s, self.high_s + other.high_s
        )


@dataclass(frozen=True, eq=False, slots=True)
class PastRuns:
    """What the recorded runs of a machine say of its next ones.

    ``ratios`` is ``None`` where there are too few runs; its rows are ``runs`` and its columns
    ``processes``.
    """

    runs: tuple[RecordedRun, ...]
    """Those that are learned from."""
    other_clock: int
    """How many more there are, computed from other machine settings than today's."""
    processes: tuple[str, ...]
    ratios: Ratios | None

    @property
    def set_aside(self) -> tuple[RecordedRun, ...]:
        """Runs so far from the others that the range leaves them out."""
        if self.ratios is None:
            return ()
        return tuple(self.runs[row] for row in np.flatnonzero(self.ratios.set_aside))

    @property
    def own_ratios(self) -> dict[str, float]:
        """Ratio of each process that has one of its own."""
        if self.ratios is None:
            return {}
        return {
            process: float(ratio)
            for process, ratio, own in zip(
                self.processes, self.ratios.by_process, self.ratios.own, strict=True
            )
            if own
        }

    def expected(self, clock_s: float, by_process_s: Mapping[str, float]) -> ExpectedTime | None:
        """Correct the clock's time of a program by its share of the processes.

        ``None`` where there are too few runs to learn from.
        """
        if self.ratios is None:
            return None
        shares = np.array([by_process_s.get(process, 0.0) for process in self.processes])
        ratio = self.ratios.expected(shares / (sum(by_process_s.values()) or 1.0))
        expected_s = clock_s * ratio
        return ExpectedTime(expected_s, expected_s * self.ratios.low, expected_s * self.ratios.high)


def past_runs(recorded: Sequence[RecordedRun], machine: Machine) -> PastRuns:
    """Learn from a machine's recorded runs, oldest first.

    Only runs that the same clock computed, on the machine as its file is now, can tell how far
    that clock is off. Travel and waiting are shared out over a run's processes.
    """
    clock = clock_fingerprint(machine)
    same = [
        one for one in recorded if one.run.clock == clock and any(one.run.by_process_s.values())
    ]
    same = same[-LATEST_RUNS:]
    processes = tuple(sorted({process for one in same for process in one.run.by_process_s}))
    return PastRuns(
        runs=tuple(same),
        other_clock=sum(one.run.clock != clock for one in recorded),
        processes=processes,
        ratios=ratios_of_runs(_shares(same, processes), np.array([r.run.ratio for r in same]))
        if len(same) >= LEAST_RUNS
        else None,
    )


def _shares(recorded: Sequence[RecordedRun], processes: Sequence[str]) -> FloatArray:
    seconds = np.array(
        [[one.run.by_process_s.get(process, 0.0) for process in processes] for one in recorded]
    )
    shares: FloatArray = seconds / seconds.sum(axis=1, keepdims=True)
    return shares
