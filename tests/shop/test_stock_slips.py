"""Slips of the pen in stock and orders on record, each refused or told."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console
from typer.testing import CliRunner

from kerfwright.cli import app
from kerfwright.errors import KerfwrightError
from kerfwright.output.order_list import print_work
from kerfwright.output.order_report import print_report
from kerfwright.output.stock_list import print_stock
from kerfwright.shop.backup import write_backup
from kerfwright.shop.database import Database
from kerfwright.shop.orders import Orders, PlannedOrder, SheetOfPlan
from kerfwright.shop.records import RunRecords
from kerfwright.shop.stock_csv import lots_of_csv
from kerfwright.shop.stock_ledger import MOST_SHEETS, Cause
from kerfwright.shop.stock_lots import StockedLot, require_possible
from kerfwright.shop.stock_records import Stock
from recorded_runs import a_run
from stocked_sheets import DAY, a_sheet, an_offcut

TERMINAL = 80
"""Signs on a line of a common terminal (common practice, no source)."""

SHEET = SheetOfPlan(1, "board", "S-001", "01" * 32, 2500.0, 240e3, 120e3, 7)

PLAN = PlannedOrder("Lanterns for the long pier", "trial machine", "/out", "ab" * 32, (SHEET,))


def ran(place: Path, *words: str) -> str:
    """What a command says on both streams."""
    outcome = CliRunner().invoke(app, [*words, "--records", str(place)])
    assert outcome.exception is None or isinstance(outcome.exception, SystemExit)
    return f"{outcome.stdout}{outcome.stderr}"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    file = tmp_path / "shop.sqlite"
    ran(file, "stock", "receive", "board", "600x400", "--count", "3")
    return file


@pytest.mark.parametrize("left", ["700x290", "601x100", "100x601", "590x401"])
def test_no_piece_is_left_that_is_longer_than_its_sheet(place: Path, left: str) -> None:
    assert "stock/unclear" in ran(place, "stock", "use", "S-001", "--left", left)
    assert "3 on hand" in ran(place, "stock", "show", "S-001")


@pytest.mark.parametrize("left", ["600x100", "100x600", "400x300"])
def test_a_piece_is_left_either_way_round(place: Path, left: str) -> None:
    assert "cut from S-001" in ran(place, "stock", "use", "S-001", "--left", left)


@pytest.mark.parametrize(
    "more", [("--cost", "4"), ("--location", "loft"), ("--offcut",), ("--label", "S-9")]
)
def test_what_more_of_a_lot_cannot_change_is_not_passed_over(
    place: Path, more: tuple[str, ...]
) -> None:
    assert "stock/unclear" in ran(place, "stock", "receive", "--more", "S-001", *more)
    assert "3 on hand" in ran(place, "stock", "show", "S-001")


@pytest.mark.parametrize("count", [0, MOST_SHEETS + 1, 10**30])
def test_numbers_of_sheets_beyond_reason_are_refused(tmp_path: Path, count: int) -> None:
    stock = Stock(Database(f"{tmp_path / 'shop.sqlite'}"))
    with pytest.raises(KerfwrightError) as told:
        stock.receive([(a_sheet(), count, None)], Cause("keeper"))
    assert told.value.code == "stock/wrong-count"


@pytest.mark.parametrize(
    "corners",
    [
        ((50.0, 0.0), (600.0, 0.0), (600.0, 400.0), (50.0, 400.0)),
        ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0)),
    ],
)
def test_an_outline_reaches_the_sides_of_its_piece(corners: tuple[tuple[float, float]]) -> None:
    with pytest.raises(KerfwrightError) as told:
        require_possible(a_sheet(rings=(corners,)), "here")
    assert told.value.code == "stock/wrong-outline"


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("board,300,200,offcut,3,", "wrong-table"),
        ("board,300,200,sheet,1,2099-01-01", "wrong-table"),
        ("board,nan,200,sheet,1,", "wrong-size"),
    ],
)
def test_what_cannot_be_in_a_table_is_told_with_its_line(row: str, code: str) -> None:
    table = f"material,width_mm,height_mm,kind,count,received_on\nboard,9,9,sheet,1,\n{row}\n"
    with pytest.raises(KerfwrightError) as told:
        lots_of_csv(table, "stock.csv", today=DAY)
    assert told.value.code == f"stock/{code}"
    assert "line 3" in told.value.file


@pytest.mark.parametrize("title", ["", "  "])
def test_an_order_without_a_title_is_refused(place: Path, title: str) -> None:
    assert "orders/no-title" in ran(place, "orders", "add", title)


def test_the_day_an_order_is_due_can_be_put_right(place: Path) -> None:
    ran(place, "orders", "add", "Regatta", "--customer", "harbour office", "--due", "2026-05-04")
    assert "due 2026-05-11" in ran(place, "orders", "change", "Regatta", "--due", "2026-05-11")
    assert "harbour office" in ran(place, "orders", "list")
    assert "orders/nothing-to-change" in ran(place, "orders", "change", "1")
    assert "orders/no-such-order" in ran(place, "orders", "change", "2", "--due", "2026-05-11")


def test_the_report_of_orders_is_whole_on_a_common_terminal(tmp_path: Path) -> None:
    records = RunRecords(f"{tmp_path / 'shop.sqlite'}")
    orders = Orders(records.database)
    orders.plan(PLAN, by="keeper")
    records.record([a_run(order=PLAN.title, program_sha256="01" * 32, actual_s=2600.0)])
    text = io.StringIO()
    print_report(orders.all(), console=Console(file=text, width=TERMINAL))
    records.close()
    for words in (PLAN.title, "41 min 40 s", "43 min 20 s", "1.04", "an hour"):
        assert words in text.getvalue()
    assert "…" not in text.getvalue()


def test_a_machine_of_another_name_is_told_of_those_that_have_work(tmp_path: Path) -> None:
    records = RunRecords(f"{tmp_path / 'shop.sqlite'}")
    orders = Orders(records.database)
    orders.plan(PLAN, by="keeper")
    text = io.StringIO()
    print_work(orders.all(), "trail machine", DAY, console=Console(file=text, width=200))
    records.close()
    assert "Sheets wait for trial machine." in text.getvalue()


def test_the_stock_keeps_sizes_and_areas_on_one_line() -> None:
    lots = [StockedLot("E-001", an_offcut(width_mm=144.5), 1), StockedLot("S-001", a_sheet(), 2)]
    text = io.StringIO()
    print_stock(lots, "here", 0.5, console=Console(file=text, width=TERMINAL))
    assert "144.5 × 100 mm" in text.getvalue()
    assert "cm²" in text.getvalue()
    assert "reserved for" not in text.getvalue()


def test_a_backup_into_a_folder_is_refused(tmp_path: Path) -> None:
    for folder in (tmp_path, Path()):
        with pytest.raises(KerfwrightError) as told:
            write_backup(folder, "{}")
        assert told.value.code == "records/backup-not-written"
