"""Order of loops and strokes, and where each is entered.

Loops of neighbouring levels form a tree: a loop's parent is the loop of the level outside it
that it was offset from. The order follows the tree, the nearest relative first; at a dead end it
goes on with the nearest loop left in the same piece, then with the nearest piece.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely import MultiPolygon

from kerfwright.engraving.offsets import Rings
from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.intp]

CORNER_RAD = np.radians(30.0)
"""A turn this sharp stops the machine nearly; entering there costs no further stop."""

LINK_INTERVALS = 3.0
"""Longest step from loop to loop that is burned through, in intervals.

Loops round a corner of angle α lie i/sin(α/2) apart there: 1.41 i for a square's corner and
3 i for one of 39°.
"""


@dataclass(eq=False, slots=True)
class Track:
    """A loop (closed, first point not repeated) or an open stroke, and its relatives."""

    points: FloatArray
    closed: bool
    piece: int
    relatives: list[int] = field(default_factory=list)
    _corners: IntArray | None = None

    def corners(self) -> IntArray:
        """Numbers of the vertices at which a loop turns sharply."""
        if self._corners is None:
            step = np.roll(self.points, -1, axis=0) - self.points
            heading = np.arctan2(step[:, 1], step[:, 0])
            turn = np.abs((heading - np.roll(heading, 1) + np.pi) % (2.0 * np.pi) - np.pi)
            self._corners = np.flatnonzero(turn > CORNER_RAD)
        return self._corners


def tracks_of(levels: list[Rings], strokes: list[FloatArray], area: MultiPolygon) -> list[Track]:
    """Make tracks with the tree of loops; strokes belong to the piece they lie in."""
    pieces = shapely.STRtree(list(area.geoms))
    tracks: list[Track] = []
    outer: shapely.STRtree | None = None
    outer_first = 0
    for rings in levels:
        first = len(tracks)
        heads = shapely.points(np.array([ring[0] for ring in rings]))
        if outer is None:
            owners = [int(i) for i in pieces.nearest(heads)]
            parents = [-1] * len(rings)
        else:
            parents = [outer_first + int(i) for i in outer.nearest(heads)]
            owners = [tracks[parent].piece for parent in parents]
        for ring, owner, parent in zip(rings, owners, parents, strict=True):
            if parent >= 0:
                tracks[parent].relatives.append(len(tracks))
            tracks.append(Track(ring, True, owner, [parent] if parent >= 0 else []))
        outer = shapely.STRtree([shapely.linearrings(ring) for ring in rings])
        outer_first = first
    if strokes:
        middles = shapely.points(np.array([stroke[len(stroke) // 2] for stroke in strokes]))
        owners = [int(i) for i in pieces.nearest(middles)]
        tracks += [Track(s, False, o) for s, o in zip(strokes, owners, strict=True)]
    return tracks


def order_tracks(tracks: list[Track], interval_mm: float) -> list[FloatArray]:
    """Points along every track in burning order; a loop's first point comes again at its end."""
    if not tracks:
        return []
    boxes = np.array([[*t.points.min(axis=0), *t.points.max(axis=0)] for t in tracks])
    waiting = np.ones(len(tracks), dtype=bool)
    by_piece: dict[int, list[int]] = {}
    for i, track in enumerate(tracks):
        by_piece.setdefault(track.piece, []).append(i)
    members = {piece: np.array(own) for piece, own in by_piece.items()}
    at = boxes[:, :2].min(axis=0)
    last: Track | None = None
    ordered: list[FloatArray] = []
    for _ in tracks:
        chosen = -1
        if last is not None:
            near = [i for i in last.relatives if waiting[i]]
            chosen = _nearest(np.array(near), tracks, boxes, at) if near else -1
            if chosen < 0:
                own = members[last.piece]
                members[last.piece] = own = own[waiting[own]]
                chosen = _nearest(own, tracks, boxes, at) if len(own) else -1
        if chosen < 0:
            chosen = _nearest(np.flatnonzero(waiting), tracks, boxes, at)
        waiting[chosen] = False
        last = tracks[chosen]
        line = _entered(last, at, LINK_INTERVALS * interval_mm)
        ordered.append(line)
        at = line[-1]
    return ordered


def _nearest(some: IntArray, tracks: list[Track], boxes: FloatArray, at: FloatArray) -> int:
    """Track with the vertex nearest to ``at``; boxes tell which need looking at."""
    if len(some) == 1:
        return int(some[0])
    box = boxes[some]
    outside = np.maximum(np.maximum(box[:, :2] - at, at - box[:, 2:]), 0.0)
    bound = np.hypot(outside[:, 0], outside[:, 1])
    best, best_away = -1, np.inf
    for k in np.argsort(bound, kind="stable"):
        if bound[k] >= best_away:
            break
        points = tracks[some[k]].points
        if not tracks[some[k]].closed:
            points = points[[0, -1]]
        away = float(np.hypot(points[:, 0] - at[0], points[:, 1] - at[1]).min())
        if away < best_away:
            best, best_away = int(some[k]), away
    return best


def _entered(track: Track, at: FloatArray, link_mm: float) -> FloatArray:
    """Points along a track from where it is best entered when coming from ``at``."""
    points = track.points
    away = np.hypot(points[:, 0] - at[0], points[:, 1] - at[1])
    if not track.closed:
        return points if away[0] <= away[-1] else points[::-1]
    corners = track.corners()
    foot, edge = _foot(points, at)
    foot_away = float(np.hypot(*(foot - at)))
    if len(corners):
        corner = int(corners[np.argmin(away[corners])])
        if away[corner] <= link_mm or foot_away > link_mm:
            ring = np.roll(points, -corner, axis=0)
            return np.vstack([ring, ring[:1]])
    nearest = int(np.argmin(away))
    if away[nearest] <= foot_away + 1e-6:
        ring = np.roll(points, -nearest, axis=0)
        return np.vstack([ring, ring[:1]])
    ring = np.roll(points, -(edge + 1), axis=0)
    return np.vstack([foot[None, :], ring, foot[None, :]])


def _foot(points: FloatArray, at: FloatArray) -> tuple[FloatArray, int]:
    """Nearest point on a closed line and the edge that it lies on."""
    step = np.roll(points, -1, axis=0) - points
    squared = np.maximum((step**2).sum(axis=1), 1e-18)
    share = np.clip(((at - points) * step).sum(axis=1) / squared, 0.0, 1.0)
    feet = points + share[:, None] * step
    edge = int(np.argmin(((feet - at) ** 2).sum(axis=1)))
    return feet[edge], edge
