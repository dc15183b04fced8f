"""Places parts one kerf apart, edge on edge, so that one cut parts two of them.

Outlines widened by half a kerf are tiles: where tiles touch along an edge, both parts have the same
beam line there. Every part is laid against what lies already, edge on edge with corners aligned,
where most of its outline is matched and it reaches least further (common practice of puzzle
solvers, no source). Several ways of choosing are tried, and rectangles are packed as such besides;
which is best is counted in millimetres of cut saved, against the sheet in use.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.board import Board, kind_of
from kerfwright.nesting.edge_kernel import ON_MM
from kerfwright.nesting.edge_kernel import matched_mm as matched_between
from kerfwright.nesting.edge_table import Choice, Table, edge_rows, poses_of, tile_corners
from kerfwright.nesting.footprint import material
from kerfwright.nesting.model import Body, Placement
from kerfwright.nesting.rectangles import pack_rectangles

WORK = 400
"""Copies laid down in all tries, a millisecond or two each; every way of choosing is
tried once."""

SEED = 1
"""Start of the random numbers."""

CUT_MM_PER_MM2 = 0.01
"""What a square millimetre of sheet in use is worth in length of cut, where no prices say it.

About plywood at 20 a square metre, cut at 10 mm/s on a machine at 60 an hour: an example, no rule.
"""

WALL_SHARES = (0.5, 0.0)
"""How much contact with the area's edge counts, against contact with a part."""

REACH_SHARES = (1.0, 0.2)
"""How much reaching further to the right by a part's own width counts against it."""

MUCH_WORK = 60_000
"""Poses × copies² beyond which only the first way of choosing is tried."""


@dataclass(frozen=True, slots=True)
class EdgeMatching:
    """Copies laid on one area, and the length of cut that two of them share: beam saved."""

    placements: tuple[Placement, ...]
    matched_mm: float
    used_mm2: float
    """Width in use × height of the area."""

    def value_mm(self, cut_mm_per_mm2: float) -> float:
        """Length of cut saved, less what the sheet in use is worth."""
        return self.matched_mm - cut_mm_per_mm2 * self.used_mm2


def match_edges(
    bodies: Sequence[Body],
    wanted: Counter[int],
    area: BaseGeometry,
    *,
    kerf_mm: float,
    spacing_mm: float,
    cut_mm_per_mm2: float = CUT_MM_PER_MM2,
    work: int = WORK,
    stop: Callable[[], bool] | None = None,
) -> EdgeMatching:
    """Fill ``area`` with what it takes of ``wanted`` (by body number), edges on edges.

    ``area`` is where finished parts may lie, in the sheet's coordinates. Parts are exactly
    ``kerf_mm`` apart where they share an edge, or touch at corners of their beam lines; from all
    others they keep ``spacing_mm``, so that no sliver is left between two cuts, and bodies that may
    not share edges keep it from all. A layout is
    legal for a spacing of ``kerf_mm``. Kept is the filling with most area placed, then with most
    cut saved less ``cut_mm_per_mm2`` for the sheet in use. ``work`` counts the copies laid down in
    all tries, of which the later ones choose a little at random. Nothing depends on the clock
    unless ``stop`` ends it: then what is done so far comes back.
    """
    asked = stop or _never
    asked_for = [number for number in sorted(wanted) if wanted[number] > 0]
    numbers = [number for number in asked_for if bodies[number].shares_edges]
    apart = Counter({number: wanted[number] for number in asked_for if number not in numbers})
    poses = [pose for number in numbers for pose in poses_of(number, bodies[number], kerf_mm)]
    best = EdgeMatching((), 0.0, 0.0)
    if area.is_empty or not asked_for:
        return best
    if not poses:
        return _with_the_rest(Board(area, max(spacing_mm, kerf_mm)), 0.0, bodies, apart)
    shared = wanted - apart
    fillings = [] if apart else _by_rectangles(bodies, wanted, area, kerf_mm, spacing_mm)
    ways = [Choice(*way) for way in product((True, False), WALL_SHARES, REACH_SHARES)]
    if len(poses) * wanted.total() ** 2 > MUCH_WORK:
        ways = ways[:1]
    noise = np.random.default_rng(SEED)
    tries: list[tuple[Choice, np.random.Generator | None]] = [(way, None) for way in ways]
    tries += [(ways[i % len(ways)], noise) for i in range(work // wanted.total() - len(ways))]
    for way, how in tries:
        if asked():
            break
        table = Table(area, kerf_mm, spacing_mm, poses)
        left = _fill(table, shared, way, asked, how)
        board = Board(area, max(spacing_mm, kerf_mm))
        for copy in table.board.lying:
            board.put(copy.kind, copy.turned, copy.x_mm, copy.y_mm)
        fillings.append(_with_the_rest(board, table.matched_mm, bodies, left + apart))
    return min(
        fillings,
        key=lambda f: (-_laid_mm2(bodies, f), -round(f.value_mm(cut_mm_per_mm2), 3)),
        default=best,
    )


def _laid_mm2(bodies: Sequence[Body], filling: EdgeMatching) -> float:
    areas = {p.body: material(bodies[p.body]).area for p in filling.placements}
    return round(math.fsum(areas[p.body] for p in filling.placements), 3)


def _by_rectangles(
    bodies: Sequence[Body],
    wanted: Counter[int],
    area: BaseGeometry,
    kerf_mm: float,
    spacing_mm: float,
) -> list[EdgeMatching]:
    """Rectangles packed one kerf apart, if all are and no sliver is left between any two."""
    placements = pack_rectangles(bodies, wanted, area, spacing_mm=kerf_mm, seed=1)
    if not placements:
        return []
    placed = [shapely.transform(material(bodies[p.body]), p.transform.apply) for p in placements]
    if _has_slivers(placed, kerf_mm, spacing_mm):
        return []
    x_low, y_low, _, y_high = area.bounds
    width_mm = max(part.bounds[2] for part in placed) - x_low
    matched = matched_mm(bodies, placements, kerf_mm)
    return [EdgeMatching(placements, matched, width_mm * (y_high - y_low))]


def _has_slivers(placed: list[BaseGeometry], kerf_mm: float, spacing_mm: float) -> bool:
    """Whether two boxes neither touch as tiles nor keep the spacing."""
    one, other = shapely.STRtree(placed).query(
        placed, predicate="dwithin", distance=max(spacing_mm - 1e-6, 0.0)
    )
    bounds = shapely.bounds(placed)
    a, b = bounds[one[one < other]], bounds[other[one < other]]
    gap = np.maximum(np.maximum(a[:, :2], b[:, :2]) - np.minimum(a[:, 2:], b[:, 2:]), 0.0)
    return bool(np.any(gap.max(axis=1) > kerf_mm + ON_MM))


def matched_mm(bodies: Sequence[Body], placements: Sequence[Placement], kerf_mm: float) -> float:
    """Length of cut that two parts share in a layout of one sheet, in mm: the beam saved."""
    tiles: dict[int, list[FloatArray]] = {}
    placed = []
    for placement in placements:
        if placement.body not in tiles:
            tiles[placement.body] = tile_corners(bodies[placement.body], kerf_mm)
        placed.append([placement.transform.apply(e) for e in tiles[placement.body]])
    edges = [
        edge_rows(rings, placement.mirrored)
        for rings, placement in zip(placed, placements, strict=True)
    ]
    return math.fsum(
        matched_between(edges[i], 0.0, 0.0, np.vstack(edges[i + 1 :]))
        for i in range(len(edges) - 1)
    )


def _never() -> bool:
    return False


def _fill(
    table: Table,
    wanted: Counter[int],
    way: Choice,
    stop: Callable[[], bool],
    noise: np.random.Generator | None = None,
) -> Counter[int]:
    """Lay down copies while there are places; returns what is left over."""
    left = Counter({body: count for body, count in wanted.items() if count > 0})
    sizes = {pose.body: pose.kind.area_mm2 for pose in table.poses}
    groups = [frozenset(sizes)]
    if way.largest_first:
        groups = [frozenset([body]) for body in sorted(sizes, key=lambda b: (-sizes[b], b))]
    for group in groups:
        while not stop():
            open_ones = frozenset(body for body in group if left[body] > 0)
            laid = table.lay_best(open_ones, way, noise) if open_ones else None
            if laid is None:
                break
            left[laid] -= 1
    return +left


def _with_the_rest(
    board: Board, matched_mm: float, bodies: Sequence[Body], left: Counter[int]
) -> EdgeMatching:
    """Lay down, at the board's full spacing, what nothing could or may be matched to."""
    kinds = [
        kind_of(
            number,
            material(bodies[number]),
            bodies[number].turns_deg,
            board.spacing_mm,
            may_mirror=bodies[number].may_mirror,
        )
        for number in left
    ]
    for kind in sorted(kinds, key=lambda kind: (-kind.outer_mm2, kind.body)):
        for _ in range(left[kind.body]):
            if not board.place(kind):
                break
    used_mm2 = board.used_width_mm * board.height_mm
    return EdgeMatching(board.placements(), matched_mm, used_mm2)
