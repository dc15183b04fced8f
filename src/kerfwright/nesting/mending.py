"""The last step of every filling: the check, and what offends taken off and laid anew."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from kerfwright.nesting.check import LayoutFault, layout_faults
from kerfwright.nesting.fill import placed_on, top_up
from kerfwright.nesting.footprint import material
from kerfwright.nesting.job import FilledSheet, Filling, Job
from kerfwright.nesting.model import Layouts, SheetLayout
from kerfwright.nesting.swaps import board_with


def first_legal(job: Job, fillings: Sequence[Filling]) -> Layouts | None:
    """Layouts of the best filling that passes the check, as it is or mended; ``None`` if none."""
    waiting = [(filling.rank, number, filling) for number, filling in enumerate(fillings)]
    mended_ones: set[int] = set()
    while waiting:
        waiting.sort(key=lambda entry: entry[:2])
        _, number, filling = waiting.pop(0)
        faults = _faults(job, filling)
        if not faults:
            return layouts_of(job, filling)
        if number not in mended_ones and all(fault.placement is not None for fault in faults):
            mended_ones.add(number)
            mended = _without_offenders(job, filling, faults)
            waiting.append((mended.rank, number, mended))
    return None


def is_legal(job: Job, filling: Filling) -> bool:
    """Whether a filling passes the check as it is."""
    return not _faults(job, filling)


def _faults(job: Job, filling: Filling) -> tuple[LayoutFault, ...]:
    layouts = layouts_of(job, filling)
    return layout_faults(job.bodies, layouts, spacing_mm=job.spacing_mm, margin_mm=job.margin_mm)


def layouts_of(job: Job, filling: Filling) -> Layouts:
    """Return a filling as layouts, not checked."""
    areas_mm2 = [material(body).area for body in job.bodies]
    return Layouts(
        sheets=tuple(
            SheetLayout(
                filled.sheet,
                filled.placements,
                math.fsum(areas_mm2[p.body] for p in filled.placements) / filled.sheet.area_mm2,
            )
            for filled in filling.sheets
        ),
        unplaced={body: count for body, count in sorted(filling.left.items()) if count > 0},
    )


def _without_offenders(job: Job, filling: Filling, faults: Sequence[LayoutFault]) -> Filling:
    """Take off every placement that a fault blames, and lay these copies anew where they fit."""
    blamed = {(fault.sheet, fault.placement) for fault in faults}
    kept = []
    for number, filled in enumerate(filling.sheets):
        first = len(filled.pinned)
        placements = filled.board.placements()
        good = [p for i, p in enumerate(placements, first) if (number, i) not in blamed]
        kept.append(board_with(job, filled, tuple(good)))
    placed = sum((placed_on(filled.board) for filled in kept), Counter[int]())
    left = job.wanted - placed
    for filled in kept:
        before = placed_on(filled.board)
        top_up(filled.board, job.units, before + left)
        left -= placed_on(filled.board) - before
    return Filling.of(job, [f for f in kept if f.placements], left)


def with_extras(job: Job, filling: Filling) -> Filling:
    """Fill what room the sheets in use have left with copies that are welcome beyond the wanted."""
    extra = Counter({n: body.extra for n, body in enumerate(job.bodies) if body.extra > 0})
    if not extra or filling.left.total() > 0:
        return filling
    grown: list[FilledSheet] = []
    for filled in filling.sheets:
        more = board_with(job, filled, filled.board.placements())
        before = placed_on(more.board)
        top_up(more.board, job.units, before + extra)
        extra -= placed_on(more.board) - before
        grown.append(more)
    return Filling(tuple(grown), filling.left, filling.rank)
