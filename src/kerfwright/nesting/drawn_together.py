"""The last step of a nest: what lies on each sheet slides to the left, and the room is used."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable

from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.fill import placed_on, top_up
from kerfwright.nesting.job import FilledSheet, Filling, Job
from kerfwright.nesting.swaps import board_with

MOST_COPIES = 150
"""With more copies on a sheet one round takes seconds, and wins little."""


def drawn_together(
    job: Job, filling: Filling, *, seconds: float, stop: Callable[[], bool]
) -> Filling:
    """Slide everything on every sheet to the left, all at once, and lay down what was left over.

    Takes about ``seconds`` on a sheet at most. Returns the filling itself where that wins nothing.
    """
    left = Counter(filling.left)
    sheets = []
    for filled in filling.sheets:
        drawn = _drawn(job, filled, seconds, stop)
        before = placed_on(drawn.board)
        top_up(drawn.board, job.units, before + left)
        left -= placed_on(drawn.board) - before
        sheets.append(drawn)
    better = Filling.of(job, sheets, left)
    return better if better.rank < filling.rank else filling


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
            stop=lambda: stop() or time.monotonic() > end,
        )
        if found.legal:
            placements = found.placements
    return board_with(job, filled, placements)
