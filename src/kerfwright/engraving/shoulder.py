"""Engraving round a relief that stands on a slope: the power falls towards its foot.

Fine lines of a stamp break off if their walls are upright; a shoulder carries them.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt
from shapely import MultiPolygon

from kerfwright.engraving.burn import Burn, burn_of, row_motion
from kerfwright.engraving.choose import EngravedArea
from kerfwright.engraving.photo_cells import (
    SHORT_MM,
    Cells,
    IntArray,
    Runs,
    bare_cells,
)
from kerfwright.engraving.photo_drive import driven
from kerfwright.engraving.photo_kernel import cells_met, runs_of
from kerfwright.engraving.rows import edges_of
from kerfwright.engraving.rows_kernel import cross_rows
from kerfwright.engraving.scan import repeated
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import Toolpath, join

SHOULDER_STEPS = 20
"""Powers on a slope; its lowest is one step, so that no place of the area stays unburned."""

ANGLES_DEG = (0.0, 90.0)


def engrave_shoulders(
    area: MultiPolygon, relief: MultiPolygon, recipe: Recipe, machine: Machine, *, source: int
) -> EngravedArea:
    """Engrave ``area`` in rows, the power rising over the recipe's shoulder round ``relief``.

    Only rows can change their power on the way, so loops are not tried; level and upright rows
    are both planned and the faster taken. Power stands for depth, in proportion.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.
        ValueError: the recipe has no interval, which its file's reader refuses.
    """
    if recipe.interval_mm is None:
        raise ValueError("an engraving recipe must have an interval")
    burn = burn_of(recipe, machine, source)
    made: dict[float, tuple[Toolpath, float]] = {}
    for angle_deg in ANGLES_DEG:
        cells = bare_cells(area, burn.interval_mm, burn.interval_mm, angle_deg)
        runs = _runs(cells, relief, recipe, burn)
        path = driven(cells, runs, burn, row_motion(machine, burn, angle_deg), machine)
        left = area.area - float((runs.b - runs.a).sum()) * burn.interval_mm
        made[angle_deg] = repeated(path, recipe.passes, machine), max(left, 0.0)
    times = {angle: time_toolpath(path, machine).total_s for angle, (path, _) in made.items()}
    best = min(times, key=lambda angle: times[angle])
    toolpath, uncovered_mm2 = made[best]
    return EngravedArea(
        toolpath=toolpath if len(toolpath) else Toolpath(join([])),
        way="scan",
        times_s={"scan": times[best]},
        angle_deg=best,
        scan_times_s={f"{angle:g}° rows together": seconds for angle, seconds in times.items()},
        uncovered_mm2=uncovered_mm2,
        findings=(),
    )


def _runs(cells: Cells, relief: MultiPolygon, recipe: Recipe, burn: Burn) -> Runs:
    away = _distances(cells, relief, burn.interval_mm)
    step = np.ceil(away / recipe.shoulder_mm * SHOULDER_STEPS)
    level: IntArray = np.clip(step, 1, SHOULDER_STEPS).astype(np.int64)
    level[~cells.inside] = 0
    row, a, b, of = runs_of(level, cells.start, cells.x, cells.x0, cells.step, SHORT_MM)
    return Runs(row, a, b, burn.power * of / SHOULDER_STEPS)


def _distances(cells: Cells, relief: MultiPolygon, interval_mm: float) -> FloatArray:
    """Distance of every cell from the relief's foot, within half a cell.

    The relief may reach beyond the grid only where the part ends, and nothing is engraved.
    """
    rows, columns = cells.darkness.shape
    edges = edges_of(relief, cells.angle_deg)
    start, x = cross_rows(edges, float(cells.y[0]), interval_mm, rows)
    standing = cells_met(start, x, cells.x0, cells.step, columns, SHORT_MM)
    if not standing.any():
        return np.full((rows, columns), np.inf)
    away: FloatArray = distance_transform_edt(~standing, sampling=(interval_mm, cells.step))
    return np.maximum(away - 0.5 * cells.step, 0.0)
