"""The table of a batch: one row for each copy (RFC 4180, headings in the first row)."""

from __future__ import annotations

import csv
import io
import string
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.shop.faults import listed, nearest

NUMBER = "n"
"""The field that counts the copies; no heading may have this name."""

MOST_ROWS = 10_000
MOST_BYTES = 20_000_000
NAMED = 6
"""Rows that a message names at most."""


@dataclass(frozen=True, slots=True)
class BatchRow:
    """One row; ``number`` is as a spreadsheet counts, the headings being row 1.

    ``serial`` is what {n} stands for.
    """

    number: int
    serial: int
    cells: Mapping[str, str]

    def word(self, field: str, form: str = "") -> str:
        """What stands under a heading; {n} is written as ``form`` says, such as ``04d``."""
        return format(self.serial, form or "d") if field == NUMBER else self.cells[field]


@dataclass(frozen=True, slots=True)
class Field:
    """A gap in a drawing's text, such as ``{name}`` or ``{n:04d}``."""

    name: str
    form: str = ""

    @property
    def is_number(self) -> bool:
        """Whether it counts the copies."""
        return self.name == NUMBER


def fields_in(text: str) -> Iterator[tuple[str, Field | None]]:
    """Divide a text into plain pieces and the field behind each; ``{{`` is a plain brace.

    Raises:
        ValueError: a brace has no partner, or a field says how it is written in a way not known.
    """
    for plain, raw_name, raw_form, conversion in string.Formatter().parse(text):
        if raw_name is None:
            yield plain, None
            continue
        name, form = raw_name.strip(), (raw_form or "").strip()
        digits = form.removesuffix("d")
        if conversion or not name or (form and (name != NUMBER or not _is_width(digits, form))):
            raise ValueError(f"{{{name}{':' + form if form else ''}}}")
        yield plain, Field(name, form)


def _is_width(digits: str, form: str) -> bool:
    return form.endswith("d") and (not digits or (digits.isdecimal() and len(digits) <= 2))


def filled_in(text: str, row: BatchRow) -> str:
    """Return a text with a row's words in its fields; the fields are known to be there."""
    return "".join(
        plain + ("" if field is None else row.word(field.name, field.form))
        for plain, field in fields_in(text)
    )


def rows_of(path: Path, *, first_number: int = 1) -> tuple[BatchRow, ...]:
    """Read a table; empty rows are passed over, and cells lose the spaces round them.

    Commas, semicolons and tabs between columns are all read, in UTF-8 with or without its mark,
    or UTF-16 with one, as spreadsheets write them.

    Raises:
        KerfwrightError: ``batch/wrong-table``, naming the row; ``batch/no-rows``.
    """
    text = _text_of(path)
    separator = _separator(text)
    try:
        records = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error as error:
        raise _wrong(path, f"it is no table with columns ({error}).") from None
    if not records:
        raise _none(path)
    headings = _headings(records[0], path)
    rows: list[BatchRow] = []
    for number, record in enumerate(records[1:], 2):
        cells = [cell.strip() for cell in record]
        if any(character < " " and character not in "\t\n\r" for character in "".join(cells)):
            raise _wrong(path, f"row {number} holds a character that cannot be written.")
        if not any(cells):
            continue
        if any(cells[len(headings) :]):
            raise _wrong(path, f"row {number} has more cells than there are headings.")
        cells += [""] * (len(headings) - len(cells))
        row = dict(zip(headings, cells, strict=False))
        rows.append(BatchRow(number, first_number + len(rows), row))
    if not rows:
        raise _none(path)
    if len(rows) > MOST_ROWS:
        raise _wrong(path, f"it has {len(rows)} rows, and {MOST_ROWS} is the most.")
    return tuple(rows)


def require_columns(rows: Sequence[BatchRow], fields: Sequence[Field], path: Path) -> None:
    """Refuse fields that no heading of the table answers.

    Raises:
        KerfwrightError: ``batch/column-missing``.
    """
    headings = list(rows[0].cells)
    for field in fields:
        if field.is_number or field.name in rows[0].cells:
            continue
        like = nearest(field.name, headings)
        raise KerfwrightError(
            "batch/column-missing",
            file=str(path),
            thing=f'the drawing asks for "{field.name}", and the table has no such heading.',
            remedy=f'Did you mean "{like}"?'
            if like
            else f"Its headings are {listed(headings)}; {{n}} counts the copies.",
        )


def doubtful_rows(
    rows: Sequence[BatchRow], fields: Sequence[Field]
) -> tuple[dict[str, list[int]], list[list[int]]]:
    """Rows whose cell is empty, by heading, and groups of rows that say the same.

    Only headings that the drawing uses count; rows that are numbered are never the same.
    """
    names = list(dict.fromkeys(field.name for field in fields if not field.is_number))
    empty = {
        name: numbers
        for name in names
        if (numbers := [row.number for row in rows if not row.cells[name]])
    }
    if not names or any(field.is_number for field in fields):
        return empty, []
    said: dict[tuple[str, ...], list[int]] = {}
    for row in rows:
        said.setdefault(tuple(row.cells[name] for name in names), []).append(row.number)
    return empty, [numbers for numbers in said.values() if len(numbers) > 1]


def rows_in_words(numbers: Sequence[int]) -> str:
    """Rows as a phrase: ``row 3``, ``rows 3, 7 and 2 more``."""
    if len(numbers) == 1:
        return f"row {numbers[0]}"
    shown = ", ".join(map(str, numbers[:NAMED]))
    more = f" and {len(numbers) - NAMED} more" if len(numbers) > NAMED else ""
    return f"rows {shown}{more}"


def _text_of(path: Path) -> str:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise _wrong(path, f"it cannot be opened ({error.strerror}).") from None
    if len(data) > MOST_BYTES:
        raise _wrong(path, f"it is larger than {MOST_BYTES // 1_000_000} MB.")
    try:
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            return data.decode("utf-16")
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = error.object[: error.start].count(b"\n") + 1
        raise KerfwrightError(
            "batch/wrong-table",
            file=str(path),
            thing=f"row {row} holds a letter that is not UTF-8 text.",
            remedy="In the spreadsheet choose CSV UTF-8 when you save.",
        ) from None


def _separator(text: str) -> str:
    """What stands between the headings, outside of quotes."""
    head, quoted = [], False
    for character in text:
        if character == '"':
            quoted = not quoted
        elif character == "\n" and not quoted:
            break
        elif not quoted:
            head.append(character)
    return max(",;\t", key=head.count)


def _headings(record: Sequence[str], path: Path) -> list[str]:
    headings = [heading.strip() for heading in record]
    while headings and not headings[-1]:
        headings.pop()
    if not headings or not all(headings):
        raise _wrong(path, "its first row must hold a heading for every column.")
    twice = [heading for heading, count in Counter(headings).items() if count > 1]
    if twice:
        raise _wrong(path, f'the heading "{twice[0]}" stands there twice.')
    if NUMBER in headings:
        raise _wrong(path, f'"{NUMBER}" is no heading: {{{NUMBER}}} counts the copies.')
    return headings


def _wrong(path: Path, thing: str) -> KerfwrightError:
    return KerfwrightError(
        "batch/wrong-table",
        file=str(path),
        thing=thing,
        remedy="Save the table as CSV from a spreadsheet: headings in the first row, then one row "
        "for each copy.",
    )


def _none(path: Path) -> KerfwrightError:
    return KerfwrightError(
        "batch/no-rows",
        file=str(path),
        thing="the table has no row below its headings.",
        remedy="Write one row for each copy.",
    )
