"""The way from cell to cell, and run-ups of cells at different angles at the edge of the bed.

The best order is found here by trying every one; travel from rest to rest takes 2·√(d/a) by the
slower axis (any mechanics handbook).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box
from shapely.affinity import rotate, translate

from kerfwright.engraving.bed import keep_on_bed
from kerfwright.engraving.cell_links import linked, order_blocks
from kerfwright.engraving.choose import engrave
from kerfwright.geometry.regions import as_area
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Toolpath, moves_along

Point = tuple[float, float]


def block(start: Point, end: Point) -> Toolpath:
    moves = moves_along(np.array([end]), kind=MoveKind.ROW, speed_mm_s=500.0, power=0.5, source=0)
    return Toolpath(moves, start)


def both_ways(start: Point, end: Point) -> tuple[Toolpath, Toolpath]:
    return block(start, end), block(end, start)


def travel_s(toolpaths: list[Toolpath], machine: Machine) -> float:
    total = 0.0
    for one, after in itertools.pairwise(toolpaths):
        distance = np.abs(np.subtract(after.start_mm, one.end_mm)).max()
        total += 2.0 * np.sqrt(distance / machine.travel.acceleration_mm_s2[0])
    return total


@settings(max_examples=20)
@given(
    ends=st.lists(
        st.tuples(*[st.integers(0, 200).map(float)] * 4), min_size=1, max_size=5, unique=True
    )
)
def test_order_is_near_the_best_of_all_orders_and_ways_of_entering(
    ends: list[tuple[float, float, float, float]], machine: Machine
) -> None:
    blocks = [both_ways((x0, y0), (x1, y1)) for x0, y0, x1, y1 in ends]
    order = order_blocks(blocks, machine)
    assert sorted(number for number, _ in order) == list(range(len(blocks)))
    taken = travel_s([blocks[number][way] for number, way in order], machine)
    best = min(
        travel_s([blocks[number][way] for number, way in zip(turn, ways, strict=True)], machine)
        for turn in itertools.permutations(range(len(blocks)))
        for ways in itertools.product((0, 1), repeat=len(blocks))
    )
    assert taken <= 1.15 * best + 1e-9


def test_linked_blocks_keep_their_moves_and_travel_between_is_beam_off(machine: Machine) -> None:
    parts = [block((0.0, 0.0), (10.0, 0.0)), block((10.0, 50.0), (0.0, 50.0))]
    toolpath, spans = linked(parts, machine)
    assert spans == [(0, 1), (2, 3)]
    assert toolpath.moves["kind"].tolist() == [MoveKind.ROW, MoveKind.TRAVEL, MoveKind.ROW]
    assert toolpath.moves["power"].tolist() == [0.5, 0.0, 0.5]
    assert tuple(toolpath.points[2]) == (10.0, 50.0)


@pytest.mark.parametrize("turn_deg", [0.0, 30.0])
def test_run_ups_of_every_cell_stay_on_the_bed_along_its_own_rows(
    turn_deg: float, machine: Machine
) -> None:
    frame = box(0.0, 0.0, 300.0, 200.0).difference(box(6.0, 6.0, 294.0, 194.0))
    turned = rotate(frame, turn_deg, origin=(0.0, 0.0))
    x, y = turned.bounds[:2]
    area = as_area(translate(turned, -x, -y))
    recipe = Recipe(
        machine="trial machine", process="engrave", speed_mm_s=1000.0, power=0.5, interval_mm=0.3
    )
    work = engrave(area, recipe, machine, way="mixed", source=0)
    assert len({cell.angle_deg for cell in work.cells}) == 2
    assert work.toolpath.points.min() < -1.0
    kept, findings = keep_on_bed(work.toolpath, machine)
    assert kept.points.min() >= -1e-9
    assert [finding.code for finding in findings] == ["engraving/short-run-up"]
    rows = work.toolpath.moves["kind"] == MoveKind.ROW
    assert np.array_equal(kept.moves[kept.burning]["x_mm"], work.toolpath.moves[rows]["x_mm"])
    _run_ups_lie_along_their_rows(kept)


def _run_ups_lie_along_their_rows(toolpath: Toolpath) -> None:
    step = np.diff(toolpath.points, axis=0)
    kind = toolpath.moves["kind"]
    into = np.flatnonzero((kind[:-1] == MoveKind.RUN_UP) & (kind[1:] == MoveKind.ROW))
    across = step[into, 0] * step[into + 1, 1] - step[into, 1] * step[into + 1, 0]
    beside_mm = np.abs(across) / np.hypot(*step[into + 1].T)
    beside_mm = beside_mm[np.hypot(*step[into].T) > 0.3 + 1e-6]  # not a bare step to the next row
    assert len(beside_mm) > 0
    # a run-up may lean halfway towards the row before it
    assert beside_mm.max() <= 0.5 * 0.3 + 1e-6
