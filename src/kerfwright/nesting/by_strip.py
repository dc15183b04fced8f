"""Fills one sheet from a strip of parts, which is as high as the sheet.

A strip's search wants to know beforehand what it is to place. Where more is wanted than the sheet
takes, a first run tells how densely these parts can lie, and a second one gets just what should fit
then.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from kerfwright.nesting.board import Board, Kind
from kerfwright.nesting.fill import fill_by_corners, placed_on, top_up
from kerfwright.nesting.job import Job, Pinned, Wanted
from kerfwright.nesting.model import SheetSize
from kerfwright.nesting.strip import Strip, StripError, StripPiece, solve_strip
from kerfwright.nesting.until import Watch

SECONDS_A_PIECE = 0.2
"""Few pieces are soon searched through: they get this much each, up to the budget."""

ASKED_SECONDS_A_PIECE = 5.0
"""So much where the time was set by hand. Open instances of 12 to 99 pieces came within half
a point of what is published after 0.5 to 10 s a piece, most of them before 5 s."""

FIRST_COVER = 0.75
"""A first run gets so large a share of the sheet's area, or somewhat more than lies there."""

OVERFILL = 1.04
"""A run gets so much more than should fit; what sticks out goes on to other sheets."""

FIRST_SHARE = 0.35
"""Share of a sheet's time for the first of two runs."""

MOST_PIECES_A_SECOND = 100
"""With more pieces the time is gone before a search has improved on its own start."""

WELL_FILLED = 0.84
"""A sheet that is so full before everything is placed is not searched any further."""

DENSE = 0.98
"""Where footprints cover so much of the width in use, no search can shorten it noticeably."""

STRIP_SLACK_MM = 0.05
"""What fills the sheet's height to within this is placed without a search."""

Chosen = list[tuple[StripPiece, Kind]]


def is_dense(board: Board) -> bool:
    """Whether hardly a gap is left in the width in use."""
    return board.covered_mm2 >= DENSE * board.used_width_mm * board.height_mm


def is_well_filled(board: Board) -> bool:
    """Whether a search would hardly find room for more."""
    return board.covered_mm2 >= WELL_FILLED * board.area_mm2


def fill_by_strip(
    job: Job,
    sheet: SheetSize,
    wanted: Wanted,
    pinned: Pinned,
    *,
    seconds: float,
    seed: int,
    watch: Watch,
    shown: Callable[[Board], None],
) -> Board:
    """Fill a plain sheet from a strip, or by corners where that covers more.

    ``shown`` gets boards as they are found: they are neither settled nor topped up.
    """
    by_corners = fill_by_corners(job, sheet, wanted, pinned)
    if not sheet.plain or pinned or watch.ended():
        return by_corners
    everything = placed_on(by_corners) == wanted
    if is_dense(by_corners) if everything else is_well_filled(by_corners):
        return by_corners
    boards = [by_corners]
    target_mm2 = max(OVERFILL * by_corners.covered_mm2, FIRST_COVER * by_corners.area_mm2)
    everything_mm2 = job.area_mm2(wanted)
    shares = (1.0,) if target_mm2 >= everything_mm2 else (FIRST_SHARE, 1.0 - FIRST_SHARE)
    for number, share in enumerate(shares):
        chosen = _chosen(job, by_corners, wanted, target_mm2)

        def better(strip: Strip, chosen: Chosen = chosen) -> None:
            shown(_board_of(job, sheet, chosen, strip))

        strip = _solved(job, chosen, by_corners, share * seconds, seed + number, watch, better)
        if strip is None:
            break
        boards.append(_laid(job, sheet, wanted, chosen, strip))
        target_mm2 = OVERFILL * strip.density * by_corners.area_mm2
    return min(boards, key=lambda b: (-round(b.covered_mm2, 3), round(b.used_width_mm, 1)))


def _chosen(job: Job, board: Board, wanted: Wanted, target_mm2: float) -> Chosen:
    """About ``target_mm2`` of what is wanted for a strip: what is urgent, else some of each.

    A mix of large and small lies more densely than the large ones first and the small ones last.
    """
    chosen: Chosen = []
    room_mm2 = min(target_mm2, board.area_mm2)
    for rank in sorted({unit.rank for unit in job.units}):
        fitting = [
            (kind, turns)
            for unit in job.units
            if unit.rank == rank
            for kind, _ in unit.kinds
            if wanted[kind.body] > 0 and (turns := _turns_in(kind, board))
        ]
        there_mm2 = math.fsum(kind.area_mm2 * wanted[kind.body] for kind, _ in fitting)
        share = min(max(room_mm2, 0.0) / there_mm2, 1.0) if there_mm2 > 0.0 else 0.0
        owed_mm2 = 0.0
        for kind, turns in fitting:
            # what rounding keeps from one kind goes to the next
            owed_mm2 += share * kind.area_mm2 * wanted[kind.body]
            quantity = min(wanted[kind.body], round(owed_mm2 / kind.area_mm2))
            if quantity > 0:
                owed_mm2 -= quantity * kind.area_mm2
                room_mm2 -= quantity * kind.area_mm2
                chosen.append((StripPiece(kind.ring, quantity, turns), kind))
    return chosen


def _turns_in(kind: Kind, board: Board) -> tuple[float, ...]:
    """Turns in which a part fits between the board's upper and lower edge."""
    return tuple(
        turn.turn_deg
        for turn in kind.turns
        if turn.size[0] <= board.width_mm and turn.size[1] <= board.height_mm - STRIP_SLACK_MM
    )


def _solved(
    job: Job,
    chosen: Chosen,
    board: Board,
    seconds: float,
    seed: int,
    watch: Watch,
    better: Callable[[Strip], None],
) -> Strip | None:
    pieces = sum(piece.quantity for piece, _ in chosen)
    is_asked = watch.until.seconds is not None
    most_s = (ASKED_SECONDS_A_PIECE if is_asked else SECONDS_A_PIECE) * pieces
    if watch.ended() or not 2 <= pieces <= MOST_PIECES_A_SECOND * seconds:
        return None
    try:
        return solve_strip(
            [piece for piece, _ in chosen],
            board.height_mm,
            spacing_mm=job.spacing_mm,
            seconds=min(seconds, most_s),
            seed=seed,
            stop=watch.ended,
            better=better,
        )
    except StripError:
        return None


def _laid(job: Job, sheet: SheetSize, wanted: Wanted, chosen: Chosen, strip: Strip) -> Board:
    """The strip's pieces on a board, as far as they lie on it, and what else fits in."""
    board = _board_of(job, sheet, chosen, strip)
    board.settle()
    top_up(board, job.units, wanted)
    return board


def _board_of(job: Job, sheet: SheetSize, chosen: Chosen, strip: Strip) -> Board:
    board = job.board(sheet)
    low_x, low_y = board.low
    for spot in sorted(strip.spots, key=lambda s: (s.x_mm, s.y_mm)):
        kind = chosen[spot.piece][1]
        turned = kind.turned(spot.turn_deg)
        x_mm, y_mm = spot.x_mm + turned.corner[0], spot.y_mm + turned.corner[1]
        if board.is_free(turned, x_mm + low_x, y_mm + low_y):
            board.put(kind, turned, x_mm + low_x, y_mm + low_y)
    return board
