"""Engraving in loops that follow the outline."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely import MultiPolygon, Polygon

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
    blocks = [_piece(tracks, area, burn, machine, joining) for tracks in pieces]
    order = order_blocks(blocks, machine)
    toolpath, _ = linked([blocks[block][way] for block, way in order], machine)
    loops = sum(tracks.loops for tracks in pieces)
    return Loops(toolpath, move_times_s(toolpath, machine), loops, len(strokes), left_mm2)


def _piece(
    tracks: Tracks, area: MultiPolygon, burn: Burn, machine: Machine, joining: Joining
) -> list[Toolpath]:
    """The fastest toolpath of one piece, from outside in first, and the same backwards."""
    tree = tree_of(tracks)
    pace = pace_of(burn, min(machine.cutting.acceleration_mm_s2))
    joinings = {"fastest": (False, True), "steps": (False,), "spirals": (True,)}[joining]
    best: Toolpath | None = None
    best_s = np.inf
    from_inside = False
    for inside in (False, True) if tracks.loops > 1 else (False,):
        for spiral in joinings:
            lines = drive(tree, pace, spiral=spiral, from_inside=inside)
            toolpath = _toolpath(lines, area, burn, machine)
            seconds = time_toolpath(toolpath, machine).total_s
            if seconds < FASTER * best_s:
                best, best_s, from_inside = toolpath, seconds, inside
    assert best is not None
    ways = [best, _backwards(best)]
    return ways[::-1] if from_inside else ways


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


def _toolpath(
    lines: list[FloatArray], area: MultiPolygon, burn: Burn, machine: Machine
) -> Toolpath:
    if not lines:
        return Toolpath(join([]))
    ends = np.array([line[-1] for line in lines[:-1]]).reshape(-1, 2)
    entries = np.array([line[0] for line in lines[1:]]).reshape(-1, 2)
    burned = _burned_links(ends, entries, area, LINK_INTERVALS * burn.interval_mm)
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
    ends: FloatArray, entries: FloatArray, area: MultiPolygon, longest_mm: float
) -> npt.NDArray[np.bool_]:
    """Which steps between lines are short and inside the area."""
    burned: npt.NDArray[np.bool_] = np.hypot(*(entries - ends).T) <= longest_mm
    if burned.any():
        shapely.prepare(area)
        steps = shapely.linestrings(np.stack([ends[burned], entries[burned]], axis=1))
        burned[burned] = shapely.covers(area, steps)
    return burned
