"""What the moves gain is what the tour gets shorter, and what is undone was never done."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.sequence.entries import Options
from kerfwright.sequence.entries_kernel import Lines, refine
from kerfwright.sequence.first_tour import construct
from kerfwright.sequence.kernel import Ground, improve, queue, wake_all
from kerfwright.sequence.kicks import shake
from kerfwright.sequence.moves import journal_of, shift, take, turn, undo
from kerfwright.sequence.near_strokes import neighbours
from kerfwright.sequence.order import precedence_of
from kerfwright.sequence.tour import Precedence, Tour, Travel, tour_s, travel_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Stroke
from ordered_strokes import axes_of, line, ring

counts, seeds = st.integers(1, 40), st.integers(0, 10_000)


def work(count: int, seed: int) -> list[Stroke]:
    rng = np.random.default_rng(seed)
    strokes = []
    for number in range(count):
        x, y = rng.uniform(0.0, 300.0, 2)
        if rng.random() < 0.5:
            strokes.append(ring(x, y, rng.uniform(1.0, 20.0), number, corners=9))
        else:
            through = np.array([x, y]) + rng.uniform(-20.0, 20.0, (3, 2))
            strokes.append(line(through, number, passes=int(rng.integers(1, 3))))
    return strokes


def begun(
    count: int, seed: int, machine: Machine
) -> tuple[Options, Precedence, Travel, Tour, np.ndarray]:
    options = Options.of(work(count, seed))
    rng = np.random.default_rng(seed + 1)
    pairs = np.sort(rng.integers(0, count, (count // 2, 2)), axis=1)
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    precedence = precedence_of(pairs, np.arange(count), count)
    travel = Travel(np.array([3.0, 4.0]), axes_of(machine))
    return options, precedence, travel, construct(options.ways, precedence, travel), pairs


@given(counts, seeds)
def test_first_tour_takes_the_stroke_that_is_reached_soonest(
    machine: Machine, count: int, seed: int
) -> None:
    options, _, travel, tour, pairs = begun(count, seed, machine)
    ways = options.ways
    here, left = travel.start, set(range(count))
    for s in tour.order.tolist():
        ready = [k for k in left if not any(i in left for i, j in pairs.tolist() if j == k)]
        soonest = min(
            travel_s(*here, *ways.ends[option, :2], travel.axes)
            for k in ready
            for option in range(ways.first[k], ways.first[k + 1])
        )
        entered = ways.ends[tour.choice[s]]
        assert s in ready
        assert travel_s(*here, *entered[:2], travel.axes) == soonest
        here = entered[2:]
        left.remove(s)
    assert not left


@given(counts, seeds)
def test_seconds_gained_are_seconds_less(machine: Machine, count: int, seed: int) -> None:
    options, precedence, travel, tour, pairs = begun(count, seed, machine)
    ways, waiting = options.ways, queue(count)
    ground = Ground(ways, precedence, travel, neighbours(ways, tour, travel), 1000)
    now_s = tour_s(tour, ways, travel)
    wake_all(tour, waiting)
    for better in (
        lambda: improve(tour, ground, waiting, journal_of(0)),
        lambda: shake(tour, ground, waiting, journal_of(500), 50),
        lambda: refine(tour, Lines(ways, options.along, options.rings), travel),
    ):
        gained = better()
        assert gained >= 0.0
        now_s -= gained
        assert abs(tour_s(tour, ways, travel) - now_s) < 1e-9
    assert sorted(tour.order.tolist()) == list(range(count))
    assert np.array_equal(tour.position[tour.order], np.arange(count))
    assert np.all(ways.first[:-1] <= tour.choice)
    assert np.all(tour.choice < ways.first[1:])
    assert np.all(tour.position[pairs[:, 0]] < tour.position[pairs[:, 1]])


@settings(max_examples=40)
@given(st.integers(2, 20), seeds, st.lists(st.integers(0, 2), max_size=12))
def test_undone_changes_leave_no_trace(
    machine: Machine, count: int, seed: int, kinds: list[int]
) -> None:
    options, _, _, tour, _ = begun(count, seed, machine)
    ways, kept = options.ways, journal_of(40)
    before = [part.copy() for part in tour]
    rng = np.random.default_rng(seed)
    for kind in kinds:
        i, j = sorted(rng.integers(0, count, 2).tolist())
        outside = [k for k in range(-1, count) if not i - 1 <= k <= j]
        if kind == 0:
            turn(i, j, tour, ways, kept)
        elif kind == 1 and outside:
            shift(i, j, int(rng.choice(outside)), tour, kept)
        else:
            take(i, int(rng.integers(ways.first[i], ways.first[i + 1])), tour, kept)
    undo(tour, ways, kept)
    assert all(np.array_equal(now, then) for now, then in zip(tour, before, strict=True))
