"""The compiled order of a piece's loops and strokes."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from kerfwright.engraving.ring_kernel import (
    BoolArray,
    Line,
    Pace,
    Rings,
    Tree,
    append,
    follow,
    foot,
    point_at,
)
from kerfwright.engraving.spiral import pass_over, stretch_goes_on, stretch_on

AGAIN_SHARE = 0.25
"""Of a loop that may be burned again to get to where it passes over; else a step is shorter."""


@njit(cache=True, nogil=True)
def drive_tracks(tree: Tree, pace: Pace, spiral: bool, from_inside: bool) -> Line:
    """Follow every track once, from the outermost loop on, or ``from_inside``.

    With ``spiral`` neighbours are joined by passing over where they run side by side.
    """
    rings, loops = tree.rings, tree.loops
    count = len(tree.parent)
    room = 4 * len(rings.points) + 64 * count
    line = Line(np.empty((room, 2)), np.zeros(room, dtype=np.bool_), np.zeros(1, dtype=np.int64))
    waiting = np.ones(count, dtype=np.bool_)
    track = _first_track(tree, from_inside)
    x, y = tree.boxes[:, 0].min(), tree.boxes[:, 1].min()
    far = True
    for _ in range(count):
        waiting[track] = False
        if track >= loops:
            _stroke(rings, track, x, y, line)
        else:
            way = _entry(rings, track, x, y, pace.link)
            start = end = way
            if spiral:
                start, end = stretch_on(rings, track, way, pace)
                if far:
                    way = start
            px, py = point_at(rings, track, way)
            append(line, px, py, True)
            follow(rings, track, way, way + rings.total[track], line)
            again = (start - way) % rings.total[track]
            if again > rings.total[track] - 1e-6:
                again = 0.0
            if end > start and again <= AGAIN_SHARE * rings.total[track]:
                before = line.state[0]
                follow(rings, track, way, way + again, line)
                track, passed = _spiral_on(tree, waiting, line, track, start, end, pace)
                if not passed:
                    line.state[0] = before
        last = line.state[0] - 1
        x, y = line.points[last, 0], line.points[last, 1]
        following = -1
        if track < loops:
            following = _nearest_relative(tree, waiting, track, x, y)
        if following < 0:
            following = _nearest_left(tree, waiting, x, y)
        if following < 0:
            break
        track = following
        far = track < loops and foot(rings, track, x, y)[1] > pace.link
    return line


@njit(cache=True)
def _spiral_on(
    tree: Tree,
    waiting: BoolArray,
    line: Line,
    track: int,
    start: float,
    end: float,
    pace: Pace,
) -> tuple[int, bool]:
    """Pass over from loop to loop as long as it goes; the last loop, and whether any was passed."""
    rings = tree.rings
    passed = False
    while True:
        x, y = point_at(rings, track, start)
        then = _nearest_relative(tree, waiting, track, x, y)
        if then < 0:
            break
        inward = tree.parent[then] == track
        there, there_end = pass_over(rings, track, then, inward, start, end, pace, line)
        if there_end <= there:
            break
        waiting[then] = False
        passed = True
        track = then
        start, end = stretch_goes_on(rings, track, there, there_end, pace)
        if end <= start:
            start = end = there_end
            follow(rings, track, there_end, there_end + rings.total[track], line)
            return track, passed
        follow(rings, track, there_end, start + rings.total[track], line)
    if passed:
        follow(rings, track, start, end, line)
    return track, passed


@njit(cache=True)
def _first_track(tree: Tree, from_inside: bool) -> int:
    """The widest loop of the first level, or one of the last; a stroke if there are no loops."""
    if tree.loops == 0:
        return 0
    if from_inside:
        return tree.loops - 1
    best, widest = 0, -1.0
    for t in range(tree.loops):
        width = tree.boxes[t, 2] - tree.boxes[t, 0]
        if tree.parent[t] < 0 and width > widest:
            best, widest = t, width
    return best


@njit(cache=True)
def _nearest_relative(tree: Tree, waiting: BoolArray, track: int, x: float, y: float) -> int:
    """Nearest parent or child that has not been followed yet; -1 if none is left."""
    best, best_away = -1, np.inf
    up = tree.parent[track]
    if up >= 0 and waiting[up]:
        best = up
    some = tree.children[tree.child_first[track] : tree.child_first[track + 1]]
    left = waiting[some].sum()
    if best >= 0 and left == 0:
        return int(best)
    if best >= 0:
        best_away = _away_within(tree, best, x, y, np.inf)
    for child in some:
        if waiting[child]:
            if left == 1 and best < 0:
                return int(child)
            away = _away_within(tree, child, x, y, best_away)
            if away < best_away:
                best, best_away = child, away
    return int(best)


@njit(cache=True)
def _nearest_left(tree: Tree, waiting: BoolArray, x: float, y: float) -> int:
    """Nearest track that has not been followed yet; -1 if none is left."""
    best, best_away = -1, np.inf
    for t in range(len(waiting)):
        if waiting[t]:
            away = _away_within(tree, t, x, y, best_away)
            if away < best_away:
                best, best_away = t, away
    return best


@njit(cache=True)
def _away_within(tree: Tree, track: int, x: float, y: float, bound: float) -> float:
    """Distance to the nearest point where a track may be entered; infinite if beyond a bound."""
    rings, boxes = tree.rings, tree.boxes
    closed = track < tree.loops
    dx = max(boxes[track, 0] - x, x - boxes[track, 2], 0.0)
    dy = max(boxes[track, 1] - y, y - boxes[track, 3], 0.0)
    if dx * dx + dy * dy >= bound * bound:
        return np.inf
    low, end = rings.first[track], rings.first[track + 1]
    best2 = np.inf
    for i in range(low, end):
        if closed or i in (low, end - 1):
            best2 = min(best2, (rings.points[i, 0] - x) ** 2 + (rings.points[i, 1] - y) ** 2)
    return math.sqrt(best2)


@njit(cache=True)
def _entry(rings: Rings, track: int, x: float, y: float, link: float) -> float:
    """Way along a loop to where it is best entered from (x, y): a corner, or the nearest point."""
    way, away = foot(rings, track, x, y)
    corner_way, corner2 = way, np.inf
    for i in range(rings.first[track], rings.first[track + 1]):
        if rings.corner[i]:
            away2 = (rings.points[i, 0] - x) ** 2 + (rings.points[i, 1] - y) ** 2
            if away2 < corner2:
                corner_way, corner2 = rings.along[i], away2
    if corner2 < np.inf and (math.sqrt(corner2) <= link or away > link):
        return corner_way
    return way


@njit(cache=True)
def _stroke(rings: Rings, track: int, x: float, y: float, line: Line) -> None:
    """Follow an open stroke from its nearer end."""
    low, end = rings.first[track], rings.first[track + 1]
    head, tail = rings.points[low], rings.points[end - 1]
    turned = (tail[0] - x) ** 2 + (tail[1] - y) ** 2 < (head[0] - x) ** 2 + (head[1] - y) ** 2
    for k in range(end - low):
        point = rings.points[end - 1 - k if turned else low + k]
        append(line, point[0], point[1], k == 0)
