"""Engraving in loops that follow the outline."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely import MultiPolygon, Polygon

from kerfwright.cores import at_once
from kerfwright.engraving.burn import UNCOVERED_SHARE, Burn
from kerfwright.engraving.cell_links import linked, order_blocks
from kerfwright.engraving.centre_line import centre_lines
from kerfwright.engraving.loop_order import (
    LINK_INTERVALS,
    Tracks,
    drive,
    pace_of,
    tracks_of,
    tree_of,
)
from kerfwright.engraving.offsets import Levels, curve_tolerance_mm, levels_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.kernel import LENGTH_ZERO_MM
from kerfwright.motion.timing import move_times_s, time_toolpath, travel_speed_mm_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MOVE_DTYPE, MoveArray, MoveKind, Toolpath, join

Joining = Literal["fastest", "steps", "spirals"]
"""How a loop leads to the next: by a short step, by passing over, or by what is faster."""

VISIBLE_INTERVALS2 = 1.0
"""Remains of this many square intervals are always burned, however small their share."""

WHOLE_SHARE = 0.5
"""Remains of this share of a piece are a piece that no loop burns; never left out."""

FASTER = 1.0 - 1e-6
"""Another way to join loops is taken if it takes less than this share of the time."""


@dataclass(frozen=True, eq=False, slots=True)
class Loops:
    """An area engraved in loops; ``strokes`` counts the lines that close what they left, and
    ``move_s`` has the seconds of every move.
    """

    toolpath: Toolpath
    move_s: FloatArray
    loops: int
    strokes: int
    uncovered_mm2: float


def contour_parallel(
    area: MultiPolygon,
    burn: Burn,
    machine: Machine,
    *,
    sharp_corners: bool = False,
    joining: Joining = "fastest",
) -> Loops:
    """Engrave ``area`` in loops: the first half an interval inside, then one every interval.

    What the loops leave (cores, sharp tips, strokes thinner than the first loop) is burned along
    its centre line, the largest places first, until at most ``UNCOVERED_SHARE`` of the area is
    left. Neighbouring loops are joined by passing over or by steps, from outside in or from
    inside out, whatever the clock finds fastest for each connected piece; outside in if it makes
    no difference. A step is burned through if it is short and stays inside the area; otherwise
    it is travelled with the beam off. The toolpath starts on its first loop, and one piece is
    finished before the next. ``sharp_corners``: see
    :func:`kerfwright.engraving.offsets.levels_of`.
    """
    tolerance = curve_tolerance_mm(burn, machine.junction_deviation_mm)
    levels = levels_of(area, burn, tolerance, machine=machine, sharp_corners=sharp_corners)
    close, left_mm2 = _to_close(levels, area, burn)
    strokes = centre_lines(close, area, burn.footprint_mm, burn.interval_mm / 20.0) if close else []
    left_mm2 += _still_open_mm2(close, strokes, 0.5 * burn.footprint_mm)
    pieces = tracks_of(levels.levels, strokes, area)
    blocks = _blocks(pieces, lambda tracks: _piece(tracks, burn, machine, joining))
    order = order_blocks(blocks, machine)
    toolpath, _ = linked([blocks[block][way] for block, way in order], machine)
    loops = sum(tracks.loops for tracks in pieces)
    return Loops(toolpath, move_times_s(toolpath, machine), loops, len(strokes), left_mm2)


def _blocks(
    pieces: list[Tracks], drive_piece: Callable[[Tracks], list[Toolpath]]
) -> list[list[Toolpath]]:
    """Toolpaths of every piece; those that are equal but for their place are driven once."""
    first: dict[tuple[object, ...], int] = {}
    corners = [np.min([line.min(axis=0) for line in tracks.lines], axis=0) for tracks in pieces]
    like = [
        first.setdefault(_shape_of(tracks, corner), number)
        for number, (tracks, corner) in enumerate(zip(pieces, corners, strict=True))
    ]
    shapes = sorted(first.values(), key=lambda number: -sum(map(len, pieces[number].lines)))
    driven = at_once([partial(drive_piece, pieces[number]) for number in shapes])
    by_shape = dict(zip(shapes, driven, strict=True))
    blocks = []
    for number, model in enumerate(like):
        x, y = (corners[number] - corners[model]).tolist()
        ways = by_shape[model]
        blocks.append(ways if number == model else [way.moved(x, y) for way in ways])
    return blocks


def _shape_of(tracks: Tracks, corner: FloatArray) -> tuple[object, ...]:
    """What pieces have in common that are equal but for their place."""
    places = np.round(np.vstack(tracks.lines) - corner, 6) + 0.0
    sizes = tuple(len(line) for line in tracks.lines)
    return sizes, tuple(tracks.parent), tracks.loops, places.tobytes()


def _piece(tracks: Tracks, burn: Burn, machine: Machine, joining: Joining) -> list[Toolpath]:
    """The fastest toolpath of one piece, from outside in first, and the same backwards."""
    tree = tree_of(tracks)
    pace = pace_of(burn, min(machine.cutting.acceleration_mm_s2))
    joinings = {"fastest": (False, True), "steps": (False,), "spirals": (True,)}[joining]
    insides = (False, True) if tracks.loops > 1 else (False,)
    tried = [(inside, spiral) for inside in insides for spiral in joinings]
    driven = at_once(
        [partial(drive, tree, pace, spiral=spiral, from_inside=inside) for inside, spiral in tried]
    )
    shapely.prepare(tracks.polygon)
    # a prepared polygon is asked by one thread at a time
    toolpaths = [_toolpath(lines, tracks.polygon, burn, machine) for lines in driven]
    times = at_once([partial(time_toolpath, toolpath, machine) for toolpath in toolpaths])
    best, best_s = 0, np.inf
    for number, time in enumerate(times):
        if time.total_s < FASTER * best_s:
            best, best_s = number, time.total_s
    ways = [toolpaths[best], _backwards(toolpaths[best])]
    return ways[::-1] if tried[best][0] else ways


def _backwards(toolpath: Toolpath) -> Toolpath:
    """The same moves from the end to the start."""
    points = toolpath.points
    moves = toolpath.moves[::-1].copy()
    moves["x_mm"], moves["y_mm"] = points[-2::-1, 0], points[-2::-1, 1]
    return Toolpath(moves, toolpath.end_mm)


def _to_close(levels: Levels, area: MultiPolygon, burn: Burn) -> tuple[list[Polygon], float]:
    """Remains to burn, and the area of those that may stay."""
    remains = levels.remains
    sizes = np.array([piece.area for piece in remains])
    order = np.argsort(-sizes, kind="stable")
    rest = np.empty(len(sizes))
    rest[order] = np.cumsum(sizes[order][::-1])[::-1]
    close = (rest > UNCOVERED_SHARE * area.area) | (
        sizes >= VISIBLE_INTERVALS2 * burn.interval_mm**2
    )
    outer = remains[: levels.outer_remains]
    if outer:
        owner = shapely.STRtree(list(area.geoms)).nearest(shapely.point_on_surface(outer))
        close[: len(outer)] |= sizes[: len(outer)] > WHOLE_SHARE * shapely.area(area.geoms)[owner]
    return [remains[i] for i in np.flatnonzero(close)], float(sizes[~close].sum())


def _still_open_mm2(close: list[Polygon], strokes: list[FloatArray], radius_mm: float) -> float:
    """Area of remains that their strokes do not reach."""
    if not close:
        return 0.0
    if not strokes:
        return float(shapely.area(np.array(close)).sum())
    burned = shapely.buffer([shapely.linestrings(s) for s in strokes], radius_mm, quad_segs=8)
    tree = shapely.STRtree(burned)
    left = 0.0
    pieces, near = tree.query(np.array(close), predicate="intersects")
    for i, piece in enumerate(close):
        left += piece.difference(shapely.union_all(burned[near[pieces == i]])).area
    return left


def _toolpath(lines: list[FloatArray], polygon: Polygon, burn: Burn, machine: Machine) -> Toolpath:
    if not lines:
        return Toolpath(join([]))
    ends = np.array([line[-1] for line in lines[:-1]]).reshape(-1, 2)
    entries = np.array([line[0] for line in lines[1:]]).reshape(-1, 2)
    burned = _burned_links(ends, entries, polygon, LINK_INTERVALS * burn.interval_mm)
    points = np.vstack(lines)
    moves = np.zeros(len(points), dtype=MOVE_DTYPE)
    moves["x_mm"], moves["y_mm"] = points[:, 0], points[:, 1]
    moves["kind"] = MoveKind.LOOP
    moves["speed_mm_s"] = burn.speed_mm_s
    moves["power"] = burn.power
    moves["source"] = burn.source
    heads = np.cumsum([len(line) for line in lines])[:-1]
    travelled = heads[~burned]
    moves["kind"][travelled] = MoveKind.TRAVEL
    moves["speed_mm_s"][travelled] = travel_speed_mm_s(machine)
    moves["power"][travelled] = 0.0
    moves["source"][travelled] = -1
    steps = np.hypot(*np.diff(points, axis=0).T)
    kept: MoveArray = moves[1:][steps > LENGTH_ZERO_MM]
    return Toolpath(kept, (float(points[0, 0]), float(points[0, 1])))


def _burned_links(
    ends: FloatArray, entries: FloatArray, polygon: Polygon, longest_mm: float
) -> npt.NDArray[np.bool_]:
    """Which steps between lines are short and inside their polygon."""
    burned: npt.NDArray[np.bool_] = np.hypot(*(entries - ends).T) <= longest_mm
    if burned.any():
        steps = shapely.linestrings(np.stack([ends[burned], entries[burned]], axis=1))
        burned[burned] = shapely.covers(polygon, steps)
    return burned
