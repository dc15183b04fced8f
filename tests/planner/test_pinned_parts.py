"""Single parts with places of their own: the others are laid round them."""

from __future__ import annotations

import pytest
from shapely import Polygon, box

from kerfwright.errors import KerfwrightError
from kerfwright.plan import Plan
from kerfwright.planner import plan_order
from small_shop import STOCK, SmallShop

TWO = """\
<g id="Outline" fill="none" stroke="black">
  <rect x="1" y="1" width="20" height="10"/><rect x="25" y="15" width="12" height="12"/>
</g>
"""

PIN = """quantity = 3
  [[items.pinned]]
  part = {part}
  at_mm = [40.0, 30.0]
  turn_deg = {turn}
"""


def pinned(part: int = 1, turn: float = 0.0, more: str = "") -> str:
    return PIN.format(part=part, turn=turn) + more


def outlines(plan: Plan, *, fixed: bool) -> list[Polygon]:
    return [
        part.polygon
        for sheet in plan.sheets
        for part, laid in zip(sheet.parts, sheet.laid, strict=True)
        if laid.pinned is fixed
    ]


def test_a_pinned_part_lies_where_the_order_has_it(shop: SmallShop) -> None:
    shop.draw(TWO, item=pinned(), stock=STOCK)
    (there,) = outlines(plan_order(shop.order_file), fixed=True)
    assert there.bounds == pytest.approx((40.0, 30.0, 60.0, 40.0), abs=1e-6)


def test_it_is_turned_to_the_left_about_its_corner(shop: SmallShop) -> None:
    shop.draw(TWO, item=pinned(turn=90.0), stock=STOCK)
    (there,) = outlines(plan_order(shop.order_file), fixed=True)
    assert there.bounds == pytest.approx((40.0, 30.0, 50.0, 50.0), abs=1e-6)


def test_everything_else_is_made_too_and_keeps_its_distance(shop: SmallShop) -> None:
    shop.draw(TWO, item=pinned(), stock=STOCK)
    plan = plan_order(shop.order_file)
    (there,) = outlines(plan, fixed=True)
    others = outlines(plan, fixed=False)
    assert len(others) == 5
    assert sorted(round(one.area) for one in others) == [144, 144, 144, 200, 200]
    assert all(one.distance(there) >= 1.0 - 1e-6 for one in others)


def test_copies_keep_numbers_of_their_own(shop: SmallShop) -> None:
    shop.draw(TWO, item=pinned(), stock=STOCK)
    sources = [one for sheet in plan_order(shop.order_file).sheets for one in sheet.sources]
    assert len({(one.part, one.instance) for one in sources}) == 6


def test_a_place_off_the_sheet_is_refused(shop: SmallShop) -> None:
    shop.draw(TWO, item=pinned().replace("40.0, 30.0", "-3.0, 5.0"), stock=STOCK)
    with pytest.raises(KerfwrightError, match="cannot lie where the order has it") as refused:
        plan_order(shop.order_file)
    assert refused.value.code == "nesting/place-taken"


@pytest.mark.parametrize(
    ("item", "code"),
    [
        (pinned(part=3), "nesting/no-such-part"),
        ('place = "as-drawn"\n' + pinned(), "order/wishes-contradict"),
        (
            pinned().replace("quantity = 3\n", "quantity = 1\n") * 1
            + PIN[PIN.index("  [[") :].format(part=1, turn=0),
            "order/wishes-contradict",
        ),
        ("one_sheet = true\n" + pinned(), "order/wishes-contradict"),
        (pinned(more='  on_sheet = "nowhere"\n'), "order/sheet-unknown"),
    ],
    ids=["no such part", "kept together", "more than wanted", "one sheet", "no such sheet"],
)
def test_pins_that_cannot_be_meant_are_refused(shop: SmallShop, item: str, code: str) -> None:
    shop.draw(TWO, item=item, stock=STOCK)
    with pytest.raises(KerfwrightError) as refused:
        plan_order(shop.order_file)
    assert refused.value.code == code


def test_numbers_of_sheets_only_tell_them_apart(shop: SmallShop) -> None:
    """A pin on sheet 2 of a name, with none on sheet 1, is on the first of them."""
    shop.draw(
        TWO, item=pinned(more="  sheet_number = 2\n"), stock=STOCK.replace("count = 1", "count = 2")
    )
    plan = plan_order(shop.order_file)
    assert len(plan.sheets) == 1
    assert outlines(plan, fixed=True)[0].within(box(39, 29, 61, 41))
