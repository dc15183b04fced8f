"""A backup holds everything, and is read back into a database of any kind."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from shapely import box

from kerfwright.errors import KerfwrightError
from kerfwright.shop.backup import backup_text, read_backup, restore, write_backup
from kerfwright.shop.database import Database
from kerfwright.shop.orders import Orders, PlannedOrder, SheetOfPlan
from kerfwright.shop.recipe_history import Described, RecipeHistory
from kerfwright.shop.record_tables import SCHEMA_VERSION
from kerfwright.shop.records import RunRecords
from kerfwright.shop.run_stock import SheetUse, record_with_stock
from kerfwright.shop.stock_records import Stock
from recorded_runs import a_run
from shop_forms import FORM_1, FORM_2, lay_down
from stocked_sheets import DAY, KEEPER, a_sheet, an_offcut
from tested_recipes import FROM_FILE, a_board, a_cut, a_machine, a_score


def fill(records: RunRecords) -> None:
    """Something in every table."""
    stock = Stock(records.database)
    stock.receive([(a_sheet(), 3, None), (an_offcut(note="🛶"), 1, None)], KEEPER)
    use = SheetUse("S-001", box(200, 0, 600, 400), (600.0, 400.0), "ab" * 32)
    record_with_stock(records, [a_run()], [use], by="keeper")
    orders = Orders(records.database)
    orders.add("Regatta", by="keeper", customer="harbour office", due=DAY)
    sheet = SheetOfPlan(1, "board", "S-001", "ab" * 32, 100.0, 240_000.0, 90_000.0, 7)
    orders.plan(PlannedOrder("Regatta", "trial machine", "/out", "cd" * 32, (sheet,)), by="keeper")
    things = (a_machine(), a_board(a_cut(), a_score()))
    RecipeHistory(records.database).note([Described(thing, FROM_FILE) for thing in things])


@pytest.fixture
def source(tmp_path: Path) -> Iterator[RunRecords]:
    records = RunRecords(str(tmp_path / "source.sqlite"))
    fill(records)
    yield records
    records.close()


def test_what_was_backed_up_is_what_is_read_back(source: RunRecords, database_url: str) -> None:
    written = backup_text(source.database)
    copy = RunRecords(database_url)
    counts = restore(copy.database, written, "backup.json")
    assert min(counts.values()) > 0
    assert backup_text(copy.database) == written
    assert copy.runs() == source.runs()
    assert Stock(copy.database).lots(gone=True) == Stock(source.database).lots(gone=True)
    assert Stock(copy.database).movements() == Stock(source.database).movements()
    assert Orders(copy.database).all() == Orders(source.database).all()
    history = RecipeHistory(source.database)
    assert RecipeHistory(copy.database).recipes() == history.recipes()
    assert RecipeHistory(copy.database).machines() == history.machines()
    # and work goes on in it: numbers are counted on
    copy.record([a_run()], again=True)
    (added,) = Stock(copy.database).receive([(a_sheet(), 1, None)], KEEPER)
    assert (copy.runs()[-1].number, added.label) == (2, "S-002")
    copy.close()


def test_a_backup_comes_from_any_kind_of_database(database_url: str, tmp_path: Path) -> None:
    records = RunRecords(database_url)
    fill(records)
    copy = Database(str(tmp_path / "copy.sqlite"))
    restore(copy, backup_text(records.database), "backup.json")
    assert Stock(copy).movements() == Stock(records.database).movements()
    copy.close()
    records.close()


def test_a_backup_of_form_1_is_read_and_brought_up_to_date(
    tmp_path: Path, database_url: str
) -> None:
    lay_down(f"sqlite:///{tmp_path / 'old.sqlite'}", FORM_1)
    old = RunRecords(str(tmp_path / "old.sqlite"))
    written = backup_text(old.database)
    assert json.loads(written)["form"] == 1
    new = RunRecords(database_url)
    restore(new.database, written, "backup.json")
    assert new.runs(forgotten=True) == old.runs(forgotten=True)
    assert json.loads(backup_text(new.database))["form"] == SCHEMA_VERSION
    Stock(new.database).receive([(a_sheet(), 1, None)], KEEPER)
    new.close()
    old.close()


def test_a_backup_of_form_2_keeps_its_orders_apart_by_their_titles(
    tmp_path: Path, database_url: str
) -> None:
    lay_down(f"sqlite:///{tmp_path / 'old.sqlite'}", FORM_2)
    old = RunRecords(str(tmp_path / "old.sqlite"))
    written = backup_text(old.database)
    assert json.loads(written)["form"] == 2
    new = RunRecords(database_url)
    restore(new.database, written, "backup.json")
    assert Stock(new.database).lots(gone=True) == Stock(old.database).lots(gone=True)
    assert Orders(new.database).all() == Orders(old.database).all()
    new.close()
    old.close()


def test_nothing_on_record_is_a_backup_too(tmp_path: Path, database_url: str) -> None:
    nothing = Database(str(tmp_path / "nothing.sqlite"))
    written = backup_text(nothing)
    assert not (tmp_path / "nothing.sqlite").exists()
    database = Database(database_url)
    assert sum(restore(database, written, "backup.json").values()) == 0
    database.close()


def test_records_are_never_mixed(source: RunRecords, database_url: str) -> None:
    written = backup_text(source.database)
    database = Database(database_url)
    Stock(database).receive([(a_sheet(), 1, None)], KEEPER)
    with pytest.raises(KerfwrightError) as told:
        restore(database, written, "backup.json")
    assert told.value.code == "records/not-empty"
    assert len(Stock(database).lots()) == 1
    database.close()


def damaged(written: str) -> Iterator[str]:
    yield ""
    yield "[]"
    yield "[" * 100_000
    yield written.replace("kerfwright records", "other")
    yield written.replace(f'"form": {SCHEMA_VERSION}', '"form": 99')
    document = json.loads(written)
    yield json.dumps(document | {"tables": {"run": []}})
    yield json.dumps(document | {"tables": document["tables"] | {"run": "none"}})
    yield written.replace('"actual_s"', '"no_such_column"')
    yield written.replace(f'"{DAY}"', '"someday"')


def test_what_is_no_backup_is_told_and_changes_nothing(source: RunRecords, tmp_path: Path) -> None:
    for number, content in enumerate(damaged(backup_text(source.database))):
        database = Database(str(tmp_path / f"{number}.sqlite"))
        with pytest.raises(KerfwrightError) as told:
            restore(database, content, "backup.json")
        assert told.value.code == "records/no-backup"
        assert Stock(database).lots() == []
        database.close()


def test_a_row_that_points_nowhere_is_refused(source: RunRecords, database_url: str) -> None:
    document = json.loads(backup_text(source.database))
    document["tables"]["stock_movement"][0]["lot_id"] = 77
    database = Database(database_url)
    with pytest.raises(KerfwrightError):
        restore(database, json.dumps(document), "backup.json")
    assert Stock(database).movements() == []
    database.close()


def test_a_backup_is_written_whole_and_read_as_it_was(tmp_path: Path) -> None:
    file = tmp_path / "backup.json"
    write_backup(file, "first\n")
    write_backup(file, "second 🛶\n")
    assert read_backup(file) == "second 🛶\n"
    assert list(tmp_path.iterdir()) == [file]
    for place, code in ((tmp_path / "no" / "x", "backup-not-written"), (tmp_path, "no-backup")):
        with pytest.raises(KerfwrightError) as told:
            (read_backup(place) if code == "no-backup" else write_backup(place, ""))
        assert told.value.code == f"records/{code}"
