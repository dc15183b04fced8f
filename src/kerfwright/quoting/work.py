"""What a plan takes, by item and by sheet, as far as it costs money."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from decimal import Decimal
from pathlib import PurePath

import numpy as np

from kerfwright.motion.timing import move_times_s
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.quoting.model import ItemWork, SheetWork, Work
from kerfwright.shop.machine import Machine
from kerfwright.shop.order import Item

ItemKey = tuple[str, str]
"""Name of the item and of its material."""


def work_of(plan: Plan, items: Sequence[Item], offcut_least_mm: float) -> Work:
    """Gather the work of a plan for the ``items`` of its order.

    Items of one name and material count as one. Blanks take no material. The largest rectangle
    left of a sheet comes back where it is not narrower than ``offcut_least_mm``.
    """
    pieces: Counter[ItemKey] = Counter()
    for item in items:
        pieces[item.name or PurePath(item.drawing).stem, item.material] += item.quantity
    parts: Counter[ItemKey] = Counter()
    area_mm2: defaultdict[ItemKey, float] = defaultdict(float)
    beam_s: defaultdict[ItemKey, float] = defaultdict(float)
    for sheet in plan.sheets:
        for part, item_name in zip(sheet.parts, sheet.items, strict=True):
            key = (item_name, sheet.material.name)
            parts[key] += 1
            area_mm2[key] += 0.0 if part.blank else part.polygon.area
        for item_name, seconds in _beam_by_item_s(sheet, plan.machine).items():
            beam_s[item_name, sheet.material.name] += seconds
    return Work(
        items=tuple(
            ItemWork(*key, count, parts[key], area_mm2[key], beam_s[key])
            for key, count in pieces.items()
        ),
        sheets=tuple(_sheet_work(sheet, offcut_least_mm) for sheet in plan.sheets),
    )


def _sheet_work(sheet: PlannedSheet, least_mm: float) -> SheetWork:
    return SheetWork(
        material=sheet.material.name,
        name=sheet.sheet.name,
        area_mm2=sheet.sheet.area_mm2,
        parts_mm2=sum(part.polygon.area for part in sheet.parts if not part.blank),
        offcut_mm2=_reusable_mm2(sheet, least_mm),
        beam_s=_expected_s(sheet),
        price=sheet.sheet.cost,
        price_per_m2=sheet.sheet.price_per_m2,
    )


def _reusable_mm2(sheet: PlannedSheet, least_mm: float) -> float:
    if sheet.left is None or min(sheet.left.rectangle_mm) < least_mm:
        return 0.0
    width_mm, height_mm = sheet.left.rectangle_mm
    return width_mm * height_mm


def _expected_s(sheet: PlannedSheet) -> float:
    return sheet.times.total_s if sheet.expected is None else sheet.expected.total_s


def _beam_by_item_s(sheet: PlannedSheet, machine: Machine) -> dict[str, float]:
    """Divide a sheet's time by whose burns take it; travel follows in the same proportion."""
    source = sheet.toolpath.moves["source"]
    seconds = move_times_s(sheet.toolpath, machine)
    own_s: defaultdict[str, float] = defaultdict(float)
    by_source = np.bincount(source[source >= 0], seconds[source >= 0], minlength=len(sheet.sources))
    for burned, taken in zip(sheet.sources, by_source.tolist(), strict=True):
        own_s[burned.item] += taken
    whole_s = sum(own_s.values())
    if whole_s <= 0.0:
        return {}
    return {item: _expected_s(sheet) * own / whole_s for item, own in own_s.items()}


def exact(value: float) -> Decimal:
    """A measured number as a decimal; a millionth of a second or square millimetre is noise."""
    return Decimal(str(round(value, 6)))
