"""What recipes have been stays on record: every setting, once each time that it came to hold."""

from __future__ import annotations

import datetime
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from kerfwright.errors import KerfwrightError
from kerfwright.recipe_book import recipes_on_record
from kerfwright.shop.database import Database
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.shop.recipe_history import Chosen, Described, RecipeHistory
from kerfwright.shop.recipe_tables import RecipeVersionRow
from kerfwright.shop.recipe_versions import Noting, changes
from shop_forms import FORM_2, lay_down
from tested_recipes import DAY, FROM_FILE, a_board, a_cut, a_machine, a_score


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    opened = Database(database_url)
    yield opened
    opened.close()


@pytest.fixture
def history(database: Database) -> RecipeHistory:
    return RecipeHistory(database)


def described(*things: Machine | Material, noting: Noting = FROM_FILE) -> list[Described]:
    return [Described(thing, noting) for thing in things]


def test_what_was_noted_is_found_as_it_was(history: RecipeHistory) -> None:
    new = history.note(described(a_machine(), a_board(a_cut(), a_score())))
    assert (len(new.machines), len(new.materials), len(new.recipes)) == (1, 1, 2)
    cut, score = history.recipes()
    assert [cut, score] == list(new.recipes)
    assert (cut.recipe, score.recipe) == (a_cut(), a_score())
    assert (cut.status, cut.tested_on, cut.tested_by) == ("tested", DAY, "Ea")
    assert (cut.noted.by, cut.noted.source, cut.noted.origin) == ("keeper", "file", "board.toml")
    assert history.machines()[0].same_as(a_machine())
    assert history.materials()[0].kind == "board"


def test_what_is_known_already_is_not_noted_again(history: RecipeHistory) -> None:
    history.note(described(a_machine(), a_board(a_cut())))
    assert not history.note(described(a_machine(), a_board(a_cut()))).recipes
    assert len(history.recipes()) == 1


def test_every_change_is_a_version_and_so_is_going_back(history: RecipeHistory) -> None:
    for recipe in (a_cut(), a_cut(speed_mm_s=18.0, status="untested"), a_cut()):
        history.note(described(a_board(recipe)))
    first, second, third = history.recipes()
    assert changes(first, second) == {
        "speed_mm_s": (16.0, 18.0),
        "status": ("tested", "untested"),
    }
    assert third.recipe == first.recipe
    assert history.latest() == [third]
    (one,) = recipes_on_record(history._database)
    assert [change.version for change in one.history] == [first, second, third]
    assert one.latest == third


def test_trust_alone_makes_a_version_too(history: RecipeHistory) -> None:
    history.note(described(a_board(a_cut())))
    (version,) = history.note(described(a_board(a_cut(status="trusted")))).recipes
    assert version.status == "trusted"


@pytest.mark.parametrize(
    ("change", "count"),
    [
        ({"thickness_mm": 4.0, "name": "board 3 mm"}, 1),
        ({"name": "other"}, 1),
        ({"cautions": ["Stay with it."]}, 0),
    ],
)
def test_a_recipe_is_that_of_one_material_and_thickness(
    history: RecipeHistory, change: dict[str, object], count: int
) -> None:
    history.note(described(a_board(a_cut())))
    new = history.note(described(a_board(a_cut(), **change)))  # type: ignore[arg-type]
    assert (len(new.recipes), len(new.materials)) == (count, 1)


def test_a_run_notes_only_what_was_never_on_record(history: RecipeHistory) -> None:
    history.note(described(a_board(a_cut())))
    history.note(described(a_board(a_cut(speed_mm_s=18.0))))
    ran = Noting("keeper", "run", "Regatta, sheet 1")
    earlier, unknown = a_board(a_cut()), a_board(a_cut(speed_mm_s=9.0))
    assert not history.note([Described(earlier, ran, whole=False)])
    new = history.note([Described(unknown, ran, whole=False)])
    assert [one.noted.source for one in new.recipes] == ["run"]
    assert not new.materials


def test_the_chosen_ones_are_told_by_words(history: RecipeHistory) -> None:
    history.note(described(a_board(a_cut(), a_score()), a_board(a_cut(), thickness_mm=4.0)))
    assert len(history.latest()) == 3
    assert len(history.latest(Chosen(material="4 BOARD"))) == 1
    assert len(history.latest(Chosen(process="cut"))) == 2
    assert history.latest(Chosen(machine="other")) == []


def test_a_version_of_no_such_number_is_told(history: RecipeHistory) -> None:
    with pytest.raises(KerfwrightError) as told:
        history.recipe(7)
    assert told.value.code == "recipes/no-such-version"


@pytest.mark.parametrize("table", ["machine_version", "material_version", "recipe_version"])
@pytest.mark.parametrize("change", ["UPDATE {} SET noted_by = 'nobody'", "DELETE FROM {}"])
def test_the_database_itself_refuses_to_change_a_version(
    database: Database, history: RecipeHistory, table: str, change: str
) -> None:
    history.note(described(a_machine(), a_board(a_cut())))
    with pytest.raises(KerfwrightError, match="never changed"), database.writing() as session:
        session.execute(text(change.format(table)))
    assert len(history.recipes()) == 1


def stored(database: Database, settings: dict[str, object]) -> None:
    """A version as another version of the program may have written it."""
    with database.writing() as session:
        row = RecipeVersionRow(
            machine="trial machine",
            material="board 3 mm",
            thickness_mm=3.0,
            process="cut",
            settings=settings,
            status="untested",
            tested_on=None,
            tested_by=None,
            noted_at=DAY_AS_MOMENT,
            noted_by="keeper",
            source="file",
            origin="",
        )
        session.add(row)


DAY_AS_MOMENT = datetime.datetime(2026, 5, 4, 12)


def test_a_key_that_came_up_later_counts_as_usual(
    database: Database, history: RecipeHistory
) -> None:
    stored(database, {"speed_mm_s": 16.0, "power": 0.72, "kerf_mm": 0.2})
    as_now = a_cut(status="untested", tested_on=None, tested_by=None)
    assert not history.note(described(a_board(as_now))).recipes


def test_a_key_that_is_not_known_here_is_told_and_hides_nothing(
    database: Database, history: RecipeHistory
) -> None:
    stored(database, {"speed_mm_s": 16.0, "power": 0.72, "kerf_mm": 0.2, "smoke": 3})
    (version,) = history.recipes()
    assert version.settings["smoke"] == 3
    with pytest.raises(KerfwrightError) as told:
        _ = version.recipe
    assert told.value.code == "recipes/not-readable"
    assert "smoke" in told.value.thing
    assert len(history.note(described(a_board(a_cut()))).recipes) == 1


def test_two_who_note_the_same_at_once_note_it_once(database_url: str) -> None:
    databases = [Database(database_url) for _ in range(4)]
    with databases[0].writing():
        pass
    threads = [
        threading.Thread(
            target=RecipeHistory(one).note, args=(described(a_machine(), a_board(a_cut())),)
        )
        for one in databases
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(RecipeHistory(databases[0]).recipes()) == 1
    assert len(RecipeHistory(databases[0]).machines()) == 1
    for one in databases:
        one.close()


def test_a_change_that_fails_takes_all_of_it_back(database: Database) -> None:
    history = RecipeHistory(database)
    history.note(described(a_board(a_cut())))
    broken = Noting(None, "file")  # type: ignore[arg-type]
    with pytest.raises(KerfwrightError):
        history.note(
            [*described(a_board(a_score())), Described(a_machine(), broken)],
        )
    assert [one.key.process for one in history.recipes()] == ["cut"]


def test_reading_makes_no_file(tmp_path: Path) -> None:
    database = Database(str(tmp_path / "none.sqlite"))
    assert RecipeHistory(database).latest() == []
    assert RecipeHistory(database).machines() == RecipeHistory(database).materials() == []
    assert not (tmp_path / "none.sqlite").exists()
    database.close()


def test_records_of_form_2_have_no_recipes_and_get_them(database_url: str) -> None:
    lay_down(database_url, FORM_2)
    database = Database(database_url)
    history = RecipeHistory(database)
    assert history.recipes() == []
    history.note(described(a_board(a_cut())))
    assert len(history.recipes()) == 1
    database.close()
