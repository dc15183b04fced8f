"""The work of a sheet part by part: each part's marks and cuts together."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.cutting.cuts import CutWork
from kerfwright.geometry.paths import Path
from kerfwright.motion.timing import time_toolpath
from kerfwright.parts.model import Part
from kerfwright.sequence.part_by_part import in_order_by_part
from kerfwright.sequence.work_order import sheet_work
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import CUT_PHASE, BurnSource, Process, Stroke
from ordered_strokes import block, line, order_of, ring

MARK = 0


def sheet(parts: int, seed: int) -> tuple[list[Stroke], list[tuple[int, int]], list[int]]:
    """Parts of a mark, one to three holes and an outline; some lie in the holes of others."""
    rng = np.random.default_rng(seed)
    strokes: list[Stroke] = []
    before: list[tuple[int, int]] = []
    part_of: list[int] = []
    for part in range(parts):
        x, y = rng.uniform(0.0, 500.0, 2)
        phase = CUT_PHASE + int(rng.integers(0, 3))
        first = len(strokes)
        strokes.append(block([(x - 3, y), (x + 3, y)], first, phase=MARK))
        holes = int(rng.integers(1, 4))
        for hole in range(holes):
            place = x + 4.0 * hole - 4.0, y + 5.0
            strokes.append(line([place, (place[0] + 2.0, place[1])], len(strokes), phase=phase))
        outline = ring(x, y, 12.0, len(strokes)).path.points
        strokes.append(line(outline, len(strokes), closed=True, phase=phase))
        before += [(first + 1 + hole, len(strokes) - 1) for hole in range(holes)]
        part_of += [part] * (holes + 2)
    return strokes, before, part_of


@settings(max_examples=25)
@given(st.integers(1, 12), st.integers(0, 1000))
def test_each_part_is_finished_before_the_next(machine: Machine, parts: int, seed: int) -> None:
    strokes, before, part_of = sheet(parts, seed)
    done = in_order_by_part(strokes, before, part_of, machine, (1.0, 2.0))
    order = order_of(done.toolpath)
    assert sorted(order) == list(range(len(strokes)))
    assert len([part for part, _ in itertools.groupby(order, key=part_of.__getitem__)]) == parts
    position = {source: k for k, source in enumerate(order)}
    assert all(position[i] < position[j] for i, j in before)
    for _, of_part in itertools.groupby(order, key=part_of.__getitem__):
        phases = [strokes[source].phase for source in of_part]
        assert phases == sorted(phases)
    assert done.toolpath.start_mm == (1.0, 2.0)
    for number, (first, end) in enumerate(done.spans):
        assert set(done.toolpath.moves["source"][first:end]) == {number}


@settings(max_examples=25)
@given(st.integers(2, 12), st.integers(0, 1000))
def test_parts_in_holes_come_first(machine: Machine, parts: int, seed: int) -> None:
    """A part's cuts have a later phase than those of the parts in its holes."""
    strokes, before, part_of = sheet(parts, seed)
    order = order_of(in_order_by_part(strokes, before, part_of, machine).toolpath)
    cuts = [strokes[source].phase for source in order if strokes[source].phase >= CUT_PHASE]
    assert cuts == sorted(cuts)


def test_parts_that_depend_on_one_another_are_worked_as_one(machine: Machine) -> None:
    strokes, before, part_of = sheet(2, 1)
    strokes = [
        line(s.path.points, s.source, closed=s.path.closed, phase=min(s.phase, 2)) for s in strokes
    ]
    cuts = [k for k, stroke in enumerate(strokes) if stroke.phase == CUT_PHASE]
    across = [(cuts[0], cuts[-1]), (next(k for k in cuts if part_of[k] == 1), cuts[1])]
    order = order_of(in_order_by_part(strokes, [*before, *across], part_of, machine).toolpath)
    position = {source: k for k, source in enumerate(order)}
    assert all(position[i] < position[j] for i, j in [*before, *across])
    marks = [k for k, stroke in enumerate(strokes) if stroke.phase == MARK]
    assert max(position[k] for k in marks) < min(position[k] for k in cuts)


def part(name: str, x_mm: float) -> Part:
    corners = [(x_mm, 0.0), (x_mm + 30.0, 0.0), (x_mm + 30.0, 30.0), (x_mm, 30.0)]
    return Part(name=name, drawing="", outline=Path(np.array(corners), closed=True))


def marked_parts(*places_mm: float) -> tuple[list[Stroke], CutWork, list[tuple[Part, int]], list]:
    parts = [(part("tile", x), copy) for copy, x in enumerate(places_mm, 1)]
    sources = [BurnSource("tile", copy, Process.SCORE) for _, copy in parts]
    sources += [BurnSource("tile", copy, Process.CUT) for _, copy in parts]
    marks = [
        Stroke(**{**fields(line([(x + 5, 9), (x + 25, 9)], k, phase=1)), "process": Process.SCORE})
        for k, x in enumerate(places_mm)
    ]
    cuts = tuple(
        line(one.outline.points, len(parts) + k, closed=True) for k, (one, _) in enumerate(parts)
    )
    return marks, CutWork(cuts, (), (), 0.0, 0.0, 0.0), parts, sources


def fields(stroke: Stroke) -> dict[str, object]:
    return {name: getattr(stroke, name) for name in Stroke.__slots__}


def test_parts_that_may_share_edges_are_worked_as_one() -> None:
    work = sheet_work(*marked_parts(0.0, 30.2, 100.0), shared_mm=0.2)
    assert work.part_of[0] == work.part_of[1] != work.part_of[2]
    assert work.part_of[:3] == work.part_of[3:]
    apart = sheet_work(*marked_parts(0.0, 32.0, 100.0), shared_mm=0.2)
    assert len(set(apart.part_of)) == 3


@pytest.mark.parametrize("way", ["process", "part"])
def test_both_orders_are_timed(machine: Machine, way: str) -> None:
    work = sheet_work(*marked_parts(0.0, 50.0, 100.0), shared_mm=0.2)
    taken_s = time_toolpath(work.ordered(machine, way, None).toolpath, machine).total_s
    decision = work.decision(machine, way, None, taken_s, "sheet 1")
    assert decision is not None
    assert decision.chosen == {"process": "process by process", "part": "part by part"}[way]
    other = {"process": "part", "part": "process"}[way]
    times = {one.way: one.time_s for one in decision.alternatives}
    other_s = time_toolpath(work.ordered(machine, other, None).toolpath, machine).total_s
    assert times[decision.chosen] == taken_s
    assert sorted(times.values()) == sorted([taken_s, other_s])
    assert f'order_of_work = "{other}"' in decision.override


def test_nothing_to_choose_for_a_single_part_or_without_marks(machine: Machine) -> None:
    assert not sheet_work(*marked_parts(0.0), shared_mm=0.2).has_choice
    _, cut, parts, sources = marked_parts(0.0, 50.0)
    unmarked = sheet_work([], cut, parts, sources, 0.2)
    assert not unmarked.has_choice
    assert unmarked.decision(machine, "process", None, 1.0, "sheet 1") is None
