"""Recorded runs on the terminal and as JSON."""

from __future__ import annotations

import datetime
import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict
from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.findings import number_of
from kerfwright.output.text import duration, printable
from kerfwright.shop.runs import RecordedRun


class RunRecord(BaseModel):
    """A recorded run; times in seconds, moments in UTC."""

    model_config = ConfigDict(frozen=True)

    number: int
    machine: str
    order: str
    sheet: int
    sheet_name: str
    material: str
    program: str
    program_sha256: str
    repeat: int
    ran_on: datetime.date
    computed_s: float
    expected_s: float | None
    actual_s: float
    ratio: float
    by_process_s: dict[str, float]
    scrapped_parts: int | None
    note: str
    recorded_at: datetime.datetime
    forgotten_at: datetime.datetime | None


class RunRecords(BaseModel):
    """All recorded runs that were asked for, oldest first."""

    schema_version: Literal[1] = 1
    runs: tuple[RunRecord, ...]


def run_records(recorded: Sequence[RecordedRun]) -> RunRecords:
    """Gather recorded runs."""
    return RunRecords(runs=tuple(_record(one) for one in recorded))


def runs_json(recorded: Sequence[RecordedRun]) -> str:
    """Return recorded runs as indented JSON text."""
    return run_records(recorded).model_dump_json(indent=2)


def print_runs(recorded: Sequence[RecordedRun], place: str, console: Console | None = None) -> None:
    """Print recorded runs, a table for each machine."""
    console = console or Console()
    if not recorded:
        console.print(
            f"No runs recorded yet in {place}. After a run: kerfwright record FOLDER --sheet 1 "
            "--minutes 31:40",
            markup=False,
            highlight=False,
            soft_wrap=True,
        )
        return
    for machine in dict.fromkeys(one.run.machine for one in recorded):
        runs = [one for one in recorded if one.run.machine == machine]
        console.print(Text(printable(machine), style="bold"), end="")
        console.print(f": {number_of(len(runs), 'run')}", highlight=False)
        console.print(_table(runs))


def run_in_words(one: RecordedRun) -> str:
    """What was recorded, on one line."""
    run = one.run
    return printable(
        f"Run {one.number}: sheet {run.sheet} ({run.material}) took {duration(run.actual_s)}; "
        f"computed were {duration(run.computed_s)} (× {run.ratio:.2f})"
    )


def how_to_make_again(plan: Path, sheet: int, part: str) -> str:
    """The command that writes a program for one part, as in ``lid#2``."""
    file = "-".join("".join(c if c.isalnum() else " " for c in part).split()) or "part"
    words = ("kerfwright", "program", str(plan if plan.is_dir() else plan.parent))
    command = shlex.join([*words, "--sheet", str(sheet), "--part", part, "--out", f"{file}.nc"])
    return printable(f"To make {part} again: {command}")


def _record(one: RecordedRun) -> RunRecord:
    run = one.run
    return RunRecord(
        number=one.number,
        machine=run.machine,
        order=run.order,
        sheet=run.sheet,
        sheet_name=run.sheet_name,
        material=run.material,
        program=run.program,
        program_sha256=run.program_sha256,
        repeat=one.repeat,
        ran_on=run.ran_on,
        computed_s=run.computed_s,
        expected_s=run.expected_s,
        actual_s=run.actual_s,
        ratio=round(run.ratio, 4),
        by_process_s=run.by_process_s,
        scrapped_parts=run.scrapped_parts,
        note=run.note,
        recorded_at=one.recorded_at,
        forgotten_at=one.forgotten_at,
    )


def _table(runs: Sequence[RecordedRun]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("run", justify="right")
    table.add_column("day", no_wrap=True)
    table.add_column("sheet", ratio=2)
    for name in ("computed", "took", "×"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("note", ratio=1)
    for one in runs:
        run = one.run
        table.add_row(
            str(one.number),
            run.ran_on.isoformat(),
            Text(printable(f"{run.order}, sheet {run.sheet}, {run.material}")),
            duration(run.computed_s),
            duration(run.actual_s),
            f"{run.ratio:.2f}",
            Text(printable(_note(one))),
            style="dim" if one.forgotten_at else None,
        )
    return table


def _note(one: RecordedRun) -> str:
    scrapped = one.run.scrapped_parts
    words = ["taken out"] if one.forgotten_at else []
    words += [f"run {one.repeat} of this program"] if one.repeat > 1 else []
    words += [f"{number_of(scrapped, 'part')} scrapped"] if scrapped else []
    words += [one.run.note] if one.run.note else []
    return "; ".join(words)
