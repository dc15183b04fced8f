"""Compiles every kernel, or loads it from the cache, by planning one small part."""

from __future__ import annotations

import numpy as np
from shapely import MultiPolygon, box

from kerfwright.geometry.paths import Path
from kerfwright.nesting.model import Body, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.parts.model import EngraveMark, Part, ScoreMark
from kerfwright.program import near
from kerfwright.sequence.beam_path import BeamPlanner, PlacedPart
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import Process


def warm() -> None:
    """Run every stage that has kernels once, so that no real work waits for a compiler."""
    machine = _machine()
    settings = {"machine": machine.name, "speed_mm_s": 100.0, "power": 0.5, "interval_mm": 0.5}
    recipes = {
        process: Recipe.model_validate({**settings, "process": process, "kerf_mm": 0.1})
        for process in (Process.CUT, Process.SCORE, Process.ENGRAVE)
    }
    part = _part()
    BeamPlanner(machine, recipes, merge_mm=0.05, shared_edges=True).plan(
        [PlacedPart(part, 1, "part", (0,), lambda _: "fastest")], "sheet 1"
    )
    body = Body("part", (part.polygon,), 2, (0.0, 90.0))
    sheet = SheetSize("sheet", 100.0, 100.0, 1)
    nest([body], [sheet], spacing_mm=1.0, margin_mm=1.0, seconds=0.05, seed=1)
    near.warm()


def _machine() -> Machine:
    limits = AxisLimits(speed_mm_s=(500.0, 500.0), acceleration_mm_s2=(3000.0, 3000.0))
    return Machine(
        name="machine",
        bed_width_mm=100.0,
        bed_height_mm=100.0,
        power_w=40.0,
        travel=limits,
        cutting=limits,
        scanning=limits,
    )


def _part() -> Part:
    def square(low: float, high: float) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
        return np.array([[low, low], [high, low], [high, high], [low, high]])

    return Part(
        name="part",
        drawing="",
        outline=Path(square(10.0, 30.0), closed=True),
        holes=(Path(square(12.0, 14.0)[::-1].copy(), closed=True),),
        scores=(ScoreMark("score", "", (Path(np.array([[16.0, 12.0], [28.0, 12.0]])),)),),
        engraves=(EngraveMark("engrave", "", MultiPolygon([box(18.0, 18.0, 28.0, 24.0)])),),
    )
