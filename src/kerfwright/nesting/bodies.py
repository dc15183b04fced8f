"""An order's items as bodies to place, and the plain words for what could not be placed."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath as FilePath

import numpy as np
import shapely

from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.nesting.fits import Unplaced, room_mm, why_unplaced
from kerfwright.nesting.model import Body, FixedPlace, Kit, Layouts, SheetSize
from kerfwright.parts.model import Part
from kerfwright.parts.sizes import SheetRoom, Sized, likely_slips
from kerfwright.shop.faults import listed
from kerfwright.shop.order import CompactTo, Item, PlaceWay

MOST_COPIES = 100_000
"""Copies that fill room, where the order sets no bound."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What an item wants beyond itself: its number, its rank, and the sheet of its fixed place."""

    number: int = 0
    rank: int = 0
    sheet: str = ""


PLAIN = Wishes()


@dataclass(frozen=True, eq=False, slots=True)
class ItemBody:
    """A body and the parts that it carries, all in their drawing's coordinates."""

    body: Body
    item: Item
    parts: tuple[Part, ...]
    item_number: int = 0
    part_numbers: tuple[int, ...] = ()
    """Which of the item's parts they are, counted from 0."""
    slides_to: CompactTo | None = None
    """Side or corner of the sheet to which it is to slide."""

    @property
    def label(self) -> str:
        """What the item is called in decisions."""
        return self.item.name or FilePath(self.item.drawing).stem


def bodies_of(
    item: Item, parts: Sequence[Part], *, way: PlaceWay | None = None, wishes: Wishes = PLAIN
) -> tuple[ItemBody, ...]:
    """Make one body of each part, or one of all of them where the item stays together.

    ``way`` overrules what the item says; parts to be placed ``compact`` have been slid
    together before.
    """
    way = way or item.place
    to = item.compact_to if way == "compact" and item.at_mm is None else None
    if item.pinned:
        return _with_pinned(item, parts, wishes)
    together = way in ("as-drawn", "compact") or item.at_mm is not None
    numbers = range(len(parts))
    groups = [tuple(numbers)] if together else [(number,) for number in numbers]
    return tuple(
        _item_body(item, [parts[number] for number in group], group, len(groups), wishes, to)
        for group in groups
        if group
    )


def _item_body(
    item: Item,
    group: Sequence[Part],
    numbers: tuple[int, ...],
    groups: int,
    wishes: Wishes,
    to: CompactTo | None,
) -> ItemBody:
    return ItemBody(
        Body(
            name=group[0].name if len(group) == 1 else (item.name or group[0].drawing),
            footprint=tuple(part.polygon for part in group),
            quantity=item.quantity,
            turns_deg=item.turns_deg if item.at_mm is None else item.turns_deg[:1],
            may_mirror=item.may_turn_over and not any(map(_marked, group)),
            extra=_extra(item),
            rank=wishes.rank,
            kit=_kit(item, wishes) if item.kit or groups > 1 else None,
            fixed=_fixed(item, wishes),
        ),
        item,
        tuple(group),
        wishes.number,
        numbers,
        to,
    )


def _with_pinned(item: Item, parts: Sequence[Part], wishes: Wishes) -> tuple[ItemBody, ...]:
    """A body of each part, and before it one for each of its copies that is pinned."""
    unknown = next((pin.part for pin in item.pinned if pin.part > len(parts)), None)
    if unknown is not None:
        raise KerfwrightError(
            "nesting/no-such-part",
            file=item.drawing,
            thing=f"part {unknown} is pinned, but the drawing has {len(parts)}.",
            remedy="Take that [[items.pinned]] block out, or give another part.",
        )
    bodies: list[ItemBody] = []
    for number, part in enumerate(parts):
        free = _item_body(item, [part], (number,), len(parts), wishes, None)
        pins = [pin for pin in item.pinned if pin.part == number + 1]
        for pin in pins:
            place = FixedPlace(pin.on_sheet or wishes.sheet, *pin.at_mm, pin.sheet_number)
            alone = replace(free.body, quantity=1, extra=0, turns_deg=(pin.turn_deg,), fixed=place)
            bodies.append(replace(free, body=alone))
        left = free.body.quantity - len(pins)
        if left or free.body.extra:
            bodies.append(replace(free, body=replace(free.body, quantity=left)))
    return tuple(bodies)


def _fixed(item: Item, wishes: Wishes) -> FixedPlace | None:
    if item.at_mm is None:
        return None
    return FixedPlace(wishes.sheet, *item.at_mm, item.sheet_number)


def wishes_of(items: Sequence[Item], stock: Sequence[SheetSize]) -> tuple[Wishes, ...]:
    """What items of one material want of one another and of the sheets in stock.

    Ranks go by priority, then by the day on which an item is due; items without come last.
    """
    keys = [(item.priority or math.inf, item.due or datetime.date.max) for item in items]
    ranks = {key: rank for rank, key in enumerate(sorted(set(keys)))}
    first = stock[0].name if stock else ""
    return tuple(
        Wishes(number, ranks[key], item.on_sheet or first)
        for number, (key, item) in enumerate(zip(keys, items, strict=True))
    )


def _marked(part: Part) -> bool:
    return bool(part.scores or part.engraves or part.photos or part.blank)


def _extra(item: Item) -> int:
    if not item.fill:
        return 0
    return (MOST_COPIES if item.at_most is None else item.at_most) - item.quantity


def _kit(item: Item, wishes: Wishes) -> Kit | None:
    if item.kit is not None:
        return Kit(item.kit)
    name = f"{item.name or FilePath(item.drawing).stem} ({wishes.number + 1})"
    return Kit(name, item.quantity) if item.one_sheet else None


def require_all_placed(
    bodies: Sequence[Body],
    sheets: Sequence[SheetSize],
    layouts: Layouts,
    *,
    margin_mm: float,
    file: str,
    material: str,
    more: str = "under [[stock]]",
) -> None:
    """Refuse layouts that leave something over. ``more`` says where sheets are added.

    Raises:
        KerfwrightError: a part fits no sheet, or the sheets ran out.
    """
    left = why_unplaced(bodies, sheets, layouts, margin_mm=margin_mm)
    if not left:
        return
    too_big = [one for one in left if one.reason == "part-too-big"]
    if too_big:
        raise _too_big(
            bodies, too_big, sheets, margin_mm=margin_mm, file=file, material=material, more=more
        )
    raise KerfwrightError(
        "nesting/out-of-sheets",
        file=file,
        thing=f"the sheets of {material} in stock are full before all parts have a place; "
        f"left over: {_counted(bodies, left)}.{_on_one_sheet(bodies, left)}",
        remedy=f"Add sheets {more}, of this or another size, make less, or let the "
        'plan go on without them: if_sheets_run_out = "leave-over" under [settings].',
    )


def left_over_findings(
    bodies: Sequence[Body],
    sheets: Sequence[SheetSize],
    layouts: Layouts,
    *,
    margin_mm: float,
    material: str,
) -> tuple[Finding, ...]:
    """Warn of what the sheets in stock did not take."""
    left = why_unplaced(bodies, sheets, layouts, margin_mm=margin_mm)
    too_big = [one for one in left if one.reason == "part-too-big"]
    short = [one for one in left if one.reason == "out-of-sheets"]
    told = (
        (too_big, "fit no sheet", "Add a larger sheet, or divide them."),
        (short, "found no room", "Plan them again with more sheets in stock."),
    )
    return tuple(
        Finding(
            Severity.WARN,
            "nesting/left-over",
            f"not planned, because they {why} of {material}: {_counted(bodies, some)}."
            f"{_on_one_sheet(bodies, some)}",
            remedy,
            count=sum(one.count for one in some),
        )
        for some, why, remedy in told
        if some
    )


def _counted(bodies: Sequence[Body], left: Sequence[Unplaced]) -> str:
    return ", ".join(f"{one.count} × {bodies[one.body].name}" for one in left)


def _on_one_sheet(bodies: Sequence[Body], left: Sequence[Unplaced]) -> str:
    """Say which kits are left over; sheets that are too small for one may be there in plenty."""
    kits = sorted({kit.name for one in left if (kit := bodies[one.body].kit) is not None})
    return f" What belongs to {listed(kits)} must lie on one sheet, all of it." if kits else ""


def _too_big(
    bodies: Sequence[Body],
    too_big: Sequence[Unplaced],
    sheets: Sequence[SheetSize],
    *,
    margin_mm: float,
    file: str,
    material: str,
    more: str,
) -> KerfwrightError:
    sizes = ", ".join(f"{s.name} ({s.width_mm:g} × {s.height_mm:g} mm)" for s in sheets)
    parts = ", ".join(
        f'"{bodies[one.body].name}" ({one.width_mm:.1f} × {one.height_mm:.1f} mm)'
        for one in too_big
    )
    return KerfwrightError(
        "nesting/part-too-big",
        file=file,
        thing=f"{parts} fits no sheet of {material} with a margin of {margin_mm:g} mm; "
        f"in stock: {sizes}.",
        remedy=f"Add a larger sheet {more}, allow other turns_deg, make margin_mm smaller "
        "(half a kerf always stays), "
        f"or divide the part. If the size looks wrong, check the drawing's unit"
        f"{_slip(bodies[too_big[0].body], sheets, margin_mm)}.",
    )


def _slip(body: Body, sheets: Sequence[SheetSize], margin_mm: float) -> str:
    """Name the usual slip of scale that would make a body fit, if one would."""
    points = np.concatenate([shapely.get_coordinates(area) for area in body.footprint])
    rooms = [
        SheetRoom(
            sheet.name,
            sheet.width_mm,
            sheet.height_mm,
            room_mm(sheet, margin_mm),
        )
        for sheet in sheets
    ]
    slips = likely_slips([Sized(body.name, points, body.turns_deg)], rooms)
    return f": it would fit × {slips[0][0]:.4g}, as if it were {slips[0][1]}" if slips else ""
