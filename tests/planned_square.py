"""A small planned sheet written out by hand: a square with a hole, a score and an engraving.

The part is a 30 mm square with its corner at (10, 10), a 6 mm square hole, a scored line and an
engraved rectangle. All numbers are invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely import MultiPolygon, box

from kerfwright.geometry.paths import Path
from kerfwright.motion.timing import Times
from kerfwright.nesting.model import SheetSize
from kerfwright.parts.model import EngraveMark, Part, ScoreMark
from kerfwright.plan import Intended, PlannedSheet
from kerfwright.shop.machine import AxisLimits, Controller, Dialect, Machine
from kerfwright.shop.material import Material, Recipe
from kerfwright.toolpath import MoveArray, MoveKind, Process, Toolpath, join, moves_along

KERF = 0.2
INTERVAL = 0.1

CUT = Recipe(machine="trial", process="cut", speed_mm_s=15.0, power=0.8, kerf_mm=KERF)
SCORE = Recipe(machine="trial", process="score", speed_mm_s=100.0, power=0.2)
ENGRAVE = Recipe(
    machine="trial", process="engrave", speed_mm_s=400.0, power=0.35, interval_mm=INTERVAL
)
RECIPES = {Process.CUT: CUT, Process.SCORE: SCORE, Process.ENGRAVE: ENGRAVE}

OUTLINE = [(10.0, 10.0), (40.0, 10.0), (40.0, 40.0), (10.0, 40.0)]
HOLE = [(14.0, 14.0), (14.0, 20.0), (20.0, 20.0), (20.0, 14.0)]
SCORED = [(13.0, 35.0), (37.0, 35.0)]
ENGRAVED = (25.0, 15.0, 35.0, 20.0)

OUTLINE_CUT = [(9.9, 9.9), (40.1, 9.9), (40.1, 40.1), (9.9, 40.1)]
HOLE_CUT = [(14.1, 14.1), (14.1, 19.9), (19.9, 19.9), (19.9, 14.1)]


def machine(dialect: Dialect = Dialect.GRBL_TYPE, **controller: object) -> Machine:
    limits = AxisLimits(speed_mm_s=(1000.0, 1000.0), acceleration_mm_s2=(3000.0, 3000.0))
    return Machine(
        name="trial",
        bed_width_mm=300.0,
        bed_height_mm=200.0,
        power_w=60.0,
        travel=limits,
        cutting=limits,
        scanning=limits,
        controller=Controller.model_validate({"dialect": dialect, **controller}),
        invented=True,
    )


def closed(points: Sequence[tuple[float, float]]) -> Path:
    return Path(np.array(points), closed=True)


def travel(x: float, y: float) -> MoveArray:
    return moves_along(
        np.array([[x, y]]), kind=MoveKind.TRAVEL, speed_mm_s=1000.0, power=0.0, source=-1
    )


def burn(
    points: Sequence[tuple[float, float]], kind: MoveKind, recipe: Recipe, passes: int = 1
) -> MoveArray:
    """Travel to the first point, then burn through the others."""
    once = [
        travel(*points[0]),
        moves_along(
            np.array(points[1:]),
            kind=kind,
            speed_mm_s=recipe.speed_mm_s,
            power=recipe.power,
            source=0,
        ),
    ]
    return join(once * passes)


def loop(points: Sequence[tuple[float, float]], passes: int = 1) -> MoveArray:
    return burn([*points, points[0]], MoveKind.CUT, CUT, passes)


def rows(
    bounds: tuple[float, float, float, float] = ENGRAVED, interval: float = INTERVAL
) -> MoveArray:
    """Rows both ways, each with 2 mm of run-up on both sides."""
    x0, y0, x1, y1 = bounds
    pieces: list[MoveArray] = []
    for i in range(round((y1 - y0) / interval)):
        y = y0 + (i + 0.5) * interval
        start, end, out = (x0, x1, 2.0) if i % 2 == 0 else (x1, x0, -2.0)
        for x, kind, power in (
            (start - out, MoveKind.RUN_UP, 0.0),
            (start, MoveKind.RUN_UP, 0.0),
            (end, MoveKind.ROW, ENGRAVE.power),
            (end + out, MoveKind.RUN_UP, 0.0),
        ):
            pieces.append(
                moves_along(
                    np.array([[x, y]]),
                    kind=kind,
                    speed_mm_s=ENGRAVE.speed_mm_s,
                    power=power,
                    source=0,
                )
            )
    pieces[0]["kind"] = MoveKind.TRAVEL
    return join(pieces)


def score() -> MoveArray:
    return burn(SCORED, MoveKind.SCORE, SCORE)


def good_moves() -> MoveArray:
    return join([rows(), score(), loop(HOLE_CUT), loop(OUTLINE_CUT)])


def part(name: str = "tile") -> Part:
    return Part(
        name=name,
        drawing="tile.svg",
        outline=closed(OUTLINE),
        holes=(closed(HOLE),),
        scores=(ScoreMark("line 1", "score", (Path(np.array(SCORED)),)),),
        engraves=(EngraveMark("rect 1", "engrave", MultiPolygon([box(*ENGRAVED)])),),
    )


def sheet(moves: MoveArray | None = None, **changes: object) -> PlannedSheet:
    """The planned sheet with other moves or with any field replaced."""
    planned = PlannedSheet(
        number=1,
        material=Material(
            name="birch plywood", thickness_mm=3.0, recipes=tuple(RECIPES.values()), invented=True
        ),
        sheet=SheetSize("offcut", 100.0, 80.0, 1),
        parts=(part(),),
        used_fraction=0.1,
        recipes=RECIPES,
        toolpath=Toolpath(good_moves() if moves is None else moves),
        sources=(),
        intended=Intended(
            cuts=(closed(OUTLINE), closed(HOLE)),
            scores=(Path(np.array(SCORED)),),
            area=MultiPolygon([box(*ENGRAVED)]),
        ),
        times=Times(burn_s=60.0, travel_s=11.0, wait_s=0.0),
        times_by_process_s={},
    )
    return replace(planned, **changes)  # type: ignore[arg-type]
