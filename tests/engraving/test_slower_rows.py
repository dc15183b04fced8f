"""Rows burned slower than the recipe's speed, with as much less power, where run-ups cost more."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, box

import planned_square as tile
from engraved_shapes import disc
from kerfwright.engraving.burn import Burn, burn_of
from kerfwright.engraving.scan import scan
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import move_times_s
from kerfwright.output.gcode import gcode_lines
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.shop.machine import AxisLimits, Dialect, Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind

A = 16000.0
V = 1000.0
FAST_HEAD = AxisLimits(speed_mm_s=(V, V), acceleration_mm_s2=(A, A))


def burn(slowest: float, standstill: float = 0.0) -> Burn:
    return Burn(V, 0.6, 0.1, 0.12, 0, slowest=slowest, standstill=standstill)


@pytest.mark.parametrize("side_mm", [4.0, 20.0, 60.0])
def test_a_row_takes_what_the_best_of_all_speeds_takes(
    side_mm: float, make_machine: Callable[..., Machine]
) -> None:
    """L / u + 2·u / a is least at u = √(a·L / 2), where it is 2·√(2·L / a): set its derivative
    to zero; the ladder of speeds misses that by no more than 1 %, steps between rows by 4 %.
    """
    machine = make_machine(scanning=FAST_HEAD)
    area = as_area(box(100.0, 100.0, 100.0 + side_mm, 120.0))
    rows = 200
    drawn_in_mm = 2.0 * np.sqrt(0.06**2 - 0.05**2)  # round ends of neighbours cross on the edge
    least_s = rows * 2.0 * np.sqrt(2.0 * (side_mm - drawn_in_mm) / A)
    found = scan(area, burn(0.1), machine)
    assert found.seconds == pytest.approx(least_s, rel=0.05)
    assert found.seconds > 0.99 * least_s
    speeds = np.unique(found.toolpath.moves["speed_mm_s"][found.toolpath.burning])
    assert speeds == pytest.approx([np.sqrt(A * side_mm / 2.0)], rel=0.13)


def test_rows_long_enough_for_the_recipes_speed_keep_it(
    make_machine: Callable[..., Machine],
) -> None:
    """Below L = 2·v² / a, here 125 mm, the best speed is less than v."""
    machine = make_machine(scanning=FAST_HEAD)
    for length_mm, slower in ((90.0, True), (140.0, False)):
        area = as_area(box(100.0, 100.0, 100.0 + length_mm, 102.0))
        made = scan(area, burn(0.5), machine).toolpath
        assert (made.moves["speed_mm_s"][made.burning] < V).all() == slower


@pytest.mark.parametrize(("standstill", "floor"), [(0.0, 0.3), (0.2, 0.3 + 0.7 * 0.2)])
def test_power_goes_down_as_much_as_the_speed(
    standstill: float, floor: float, make_machine: Callable[..., Machine]
) -> None:
    made = scan(disc(6.0), burn(0.3, standstill), make_machine(scanning=FAST_HEAD)).toolpath
    rows = made.moves["kind"] == MoveKind.ROW
    share = made.moves["speed_mm_s"][rows] / V
    assert share.min() == pytest.approx(0.3)
    assert share.max() < 1.0
    power = made.moves["power"][rows]
    assert power == pytest.approx(0.6 * (standstill + (1.0 - standstill) * share))
    assert power.min() == pytest.approx(0.6 * floor)
    assert (made.moves["power"][~rows] == 0.0).all()


@settings(max_examples=25)
@given(
    slowest=st.floats(0.05, 0.95),
    radii_mm=st.lists(st.floats(1.0, 25.0), min_size=1, max_size=4),
    angle_deg=st.sampled_from([0.0, 30.0, 45.0, 90.0]),
)
def test_every_burn_has_one_speed_no_slower_than_allowed_and_all_takes_less(
    slowest: float, radii_mm: list[float], angle_deg: float, make_machine: Callable[..., Machine]
) -> None:
    machine = make_machine(scanning=FAST_HEAD)
    area = as_area(
        MultiPolygon([Point(100.0 + 60.0 * k, 200.0).buffer(r) for k, r in enumerate(radii_mm)])
    )
    plain = scan(area, burn(1.0), machine, angle_deg=angle_deg)
    found = scan(area, burn(slowest), machine, angle_deg=angle_deg)
    made = found.toolpath
    assert made.moves["speed_mm_s"][made.burning].min() >= slowest * V - 1e-9
    burned = made.burning
    wanted_s = made.lengths_mm[burned] / made.moves["speed_mm_s"][burned]
    assert move_times_s(made, machine)[burned] == pytest.approx(wanted_s, rel=1e-3, abs=1e-6)
    assert made.lengths_mm[burned].sum() == pytest.approx(
        plain.toolpath.lengths_mm[plain.toolpath.burning].sum()
    )
    assert found.seconds <= 1.005 * plain.seconds


def test_without_the_key_every_row_has_the_recipes_speed_and_power() -> None:
    machine = tile.machine(Dialect.GRBL_TYPE)
    made = scan(as_area(box(*tile.ENGRAVED)), burn_of(tile.ENGRAVE, machine, 0), machine).toolpath
    assert set(made.moves["speed_mm_s"][made.burning]) == {tile.ENGRAVE.speed_mm_s}
    assert set(made.moves["power"][made.burning]) == {tile.ENGRAVE.power}


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
