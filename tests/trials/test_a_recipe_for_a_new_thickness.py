"""A start for a thickness without a recipe: from tested and near ones alone, itself untested."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.errors import KerfwrightError
from kerfwright.shop.material import Recipe
from kerfwright.trials.energy_line import line_energy_j_mm
from kerfwright.trials.neighbour_recipe import FURTHEST, Neighbour, Suggestion, suggested
from tested_recipes import a_board, a_cut, a_machine, a_score

MACHINE = a_machine()


def near(thickness_mm: float, recipe: Recipe, power_w: float | None = 60.0) -> Neighbour:
    return Neighbour(f"board {thickness_mm:g} mm", thickness_mm, recipe, power_w)


def suggestion(thickness_mm: float, *neighbours: Neighbour, process: str = "cut") -> Suggestion:
    return suggested(a_board(thickness_mm=thickness_mm), MACHINE, process, neighbours)


def code_of(told: pytest.ExceptionInfo[KerfwrightError]) -> str:
    return told.value.code.removeprefix("recipes/")


def test_one_thickness_is_taken_in_proportion() -> None:
    found = suggestion(4.0, near(3.0, a_cut(pierce_s=0.2, air=True)))
    assert found.way == "proportion"
    assert (found.recipe.speed_mm_s, found.recipe.power) == (12.0, 0.72)
    assert (found.recipe.kerf_mm, found.recipe.pierce_s, found.recipe.air) == (0.2, 0.2, True)
    assert found.energy.low_j_mm is None


def test_two_thicknesses_make_a_line_without_a_range() -> None:
    found = suggestion(4.0, near(3.0, a_cut()), near(5.0, a_cut(speed_mm_s=8.0)))
    assert found.way == "line"
    # 2.7 and 5.4 J/mm: 4.05 between them
    assert found.energy.j_mm == pytest.approx(4.05)
    assert found.recipe.speed_mm_s == 10.6
    assert found.energy.low_j_mm is None
    assert any("leave no range" in remark for remark in found.remarks)


def test_three_recipes_tell_a_range() -> None:
    points = (
        near(3.0, a_cut()),
        near(5.0, a_cut(speed_mm_s=9.0)),
        near(6.0, a_cut(speed_mm_s=8.0)),
    )
    found = suggestion(4.0, *points)
    low, high = found.energy.low_j_mm, found.energy.high_j_mm
    assert low is not None
    assert high is not None
    assert low < found.energy.j_mm < high
    slow, fast = found.trial.speeds_mm_s
    assert slow < found.recipe.speed_mm_s < fast


def test_a_suggestion_is_untested_and_says_so() -> None:
    found = suggestion(4.0, near(3.0, a_cut(status="trusted")))
    recipe = found.recipe
    assert (recipe.status, recipe.tested_on, recipe.tested_by) == ("untested", None, None)
    assert "nobody has burned it" in found.remarks[0]


def test_the_nearest_gives_what_energy_does_not_tell() -> None:
    thin = a_cut(kerf_mm=0.18)
    thick = a_cut(kerf_mm=0.3, speed_mm_s=8.0, power=0.8, passes=2)
    found = suggestion(5.5, near(3.0, thin), near(6.0, thick))
    assert found.nearest.thickness_mm == 6.0
    assert (found.recipe.kerf_mm, found.recipe.power, found.recipe.passes) == (0.3, 0.8, 2)


def test_what_is_trusted_comes_before_what_is_only_tested() -> None:
    tested, trusted = a_cut(kerf_mm=0.18), a_cut(kerf_mm=0.3, speed_mm_s=8.0, status="trusted")
    found = suggestion(6.0, near(4.0, tested), near(9.0, trusted))
    assert found.recipe.kerf_mm == 0.3


def test_a_machine_that_is_not_as_fast_burns_with_less_power() -> None:
    found = suggestion(2.0, near(3.0, a_cut(speed_mm_s=390.0)))
    fastest = min(MACHINE.cutting.speed_mm_s)
    assert found.recipe.speed_mm_s == fastest
    assert line_energy_j_mm(found.recipe, 60.0) == pytest.approx(found.energy.j_mm, rel=2e-3)
    assert found.trial.speeds_mm_s[1] <= fastest


def test_the_last_pass_is_still_focused_within_a_thinner_sheet() -> None:
    found = suggestion(2.0, near(3.0, a_cut(passes=4, focus_step_mm=1.0)))
    assert found.recipe.focus_step_mm * 3 <= 2.0


@pytest.mark.parametrize("process", ["score", "engrave", "photo"])
def test_marks_take_over_what_the_nearest_has(process: str) -> None:
    marks = a_score(process=process, interval_mm=None if process == "score" else 0.1)
    found = suggestion(4.0, near(3.0, marks), process=process)
    assert found.way == "nearest"
    assert (found.recipe.speed_mm_s, found.recipe.power) == (marks.speed_mm_s, marks.power)
    assert found.recipe.interval_mm == marks.interval_mm


@pytest.mark.parametrize(
    "unusable",
    [
        near(3.0, a_cut(status="untested")),
        near(3.0, a_cut(machine="another")),
        near(3.0, a_score()),
        near(4.0, a_cut()),
        near(3.0, a_cut(), power_w=80.0),
    ],
    ids=["untested", "other machine", "other process", "itself", "another laser"],
)
def test_what_does_not_belong_is_never_used(unusable: Neighbour) -> None:
    with pytest.raises(KerfwrightError) as told:
        suggestion(4.0, unusable)
    assert code_of(told) == "no-neighbour"
    other = near(3.2, a_cut())
    assert suggestion(4.0, unusable, other).used == (other,)


@given(thickness_mm=st.floats(0.5, 20.0))
def test_it_never_reaches_far(thickness_mm: float) -> None:
    factor = max(thickness_mm / 3.0, 3.0 / thickness_mm)
    try:
        suggestion(thickness_mm, near(3.0, a_cut()))
    except KerfwrightError as error:
        expected = "recipes/no-neighbour" if thickness_mm == 3.0 else "recipes/too-far"
        assert error.code == expected
        assert thickness_mm == 3.0 or factor > FURTHEST
    else:
        assert factor <= FURTHEST + 1e-6


def test_between_two_thicknesses_it_reaches_as_far_as_they_are_near() -> None:
    between = suggestion(5.0, near(3.0, a_cut()), near(9.0, a_cut(speed_mm_s=4.0)))
    assert between.way == "line"
    with pytest.raises(KerfwrightError) as told:
        suggestion(6.0, near(3.0, a_cut()), near(10.0, a_cut(speed_mm_s=4.0)))
    assert code_of(told) == "too-far"


def test_thicker_sheets_that_took_no_more_energy_are_told() -> None:
    with pytest.raises(KerfwrightError) as told:
        suggestion(4.0, near(3.0, a_cut()), near(5.0, a_cut(speed_mm_s=30.0)))
    assert code_of(told) == "neighbours-contradict"
    assert "3 mm 2.7 J/mm, 5 mm 1.44 J/mm" in told.value.thing


@pytest.mark.parametrize("status", ["tested", "trusted"])
def test_a_tested_recipe_is_never_second_guessed(status: str) -> None:
    board = a_board(a_cut(status=status), thickness_mm=4.0)
    with pytest.raises(KerfwrightError) as told:
        suggested(board, MACHINE, "cut", [near(3.0, a_cut())])
    assert code_of(told) == "tested-already"


@given(
    thickness_mm=st.floats(2.1, 4.4).filter(lambda mm: mm != 3.0),
    speed_mm_s=st.floats(0.5, 300.0),
    power=st.floats(0.05, 1.0),
    passes=st.integers(1, 10),
)
def test_the_energy_burned_is_the_energy_suggested_or_a_trace_more(
    thickness_mm: float, speed_mm_s: float, power: float, passes: int
) -> None:
    known = near(3.0, a_cut(speed_mm_s=speed_mm_s, power=power, passes=passes))
    found = suggestion(thickness_mm, known)
    burned = line_energy_j_mm(found.recipe, 60.0)
    # speeds are rounded to three figures, powers to a thousandth
    assert burned == pytest.approx(found.energy.j_mm, rel=0.011 + 0.0006 / found.recipe.power)
