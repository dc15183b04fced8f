"""Copies of a batch placed as what they are for the search: many of one outline.

Only their marks differ, and marks have no say in where a part lies.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from kerfwright.nesting.bodies import ItemBody
from kerfwright.nesting.model import Body, Layouts

Members = tuple[tuple[int, ...], ...]
"""For each gathered body the bodies that it stands for, each as often as it is wanted."""


def gathered_copies(bodies: Sequence[ItemBody]) -> tuple[list[Body], Members]:
    """Make one body of the copies of one batch that have the same outlines.

    Bodies of other items, of kits and with places of their own stay as they are.
    """
    gathered: list[Body] = []
    members: list[list[int]] = []
    firsts: list[tuple[int, ItemBody]] = []
    for number, one in enumerate(bodies):
        if one.item.batch is None or one.body.kit or one.body.fixed or one.body.extra:
            gathered.append(one.body)
            members.append([number])
            continue
        at = next((at for at, first in firsts if _are_copies(first, one)), None)
        if at is None:
            firsts.append((len(gathered), one))
            gathered.append(one.body)
            members.append([number] * one.body.quantity)
        else:
            more = gathered[at].quantity + one.body.quantity
            gathered[at] = replace(gathered[at], quantity=more)
            members[at] += [number] * one.body.quantity
    return gathered, tuple(map(tuple, members))


def told_apart(layouts: Layouts, members: Members) -> Layouts:
    """Return layouts of gathered bodies as layouts of the bodies they stand for, in their order."""
    taken: Counter[int] = Counter()

    def next_of(body: int) -> int:
        taken[body] += 1
        # what stands alone has one member, however many are placed
        return members[body][min(taken[body], len(members[body])) - 1]

    sheets = tuple(
        replace(
            layout,
            placements=tuple(replace(p, body=next_of(p.body)) for p in layout.placements),
        )
        for layout in layouts.sheets
    )
    unplaced: Counter[int] = Counter()
    for body, count in layouts.unplaced.items():
        if len(members[body]) == 1:
            unplaced[members[body][0]] += count
        else:
            unplaced.update(members[body][len(members[body]) - count :])
    return replace(layouts, sheets=sheets, unplaced=dict(unplaced))


def _are_copies(one: ItemBody, other: ItemBody) -> bool:
    if one.item is not other.item or one.part_numbers != other.part_numbers:
        return False
    pairs = zip(one.body.footprint, other.body.footprint, strict=False)
    return len(one.body.footprint) == len(other.body.footprint) and all(
        mine.equals_exact(theirs, 0.0) for mine, theirs in pairs
    )
