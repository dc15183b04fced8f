"""Cheaper sheets for a filling: with one less, or with a cheaper one in place of another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from kerfwright.nesting.board import Kind
from kerfwright.nesting.fill import Turning, fill_by_corners, placed_on, top_up
from kerfwright.nesting.job import FilledSheet, Filling, Job, Wanted
from kerfwright.nesting.model import Placement

MOST_SWAPS = 12
"""Each swap saves a sheet or money, so that few are ever possible."""


def with_cheaper_sheets(job: Job, filling: Filling) -> Filling:
    """Swap sheets while that betters the filling; never returns a worse one."""
    for _ in range(MOST_SWAPS):
        better = next((f for f in _swapped(job, filling) if f.rank < filling.rank), None)
        if better is None:
            return filling
        filling = better
    return filling


def _swapped(job: Job, filling: Filling) -> Iterator[Filling]:
    """Fillings with one sheet less or another, the emptiest sheets first."""
    by_cover = sorted(filling.sheets, key=lambda f: f.board.covered_mm2 / f.board.area_mm2)
    for filled in by_cover:
        if filled.pinned:
            continue
        others = [other for other in filling.sheets if other is not filled]
        lying = placed_on(filled.board)
        yield from _without(job, others, lying, filling.left)
        used = Counter(other.sheet for other in others)
        for sheet in sorted(job.sheets, key=job.price):
            if sheet == filled.sheet or used[sheet] >= sheet.count:
                continue
            for turning in Turning:
                board = fill_by_corners(job, sheet, lying, turning=turning)
                if placed_on(board) == lying:
                    yield Filling.of(job, [*others, FilledSheet(sheet, board)], filling.left)
                    break


def _without(
    job: Job, others: list[FilledSheet], wanted: Wanted, left: Wanted
) -> Iterator[Filling]:
    """The filling with what lay on one sheet added to the others, if they take it."""
    if any(job.bodies[number].kit is not None for number in wanted):
        return
    grown = []
    for other in others:
        filled = board_with(job, other, other.board.placements())
        before = placed_on(filled.board)
        top_up(filled.board, job.units, before + wanted)
        wanted = wanted - (placed_on(filled.board) - before)
        grown.append(filled)
    if wanted.total() == 0:
        yield Filling.of(job, grown, left)


def board_with(job: Job, filled: FilledSheet, placements: tuple[Placement, ...]) -> FilledSheet:
    """The same sheet, with these placements in the sheet's coordinates on a board of its own."""
    board = job.board(filled.sheet, filled.pinned)
    kinds: dict[int, Kind] = {kind.body: kind for kind in job.kinds}
    for placement in placements:
        board.put_placed(kinds[placement.body], placement)
    return FilledSheet(filled.sheet, board, filled.pinned)
