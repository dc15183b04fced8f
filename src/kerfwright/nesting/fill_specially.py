"""Other ways to fill a sheet: rectangles by their sizes alone, and edge on edge."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from kerfwright.nesting.board import Board
from kerfwright.nesting.cost import SECONDS_AN_HOUR, worth
from kerfwright.nesting.edge_matching import CUT_MM_PER_MM2, match_edges
from kerfwright.nesting.fill import fill_by_corners
from kerfwright.nesting.job import FilledSheet, Job, Pinned, Wanted
from kerfwright.nesting.model import Placement, SheetSize
from kerfwright.nesting.rectangles import EXACT_WORK, pack_rectangles
from kerfwright.nesting.swaps import board_with

Stop = Callable[[], bool]


def fill_by_rectangles(
    job: Job,
    sheet: SheetSize,
    wanted: Wanted,
    pinned: Pinned,
    *,
    seed: int,
    stop: Stop,
    exactly: bool = True,
) -> Board:
    """Fill a sheet as a packing of rectangles, or by corners where that covers more.

    Where anything wanted is no rectangle, or the sheet is none, this is filling by corners.
    """
    by_corners = fill_by_corners(job, sheet, wanted, pinned)
    placements = pack_rectangles(
        job.bodies,
        wanted,
        job.room(sheet, pinned),
        spacing_mm=job.spacing_mm,
        seed=seed,
        exact_work=EXACT_WORK if exactly else 0,
        stop=stop,
    )
    if placements is None:
        return by_corners
    packed = _laid(job, sheet, pinned, placements)
    return min(
        by_corners, packed, key=lambda b: (-round(b.covered_mm2, 3), round(b.used_width_mm, 1))
    )


def fill_by_edges(
    job: Job,
    sheet: SheetSize,
    wanted: Wanted,
    pinned: Pinned,
    *,
    apart_mm: float,
    cut_mm_s: float | None = None,
    stop: Stop,
) -> Board:
    """Fill a sheet edge on edge, the job's spacing being the kerf; others keep ``apart_mm``.

    Cut saved is weighed against the sheet by their prices, where the sheet has one and the
    machine's hour, and ``cut_mm_s``, how fast it gets on with a cut, is known.
    """
    matching = match_edges(
        job.bodies,
        wanted,
        job.room(sheet, pinned),
        kerf_mm=job.spacing_mm,
        spacing_mm=apart_mm,
        cut_mm_per_mm2=_cut_mm_per_mm2(job, sheet, cut_mm_s),
        stop=stop,
    )
    return _laid(job, sheet, pinned, matching.placements)


def _cut_mm_per_mm2(job: Job, sheet: SheetSize, cut_mm_s: float | None) -> float:
    """How much cutting a square millimetre of the sheet is worth."""
    rate, value = job.prices.rate_per_hour, worth(sheet, job.prices)
    if cut_mm_s is None or not rate or value is None:
        return CUT_MM_PER_MM2
    return float(value) / sheet.area_mm2 * cut_mm_s * float(SECONDS_AN_HOUR / rate)


def _laid(job: Job, sheet: SheetSize, pinned: Pinned, placements: Sequence[Placement]) -> Board:
    empty = FilledSheet(sheet, job.board(sheet, pinned), pinned)
    return board_with(job, empty, tuple(placements)).board
