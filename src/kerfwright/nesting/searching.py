"""The searches that go on from a constructive filling: strips by the outside engine, then ours."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from functools import partial

import shapely

from kerfwright.findings import number_of
from kerfwright.nesting.board import Board, Kind
from kerfwright.nesting.fill import (
    Preference,
    fill_by_corners,
    fill_sheets,
    fill_these,
    placed_on,
    top_up,
)
from kerfwright.nesting.fill_specially import fill_by_rectangles
from kerfwright.nesting.footprint import material
from kerfwright.nesting.job import FilledSheet, Filling, Job, Pinned, Wanted
from kerfwright.nesting.mending import is_legal
from kerfwright.nesting.model import Body, Placement, SheetSize
from kerfwright.nesting.rectangles import all_rectangles
from kerfwright.nesting.search.improve import improve
from kerfwright.nesting.search.model import Budget, Piece, Spot
from kerfwright.nesting.strip import StripError, StripPiece, solve_strip
from kerfwright.nesting.swaps import board_with, cheaper_choices
from kerfwright.nesting.until import Watch

SECONDS_A_PIECE = 0.08
"""Few pieces are soon searched through: they get this much each, up to the budget."""

OVERFILL = 1.08
"""The engine gets so much more than the constructive filling placed; what sticks out goes on."""

MOST_PIECES_A_SECOND = 100
"""With more pieces the engine's time is gone before it has improved on its own start."""

DENSE = 0.98
"""Where footprints cover so much of the width in use, no search can shorten it noticeably."""

STRIP_SLACK_MM = 0.05
"""What fills the sheet's height to within this is placed without the engine."""

STRIP_SHARE = 0.5
"""Share of the time for strips; the rest goes on from the best layout."""

CHEAPER_SHARE = 0.5
"""Share of the remaining time for fitting everything on cheaper sheets."""

MOST_TRIES = 2
"""So many choices of cheaper sheets are tried."""

WORTH_A_TRY_S = 0.5
"""In less time nothing fits that did not fit at once."""

OPEN_STRIP_S = 4.0
"""A search without a limit in time gives a strip this long."""

Progress = Callable[[str], None]


def searched(
    job: Job, built: Sequence[Filling], watch: Watch, seconds: float, seed: int, say: Progress
) -> list[Filling]:
    """The constructive fillings and what searches made of them, the best first."""
    best = built[0]
    count = max(len(best.sheets), 1)
    if watch.until.seconds is not None:
        seconds = watch.until.seconds / count
    elif watch.until.is_open:
        seconds = math.inf
    fillings = list(built)
    if _is_for_rectangles(job):
        exactly = seconds > SECONDS_A_PIECE
        packing = partial(fill_by_rectangles, seed=seed, stop=watch.ended, exactly=exactly)
        fillings.append(fill_sheets(job, _like(best), packing, say))
        # the stable sort lets the constructive filling, whose contacts are exact, win a tie
        fillings.sort(key=lambda filling: filling.rank)
        if all(is_dense(filled.board) for filled in fillings[0].sheets):
            return fillings
    if not any(body.kit for body in job.bodies) and any(f.sheet.plain for f in best.sheets):
        strip_s = min(STRIP_SHARE * seconds, OPEN_STRIP_S if math.isinf(seconds) else math.inf)
        fill = partial(_fill_by_strip, seconds=strip_s, seed=seed, watch=watch)
        in_use = [(filled.sheet, filled.pinned) for filled in best.sheets]
        fillings.append(fill_these(job, in_use, fill, say))
        fillings.sort(key=lambda filling: filling.rank)
    if not watch.ended():
        # what is left of the time, however long strips took
        pieces = job.wanted.total()
        most_s = count * min((1.0 - STRIP_SHARE) * seconds, SECONDS_A_PIECE * pieces)
        if watch.until.is_open or watch.until.seconds is not None:
            most_s = watch.seconds_left
        begun = next((f for f in fillings if is_legal(job, f)), fillings[0])
        cheaper = _on_cheaper_sheets(job, begun, watch, CHEAPER_SHARE * most_s, seed, say)
        fillings += [] if cheaper is None else [cheaper]
        left_s = most_s * (1.0 - CHEAPER_SHARE)
        fillings.append(_improved(job, cheaper or begun, watch, left_s, seed, say))
        fillings.sort(key=lambda filling: filling.rank)
    return fillings


def _on_cheaper_sheets(
    job: Job, filling: Filling, watch: Watch, seconds: float, seed: int, say: Progress
) -> Filling | None:
    """Search for a layout of everything on cheaper sheets; ``None`` if there is no such luck."""
    if filling.left.total() or seconds < WORTH_A_TRY_S:
        return None
    for choice in cheaper_choices(job, filling)[:MOST_TRIES]:
        fewer = fill_these(job, choice, fill_by_corners)
        tried = _improved(job, fewer, watch, seconds / MOST_TRIES, seed, say)
        if tried.rank < filling.rank and is_legal(job, tried):
            return tried
    return None


def _is_for_rectangles(job: Job) -> bool:
    """Whether all that is wanted are rectangles, and none is urgent or must stay with another."""
    bodies = [job.bodies[kind.body] for kind in job.kinds]
    plain = not any(body.kit for body in bodies) and len({body.rank for body in bodies}) == 1
    return plain and all_rectangles(bodies)


def _like(filling: Filling) -> Preference:
    """The kinds of sheets in the order in which a filling uses them."""
    order = {filled.sheet: n for n, filled in reversed(list(enumerate(filling.sheets)))}
    return lambda _job, sheet, _board_for: (
        float(order.get(sheet, len(order))),
        -sheet.area_mm2,
    )


def _fill_by_strip(
    job: Job,
    sheet: SheetSize,
    wanted: Wanted,
    pinned: Pinned,
    *,
    seconds: float,
    seed: int,
    watch: Watch,
) -> Board:
    """Fill a sheet from the engine's strip, or by corners where that covers more."""
    by_corners = fill_by_corners(job, sheet, wanted, pinned)
    if not sheet.plain or pinned or watch.ended():
        return by_corners
    if placed_on(by_corners) == wanted and is_dense(by_corners):
        return by_corners
    chosen = _for_strip(job, by_corners, wanted)
    pieces = sum(piece.quantity for piece, _ in chosen)
    if not 2 <= pieces <= MOST_PIECES_A_SECOND * seconds:
        return by_corners
    try:
        strip = solve_strip(
            [piece for piece, _ in chosen],
            by_corners.height_mm,
            spacing_mm=job.spacing_mm,
            seconds=min(seconds, SECONDS_A_PIECE * pieces),
            seed=seed,
        )
    except StripError:
        return by_corners
    board = job.board(sheet)
    low_x, low_y = board.low
    for spot in sorted(strip.spots, key=lambda s: (s.x_mm, s.y_mm)):
        kind = chosen[spot.piece][1]
        turned = kind.turned(spot.turn_deg)
        x_mm, y_mm = spot.x_mm + turned.corner[0], spot.y_mm + turned.corner[1]
        if board.is_free(turned, x_mm + low_x, y_mm + low_y):
            board.put(kind, turned, x_mm + low_x, y_mm + low_y)
    board.settle()
    top_up(board, job.units, wanted)
    return min(
        by_corners, board, key=lambda b: (-round(b.covered_mm2, 3), round(b.used_width_mm, 1))
    )


def is_dense(board: Board) -> bool:
    """Whether hardly a gap is left in the width in use."""
    return board.covered_mm2 >= DENSE * board.used_width_mm * board.height_mm


def _for_strip(job: Job, board: Board, wanted: Wanted) -> list[tuple[StripPiece, Kind]]:
    """What is urgent or large, somewhat more of it than lies on the board, for the engine."""
    room_mm2 = min(OVERFILL * board.covered_mm2, board.area_mm2)
    chosen: list[tuple[StripPiece, Kind]] = []
    for kind in (kind for unit in job.units for kind, _ in unit.kinds):
        turns = tuple(
            turn.turn_deg
            for turn in kind.turns
            if turn.size[0] <= board.width_mm and turn.size[1] <= board.height_mm - STRIP_SLACK_MM
        )
        quantity = min(wanted[kind.body], math.ceil(room_mm2 / kind.area_mm2)) if turns else 0
        if quantity > 0 and room_mm2 > 0.0:
            room_mm2 -= quantity * kind.area_mm2
            chosen.append((StripPiece(kind.ring, quantity, turns), kind))
    return chosen


def _improved(
    job: Job, filling: Filling, watch: Watch, seconds: float, seed: int, say: Progress
) -> Filling:
    """Let our own search go on from a filling; sheets that end up empty are given back."""
    sheets = filling.sheets
    if any(body.kit for body in job.bodies):
        # sets must stay whole: each sheet is drawn together by itself
        done = [
            _improved_together(job, [filled], Counter(), watch, seconds / len(sheets), seed, say)[0]
            for filled in sheets
        ]
    else:
        done = _improved_together(job, sheets, filling.left, watch, seconds, seed, say)
    in_use = [filled for filled in done if filled.placements]
    placed = sum((placed_on(filled.board) for filled in in_use), Counter[int]())
    return Filling.of(job, in_use, job.wanted - placed)


def _improved_together(
    job: Job,
    sheets: Sequence[FilledSheet],
    left: Wanted,
    watch: Watch,
    seconds: float,
    seed: int,
    say: Progress,
) -> list[FilledSheet]:
    lying = [(n, p) for n, f in enumerate(sheets) for p in f.board.placements()]
    in_order = [kind.body for unit in job.units for kind, _ in unit.kinds]
    counts = Counter(p.body for _, p in lying) + left
    kinds = [number for number in in_order if counts[number]]
    pieces = [_piece(job.bodies[number], counts[number]) for number in kinds]
    spots = [
        Spot(kinds.index(p.body), board, p.turn_deg, p.x_mm, p.y_mm, p.mirrored)
        for board, p in lying
    ]

    said = ""

    def report(better: tuple[Spot, ...]) -> None:
        nonlocal said
        density = _density(job, sheets, better, pieces)
        watch.better(density)
        in_use = number_of(len({spot.board for spot in better}), "sheet")
        words = f"better layout: {in_use}, {density:.1%} of the width in use covered"
        if words != said:
            said = words
            say(words)

    found = improve(
        pieces,
        [job.room(filled.sheet, filled.pinned) for filled in sheets],
        spots,
        spacing_mm=job.spacing_mm,
        budget=Budget(seconds=seconds),
        seed=seed,
        stop=watch.ended,
        progress=report,
    )
    on_board: list[list[Placement]] = [[] for _ in sheets]
    for spot in found:
        on_board[spot.board].append(
            Placement(kinds[spot.piece], spot.turn_deg, spot.x_mm, spot.y_mm, spot.mirrored)
        )
    return [board_with(job, f, tuple(p)) for f, p in zip(sheets, on_board, strict=True)]


def _piece(body: Body, quantity: int) -> Piece:
    return Piece(material(body), quantity, body.turns_deg, body.may_mirror)


def _density(
    job: Job, sheets: Sequence[FilledSheet], spots: Sequence[Spot], pieces: Sequence[Piece]
) -> float:
    """Parts' area over that of the boards' width in use."""
    in_use_mm2 = 0.0
    for number, filled in enumerate(sheets):
        x_low, y_low, _, y_high = job.room(filled.sheet, filled.pinned).bounds
        reach = max((_right(pieces[s.piece], s) for s in spots if s.board == number), default=x_low)
        in_use_mm2 += (reach - x_low) * (y_high - y_low)
    placed_mm2 = math.fsum(pieces[spot.piece].area.area for spot in spots)
    return placed_mm2 / in_use_mm2 if in_use_mm2 > 0.0 else 0.0


def _right(piece: Piece, spot: Spot) -> float:
    points = shapely.get_coordinates(piece.area)
    return float(spot.transform.apply(points)[:, 0].max())
