"""Cuts near one another are kept apart in time where the recipe asks for it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.findings import Severity
from kerfwright.motion.timing import time_toolpath
from kerfwright.sequence.cooling import (
    Cooling,
    cooling_findings,
    gaps_between,
    near_cuts,
    with_waits,
)
from kerfwright.sequence.order import in_order
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Stroke
from ordered_strokes import order_of, ring, travel_of

COOLING = Cooling(distance_mm=4.0, seconds=8.0)


def close_pairs(count: int = 12) -> list[Stroke]:
    """Pairs of rings 1 mm apart, the pairs 60 mm apart; a ring burns for about 3 s."""
    return [ring(60.0 * (k // 2) + 21.0 * (k % 2), 50.0, 10.0, k, corners=40) for k in range(count)]


def least_gap_s(strokes: list[Stroke], machine: Machine, cooling: Cooling | None) -> float:
    done = in_order(strokes, [], machine, cooling=cooling)
    near = near_cuts(strokes, COOLING.distance_mm)
    return float(gaps_between(done.toolpath, done.spans, near, machine).seconds.min())


def test_near_cuts_by_the_distance_of_their_lines() -> None:
    near = near_cuts(close_pairs(6), 4.0)
    assert sorted(map(tuple, near.tolist())) == [(0, 1), (2, 3), (4, 5)]
    assert len(near_cuts(close_pairs(6), 0.5)) == 0


def test_neighbours_wait_their_turn(machine: Machine) -> None:
    strokes = close_pairs()
    assert least_gap_s(strokes, machine, None) < 1.0
    assert least_gap_s(strokes, machine, COOLING) >= COOLING.seconds


def test_order_is_kept_where_nothing_is_near(machine: Machine) -> None:
    strokes = close_pairs()[::2]
    plain = in_order(strokes, [], machine).toolpath
    assert np.array_equal(
        plain.moves, in_order(strokes, [], machine, cooling=COOLING).toolpath.moves
    )


@settings(max_examples=20)
@given(st.integers(1, 25), st.integers(0, 1000))
def test_precedence_goes_before_cooling(machine: Machine, count: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    strokes = [ring(*rng.uniform(0.0, 60.0, 2), 4.0, k, corners=6) for k in range(count)]
    hidden = rng.permutation(count)
    ends = np.sort(rng.integers(0, count, (count, 2)), axis=1)
    before = [(int(hidden[i]), int(hidden[j])) for i, j in ends if i != j]
    order = order_of(in_order(strokes, before, machine, cooling=COOLING).toolpath)
    assert sorted(order) == list(range(count))
    assert all(order.index(i) < order.index(j) for i, j in before)


def test_what_the_order_cannot_give_is_told(machine: Machine) -> None:
    strokes = close_pairs(2)
    done = in_order(strokes, [], machine, cooling=COOLING)
    gaps = gaps_between(done.toolpath, done.spans, near_cuts(strokes, 4.0), machine)
    (finding,) = cooling_findings(gaps, strokes, COOLING, "sheet 1")
    assert finding.severity is Severity.WARN
    assert finding.count == 1
    assert f"{gaps.seconds.min():.1f} s" in finding.what


def test_waiting_gives_what_the_order_cannot(machine: Machine) -> None:
    strokes = close_pairs(4)
    near = near_cuts(strokes, 4.0)
    done = in_order(strokes, [], machine, cooling=Cooling(4.0, 8.0, wait=True))
    waited = with_waits(done.toolpath, done.spans, near, machine, 8.0)
    gaps = gaps_between(waited, done.spans, near, machine)
    assert gaps.seconds.min() >= 8.0 - 1e-6
    (finding,) = cooling_findings(gaps, strokes, COOLING, "sheet 1")
    assert finding.severity is Severity.NOTE
    still = waited.moves["dwell_s"] > 0.0
    assert still.any()
    assert np.all(waited.moves["kind"][still] == MoveKind.TRAVEL)
    assert time_toolpath(waited, machine).wait_s == pytest.approx(waited.moves["dwell_s"].sum())


def test_cooling_costs_little_travel(machine: Machine) -> None:
    """Twelve rings in two rounds along the sheet instead of one: about twice the way."""
    strokes = close_pairs()
    plain = travel_of(in_order(strokes, [], machine).toolpath, machine)
    cooled = travel_of(in_order(strokes, [], machine, cooling=COOLING).toolpath, machine)
    assert plain < cooled < 3.0 * plain


@pytest.mark.parametrize(("distance_mm", "seconds"), [(0.0, 0.0), (5.0, 0.0), (0.0, 3.0)])
def test_only_a_recipe_with_both_asks_for_it(distance_mm: float, seconds: float) -> None:
    fields = {"machine": "m", "process": "cut", "speed_mm_s": 9.0, "power": 0.5, "kerf_mm": 0.1}
    recipe = Recipe.model_validate(
        {**fields, "cooling_mm": distance_mm, "cooling_s": seconds, "cooling_wait": True}
    )
    assert Cooling.asked_by(recipe) is None
    asked = recipe.model_copy(update={"cooling_mm": 5.0, "cooling_s": 3.0})
    assert Cooling.asked_by(asked) == Cooling(5.0, 3.0, wait=True)
