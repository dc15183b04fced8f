"""What the order and the recipe say about the order of work reaches proven programs."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.errors import KerfwrightError
from kerfwright.shop.files import load_material
from small_shop import BOARD, SmallShop, run

CUT = "kerf_mm = 0.2\n"


@pytest.fixture
def shop(tmp_path: Path) -> SmallShop:
    shop = SmallShop(tmp_path)
    shop.order(item="quantity = 4")
    return shop


def engraved_and_cut(program: str) -> str:
    """``e`` and ``c`` for each row of a program that burns at the speed of its process."""
    letters = []
    for line in program.splitlines():
        for word, letter in (("F24000", "e"), ("F960", "c")):
            if word in line.split() and letters[-1:] != [letter]:
                letters.append(letter)
    return "".join(letters)


def test_process_by_process_is_the_default(shop: SmallShop) -> None:
    document = shop.planned()
    (program,) = shop.programs().values()
    assert engraved_and_cut(program) == "ec"
    (decision,) = (one for one in document["decisions"] if one["code"] == "sequence/order-of-work")
    assert decision["chosen"] == "process by process"
    assert len([way["time_s"] for way in decision["alternatives"]]) == 2


def test_part_by_part_goes_to_a_proven_program(shop: SmallShop) -> None:
    by_process = {one["code"]: one for one in shop.planned()["decisions"]}
    shop.order(item="quantity = 4", settings='order_of_work = "part"')
    decisions = {one["code"]: one for one in shop.planned()["decisions"]}
    (program,) = shop.programs().values()
    assert engraved_and_cut(program) == "ecececec"
    code = "sequence/order-of-work"
    times = [
        {way["way"]: way["time_s"] for way in found[code]["alternatives"]}
        for found in (by_process, decisions)
    ]
    assert times[0] == times[1]
    assert decisions[code]["chosen"] == "part by part"
    assert 'order_of_work = "process"' in decisions[code]["override"]


def test_cooling_is_told_and_waited_for(shop: SmallShop) -> None:
    cooling = "cooling_mm = 6\ncooling_s = 30\n"
    shop.change("board.toml", CUT, CUT + cooling)
    told = {one["code"]: one for one in shop.planned()["findings"]}["sequence/cooling"]
    assert told["severity"] == "warn"
    assert "the recipe asks for 30 s" in told["what"]

    shop.change("board.toml", cooling, cooling + "cooling_wait = true\n")
    told = {one["code"]: one for one in shop.planned()["findings"]}["sequence/cooling"]
    assert told["severity"] == "note"
    (program,) = shop.programs().values()
    assert "G4" in program


@pytest.mark.parametrize("keys", ["cooling_mm = 3", "cooling_s = 3", "cooling_wait = true"])
def test_half_of_cooling_is_refused(tmp_path: Path, keys: str) -> None:
    path = tmp_path / "board.toml"
    path.write_text(BOARD.replace(CUT, f"{CUT}{keys}\n"), encoding="utf-8")
    with pytest.raises(KerfwrightError) as caught:
        load_material(path)
    assert caught.value.code == "material/cooling-needs-both"


def test_unknown_order_of_work_is_refused(shop: SmallShop) -> None:
    shop.order(settings='order_of_work = "colour"')
    ran = run("plan", shop.order_file, "--out", shop.out)
    assert ran.exit_code != 0
    assert "order_of_work" in ran.told
