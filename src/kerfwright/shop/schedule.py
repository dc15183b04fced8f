"""When which sheet is run: what is due first goes first, and none while nobody is there.

On one machine that is free from the start, taking jobs by their due dates makes the largest
lateness as small as it can be, whatever the jobs take: J. R. Jackson 1955, *Scheduling a production
line to minimize maximum tardiness*, Research Report 43, Management Science Research Project,
University of California, Los Angeles (as cited in textbooks on scheduling; from memory). Where a
sheet does not fit in what is left of a stretch of work, a later one that does is put in there: it
delays nothing that is due before it. With such breaks the rule is no longer proven to be the best,
only good.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kerfwright.shop.hours import Stretch, WorkingHours

LONGEST_DAYS = 366
"""So far ahead a schedule goes."""


@dataclass(frozen=True, slots=True)
class Job:
    """A sheet to be run: the order's title, the sheet's number, what it takes, when it is due."""

    order: str
    sheet: int
    seconds: float
    due: datetime.date | None = None


@dataclass(frozen=True, slots=True)
class Slot:
    """When a job is done; both ``None`` where no stretch of work is long enough for it."""

    job: Job
    begin: datetime.datetime | None
    end: datetime.datetime | None

    @property
    def late_days(self) -> int:
        """Days after the one on which it is due; 0 for what is in time or due on no day."""
        if self.end is None or self.job.due is None:
            return 0
        return max((_last_day(self.end) - self.job.due).days, 0)

    @property
    def is_late(self) -> bool:
        """Whether it is done after the day on which it is due."""
        return self.late_days > 0


def schedule(
    jobs: Sequence[Job], hours: WorkingHours, start: datetime.datetime, *, between_s: float = 0.0
) -> tuple[Slot, ...]:
    """Lay the jobs of one machine into the shop's hours, what is due first first.

    ``between_s`` is what laying in and taking out take for each. A job is done in one go within
    one stretch of work. The slots are in the order of their time; jobs for which no stretch is
    long enough come last.
    """
    free = _joined(hours.stretches(start, LONGEST_DAYS))
    slots = []
    for job in sorted(jobs, key=lambda one: one.due or datetime.date.max):
        needed = datetime.timedelta(seconds=job.seconds + between_s)
        number = next((n for n, (b, e) in enumerate(free) if e - b >= needed), None)
        if number is None:
            slots.append(Slot(job, None, None))
            continue
        begin, end = free[number]
        slots.append(Slot(job, begin, begin + needed))
        free[number : number + 1] = _left(begin + needed, end)
    return tuple(sorted(slots, key=lambda one: one.begin or datetime.datetime.max))


def _joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Stretches that touch, as at midnight, made one."""
    joined: list[Stretch] = []
    for begin, end in stretches:
        if joined and joined[-1][1] == begin:
            joined[-1] = joined[-1][0], end
        else:
            joined.append((begin, end))
    return joined


def _left(begin: datetime.datetime, end: datetime.datetime) -> list[Stretch]:
    return [(begin, end)] if begin < end else []


def _last_day(end: datetime.datetime) -> datetime.date:
    """The day on which a job ends; at midnight that is the day before."""
    return (end - datetime.timedelta(microseconds=1)).date()
