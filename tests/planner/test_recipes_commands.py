"""Recipes on record as a user sees them: noted, looked up, brought back, suggested, exchanged."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from kerfwright.shop.files import load_material
from small_shop import Ran, SmallShop, run

KIND = 'thickness_mm = 3\nkind = "board"'

THICK = """\
# Came on Monday.
name = "thick board"
thickness_mm = 4  # measured
kind = "Board"
invented = true
"""


@pytest.fixture(autouse=True)
def records_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "records" / "records.sqlite"
    monkeypatch.setenv("KERFWRIGHT_RECORDS", str(place))
    return place


@pytest.fixture
def tested(shop: SmallShop) -> SmallShop:
    """Its cut is tested, and it was planned with."""
    shop.change("board.toml", "thickness_mm = 3", KIND)
    shop.change("board.toml", "kerf_mm = 0.2", 'kerf_mm = 0.2  # calipers\nstatus = "tested"')
    shop.planned()
    return shop


def done(*words: object) -> str:
    ran = run(*words)
    assert ran.exit_code == 0, ran.stderr
    return ran.stdout


def refused(*words: object) -> Ran:
    ran = run(*words)
    assert ran.exit_code == 2
    return ran


def cut_versions() -> list[dict[str, Any]]:
    told = done("recipes", "history", "--material", "board", "--process", "cut", "--json")
    (recipe,) = json.loads(told)["recipes"]
    versions: list[dict[str, Any]] = recipe["versions"]
    return versions


def test_planning_notes_every_recipe_of_the_order(tested: SmallShop) -> None:
    listed = done("recipes", "list")
    assert "board, 3 mm, on trial machine (invented)" in listed
    for process in ("cut", "score", "engrave"):
        assert process in listed
    (version,) = cut_versions()
    assert (version["source"], version["origin"]) == ("file", "board.toml")
    tested.planned()
    assert len(cut_versions()) == 1


def test_a_changed_recipe_is_a_version_and_the_change_is_told(tested: SmallShop) -> None:
    tested.change("board.toml", "speed_mm_s = 16", "speed_mm_s = 18")
    tested.planned()
    assert [one["settings"]["speed_mm_s"] for one in cut_versions()] == [16.0, 18.0]
    assert "speed_mm_s 16 → 18" in " ".join(done("recipes", "history", "--process", "cut").split())


def test_a_plan_that_is_run_is_noted_where_its_records_know_nothing_of_it(
    tested: SmallShop, tmp_path: Path
) -> None:
    other = ("--records", tmp_path / "other.sqlite")
    done("record", tested.out, "--sheet", 1, "--seconds", 30, "--sure", *other)
    told = json.loads(done("recipes", "list", "--json", *other))["recipes"]
    assert {one["process"] for one in told} == {"cut", "score", "engrave"}
    (version,) = told[0]["versions"]
    assert (version["source"], version["origin"]) == ("run", "Small order, sheet 1")
    done("record", tested.out, "--sheet", 1, "--seconds", 30, "--sure")
    assert len(cut_versions()) == 1


def test_records_that_cannot_be_written_do_not_stop_a_plan(
    shop: SmallShop, records_file: Path
) -> None:
    records_file.parent.mkdir()
    records_file.write_text("no database at all\n" * 200)
    ran = shop.plan()
    assert ran.exit_code == 0
    assert "The recipes were not noted in the records; all else is done" in ran.stderr
    assert "kerfwright help records/cannot-open" in ran.stderr
    assert (shop.out / "plan.json").exists()


def test_an_earlier_version_comes_back_and_comments_stay(tested: SmallShop) -> None:
    board = tested.folder / "board.toml"
    before = board.read_text("utf-8")
    tested.change("board.toml", "speed_mm_s = 16", "speed_mm_s = 18\npierce_s = 0.5")
    tested.change("board.toml", "kerf_mm = 0.2 ", "kerf_mm = 0.25 ")
    done("recipes", "restore", 1, "--into", board)
    assert board.read_text("utf-8") == before
    told = [(one["source"], one["settings"]["kerf_mm"]) for one in cut_versions()]
    # what the file held before was never planned with, and is noted all the same
    assert told == [("file", 0.2), ("file", 0.25), ("restored", 0.2)]


def test_a_version_comes_back_into_its_own_material_only(tested: SmallShop) -> None:
    thick = tested.write("thick.toml", THICK)
    ran = refused("recipes", "restore", 1, "--into", thick)
    assert "settings do not carry over" in ran.stderr
    assert thick.read_text("utf-8") == THICK
    assert "no-such-version" in refused("recipes", "restore", 99, "--into", thick).stderr


def suggest(shop: SmallShop, *words: object) -> tuple[object, ...]:
    files = ("--machine", shop.folder / "machine.toml", "--material", shop.folder / "thick.toml")
    return ("recipes", "suggest", *files, *words)


def test_a_tested_recipe_that_a_file_has_lost_is_named_instead(tested: SmallShop) -> None:
    board = tested.folder / "board.toml"
    kept, _, _ = board.read_text("utf-8").partition("[[recipes]]")
    board.write_text(kept, encoding="utf-8")
    words = ("--machine", tested.folder / "machine.toml", "--material", board)
    told = refused("recipes", "suggest", *words).stderr
    assert "kerfwright help recipes/tested-on-record" in told
    number = told.partition("restore ")[2].split()[0]
    done("recipes", "restore", number, "--into", board)
    recipe = load_material(board).recipe("trial machine", "cut")
    assert recipe is not None
    assert (recipe.speed_mm_s, recipe.status) == (16.0, "tested")


def test_a_suggestion_is_written_as_untested_and_noted(tested: SmallShop) -> None:
    tested.write("thick.toml", THICK)
    new = tested.folder / "new.toml"
    told = done(*suggest(tested, "--write", new))
    assert "nobody has burned it" in told
    assert "The machine's manual and local rules come first" in told
    assert "kerfwright calibrate power" in told
    assert new.read_text("utf-8").startswith(THICK.rstrip())
    recipe = load_material(new).recipe("trial machine", "cut")
    assert recipe is not None
    assert (recipe.speed_mm_s, recipe.status) == (12.0, "untested")
    versions = json.loads(done("recipes", "list", "--material", "thick", "--json"))["recipes"]
    assert versions[0]["versions"][0]["source"] == "suggestion"


OTHER = """\
name = "board"
thickness_mm = 3
kind = "board"
invented = true
[[recipes]]
machine = "trial machine"
process = "{process}"
speed_mm_s = {speed}
power = 0.5
passes = 2
status = "tested"
"""


@pytest.mark.parametrize(
    ("process", "speed", "width"),
    [
        ("cut", 16, "kerf_mm = 0.2"),
        ("score", 120, ""),
        ("engrave", 300, "interval_mm = 0.25"),
        ("photo", 200, "interval_mm = 0.25\nmethod = 'power'"),
    ],
)
def test_the_trial_piece_that_is_named_can_be_made(
    shop: SmallShop, process: str, speed: int, width: str
) -> None:
    shop.write("thick.toml", THICK)
    other = shop.write("other.toml", OTHER.format(process=process, speed=speed) + width)
    told = done(*suggest(shop, "--process", process, "--also", other))
    (line,) = (one for one in told.splitlines() if "kerfwright calibrate" in one)
    words = line.partition("kerfwright ")[2].split()
    words[words.index("trial")] = str(shop.folder / "trial")
    assert "read back and proven" in done(*words)


def test_planning_never_takes_a_suggestion_by_itself(tested: SmallShop) -> None:
    tested.write("board.toml", THICK.replace("thick board", "board"))
    ran = tested.plan()
    assert ran.exit_code == 2
    assert "kerfwright recipes suggest says where to begin" in ran.stderr
    assert "kerfwright help material/recipe-missing" in ran.stderr


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ('kind = "Board"', "", "recipes/no-kind"),
        ('kind = "Board"', 'kind = "another"', "recipes/no-neighbour"),
        ("invented = true", "", "recipes/no-neighbour"),
        ("thickness_mm = 4", "thickness_mm = 9", "recipes/too-far"),
        ('kind = "Board"', 'kind = "Board"\nmade_of = ["PVC"]', "material/never-burn"),
    ],
)
def test_no_suggestion_where_there_is_no_ground_for_one(
    tested: SmallShop, old: str, new: str, code: str
) -> None:
    tested.write("thick.toml", THICK.replace(old, new))
    assert f"kerfwright help {code}" in refused(*suggest(tested)).stderr


def test_a_laser_of_another_power_makes_old_recipes_no_ground(tested: SmallShop) -> None:
    tested.write("thick.toml", THICK)
    tested.change("machine.toml", "power_w = 60", "power_w = 80")
    tested.planned()
    told = refused(*suggest(tested)).stderr
    assert "tested when the laser had another rated power" in told


def test_a_file_may_be_named_beside_the_records(tested: SmallShop) -> None:
    tested.write("thick.toml", THICK)
    six = tested.write(
        "six.toml",
        'name = "six"\nthickness_mm = 6\nkind = "board"\ninvented = true\n[[recipes]]\n'
        'machine = "trial machine"\nprocess = "cut"\nspeed_mm_s = 7\npower = 0.8\n'
        'kerf_mm = 0.25\nstatus = "trusted"\n',
    )
    told = done(*suggest(tested, "--also", six))
    assert "a straight line through the energy" in told
    assert "six, 6 mm" in told


@pytest.mark.usefixtures("tested")
def test_recipes_go_through_a_table_and_everything_through_a_document(tmp_path: Path) -> None:
    table, document = tmp_path / "recipes.csv", tmp_path / "shop.json"
    done("recipes", "export", table)
    done("recipes", "export", document)
    assert done("recipes", "export", "-") == table.read_text("utf-8")
    first, second = (("--records", tmp_path / f"{name}.sqlite") for name in ("one", "two"))
    assert "Noted: 3 recipes." in done("recipes", "import", table, *first)
    assert "Nothing new" in done("recipes", "import", table, *first)
    assert "3 versions of recipes" in done("recipes", "import", document, *second)
    done("recipes", "export", "-", *first)
    again = tmp_path / "again.json"
    done("recipes", "export", again, *second)
    assert again.read_bytes() == document.read_bytes()


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("export", "recipes.txt"), "recipes/unclear"),
        (("export", "shop.json", "--process", "cut"), "recipes/unclear"),
        (("list", "--process", "weld"), "recipes/no-such-process"),
        (("import", "none.csv"), "recipes/cannot-read"),
        (("export", "none/recipes.csv"), "program/cannot-write"),
    ],
)
def test_what_is_not_clear_is_told(
    words: tuple[str, ...], code: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert f"kerfwright help {code}" in refused("recipes", *words).stderr


def test_before_anything_is_noted_the_list_says_so() -> None:
    assert "No recipe of the kind is on record" in done("recipes", "list")
    assert "No recipe of the kind is on record" in done("recipes", "history")
