"""Less power where loops slow down, on controllers that hold the power as it was set."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

import planned_square as tile
from kerfwright.engraving.burn import burn_of
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.corner_power import with_corner_power
from kerfwright.engraving.parts import LayerArea, PartEngraver
from kerfwright.engraving.scan import scan
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import time_toolpath
from kerfwright.output.gcode import gcode_lines
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.shop.machine import Dialect
from kerfwright.toolpath import MoveKind, Toolpath, moves_along

MACHINE = tile.machine(Dialect.RS274_NGC)
RECIPE = tile.ENGRAVE.model_copy(update={"corner_power": 0.2})
AREA = as_area(box(*tile.ENGRAVED))


def loops() -> Toolpath:
    return contour_parallel(AREA, burn_of(RECIPE, MACHINE, 0), MACHINE).toolpath


def test_power_on_a_straight_stroke_follows_the_trapezoid_of_its_speed() -> None:
    """t = sqrt(2 s / a) from rest, any handbook of motion; 400 mm/s after 26.7 mm at 3 m/s². A
    piece has the power of its mean speed, length over time, so that its energy is right.
    """
    ahead = np.array([[160.0, 10.0]])
    stroke = moves_along(ahead, kind=MoveKind.LOOP, speed_mm_s=400.0, power=0.35, source=0)
    lowered = with_corner_power(Toolpath(stroke, (10.0, 10.0)), RECIPE, MACHINE)
    x = lowered.points[:, 0]
    ramp_mm, ramp_s = 400.0**2 / 6000.0, 400.0 / 3000.0
    from_rest = np.minimum(x - 10.0, 160.0 - x)
    ramped_s = np.sqrt(2.0 * np.minimum(from_rest, ramp_mm) / 3000.0)
    half_s = ramped_s + np.maximum(from_rest - ramp_mm, 0.0) / 400.0
    whole_s = 2.0 * ramp_s + (150.0 - 2.0 * ramp_mm) / 400.0
    at_s = np.where(x - 10.0 < 75.0, half_s, whole_s - half_s)
    speed = np.diff(x) / np.diff(at_s)
    wanted = 0.35 * (0.2 + 0.8 * speed / 400.0)
    assert lowered.moves["power"] == pytest.approx(wanted, rel=1e-3)
    assert lowered.moves["power"].max() == pytest.approx(0.35, rel=0.01)
    assert lowered.moves["power"].min() < 0.15
    assert np.abs(np.diff(lowered.moves["power"])).max() <= 0.35 * 0.8 * 0.2


@given(share=st.floats(0.0, 1.0), speed_mm_s=st.floats(20.0, 900.0))
def test_power_lies_between_the_floor_and_full_and_the_way_is_the_same(
    share: float, speed_mm_s: float
) -> None:
    keys = {"corner_power": share, "speed_mm_s": speed_mm_s}
    plain = loops()
    lowered = with_corner_power(plain, RECIPE.model_copy(update=keys), MACHINE)
    looped = lowered.moves["kind"] == MoveKind.LOOP
    powers = lowered.moves["power"][looped]
    assert powers.min() >= 0.35 * share - 1e-12
    assert powers.max() <= 0.35 + 1e-12
    assert (lowered.moves["power"][~looped] == 0.0).all()
    assert lowered.lengths_mm.sum() == pytest.approx(plain.lengths_mm.sum(), rel=1e-9)
    assert lowered.end_mm == pytest.approx(plain.end_mm)
    on_the_way = {tuple(point) for point in lowered.points.round(9).tolist()}
    assert {tuple(point) for point in plain.points.round(9).tolist()} <= on_the_way


def test_cutting_moves_into_pieces_costs_next_to_no_time() -> None:
    plain = loops()
    lowered = with_corner_power(plain, RECIPE, MACHINE)
    assert len(lowered) > len(plain)
    plain_s = time_toolpath(plain, MACHINE).total_s
    assert time_toolpath(lowered, MACHINE).total_s == pytest.approx(plain_s, rel=0.01)


def test_only_loops_and_only_where_the_recipe_asks_and_the_controller_holds_the_power() -> None:
    plain = loops()
    assert with_corner_power(plain, tile.ENGRAVE, MACHINE) is plain
    assert with_corner_power(plain, RECIPE, tile.machine(Dialect.GRBL_TYPE)) is plain
    rows = scan(AREA, burn_of(RECIPE, MACHINE, 0), MACHINE).toolpath
    assert with_corner_power(rows, RECIPE, MACHINE) is rows


def test_a_controller_that_scales_the_power_itself_is_told_of() -> None:
    square = LayerArea("mark", AREA, 0.0)
    for dialect, codes in (
        (Dialect.GRBL_TYPE, {"engraving/corner-power-unused"}),
        (Dialect.RS274_NGC, set()),
    ):
        engraver = PartEngraver(RECIPE, tile.machine(dialect))
        work = engraver.engrave(square, way="contour-parallel", source=0, same=("a",))
        assert {f.code for f in work.findings} & {"engraving/corner-power-unused"} == codes
        powers = np.unique(work.toolpath.moves["power"][work.toolpath.burning])
        assert (len(powers) > 1) == (not codes)


def test_program_is_proven_between_the_floor_and_full_and_nowhere_below() -> None:
    planned = tile.sheet()
    moves = planned.toolpath.moves
    engraved = np.flatnonzero(moves["kind"] == MoveKind.ROW)
    for factor, right in ((1.0, True), (0.5, True), (0.2, True), (0.15, False), (1.2, False)):
        changed = moves.copy()
        changed["power"][engraved[::2]] *= factor
        sheet = tile.sheet(changed, recipes={**tile.RECIPES, tile.Process.ENGRAVE: RECIPE})
        lines = list(gcode_lines(sheet, MACHINE))
        assert (verify(interpret(lines, MACHINE), sheet, MACHINE) == ()) == right, factor
