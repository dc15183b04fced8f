"""Recipes as a table for spreadsheets: out and in again, and every wrong row is told."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.errors import KerfwrightError
from kerfwright.recipe_book import recipes_csv, take_in_csv
from kerfwright.shop.database import Database
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.recipe_csv import COLUMNS, csv_of, recipes_of_csv
from kerfwright.shop.recipe_history import Described, RecipeHistory
from kerfwright.shop.recipe_versions import Noted, RecipeVersion, key_of, settings_of
from tested_recipes import DAY, FROM_FILE, WORDS, a_board, a_cut, a_score, any_recipe

HEAD = "machine,material,thickness_mm,process,speed_mm_s,power,kerf_mm"


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Database]:
    database = Database(str(tmp_path / "empty.sqlite"))
    yield database
    database.close()


def a_version(material: Material, recipe: Recipe) -> RecipeVersion:
    moment = datetime.datetime(2026, 5, 4, tzinfo=datetime.UTC)
    return RecipeVersion(
        1,
        key_of(material, recipe),
        settings_of(recipe),
        recipe.status.value,
        recipe.tested_on,
        recipe.tested_by,
        Noted(moment, "keeper", "file", ""),
    )


@given(recipe=any_recipe(), name=WORDS, thickness_mm=st.floats(0.1, 100.0))
def test_any_recipe_goes_through_a_table(recipe: Recipe, name: str, thickness_mm: float) -> None:
    material = Material(name=name, thickness_mm=thickness_mm, recipes=(recipe,))
    (row,) = recipes_of_csv(csv_of([a_version(material, recipe)]), "recipes.csv")
    assert row.material == material
    assert row.recipe == recipe


def test_a_table_read_into_empty_records_holds_the_same_recipes(
    database_url: str, empty: Database
) -> None:
    database = Database(database_url)
    boards = [a_board(a_cut(), a_score()), a_board(a_cut(speed_mm_s=12.0), thickness_mm=4.0)]
    RecipeHistory(database).note([Described(board, FROM_FILE) for board in boards])
    written = recipes_csv(database)
    new = take_in_csv(empty, written, "recipes.csv", by="keeper")
    assert {one.noted.source for one in new.recipes} == {"import"}
    assert recipes_csv(empty) == written
    assert not take_in_csv(empty, written, "recipes.csv", by="keeper")
    database.close()


def test_the_table_is_one_that_the_standard_reader_reads() -> None:
    """Python's csv module follows RFC 4180."""
    (row,) = csv.DictReader(io.StringIO(csv_of([a_version(a_board(a_cut()), a_cut())])))
    assert tuple(row) == COLUMNS
    assert (row["speed_mm_s"], row["air"], row["gamma"]) == ("16.0", "false", "")
    assert (row["status"], row["tested_on"]) == ("tested", DAY.isoformat())


def test_every_key_of_a_recipe_has_its_column() -> None:
    assert set(COLUMNS) == {*Recipe.model_fields, "material", "thickness_mm"}


def test_semicolons_decimal_commas_and_few_columns_are_read() -> None:
    text = (
        "\ufeffMachine;material;thickness_mm;process;speed_mm_s;power;kerf_mm\r\n"
        "m;b;3,2;cut;16,5;0,7;0,2\r\n;;;;;;\r\n"
    )
    (row,) = recipes_of_csv(text, "recipes.csv")
    assert (row.material.thickness_mm, row.recipe.speed_mm_s, row.recipe.power) == (3.2, 16.5, 0.7)
    assert (row.recipe.status, row.recipe.passes, row.line) == ("untested", 1, 2)


@pytest.mark.parametrize(
    ("table", "named"),
    [
        ("", '"machine" is missing'),
        (f"{HEAD},smoke\n", '"smoke" is not known'),
        (f"{HEAD},speed\n", 'Did you mean "speed_mm_s"'),
        (f"{HEAD},power\n", "there twice"),
        (f"{HEAD}\nm,b,3,cut,16,0.7\n", "more or fewer cells"),
        (f"{HEAD}\nm,b,3,cut,fast,0.7,0.2\n", 'Line 2: speed_mm_s is "fast"'),
        (f"{HEAD}\nm,b,3,cut,16,70,0.2\n", "Line 2: power (cut) is 70."),
        (f"{HEAD}\nm,b,3,cut,16,0.7,\n", "without the kerf no part comes out on size"),
        (f"{HEAD}\nm,b,3,weld,16,0.7,0.2\n", "weld"),
        (f"{HEAD}\nm,b,,cut,16,0.7,0.2\n", "thickness_mm is missing"),
        (f"{HEAD}\nm,,3,cut,16,0.7,0.2\n", "the material has no name"),
        (f"{HEAD}\n,b,3,cut,16,0.7,0.2\n", "machine (cut) is missing. Fill in the cell."),
        (f"{HEAD}\nm,b,3,cut,nan,0.7,0.2\n", "speed_mm_s"),
        (f"{HEAD},tested_on\nm,b,3,cut,16,0.7,0.2,May\n", "no day such as"),
        (f"{HEAD},passes\nm,b,3,cut,16,0.7,0.2,1.5\n", "no whole number"),
        (f"{HEAD},air\nm,b,3,cut,16,0.7,0.2,perhaps\n", "air"),
        (f"{HEAD},grey_curve\nm,b,3,cut,16,0.7,0.2,steep\n", "not pairs such as"),
        (f"{HEAD},gamma\nm,b,3,cut,16,0.7,0.2,1.2\n", "means nothing in a recipe for cut"),
        (f'{HEAD}\nm,b,3,cut,16,0.7,"0.2\n', "no CSV"),
        (f"{HEAD}\nm,b,3,cut,16,0.7,0.2\nm,b,3.0,cut,9,0.7,0.2\n", "after line 2"),
    ],
)
def test_what_is_wrong_with_a_table_is_told(table: str, named: str) -> None:
    with pytest.raises(KerfwrightError) as told:
        recipes_of_csv(table, "recipes.csv")
    assert told.value.code == "recipes/wrong-table"
    assert named in str(told.value)
    assert "recipes.csv" in told.value.file


def test_every_wrong_row_is_told_and_none_is_taken_in(empty: Database) -> None:
    rows = "".join(f"m,b,{n},cut,16,{'7' if n % 2 else '0.7'},0.2\n" for n in range(1, 41))
    with pytest.raises(KerfwrightError) as told:
        take_in_csv(empty, f"{HEAD}\n{rows}", "recipes.csv", by="keeper")
    assert "20 rows are wrong" in told.value.thing
    assert "Line 2:" in told.value.thing
    assert "Line 4:" in told.value.thing
    assert "and 8 more" in told.value.thing
    assert RecipeHistory(empty).recipes() == []
