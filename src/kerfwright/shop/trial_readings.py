"""Reads what was measured on a trial piece, a TOML sheet of its own for each kind."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, TypeVar

from pydantic import Field

from kerfwright.errors import KerfwrightError
from kerfwright.shop.machine import Finite, Positive, StrictModel, Text
from kerfwright.shop.material import Fraction
from kerfwright.shop.toml_files import read_table, validated
from kerfwright.shop.trial_pieces import PAGE, FocusPiece, GreyPiece, KerfPiece, PowerPiece

Number = Annotated[int, Field(ge=0, strict=True)]


class _Sheet(StrictModel):
    tested_on: datetime.date | None = None
    """Day on which the piece was burned and read, such as 2031-05-17, without quotes."""
    tested_by: Text | None = None
    """Who read it."""


class _KerfRow(StrictModel):
    row: Text
    """Letter on the pieces."""
    total_mm: tuple[Positive, ...]
    """Lengths of the whole row pushed together, as a list; empty until it is measured."""


class _KerfSheet(_Sheet):
    rows: Annotated[tuple[_KerfRow, ...], Field(min_length=1)]
    """One block for each row."""


class IntervalSheet(_Sheet):
    """What was seen on an interval piece."""

    coarsest_even: tuple[Number, ...] = ()
    """Number of the coarsest square that is evenly covered, once for each look or piece."""
    line_width_mm: tuple[Positive, ...] = ()
    """Widths of the single lines, where they can be measured."""


class _Look(StrictModel):
    through: tuple[Number, ...] = ()
    """Numbers of the cells that fell through."""
    held: tuple[Number, ...] = ()
    """Numbers of the cells that still hang on the sheet."""
    best: tuple[Number, ...] = ()
    """Numbers of the cells that look right."""


class _PowerSheet(_Sheet):
    pieces: Annotated[tuple[_Look, ...], Field(min_length=1)]
    """One block for each piece that was burned."""


class _FocusLine(StrictModel):
    number: Number
    """Number of the line."""
    width_mm: tuple[Positive, ...]
    """Widths of the line, as a list; empty until it is measured."""


class _FocusSheet(_Sheet):
    height_first_mm: Finite
    """Height of the board's top at the first line."""
    height_last_mm: Finite
    """Height of the board's top at the last line, above the same place."""
    lines: Annotated[tuple[_FocusLine, ...], Field(min_length=1)]
    """One block for each line."""


class _GreyField(StrictModel):
    number: Number
    """Number of the field."""
    darkness: tuple[Fraction, ...]
    """Darkness on a grey card, 0 white to 1 black, as a list; empty until it is read."""


class _GreySheet(_Sheet):
    fields: Annotated[tuple[_GreyField, ...], Field(min_length=1)]
    """One block for each field."""


@dataclass(frozen=True, slots=True)
class ReadBy:
    """When a piece was read and by whom, as far as its sheet says so."""

    on: datetime.date | None = None
    by: str | None = None


@dataclass(frozen=True, slots=True)
class Lengths:
    """Measured values by the name or number of what was measured."""

    values: Mapping[str, tuple[float, ...]]
    tested: ReadBy = ReadBy()


@dataclass(frozen=True, slots=True)
class Seen:
    """How often each cell fell through and how often it held, or was found right."""

    through: Mapping[int, int] = field(default_factory=dict)
    held: Mapping[int, int] = field(default_factory=dict)
    best: Mapping[int, int] = field(default_factory=dict)
    tested: ReadBy = ReadBy()


@dataclass(frozen=True, slots=True)
class Slope:
    """Heights of the first and the last line, and measured widths by line."""

    height_first_mm: float
    height_last_mm: float
    widths_mm: Mapping[int, tuple[float, ...]]
    tested: ReadBy = ReadBy()


SheetT = TypeVar("SheetT", bound=_Sheet)


def load_kerf_readings(path: Path, piece: KerfPiece) -> Lengths:
    """Read the lengths of a kerf piece's rows.

    Raises:
        KerfwrightError: the file cannot be read, a row is unknown, or a length cannot be.
    """
    sheet = _sheet(path, _KerfSheet)
    known = [row.row for row in piece.rows]
    for row in sheet.rows:
        _require_known(path, "row", row.row, known)
        for total in row.total_mm:
            if not 0.8 * piece.length_mm < total < 1.05 * piece.length_mm:
                raise _bad(
                    path,
                    f"row {row.row} reads {total:g} mm, but was {piece.length_mm:g} mm long "
                    "before it was cut.",
                    "Measure the whole row pushed together, in mm.",
                )
    _require_once(path, "row", [row.row for row in sheet.rows])
    return Lengths({row.row: row.total_mm for row in sheet.rows}, _tested(sheet))


def load_interval_readings(path: Path, squares: int) -> tuple[IntervalSheet, ReadBy]:
    """Read which square was the coarsest that is evenly covered.

    Raises:
        KerfwrightError: the file cannot be read, or there is no square of that number.
    """
    sheet = _sheet(path, IntervalSheet)
    for number in sheet.coarsest_even:
        if number != 0:
            _require_known(path, "square", number, range(1, squares + 1))
    return sheet, _tested(sheet)


def load_power_readings(path: Path, piece: PowerPiece) -> Seen:
    """Read which cells fell through, held or look right.

    Raises:
        KerfwrightError: the file cannot be read, a cell is unknown or said to be both.
    """
    sheet = _sheet(path, _PowerSheet)
    known = [cell.number for cell in piece.cells]
    through, held, best = (dict[int, int]() for _ in range(3))
    for number, look in enumerate(sheet.pieces, 1):
        for cells, counts in ((look.through, through), (look.held, held), (look.best, best)):
            for cell in dict.fromkeys(cells):
                _require_known(path, "cell", cell, known)
                counts[cell] = counts.get(cell, 0) + 1
        both = sorted(set(look.through) & set(look.held))
        if both:
            raise _bad(
                path,
                f"piece {number} has cell {both[0]} both in through and in held.",
                "A cell that fell or can be pushed out by hand is through; any other held.",
            )
    return Seen(through, held, best, _tested(sheet))


def load_focus_readings(path: Path, piece: FocusPiece) -> Slope:
    """Read the widths of a focus piece's lines and how the board lay.

    Raises:
        KerfwrightError: the file cannot be read, or a line is unknown.
    """
    sheet = _sheet(path, _FocusSheet)
    known = [line.number for line in piece.lines]
    for line in sheet.lines:
        _require_known(path, "line", line.number, known)
    _require_once(path, "line", [line.number for line in sheet.lines])
    if sheet.height_first_mm == sheet.height_last_mm:
        raise _bad(
            path,
            "height_first_mm and height_last_mm are the same, so that no line lies higher than "
            "another.",
            "Measure how high the board's top lies at the first and at the last line.",
        )
    widths = {line.number: line.width_mm for line in sheet.lines}
    return Slope(sheet.height_first_mm, sheet.height_last_mm, widths, _tested(sheet))


def load_grey_readings(path: Path, piece: GreyPiece) -> Lengths:
    """Read the darkness of a grey ramp's fields.

    Raises:
        KerfwrightError: the file cannot be read, or a field is unknown.
    """
    sheet = _sheet(path, _GreySheet)
    known = [one.number for one in piece.fields]
    for one in sheet.fields:
        _require_known(path, "field", one.number, known)
    _require_once(path, "field", [one.number for one in sheet.fields])
    return Lengths({str(one.number): one.darkness for one in sheet.fields}, _tested(sheet))


def _sheet(path: Path, model: type[SheetT]) -> SheetT:
    return validated(PAGE, path, model, read_table(PAGE, path))


def _tested(sheet: _Sheet) -> ReadBy:
    return ReadBy(sheet.tested_on, sheet.tested_by)


def _require_known(path: Path, what: str, name: object, known: Collection[object]) -> None:
    if name in known:
        return
    names = [str(one) for one in known]
    raise KerfwrightError(
        "calibration/unknown-field",
        file=str(path),
        thing=f"there is no {what} {name} on this piece.",
        remedy=f"Its {what}s are {names[0]} to {names[-1]}.",
    )


def _require_once(path: Path, what: str, names: Collection[object]) -> None:
    seen: set[object] = set()
    for name in names:
        if name in seen:
            raise _bad(
                path,
                f"{what} {name} has two blocks.",
                "Write all readings of it into one list.",
            )
        seen.add(name)


def _bad(path: Path, thing: str, remedy: str) -> KerfwrightError:
    return KerfwrightError("calibration/odd-reading", file=str(path), thing=thing, remedy=remedy)
