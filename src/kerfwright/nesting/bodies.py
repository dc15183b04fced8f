"""An order's items as bodies to place."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath as FilePath

from kerfwright.errors import KerfwrightError
from kerfwright.nesting.model import Body, FixedPlace, Kit, SheetSize
from kerfwright.parts.model import Part
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
