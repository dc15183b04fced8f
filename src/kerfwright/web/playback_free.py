"""When the parts of a sheet are cut free."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely

from kerfwright.geometry.paths import FloatArray
from kerfwright.plan import PlannedSheet
from kerfwright.toolpath import MoveKind, Process

ROUNDING_MM = 0.02
"""Beyond half a kerf and the reach of shared edges: chords stand for curves."""

SAME_LINE_MM = 0.01
"""Cuts that are as near to a place of an outline as the nearest, but for this, are passes of it."""

STEP_MM = 0.5
MOST_PLACES = 2000
"""Places of an outline that are looked at: so far apart, or so many."""

TAB_REACH_MM = 0.05
"""Middles of holding tabs lie on the drawn outline, but for rounding."""

IntArray = npt.NDArray[np.int64]


def free_times_s(sheet: PlannedSheet, end_s: FloatArray) -> list[float | None]:
    """When every place of a part's outline is cut through; ``end_s`` is when each move is over.

    Whichever part a cut was planned for: an edge may be shared. ``None`` for blanks, for parts that
    holding tabs keep in the sheet, and for what nothing cuts.
    """
    cut = np.array([n for n, part in enumerate(sheet.parts) if not part.blank], dtype=np.int64)
    toolpath = sheet.toolpath
    burned = np.flatnonzero(toolpath.burning & (toolpath.moves["kind"] == MoveKind.CUT))
    if len(cut) == 0 or len(burned) == 0:
        return [None] * len(sheet.parts)
    outlines = np.array([shapely.linestrings(sheet.parts[n].outline.line) for n in cut])
    points = toolpath.points
    lines = shapely.linestrings(np.stack([points[burned], points[burned + 1]], axis=1))
    places, of_outline = _places(outlines)
    place, through_s = _cut_through_s(places, lines, end_s[burned], sheet)
    times = np.full(len(sheet.parts), -np.inf)
    np.maximum.at(times, cut[of_outline[place]], through_s)
    times[cut[_held(outlines, sheet)]] = -np.inf
    return [float(time) if np.isfinite(time) else None for time in times]


def _places(outlines: npt.NDArray[np.object_]) -> tuple[npt.NDArray[np.object_], IntArray]:
    """Points spread evenly along outlines, and the outline of each."""
    lengths = shapely.length(outlines)
    counts = np.clip(np.ceil(lengths / STEP_MM), 1, MOST_PLACES).astype(np.int64)
    of_outline = np.repeat(np.arange(len(outlines)), counts)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    shares = (np.arange(len(of_outline)) - first + 0.5) / counts[of_outline]
    along = shares * lengths[of_outline]
    return shapely.line_interpolate_point(outlines[of_outline], along), of_outline


def _cut_through_s(
    places: npt.NDArray[np.object_],
    lines: npt.NDArray[np.object_],
    end_s: FloatArray,
    sheet: PlannedSheet,
) -> tuple[IntArray, FloatArray]:
    """Places that are cut, and when the last pass of the cut beside each is over."""
    recipe = sheet.recipes[Process.CUT]
    reach_mm = (recipe.kerf_mm or 0.0) / 2.0 + sheet.merge_mm + ROUNDING_MM
    place, line = shapely.STRtree(lines).query(places, predicate="dwithin", distance=reach_mm)
    distance = shapely.distance(places[place], lines[line])
    nearest = np.full(len(places), np.inf)
    np.minimum.at(nearest, place, distance)
    beside = distance <= nearest[place] + SAME_LINE_MM
    place, ends = place[beside], end_s[line[beside]]
    order = np.lexsort((ends, place))
    place, ends = place[order], ends[order]
    which, first, count = np.unique(place, return_index=True, return_counts=True)
    return which, ends[first + np.minimum(recipe.passes, count) - 1]


def _held(outlines: npt.NDArray[np.object_], sheet: PlannedSheet) -> IntArray:
    """Outlines that holding tabs interrupt."""
    if not sheet.intended.tabs:
        return np.empty(0, dtype=np.int64)
    tabs = shapely.points([(tab.x_mm, tab.y_mm) for tab in sheet.intended.tabs])
    found = shapely.STRtree(outlines).query(tabs, predicate="dwithin", distance=TAB_REACH_MM)
    return np.unique(found[1])
