"""Recipes by the interface: what they were, brought back, suggested, taken out and in."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kerfwright.recipe_book import note_shop
from kerfwright.shop.database import Database
from kerfwright.shop.files import load_material, load_shop
from small_shop import BOARD
from small_workshop import SmallWorkshop

CUT = {
    "machine": "trial machine",
    "material": "board",
    "thickness_mm": 3.0,
    "process": "cut",
}


def noted(workshop: SmallWorkshop, by: str = "keeper") -> None:
    """Note what the order's files hold, as planning does."""
    database = Database(str(workshop.folder / "records.sqlite"))
    note_shop(database, load_shop(workshop.order / "order.toml"), by=by)
    database.close()


def board_file(workshop: SmallWorkshop) -> Path:
    return workshop.folder / "materials" / "board.toml"


def faster(workshop: SmallWorkshop) -> None:
    """Change the cut's speed in the material file, and note that."""
    text = BOARD.replace("speed_mm_s = 16\n", "speed_mm_s = 20  # tried\n")
    board_file(workshop).write_text(text, encoding="utf-8")
    noted(workshop)


def test_every_version_tells_when_by_whom_from_where_and_what_it_changed(
    workshop: SmallWorkshop,
) -> None:
    noted(workshop)
    faster(workshop)
    told = workshop.client().get("/api/recipes/history", params=CUT).json()
    first, second = told["versions"]
    assert (first["version"]["noted_by"], first["origin"]) == ("keeper", "file: board.toml")
    assert second["changed"] == [{"key": "speed_mm_s", "before": 16.0, "after": 20.0}]
    assert (told["now"], told["file"]) == (second["version"]["number"], "materials/board.toml")


def test_an_earlier_version_is_brought_back_with_the_comments_kept(
    workshop: SmallWorkshop,
) -> None:
    noted(workshop)
    faster(workshop)
    client = workshop.client()
    versions = client.get("/api/recipes/history", params=CUT).json()["versions"]
    number = versions[0]["version"]["number"]
    told = client.post(f"/api/recipes/versions/{number}/restoration").raise_for_status().json()
    assert "materials/board.toml" in told["words"]
    assert "speed_mm_s = 16" in board_file(workshop).read_text(encoding="utf-8")
    assert "# tried" in board_file(workshop).read_text(encoding="utf-8")
    after = client.get("/api/recipes/history", params=CUT).json()
    assert [one["version"]["source"] for one in after["versions"]] == ["file", "file", "restored"]
    assert after["now"] == after["versions"][-1]["version"]["number"]


def test_a_version_of_a_material_without_a_file_is_not_written_anywhere(
    workshop: SmallWorkshop,
) -> None:
    noted(workshop)
    board_file(workshop).unlink()
    answer = workshop.client().post("/api/recipes/versions/1/restoration")
    assert (answer.status_code, answer.json()["code"]) == (422, "recipes/no-file")
    (line, *_) = workshop.client().get("/api/recipes").json()
    assert (line["file"], line["in_file"]) == (None, False)


def four_mm_beside_tested_three(workshop: SmallWorkshop) -> Path:
    """A material file without a recipe, of the kind of one that is tested."""
    tested = BOARD.replace("invented = true", 'invented = true\nkind = "board"').replace(
        "kerf_mm = 0.2",
        'kerf_mm = 0.2\nstatus = "tested"\ntested_on = 2026-05-04\ntested_by = "Ea"',
    )
    board_file(workshop).write_text(tested, encoding="utf-8")
    new = workshop.folder / "materials" / "board-4.toml"
    head = 'name = "board 4 mm"\nthickness_mm = 4\nkind = "board"\ninvented = true\n'
    new.write_text(head, encoding="utf-8")
    return new


FOUR_MM = {"machine": "machine.toml", "material": "materials/board-4.toml", "process": "cut"}


def test_a_start_comes_from_the_neighbouring_thickness_and_is_untested(
    workshop: SmallWorkshop,
) -> None:
    """In proportion: 4 mm takes 4/3 of the energy of 3 mm, so three quarters of 16 mm/s."""
    new = four_mm_beside_tested_three(workshop)
    before = new.read_bytes()
    start = (
        workshop.client().get("/api/recipes/suggestion", params=FOUR_MM).raise_for_status().json()
    )
    assert start["settings"]["speed_mm_s"] == pytest.approx(12.0)
    assert "not a setting to work with" in " ".join(start["remarks"])
    assert start["trial"]["material"] == "materials/board-4.toml"
    speeds = [float(start["trial"][f"speeds.{n}"]) for n in range(2)]
    assert speeds[0] < 12.0 < speeds[1]
    assert new.read_bytes() == before, "nothing is written"


def test_a_start_is_written_when_asked_as_untested_and_on_record(workshop: SmallWorkshop) -> None:
    new = four_mm_beside_tested_three(workshop)
    new.write_text("# from the second rack\n" + new.read_text(encoding="utf-8"), encoding="utf-8")
    client = workshop.client()
    start = client.get("/api/recipes/suggestion", params=FOUR_MM).json()
    asked = FOUR_MM | {"settings": start["settings"]}
    told = client.post("/api/recipes/suggestion", json=asked).raise_for_status().json()
    assert "materials/board-4.toml as untested" in told["words"]
    recipe = load_material(new).recipe("trial machine", "cut")
    assert recipe is not None
    assert (recipe.speed_mm_s, recipe.status.value, recipe.tested_by) == (12.0, "untested", None)
    assert new.read_text(encoding="utf-8").startswith("# from the second rack")
    key = CUT | {"material": "board 4 mm", "thickness_mm": 4.0}
    (version,) = client.get("/api/recipes/history", params=key).json()["versions"]
    assert (version["version"]["source"], version["version"]["status"]) == (
        "suggestion",
        "untested",
    )


def test_a_start_that_is_no_longer_what_was_shown_is_not_written(workshop: SmallWorkshop) -> None:
    new = four_mm_beside_tested_three(workshop)
    before = new.read_bytes()
    client = workshop.client()
    start = client.get("/api/recipes/suggestion", params=FOUR_MM).json()
    text = board_file(workshop).read_text(encoding="utf-8")
    board_file(workshop).write_text(text.replace("= 16\n", "= 20\n"), encoding="utf-8")
    answer = client.post("/api/recipes/suggestion", json=FOUR_MM | {"settings": start["settings"]})
    assert answer.json()["code"] == "pages/changed-elsewhere"
    assert new.read_bytes() == before


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"material": "../board.toml"}, "pages/nothing-there"),
        ({"process": "weld"}, "recipes/no-such-process"),
        ({}, "recipes/no-kind"),
    ],
)
def test_what_cannot_be_suggested_is_refused(
    workshop: SmallWorkshop, change: dict[str, str], code: str
) -> None:
    wanted = {"machine": "machine.toml", "material": "materials/board.toml"} | change
    answer = workshop.client().get("/api/recipes/suggestion", params=wanted)
    assert answer.json()["code"] == code


def test_recipes_go_out_and_come_in_again(workshop: SmallWorkshop) -> None:
    noted(workshop)
    client = workshop.client()
    table = client.get("/api/recipes/export/recipes.csv").text
    again = client.post("/api/recipes/import", json={"name": "recipes.csv", "text": table})
    assert again.json()["words"].startswith("Nothing new")
    quicker = table.replace(",16.0,", ",18.0,")
    assert quicker != table
    client.post("/api/recipes/import", json={"name": "r.csv", "text": quicker}).raise_for_status()
    last = client.get("/api/recipes/history", params=CUT).json()["versions"][-1]
    assert (last["origin"], last["version"]["settings"]["speed_mm_s"]) == ("table: r.csv", 18.0)
    whole = client.get("/api/recipes/export/shop.json").text
    told = client.post("/api/recipes/import", json={"name": "shop.json", "text": whole}).json()
    assert told["words"].startswith("New on record: 0 versions")


def test_a_wrong_table_is_told_row_by_row_and_nothing_of_it_is_kept(
    workshop: SmallWorkshop,
) -> None:
    head = "machine,material,thickness_mm,process,speed_mm_s,power,kerf_mm"
    rows = [
        "trial machine,board,3,cut,fast,0.5,0.2",
        "trial machine,board,3,score,50,7,",
        "trial machine,board,3,cut,12,0.5,0.2",
    ]
    client = workshop.client()
    wrong = {"name": "r.csv", "text": "\n".join([head, *rows])}
    told = client.post("/api/recipes/import", json=wrong).json()
    assert told["code"] == "recipes/wrong-table"
    assert re.findall(r"Line (\d)", told["thing"]) == ["2", "3"]
    assert client.get("/api/recipes").json() == []
    named = client.post("/api/recipes/import", json={"name": "r.txt", "text": ""})
    assert named.json()["code"] == "recipes/unclear"


def test_a_trial_piece_that_is_taken_over_is_on_record_with_what_was_before(
    workshop: SmallWorkshop,
) -> None:
    client = workshop.client()
    asked = {
        "kind": "interval",
        "machine": "machine.toml",
        "material": "materials/board.toml",
        "intervals": [0.1, 0.4, 5],
    }
    name = client.post("/api/calibration", json=asked).json()["piece"]["name"]
    path = f"/api/calibration/{name}"
    text = client.get(f"{path}/readings").json()["text"]
    filled = text.replace("coarsest_even = []", "coarsest_even = [4, 4, 4]")
    client.put(f"{path}/readings", json={"text": filled}).raise_for_status()
    told = client.post(f"{path}/acceptance").raise_for_status().json()
    assert told["words"].startswith("Noted:")
    wanted = CUT | {"process": "engrave"}
    before, after = client.get("/api/recipes/history", params=wanted).json()["versions"]
    assert (before["version"]["source"], after["version"]["source"]) == ("file", "trial")
    changed = {one["key"]: one["after"] for one in after["changed"]}
    recipe = load_material(board_file(workshop)).recipe("trial machine", "engrave")
    assert recipe is not None
    assert changed["interval_mm"] == recipe.interval_mm
    assert changed["status"] == "tested"
