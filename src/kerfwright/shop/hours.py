"""When somebody is in the shop: no laser burns while nobody is."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from typing import Annotated

from pydantic import AfterValidator
from pydantic_core import PydanticCustomError

from kerfwright.shop.machine import StrictModel, Text

SPAN = re.compile(r"([01]?\d|2[0-4]):([0-5]\d)\s*[-–]\s*([01]?\d|2[0-4]):([0-5]\d)")

MINUTES_OF_DAY = 24 * 60

Stretch = tuple[datetime.datetime, datetime.datetime]


def _minutes(span: str) -> tuple[int, int]:
    """Begin and end of ``08:00-12:00`` in minutes of the day."""
    found = SPAN.fullmatch(span.strip())
    if found is None:
        return 0, 0
    hours = [int(one) for one in found.groups()]
    return 60 * hours[0] + hours[1], 60 * hours[2] + hours[3]


def _in_order(spans: tuple[str, ...]) -> tuple[str, ...]:
    """Refuse what is no time of the day, ends before it begins, or overlaps what came before."""
    ended = 0
    for begin, end in map(_minutes, spans):
        if not ended <= begin < end <= MINUTES_OF_DAY:
            raise PydanticCustomError("hours", "no working hours")
        ended = end
    return spans


Spans = Annotated[tuple[Text, ...], AfterValidator(_in_order)]
"""Hours of a day in their order, such as ``["08:00-12:00", "13:00-17:00"]``."""


class WorkingHours(StrictModel):
    """Hours at which somebody is in the shop; days that are left out are free."""

    monday: Spans = ()
    """Hours of the day in their order, such as ["08:00-12:00", "13:00-17:00"]."""
    tuesday: Spans = ()
    """The same for Tuesdays."""
    wednesday: Spans = ()
    """The same for Wednesdays."""
    thursday: Spans = ()
    """The same for Thursdays."""
    friday: Spans = ()
    """The same for Fridays."""
    saturday: Spans = ()
    """The same for Saturdays."""
    sunday: Spans = ()
    """The same for Sundays."""
    closed: tuple[datetime.date, ...] = ()
    """Days off, such as [2031-12-24, 2031-12-25], without quotes."""

    def stretches(self, begin: datetime.datetime, days: int) -> Iterator[Stretch]:
        """Stretches of work from a moment on, day by day; what has passed of one is cut off.

        Days have 24 hours: clocks that are put forward or back are not minded.
        """
        week = (
            *(self.monday, self.tuesday, self.wednesday, self.thursday),
            *(self.friday, self.saturday, self.sunday),
        )
        for number in range(days):
            day = begin.date() + datetime.timedelta(days=number)
            if day in self.closed:
                continue
            midnight = datetime.datetime.combine(day, datetime.time())
            for opens, closes in map(_minutes, week[day.weekday()]):
                start = max(midnight + datetime.timedelta(minutes=opens), begin)
                end = midnight + datetime.timedelta(minutes=closes)
                if start < end:
                    yield start, end


WEEKDAYS = WorkingHours(
    monday=("08:00-16:00",),
    tuesday=("08:00-16:00",),
    wednesday=("08:00-16:00",),
    thursday=("08:00-16:00",),
    friday=("08:00-16:00",),
)
"""What is reckoned with where nobody has said anything."""
