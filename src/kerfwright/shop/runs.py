"""A run of a program on a machine: what was computed beforehand, and what it really took."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass

LEAST_RUNS = 3
"""Fewer say nothing of the next: no median is taken of them."""


@dataclass(frozen=True, slots=True)
class Run:
    """One program, run once."""

    machine: str
    clock: str
    """Fingerprint of the machine's facts that ``computed_s`` rests on."""
    order: str
    """Title of the order."""
    sheet: int
    """The sheet's number in its plan."""
    sheet_name: str
    material: str
    program: str
    program_sha256: str
    computed_s: float
    """What the clock alone said, before any correction."""
    by_process_s: dict[str, float]
    """The part of it that belongs to each process; what is left over is travel."""
    actual_s: float
    ran_on: datetime.date
    expected_s: float | None = None
    """What the plan showed instead, where it corrected the clock."""
    scrapped_parts: int | None = None
    note: str = ""
    reference: str = ""
    """What tells the order from others of its title; empty where the title does."""

    @property
    def ratio(self) -> float:
        """Actual over computed seconds."""
        return self.actual_s / self.computed_s


@dataclass(frozen=True, slots=True)
class RecordedRun:
    """A run as the records hold it; moments are in UTC."""

    number: int
    run: Run
    recorded_at: datetime.datetime
    repeat: int
    """Which run of the same program on the same machine, counted from 1."""
    forgotten_at: datetime.datetime | None = None
    """When it was taken out; it is kept, but nothing learns from it."""


RunsOf = Callable[[str], Sequence[RecordedRun]]
"""Gives the recorded runs of the machine of a name, oldest first, without forgotten ones."""
