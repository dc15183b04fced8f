"""When the parts of a sheet are cut free."""

from __future__ import annotations

import numpy as np
import shapely

from kerfwright.geometry.paths import FloatArray
from kerfwright.plan import PlannedSheet
from kerfwright.toolpath import MoveKind, Process

ROUNDING_MM = 0.02
"""Beyond half a kerf and the reach of shared edges: chords stand for curves."""

TAB_REACH_MM = 0.05
"""Middles of holding tabs lie on the drawn outline, but for rounding."""


def free_times_s(sheet: PlannedSheet, end_s: FloatArray) -> list[float | None]:
    """When the last cut along each part's outline is over; ``end_s`` is when each move is.

    Cuts along an outline count whichever part they were planned for: an edge may be shared.
    ``None`` for blanks, for parts that holding tabs keep in the sheet, and for what nothing cuts.
    """
    cut = [number for number, part in enumerate(sheet.parts) if not part.blank]
    times = np.full(len(sheet.parts), -np.inf)
    outlines = np.array(
        [shapely.linestrings(sheet.parts[number].outline.line) for number in cut], dtype=object
    )
    toolpath = sheet.toolpath
    burned = np.flatnonzero(toolpath.burning & (toolpath.moves["kind"] == MoveKind.CUT))
    if len(cut) == 0 or len(burned) == 0:
        return [None] * len(sheet.parts)
    points = toolpath.points
    middles = shapely.points(0.5 * (points[burned] + points[burned + 1]))
    tree = shapely.STRtree(outlines)
    moves, parts = tree.query(middles, predicate="dwithin", distance=_reach_mm(sheet))
    np.maximum.at(times, np.array(cut)[parts], end_s[burned[moves]])
    tabs = sheet.intended.tabs
    if tabs:
        held = shapely.points([(tab.x_mm, tab.y_mm) for tab in tabs])
        _, parts = tree.query(held, predicate="dwithin", distance=TAB_REACH_MM)
        times[np.array(cut)[parts]] = -np.inf
    return [float(time) if np.isfinite(time) else None for time in times]


def _reach_mm(sheet: PlannedSheet) -> float:
    recipe = sheet.recipes.get(Process.CUT)
    kerf_mm = (recipe.kerf_mm or 0.0) if recipe is not None else 0.0
    return kerf_mm / 2.0 + sheet.merge_mm + ROUNDING_MM
