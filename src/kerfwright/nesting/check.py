"""Independent proof that layouts are legal, on the bodies' true polygons.

Nothing of the placing is used here: only the bodies, their placements and shapely.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from kerfwright.nesting.model import Body, Layouts, Placement, SheetLayout

OVERLAP_MM2 = 1e-6
"""A smaller common area is rounding."""

SHORT_MM = 1e-6
"""Spacing and margin may fall short by so much; far below any machine's step."""

SAME_TURN_DEG = 1e-9
SAME_FRACTION = 1e-9


def check_layouts(
    bodies: Sequence[Body], layouts: Layouts, *, spacing_mm: float, margin_mm: float
) -> tuple[str, ...]:
    """Return every fault of the layouts, in words; none means that they are legal.

    Legal: no two bodies share more than :data:`OVERLAP_MM2` or come closer than ``spacing_mm``
    less :data:`SHORT_MM`; all lie inside their sheet less ``margin_mm``, with the same
    tolerance; every turn is allowed; every copy is placed or counted as unplaced; no more sheets
    of a size are used than there are; ``used_fraction`` is right. The polygons of one body keep
    their places to one another, whatever those are.
    """
    areas = [_material(body) for body in bodies]
    faults = _count_faults(bodies, layouts)
    for number, layout in enumerate(layouts.sheets, start=1):
        where = f"sheet {number} ({layout.sheet.name})"
        strangers = [p for p in layout.placements if not 0 <= p.body < len(bodies)]
        if strangers:
            faults.append(f"{where}: {len(strangers)} placements of unknown bodies")
            continue
        if not all(math.isfinite(p.turn_deg + p.x_mm + p.y_mm) for p in layout.placements):
            faults.append(f"{where}: placements that are no numbers")
            continue
        faults += [f"{where}: {fault}" for fault in _turn_faults(bodies, layout)]
        placed = [_moved(areas[p.body], p) for p in layout.placements]
        names = [f"{bodies[p.body].name!r} #{i}" for i, p in enumerate(layout.placements, 1)]
        faults += [f"{where}: {fault}" for fault in _edge_faults(placed, names, layout, margin_mm)]
        faults += [f"{where}: {fault}" for fault in _pair_faults(placed, names, spacing_mm)]
        used = math.fsum(areas[p.body].area for p in layout.placements)
        used /= layout.sheet.width_mm * layout.sheet.height_mm
        if abs(used - layout.used_fraction) > SAME_FRACTION:
            faults.append(f"{where}: {used:.9f} of it is used, not {layout.used_fraction:.9f}")
    return tuple(faults)


def _material(body: Body) -> BaseGeometry:
    return shapely.union_all([shapely.make_valid(polygon) for polygon in body.footprint])


def _moved(area: BaseGeometry, placement: Placement) -> BaseGeometry:
    t = placement.transform
    return affine_transform(area, [t.a, t.c, t.b, t.d, t.e, t.f])


def _count_faults(bodies: Sequence[Body], layouts: Layouts) -> list[str]:
    placed = Counter(p.body for layout in layouts.sheets for p in layout.placements)
    faults = []
    for number, body in enumerate(bodies):
        left = layouts.unplaced.get(number, 0)
        if left < 0 or placed[number] + left != body.quantity:
            faults.append(
                f"{body.name!r}: {placed[number]} placed and {left} unplaced, "
                f"not {body.quantity} in all"
            )
    used = Counter(layout.sheet for layout in layouts.sheets)
    faults += [
        f"{used[sheet]} sheets {sheet.name!r} used, only {sheet.count} there"
        for sheet in used
        if used[sheet] > sheet.count
    ]
    return faults


def _turn_faults(bodies: Sequence[Body], layout: SheetLayout) -> list[str]:
    return [
        f"{bodies[p.body].name!r} #{i}: a turn by {p.turn_deg:g}° is not allowed"
        for i, p in enumerate(layout.placements, 1)
        if not any(
            abs((p.turn_deg - turn + 180.0) % 360.0 - 180.0) <= SAME_TURN_DEG
            for turn in bodies[p.body].turns_deg
        )
    ]


def _edge_faults(
    placed: list[BaseGeometry], names: list[str], layout: SheetLayout, margin_mm: float
) -> list[str]:
    if not placed:
        return []
    bounds = shapely.bounds(placed)
    low = margin_mm - SHORT_MM
    beyond = (
        (bounds[:, 0] < low)
        | (bounds[:, 1] < low)
        | (bounds[:, 2] > layout.sheet.width_mm - low)
        | (bounds[:, 3] > layout.sheet.height_mm - low)
    )
    return [f"{names[i]} lies outside the usable area" for i in np.flatnonzero(beyond)]


def _pair_faults(placed: list[BaseGeometry], names: list[str], spacing_mm: float) -> list[str]:
    if len(placed) < 2:
        return []
    for area in placed:
        shapely.prepare(area)
    reach_mm = max(spacing_mm - SHORT_MM, 0.0)
    one, other = shapely.STRtree(placed).query(placed, predicate="dwithin", distance=reach_mm)
    faults = []
    for i, j in zip(one, other, strict=True):
        if i >= j:
            continue
        shared_mm2 = placed[i].intersection(placed[j]).area
        if shared_mm2 > OVERLAP_MM2:
            faults.append(f"{names[i]} and {names[j]} overlap by {shared_mm2:.6f} mm²")
        elif spacing_mm > SHORT_MM:
            distance_mm = placed[i].distance(placed[j])
            if distance_mm < reach_mm:
                faults.append(f"{names[i]} and {names[j]} are {distance_mm:.6f} mm apart")
    return faults
