"""When which sheet is run.

Earliest due date first makes the largest lateness on one machine least: Jackson 1955, *Scheduling a
production line to minimize maximum tardiness*, from memory. Here it is held against trying every
order of a few jobs. All data invented.
"""

from __future__ import annotations

import datetime
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.shop.hours import WEEKDAYS, WorkingHours
from kerfwright.shop.schedule import Job, Slot, schedule

MONDAY = datetime.datetime(2026, 5, 4, 8, 0)
DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
ALWAYS = WorkingHours.model_validate(dict.fromkeys(DAYS, ("00:00-24:00",)))
HALVES = WorkingHours(monday=("08:00-12:00", "13:00-17:00"), tuesday=("08:00-12:00",))

HOUR = 3600.0


def job(name: str, hours: float, due: int | None = None) -> Job:
    """A job due so many days after Monday."""
    day = None if due is None else (MONDAY + datetime.timedelta(days=due)).date()
    return Job(name, 1, hours * HOUR, day)


def at(slot: Slot) -> str:
    assert slot.begin is not None
    assert slot.end is not None
    return f"{slot.job.order} {slot.begin:%a %H:%M}-{slot.end:%H:%M}"


jobs_of_a_day = st.lists(
    st.tuples(st.integers(1, 8), st.integers(0, 4)).map(lambda one: job("job", *one)),
    min_size=1,
    max_size=6,
)


def lateness(slots: tuple[Slot, ...]) -> datetime.timedelta:
    """The largest difference between the end and the end of the day due."""
    ends = []
    for slot in slots:
        assert slot.end is not None
        assert slot.job.due is not None
        due = datetime.datetime.combine(slot.job.due, datetime.time())
        ends.append(slot.end - due - datetime.timedelta(days=1))
    return max(ends)


@given(
    jobs=st.lists(
        st.tuples(st.integers(1, 40), st.integers(0, 5)).map(lambda one: job("job", *one)),
        min_size=1,
        max_size=6,
    )
)
def test_no_other_order_makes_the_largest_lateness_smaller(jobs: list[Job]) -> None:
    least = min(max(_lateness_in(order)) for order in itertools.permutations(jobs))
    assert lateness(schedule(jobs, ALWAYS, MONDAY)) == least


def _lateness_in(order: tuple[Job, ...]) -> list[datetime.timedelta]:
    """Of each job, run one after the other round the clock."""
    now, late = MONDAY, []
    for one in order:
        assert one.due is not None
        now += datetime.timedelta(seconds=one.seconds)
        due = datetime.datetime.combine(one.due, datetime.time())
        late.append(now - due - datetime.timedelta(days=1))
    return late


@given(jobs=jobs_of_a_day, between=st.floats(0.0, HOUR))
def test_work_fits_in_the_hours_and_never_overlaps(jobs: list[Job], between: float) -> None:
    slots = schedule(jobs, WEEKDAYS, MONDAY, between_s=between)
    assert sorted(id(slot.job) for slot in slots) == sorted(id(one) for one in jobs)
    open_hours = list(WEEKDAYS.stretches(MONDAY, 100))
    done = [slot for slot in slots if slot.begin is not None]
    for slot in done:
        assert slot.begin is not None
        assert slot.end is not None
        took = (slot.end - slot.begin).total_seconds()
        assert took == pytest.approx(slot.job.seconds + between, abs=1e-3)
        assert any(b <= slot.begin and slot.end <= e for b, e in open_hours)
    for first, second in itertools.pairwise(done):
        assert first.end is not None
        assert second.begin is not None
        assert first.end <= second.begin
    assert all(slot.job.seconds + between > 8 * HOUR - 1 for slot in slots if slot.begin is None)


@given(jobs=jobs_of_a_day, more=st.integers(1, 8))
def test_what_is_due_later_delays_nothing(jobs: list[Job], more: int) -> None:
    later = job("later", more, 9)
    before = schedule(jobs, HALVES, MONDAY)
    after = [slot for slot in schedule([later, *jobs], HALVES, MONDAY) if slot.job is not later]
    assert tuple(after) == before


def test_what_is_due_first_goes_first_and_what_is_due_on_no_day_last() -> None:
    jobs = [job("whenever", 1), job("late", 2, 3), job("soon", 1, 0)]
    found = schedule(jobs, WEEKDAYS, MONDAY)
    assert [at(slot) for slot in found] == [
        "soon Mon 08:00-09:00",
        "late Mon 09:00-11:00",
        "whenever Mon 11:00-12:00",
    ]


def test_no_sheet_burns_through_a_break_and_a_short_one_fills_the_rest() -> None:
    jobs = [job("first", 3, 0), job("long", 3, 1), job("short", 1, 2)]
    assert [at(slot) for slot in schedule(jobs, HALVES, MONDAY)] == [
        "first Mon 08:00-11:00",
        "short Mon 11:00-12:00",
        "long Mon 13:00-16:00",
    ]


def test_what_ends_after_its_day_is_late_by_days() -> None:
    jobs = [job("a", 8, 0), job("b", 8, 0), job("c", 1, 4)]
    slots = schedule(jobs, WEEKDAYS, MONDAY)
    assert [(slot.job.order, slot.late_days) for slot in slots] == [("a", 0), ("b", 1), ("c", 0)]


def test_a_sheet_longer_than_any_day_is_told_and_not_hidden() -> None:
    slots = schedule([job("huge", 9, 0), job("small", 1, 1)], WEEKDAYS, MONDAY)
    assert [slot.begin is None for slot in slots] == [False, True]
    assert slots[1].job.order == "huge"


def test_today_begins_now_and_days_off_are_free() -> None:
    hours = WEEKDAYS.model_copy(update={"closed": (datetime.date(2026, 5, 5),)})
    afternoon = MONDAY.replace(hour=15)
    found = schedule([job("a", 1), job("b", 2)], hours, afternoon)
    assert [at(slot) for slot in found] == ["a Mon 15:00-16:00", "b Wed 08:00-10:00"]


@pytest.mark.parametrize(
    "spans",
    [
        ("8-12",),
        ("12:00-08:00",),
        ("08:00-12:00", "11:00-13:00"),
        ("08:00-24:30",),
        ("08:00-08:00",),
    ],
)
def test_hours_that_cannot_be_are_refused(spans: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="no working hours"):
        WorkingHours(monday=spans)
