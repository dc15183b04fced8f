"""One sheet while it is being filled."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import Polygon

from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting import kernel
from kerfwright.nesting.model import Placement

INSET_MM = 1e-7
"""Without spacing outlines are tested this much smaller, so that touching is no overlap."""

ROUNDING_MM = 1e-9
"""Contact may fall short of the spacing by this much."""


@dataclass(frozen=True, eq=False, slots=True)
class TurnedOutline:
    """A footprint turned by an allowed angle, moved to the corner (0, 0).

    ``tested`` is the outline that must keep clear, shape (n, 2); ``corner`` is where the turned
    footprint's lower left corner lay; ``key`` is the same for outlines that coincide.
    """

    turn_deg: float
    tested: FloatArray
    size: tuple[float, float]
    corner: tuple[float, float]
    key: bytes

    @property
    def moved(self) -> kernel.Moved:
        """The tested outline as the kernel takes it."""
        x, y = np.ascontiguousarray(self.tested.T)
        return kernel.Moved(x, y, *self.size)

    def placement(self, body: int, x_mm: float, y_mm: float) -> Placement:
        """Put the lower left corner at (x_mm, y_mm)."""
        return Placement(body, self.turn_deg, x_mm - self.corner[0], y_mm - self.corner[1])


@dataclass(frozen=True, eq=False, slots=True)
class Kind:
    """What all copies of a body have in common while they are placed."""

    body: int
    ring: FloatArray
    area_mm2: float
    turns: tuple[TurnedOutline, ...]

    def turned(self, turn_deg: float) -> TurnedOutline:
        """Return the outline for one of the kept turns."""
        return next(turn for turn in self.turns if turn.turn_deg == turn_deg)


def kind_of(body: int, ring: FloatArray, turns_deg: Iterable[float], spacing_mm: float) -> Kind:
    """Prepare a footprint; turns that only repeat another one are left out."""
    turns: dict[bytes, TurnedOutline] = {}
    for turn_deg in dict.fromkeys(turns_deg):
        turned = _turned_outline(ring, turn_deg, spacing_mm)
        turns.setdefault(turned.key, turned)
    return Kind(body, ring, float(Polygon(ring).area), tuple(turns.values()))


def _turned_outline(ring: FloatArray, turn_deg: float, spacing_mm: float) -> TurnedOutline:
    points = rotation(turn_deg).apply(ring)
    low, high = points.min(axis=0), points.max(axis=0)
    points = points - low
    rounded = np.round(points, 6) + 0.0
    key = np.roll(rounded, -int(np.lexsort(rounded.T)[0]), axis=0).tobytes()
    return TurnedOutline(
        turn_deg=turn_deg,
        tested=_inset(points) if spacing_mm == 0.0 else points,
        size=(float(high[0] - low[0]), float(high[1] - low[1])),
        corner=(float(low[0]), float(low[1])),
        key=key,
    )


def _inset(points: FloatArray) -> FloatArray:
    smaller = Polygon(points).buffer(-INSET_MM, join_style="mitre", mitre_limit=100.0)
    if not isinstance(smaller, Polygon) or smaller.is_empty:
        return points
    return np.asarray(shapely.get_coordinates(smaller.exterior)[:-1])


@dataclass(slots=True)
class Lying:
    """A copy on the board, its lower left corner at (x_mm, y_mm) of the usable area."""

    kind: Kind
    turned: TurnedOutline
    x_mm: float
    y_mm: float


@dataclass(slots=True)
class Board:
    """A sheet's usable area, its lower left corner at (0, 0), and what lies on it."""

    width_mm: float
    height_mm: float
    spacing_mm: float
    lying: list[Lying] = field(default_factory=list)
    _x: FloatArray = field(default_factory=lambda: np.empty(1024))
    _y: FloatArray = field(default_factory=lambda: np.empty(1024))
    _start: kernel.IntArray = field(default_factory=lambda: np.zeros(65, dtype=np.int64))
    _box: FloatArray = field(default_factory=lambda: np.empty((64, 4)))
    _full_for: set[bytes] = field(default_factory=set)

    @property
    def covered_mm2(self) -> float:
        """Area of all footprints on the board."""
        return math.fsum(copy.kind.area_mm2 for copy in self.lying)

    @property
    def used_width_mm(self) -> float:
        """How far to the right anything reaches."""
        return max((copy.x_mm + copy.turned.size[0] for copy in self.lying), default=0.0)

    @property
    def _gap_mm(self) -> float:
        if self.spacing_mm == 0.0:
            return 2.0 * INSET_MM - 1e-11
        return max(float(self.spacing_mm) - ROUNDING_MM, 0.0)

    def place(self, kind: Kind, turns: Sequence[TurnedOutline] | None = None) -> bool:
        """Put one copy where it reaches least far to the right; ``False`` if it fits nowhere."""
        best: tuple[tuple[float, float], TurnedOutline, float, float] | None = None
        for turned in kind.turns if turns is None else turns:
            if turned.key in self._full_for:
                continue
            reach = math.inf if best is None else best[0][0] - turned.size[0]
            found, x_mm, y_mm = kernel.first_free(
                self._laid,
                turned.moved,
                (float(self.width_mm), float(self.height_mm)),
                float(self.spacing_mm),
                self._gap_mm,
                reach,
            )
            if not found:
                if best is None:
                    self._full_for.add(turned.key)
                continue
            rank = (x_mm + turned.size[0], y_mm)
            if best is None or rank < best[0]:
                best = (rank, turned, x_mm, y_mm)
        if best is None:
            return False
        self.put(kind, best[1], best[2], best[3])
        return True

    def put(self, kind: Kind, turned: TurnedOutline, x_mm: float, y_mm: float) -> None:
        """Lay a copy down without asking whether the place is free."""
        i = len(self.lying)
        last = int(self._start[i]) + len(turned.tested)
        while last > len(self._x):
            self._x, self._y = np.resize(self._x, 2 * last), np.resize(self._y, 2 * last)
        if i + 1 >= len(self._box):
            self._box = np.vstack([self._box, np.empty_like(self._box)])
            self._start = np.concatenate([self._start, np.zeros_like(self._start)])
        self._start[i + 1] = last
        self.lying.append(Lying(kind, turned, x_mm, y_mm))
        self._write(i)

    def is_free(self, turned: TurnedOutline, x_mm: float, y_mm: float, skip: int = -1) -> bool:
        """Whether an outline at (x_mm, y_mm) lies in the usable area and keeps the spacing."""
        if (
            min(x_mm, y_mm) < -kernel.EDGE_MM
            or x_mm + turned.size[0] > self.width_mm + kernel.EDGE_MM
            or y_mm + turned.size[1] > self.height_mm + kernel.EDGE_MM
        ):
            return False
        return bool(kernel.is_free(self._laid, skip, turned.moved, x_mm, y_mm, self._gap_mm))

    def settle(self) -> None:
        """Slide everything down and left into contact, from the left on."""
        for i in sorted(range(len(self.lying)), key=lambda j: (self.lying[j].x_mm, j)):
            copy = self.lying[i]
            copy.x_mm, copy.y_mm = kernel.slide(
                self._laid, i, copy.turned.moved, copy.x_mm, copy.y_mm, self._gap_mm
            )
            self._write(i)
        self._full_for.clear()

    def placements(self, margin_mm: float) -> tuple[Placement, ...]:
        """All copies in the sheet's coordinates."""
        return tuple(
            copy.turned.placement(copy.kind.body, copy.x_mm + margin_mm, copy.y_mm + margin_mm)
            for copy in self.lying
        )

    @property
    def _laid(self) -> kernel.Laid:
        return kernel.Laid(self._x, self._y, self._start, self._box, len(self.lying))

    def _write(self, i: int) -> None:
        copy = self.lying[i]
        first, last = int(self._start[i]), int(self._start[i + 1])
        self._x[first:last] = copy.turned.tested[:, 0] + copy.x_mm
        self._y[first:last] = copy.turned.tested[:, 1] + copy.y_mm
        w, h = copy.turned.size
        self._box[i] = (copy.x_mm, copy.y_mm, copy.x_mm + w, copy.y_mm + h)
