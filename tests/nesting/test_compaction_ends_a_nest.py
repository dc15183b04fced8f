"""A filling is drawn together to the left, and takes what was left over into the room won."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from shapely import MultiPolygon, Polygon, box

from kerfwright.nesting.board import kind_of
from kerfwright.nesting.drawn_together import drawn_together
from kerfwright.nesting.job import FilledSheet, Filling, Job
from kerfwright.nesting.mending import is_legal
from kerfwright.nesting.model import Body, Placement, SheetSize
from kerfwright.nesting.swaps import board_with

SHEET = SheetSize("board", 120.0, 60.0, 1)


def job_of(bodies: tuple[Body, ...], sheet: SheetSize = SHEET) -> Job:
    kinds = [
        kind_of(i, MultiPolygon(body.footprint), body.turns_deg, 2.0)
        for i, body in enumerate(bodies)
    ]
    wanted = Counter({i: body.quantity for i, body in enumerate(bodies)})
    return Job(bodies, tuple(kinds), wanted, (sheet,), 2.0, 5.0)


def filling_of(job: Job, placements: tuple[Placement, ...]) -> Filling:
    empty = FilledSheet(SHEET, job.board(SHEET))
    left = job.wanted - Counter(p.body for p in placements)
    return Filling.of(job, [board_with(job, empty, placements)], left)


def never() -> bool:
    return False


def test_loose_parts_come_together() -> None:
    triangle = Polygon([(0, 0), (40, 0), (40, 50)])
    bodies = (Body("triangle", (triangle,), 2, (0.0, 180.0)),)
    job = job_of(bodies)
    loose = filling_of(job, (Placement(0, 0.0, 5.0, 5.0), Placement(0, 180.0, 112.0, 55.0)))
    drawn = drawn_together(job, loose, seconds=5.0, stop=never)
    assert drawn.rank < loose.rank
    assert is_legal(job, drawn)


def test_what_was_left_over_goes_into_the_room_won() -> None:
    bodies = (Body("plate", (box(0, 0, 30, 50),), 3, (0.0,)),)
    job = job_of(bodies)
    # 14 mm to the left of the first and 26 between: only together is there room for a third
    loose = filling_of(job, (Placement(0, 0.0, 19.0, 5.0), Placement(0, 0.0, 70.0, 5.0)))
    assert loose.left.total() == 1
    drawn = drawn_together(job, loose, seconds=5.0, stop=never)
    assert drawn.left.total() == 0
    assert is_legal(job, drawn)


def test_what_lies_on_the_last_sheet_goes_into_the_room_won() -> None:
    bodies = (Body("plate", (box(0, 0, 30, 50),), 4, (0.0,)),)
    sheet = replace(SHEET, count=2)
    job = job_of(bodies, sheet)
    empty = FilledSheet(sheet, job.board(sheet))
    loose = (Placement(0, 0.0, 19.0, 5.0), Placement(0, 0.0, 70.0, 5.0))
    last = (Placement(0, 0.0, 5.0, 5.0), Placement(0, 0.0, 37.0, 5.0))
    two = Filling.of(job, [board_with(job, empty, lying) for lying in (loose, last)], Counter())
    drawn = drawn_together(job, two, seconds=5.0, stop=never)
    assert [len(filled.placements) for filled in drawn.sheets] == [3, 1]
    assert is_legal(job, drawn)


@pytest.mark.parametrize("stopped", [True, False])
def test_what_cannot_get_better_stays(stopped: bool) -> None:
    bodies = (Body("plate", (box(0, 0, 30, 50),), 2, (0.0,)),)
    job = job_of(bodies)
    tight = filling_of(job, (Placement(0, 0.0, 5.0, 5.0), Placement(0, 0.0, 37.0, 5.0)))
    assert drawn_together(job, tight, seconds=5.0, stop=lambda: stopped) is tight
