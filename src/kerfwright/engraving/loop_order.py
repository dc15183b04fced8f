"""Order of loops and strokes, and where each is entered.

Loops of neighbouring levels form a tree: a loop's parent is the loop of the level outside it
that it was offset from. The order follows the tree, the nearest relative first; at a dead end it
goes on with the nearest loop left. It may start outside or inside, and relatives may be joined by
short steps or by passing over (:mod:`kerfwright.engraving.spiral`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from kerfwright.engraving.burn import Burn
from kerfwright.engraving.loop_corners import Rings as LevelRings
from kerfwright.engraving.loop_order_kernel import drive_tracks
from kerfwright.engraving.ring_kernel import Pace, Rings, Tree
from kerfwright.geometry.paths import FloatArray

CORNER_RAD = np.radians(30.0)
"""A turn this sharp stops the machine nearly; entering there costs no further stop."""

LINK_INTERVALS = 3.0
"""Longest step from loop to loop that is burned through, in intervals.

Loops round a corner of angle α lie i/sin(α/2) apart there: 1.41 i for a square's corner and
3 i for one of 39°.
"""


BESIDE_INTERVALS = 1.12
"""Two loops are one interval apart and what both may stray, a twentieth each and the drift."""


@dataclass(frozen=True, eq=False, slots=True)
class Tracks:
    """Loops (closed, first point not repeated) and open strokes of one polygon.

    ``parent[t]`` is the loop that t was offset from, -1 for one of the first level and for
    strokes. Parents come before their children.
    """

    lines: list[FloatArray]
    parent: list[int]
    loops: int
    """How many of the lines are loops; they come first."""
    polygon: Polygon


def tracks_of(
    levels: list[LevelRings], strokes: list[FloatArray], area: MultiPolygon
) -> list[Tracks]:
    """Tracks of every polygon of ``area`` with their tree; polygons without any have none."""
    pieces = shapely.STRtree(list(area.geoms))
    lines: list[list[FloatArray]] = [[] for _ in area.geoms]
    parents: list[list[int]] = [[] for _ in area.geoms]
    outer: shapely.STRtree | None = None
    outer_owners: list[int] = []
    outer_numbers: list[int] = []
    for rings in levels:
        heads = shapely.points(np.array([ring[0] for ring in rings]))
        if outer is None:
            owners = [int(i) for i in pieces.nearest(heads)]
            above = [-1] * len(rings)
        else:
            nearest = outer.nearest(heads).tolist()
            owners = [outer_owners[i] for i in nearest]
            above = [outer_numbers[i] for i in nearest]
        numbers = []
        for ring, owner, parent in zip(rings, owners, above, strict=True):
            numbers.append(len(lines[owner]))
            lines[owner].append(ring)
            parents[owner].append(parent)
        outer = shapely.STRtree([shapely.linearrings(ring) for ring in rings])
        outer_owners, outer_numbers = owners, numbers
    loops = [len(own) for own in lines]
    if strokes:
        middles = shapely.points(np.array([stroke[len(stroke) // 2] for stroke in strokes]))
        for stroke, owner in zip(strokes, pieces.nearest(middles).tolist(), strict=True):
            lines[owner].append(stroke)
            parents[owner].append(-1)
    return [
        Tracks(own, parent, count, polygon)
        for own, parent, count, polygon in zip(lines, parents, loops, area.geoms, strict=True)
        if own
    ]


def pace_of(burn: Burn, acceleration_mm_s2: float) -> Pace:
    """What decides how loops are joined.

    Two loops run side by side if they lie one interval apart and what both may stray, or as far
    as the spot covers between rounded corners.
    """
    beside = max(BESIDE_INTERVALS * burn.interval_mm, burn.footprint_mm)
    link = LINK_INTERVALS * burn.interval_mm
    return Pace(burn.interval_mm, link, beside, burn.speed_mm_s, acceleration_mm_s2)


def tree_of(tracks: Tracks) -> Tree:
    """The tracks of a piece, ready to be driven in several ways."""
    parent = np.array(tracks.parent, dtype=np.int64)
    counts = np.bincount(parent[parent >= 0], minlength=len(parent))
    return Tree(
        rings=_flat(tracks),
        boxes=np.array([[*line.min(axis=0), *line.max(axis=0)] for line in tracks.lines]),
        loops=tracks.loops,
        parent=parent,
        child_first=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        children=np.argsort(parent, kind="stable")[int((parent < 0).sum()) :].astype(np.int64),
    )


def drive(
    tree: Tree, pace: Pace, *, spiral: bool = False, from_inside: bool = False
) -> list[FloatArray]:
    """Points along the lines in burning order, a new line wherever the beam steps.

    A loop that is entered by a step has its first point again where it has gone round.
    """
    line = drive_tracks(tree, pace, spiral, from_inside)
    count = int(line.state[0])
    heads = np.flatnonzero(line.step[:count])
    return np.split(line.points[:count], heads[1:])


def _flat(tracks: Tracks) -> Rings:
    sizes = np.array([len(line) for line in tracks.lines])
    first = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    points = np.vstack(tracks.lines)
    after = np.arange(1, len(points) + 1)
    after[first[1:] - 1] = first[:-1]
    before = np.empty_like(after)
    before[after] = np.arange(len(points))
    step = points[after] - points
    length = np.hypot(step[:, 0], step[:, 1])
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs((heading - heading[before] + np.pi) % (2.0 * np.pi) - np.pi)
    run = np.concatenate([[0.0], np.cumsum(length)])
    owner = np.repeat(np.arange(len(sizes)), sizes)
    along = run[:-1] - run[first[:-1]][owner]
    return Rings(points, first, along, np.diff(run[first]), turn > CORNER_RAD)
