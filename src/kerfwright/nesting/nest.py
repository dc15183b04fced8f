"""Bodies and sheets in, checked layouts out."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from functools import partial

from kerfwright.errors import KerfwrightError
from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.board import Board, Kind, kind_of
from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.fill import (
    Filling,
    Job,
    Turning,
    Wanted,
    fill_by_corners,
    fill_sheets,
    placed_on,
    top_up,
)
from kerfwright.nesting.footprint import box_footprint, footprints, material
from kerfwright.nesting.model import Body, Layouts, SheetLayout, SheetSize
from kerfwright.nesting.strip import StripError, StripPiece, solve_strip

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

MUCH_WORK = 4000
"""Copies × bodies beyond which one constructive filling is made for each size of sheet."""

Progress = Callable[[str], None]


def nest(
    bodies: Sequence[Body],
    sheets: Sequence[SheetSize],
    *,
    spacing_mm: float,
    margin_mm: float,
    seconds: float,
    seed: int,
    progress: Progress | None = None,
) -> Layouts:
    """Place every copy of every body on the cheapest sheets found, at least ``spacing_mm`` apart.

    Parts keep ``margin_mm`` from the sheets' edges and gather at the lower left. A constructive
    filling comes first; then the engine searches for ``seconds`` on each sheet. Kept is what
    leaves less over, then takes cheaper (less area), then fewer sheets, then less of their
    width. Copies that no sheet takes, or for which the sheets ran out, are in ``unplaced``
    (:func:`kerfwright.nesting.fits.why_unplaced` tells which). Whatever is returned has passed
    :func:`kerfwright.nesting.check.check_layouts`.

    The engine works against the clock: the same seed searches the same way, but a busy machine
    gets less far, so that layouts may differ from run to run.

    Raises ``ValueError`` for a negative spacing or margin, :class:`KerfwrightError` for a body
    that is only a line (``nesting/no-area``), and if no way of placing passed the check
    (``nesting/no-legal-layout``).
    """
    if not (spacing_mm >= 0.0 and margin_mm >= 0.0 and math.isfinite(spacing_mm + margin_mm)):
        raise ValueError(f"spacing {spacing_mm} mm and margin {margin_mm} mm must not be negative")
    for body in bodies:
        if material(body).is_empty:
            raise KerfwrightError(
                "nesting/no-area",
                file=body.name,
                thing="the outline encloses no area.",
                remedy="Look in the drawing for a part that is only a line.",
            )
    say = progress or _say_nothing
    rings = footprints(bodies, spacing_mm=spacing_mm)
    job = _job(bodies, sheets, rings, spacing_mm, margin_mm)
    built = _constructed(job)
    say(_summary("first layout", built[0]))
    fillings = list(built)
    if _worth_searching(built[0]):
        search = partial(_fill_by_engine, seconds=seconds, seed=seed)
        searched = fill_sheets(job, built[0].sheets[0].sheet, search, say)
        say(_summary("searched layout", searched))
        # the stable sort lets the constructive filling, whose contacts are exact, win a tie
        fillings = sorted([*built, searched], key=lambda filling: filling.rank)
    legal = _first_legal(bodies, job, fillings)
    if legal is None:
        boxes = [box_footprint(material(body)) for body in bodies]
        job = _job(bodies, sheets, boxes, spacing_mm, margin_mm)
        legal = _first_legal(bodies, job, _constructed(job))
    if legal is None:
        raise KerfwrightError(
            "nesting/no-legal-layout",
            file="the order",
            thing=f"no layout of {', '.join(sorted({b.name for b in bodies}))} passed the check.",
            remedy="Place the item as drawn, or look at the drawing for outlines that cross.",
        )
    return legal


def _say_nothing(_: str) -> None:
    return


def _summary(what: str, filling: Filling) -> str:
    width_mm = math.fsum(f.board.used_width_mm for f in filling.sheets)
    left = f", {filling.left.total()} left over" if filling.left.total() else ""
    count = len(filling.sheets)
    sheets = "1 sheet" if count == 1 else f"{count} sheets"
    return f"{what}: {sheets}, {width_mm:.0f} mm of width used{left}"


def _job(
    bodies: Sequence[Body],
    sheets: Sequence[SheetSize],
    rings: Sequence[FloatArray],
    spacing_mm: float,
    margin_mm: float,
) -> Job:
    kinds = [
        kind_of(i, ring, body.turns_deg, spacing_mm)
        for i, (body, ring) in enumerate(zip(bodies, rings, strict=True))
    ]
    usable = [s for s in sheets if s.count > 0 and min(s.width_mm, s.height_mm) > 2.0 * margin_mm]
    return Job(
        kinds=tuple(sorted(kinds, key=lambda kind: (-kind.area_mm2, kind.body))),
        wanted=Counter({i: body.quantity for i, body in enumerate(bodies)}),
        sheets=_merged(usable),
        spacing_mm=spacing_mm,
        margin_mm=margin_mm,
    )


def _merged(sheets: Sequence[SheetSize]) -> tuple[SheetSize, ...]:
    """Count sheets of one name and size that are listed twice together."""
    counts: Counter[tuple[str, float, float]] = Counter()
    for sheet in sheets:
        counts[sheet.name, sheet.width_mm, sheet.height_mm] += sheet.count
    return tuple(SheetSize(*size, count) for size, count in counts.items())


def _constructed(job: Job) -> list[Filling]:
    """Constructive fillings, the best first."""
    little = job.wanted.total() * len(job.kinds) < MUCH_WORK
    fillings = [
        fill_sheets(job, first, partial(fill_by_corners, turning=turning))
        for first in job.sheets
        for turning in (Turning if little else (Turning.FREE,))
    ]
    if not fillings:
        return [Filling((), job.wanted, job.area_mm2(job.wanted))]
    return sorted(fillings, key=lambda filling: filling.rank)


def _worth_searching(filling: Filling) -> bool:
    """Whether shorter could be possible: not for one part, nor where hardly a gap is left."""
    if sum(len(filled.board.lying) for filled in filling.sheets) < 2:
        return False
    return (
        len(filling.sheets) > 1 or filling.left.total() > 0 or not _dense(filling.sheets[0].board)
    )


def _dense(board: Board) -> bool:
    return board.covered_mm2 >= DENSE * board.used_width_mm * board.height_mm


def _fill_by_engine(
    job: Job, sheet: SheetSize, wanted: Wanted, *, seconds: float, seed: int
) -> Board:
    """Fill a sheet from the engine's strip, or by corners where that covers more."""
    by_corners = fill_by_corners(job, sheet, wanted)
    if placed_on(by_corners) == wanted and _dense(by_corners):
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
    for spot in sorted(strip.spots, key=lambda s: (s.x_mm, s.y_mm)):
        kind = chosen[spot.piece][1]
        turned = kind.turned(spot.turn_deg)
        x_mm, y_mm = spot.x_mm + turned.corner[0], spot.y_mm + turned.corner[1]
        if board.is_free(turned, x_mm, y_mm):
            board.put(kind, turned, x_mm, y_mm)
    board.settle()
    top_up(board, job.kinds, wanted)
    return min(
        by_corners, board, key=lambda b: (-round(b.covered_mm2, 3), round(b.used_width_mm, 1))
    )


def _for_strip(job: Job, board: Board, wanted: Wanted) -> list[tuple[StripPiece, Kind]]:
    """The largest bodies, somewhat more of them than lie on the board, for the engine."""
    room_mm2 = min(OVERFILL * board.covered_mm2, board.width_mm * board.height_mm)
    chosen: list[tuple[StripPiece, Kind]] = []
    for kind in job.kinds:
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


def _first_legal(bodies: Sequence[Body], job: Job, fillings: Sequence[Filling]) -> Layouts | None:
    for filling in fillings:
        layouts = _layouts(bodies, job, filling)
        if not check_layouts(bodies, layouts, spacing_mm=job.spacing_mm, margin_mm=job.margin_mm):
            return layouts
    return None


def _layouts(bodies: Sequence[Body], job: Job, filling: Filling) -> Layouts:
    areas_mm2 = [material(body).area for body in bodies]
    return Layouts(
        sheets=tuple(
            SheetLayout(
                f.sheet,
                f.board.placements(job.margin_mm),
                math.fsum(areas_mm2[copy.kind.body] for copy in f.board.lying)
                / (f.sheet.width_mm * f.sheet.height_mm),
            )
            for f in filling.sheets
        ),
        unplaced={body: count for body, count in sorted(filling.left.items()) if count > 0},
    )
