"""Copies whose marks alone differ are one outline to the search, and told apart again after it."""

from __future__ import annotations

from collections import Counter

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.geometry.paths import Path
from kerfwright.nesting.bodies import ItemBody, bodies_of
from kerfwright.nesting.copies import gathered_copies, told_apart
from kerfwright.nesting.model import Layouts, Placement, SheetLayout, SheetSize
from kerfwright.parts.model import Part
from kerfwright.shop.order import Item


def item(**keys: object) -> Item:
    batch = {"batch": {"rows": "names.csv"}}
    return Item.model_validate({"drawing": "tag.svg", "material": "board"} | batch | keys)


def tag(name: str, width: float = 20.0) -> Part:
    corners = np.array([[0.0, 0.0], [width, 0.0], [width, 8.0], [0.0, 8.0]])
    return Part(name, "tag.svg", Path(corners, closed=True))


def bodies(*pairs: tuple[Item, Part]) -> list[ItemBody]:
    return [body for one, part in pairs for body in bodies_of(one, (part,))]


def test_only_copies_of_one_batch_with_one_outline_are_gathered() -> None:
    batch, other, plain = item(), item(), item(batch=None)
    all_of_them = bodies(
        (batch, tag("a")),
        (batch, tag("b")),
        (batch, tag("wide", 21.0)),
        (other, tag("c")),
        (plain, tag("d")),
        (plain, tag("e")),
        (item(kit="k"), tag("f")),
    )
    gathered, members = gathered_copies(all_of_them)
    assert [body.quantity for body in gathered] == [2, 1, 1, 1, 1, 1]
    assert members == ((0, 1), (2,), (3,), (4,), (5,), (6,))


@given(
    quantities=st.lists(st.integers(1, 4), min_size=1, max_size=5),
    left=st.integers(0, 20),
    data=st.data(),
)
def test_every_copy_is_placed_or_left_over_once(
    quantities: list[int], left: int, data: st.DataObject
) -> None:
    wanted = item()
    copies = [
        ItemBody(
            body.body.__class__(body.body.name, body.body.footprint, quantity, (0.0,)),
            wanted,
            body.parts,
            part_numbers=body.part_numbers,
        )
        for number, quantity in enumerate(quantities)
        for body in bodies((wanted, tag(f"row {number}")))
    ]
    gathered, members = gathered_copies(copies)
    assert len(gathered) == 1
    unplaced = min(left, sum(quantities))
    lying = [Placement(0, 0.0, float(n), 0.0) for n in range(sum(quantities) - unplaced)]
    cut = data.draw(st.integers(0, len(lying)))
    sheet = SheetSize("sheet", 100.0, 100.0, 2)
    sheets = tuple(SheetLayout(sheet, tuple(some), 0.1) for some in (lying[:cut], lying[cut:]))
    apart = told_apart(Layouts(sheets, {0: unplaced} if unplaced else {}), members)
    counts = Counter(p.body for layout in apart.sheets for p in layout.placements)
    counts.update(apart.unplaced)
    assert counts == dict(enumerate(quantities))
