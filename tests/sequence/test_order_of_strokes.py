"""Every stroke is burned once, in an allowed order, with short travel in between."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.motion.kernel import LENGTH_ZERO_MM
from kerfwright.motion.timing import time_toolpath
from kerfwright.sequence.entries import Options
from kerfwright.sequence.first_tour import construct
from kerfwright.sequence.order import precedence_of, sequence
from kerfwright.sequence.tour import Travel, tour_s, travel_s
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.toolpath import MoveKind, Stroke
from ordered_strokes import axes_of, block, clock_s, line, order_of, ring, travel_of

coordinates = st.tuples(st.floats(0.0, 400.0), st.floats(0.0, 300.0))
# whole millimetres let ends meet, so that there is nothing to travel
grid = st.tuples(st.integers(0, 5), st.integers(0, 5))
points = st.lists(coordinates, min_size=2, max_size=6) | st.lists(
    grid, min_size=2, max_size=6, unique=True
)


@st.composite
def work(draw: st.DrawFn) -> tuple[list[Stroke], list[tuple[int, int]]]:
    """Strokes of three phases, and pairs that agree with one hidden order."""
    strokes: list[Stroke] = []
    for source in range(draw(st.integers(0, 14))):
        phase = draw(st.integers(0, 2))
        through = draw(points)
        if draw(st.integers(0, 4)) == 0:
            strokes.append(block(through, source, phase=phase))
            continue
        closed, passes = draw(st.booleans()), draw(st.integers(1, 3))
        strokes.append(line(through, source, closed=closed, passes=passes, phase=phase))
    hidden = sorted(draw(st.permutations(range(len(strokes)))), key=lambda s: strokes[s].phase)
    places = [(i, j) for j in range(len(hidden)) for i in range(j)]
    chosen = draw(st.lists(st.sampled_from(places), max_size=20)) if places else []
    return strokes, [(hidden[i], hidden[j]) for i, j in chosen]


def burned_mm(stroke: Stroke) -> float:
    if stroke.block is not None:
        return float(stroke.block.lengths_mm.sum())
    return stroke.path.length_mm * stroke.passes


@given(work())
def test_every_stroke_once_and_nothing_before_its_time(
    machine: Machine, given_work: tuple[list[Stroke], list[tuple[int, int]]]
) -> None:
    strokes, before = given_work
    toolpath = sequence(strokes, before, machine, (7.0, 3.0))
    moves = toolpath.moves

    order = order_of(toolpath)
    assert sorted(order) == list(range(len(strokes)))
    position = {source: k for k, source in enumerate(order)}
    assert all(position[i] < position[j] for i, j in before)
    phases = [strokes[source].phase for source in order]
    assert phases == sorted(phases)

    for stroke in strokes:
        own = moves["source"] == stroke.source
        assert toolpath.lengths_mm[own].sum() == pytest.approx(burned_mm(stroke), abs=1e-6)
        assert np.all(moves["power"][own] == stroke.power)
        assert np.all(moves["speed_mm_s"][own] == stroke.speed_mm_s)

    travel = moves["kind"] == MoveKind.TRAVEL
    assert np.all(moves["power"][travel] == 0.0)
    assert np.all(moves["source"][travel] == -1)
    assert np.all(toolpath.lengths_mm[travel] > 0.0)
    assert not np.any(travel[:-1] & travel[1:])
    assert toolpath.start_mm == (7.0, 3.0)


@settings(max_examples=30)
@given(work())
def test_burns_lie_on_their_strokes(
    machine: Machine, given_work: tuple[list[Stroke], list[tuple[int, int]]]
) -> None:
    """Every straight piece is burned as often as there are passes; hence travels join them.

    A closed line may be entered within a piece, which then is burned as two.
    """
    strokes, before = given_work
    toolpath = sequence(strokes, before, machine)
    ends = np.hstack([toolpath.points[:-1], toolpath.points[1:]])
    for stroke in strokes:
        along = stroke.block.points if stroke.block is not None else stroke.path.line
        wanted = np.hstack([along[:-1], along[1:]])
        burned = ends[toolpath.moves["source"] == stroke.source]
        if stroke.path.closed and np.hypot(*(burned[0, :2] - burned[-1, 2:])) <= LENGTH_ZERO_MM:
            # no travel is made where the beam stands at the entry but for rounding
            burned[0, :2] = burned[-1, 2:]
        pieces = _pieces(burned)
        assert any(
            pieces == sorted(_pieces(divided) * stroke.passes)
            for divided in _entered(wanted, burned[0, :2])
        )


def _entered(wanted: np.ndarray, entry: np.ndarray) -> list[np.ndarray]:
    """The pieces as they are, and with each one divided on which the entry lies."""
    found = [wanted]
    for k, piece in enumerate(wanted):
        there, back = entry - piece[:2], piece[2:] - entry
        away = abs(there[0] * back[1] - there[1] * back[0]) / max(np.hypot(*(there + back)), 1e-9)
        if away < 1e-6 and there @ back > 0.0:
            halves = [[*piece[:2], *entry], [*entry, *piece[2:]]]
            found.append(np.vstack([np.delete(wanted, k, axis=0), halves]))
    return found


def _pieces(ends: np.ndarray) -> list[tuple[tuple[float, ...], ...]]:
    """Pieces without direction, to the nanometre."""
    rows = np.round(ends, 6) + 0.0
    return sorted(tuple(sorted((tuple(r[:2]), tuple(r[2:])))) for r in rows.tolist())


@settings(max_examples=25)
@given(work())
def test_same_result_at_every_run(
    machine: Machine, given_work: tuple[list[Stroke], list[tuple[int, int]]]
) -> None:
    strokes, before = given_work
    first = sequence(strokes, before, machine)
    assert np.array_equal(first.moves, sequence(strokes, before, machine).moves)


@settings(max_examples=25)
@given(work(), st.data())
def test_circle_is_refused(
    machine: Machine,
    given_work: tuple[list[Stroke], list[tuple[int, int]]],
    data: st.DataObject,
) -> None:
    strokes, before = given_work
    strokes = [*strokes, *(line([(0, 0), (1, 0)], len(strokes) + k) for k in range(3))]
    members = data.draw(st.permutations(range(len(strokes) - 3, len(strokes))))
    circle = [*itertools.pairwise(members), (members[-1], members[0])]
    with pytest.raises(ValueError, match="circle"):
        sequence(strokes, [*before, *circle], machine)


def test_contradictions_are_refused(machine: Machine) -> None:
    cut, mark = line([(0, 0), (1, 0)], 0), line([(5, 0), (6, 0)], 1, phase=1)
    with pytest.raises(ValueError, match="circle"):
        sequence([cut], [(0, 0)], machine)
    with pytest.raises(ValueError, match="earlier phase"):
        sequence([cut, mark], [(0, 1)], machine)
    for pair in ((0, 2), (-1, 0)):
        with pytest.raises(ValueError, match="not there"):
            sequence([cut, mark], [pair], machine)
    with pytest.raises(ValueError, match="no points"):
        sequence([line(np.empty((0, 2)), 0)], [], machine)
    with pytest.raises(ValueError, match="no passes"):
        sequence([line([(0, 0), (1, 0)], 0, passes=0)], [], machine)


def test_nothing_to_burn(machine: Machine) -> None:
    assert len(sequence([], [], machine, (4.0, 5.0))) == 0
    assert sequence([], [], machine, (4.0, 5.0)).end_mm == (4.0, 5.0)
    assert len(sequence([block([(9, 9)], 0)], [], machine)) == 0


def test_one_stroke_is_entered_at_its_near_end(machine: Machine) -> None:
    toolpath = sequence([line([(50, 0), (10, 0)], 0)], [], machine)
    assert toolpath.points.tolist() == [[0, 0], [10, 0], [50, 0]]


def test_closed_stroke_is_entered_at_its_near_corner(machine: Machine) -> None:
    square = line([(50, 50), (90, 50), (90, 90), (50, 90)], 0, closed=True, passes=2)
    toolpath = sequence([square], [], machine, (100.0, 100.0))
    assert toolpath.points[1].tolist() == [90, 90]
    assert toolpath.end_mm == (90, 90)


def test_even_passes_end_where_they_began(machine: Machine) -> None:
    toolpath = sequence([line([(10, 0), (20, 0), (20, 5)], 0, passes=2)], [], machine)
    there_and_back = [[0, 0], [10, 0], [20, 0], [20, 5], [20, 0], [10, 0]]
    assert toolpath.points.tolist() == there_and_back


@pytest.mark.parametrize("closed", [False, True])
def test_dot_is_kept_as_a_burn_without_length(machine: Machine, closed: bool) -> None:
    toolpath = sequence([line([(3, 4)], 7, closed=closed, passes=3)], [], machine)
    assert toolpath.moves["source"].tolist() == [-1, 7]
    assert toolpath.end_mm == (3, 4)


def test_closed_stroke_of_two_points_goes_there_and_back(machine: Machine) -> None:
    toolpath = sequence([line([(3, 0), (5, 0)], 0, closed=True)], [], machine)
    assert toolpath.points.tolist() == [[0, 0], [3, 0], [5, 0], [3, 0]]


def test_strokes_that_meet_need_no_travel(machine: Machine) -> None:
    strokes = [line([(k, 0), (k + 1, 0)], k) for k in (3, 0, 2, 1)]
    toolpath = sequence(strokes, [], machine)
    assert toolpath.moves["source"].tolist() == [0, 1, 2, 3]


def test_pairs_said_twice_count_once(machine: Machine) -> None:
    strokes = [line([(10 * k, 0), (10 * k + 1, 0)], k) for k in range(3)]
    pairs = [(2, 0), (2, 0), (1, 0), (2, 1), (2, 1)]
    assert order_of(sequence(strokes, pairs, machine)) == [2, 1, 0]


def test_block_is_never_turned_round(machine: Machine) -> None:
    toolpath = sequence([block([(90, 0), (50, 1), (10, 0)], 0)], [], machine)
    assert toolpath.points.tolist() == [[0, 0], [90, 0], [50, 1], [10, 0]]


@settings(max_examples=30)
@given(st.data())
def test_rings_are_cut_from_the_inside(machine: Machine, data: st.DataObject) -> None:
    nests = data.draw(st.lists(st.integers(1, 5), min_size=1, max_size=6))
    strokes: list[Stroke] = []
    before: list[tuple[int, int]] = []
    for rings in nests:
        x, y = data.draw(coordinates)
        inner = len(strokes)
        strokes += [ring(x, y, 5.0 * (k + 1), inner + k) for k in range(rings)]
        before += [(inner + k, inner + k + 1) for k in range(rings - 1)]
    order = order_of(sequence(strokes, before, machine))
    assert sorted(order) == list(range(len(strokes)))
    assert all(order.index(i) < order.index(j) for i, j in before)


@pytest.mark.parametrize("speeds", [(1000.0, 1000.0), (1200.0, 300.0)])
@pytest.mark.parametrize("accelerations", [(3100.0, 3100.0), (900.0, 6000.0)])
def test_travel_metric_is_the_clock(
    make_machine: Callable[..., Machine],
    speeds: tuple[float, float],
    accelerations: tuple[float, float],
) -> None:
    limits = AxisLimits(speed_mm_s=speeds, acceleration_mm_s2=accelerations)
    machine = make_machine(travel=limits)
    rng = np.random.default_rng(4)
    for ax, ay, bx, by in [*rng.uniform(0.0, 600.0, (40, 4)), (0, 0, 9, 0), (0, 0, 0, 900)]:
        expected = clock_s((ax, ay), (bx, by), machine)
        assert travel_s(ax, ay, bx, by, axes_of(machine)) == pytest.approx(expected, rel=1e-9)
        toolpath = sequence([line([(bx, by)], 0)], [], machine, (float(ax), float(ay)))
        assert time_toolpath(toolpath, machine).total_s == pytest.approx(expected, rel=1e-9)
    assert travel_s(1.0, 2.0, 1.0, 2.0, axes_of(machine)) == 0.0


@settings(max_examples=40)
@given(work())
def test_travel_is_never_slower_than_cheapest_next(
    machine: Machine, given_work: tuple[list[Stroke], list[tuple[int, int]]]
) -> None:
    strokes, before = given_work
    # within one phase: another end of one phase is another start of the next
    strokes = [stroke for stroke in strokes if stroke.phase == 2]
    number = {stroke.source: k for k, stroke in enumerate(strokes)}
    before = [(number[i], number[j]) for i, j in before if i in number and j in number]
    if not strokes:
        return
    travel = Travel(np.zeros(2), axes_of(machine))
    options = Options.of(strokes)
    pairs = np.array(before, dtype=np.int64).reshape(-1, 2)
    tour = construct(
        options.ways, precedence_of(pairs, np.arange(len(strokes)), len(strokes)), travel
    )
    ours = travel_of(sequence(strokes, before, machine), machine)
    assert ours <= tour_s(tour, options.ways, travel) + 1e-9


@pytest.mark.parametrize("n", [2, 3, 4, 5, 6])
def test_few_strokes_are_near_the_best_order(machine: Machine, n: int) -> None:
    rng = np.random.default_rng(n)
    axes = axes_of(machine)
    for _ in range(12):
        a = rng.uniform(0.0, 300.0, (n, 2))
        b = a + rng.uniform(-20.0, 20.0, (n, 2))
        ours = travel_of(sequence([line([a[k], b[k]], k) for k in range(n)], [], machine), machine)
        assert ours <= 1.1 * best_s(list(zip(a, b, strict=True)), axes)


def best_s(ends: list[tuple[np.ndarray, np.ndarray]], axes: np.ndarray) -> float:
    """Shortest travel of all orders, each with the best directions."""
    n = len(ends)
    leg = {
        (i, out, j, into): travel_s(*ends[i][out], *ends[j][into], axes)
        for i, j in itertools.permutations(range(n), 2)
        for out in (0, 1)
        for into in (0, 1)
    }
    first = {
        (j, into): travel_s(0.0, 0.0, *ends[j][into], axes) for j in range(n) for into in (0, 1)
    }
    best = np.inf
    for order in itertools.permutations(range(n)):
        # seconds until stroke is left at its end 0 or 1
        left = [first[order[0], 1], first[order[0], 0]]
        for i, j in itertools.pairwise(order):
            left = [min(left[out] + leg[i, out, j, 1 - at] for out in (0, 1)) for at in (0, 1)]
        best = min(best, *left)
    return float(best)
