"""Keys of a recipe for cutting that contradict each other or the machine are refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.errors import KerfwrightError
from kerfwright.shop.files import load_machine, load_material
from small_shop import BOARD, MACHINE, SmallShop, run

CUT = "kerf_mm = 0.2\n"


def material(folder: Path, keys: str, *, of: str = CUT) -> Path:
    path = folder / "board.toml"
    path.write_text(BOARD.replace(of, f"{of}{keys}\n"), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "keys",
    [
        "lead_in_mm = 3\npierce_s = 0.3\novercut_mm = 1",
        'lead_in = "arc"\nlead_in_mm = 3',
        'lead_in = "none"',
        "passes = 3\nfocus_step_mm = 0.8",
        "tabs = 2\ntab_width_mm = 0.5",
        "tab_spacing_mm = 90\ntab_width_mm = 0.5\ntab_largest_part_mm = 100",
        "air = true",
    ],
)
def test_keys_that_go_together_are_read(tmp_path: Path, keys: str) -> None:
    read = load_material(material(tmp_path, keys)).recipe("trial machine", "cut")
    assert read is not None
    for line in keys.splitlines():
        key, _, value = line.partition(" = ")
        assert str(getattr(read, key)).lower().removesuffix(".0") == value.strip('"')


@pytest.mark.parametrize(
    ("keys", "code", "key"),
    [
        ("tabs = 2", "material/tab-width-missing", "recipes[1].tab_width_mm"),
        ("tab_spacing_mm = 80", "material/tab-width-missing", "recipes[1].tab_width_mm"),
        ("tabs = 2\ntab_spacing_mm = 80", "material/tab-width-missing", "tab_width_mm"),
        ('lead_in = "arc"', "material/lead-in-length-missing", "recipes[1].lead_in_mm"),
        ("focus_step_mm = 1", "material/focus-step-of-one-pass", "recipes[1].focus_step_mm"),
        ("passes = 3\nfocus_step_mm = 1.6", "material/focus-below-sheet", "3.2 mm deep"),
        ("pierce_s = -1", "material/out-of-range", "recipes[1].pierce_s"),
        ('lead_in = "spiral"', "material/wrong-choice", "recipes[1].lead_in"),
    ],
)
def test_keys_that_miss_something_are_refused(
    tmp_path: Path, keys: str, code: str, key: str
) -> None:
    with pytest.raises(KerfwrightError) as caught:
        load_material(material(tmp_path, keys))
    assert caught.value.code == code
    assert key in caught.value.thing
    assert "2 things" not in caught.value.thing


@pytest.mark.parametrize("key", ["lead_in_mm = 2", "tabs = 1", "pierce_s = 0.2", "overcut_mm = 1"])
def test_keys_for_cuts_mean_nothing_for_scores(tmp_path: Path, key: str) -> None:
    with pytest.raises(KerfwrightError) as caught:
        load_material(material(tmp_path, key, of="power = 0.14\n"))
    assert caught.value.code == "material/key-of-other-process"


def test_a_focus_that_nobody_says_can_move_is_not_stepped(tmp_path: Path) -> None:
    shop = SmallShop(tmp_path)
    material(tmp_path, "passes = 2\nfocus_step_mm = 1")
    ran = shop.plan()
    assert ran.exit_code == 2
    assert "machine.toml" in ran.told
    assert "kerfwright help machine/focus-speed-missing" in ran.told
    (tmp_path / "machine.toml").write_text(f"focus_speed_mm_s = 4\n{MACHINE}", encoding="utf-8")
    assert shop.plan().exit_code == 0


def test_air_that_goes_on_must_go_off(tmp_path: Path) -> None:
    file = tmp_path / "machine.toml"
    controller = '[controller]\nair_on = "M8"'
    file.write_text(MACHINE.replace("[controller]", controller), encoding="utf-8")
    with pytest.raises(KerfwrightError) as caught:
        load_machine(file)
    assert caught.value.code == "machine/air-off-missing"
    assert "controller.air_off" in caught.value.thing


def test_an_item_with_tabs_needs_their_width(tmp_path: Path) -> None:
    shop = SmallShop(tmp_path)
    shop.order(item="tabs = 3")
    ran = shop.plan()
    assert ran.exit_code == 2
    assert "kerfwright help material/tab-width-missing" in ran.told
    material(tmp_path, "tab_width_mm = 0.5")
    assert shop.plan().exit_code == 0
    (found,) = (one for one in shop.planned()["findings"] if one["code"] == "cutting/holding-tabs")
    assert "3 holding tabs of 0.5 mm" in found["what"]


def test_an_item_with_a_fit_is_told_what_became_of_its_slots(tmp_path: Path) -> None:
    shop = SmallShop(tmp_path)
    shop.order(item="fit_mm = 0.05")
    (found,) = (one for one in shop.planned()["findings"] if one["code"].startswith("cutting/"))
    assert found["code"] == "cutting/no-slots-to-fit"


def test_the_new_headings_can_be_read() -> None:
    for code in ("cutting/part-may-tip", "cutting/slots-fitted", "machine/focus-speed-missing"):
        assert run("help", code).exit_code == 0
