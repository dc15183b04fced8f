"""Slides what lies on a sheet, each body whole, to the sides or corners that its items ask for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.check import layout_faults
from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.model import Body, Layouts, Placement, SheetLayout
from kerfwright.shop.order import CompactTo

MOST_BODIES, MOST_POLYGONS = 60, 400
"""With more on a sheet all of it is moved as one piece, as far as the sheet's edge lets it."""


def slid_to_sides(
    bodies: Sequence[Body],
    sides: Sequence[CompactTo | None],
    layouts: Layouts,
    *,
    spacing_mm: float,
    margin_mm: float,
    stop: Callable[[], bool] | None = None,
) -> Layouts:
    """Slide bodies, none turned, to the side that is asked for each of them.

    Bodies without a side go along with the first side asked for on their sheet; those with a
    fixed place stay. A body that lies alone and unturned is slid from where it is drawn, as the
    sheet's lower left corner is the drawing's, so that it keeps its height on the way to the left.
    Returns the layouts themselves where nothing can be slid, or not legally.
    """
    sheets = tuple(
        _slid(bodies, sides, layout, spacing_mm, margin_mm, stop) for layout in layouts.sheets
    )
    slid = replace(layouts, sheets=sheets)
    if layout_faults(bodies, slid, spacing_mm=spacing_mm, margin_mm=margin_mm):
        return layouts
    return slid


def _slid(
    bodies: Sequence[Body],
    sides: Sequence[CompactTo | None],
    layout: SheetLayout,
    spacing_mm: float,
    margin_mm: float,
    stop: Callable[[], bool] | None,
) -> SheetLayout:
    placements = layout.placements
    free = [bodies[p.body].fixed is None for p in placements]
    asked = [sides[p.body] for p in placements]
    in_turn = dict.fromkeys(
        side for side, loose in zip(asked, free, strict=True) if loose and side is not None
    )
    if not in_turn:
        return layout
    area = layout.sheet.usable(margin_mm, spacing_mm)
    first = next(iter(in_turn))
    polygons = sum(len(bodies[p.body].footprint) for p in placements)
    if len(placements) > MOST_BODIES or polygons > MOST_POLYGONS:
        if len(in_turn) > 1 or not all(free):
            return layout
        return replace(layout, placements=_together(bodies, placements, area, first))
    for side in in_turn:
        joins = [loose and (it or first) == side for it, loose in zip(asked, free, strict=True)]
        fixed = frozenset(n for n, loose in enumerate(joins) if not loose)
        for start in _starts(bodies, placements, area, side):
            found = compacted(
                bodies, start, area, spacing_mm=spacing_mm, to=side, fixed=fixed, stop=stop
            )
            if found.legal:
                placements = found.placements
                break
    return replace(layout, placements=placements)


def _starts(
    bodies: Sequence[Body], placements: tuple[Placement, ...], area: BaseGeometry, side: CompactTo
) -> list[tuple[Placement, ...]]:
    """From where to slide: first from where a body alone is drawn, then from where all lie."""
    alone = placements[0]
    if len(placements) > 1 or alone.turn_deg != 0.0 or alone.mirrored:
        return [placements]
    x_mm, y_mm = into(_points(bodies[alone.body]), area)
    words = side.split("-")
    drawn = replace(
        alone,
        x_mm=alone.x_mm if {"left", "right"} & {*words} else x_mm,
        y_mm=alone.y_mm if {"bottom", "top"} & {*words} else y_mm,
    )
    return [(drawn,), placements]


def _together(
    bodies: Sequence[Body], placements: Sequence[Placement], area: BaseGeometry, side: CompactTo
) -> tuple[Placement, ...]:
    """Everything moved as one piece until its box meets the area's."""
    boxes = [shapely.MultiPoint(p.transform.apply(_points(bodies[p.body]))) for p in placements]
    x_low, y_low, x_high, y_high = shapely.total_bounds(boxes)
    x0, y0, x1, y1 = area.bounds
    words = side.split("-")
    dx = x0 - x_low if "left" in words else x1 - x_high if "right" in words else 0.0
    dy = y0 - y_low if "bottom" in words else y1 - y_high if "top" in words else 0.0
    return tuple(replace(p, x_mm=p.x_mm + dx, y_mm=p.y_mm + dy) for p in placements)


def into(points: FloatArray, area: BaseGeometry) -> tuple[float, float]:
    """The shortest move in x and y that brings the points' box, shape (n, 2), into the area's.

    What is larger than the area is brought to its lower left.
    """
    moves = []
    for axis in range(2):
        low, high = points[:, axis].min(), points[:, axis].max()
        first, last = area.bounds[axis], area.bounds[2 + axis]
        moves.append(float(max(first - low, min(0.0, last - high))))
    return moves[0], moves[1]


def _points(body: Body) -> FloatArray:
    return np.asarray(shapely.get_coordinates(list(body.footprint)), dtype=np.float64)
