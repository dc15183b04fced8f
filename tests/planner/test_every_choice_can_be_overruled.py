"""What a decision says of the order file makes that choice there, and gives it back."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.decisions import BACK, Decision, Overrule
from kerfwright.planner import plan_order
from kerfwright.shop.files import load_order
from kerfwright.shop.overruling import engrave_overrules
from kerfwright.web.order_file import Change, save_changes
from small_shop import STOCK, SmallShop, svg

PAIR = """
<g id="Outline" fill="none" stroke="black"><rect x="1" y="1" width="30" height="20"/>
<rect x="35" y="1" width="30" height="20"/></g>
<g id="Engrave [front]"><rect x="5" y="5" width="12" height="6"/></g>
<g id="Engrave rim"><rect x="40" y="5" width="12" height="6"/></g>
"""
"""Two parts that can be laid in several ways, engraved on two layers."""

ITEM = '\n[[items]]\nname = "pair"\ndrawing = "pair.svg"\nmaterial = "board"\nquantity = 2\n'

ROOM = STOCK.replace("count = 1", "count = 4").replace("width_mm = 120", "width_mm = 160")


@pytest.fixture
def shop(tmp_path: Path) -> SmallShop:
    made = SmallShop(tmp_path)
    made.write("pair.svg", svg(PAIR, 66, 22))
    made.order(items=ITEM, stock=ROOM, settings="nest_work = 1000")
    return made


def decided(shop: SmallShop) -> dict[str, Decision]:
    return {f"{one.what} {one.sheet}".strip(): one for one in plan_order(shop.order_file).decisions}


def make(shop: SmallShop, overrules: tuple[Overrule, ...], way: str) -> None:
    changes = [Change(at=one.at, value=one.value) for one in overrules if one.way == way]
    assert changes
    save_changes(shop.order_file, changes)


@pytest.mark.parametrize(
    "what",
    [
        "placing on board",
        'engraving of pair, layer "Engrave [front]" (2 parts)',
        'engraving of pair, layer "Engrave rim" (2 parts)',
        "order of the work sheet 1",
    ],
)
def test_every_other_way_can_be_had_and_given_back(shop: SmallShop, what: str) -> None:
    usual = decided(shop)[what]
    ways = {one.way for one in usual.overrules}
    assert ways == {way.way for way in usual.alternatives} - {usual.chosen}
    for way in sorted(ways):
        before = shop.order_file.read_text(encoding="utf-8")
        make(shop, usual.overrules, way)
        overruled = decided(shop)[what]
        assert overruled.chosen == way
        make(shop, overruled.overrules, BACK)
        given_back = decided(shop)[what]
        assert given_back.chosen == usual.chosen
        assert BACK not in {one.way for one in given_back.overrules}
        shop.order_file.write_text(before, encoding="utf-8")


def test_edges_that_parts_share_can_be_cut_apart(shop: SmallShop) -> None:
    touching = '<g id="Outline" fill="none" stroke="black">{}</g>'.format(
        "".join(f'<rect x="{x}" y="1" width="20" height="20"/>' for x in (1, 21))
    )
    shop.draw(touching, item='place = "as-drawn"')
    what = "edges that two parts share sheet 1"
    usual = decided(shop)[what]
    make(shop, usual.overrules, "each part by itself")
    overruled = decided(shop)[what]
    assert overruled.chosen == "each part by itself"
    make(shop, overruled.overrules, BACK)
    assert decided(shop)[what].chosen == "cut once"


def overrules(shop: SmallShop, layer: str, chosen: str) -> tuple[Overrule, ...]:
    ways = ("scan", "contour-parallel", "mixed")
    return engrave_overrules(load_order(shop.order_file), [0], layer, ways, chosen)


@pytest.mark.parametrize(
    ("words", "settings"),
    [
        ("", ""),
        ('engrave = "mixed"', ""),
        ('engrave_layers = { "engrave*" = "mixed", "Other" = "scan" }', ""),
        ('engrave_layers = { "ENGRAVE [[]FRONT]" = "mixed" }', 'engrave = "mixed"'),
        ("", 'engrave = "mixed"'),
    ],
)
@pytest.mark.parametrize("layer", ["Engrave [front]", ""])
def test_whatever_the_order_says_the_way_taken_is_the_one_that_counts(
    shop: SmallShop, words: str, settings: str, layer: str
) -> None:
    """A layer's own pattern comes before others; no other layer's way changes with it."""
    shop.order(items=f"{ITEM}{words}\n", stock=ROOM, settings=settings)

    def way(of: str) -> str:
        order = load_order(shop.order_file)
        return order.items[0].way_of(of, order.settings.engrave)

    rim = way("Engrave rim")
    make(shop, overrules(shop, layer, "mixed"), "scan")
    assert way(layer) == "scan"
    if layer:
        assert way("Engrave rim") == rim
    make(shop, overrules(shop, layer, "scan"), BACK)
    assert way(layer) == "fastest"
