"""Areas and lines cut off along a clip: pure geometry, whatever kind of drawing they come from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.model import Shape
from kerfwright.drawing.stretches import stretch
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import FillRule, as_area, filled
from kerfwright.geometry.tolerances import SAME_MM


def clipped_area(paths: Sequence[Path], rule: FillRule, clip: BaseGeometry) -> tuple[Path, ...]:
    """Return the area that ``paths`` fill inside ``clip``, both in mm, as closed paths.

    Outlines run counter-clockwise and holes clockwise, so that either fill rule gives the area.
    Slivers narrower than :data:`SAME_MM` are rounding and left out. Where nothing is cut off the
    paths themselves are returned, with their curves.
    """
    if holds(clip, paths):
        return tuple(paths)
    area = as_area(shapely.intersection(filled(paths, rule), clip))
    kept: list[Path] = []
    for polygon in area.geoms:
        if polygon.buffer(-SAME_MM / 2).is_empty:
            continue
        for ring, turn in [(polygon.exterior, 1.0), *((hole, -1.0) for hole in polygon.interiors)]:
            path = Path(np.asarray(ring.coords, dtype=np.float64)[:-1, :2], closed=True)
            kept.append(path if path.signed_area_mm2 * turn > 0.0 else path.reversed())
    return tuple(kept)


def clipped_lines(paths: Sequence[Path], clip: BaseGeometry) -> tuple[Path, ...]:
    """Return the stretches of ``paths`` inside ``clip``, in the paths' order and direction.

    A closed path that is cut falls into open ones. A line along the clip's own edge, within
    :data:`SAME_MM`, counts as inside. Paths that are not cut are returned as they are.
    """
    wide = _widened(clip)
    return tuple(piece for path in paths for piece in _clipped_line(path, wide))


def clipped_shape(shape: Shape, clip: BaseGeometry) -> tuple[Shape, ...]:
    """Return what ``clip`` leaves of a shape: nothing, one shape, or its area and its line.

    The line of a filled and stroked shape ends at the clip while the area's edge follows it, so
    they become two shapes, of which the second is called ``name (line)``.
    """
    if holds(clip, shape.paths):
        return (shape,)
    paint = shape.paint
    kept: list[Shape] = []
    if paint.fill is not None:
        area = clipped_area(shape.paths, paint.fill_rule, clip)
        if area:
            alone = replace(paint, stroke=None, stroke_width_mm=None)
            kept.append(replace(shape, paths=area, paint=alone))
    if paint.stroke is not None:
        lines = clipped_lines(shape.paths, clip)
        if lines:
            name = f"{shape.name} (line)" if kept else shape.name
            kept.append(replace(shape, name=name, paths=lines, paint=replace(paint, fill=None)))
    return tuple(kept)


def holds(clip: BaseGeometry, paths: Sequence[Path]) -> bool:
    """Whether all of ``paths`` lie inside ``clip`` or on its edge, within :data:`SAME_MM`."""
    lines = [shapely.LineString(path.line) for path in paths if len(path.line) > 1]
    return bool(np.all(shapely.covers(_widened(clip), lines)))


def _widened(clip: BaseGeometry) -> BaseGeometry:
    wide = clip.buffer(SAME_MM, join_style="mitre")
    shapely.prepare(wide)
    return wide


def _clipped_line(path: Path, clip: BaseGeometry) -> list[Path]:
    line = path.line
    if len(line) < 2:
        return []
    steps = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    inside = shapely.covers(clip, steps)
    if bool(inside.all()):
        return [path]
    runs: list[tuple[float, float]] = []
    for i in np.flatnonzero(inside | shapely.intersects(clip, steps)):
        for start, stop in [(0.0, 1.0)] if inside[i] else _shares(steps[i], clip):
            if runs and start == 0.0 and runs[-1][1] == i:
                runs[-1] = (runs[-1][0], float(i) + stop)
            else:
                runs.append((float(i) + start, float(i) + stop))
    count = len(steps)
    if path.closed and len(runs) > 1 and runs[0][0] == 0.0 and runs[-1][1] == count:
        first, last = runs[0], runs.pop()
        runs[0] = (last[0], count + first[1])
    return [stretch(path, start, stop) for start, stop in runs]


def _shares(step: BaseGeometry, clip: BaseGeometry) -> list[tuple[float, float]]:
    """Which shares of a straight piece lie inside, from 0 at its start to 1 at its end."""
    found = []
    for piece in shapely.get_parts(shapely.intersection(step, clip)):
        if piece.length <= SAME_MM:
            continue
        ends = (shapely.Point(piece.coords[0]), shapely.Point(piece.coords[-1]))
        low, high = sorted(float(step.project(end, normalized=True)) for end in ends)
        found.append((_snapped(low), _snapped(high)))
    return sorted(found)


def _snapped(share: float) -> float:
    return float(round(share)) if abs(share - round(share)) < 1e-12 else share
