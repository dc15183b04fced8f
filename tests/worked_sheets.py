"""Small sheets planned with everything that a program can hold. All numbers are invented.

A clasp lies beside a round lid whose middle falls out: curves, a hole, a scored line, an engraved
box, and cuts in two focused passes with lead-ins, pierces, holding tabs, overcut and air.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from shapely import MultiPolygon, Polygon, box

import planned_square as tile
from kerfwright.geometry.curves import Arc
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.nesting.model import SheetSize
from kerfwright.output.gcode import gcode_lines
from kerfwright.parts.model import EngraveMark, Part, ScoreMark
from kerfwright.plan import Intended, PlannedSheet
from kerfwright.sequence.beam_path import BeamPlanner, PlacedPart
from kerfwright.shop.machine import Dialect, Machine
from kerfwright.shop.material import Material, Recipe
from kerfwright.toolpath import Process

CHORD_MM = 0.01
MERGE_MM = tile.KERF / 2.0

PLAIN_CUT = tile.CUT
FULL_CUT = tile.CUT.model_copy(
    update={
        "passes": 2,
        "focus_step_mm": 0.5,
        "lead_in_mm": 2.0,
        "pierce_s": 0.3,
        "overcut_mm": 1.0,
        "tabs": 2,
        "tab_width_mm": 0.8,
        "air": True,
    }
)

PROGRAMS: dict[str, tuple[Dialect, bool, Recipe]] = {
    "laser mode": (Dialect.GRBL_TYPE, False, PLAIN_CUT),
    "laser mode, everything": (Dialect.GRBL_TYPE, True, FULL_CUT),
    "plain": (Dialect.RS274_NGC, True, PLAIN_CUT),
    "plain, everything": (Dialect.RS274_NGC, True, FULL_CUT),
}
"""Dialect, arcs and cutting recipe by name."""


def machine(name: str) -> Machine:
    dialect, arcs, _ = PROGRAMS[name]
    words = {"arcs": arcs, "air_on": "M8", "air_off": "M9"}
    return tile.machine(dialect, **words).model_copy(update={"focus_speed_mm_s": 5.0})


def circle(x: float, y: float, radius: float) -> FloatArray:
    return Arc((x, y), radius, 0.0, 2.0 * np.pi).points(CHORD_MM)[:-1]


def parts() -> tuple[Part, ...]:
    clasp = Part(
        name="clasp",
        drawing="clasp.svg",
        outline=tile.closed([(10, 10), (40, 10), (40, 34), (22, 34), (10, 28)]),
        holes=(Path(np.ascontiguousarray(circle(16.0, 16.0, 3.0)[::-1]), closed=True),),
        slits=(Path(np.array([(30.0, 14.0), (36.0, 14.0)])),),
        scores=(ScoreMark("line", "score", (Path(np.array([(24.0, 30.0), (37.0, 31.0)])),)),),
        engraves=(EngraveMark("box", "engrave", MultiPolygon([box(24.0, 18.0, 32.0, 21.0)])),),
    )
    lid = Part(
        name="lid",
        drawing="lid.svg",
        outline=Path(circle(62.0, 24.0, 15.0), closed=True),
        holes=(tile.closed([(58, 20), (58, 28), (66, 28), (66, 20)]),),
    )
    return clasp, lid


@cache
def sheet(name: str) -> PlannedSheet:
    cut = PROGRAMS[name][2]
    recipes = {**tile.RECIPES, Process.CUT: cut}
    placed = parts()
    size_mm = (100.0, 80.0)
    path = BeamPlanner(machine(name), recipes, MERGE_MM, shared_edges=True).plan(
        [PlacedPart(one, 1, one.name, (k,), lambda _: "scan") for k, one in enumerate(placed)],
        "sheet 1",
        size_mm,
    )
    return PlannedSheet(
        number=1,
        material=Material(
            name="board", thickness_mm=3.0, recipes=tuple(recipes.values()), invented=True
        ),
        sheet=SheetSize("offcut", *size_mm, 1),
        parts=placed,
        used_fraction=0.2,
        recipes=recipes,
        toolpath=path.toolpath,
        sources=path.sources,
        intended=Intended(
            cuts=tuple(c for one in placed for c in (one.outline, *one.holes, *one.slits)),
            scores=tuple(p for one in placed for mark in one.scores for p in mark.paths),
            area=MultiPolygon([p for one in placed for m in one.engraves for p in m.area.geoms]),
            tabs=path.tabs,
        ),
        times=path.times,
        times_by_process_s=path.times_by_process_s,
        merge_mm=MERGE_MM,
    )


@cache
def lines(name: str) -> tuple[str, ...]:
    return tuple(gcode_lines(sheet(name), machine(name)))


def polygon(path: Path) -> Polygon:
    return Polygon(path.points)
