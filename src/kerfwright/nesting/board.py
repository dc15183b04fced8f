"""One sheet while it is being filled."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.regions import as_area, rings_of
from kerfwright.nesting import kernel
from kerfwright.nesting.clearance import Clearance, add_outline, clearance_of
from kerfwright.nesting.laid_outlines import Lines, Outlines
from kerfwright.nesting.model import Placement
from kerfwright.nesting.outline import (
    INSET_MM,
    Kind,
    TurnedOutline,
    edges_of,
    kind_of,
    probes_of,
)
from kerfwright.nesting.scan_kernel import first_free

__all__ = ["Board", "Kind", "Lying", "TurnedOutline", "kind_of"]

ROUNDING_MM = 4e-10
"""Contact may fall short of the spacing by this much."""

LENIENT_MM = 6e-10
"""What lies by so much closer is still free: placed by others, who round differently."""

WALL_INSET_MM = 2e-7
WALL_GAP_MM, LENIENT_WALL_GAP_MM = 1.8e-7, 0.8e-7
"""Walls are tested so much smaller and at such distances: what touches them is inside."""

MOST_CORNERS = 100
"""Each corner of a wall with at most so many gets a line of its own."""


@dataclass(slots=True)
class Lying:
    """A copy on the board, its lower left corner at (x_mm, y_mm) of the sheet."""

    kind: Kind
    turned: TurnedOutline
    x_mm: float
    y_mm: float


class Board:
    """A sheet's usable area, in the sheet's coordinates, and what lies on it."""

    def __init__(self, area: BaseGeometry, spacing_mm: float) -> None:
        self.area: MultiPolygon = as_area(area)
        self.spacing_mm = float(spacing_mm)
        self.lying: list[Lying] = []
        bounds = (0.0, 0.0, 0.0, 0.0) if self.area.is_empty else self.area.bounds
        self._room: tuple[float, float, float, float] = (
            float(bounds[0]),
            float(bounds[1]),
            float(bounds[2]),
            float(bounds[3]),
        )
        self._outlines = Outlines()
        self._lines = Lines()
        for wall in _walls(self.area):
            self._add_wall(wall)
        self._walls = self._outlines.total
        self._clearance = clearance_of(self._room)
        self._cleared = 0
        self._tried: dict[bytes, tuple[float, float, int]] = {}

    @property
    def low(self) -> tuple[float, float]:
        """Lower left corner of the usable area's box."""
        return self._room[:2]

    @property
    def width_mm(self) -> float:
        """Width of the usable area's box."""
        return self._room[2] - self._room[0]

    @property
    def height_mm(self) -> float:
        """Height of the usable area's box."""
        return self._room[3] - self._room[1]

    @property
    def area_mm2(self) -> float:
        """The usable area."""
        return float(self.area.area)

    @property
    def covered_mm2(self) -> float:
        """Area of all footprints on the board."""
        return math.fsum(copy.kind.area_mm2 for copy in self.lying)

    @property
    def used_width_mm(self) -> float:
        """How far to the right of the usable area's left edge anything reaches."""
        return self.reach_mm[0] - self._room[0]

    @property
    def reach_mm(self) -> tuple[float, float]:
        """How far to the right and up anything reaches, in the sheet's coordinates."""
        right = max((copy.x_mm + copy.turned.size[0] for copy in self.lying), default=self.low[0])
        top = max((copy.y_mm + copy.turned.size[1] for copy in self.lying), default=self.low[1])
        return right, top

    def place(self, kind: Kind, turns: Sequence[TurnedOutline] | None = None) -> bool:
        """Put one copy where it reaches least far to the right; ``False`` if it fits nowhere."""
        best: tuple[tuple[float, float], TurnedOutline, float, float] | None = None
        for turned in kind.turns if turns is None else turns:
            reach = math.inf if best is None else best[0][0] - turned.size[0]
            found = self._first_free(turned, reach)
            if found is None:
                continue
            rank = (found[0] + turned.size[0], found[1])
            if best is None or rank < best[0]:
                best = (rank, turned, *found)
        if best is None:
            return False
        self.put(kind, best[1], best[2], best[3])
        return True

    def put(self, kind: Kind, turned: TurnedOutline, x_mm: float, y_mm: float) -> None:
        """Lay a copy's lower left corner at a place without asking whether it is free."""
        self.lying.append(Lying(kind, turned, x_mm, y_mm))
        self._outlines.add(turned.moved, self._gap_mm)
        self._outlines.move(self._outlines.total - 1, turned.moved, x_mm, y_mm)
        self._lines.add_part(turned, x_mm, self.spacing_mm, self._outlines.total)

    def put_placed(self, kind: Kind, placement: Placement) -> None:
        """Lay a copy down as it was placed before."""
        turned = kind.turned(placement.turn_deg, placement.mirrored)
        x_mm, y_mm = placement.x_mm + turned.corner[0], placement.y_mm + turned.corner[1]
        self.put(kind, turned, x_mm, y_mm)

    def take_off(self, count: int) -> None:
        """Take everything off after the first ``count`` copies."""
        if count >= len(self.lying):
            return
        del self.lying[count:]
        self._outlines.total = self._walls + count
        self._lines.forget(self._outlines.total)
        self._forget()

    def is_free(self, turned: TurnedOutline, x_mm: float, y_mm: float, skip: int = -1) -> bool:
        """Whether an outline at (x_mm, y_mm) lies in the usable area and keeps the spacing.

        The copy number ``skip`` is not looked at.
        """
        if (
            x_mm < self._room[0] - kernel.EDGE_MM
            or y_mm < self._room[1] - kernel.EDGE_MM
            or x_mm + turned.size[0] > self._room[2] + kernel.EDGE_MM
            or y_mm + turned.size[1] > self._room[3] + kernel.EDGE_MM
        ):
            return False
        number = self._walls + skip if skip >= 0 else -1
        laid = self._outlines.laid
        gap = laid.gap - LENIENT_MM
        gap[: self._walls] = LENIENT_WALL_GAP_MM
        return bool(kernel.is_free(laid._replace(gap=gap), number, turned.moved, x_mm, y_mm))

    def settle(self) -> None:
        """Slide everything down and left into contact, from the left on."""
        for i in sorted(range(len(self.lying)), key=lambda j: (self.lying[j].x_mm, j)):
            copy = self.lying[i]
            number, moved = self._walls + i, copy.turned.moved
            copy.x_mm, copy.y_mm = kernel.slide(
                self._outlines.laid, number, moved, copy.x_mm, copy.y_mm, self.low
            )
            self._outlines.move(number, moved, copy.x_mm, copy.y_mm)
        self._lines.forget(self._walls)
        for i, copy in enumerate(self.lying, start=self._walls + 1):
            self._lines.add_part(copy.turned, copy.x_mm, self.spacing_mm, i)
        self._forget()

    def placements(self) -> tuple[Placement, ...]:
        """All copies in the sheet's coordinates."""
        return tuple(
            copy.turned.placement(copy.kind.body, copy.x_mm, copy.y_mm) for copy in self.lying
        )

    @property
    def _gap_mm(self) -> float:
        if self.spacing_mm == 0.0:
            return 2.0 * INSET_MM - ROUNDING_MM
        return max(self.spacing_mm - ROUNDING_MM, 0.0)

    def _first_free(self, turned: TurnedOutline, x_most: float) -> tuple[float, float] | None:
        """Leftmost, then lowest free place with its lower left corner no further than x_most."""
        width_mm, height_mm = turned.size
        if width_mm > self.width_mm + kernel.EDGE_MM or height_mm > self.height_mm + kernel.EDGE_MM:
            return None
        # nothing gets free where all was taken: what was tried is not tried again
        before, height, known = self._tried.get(turned.key, (-math.inf, -math.inf, 0))
        end = max(self._room[2] - width_mm, self._room[0])
        lines = self._lines.for_width(width_mm, (self._room[0], end), before, known)
        lines = lines[lines <= x_most + kernel.EDGE_MM]
        first = height if len(lines) and lines[0] == before else -math.inf
        found, x, y, line, height = first_free(
            self._outlines.laid, self._clear(), turned.moved, self._room, lines, first
        )
        if not found:
            if x_most > before:
                self._tried[turned.key] = (x_most, -math.inf, self._outlines.total)
            return None
        if line >= before:
            self._tried[turned.key] = (float(line), float(height), self._outlines.total)
        return float(x), float(y)

    def _clear(self) -> Clearance:
        """Return the grid of clearances with all outlines in it."""
        laid = self._outlines.laid
        for i in range(self._cleared, laid.total):
            add_outline(self._clearance, laid, i)
        self._cleared = laid.total
        return self._clearance

    def _forget(self) -> None:
        """Forget what was known of free places."""
        self._clearance.radius.fill(np.inf)
        self._cleared = 0
        self._tried.clear()

    def _add_wall(self, wall: Polygon) -> None:
        rings = rings_of(wall)
        edges = edges_of(rings)
        moved = kernel.Moved(edges, probes_of(rings), np.empty((0, 3)), 0.0, 0.0)
        self._outlines.add(moved, WALL_GAP_MM)
        self._outlines.box[self._outlines.total - 1] = wall.bounds
        holes = [Polygon(ring).bounds for ring in wall.interiors]
        starts = [wall.bounds[2], *(hole[0] for hole in holes)]
        if len(edges) <= MOST_CORNERS:
            starts += [float(x) for x in np.unique(np.round(edges[:, 0], 6))]
        lines = [(x, 0.0, 0.0, 0.0) for x in starts]
        for hole in holes:
            lines += [(0.5 * (hole[0] + hole[2]), 0.5, 0.0, 1.0), (hole[2], 1.0, 0.0, 1.0)]
        self._lines.add(np.array(lines))


def _walls(area: MultiPolygon) -> list[Polygon]:
    """What of the area's box is not usable, a hair smaller."""
    if area.is_empty:
        return []
    around = as_area(shapely.box(*area.bounds).difference(area))
    return list(as_area(around.buffer(-WALL_INSET_MM, join_style="mitre")).geoms)
