"""Whatever lies inside is burned before what lies around it, also on large sheets."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.sequence.order import in_order, sequence
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Stroke
from ordered_strokes import block, line, order_of, ring, travel_of


def nests(count: int, seed: int) -> tuple[list[Stroke], list[tuple[int, int]]]:
    """Rings in rings in rings at random: each lies in an earlier one or on the bare sheet."""
    rng = np.random.default_rng(seed)
    strokes: list[Stroke] = []
    before: list[tuple[int, int]] = []
    places: list[tuple[float, float, float]] = []
    for number in range(count):
        around = int(rng.integers(-1, number)) if number else -1
        if around >= 0 and places[around][2] > 1.0:
            x, y, radius = places[around]
            turn, away = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(0.0, 0.5) * radius
            place = (x + away * np.cos(turn), y + away * np.sin(turn), 0.4 * radius)
            before.append((number, around))
        else:
            place = (*rng.uniform(0.0, 800.0, 2), rng.uniform(10.0, 60.0))
        places.append(place)
        strokes.append(ring(*place, number, corners=int(rng.integers(3, 12))))
    return strokes, before


def burned_in_turn(order: list[int], before: list[tuple[int, int]]) -> bool:
    position = {source: k for k, source in enumerate(order)}
    return all(position[i] < position[j] for i, j in before)


@settings(max_examples=25)
@given(st.integers(1, 120), st.integers(0, 10_000))
def test_inside_before_outside(machine: Machine, count: int, seed: int) -> None:
    strokes, before = nests(count, seed)
    order = order_of(sequence(strokes, before, machine))
    assert sorted(order) == list(range(count))
    assert burned_in_turn(order, before)


@pytest.mark.parametrize("seed", range(3))
def test_inside_before_outside_on_a_large_sheet(machine: Machine, seed: int) -> None:
    strokes, before = nests(700, seed)
    assert len(before) > 200
    done = in_order(strokes, before, machine)
    order = order_of(done.toolpath)
    assert sorted(order) == list(range(700))
    assert burned_in_turn(order, before)
    for number, (first, end) in enumerate(done.spans):
        assert set(done.toolpath.moves["source"][first:end]) == {number}


@settings(max_examples=20)
@given(st.integers(2, 60), st.integers(0, 10_000))
def test_any_pairs_that_agree_with_one_order_are_kept(
    machine: Machine, count: int, seed: int
) -> None:
    """Dense precedence among lines, dots, rings and blocks that cannot be turned."""
    rng = np.random.default_rng(seed)
    strokes: list[Stroke] = []
    for number in range(count):
        through = rng.uniform(0.0, 300.0, (int(rng.integers(2, 5)), 2))
        if rng.random() < 0.2:
            strokes.append(block(through.tolist(), number, phase=2))
        else:
            closed, passes = bool(rng.random() < 0.5), int(rng.integers(1, 4))
            strokes.append(line(through, number, closed=closed, passes=passes))
    hidden = rng.permutation(count)
    ends = np.sort(rng.integers(0, count, (3 * count, 2)), axis=1)
    before = [(int(hidden[i]), int(hidden[j])) for i, j in ends if i != j]
    order = order_of(sequence(strokes, before, machine))
    assert sorted(order) == list(range(count))
    assert burned_in_turn(order, before)


def test_precedence_costs_travel_but_never_gains(machine: Machine) -> None:
    strokes, before = nests(150, 5)
    free = travel_of(sequence(strokes, [], machine), machine)
    assert travel_of(sequence(strokes, before, machine), machine) >= 0.99 * free
