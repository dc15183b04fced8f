"""Fills sheets one after another, each by a given way of filling one sheet."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from enum import Enum

from kerfwright.nesting.board import Board, Kind, TurnedOutline
from kerfwright.nesting.model import SheetSize

SAME_MM2 = 1e-3
"""Areas are only compared to save vain attempts; rounding must not forbid a full sheet."""

Wanted = Counter[int]
"""Copies still to place, by body number."""


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


@dataclass(frozen=True, eq=False, slots=True)
class Job:
    """What is to be placed on what: ``kinds`` in the order of placing, largest first."""

    kinds: tuple[Kind, ...]
    wanted: Wanted
    sheets: tuple[SheetSize, ...]
    spacing_mm: float
    margin_mm: float
    by_corners: dict[object, Board] = field(default_factory=dict)
    """Constructive fillings by sheet, turning and what was wanted: each is asked for again."""

    def board(self, sheet: SheetSize) -> Board:
        """Return an empty board for a sheet's usable area."""
        return Board(
            sheet.width_mm - 2.0 * self.margin_mm,
            sheet.height_mm - 2.0 * self.margin_mm,
            self.spacing_mm,
        )

    def area_mm2(self, wanted: Wanted) -> float:
        """Area of the footprints of ``wanted``."""
        return math.fsum(kind.area_mm2 * wanted[kind.body] for kind in self.kinds)


@dataclass(frozen=True, eq=False, slots=True)
class FilledSheet:
    """A sheet with its board."""

    sheet: SheetSize
    board: Board


@dataclass(frozen=True, eq=False, slots=True)
class Filling:
    """All sheets filled in one way, and what was left over."""

    sheets: tuple[FilledSheet, ...]
    left: Wanted
    left_mm2: float

    @property
    def rank(self) -> tuple[float, float, int, float]:
        """Lower is better: less left over, cheaper sheets, fewer, narrower use of them."""
        return (
            round(self.left_mm2, 3),
            round(math.fsum(f.sheet.width_mm * f.sheet.height_mm for f in self.sheets), 3),
            len(self.sheets),
            round(math.fsum(f.board.used_width_mm for f in self.sheets), 1),
        )


FillSheet = Callable[[Job, SheetSize, Wanted], Board]
"""Puts as much of what is wanted as it can on one sheet."""


def fill_by_corners(
    job: Job, sheet: SheetSize, wanted: Wanted, turning: Turning = Turning.FREE
) -> Board:
    """Fill a sheet by bottom-left placement, the largest bodies first."""
    asked = (sheet, turning, frozenset(wanted.items()))
    if asked not in job.by_corners:
        board = job.board(sheet)
        top_up(board, job.kinds, wanted, turning)
        job.by_corners[asked] = board
    return job.by_corners[asked]


def top_up(
    board: Board, kinds: Sequence[Kind], wanted: Wanted, turning: Turning = Turning.FREE
) -> None:
    """Add to a board whatever more it takes of ``wanted`` (all that is wanted on it)."""
    lying = placed_on(board)
    room_mm2 = board.width_mm * board.height_mm - board.covered_mm2
    for kind in kinds:
        turns = turning.turns(kind, board)
        for _ in range(wanted[kind.body] - lying[kind.body]):
            if kind.area_mm2 > room_mm2 + SAME_MM2 or not board.place(kind, turns):
                break
            room_mm2 -= kind.area_mm2


def placed_on(board: Board) -> Wanted:
    """Count the copies on a board by body number."""
    return Counter(copy.kind.body for copy in board.lying)


def fill_sheets(
    job: Job,
    first: SheetSize,
    fill: FillSheet,
    progress: Callable[[str], None] | None = None,
) -> Filling:
    """Fill sheet after sheet, ``first`` before other sizes, until nothing more can be placed.

    The last sheet is the smallest that takes all that remains.
    """
    stock = Counter({sheet: sheet.count for sheet in job.sheets})
    wanted = Counter({body: count for body, count in job.wanted.items() if count > 0})
    done: list[FilledSheet] = []
    while wanted.total() > 0:
        filled = _next_sheet(job, first, fill, wanted, [s for s in stock if stock[s] > 0])
        if filled is None:
            break
        stock[filled.sheet] -= 1
        wanted -= placed_on(filled.board)
        done.append(filled)
        if progress is not None:
            progress(
                f"sheet {len(done)} ({filled.sheet.name}): {len(filled.board.lying)} placed, "
                f"{wanted.total()} to go"
            )
    return Filling(tuple(done), wanted, job.area_mm2(wanted))


def _next_sheet(
    job: Job, first: SheetSize, fill: FillSheet, wanted: Wanted, stock: list[SheetSize]
) -> FilledSheet | None:
    boards: dict[SheetSize, Board] = {}

    def board_for(sheet: SheetSize) -> Board:
        if sheet not in boards:
            boards[sheet] = fill(job, sheet, wanted)
        return boards[sheet]

    area_mm2 = job.area_mm2(wanted)
    for sheet in sorted(stock, key=_area):
        empty = job.board(sheet)
        if empty.width_mm * empty.height_mm + SAME_MM2 < area_mm2:
            continue
        if len(board_for(sheet).lying) == wanted.total():
            return FilledSheet(sheet, board_for(sheet))
    for sheet in sorted(stock, key=lambda s: (s != first, -_area(s))):
        if board_for(sheet).lying:
            return FilledSheet(sheet, board_for(sheet))
    return None


def _area(sheet: SheetSize) -> float:
    return sheet.width_mm * sheet.height_mm
