"""Are all wanted areas engraved, without gaps, and no part of them too often?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray
from kerfwright.program.burned import Burns, Widths
from kerfwright.program.kernel import IntArray
from kerfwright.program.lines import ALONGSIDE_COSINE, REPEAT_MM
from kerfwright.program.near import Pieces, sampled

SAMPLES = 40_000
"""Points at which the coverage of a sheet is looked at."""

SAMPLES_LEAST = 24
"""For the smallest polygon."""

UNCOVERED_SHARE = 0.001
POLYGON_COVERED_SHARE = 0.8
"""Of a single polygon; few samples and much edge make it a rough check."""

LOOSE_INTERVALS = 0.75
"""Reach of a line in intervals. Half an interval covers between rows; in a corner of loops with
the angle θ the farthest point is 1/(1 + sin(θ/2)) away: 0.586 at 90°, 0.75 at 39°."""

GAP_INTERVALS = 0.95
"""A point one interval beside a line that is this far from every line has no neighbour line.
In a corner of loops with the angle θ it is at most 1/(1 + sin(θ/2)) away: 6° at the worst."""

GAP_LENGTH_MM = 2.0
"""So much length of line may lack a neighbour, at ends and bends."""

NEXT_INTERVALS = 0.3
"""How far the next line may be from the point one interval beside a line, by rule."""

WIDE_SHARE = 0.6
"""Of the lines: loops in a narrow area have their core beside most of them."""

NEIGHBOUR_STEP_MM = 2.0
OFTEN_SHARE = 0.5
"""Of the engraved length. In a stroke an odd number n of intervals wide the two innermost loops
run on one another: 2 lines of n + 1, so half of them for n = 3."""

SELDOM_SHARE = 0.01
"""Of the engraved length, for lines that lack a pass."""

REPEATED_SHARE = 0.01
"""Of the engraved length: lines burned again from end to end, which no way of engraving does."""

_R2 = 1.0 / np.array([1.324717957244746, 1.324717957244746**2])
"""Step of a sequence that fills a square evenly without rows: powers of the plastic number."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Somewhere the area is not engraved as it should be."""

    what: str
    x_mm: float
    y_mm: float


def gaps(area: MultiPolygon, burned: Pieces, widths: Widths) -> list[Gap]:
    """Places where the area lacks engraving lines."""
    if area.is_empty:
        return []
    inner = area.buffer(-widths.interval_mm)
    shapely.prepare(inner)
    return [
        *_uncovered(area, inner, burned, widths),
        *_missing_neighbours(inner, burned, widths),
    ]


def _uncovered(
    area: MultiPolygon, inner: BaseGeometry, burned: Pieces, widths: Widths
) -> list[Gap]:
    """Polygons hardly engraved at all, else an area covered to less than 99.9 %.

    Near its edge an area may be as far as an interval from the last line, or half a spot.
    """
    points, polygon = _spread(area)
    interval = widths.interval_mm
    spot_reach = widths.spot_mm / 2.0
    at_edge = max(spot_reach, interval) + widths.rounding_mm
    away, _ = burned.nearest(points, at_edge + widths.tolerance_mm)
    inside = shapely.contains_xy(inner, *points.T)
    reach = max(spot_reach, LOOSE_INTERVALS * interval) + widths.rounding_mm
    bare = away > np.where(inside, reach, at_edge)

    wide = ~shapely.is_empty(shapely.buffer(np.array(area.geoms), -interval / 2.0))
    all_samples = np.bincount(polygon, minlength=len(area.geoms))
    bare_samples = np.bincount(polygon, weights=bare, minlength=len(area.geoms))
    empty = np.flatnonzero(
        wide & (bare_samples > (1.0 - POLYGON_COVERED_SHARE) * np.maximum(all_samples, 1))
    )
    if len(empty):
        return [
            Gap(
                f"{bare_samples[k] / all_samples[k]:.0%} of an area is not engraved",
                *points[np.flatnonzero(bare & (polygon == k))[0]].tolist(),
            )
            for k in empty
        ]
    counted = wide[polygon]
    total = int(counted.sum())
    share = float(bare[counted].mean()) if total else 0.0
    if share * total > UNCOVERED_SHARE * total + 3.0 * np.sqrt(UNCOVERED_SHARE * total):
        first = points[np.flatnonzero(bare & counted)[0]]
        return [Gap(f"{share:.1%} of all engraved area lies between lines", *first.tolist())]
    return []


def _spread(area: MultiPolygon) -> tuple[FloatArray, IntArray]:
    """Points spread evenly over the area, at least a few in every polygon, and whose they are."""
    density = SAMPLES / max(area.area, 1e-9)
    points: list[FloatArray] = []
    owner: list[IntArray] = []
    for number, polygon in enumerate(area.geoms):
        x0, y0, x1, y1 = polygon.bounds
        share = max(polygon.area / max((x1 - x0) * (y1 - y0), 1e-12), 1e-3)
        wanted = max(density * polygon.area, SAMPLES_LEAST)
        steps = np.arange(1, int(wanted / share) + 2)[:, None]
        box = (0.5 + steps * _R2) % 1.0 * [x1 - x0, y1 - y0] + [x0, y0]
        shapely.prepare(polygon)
        inside = box[shapely.contains_xy(polygon, *box.T)]
        points.append(inside)
        owner.append(np.full(len(inside), number))
    return np.vstack(points), np.concatenate(owner)


def _missing_neighbours(inner: BaseGeometry, burned: Pieces, widths: Widths) -> list[Gap]:
    """Places where a line's neighbour is missing inside the area, or too far off everywhere."""
    interval = widths.interval_mm
    if inner.is_empty or len(burned) == 0:
        return []
    samples = sampled(burned.ends, NEIGHBOUR_STEP_MM)
    across = np.column_stack([-samples.directions[:, 1], samples.directions[:, 0]]) * interval
    beside = np.vstack([samples.points + across, samples.points - across])
    length = np.tile(samples.length_mm, 2)
    inside = shapely.contains_xy(inner, *beside.T)
    beside, length = beside[inside], length[inside]
    spot_reach = widths.spot_mm / 2.0
    away, _ = burned.nearest(beside, max(interval, spot_reach) + widths.tolerance_mm)

    alone = away > max(GAP_INTERVALS * interval, spot_reach) - widths.rounding_mm
    if float(length[alone].sum()) > GAP_LENGTH_MM:
        what = f"engraving lines are missing beside {length[alone].sum():.0f} mm of lines"
        return [Gap(what, *beside[alone.argmax()].tolist())]
    wide = away > max(NEXT_INTERVALS * interval, spot_reach) + widths.rounding_mm
    if float(length[wide].sum()) > max(WIDE_SHARE * float(length.sum()), GAP_LENGTH_MM):
        what = f"engraving lines lie further apart than {interval:g} mm"
        return [Gap(what, *beside[wide.argmax()].tolist())]
    return []


def wrong_count_share(
    area: MultiPolygon, burns: Burns, passes: int, widths: Widths, *, crossed: bool = False
) -> tuple[float, int]:
    """Share of the engraved length not burned ``passes`` times, and the first such burn.

    ``crossed`` passes run at different angles: a point is burned by one line of each, half an
    interval beside it at most.

    In strokes hardly wider than an interval both sides of a loop may run on one another. A share
    that loops explain is no share; lines repeated from end to end count in any case.
    """
    samples = sampled(burns.ends, NEIGHBOUR_STEP_MM)
    total = float(samples.length_mm.sum())
    if total == 0.0:
        return 0.0, -1
    reach = min(REPEAT_MM + 2.0 * widths.rounding_mm, widths.interval_mm / 3.0)
    cosine = ALONGSIDE_COSINE
    if crossed:
        reach, cosine = widths.interval_mm / 2.0 + 2.0 * widths.rounding_mm, 0.0
    count, _ = burns.pieces().visits(samples.points, samples.directions, reach, cosine)
    inner = area.buffer(-widths.interval_mm)
    shapely.prepare(inner)
    inside = shapely.contains_xy(inner, *samples.points.T)
    # at the edge of an area a line of another angle may end before it passes a point
    seldom = (count < passes) & (inside | (not crossed))
    often = count > np.where(inside, passes, 2 * passes)
    repeated = _repeats(burns, widths)[samples.piece] > passes
    for which, least in (
        (seldom, SELDOM_SHARE),
        (often, OFTEN_SHARE),
        (repeated, REPEATED_SHARE),
    ):
        share = float(samples.length_mm[which].sum()) / total
        if share > least:
            return share, int(samples.piece[which.argmax()])
    return 0.0, -1


def _repeats(burns: Burns, widths: Widths) -> IntArray:
    """How often each burn is burned from the same end to the same end, either way round."""
    steps = np.rint(burns.ends / widths.rounding_mm).astype(np.int64)
    turned = steps[:, [2, 3, 0, 1]]
    backward = (steps[:, 0] > steps[:, 2]) | (
        (steps[:, 0] == steps[:, 2]) & (steps[:, 1] > steps[:, 3])
    )
    ordered = np.where(backward[:, None], turned, steps)
    _, which, count = np.unique(ordered, axis=0, return_inverse=True, return_counts=True)
    return np.asarray(count[which.ravel()])
