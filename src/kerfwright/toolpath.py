"""The one intermediate form between planning and everything that reads a plan.

A toolpath is a flat table of straight moves. Simulation, verification, pictures and every
output read this form and no other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from kerfwright.geometry.paths import FloatArray, Path


class Process(StrEnum):
    """What the beam does to a shape."""

    CUT = "cut"
    SCORE = "score"
    ENGRAVE = "engrave"
    PHOTO = "photo"
    GUIDE = "guide"


class MoveKind(IntEnum):
    """What one straight move is for; decides its acceleration and whether the beam may burn."""

    TRAVEL = 0
    """Beam off, at travel speed."""
    RUN_UP = 1
    """Beam off at burning speed, before, after or between the burns of an engraving row."""
    ROW = 2
    """Burn along an engraving row."""
    LOOP = 3
    """Burn along an engraving loop."""
    SCORE = 4
    CUT = 5


BURNING_KINDS = (MoveKind.ROW, MoveKind.LOOP, MoveKind.SCORE, MoveKind.CUT)
BURNS_BY_KIND = np.array([kind in BURNING_KINDS for kind in MoveKind])

PROCESS_OF_KIND = {
    MoveKind.RUN_UP: Process.ENGRAVE,
    MoveKind.ROW: Process.ENGRAVE,
    MoveKind.LOOP: Process.ENGRAVE,
    MoveKind.SCORE: Process.SCORE,
    MoveKind.CUT: Process.CUT,
}
"""What a move belongs to; travel belongs to no process."""

ENGRAVE_PHASE, SCORE_PHASE, CUT_PHASE = range(3)
"""Marks come before cuts, as a part that is cut free may shift; cuts may have later phases too."""

MOVE_DTYPE = np.dtype(
    [
        ("x_mm", np.float64),
        ("y_mm", np.float64),
        ("speed_mm_s", np.float64),
        ("power", np.float64),
        ("kind", np.uint8),
        ("source", np.int32),
        ("dwell_s", np.float64),
        ("z_mm", np.float64),
    ]
)
"""One row a straight move: where it ends, its wanted speed, power 0..1, what for, and from what.

``source`` indexes the sheet's table of :class:`BurnSource`, -1 for travel. Before a move the beam
stands for ``dwell_s``, burning as the move does: a pierce. ``z_mm`` is where the focus lies along
the move, 0 on the sheet's surface and below it less; it changes at standstill, with the beam off.
"""

MoveArray = npt.NDArray[np.void]


@dataclass(frozen=True, slots=True)
class BurnSource:
    """Where a burn comes from: the placed part and the drawing's shapes behind it."""

    part: str
    instance: int
    process: Process
    shapes: tuple[str, ...] = ()
    item: str = ""
    """What was ordered."""


@dataclass(frozen=True, eq=False, slots=True)
class Toolpath:
    """Moves of shape (n,) and :data:`MOVE_DTYPE`, starting from rest at ``start_mm``."""

    moves: MoveArray
    start_mm: tuple[float, float] = (0.0, 0.0)

    def __len__(self) -> int:
        return len(self.moves)

    @property
    def points(self) -> FloatArray:
        """Start and every end point, shape (n + 1, 2), in mm."""
        out = np.empty((len(self.moves) + 1, 2))
        out[0] = self.start_mm
        out[1:, 0] = self.moves["x_mm"]
        out[1:, 1] = self.moves["y_mm"]
        return out

    @property
    def lengths_mm(self) -> FloatArray:
        """Length of every move, shape (n,), in mm."""
        steps = np.diff(self.points, axis=0)
        return np.hypot(steps[:, 0], steps[:, 1])

    @property
    def burning(self) -> npt.NDArray[np.bool_]:
        """Whether each move burns, shape (n,)."""
        return np.asarray(BURNS_BY_KIND[self.moves["kind"]] & (self.moves["power"] > 0.0))

    @property
    def end_mm(self) -> tuple[float, float]:
        """Where the last move ends, in mm."""
        if len(self.moves) == 0:
            return self.start_mm
        return float(self.moves["x_mm"][-1]), float(self.moves["y_mm"][-1])

    def moved(self, x_mm: float, y_mm: float) -> Toolpath:
        """Return the same toolpath at another place."""
        moves = self.moves.copy()
        moves["x_mm"] += x_mm
        moves["y_mm"] += y_mm
        return Toolpath(moves, (self.start_mm[0] + x_mm, self.start_mm[1] + y_mm))


def processes_of(toolpath: Toolpath, sources: Sequence[BurnSource]) -> npt.NDArray[np.object_]:
    """Process that each move belongs to, shape (n,), ``None`` for travel.

    Rows are those of a photo where their source says so; everything else goes by its kind.
    """
    by_kind = np.array([PROCESS_OF_KIND.get(kind) for kind in MoveKind], dtype=object)
    processes: npt.NDArray[np.object_] = by_kind[toolpath.moves["kind"]]
    photos = np.array([source.process is Process.PHOTO for source in sources] + [False])
    source = toolpath.moves["source"]
    known = (source >= 0) & (source < len(sources))
    of_photo = photos[np.where(known, source, -1)]
    processes[of_photo & (processes == Process.ENGRAVE)] = Process.PHOTO
    return processes


def moves_along(
    points: FloatArray,
    *,
    kind: MoveKind,
    speed_mm_s: float,
    power: float,
    source: int,
) -> MoveArray:
    """Make one move to each of ``points``, shape (n, 2) in mm."""
    moves = np.zeros(len(points), dtype=MOVE_DTYPE)
    moves["x_mm"] = points[:, 0]
    moves["y_mm"] = points[:, 1]
    moves["speed_mm_s"] = speed_mm_s
    moves["power"] = power
    moves["kind"] = kind
    moves["source"] = source
    return moves


def join(pieces: Iterable[MoveArray]) -> MoveArray:
    """Put tables of moves behind one another."""
    tables = list(pieces)
    if not tables:
        return np.empty(0, dtype=MOVE_DTYPE)
    return np.concatenate(tables)


@dataclass(frozen=True, eq=False, slots=True)
class Stroke:
    """Something burned in one go: a line to follow, or a finished block of engraving.

    ``phase`` orders the whole sheet: every stroke of a lower phase comes before any of a higher
    one. A closed ``path`` may be entered anywhere and followed either way; an open one from
    either end. An engraving ``block`` is kept as it is and runs from its start to its end.
    """

    path: Path
    process: Process
    kind: MoveKind
    speed_mm_s: float
    power: float
    source: int
    phase: int
    passes: int = 1
    block: Toolpath | None = None
    lay: Callable[[FloatArray], Toolpath] | None = None
    """How it is burned, where that is more than following its line at one power: it is handed the
    line once, in the direction chosen and from the entry chosen (a closed line ends on its first
    point), and returns all passes with lead-in, pierce and holding tabs. It may begin elsewhere."""
