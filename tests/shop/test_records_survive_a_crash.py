"""A program that is killed while it writes loses nothing that it had recorded, and does no half."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import recorded_runs
from kerfwright.shop.database import Database
from kerfwright.shop.recipe_history import RecipeHistory
from kerfwright.shop.records import RunRecords
from kerfwright.shop.stock_records import Stock

STOCK_WRITER = """\
import sys
from itertools import count
from shapely import box
from kerfwright.shop.records import RunRecords
from kerfwright.shop.run_stock import SheetUse, record_with_stock
from kerfwright.shop.stock_records import Stock
from recorded_runs import a_run
from stocked_sheets import KEEPER, a_sheet

records = RunRecords(sys.argv[1])
stock = Stock(records.database)
for number in count():
    note = f"{sys.argv[2]}/{number}"
    (lot,) = stock.receive([(a_sheet(note=note), 1, None)], KEEPER)
    use = SheetUse(lot.label, box(200, 0, 600, 400), (600.0, 400.0), "ab" * 32)
    record_with_stock(records, [a_run(note=note)], [use], by="keeper", again=True)
    print(note, flush=True)
"""
"""Receives a sheet, then runs it: the run, its sheet and its offcut are one change."""

WRITER = """\
import sys
from itertools import count
from kerfwright.shop.records import RunRecords
from recorded_runs import a_run

records = RunRecords(sys.argv[1])
for number in count():
    one, = records.record([a_run(note=f"{sys.argv[2]}/{number}")], again=True)
    print(one.run.note, flush=True)
"""
"""Tells of a run only once it is on record."""

RECIPE_WRITER = """\
import sys
from itertools import count
from kerfwright.shop.database import Database
from kerfwright.shop.recipe_history import Described, RecipeHistory
from kerfwright.shop.recipe_versions import Noting
from tested_recipes import a_board, a_cut, a_machine, a_score

database = Database(sys.argv[1])
for number in count():
    note = f"{sys.argv[2]}/{number}"
    # every version differs from the one before
    word = (int(sys.argv[2]) + 1) * 1000.0 + number
    recipes = a_cut(speed_mm_s=word), a_score(speed_mm_s=word)
    machine, board = a_machine(power_w=word), a_board(*recipes, cautions=[note])
    noting = Noting("keeper", "file", note)
    RecipeHistory(database).note([Described(machine, noting), Described(board, noting)])
    print(note, flush=True)
"""
"""Changes a machine, a material and two recipes: one change to the records."""

TESTS = Path(recorded_runs.__file__).parent
PATHS = [str(TESTS), *filter(None, sys.path)]


def killed_writer(
    place: Path, name: str, after: int, wait_s: float, program: str = WRITER
) -> list[str]:
    """Let a writer record ``after`` runs, kill it a moment later; return what it told."""
    with subprocess.Popen(
        [sys.executable, "-c", f"import sys; sys.path[:0] = {PATHS!r}\n{program}", place, name],
        stdout=subprocess.PIPE,
        encoding="utf-8",
    ) as writer:
        assert writer.stdout is not None
        told = [writer.stdout.readline().rstrip("\n") for _ in range(after)]
        time.sleep(wait_s)  # anywhere within a transaction
        writer.kill()
        rest = writer.stdout.read()
    # a last line may have been cut short, but what it tells was on record before
    return [*told, *[line for line in rest.split("\n")[:-1] if line]]


def test_nothing_recorded_is_lost_and_nothing_half_recorded_stays(tmp_path: Path) -> None:
    place = tmp_path / "runs.sqlite"
    told: list[str] = []
    for turn in range(6):
        told += killed_writer(place, str(turn), after=1 + turn, wait_s=0.0007 * turn)
    records = RunRecords(str(place))
    runs = records.runs()
    notes = [one.run.note for one in runs]
    records.close()
    assert len(told) >= 21
    assert set(told) <= set(notes)
    assert len(notes) - len(told) <= 6, "at most one untold run for each kill"
    assert all(one.run.by_process_s == {"cut": 60.0, "engrave": 30.0} for one in runs)
    with sqlite3.connect(place) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []


def test_a_run_and_its_sheet_and_its_offcut_are_there_together_or_not_at_all(
    tmp_path: Path,
) -> None:
    place = tmp_path / "records.sqlite"
    told: list[str] = []
    for turn in range(5):
        told += killed_writer(
            place, str(turn), after=1 + turn, wait_s=0.0023 * turn, program=STOCK_WRITER
        )
    records = RunRecords(str(place))
    runs = {one.number: one.run for one in records.runs()}
    stock = Stock(records.database)
    lots, lines = {one.label: one for one in stock.lots(gone=True)}, stock.movements()
    records.close()
    assert len(told) >= 15
    assert set(told) <= {run.note for run in runs.values()}
    used = {line.run: line.label for line in lines if line.what == "used"}
    back = {line.run: line.label for line in lines if line.what == "returned"}
    assert set(used) == set(back) == set(runs)
    for number, run in runs.items():
        assert lots[used[number]].lot.note == run.note
        assert lots[used[number]].on_hand == 0
        assert lots[back[number]].cut_from == used[number]
        assert lots[back[number]].on_hand == 1
    with sqlite3.connect(place) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []


def test_a_recipe_and_its_material_and_machine_are_noted_together_or_not_at_all(
    tmp_path: Path,
) -> None:
    place = tmp_path / "records.sqlite"
    told: list[str] = []
    for turn in range(5):
        told += killed_writer(
            place, str(turn), after=1 + turn, wait_s=0.009 * turn, program=RECIPE_WRITER
        )
    database = Database(str(place))
    history = RecipeHistory(database)
    recipes, materials, machines = history.recipes(), history.materials(), history.machines()
    database.close()
    noted = [one.noted.origin for one in machines]
    assert len(told) >= 15
    assert set(told) <= set(noted)
    assert len(noted) - len(told) <= 5, "at most one untold change for each kill"
    assert [one.noted.origin for one in materials] == noted
    assert [one.noted.origin for one in recipes] == [one for one in noted for _ in range(2)]
    with sqlite3.connect(place) as opened:
        assert opened.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
