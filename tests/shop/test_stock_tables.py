"""Stock as a table for spreadsheets: out and in again, and what is wrong with a table is told."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.errors import KerfwrightError
from kerfwright.shop.database import Database
from kerfwright.shop.stock_csv import COLUMNS, csv_of, lots_of_csv
from kerfwright.shop.stock_lots import StockedLot
from kerfwright.shop.stock_records import Stock
from kerfwright.shop.stock_words import amount_of, outline_in_words, outline_of, size_of
from stocked_sheets import CUT_OFF, DAY, HOLE, KEEPER, a_sheet, an_offcut


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Stock]:
    database = Database(str(tmp_path / "stock.sqlite"))
    yield Stock(database)
    database.close()


def test_a_table_read_into_an_empty_stock_is_the_stock_that_was_written(
    empty: Stock, database_url: str
) -> None:
    database = Database(database_url)
    stock = Stock(database)
    stock.receive(
        [
            (a_sheet(cost=Decimal("4.80"), note='said "keep dry",\nthen left'), 5, None),
            (an_offcut(location="Regal; oben"), 1, None),
            (an_offcut(width_mm=0.1 + 120.2), 1, "odd.1"),
        ],
        KEEPER,
    )
    stock.scrap("S-001", 2, KEEPER)
    written = csv_of(stock.lots())
    empty.receive(lots_of_csv(written, "stock.csv", today=DAY), KEEPER)
    assert empty.lots() == stock.lots()
    database.close()


@given(
    words=st.text(
        st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\u2028\u2029\x85")
    )
)
def test_any_words_go_through_a_table(words: str) -> None:
    lot = a_sheet(note=words.strip(), location=words.strip())
    ((read, count, label),) = lots_of_csv(csv_of([StockedLot("S-1", lot, 2)]), "", today=DAY)
    assert (read, count, label) == (lot, 2, "S-1")


def test_the_table_is_one_that_the_standard_reader_reads() -> None:
    """Python's csv module follows RFC 4180."""
    (row,) = csv.DictReader(io.StringIO(csv_of([StockedLot("E-1", an_offcut(), 1)])))
    assert tuple(row) == COLUMNS
    assert (row["width_mm"], row["kind"], row["cost"]) == ("120", "offcut", "")


def test_semicolons_decimal_commas_and_few_columns_are_read() -> None:
    text = "\ufeffMaterial;width_mm;height_mm;price_per_m2\r\nboard;600,5;400;19,90\r\n;;;\r\n"
    ((lot, count, label),) = lots_of_csv(text, "stock.csv", today=DAY)
    assert (lot.material, lot.width_mm, lot.price_per_m2) == ("board", 600.5, Decimal("19.90"))
    assert (lot.received_on, lot.kind, count, label) == (DAY, "sheet", 1, None)


@pytest.mark.parametrize(
    ("table", "named"),
    [
        ("", '"material" is missing'),
        ("material,width_mm\n", '"height_mm" is missing'),
        ("material,width_mm,height_mm,locaton\n", 'Did you mean "location"'),
        ("material,width_mm,height_mm,width_mm\n", "twice"),
        ("material,width_mm,height_mm\nboard,600\n", "line 2: it has more or fewer"),
        ("material,width_mm,height_mm\nboard,600,400,9\n", "line 2: it has more or fewer"),
        ("material,width_mm,height_mm\nboard,600,wide\n", 'line 2: "wide" is no length'),
        ("material,width_mm,height_mm,count\nboard,600,400,2.5\n", '"2.5" is no whole number'),
        ("material,width_mm,height_mm,kind\nboard,600,400,rest\n", "neither sheet nor offcut"),
        ("material,width_mm,height_mm,received_on\nboard,6,4,today\n", '"today" is no day'),
        ("material,width_mm,height_mm,cost\nboard,600,400,-1\n", '"-1" is no amount'),
        ('material,width_mm,height_mm\n"board,600,400\n', "this is no CSV"),
    ],
)
def test_what_is_wrong_with_a_table_is_told_with_its_line(table: str, named: str) -> None:
    with pytest.raises(KerfwrightError, match=r"stock\.csv") as told:
        lots_of_csv(table, "stock.csv", today=DAY)
    assert named in str(told.value)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"width_mm": 0.0}, "wrong-size"),
        ({"height_mm": float("inf")}, "wrong-size"),
        ({"height_mm": 1e300}, "wrong-size"),
        ({"material": " "}, "wrong-material"),
        ({"rings": (CUT_OFF[:2],)}, "wrong-outline"),
        ({"rings": (((0, 0), (100, 100), (100, 0), (0, 100)),)}, "wrong-outline"),
        ({"rings": (CUT_OFF, ((0, 0), (200, 0), (0, 50)))}, "wrong-outline"),
        ({"height_mm": 90.0}, "wrong-outline"),
    ],
)
def test_what_cannot_be_a_sheet_is_refused(
    empty: Stock, changes: dict[str, object], code: str
) -> None:
    with pytest.raises(KerfwrightError) as told:
        empty.receive([(a_sheet(), 1, None), (an_offcut(**changes), 1, None)], KEEPER)
    assert told.value.code == f"stock/{code}"
    assert empty.lots() == []


@pytest.mark.parametrize("text", ["600x400", "600 × 400 mm", "600,0*400.00", "600X400"])
def test_sizes_as_people_write_them(text: str) -> None:
    assert size_of(text, "--fits") == (600.0, 400.0)


@pytest.mark.parametrize("text", ["", "600", "0x400", "-1x2", "axb", "600x400x3"])
def test_what_is_no_size_is_told(text: str) -> None:
    with pytest.raises(KerfwrightError, match="--fits"):
        size_of(text, "--fits")


@pytest.mark.parametrize(
    "text", ["abc", "NaN", "Infinity", "-0.01", "1e99", "1,2,3", "1.00001", "100000000"]
)
def test_what_is_no_amount_is_told(text: str) -> None:
    with pytest.raises(KerfwrightError) as told:
        amount_of(text, "--cost")
    assert told.value.code == "stock/wrong-amount"


@pytest.mark.parametrize("text", ["1 2 3", "1,2,3", "a,b", "nan,1", "1e9,0"])
def test_what_is_no_outline_is_told(text: str) -> None:
    with pytest.raises(KerfwrightError) as told:
        outline_of(text, "--outline")
    assert told.value.code == "stock/wrong-outline"


def test_an_outline_is_written_as_it_is_read() -> None:
    assert outline_of(outline_in_words((CUT_OFF, HOLE)), "") == (CUT_OFF, HOLE)
