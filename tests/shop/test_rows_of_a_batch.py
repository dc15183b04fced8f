"""The table of a batch as spreadsheets write it: separators, encodings, and what is doubtful."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.errors import KerfwrightError
from kerfwright.shop.batch_rows import (
    BatchRow,
    Field,
    doubtful_rows,
    fields_in,
    filled_in,
    require_columns,
    rows_of,
)


def table(folder: Path, text: str | bytes) -> Path:
    path = folder / "names.csv"
    path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    return path


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_every_way_of_a_spreadsheet_is_read(
    tmp_path: Path, separator: str, encoding: str, end: str
) -> None:
    lines = [("name", "berth"), ("Möwe", "A 1"), ("", ""), ("Tide Runner", "B 2")]
    text = end.join(separator.join(line) for line in lines)
    rows = rows_of(table(tmp_path, text.encode(encoding)), first_number=7)
    assert [(row.number, row.serial, dict(row.cells)) for row in rows] == [
        (2, 7, {"name": "Möwe", "berth": "A 1"}),
        (4, 8, {"name": "Tide Runner", "berth": "B 2"}),
    ]


CELLS = st.text(
    st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp", "Zs")), min_size=1, max_size=12
)


@given(cells=st.lists(st.tuples(CELLS, CELLS), min_size=1, max_size=6))
def test_what_the_standard_library_writes_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, cells: list[tuple[str, str]]
) -> None:
    """RFC 4180 by Python's csv module: quotes, separators and quotes within quotes."""
    text = io.StringIO()
    csv.writer(text).writerows([("first", "second"), *cells])
    rows = rows_of(table(tmp_path_factory.mktemp("t"), text.getvalue()))
    assert [(row.cells["first"], row.cells["second"]) for row in rows] == [
        (a.strip(), b.strip()) for a, b in cells
    ]


@pytest.mark.parametrize(
    ("text", "code", "named"),
    [
        ("", "no-rows", "no row"),
        ("name\n\n", "no-rows", "no row"),
        ("name,name\na,b\n", "wrong-table", '"name" stands there twice'),
        ("name,\na,b\n", "wrong-table", "row 2 has more cells"),
        ("name,,berth\na,b,c\n", "wrong-table", "heading for every column"),
        ("n\n3\n", "wrong-table", '"n" is no heading'),
        ('name\n"a\n', "wrong-table", "no table"),
        ("name\na\x07\n", "wrong-table", "row 2 holds a character"),
        ("name\nok\nM\xf6we\n".encode("latin-1"), "wrong-table", "row 3 holds a letter"),
    ],
)
def test_a_table_that_cannot_be_meant_is_refused(
    tmp_path: Path, text: str | bytes, code: str, named: str
) -> None:
    with pytest.raises(KerfwrightError) as refused:
        rows_of(table(tmp_path, text))
    assert refused.value.code == f"batch/{code}"
    assert named in refused.value.thing


def test_fields_are_filled_and_plain_braces_stay() -> None:
    row = BatchRow(2, 41, {"name": "Möwe"})
    assert filled_in("{name}, No. {n:04d} of {{50}} ({n})", row) == "Möwe, No. 0041 of {50} (41)"


@pytest.mark.parametrize("text", ["{name", "name}", "{}", "{name:04d}", "{n:x}", "{n!r}"])
def test_fields_that_mean_nothing_are_refused(text: str) -> None:
    with pytest.raises(ValueError):
        list(fields_in(text))


def test_a_heading_that_is_missing_is_told_with_the_nearest() -> None:
    rows = [BatchRow(2, 1, {"name": "a", "berth": "b"})]
    require_columns(rows, [Field("n", "04d"), Field("berth")], Path("names.csv"))
    with pytest.raises(KerfwrightError, match='Did you mean "berth"'):
        require_columns(rows, [Field("birth")], Path("names.csv"))


def test_empty_cells_and_equal_rows_are_named_by_their_rows() -> None:
    said = [("a", "1"), ("b", ""), ("a", "1"), ("c", "")]
    rows = [BatchRow(n + 2, n, {"name": x, "berth": y}) for n, (x, y) in enumerate(said)]
    used = [Field("name"), Field("berth")]
    assert doubtful_rows(rows, used) == ({"berth": [3, 5]}, [[2, 4]])
    # what is numbered differs, and what the drawing does not show does not count
    assert doubtful_rows(rows, [Field("name"), Field("n")]) == ({}, [])
