"""Fills sheets one after another, each by a given way of filling one sheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from enum import Enum

from kerfwright.nesting.board import Board, Kind, TurnedOutline
from kerfwright.nesting.job import FilledSheet, Filling, Job, Pinned, Unit, Wanted
from kerfwright.nesting.model import SheetSize

SAME_MM2 = 1e-3
"""Areas are only compared to save vain attempts; rounding must not forbid a full sheet."""


class Turning(Enum):
    """Which allowed turns a constructive filling makes use of."""

    FREE = "free"
    """Each copy as it reaches least far."""
    FLAT = "flat"
    """All copies of a body the same way, the longer side along the sheet."""
    UPRIGHT = "upright"
    """All copies of a body the same way, the longer side across the sheet."""

    def turns(self, kind: Kind, board: Board) -> Sequence[TurnedOutline]:
        """Return the turns to try for a kind on a board."""
        if self is Turning.FREE:
            return kind.turns
        fitting = [
            turn
            for turn in kind.turns
            if turn.size[0] <= board.width_mm and turn.size[1] <= board.height_mm
        ]
        if not fitting:
            return kind.turns
        width = (lambda t: -t.size[0]) if self is Turning.FLAT else (lambda t: t.size[0])
        return (min(fitting, key=width),)


FillSheet = Callable[[Job, SheetSize, Wanted, Pinned], Board]
"""Puts as much of what is wanted as it can on one sheet, beside what is pinned there."""

Preference = Callable[[Job, SheetSize, Callable[[SheetSize], Board]], tuple[float, ...]]
"""Which sheet to begin next, the least first; may ask what each would take."""

NOTHING_PINNED: Pinned = ()


def prefer(first: SheetSize) -> Preference:
    """One kind of sheet before all others, then the largest."""
    return lambda _job, sheet, _board_for: (float(sheet != first), -sheet.area_mm2)


def prefer_offcuts(
    _job: Job, sheet: SheetSize, _: Callable[[SheetSize], Board]
) -> tuple[float, ...]:
    """Offcuts before new sheets, the larger first."""
    return (float(not sheet.offcut), -sheet.area_mm2)


def prefer_value(
    job: Job, sheet: SheetSize, board_for: Callable[[SheetSize], Board]
) -> tuple[float, ...]:
    """The sheet that costs least for what it takes."""
    return (job.price(sheet) / max(board_for(sheet).covered_mm2, SAME_MM2),)


def fill_by_corners(
    job: Job,
    sheet: SheetSize,
    wanted: Wanted,
    pinned: Pinned = NOTHING_PINNED,
    turning: Turning = Turning.FREE,
) -> Board:
    """Fill a sheet by bottom-left placement, what is urgent first, then the largest."""
    asked = (sheet, turning, frozenset(wanted.items()), pinned)
    if asked not in job.by_corners:
        board = job.board(sheet, pinned)
        top_up(board, job.units, wanted, turning)
        job.by_corners[asked] = board
    return job.by_corners[asked]


def top_up(
    board: Board, units: Sequence[Unit], wanted: Wanted, turning: Turning = Turning.FREE
) -> None:
    """Add to a board whatever more it takes of ``wanted`` (all that is wanted on it)."""
    lying = placed_on(board)
    room_mm2 = board.area_mm2 - board.covered_mm2
    for unit in units:
        while unit.is_within(wanted - lying):
            if unit.area_mm2 > room_mm2 + SAME_MM2 or not _place(board, unit, turning):
                break
            room_mm2 -= unit.area_mm2
            lying += unit.copies


def _place(board: Board, unit: Unit, turning: Turning) -> bool:
    """Lay down one unit, all of it or nothing."""
    before = len(board.lying)
    for kind, count in unit.kinds:
        for _ in range(count):
            if not board.place(kind, turning.turns(kind, board)):
                board.take_off(before)
                return False
    return True


def placed_on(board: Board) -> Wanted:
    """Count the copies on a board by body number."""
    return Counter(copy.kind.body for copy in board.lying)


def fill_sheets(
    job: Job,
    preference: Preference,
    fill: FillSheet,
    progress: Callable[[str], None] | None = None,
) -> Filling:
    """Fill sheet after sheet until nothing more can be placed.

    Sheets with something at a fixed place come first, the others as ``preference`` has them;
    the last sheet is the cheapest that takes all that remains.
    """
    stock = Counter({sheet: sheet.count for sheet in job.sheets})
    wanted = Counter({body: count for body, count in job.wanted.items() if count > 0})
    done: list[FilledSheet] = []
    to_fill = list(job.pinned)
    while wanted.total() > 0 or to_fill:
        if to_fill:
            sheet, pinned = to_fill.pop(0)
            filled = FilledSheet(sheet, fill(job, sheet, wanted, pinned), pinned)
        else:
            there = [sheet for sheet in job.sheets if stock[sheet] > 0]
            found = _next_sheet(job, preference, fill, wanted, there)
            if found is None:
                break
            filled = found
        stock[filled.sheet] -= 1
        wanted -= placed_on(filled.board)
        done.append(filled)
        if progress is not None:
            progress(
                f"sheet {len(done)} ({filled.sheet.name}): {len(filled.board.lying)} placed, "
                f"{wanted.total()} to go"
            )
    return Filling.of(job, done, wanted)


def fill_these(
    job: Job,
    sheets: Sequence[tuple[SheetSize, Pinned]],
    fill: FillSheet,
    progress: Callable[[str], None] | None = None,
) -> Filling:
    """Fill just these sheets, in turn; those that stay empty are not used."""
    wanted = Counter({body: count for body, count in job.wanted.items() if count > 0})
    done: list[FilledSheet] = []
    for sheet, pinned in sheets:
        if wanted.total() == 0 and not pinned:
            continue
        board = fill(job, sheet, wanted, pinned)
        wanted -= placed_on(board)
        if board.lying or pinned:
            done.append(FilledSheet(sheet, board, pinned))
        if progress is not None:
            progress(f"sheet {len(done)} ({sheet.name}): {len(board.lying)} placed")
    return Filling.of(job, done, wanted)


def _next_sheet(
    job: Job, preference: Preference, fill: FillSheet, wanted: Wanted, stock: list[SheetSize]
) -> FilledSheet | None:
    boards: dict[SheetSize, Board] = {}

    def board_for(sheet: SheetSize) -> Board:
        if sheet not in boards:
            boards[sheet] = fill(job, sheet, wanted, NOTHING_PINNED)
        return boards[sheet]

    area_mm2 = job.area_mm2(wanted)
    for sheet in sorted(stock, key=job.price):
        if job.room(sheet).area + SAME_MM2 < area_mm2:
            continue
        if len(board_for(sheet).lying) == wanted.total():
            return FilledSheet(sheet, board_for(sheet))
    for sheet in sorted(stock, key=lambda s: preference(job, s, board_for)):
        if board_for(sheet).lying:
            return FilledSheet(sheet, board_for(sheet))
    return None
