"""Times and days as people write them."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.errors import KerfwrightError
from kerfwright.shop.stopwatch import day_of, seconds_of, seconds_of_minutes


@pytest.mark.parametrize(
    ("written", "seconds"),
    [
        ("31:40", 1900.0),
        ("0:07", 7.0),
        ("1:02:30", 3750.0),
        ("90:00", 5400.0),
        ("31.5", 1890.0),
        ("31,5", 1890.0),
        (" 12 ", 720.0),
        ("3:05.5", 185.5),
    ],
)
def test_minutes(written: str, seconds: float) -> None:
    assert seconds_of_minutes(written) == pytest.approx(seconds)


@given(st.integers(1, 9 * 3600))
def test_a_time_written_down_is_read_back(seconds: int) -> None:
    minutes = f"{seconds // 60}:{seconds % 60:02d}"
    hours = f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    assert seconds_of_minutes(minutes) == seconds_of_minutes(hours) == seconds
    assert seconds_of(str(seconds)) == seconds


@pytest.mark.parametrize(
    "written",
    ["", "3x", "31:60", "1:60:00", "0", "0:00", "-3", "nan", "inf", "1e3", "1:2:3:4", "99999:00"],
)
def test_what_is_no_time_is_refused(written: str) -> None:
    with pytest.raises(KerfwrightError, match="no time") as told:
        seconds_of_minutes(written)
    assert told.value.code == "records/wrong-time"


@pytest.mark.parametrize("written", ["", "0", "1:30", "soon", "9999999"])
def test_what_is_no_number_of_seconds_is_refused(written: str) -> None:
    with pytest.raises(KerfwrightError, match="no time"):
        seconds_of(written)


def test_day() -> None:
    assert day_of("2026-05-04") == datetime.date(2026, 5, 4)
    assert day_of(None) == datetime.date.today()


@pytest.mark.parametrize("written", ["4.5.2026", "2026-02-30", "yesterday", "9999-01-01"])
def test_what_is_no_day_or_yet_to_come_is_refused(written: str) -> None:
    with pytest.raises(KerfwrightError) as told:
        day_of(written)
    assert told.value.code == "records/wrong-day"
