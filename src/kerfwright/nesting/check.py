"""Independent proof that layouts are legal, on the bodies' true polygons.

Nothing of the placing is used here: only the bodies, their placements and shapely.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from kerfwright.nesting.model import Body, Layouts, Placement, SheetLayout, SheetSize

OVERLAP_MM2 = 1e-6
"""A smaller common area is rounding."""

SHORT_MM = 1e-6
"""Spacing and margin may fall short by so much; far below any machine's step."""

SAME_TURN_DEG = 1e-9
SAME_FRACTION = 1e-9


@dataclass(frozen=True, slots=True)
class LayoutFault:
    """What is wrong, in words; ``placement`` is the one to take off its sheet, if one is."""

    what: str
    sheet: int | None = None
    placement: int | None = None


def check_layouts(
    bodies: Sequence[Body], layouts: Layouts, *, spacing_mm: float, margin_mm: float
) -> tuple[str, ...]:
    """Return every fault of the layouts, in words; none means that they are legal.

    Legal: no two bodies share more than :data:`OVERLAP_MM2` or come closer than ``spacing_mm``
    less :data:`SHORT_MM` (in one another's holes they may lie); all lie on their sheet's
    material and ``margin_mm`` from its edge, with the same tolerance, and ``spacing_mm`` from
    what is to be kept free; every turn is allowed and only what may be is mirrored; every copy is
    placed or counted as unplaced, and no more than the allowed ones are extra; kits lie whole on
    one sheet; what has a fixed place lies there; no more sheets of a size are used than there
    are; ``used_fraction`` is right. The polygons of one body keep their places to one another,
    whatever those are.
    """
    found = layout_faults(bodies, layouts, spacing_mm=spacing_mm, margin_mm=margin_mm)
    return tuple(fault.what for fault in found)


def layout_faults(
    bodies: Sequence[Body], layouts: Layouts, *, spacing_mm: float, margin_mm: float
) -> tuple[LayoutFault, ...]:
    """Return what :func:`check_layouts` finds, with the placements that are to blame."""
    areas = [_material(body) for body in bodies]
    faults = [LayoutFault(what) for what in _count_faults(bodies, layouts)]
    faults += [LayoutFault(what) for what in _kit_faults(bodies, layouts)]
    faults += [LayoutFault(what) for what in _fixed_faults(bodies, areas, layouts)]
    for number, layout in enumerate(layouts.sheets):
        where = f"sheet {number + 1} ({layout.sheet.name})"
        strangers = [i for i, p in enumerate(layout.placements) if not 0 <= p.body < len(bodies)]
        if strangers:
            faults.append(LayoutFault(f"{where}: {len(strangers)} placements of unknown bodies"))
            continue
        if not all(math.isfinite(p.turn_deg + p.x_mm + p.y_mm) for p in layout.placements):
            faults.append(LayoutFault(f"{where}: placements that are no numbers"))
            continue
        placed = [_moved(areas[p.body], p) for p in layout.placements]
        names = [f"{bodies[p.body].name!r} #{i}" for i, p in enumerate(layout.placements, 1)]
        sheet_faults = [
            *_turn_faults(bodies, layout, names),
            *_edge_faults(placed, names, layout.sheet, margin_mm),
            *_keep_out_faults(placed, names, layout.sheet, spacing_mm),
            *_pair_faults(placed, names, spacing_mm),
        ]
        faults += [LayoutFault(f"{where}: {what}", number, i) for i, what in sheet_faults]
        used = math.fsum(areas[p.body].area for p in layout.placements) / layout.sheet.area_mm2
        if abs(used - layout.used_fraction) > SAME_FRACTION:
            faults.append(
                LayoutFault(f"{where}: {used:.9f} of it is used, not {layout.used_fraction:.9f}")
            )
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
        most = body.quantity if left else body.quantity + body.extra
        if left < 0 or not body.quantity <= placed[number] + left <= most:
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


def _kit_faults(bodies: Sequence[Body], layouts: Layouts) -> list[str]:
    """Sheets on which there is a part of a set, but not the whole of it."""
    kits = {body.kit for body in bodies if body.kit is not None and body.quantity > 0}
    faults = []
    for kit in sorted(kits, key=lambda kit: kit.name):
        in_a_set = {
            number: body.quantity / kit.sets
            for number, body in enumerate(bodies)
            if body.kit == kit and body.quantity > 0
        }
        for number, layout in enumerate(layouts.sheets, 1):
            lying = Counter(p.body for p in layout.placements)
            sets = {lying[body] / each for body, each in in_a_set.items()}
            if len(sets) > 1 or any(count % 1.0 for count in sets):
                faults.append(f"sheet {number} holds a part of kit {kit.name!r} only")
    return faults


def _fixed_faults(
    bodies: Sequence[Body], areas: Sequence[BaseGeometry], layouts: Layouts
) -> list[str]:
    faults = []
    numbers: Counter[str] = Counter()
    for n, layout in enumerate(layouts.sheets):
        numbers[layout.sheet.name] += 1
        this = (layout.sheet.name, numbers[layout.sheet.name])
        for p in layout.placements:
            fixed = bodies[p.body].fixed if 0 <= p.body < len(bodies) else None
            if fixed is None:
                continue
            x_mm, y_mm = _moved(areas[p.body], p).bounds[:2]
            off_mm = math.hypot(x_mm - fixed.x_mm, y_mm - fixed.y_mm)
            if this != (fixed.sheet, fixed.number) or not off_mm <= SHORT_MM:
                which = "the first" if fixed.number == 1 else f"number {fixed.number} of"
                faults.append(
                    f"{bodies[p.body].name!r} lies on sheet {n + 1} at ({x_mm:g}, {y_mm:g}), not "
                    f"on {which} {fixed.sheet!r} at ({fixed.x_mm:g}, {fixed.y_mm:g})"
                )
    return faults


_Faults = list[tuple[int, str]]


def _turn_faults(bodies: Sequence[Body], layout: SheetLayout, names: list[str]) -> _Faults:
    turned = [
        (i, f"{names[i]}: a turn by {p.turn_deg:g}° is not allowed")
        for i, p in enumerate(layout.placements)
        if not any(
            abs((p.turn_deg - turn + 180.0) % 360.0 - 180.0) <= SAME_TURN_DEG
            for turn in bodies[p.body].turns_deg
        )
    ]
    mirrored = [
        (i, f"{names[i]} may not be laid mirrored")
        for i, p in enumerate(layout.placements)
        if p.mirrored and not bodies[p.body].may_mirror
    ]
    return turned + mirrored


def _edge_faults(
    placed: list[BaseGeometry], names: list[str], sheet: SheetSize, margin_mm: float
) -> _Faults:
    """Parts beyond the sheet's material or too near its edge, that of its holes included."""
    if not placed:
        return []
    bounds = shapely.bounds(placed)
    low = margin_mm - SHORT_MM
    beyond = (
        (bounds[:, 0] < low)
        | (bounds[:, 1] < low)
        | (bounds[:, 2] > sheet.width_mm - low)
        | (bounds[:, 3] > sheet.height_mm - low)
    )
    if sheet.outline is not None:
        outside = shapely.area(shapely.difference(placed, sheet.outline)) > OVERLAP_MM2
        beyond |= outside | (shapely.distance(placed, sheet.outline.boundary) < low)
    return [(int(i), f"{names[i]} lies outside the usable area") for i in np.flatnonzero(beyond)]


def _keep_out_faults(
    placed: list[BaseGeometry], names: list[str], sheet: SheetSize, spacing_mm: float
) -> _Faults:
    faults = []
    for zone in sheet.keep_out:
        near = shapely.distance(placed, zone) < spacing_mm - SHORT_MM
        near |= shapely.area(shapely.intersection(placed, zone)) > OVERLAP_MM2
        faults += [
            (int(i), f"{names[i]} lies too near an area to keep free") for i in np.flatnonzero(near)
        ]
    return faults


def _pair_faults(placed: list[BaseGeometry], names: list[str], spacing_mm: float) -> _Faults:
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
            faults.append((int(j), f"{names[i]} and {names[j]} overlap by {shared_mm2:.6g} mm²"))
        elif spacing_mm > SHORT_MM:
            distance_mm = placed[i].distance(placed[j])
            if distance_mm < reach_mm:
                faults.append((int(j), f"{names[i]} and {names[j]} are {distance_mm:.6f} mm apart"))
    return faults
