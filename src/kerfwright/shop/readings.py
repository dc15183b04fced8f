"""Reads what was timed on a machine: a readings sheet in TOML, or a log of lines in CSV."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import Field

from kerfwright.errors import KerfwrightError
from kerfwright.shop.faults import nearest
from kerfwright.shop.machine import Machine, Positive, StrictModel, Text
from kerfwright.shop.timed_run import TimedRuns
from kerfwright.shop.toml_files import read_table, validated, where_else

PAGE = "calibration"
RUNS_FILE = "programs.toml"
READINGS_FILE = "readings.toml"
PROGRAM_ENDING = ".nc"
LONGEST_S = 36_000.0
"""No run takes ten hours; a reading above is a slip."""

_COLUMNS = ("program", "seconds")
_MINUTES = re.compile(r"(?:(\d+):)?(\d+):(\d+(?:\.\d*)?)")


@dataclass(frozen=True, slots=True)
class Reading:
    """One time of one run, and where it stands in its file."""

    run: int
    """Index into the runs."""
    seconds: float
    where: str


class _Row(StrictModel):
    program: Text
    """Name of a program, as its file is called."""
    seconds: tuple[Positive, ...]
    """All times of this program, as a list; leave it empty until it is timed."""


class _Sheet(StrictModel):
    readings: Annotated[tuple[_Row, ...], Field(min_length=1)]
    """One block for each program."""


def load_runs(readings_file: Path, machine: Machine, machine_file: Path) -> TimedRuns:
    """Read the runs that lie beside a readings file, and check that they are of this machine.

    Raises:
        KerfwrightError: they are not there, damaged, or were made for another machine.
    """
    path = readings_file.parent / RUNS_FILE
    if not path.is_file():
        raise KerfwrightError(
            "calibration/runs-missing",
            file=str(readings_file),
            thing=f'there is no "{RUNS_FILE}" beside it, which says what each program does.',
            remedy="Put the readings into the folder that the programs were written to.",
        )
    runs = validated(PAGE, path, TimedRuns, read_table(PAGE, path))
    if runs.machine != machine.name:
        raise KerfwrightError(
            "calibration/other-machine",
            file=str(path),
            thing=f'its programs were made for "{runs.machine}", but {machine_file} describes '
            f'"{machine.name}".',
            remedy="Give the file of the machine that was timed with --machine.",
        )
    return runs


def load_readings(path: Path, runs: TimedRuns) -> tuple[Reading, ...]:
    """Read all times in a file: CSV if its name ends so, else TOML.

    Raises:
        KerfwrightError: the file cannot be read, a program is unknown, or a time is none.
    """
    named = _csv_readings(path) if path.suffix.lower() == ".csv" else _toml_readings(path)
    by_name = {run.name: i for i, run in enumerate(runs.runs)}
    readings = tuple(
        Reading(_known(name, by_name, where, path), seconds, where)
        for name, seconds, where in named
    )
    for reading in readings:
        if reading.seconds > LONGEST_S:
            raise _bad(path, f"{reading.where}: {reading.seconds:g} s is more than ten hours.")
    if not readings:
        raise KerfwrightError(
            "calibration/too-few-readings",
            file=str(path),
            thing="no program has been timed yet.",
            remedy="Run each program, best three times, and write its seconds down.",
        )
    return readings


def _toml_readings(path: Path) -> list[tuple[str, float, str]]:
    sheet = validated(PAGE, path, _Sheet, read_table(PAGE, path))
    return [
        (row.program, seconds, f"readings[{number}]")
        for number, row in enumerate(sheet.readings, 1)
        for seconds in row.seconds
    ]


def _csv_readings(path: Path) -> list[tuple[str, float, str]]:
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise KerfwrightError(
            "calibration/file-missing",
            file=str(path),
            thing=f"the readings cannot be opened ({error.strerror}).",
            remedy=where_else(path) or "Check the path.",
        ) from None
    except UnicodeDecodeError:
        raise _bad(path, "this is no text in UTF-8.") from None
    lines = text.splitlines()
    head = next((line for line in lines if _says_something(line)), "")
    separator = next((sign for sign in ";\t" if sign in head), ",")
    rows = csv.reader(io.StringIO("\n".join(lines)), delimiter=separator)
    columns: list[int] | None = None
    found = []
    for number, row in enumerate(rows, 1):
        if not _says_something("".join(row)):
            continue
        cells = [cell.strip() for cell in row]
        if columns is None:
            columns = _columns(cells, path)
            continue
        where = f"line {number}"
        if len(cells) <= max(columns):
            raise _bad(path, f"{where} has {len(cells)} of the {max(columns) + 1} columns.")
        name, seconds = (cells[column] for column in columns)
        found.append((name, _seconds(seconds, separator, where, path), where))
    return found


def _says_something(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _columns(cells: Sequence[str], path: Path) -> list[int]:
    names = [cell.lower() for cell in cells]
    missing = [name for name in _COLUMNS if name not in names]
    if missing:
        raise _bad(path, f'its first line names no column "{missing[0]}".')
    return [names.index(name) for name in _COLUMNS]


def _seconds(text: str, separator: str, where: str, path: Path) -> float:
    """A time in seconds, or as minutes and seconds with a colon."""
    plain = text.replace(",", ".") if separator != "," else text
    minutes = _MINUTES.fullmatch(plain)
    try:
        if minutes:
            hours = int(minutes[1] or 0)
            seconds = hours * 3600.0 + int(minutes[2]) * 60.0 + float(minutes[3])
        else:
            seconds = float(plain)
    except ValueError:
        raise _bad(path, f'{where}: "{text}" is no time.') from None
    if not 0.0 < seconds < float("inf"):
        raise _bad(path, f'{where}: "{text}" is no time above 0.')
    return seconds


def _known(name: str, by_name: dict[str, int], where: str, path: Path) -> int:
    bare = name.strip().lower().removesuffix(PROGRAM_ENDING)
    if bare in by_name:
        return by_name[bare]
    like = nearest(bare, by_name)
    hint = f'Did you mean "{like}"? ' if like else ""
    raise KerfwrightError(
        "calibration/unknown-program",
        file=str(path),
        thing=f'{where}: "{name}" is none of the programs that were written.',
        remedy=f"{hint}Use the names of the program files in that folder.",
    )


def _bad(path: Path, thing: str) -> KerfwrightError:
    return KerfwrightError(
        "calibration/bad-reading",
        file=str(path),
        thing=thing,
        remedy="Write a first line program,seconds and then one time a line, such as "
        "travel-x-800mm,29.7.",
    )
