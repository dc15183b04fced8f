"""Rows that burn while they speed up and slow down, with as much less power."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, box

import planned_square as tile
from engraved_shapes import disc
from kerfwright.engraving.burn import Burn, burn_of, row_motion
from kerfwright.engraving.choose import EngravedArea, engrave
from kerfwright.engraving.parts import LayerArea, PartEngraver
from kerfwright.engraving.row_ramps import with_row_ramps
from kerfwright.engraving.scan import scan
from kerfwright.findings import Finding
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.motion.trace import trace_of
from kerfwright.output.gcode import gcode_lines
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.sequence.engraved import EngravedPart, engraving_findings
from kerfwright.shop.machine import AxisLimits, Controller, Dialect, Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Process, Toolpath, join

A = 16000.0
V = 1000.0
FAST_HEAD = AxisLimits(speed_mm_s=(V, V), acceleration_mm_s2=(A, A))
HOLDS_POWER = Controller(dialect=Dialect.RS274_NGC)


def burn(slowest: float) -> Burn:
    return Burn(V, 0.6, 0.1, 0.12, 0, slowest=slowest)


def recipe(slowest: float, corner_power: float | None = None) -> Recipe:
    return Recipe(
        machine="trial machine",
        process="engrave",
        speed_mm_s=V,
        power=0.6,
        interval_mm=0.1,
        slowest_row=slowest,
        corner_power=corner_power,
    )


def speeds_on_rows(toolpath: Toolpath, machine: Machine) -> tuple[np.ndarray, np.ndarray]:
    """Speed at both ends of every stretch of a row, by the clock."""
    trace = trace_of(toolpath, machine)
    on = (toolpath.moves["kind"][trace.move] == MoveKind.ROW) & (trace.length_mm > 0.0)
    return trace.start_mm_s[on], trace.end_mm_s[on]


@pytest.mark.parametrize("slowest", [0.1, 0.25, 0.6])
@pytest.mark.parametrize("side_mm", [4.0, 20.0, 60.0, 150.0])
def test_a_row_takes_what_constant_acceleration_takes(
    side_mm: float, slowest: float, make_machine: Callable[..., Machine]
) -> None:
    """From rest to rest over L and both run-ups of u² / 2a: 2·√((L + u² / a) / a), or, where
    the speed v is reached, (L + u² / a) / v + v / a (SUVAT, any textbook of mechanics); rows meet
    where they turn round, steps between them take 4 % at most.
    """
    machine = make_machine(scanning=FAST_HEAD)
    area = as_area(box(100.0, 100.0, 100.0 + side_mm, 120.0))
    drawn_in_mm = 2.0 * np.sqrt(0.06**2 - 0.05**2)  # round ends of neighbours cross on the edge
    way_mm = side_mm - drawn_in_mm + (slowest * V) ** 2 / A
    row_s = 2.0 * np.sqrt(way_mm / A) if way_mm < V * V / A else way_mm / V + V / A
    found = scan(area, burn(slowest), machine)
    assert 0.99 * 200 * row_s < found.seconds < 1.05 * 200 * row_s
    motion = row_motion(machine, burn(slowest), 0.0)
    by_form = 200 * float(motion.row_s(np.array(side_mm - drawn_in_mm)))
    assert found.seconds == pytest.approx(by_form, rel=0.02)


def test_half_of_the_turns_time_is_saved_on_long_rows(
    make_machine: Callable[..., Machine],
) -> None:
    """A steady row of L takes L / v + 2·v / a, one burned from rest on L / v + v / a."""
    machine = make_machine(scanning=FAST_HEAD)
    area = as_area(box(100.0, 100.0, 300.0, 110.0))
    steady, ramped = (scan(area, burn(share), machine).seconds for share in (1.0, 0.02))
    assert (steady - ramped) / 100 == pytest.approx(V / A, rel=0.05)


@settings(max_examples=25)
@given(
    slowest=st.floats(0.05, 0.95),
    radii_mm=st.lists(st.floats(1.0, 25.0), min_size=1, max_size=4),
    angle_deg=st.sampled_from([0.0, 30.0, 45.0, 90.0]),
    one_way=st.booleans(),
)
def test_no_burn_is_slower_than_allowed_and_all_takes_less(
    slowest: float,
    radii_mm: list[float],
    angle_deg: float,
    one_way: bool,
    make_machine: Callable[..., Machine],
) -> None:
    machine = make_machine(scanning=FAST_HEAD)
    area = as_area(
        MultiPolygon([Point(100.0 + 60.0 * k, 200.0).buffer(r) for k, r in enumerate(radii_mm)])
    )
    steady, ramped = (
        Burn(V, 0.6, 0.1, 0.12, 0, slowest=share, one_way=one_way) for share in (1.0, slowest)
    )
    plain = scan(area, steady, machine, angle_deg=angle_deg)
    found = scan(area, ramped, machine, angle_deg=angle_deg)
    made = found.toolpath
    begin, end = speeds_on_rows(made, machine)
    assert min(begin.min(), end.min()) >= 0.999 * slowest * V
    assert made.lengths_mm[made.burning].sum() == pytest.approx(
        plain.toolpath.lengths_mm[plain.toolpath.burning].sum()
    )
    assert found.seconds <= 1.001 * plain.seconds


@given(slowest=st.floats(0.05, 0.95), corner_power=st.sampled_from([None, 0.0, 0.3]))
@settings(max_examples=25)
def test_every_piece_of_a_row_has_the_power_of_its_speed(
    slowest: float, corner_power: float | None, make_machine: Callable[..., Machine]
) -> None:
    machine = make_machine(scanning=FAST_HEAD, controller=HOLDS_POWER)
    wanted = recipe(slowest, corner_power)
    whole = scan(disc(12.0), burn_of(wanted, machine, 0), machine).toolpath
    made = with_row_ramps(whole, wanted, machine)
    assert time_toolpath(made, machine).total_s == pytest.approx(
        time_toolpath(whole, machine).total_s, rel=2e-3
    )
    assert made.lengths_mm.sum() == pytest.approx(whole.lengths_mm.sum())
    rows = np.flatnonzero(made.moves["kind"] == MoveKind.ROW)
    mean_mm_s = made.lengths_mm[rows] / move_times_s(made, machine)[rows]
    standstill = corner_power or 0.0
    right = 0.6 * (standstill + (1.0 - standstill) * mean_mm_s / V)
    assert made.moves["power"][rows] == pytest.approx(right, rel=0.01)
    assert (made.moves["power"][made.moves["kind"] != MoveKind.ROW] == 0.0).all()


def test_a_controller_that_lowers_the_power_itself_gets_whole_rows_unless_they_are_shifted(
    make_machine: Callable[..., Machine],
) -> None:
    wanted = recipe(0.2)
    plain = make_machine(scanning=FAST_HEAD)
    whole = scan(disc(12.0), burn_of(wanted, plain, 0), plain).toolpath
    assert with_row_ramps(whole, wanted, plain) is whole
    shifting = make_machine(scanning=FAST_HEAD, reversal_shift_mm=((200.0, 0.04), (V, 0.2)))
    made = with_row_ramps(whole, wanted, shifting)
    rows = made.moves["kind"] == MoveKind.ROW
    ends = np.flatnonzero(rows[1:] & ~rows[:-1]) + 1
    # a row's ends are shifted as at the speed that they have, the middle as at a higher one
    assert made.moves["speed_mm_s"][ends].max() < 0.45 * V
    assert made.moves["speed_mm_s"][rows].max() > 0.5 * V
    assert made.moves["power"][rows] == pytest.approx(0.6 * made.moves["speed_mm_s"][rows] / V)


def test_without_the_key_every_row_has_the_recipes_speed_and_power() -> None:
    machine = tile.machine(Dialect.GRBL_TYPE)
    made = scan(as_area(box(*tile.ENGRAVED)), burn_of(tile.ENGRAVE, machine, 0), machine).toolpath
    assert set(made.moves["speed_mm_s"][made.burning]) == {tile.ENGRAVE.speed_mm_s}
    assert set(made.moves["power"][made.burning]) == {tile.ENGRAVE.power}
    assert with_row_ramps(made, tile.ENGRAVE, machine) is made


def test_slopes_keep_their_own_powers(make_machine: Callable[..., Machine]) -> None:
    sloping = recipe(0.2).model_copy(update={"shoulder_mm": 1.0, "invert": True})
    machine = make_machine(scanning=FAST_HEAD)
    whole = scan(disc(12.0), burn_of(sloping, machine, 0), machine).toolpath
    begin, end = speeds_on_rows(whole, machine)
    assert [begin.min(), end.min()] == pytest.approx([V, V])
    assert with_row_ramps(whole, sloping, machine) is whole


def test_mixed_ways_and_loops_gain_by_it_too(make_machine: Callable[..., Machine]) -> None:
    machine = make_machine(scanning=FAST_HEAD)
    frame = as_area(box(100, 100, 300, 200).difference(box(106, 106, 294, 194)))
    steady, ramped = (
        engrave(frame, recipe(share), machine, source=0).times_s for share in (1.0, 0.1)
    )
    assert all(ramped[way] <= steady[way] + 1e-6 for way in steady)
    assert ramped["mixed"] < 0.8 * steady["mixed"]


def test_steady_rows_say_what_ramps_would_take(make_machine: Callable[..., Machine]) -> None:
    machine = make_machine(scanning=FAST_HEAD)
    thrice = recipe(1.0).model_copy(update={"passes": 3})
    allowing = thrice.model_copy(update={"slowest_row": 0.3})
    square, bar = as_area(box(100, 100, 150, 150)), as_area(box(100, 100, 800, 150))
    steady = engrave(square, thrice, machine, source=0)
    ramped = engrave(square, allowing, machine, source=0)
    assert steady.ramped_s == pytest.approx(ramped.times_s["scan"], rel=0.01)
    assert steady.ramped_s is not None
    assert steady.ramped_s < 0.8 * steady.times_s["scan"]
    assert ramped.ramped_s is None
    assert engrave(bar, thrice, machine, source=0).ramped_s is None


def test_an_item_that_gains_much_is_told_once(make_machine: Callable[..., Machine]) -> None:
    machine = make_machine(scanning=FAST_HEAD)
    area = as_area(box(100, 100, 120, 140))
    works = {share: engrave(area, recipe(share), machine, source=0) for share in (1.0, 0.3)}

    def told(work: EngravedArea, copies: int) -> list[Finding]:
        parts = [EngravedPart("tokens", "engrave", area, 0.0, work, "fastest")] * copies
        return [f for f in engraving_findings(parts) if f.code == "engraving/slower-rows"]

    few, many = (int(share * 60.0 / works[1.0].times_s["mixed"]) for share in (0.9, 5.0))
    assert told(works[1.0], few) == []
    (finding,) = told(works[1.0], many)
    assert finding.drawing == "tokens"
    assert f"instead of {many * works[1.0].times_s['mixed']:.0f} s" in finding.what
    assert f"would take {many * works[0.3].times_s['scan']:.0f} s" in finding.what
    assert "slowest_row = 0.3" in finding.remedy
    assert told(works[0.3], 1000) == []


@pytest.mark.parametrize("dialect", list(Dialect))
@pytest.mark.parametrize("shifts", [(), ((100.0, 0.02), (400.0, 0.1))])
def test_planned_ramps_are_proven_and_a_wrong_power_is_not(
    dialect: Dialect, shifts: tuple[tuple[float, float], ...]
) -> None:
    machine = tile.machine(dialect).model_copy(update={"reversal_shift_mm": shifts})
    ramped: Recipe = tile.ENGRAVE.model_copy(update={"slowest_row": 0.3})
    layer = LayerArea("engrave", as_area(box(*tile.ENGRAVED)), 0.0)
    work = PartEngraver(ramped, machine).engrave(layer, way="scan", source=0, same=("tile",))
    there = tile.travel(*work.toolpath.start_mm)
    rest = [tile.score(), tile.loop(tile.HOLE_CUT), tile.loop(tile.OUTLINE_CUT)]
    recipes = {**tile.RECIPES, Process.ENGRAVE: ramped}
    for change, proven in ((1.0, True), (0.6, False)):
        moves = work.toolpath.moves.copy()
        moves["power"] *= change
        sheet = tile.sheet(join([there, moves, *rest]), recipes=recipes)
        lines = list(gcode_lines(sheet, machine))
        assert (verify(interpret(lines, machine), sheet, machine) == ()) == proven


@pytest.mark.parametrize("dialect", list(Dialect))
def test_program_is_proven_only_where_power_goes_with_the_speed(dialect: Dialect) -> None:
    machine = tile.machine(dialect)
    slow: Recipe = tile.ENGRAVE.model_copy(update={"slowest_row": 0.5})
    for speed, power, right in (
        (1.0, 1.0, True),
        (0.5, 0.5, True),
        (0.7, 0.7, True),
        (0.5, 1.0, False),
        (1.0, 0.5, False),
        (0.4, 0.4, False),
    ):
        changed = tile.sheet().toolpath.moves.copy()
        rows = np.flatnonzero(changed["kind"] == MoveKind.ROW)[::2]
        changed["speed_mm_s"][rows] *= speed
        changed["power"][rows] *= power
        sheet = tile.sheet(changed, recipes={**tile.RECIPES, tile.Process.ENGRAVE: slow})
        lines = list(gcode_lines(sheet, machine))
        assert (verify(interpret(lines, machine), sheet, machine) == ()) == right, (speed, power)
