"""What is to be ticked before the beam goes on.

What the classes mean is said after IEC 60825-1, from memory; the rest is common practice,
no source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

import planned_order
import planned_square
from kerfwright.output.checklist import AUTHORITY, checks_of_plan, checks_of_sheet, eyes
from kerfwright.shop.machine import LaserClass, Machine
from kerfwright.toolpath import Process

CLASSES = get_args(LaserClass)


def of_class(name: str | None) -> Machine:
    return planned_square.machine().model_copy(update={"laser_class": name})


def words(name: str | None) -> str:
    check = eyes(of_class(name))
    return f"{check.what} {check.why}"


def test_a_shop_is_reminded_of_everything_that_it_must_see_to() -> None:
    said = " ".join(f"{c.what} {c.why}" for c in checks_of_plan(planned_order.order())).lower()
    for thing in (
        *("unattended", "extinguisher", "extraction", "interlock", "lens and mirrors", "focus"),
        *("bed", "scraps", "emergency stop", "safety data sheet", "beam off"),
    ):
        assert thing in said


def test_whom_to_obey_is_named() -> None:
    for who in ("manual", "IEC 60825-1", "ANSI Z136.1", "local codes", "laser safety officer"):
        assert who in AUTHORITY


def test_a_closed_machine_is_only_safe_while_it_is_closed() -> None:
    assert "class 1" in words("1")
    assert "shut" in words("1")
    assert "no eyewear" in words("1")


@pytest.mark.parametrize("name", ["3B", "4"])
def test_an_open_beam_asks_for_eyewear_and_a_closed_off_area(name: str) -> None:
    assert f"class {name}" in words(name)
    assert "eyewear made for this wavelength" in words(name)
    assert "closed off" in words(name)


@pytest.mark.parametrize("name", ["1M", "2", "2M", "3R"])
def test_a_class_too_weak_to_cut_is_doubted(name: str) -> None:
    assert "too weak to cut" in words(name)
    assert ("lenses" in words(name)) == name.endswith("M")


def test_every_class_has_words_and_no_gap_is_left_in_them() -> None:
    said = [words(name) for name in (*CLASSES, None)]
    assert not any("{" in one for one in said)
    assert len(set(said)) == len(said)


def test_a_silent_machine_file_sends_to_the_label() -> None:
    assert planned_square.machine().laser_class is None
    assert "look at the label" in words(None)
    assert "class 4" in words(None)


def test_air_is_to_be_seen_to_only_where_a_recipe_asks_for_it() -> None:
    sheet = planned_square.sheet()
    blown = sheet.recipes[Process.CUT].model_copy(update={"air": True})
    with_air = replace(sheet, recipes={**sheet.recipes, Process.CUT: blown})
    by_hand = planned_square.machine()
    switched = planned_square.machine(air_on="M8", air_off="M9")

    def air(of: Machine) -> list[str]:
        return [check.why for check in checks_of_sheet(with_air, of) if check.what == "Air."]

    assert not [c for c in checks_of_sheet(sheet, by_hand) if c.what == "Air."]
    assert "cut" in air(by_hand)[0]
    assert "by hand" in air(by_hand)[0]
    assert "the program switches it" in air(switched)[0]
