"""Compiles every kernel, or loads it from the cache, by planning one small part.

``python -m kerfwright.warm layout`` and ``... beam`` do half of the compiling each, so that two
processors can share it.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from functools import cache

import numpy as np
from shapely import MultiPolygon, Polygon, box

from kerfwright.drawing.model import Drawing, Picture, Shape
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.curves import Arc, Span
from kerfwright.geometry.flatten import flattened_beziers
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import CHORD_MM, GAP_MM, JOIN_MM
from kerfwright.motion.heat import heat_map
from kerfwright.motion.line_energy import peak_line_energy
from kerfwright.motion.trace import trace_of
from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.edge_matching import match_edges
from kerfwright.nesting.model import Body, Placement, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.perfect_kernel import pack_exactly
from kerfwright.nesting.rectangles import pack_rectangles
from kerfwright.nesting.search.improve import improve
from kerfwright.nesting.search.model import Budget, Piece, Spot
from kerfwright.nesting.search.separation import Limit
from kerfwright.nesting.strip_search.no_fit import no_fits, turns_of
from kerfwright.nesting.strip_search.searcher import Searcher, turns_of_copies
from kerfwright.output.burn_kernel import burn_strokes
from kerfwright.parts.model import EngraveMark, Part, PhotoMark, ScoreMark
from kerfwright.program import near
from kerfwright.repair.mend import mend
from kerfwright.sequence.beam_path import BeamPlanner, PlacedPart
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import Process


@cache
def warm() -> None:
    """Run every stage that has kernels once, so that no real work waits for a compiler."""
    warm_layout()
    warm_beam()


def warm_layout() -> None:
    """Run what comes before the beam's path: drawings mended, parts laid out."""
    flattened_beziers(np.array([[[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]]]), CHORD_MM)
    mend(_drawing(), join_mm=JOIN_MM, gap_mm=GAP_MM)
    part = _part()
    body = Body("part", (part.polygon,), 2, (0.0, 90.0))
    sheet = SheetSize("sheet", 100.0, 100.0, 1)
    nest([body], [sheet], spacing_mm=1.0, margin_mm=1.0, seconds=0.05, seed=1)
    _search(part)
    _shorten_strip(part)
    _place_specially()


def warm_beam() -> None:
    """Run the beam's path and what reads it: clock, heat, verification, pictures."""
    machine = _machine()
    settings = {"machine": machine.name, "speed_mm_s": 100.0, "power": 0.5, "interval_mm": 0.5}
    cutting = {"kerf_mm": 0.1, "cooling_mm": 5.0, "cooling_s": 1.0}
    recipes = {
        process: Recipe.model_validate({**settings, **cutting, "process": process})
        for process in (Process.CUT, Process.SCORE, Process.ENGRAVE, Process.PHOTO)
    }
    planned = BeamPlanner(machine, recipes, merge_mm=0.05, shared_edges=True).plan(
        [PlacedPart(_part(), 1, "part", (0,), lambda _: "fastest")], "sheet 1"
    )
    trace = trace_of(planned.toolpath, machine)
    peak_line_energy(trace, planned.toolpath, machine.spot_mm)
    heat_map(trace, planned.toolpath, window_mm=20.0, window_s=60.0)
    near.warm()
    burn_strokes(np.zeros((1, 4)), np.ones(1), 1.0, 2, 2)


HALVES = {"layout": warm_layout, "beam": warm_beam}


def _search(part: Part) -> None:
    """Draw two copies apart that lie on one another."""
    piece = Piece(MultiPolygon([part.polygon]), 2, (0.0, 90.0))
    start = [Spot(0, 0, 0.0, x, 0.0) for x in (0.0, 1.0)]
    board = box(0.0, 0.0, 100.0, 40.0).difference(box(90.0, 0.0, 100.0, 10.0))
    budget = Budget(work=400, searchers=1)
    improve([piece], [board], start, spacing_mm=1.0, budget=budget, seed=1)


def _shorten_strip(part: Part) -> None:
    """Lay two copies in a strip, and draw them apart in one that is too short."""
    turns = turns_of([np.array(part.polygon.exterior.coords)[:-1]], [(0.0, 90.0)])
    limit = Limit(math.inf, math.inf, lambda: False)
    copies = turns_of_copies(turns.first, [2])
    searcher = Searcher(no_fits(turns), copies, 100.0, seed=1, limit=limit)
    searcher.lay_first()
    searcher.length_mm = 1.1 * turns.least_mm([2], 100.0)
    searcher.separate(patience=1, strikes=1)


def _place_specially() -> None:
    """Pack rectangles of two sizes exactly, lay them edge to edge, and slide them apart."""
    bodies = [Body("part", (box(0.0, 0.0, *size),), 2, (0.0,)) for size in ((9.0, 4.0), (5.0, 4.0))]
    wanted = Counter({0: 2, 1: 2})
    area = box(0.0, 0.0, 14.0, 8.5)
    pack_rectangles(bodies, wanted, area, spacing_mm=0.0, seed=1, work=5)
    pack_exactly(np.full((1, 2, 2), 4), np.array([2]), 8, 4, 9)
    match_edges(bodies, wanted, area, kerf_mm=0.1, spacing_mm=1.0, work=1)
    angle = box(0.0, 0.0, 9.0, 9.0).difference(box(3.0, 3.0, 9.0, 9.0))
    angles = [Placement(0, 0.0, at, at) for at in (0.0, 4.0)]
    room = box(0.0, 0.0, 40.0, 40.0)
    compacted([Body("angle", (angle,), 2, (0.0,))], angles, room, spacing_mm=1.0)


def _machine() -> Machine:
    limits = AxisLimits(speed_mm_s=(500.0, 500.0), acceleration_mm_s2=(3000.0, 3000.0))
    return Machine(
        name="machine",
        bed_width_mm=100.0,
        bed_height_mm=100.0,
        power_w=40.0,
        spot_mm=0.6,  # wider than the interval, so that loops are rounded too
        travel=limits,
        cutting=limits,
        scanning=limits,
    )


def _drawing() -> Drawing:
    """Lines with everything that is mended: overlaps, a junction, a repeat, a chopped arc."""
    angles = np.linspace(0.0, 1.0, 20)[:, None]
    lines = [
        np.array([[0.0, 0.0], [60.0, 0.0]]),
        np.array([[100.0, 0.0], [40.0, 0.0]]),
        np.array([[100.0, 0.0], [100.0, 50.0]]),
        np.array([[100.0, 0.0], [150.0, 0.003]]),
        np.array([[120.0, 0.0], [130.0, 0.004]]),
        np.array([[0.0, 20.0], [9.0, 20.0], [9.0, 29.0], [0.0, 29.0], [0.0, 20.04]]),
        30.0 * np.hstack([np.cos(angles), np.sin(angles)]),
    ]
    paths = [Path(line) for line in [*lines, lines[-1]]]
    ring = Path(np.array([[0.0, 60.0], [9.0, 60.0], [9.0, 69.0], [20.0, 69.0], [9.0, 69.0]]), True)
    arcs = [Arc((200.0, 0.0), 9.0, start, 2.0) for start in (0.0, 1.0)]
    paths += [ring, *(Path(p, spans=(Span(0, len(p) - 1, a),)) for a, p in _flat(arcs))]
    shapes = [Shape(f"line {n}", (path,)) for n, path in enumerate(paths)]
    return Drawing("drawing", tuple(shapes), 200.0, 100.0)


def _flat(arcs: list[Arc]) -> list[tuple[Arc, FloatArray]]:
    return [(arc, arc.points(CHORD_MM)) for arc in arcs]


def _frame() -> Polygon:
    """Four bars, which are engraved cell by cell."""
    return box(18.0, 18.0, 28.0, 28.0).difference(box(20.0, 20.0, 26.0, 26.0))


def _part() -> Part:
    def square(low: float, high: float) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
        return np.array([[low, low], [high, low], [high, high], [low, high]])

    dots = np.array([[0, 99], [199, 255]], dtype=np.uint8)
    return Part(
        name="part",
        drawing="",
        outline=Path(square(10.0, 30.0), closed=True),
        holes=(Path(square(12.0, 14.0)[::-1].copy(), closed=True),),
        scores=(ScoreMark("score", "", (Path(np.array([[16.0, 12.0], [28.0, 12.0]])),)),),
        engraves=(EngraveMark("engrave", "", MultiPolygon([_frame()])),),
        photos=(PhotoMark(Picture("photo", dots, Affine(a=4.0, d=-4.0, e=24.0, f=17.0))),),
    )


if __name__ == "__main__":
    HALVES[sys.argv[1]]()
