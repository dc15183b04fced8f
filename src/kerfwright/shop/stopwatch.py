"""Times and days as people write them down after a run."""

from __future__ import annotations

import datetime
import re

from kerfwright.errors import KerfwrightError

LONGEST_S = 7 * 24 * 3600.0
"""Longer than a week is a slip of the pen."""

_MINUTES = re.compile(r"(?:(?P<h>\d{1,4}):(?=\d{1,2}:))?(?P<m>\d{1,5}):(?P<s>[0-5]?\d(?:[.,]\d+)?)")
_NUMBER = re.compile(r"\d{1,9}(?:[.,]\d+)?")


def seconds_of_minutes(text: str) -> float:
    """Seconds of ``31:40`` (min:s), ``1:02:30`` (h:min:s) or ``31.5`` (minutes).

    Raises:
        KerfwrightError: ``records/wrong-time``.
    """
    words = text.strip()
    if match := _MINUTES.fullmatch(words):
        hours, minutes = int(match["h"] or 0), int(match["m"])
        if match["h"] is None or minutes < 60:
            return _plausible(
                "--minutes", text, hours * 3600.0 + minutes * 60.0 + _number(match["s"])
            )
    elif _NUMBER.fullmatch(words):
        return _plausible("--minutes", text, _number(words) * 60.0)
    raise _wrong_time("--minutes", text)


def seconds_of(text: str) -> float:
    """Seconds of ``1900`` or ``1900.5``.

    Raises:
        KerfwrightError: ``records/wrong-time``.
    """
    if not _NUMBER.fullmatch(text.strip()):
        raise _wrong_time("--seconds", text)
    return _plausible("--seconds", text, _number(text))


def day_of(text: str | None) -> datetime.date:
    """The day of ``2026-05-04``, today by default.

    Raises:
        KerfwrightError: ``records/wrong-day``: no day, or one that is yet to come.
    """
    today = datetime.date.today()
    if text is None:
        return today
    try:
        day = datetime.date.fromisoformat(text.strip())
    except ValueError:
        day = None
    if day is None or day > today:
        raise KerfwrightError(
            "records/wrong-day",
            file="--date",
            thing=f'"{text}" is {"no day" if day is None else "yet to come"}.',
            remedy="Write year, month and day, such as 2026-05-04; leave it out for today.",
        )
    return day


def _number(text: str) -> float:
    return float(text.strip().replace(",", "."))


def _plausible(option: str, text: str, seconds: float) -> float:
    if not 0.0 < seconds <= LONGEST_S:
        raise _wrong_time(option, text)
    return seconds


def _wrong_time(option: str, text: str) -> KerfwrightError:
    return KerfwrightError(
        "records/wrong-time",
        file=option,
        thing=f'"{text}" is no time that a program can take.',
        remedy="Write --minutes 31:40 (minutes and seconds), --minutes 1:02:30 (with hours), "
        "--minutes 31.5 or --seconds 1900.",
    )
