"""A schedule on the terminal and as JSON."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Literal

from pydantic import BaseModel
from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.findings import number_of
from kerfwright.output.text import duration, printable
from kerfwright.shop.schedule import Slot

Schedules = Mapping[str, Sequence[Slot]]
"""Slots in the order of time, by machine."""


class SlotRecord(BaseModel):
    """When a sheet is run, by the shop's clock; null where no stretch of work is long enough."""

    machine: str
    order: str
    sheet: int
    due: datetime.date | None
    begin: datetime.datetime | None
    end: datetime.datetime | None
    late_days: int


class ScheduleRecord(BaseModel):
    """What waits for the machines, in the order of time."""

    schema_version: Literal[1] = 1
    slots: tuple[SlotRecord, ...]


def schedule_record(schedules: Schedules) -> ScheduleRecord:
    """Gather schedules."""
    return ScheduleRecord(
        slots=tuple(
            SlotRecord(
                machine=machine,
                order=slot.job.order,
                sheet=slot.job.sheet,
                due=slot.job.due,
                begin=slot.begin,
                end=slot.end,
                late_days=slot.late_days,
            )
            for machine, slots in schedules.items()
            for slot in slots
        )
    )


def schedule_json(schedules: Schedules) -> str:
    """Return schedules as indented JSON text."""
    return schedule_record(schedules).model_dump_json(indent=2)


def print_schedule(
    schedules: Schedules, hours_in_words: str, console: Console | None = None
) -> None:
    """Print a table for each machine and what will be late; ``hours_in_words`` says by whose."""
    console = console or Console()
    if not schedules:
        _say(console, "Nothing is to be run. kerfwright orders plan FOLDER adds a plan.")
        return
    for machine, slots in schedules.items():
        total_s = sum(slot.job.seconds for slot in slots)
        console.print(Text(printable(machine), style="bold"), end="")
        console.print(f": {number_of(len(slots), 'sheet')}, {duration(total_s)}", highlight=False)
        console.print(_table(slots))
    _say(console, hours_in_words)
    for words in schedule_warnings(schedules):
        _say(console, words)


def _table(slots: Sequence[Slot]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in ("day", "from", "to"):
        table.add_column(name, no_wrap=True)
    for name in ("order", "sheet", "due"):
        table.add_column(name)
    for slot in slots:
        when = ("no time", "–", "–")
        if slot.begin is not None and slot.end is not None:
            when = (f"{slot.begin:%a %Y-%m-%d}", f"{slot.begin:%H:%M}", f"{slot.end:%H:%M}")
        due = slot.job.due
        table.add_row(
            *when,
            Text(printable(slot.job.order)),
            str(slot.job.sheet),
            Text(
                ("–" if due is None else str(due)) + (" (late)" if slot.is_late else ""),
                style="bold red" if slot.is_late else "",
            ),
        )
    return table


def schedule_warnings(schedules: Schedules) -> list[str]:
    """What will be late, and which sheets no stretch of work is long enough for."""
    late: dict[str, int] = {}
    homeless: list[str] = []
    for slots in schedules.values():
        for slot in slots:
            if slot.is_late:
                late[slot.job.order] = max(late.get(slot.job.order, 0), slot.late_days)
            if slot.begin is None:
                homeless.append(f"sheet {slot.job.sheet} of {slot.job.order}")
    found = [f"{title} will be late by {number_of(days, 'day')}." for title, days in late.items()]
    if homeless:
        found.append(
            f"No stretch of working hours is long enough for {', '.join(homeless)}, and no laser "
            "is left alone: split the sheet, or have somebody stay."
        )
    return found


def _say(console: Console, words: str) -> None:
    console.print(printable(words), markup=False, highlight=False, soft_wrap=True)
