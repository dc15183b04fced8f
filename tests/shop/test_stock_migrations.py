"""Records of every earlier form are brought up to date in place, and lose nothing by it."""

from __future__ import annotations

import datetime

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import create_engine, inspect, text

from kerfwright.errors import KerfwrightError
from kerfwright.shop import order_tables, recipe_tables, stock_tables
from kerfwright.shop.database import Database
from kerfwright.shop.migrations import VERSION_TABLE
from kerfwright.shop.orders import Orders
from kerfwright.shop.record_tables import SCHEMA_VERSION, RecordTable
from kerfwright.shop.records import RunRecords
from kerfwright.shop.stock_ledger import Cause
from kerfwright.shop.stock_records import Stock
from recorded_runs import a_run
from shop_forms import FORM_1, FORM_2, lay_down
from stocked_sheets import KEEPER, a_sheet


def test_runs_of_form_1_are_all_there_after_the_first_change(database_url: str) -> None:
    lay_down(database_url, FORM_1)
    records = RunRecords(database_url)
    before = records.runs(forgotten=True)
    assert [one.number for one in before] == [1, 2, 3]
    assert before[1].run.note == "lid left open 🛶"
    assert before[1].run.actual_s == 512.25
    assert before[0].run.by_process_s == {"cut": 60.0, "engrave": 30.0}
    assert before[0].recorded_at == datetime.datetime(
        2026, 5, 4, 12, 0, 0, 500_000, tzinfo=datetime.UTC
    )
    (added,) = records.record([a_run()], again=True)
    assert (added.number, added.repeat) == (4, 3)
    assert records.runs(forgotten=True) == [*before, added]
    records.close()


def test_reading_leaves_an_earlier_form_as_it_is(database_url: str) -> None:
    lay_down(database_url, FORM_1)
    database = Database(database_url)
    assert Stock(database).lots(gone=True) == []
    assert Stock(database).movements() == []
    assert len(RunRecords(database_url).runs()) == 2
    with database.reading(as_it_is=True) as session:
        assert session is not None
        tables = set(inspect(session.connection()).get_table_names())
    database.close()
    assert tables == {"record_schema", "run", "run_process"}


def test_stock_can_be_kept_in_a_database_that_only_had_runs(database_url: str) -> None:
    lay_down(database_url, FORM_1)
    database = Database(database_url)
    stock = Stock(database)
    stock.receive([(a_sheet(), 5, None)], KEEPER)
    assert [one.on_hand for one in stock.lots()] == [5]
    with database.reading() as session:
        assert session is not None
        assert session.scalar(text("SELECT version FROM record_schema")) == SCHEMA_VERSION
    database.close()


def test_a_change_that_fails_takes_the_new_form_back_with_it(database_url: str) -> None:
    lay_down(database_url, FORM_1)
    records = RunRecords(database_url)
    with pytest.raises(KerfwrightError, match="--again"):
        records.record([a_run()])
    with records.database.reading(since=2) as session:
        assert session is None
    assert len(records.runs()) == 2
    records.close()


@pytest.mark.parametrize(
    "sql", ["", FORM_1, FORM_2], ids=["from nothing", "from form 1", "from form 2"]
)
def test_migrated_tables_are_those_of_the_models(database_url: str, sql: str) -> None:
    """Compared by Alembic, which looks at the database and at the models."""
    if sql:
        lay_down(database_url, sql)
    database = Database(database_url)
    with database.writing():
        pass
    database.close()
    tables = (order_tables.OrderRow, stock_tables.LotRow, recipe_tables.RecipeVersionRow)
    assert {table.metadata for table in tables} == {RecordTable.metadata}
    engine = create_engine(database_url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
        differences = compare_metadata(context, RecordTable.metadata)
    engine.dispose()
    assert differences == []


@pytest.mark.parametrize("table", ["stock_movement", "shop_order_step"])
@pytest.mark.parametrize("change", ["UPDATE {} SET note = 'never'", "DELETE FROM {}"])
def test_the_database_itself_refuses_to_change_a_ledger(
    database_url: str, table: str, change: str
) -> None:
    database = Database(database_url)
    Stock(database).receive([(a_sheet(), 1, None)], KEEPER)
    Orders(database).add("Regatta", by="keeper")
    with pytest.raises(KerfwrightError, match="never changed"), database.writing() as session:
        session.execute(text(change.format(table)))
    assert len(Stock(database).movements()) == 1
    database.close()


def test_reservations_of_form_2_are_still_their_orders(database_url: str) -> None:
    """They were made under the title; the ledger's lines stay as they were written."""
    lay_down(database_url, FORM_2)
    database = Database(database_url)
    stock, orders = Stock(database), Orders(database)
    with database.writing():
        pass
    (lot,) = (one for one in stock.lots() if one.label == "S-001")
    assert (lot.on_hand, lot.held) == (4, {"Regatta": 1, "Lantern": 1})
    assert [line.reference for line in stock.movements()] == [""] * 6
    regatta = orders.order("Regatta")
    assert (regatta.number, regatta.customer, regatta.reference) == (1, "harbour office", "")
    assert [len(work.runs) for work in regatta.work] == [1, 0]
    used = stock.use("S-001", 1, Cause("keeper", "Regatta"))[0]
    assert (used.on_hand, used.held) == (3, {"Lantern": 1})
    database.close()


def test_lines_of_form_2_are_still_never_changed(database_url: str) -> None:
    lay_down(database_url, FORM_2)
    database = Database(database_url)
    with database.writing():
        pass
    with pytest.raises(KerfwrightError, match="never changed"), database.writing() as session:
        session.execute(text("UPDATE stock_movement SET order_reference = 'R-1'"))
    database.close()
