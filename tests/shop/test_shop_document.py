"""Everything known of machines, materials and recipes as one document: out, in, and checked."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.errors import KerfwrightError
from kerfwright.recipe_book import everything_json, take_in_json
from kerfwright.shop.database import Database
from kerfwright.shop.recipe_history import Described, RecipeHistory
from kerfwright.shop.recipe_versions import Noting
from kerfwright.shop.shop_document import (
    ShopDocument,
    VersionOfRecipe,
    document_of_json,
    shop_json,
)
from tested_recipes import FROM_FILE, WORDS, a_board, a_cut, a_machine, a_score, any_recipe


@pytest.fixture
def filled(tmp_path: Path) -> Iterator[Database]:
    database = Database(str(tmp_path / "filled.sqlite"))
    history = RecipeHistory(database)
    history.note([Described(a_machine(), FROM_FILE), Described(a_board(a_cut()), FROM_FILE)])
    trial = Noting("Ea", "trial", "new.toml")
    history.note([Described(a_board(a_cut(speed_mm_s=18.0), a_score()), trial)])
    yield database
    database.close()


def test_what_was_written_is_what_is_read(filled: Database, database_url: str) -> None:
    written = everything_json(filled)
    copy = Database(database_url)
    new = take_in_json(copy, written, "shop.json")
    assert (new.machines, new.materials, new.recipes) == (1, 1, 3)
    assert everything_json(copy) == written
    assert RecipeHistory(copy).recipes() == RecipeHistory(filled).recipes()
    copy.close()


def test_the_same_document_adds_nothing_the_second_time(filled: Database) -> None:
    new = take_in_json(filled, everything_json(filled), "shop.json")
    assert (new.machines, new.materials, new.recipes) == (0, 0, 0)


def test_what_was_noted_later_stays_the_latest(filled: Database, tmp_path: Path) -> None:
    """An older history that comes in afterwards has higher numbers and earlier moments."""
    other = Database(str(tmp_path / "other.sqlite"))
    history = RecipeHistory(other)
    history.note([Described(a_board(a_cut(speed_mm_s=9.0)), FROM_FILE)])
    take_in_json(other, everything_json(filled), "shop.json")
    (cut,) = (one for one in history.latest() if one.key.process == "cut")
    assert cut.settings["speed_mm_s"] == 9.0
    assert [one.settings["speed_mm_s"] for one in history.recipes()] == [16.0, 18.0, 120.0, 9.0]
    other.close()


@given(recipe=any_recipe(), name=WORDS, thickness_mm=st.floats(0.1, 100.0))
def test_any_recipe_goes_through_a_document(recipe: object, name: str, thickness_mm: float) -> None:
    version = VersionOfRecipe(
        noted_at="2026-05-04T12:00:00.000001Z",
        noted_by="keeper",
        source="file",
        origin="",
        material=name,
        thickness_mm=thickness_mm,
        recipe=recipe,
    )
    document = ShopDocument(recipes=(version,))
    assert document_of_json(shop_json(document), "shop.json") == document


def test_nothing_on_record_is_a_document_too(tmp_path: Path, database_url: str) -> None:
    nothing = Database(str(tmp_path / "nothing.sqlite"))
    written = everything_json(nothing)
    assert not (tmp_path / "nothing.sqlite").exists()
    assert take_in_json(Database(database_url), written, "shop.json").recipes == 0


def damaged(written: str) -> Iterator[tuple[str, str]]:
    def changed(**values: Any) -> str:
        document = json.loads(written)
        document["recipes"][1] |= values
        return json.dumps(document)

    recipe = json.loads(written)["recipes"][1]["recipe"]
    yield "", "no JSON"
    yield "[" * 100_000, "no JSON"
    yield "[]", "did not write it"
    yield written.replace("kerfwright shop", "other"), "did not write it"
    yield written.replace('"form": 1', '"form": 2'), "form"
    yield changed(thickness_mm=0.0), "recipes[2].thickness_mm"
    yield changed(noted_at="someday"), "recipes[2].noted_at"
    yield changed(noted_at="2999-01-01T00:00:00Z"), "yet to come"
    yield changed(source="hearsay"), "recipes[2].source"
    yield changed(smoke=1), "recipes[2].smoke"
    yield changed(recipe=recipe | {"power": 70}), "recipes[2].recipe.power"
    yield changed(recipe=recipe | {"kerf_mm": None}), "recipes[2]"
    yield changed(recipe=recipe | {"gamma": 2.0}), "means nothing in a recipe for cut"


def test_what_is_wrong_is_told_and_nothing_is_taken_in(filled: Database, tmp_path: Path) -> None:
    empty = Database(str(tmp_path / "empty.sqlite"))
    for content, named in damaged(everything_json(filled)):
        with pytest.raises(KerfwrightError) as told:
            take_in_json(empty, content, "shop.json")
        assert told.value.code == "recipes/wrong-document"
        assert named in told.value.thing
    assert RecipeHistory(empty).recipes() == []
    empty.close()
