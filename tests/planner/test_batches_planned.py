"""A batch is planned as one copy for each row; what is wrong with a row names the row."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.batches import ordered_items
from kerfwright.planner import plan_order
from kerfwright.shop.files import load_shop
from small_shop import STOCK, SmallShop, run, svg

TAG = (
    '<g id="Outline" fill="none" stroke="black"><rect width="28" height="12" rx="2"/></g>'
    '<g id="Engrave"><text id="name" x="3" y="8" font-size="5" font-family="Source Sans Pro">'
    "{name}</text></g>"
)

SMALL = "room_mm = { name = 22 }\nleast_text_mm = 2"

NAMES = "name;berth\nMöwe;1\nTide Runner;2\nOld Lantern of Eiderwick;3\nMöwe;4\n"


@pytest.fixture
def shop(tmp_path: Path) -> SmallShop:
    shop = SmallShop(tmp_path)
    shop.write("tag.svg", svg(TAG, 28, 12))
    shop.write("names.csv", NAMES)
    ordered(shop)
    return shop


def ordered(shop: SmallShop, *, item: str = "", batch: str = "") -> None:
    lines = f'\n[[items]]\ndrawing = "tag.svg"\nmaterial = "board"\n{item}\n'
    shop.order(items=f'{lines}[items.batch]\nrows = "names.csv"\n{batch}\n', stock=STOCK)


def test_every_row_is_a_part_of_its_own_with_its_own_words(shop: SmallShop) -> None:
    ordered(shop, batch=SMALL)
    plan = plan_order(shop.order_file)
    (sheet,) = plan.sheets
    areas = {part.name: sum(mark.area.area for mark in part.engraves) for part in sheet.parts}
    assert set(areas) == {f"tag (row {row})" for row in (2, 3, 4, 5)}
    assert areas["tag (row 2)"] == pytest.approx(areas["tag (row 5)"])
    assert areas["tag (row 3)"] > 1.2 * areas["tag (row 2)"]
    assert set(sheet.items) == {"tag"}


def test_rows_that_say_the_same_are_told(shop: SmallShop) -> None:
    ordered(shop, batch=SMALL)
    (same,) = [f for f in plan_order(shop.order_file).findings if f.code == "batch/same-rows"]
    assert (same.what, same.drawing) == (
        "rows 2, 5 say the same; a copy is made of each.",
        "names.csv",
    )


def test_what_every_copy_has_in_common_is_told_once_without_a_row(shop: SmallShop) -> None:
    ordered(shop, batch=SMALL)
    told = [f for f in plan_order(shop.order_file).findings if f.code == "drawing/text-set"]
    assert [finding.drawing for finding in told] == ["tag.svg"]


@pytest.mark.parametrize(
    ("batch", "code", "where"),
    [
        ("room_mm = { name = 22 }\nleast_text_mm = 4", "drawing/text-too-long", "tag.svg, row 4"),
        ("", "parts/mark-outside-part", "tag.svg, row 4"),
    ],
)
def test_a_row_that_does_not_fit_stops_the_plan_and_is_named(
    shop: SmallShop, batch: str, code: str, where: str
) -> None:
    ordered(shop, batch=batch)
    ran = shop.plan()
    assert (ran.exit_code, code in ran.stderr) == (2, True)
    assert where in ran.stderr
    assert "row 3" not in ran.stderr


def test_quantity_is_of_every_row(shop: SmallShop) -> None:
    ordered(shop, item="quantity = 2", batch=SMALL)
    (sheet,) = plan_order(shop.order_file).sheets
    assert len(sheet.parts) == 8


def test_a_drawing_without_text_to_replace_is_refused(shop: SmallShop) -> None:
    shop.draw_dxf([(0, 0), (20, 0), (20, 10)])
    shop.order(
        items='[[items]]\ndrawing = "drawn.dxf"\nmaterial = "board"\n'
        'batch = { rows = "names.csv" }\n'
    )
    ran = shop.plan()
    assert (ran.exit_code, "batch/not-svg" in ran.stderr) == (2, True)


def test_inspecting_shows_the_first_row(shop: SmallShop) -> None:
    ran = run("inspect", shop.folder / "tag.svg", "--order", shop.order_file, "--json")
    assert ran.exit_code == 0, ran.stderr
    assert "tag (row 2)" in ran.stdout


def test_a_quote_counts_every_row(shop: SmallShop) -> None:
    ordered(shop, item="quantity = 3", batch=SMALL)
    assert [item.quantity for item in ordered_items(load_shop(shop.order_file))] == [12]


@pytest.mark.parametrize("wish", ["at_mm = [5, 5]", "fill = true"])
def test_wishes_that_mean_nothing_for_a_batch_are_refused(shop: SmallShop, wish: str) -> None:
    ordered(shop, item=wish, batch=SMALL)
    ran = shop.plan()
    assert (ran.exit_code, "order/wishes-contradict" in ran.stderr) == (2, True)
    assert wish.split(maxsplit=1)[0] in ran.stderr
