"""Loads of a fixture over the interface: pockets, programs that are alike, or turned to marks."""

from __future__ import annotations

import math

import pytest
from fixture_workshop import fobs

from small_workshop import SmallWorkshop

SHEETS = "/api/orders/small/sheets"


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> SmallWorkshop:
    made = fobs(tmp_path_factory.mktemp("fobs"))
    made.plan()
    return made


def test_pockets_are_told_with_what_lies_in_them(planned: SmallWorkshop) -> None:
    first, _, last = planned.client().get(SHEETS).json()["sheets"]
    assert [one["filled"] for one in first["pockets"]] == [True, True, True, False]
    assert [one["in_use"] for one in first["pockets"]] == [True, True, True, False]
    assert [one["filled"] for one in last["pockets"]] == [True, False, False, False]
    # on the bed, as the program counts
    assert min(x for x, _ in first["pockets"][2]["ring"]) == pytest.approx(15 + 30 - 20)


def test_loads_with_the_same_program_name_the_first(planned: SmallWorkshop) -> None:
    sheets = planned.client().get(SHEETS).json()["sheets"]
    assert [one["same_as"] for one in sheets] == [None, 1, None]
    plan = planned.client().get("/api/orders/small").json()["plan_document"]
    folder = planned.order / "plan"
    first, second, third = (
        [
            line
            for line in (folder / one["program"]).read_text("ascii").splitlines()
            if "(" not in line
        ]
        for one in plan["sheets"]
    )
    assert first == second
    assert first != third


def test_a_program_is_turned_to_two_marks(planned: SmallWorkshop) -> None:
    turn, x, y = math.radians(0.5), 100.0, 60.0
    there = [[x + 80 * math.cos(turn), y + 80 * math.sin(turn)], [x, y]]
    marks = {"planned": [[100, 20], [20, 20]], "read": there}
    turned = planned.client().post(f"{SHEETS}/1/registered", json=marks)
    assert turned.status_code == 200, turned.text
    told = turned.json()
    assert told["turned_deg"] == pytest.approx(0.5)
    assert told["apart_mm"] == pytest.approx(0.0, abs=1e-9)
    assert "(Turned: 0.5000" in told["text"]


@pytest.mark.parametrize(
    ("read", "code", "named"),
    [
        ([[20, 20], [101, 20]], "program/marks-differ", "1.000 mm off"),
        ([[20, 20], [21, 20]], "program/marks-too-near", "1.00 mm apart"),
        ([[380, 20], [380, 100]], "verification/program-not-proven", "mm too short"),
    ],
)
def test_what_cannot_be_turned_is_refused_with_numbers(
    planned: SmallWorkshop, read: list[list[float]], code: str, named: str
) -> None:
    marks = {"planned": [[20, 20], [100, 20]], "read": read}
    told = planned.client().post(f"{SHEETS}/1/registered", json=marks)
    assert (told.status_code, told.json()["code"]) == (422, code)
    assert named in told.json()["thing"]
    assert "--" not in told.json()["thing"] + told.json()["remedy"] + told.json()["file"]
