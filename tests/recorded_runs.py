"""Runs written out by hand. All numbers are invented."""

from __future__ import annotations

import datetime
from dataclasses import replace
from itertools import count

from kerfwright.shop.runs import RecordedRun, Run

DAY = datetime.date(2026, 5, 4)
MOMENT = datetime.datetime(2026, 5, 4, 12, tzinfo=datetime.UTC)


def a_run(**changes: object) -> Run:
    run = Run(
        machine="trial machine",
        clock="c10c",
        order="Regatta",
        sheet=1,
        sheet_name="offcut",
        material="board",
        program="01-board-offcut.nc",
        program_sha256="ab" * 32,
        computed_s=100.0,
        by_process_s={"cut": 60.0, "engrave": 30.0},
        actual_s=110.0,
        ran_on=DAY,
    )
    return replace(run, **changes)  # type: ignore[arg-type]


def on_record(*runs: Run) -> list[RecordedRun]:
    numbers = count(1)
    return [RecordedRun(next(numbers), run, MOMENT, repeat=1) for run in runs]
