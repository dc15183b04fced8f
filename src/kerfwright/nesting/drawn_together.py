"""The last step of a nest: what lies on each sheet slides to the left, and the room is used."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable

from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.fill import placed_on, top_up
from kerfwright.nesting.job import FilledSheet, Filling, Job, Wanted
from kerfwright.nesting.swaps import board_with

MOST_COPIES = 150
"""With more copies on a sheet one round takes seconds, and wins little."""

ROUNDS = 15
"""The first rounds win nearly everything."""


def drawn_together(
    job: Job, filling: Filling, *, seconds: float, stop: Callable[[], bool]
) -> Filling:
    """Slide everything on every sheet to the left, all at once, and use the room that is won.

    What was left over goes there, then what lies on the last sheet. Takes about ``seconds`` on a
    sheet at most, and :data:`ROUNDS` rounds. Returns the filling itself where that wins nothing.
    """
    if not filling.sheets:
        return filling
    *others, last = filling.sheets
    # sets must stay whole
    may_change = not any(body.kit for body in job.bodies)
    on_last = placed_on(last.board) if may_change else Counter[int]()
    left = Counter(filling.left)
    sheets = []
    for filled in others:
        drawn = _drawn(job, filled, seconds, stop)
        left -= _added(job, drawn, left)
        on_last -= _added(job, drawn, on_last)
        sheets.append(drawn)
    if may_change:
        last = _reduced(job, last, on_last)
    if last.placements:
        drawn = _drawn(job, last, seconds, stop)
        left -= _added(job, drawn, left)
        sheets.append(drawn)
    better = Filling.of(job, sheets, left)
    return better if better.rank < filling.rank else filling


def _added(job: Job, filled: FilledSheet, wanted: Wanted) -> Wanted:
    """Lay down on a sheet what it takes of ``wanted``; returns what that was."""
    before = placed_on(filled.board)
    top_up(filled.board, job.units, before + wanted)
    return placed_on(filled.board) - before


def _reduced(job: Job, filled: FilledSheet, kept: Wanted) -> FilledSheet:
    """The sheet with only ``kept`` of its copies: of each kind those furthest left."""
    placements = []
    lying = zip(filled.board.lying, filled.board.placements(), strict=True)
    from_left = sorted(lying, key=lambda pair: pair[0].x_mm)
    for placement in (placement for _, placement in from_left):
        if kept[placement.body] > 0:
            kept = kept - Counter({placement.body: 1})
            placements.append(placement)
    return board_with(job, filled, tuple(placements))


def _drawn(job: Job, filled: FilledSheet, seconds: float, stop: Callable[[], bool]) -> FilledSheet:
    placements = filled.board.placements()
    end = time.monotonic() + seconds
    if 2 <= len(placements) <= MOST_COPIES:
        found = compacted(
            job.bodies,
            placements,
            job.room(filled.sheet, filled.pinned),
            spacing_mm=job.spacing_mm,
            to="left",
            rounds=ROUNDS,
            stop=lambda: stop() or time.monotonic() > end,
        )
        if found.legal:
            placements = found.placements
    return board_with(job, filled, placements)
