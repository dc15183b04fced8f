"""``inspect`` with an order follows its rules and checks what only an order knows; and pictures."""

from __future__ import annotations

import json

from kerfwright.cli import BAD_INPUT
from small_shop import SmallShop, run, svg

PLAIN = '<rect x="1" y="1" width="40" height="30" fill="none" stroke="black"/>'


def test_rules_name_and_blank_of_the_item_are_followed(shop: SmallShop) -> None:
    fold = '<path d="M 5,5 H 30" fill="none" stroke="#c00000"/>'
    rule = 'name = "box"\n[[items.rules]]\nstroke = "#c00000"\nprocess = "score"'
    shop.draw(PLAIN + fold, item=rule)
    ran = run("inspect", shop.folder / "drawn.svg", "--order", shop.order_file, "--json")
    assert ran.exit_code == 0, ran.stderr
    found = json.loads(ran.stdout)
    assert [(one["name"], one["scores"]) for one in found["parts"]] == [("box", 1)]
    assert "item rule 1 (line #c00000)" in {one["decided_by"] for one in found["processes"]}


def test_checks_that_need_the_shop_are_made(shop: SmallShop) -> None:
    hole = '<circle cx="20" cy="5" r="3" fill="none" stroke="black"/>'
    shop.draw(PLAIN + hole)
    path = shop.folder / "drawn.svg"
    assert "parts/web-weak" not in run("inspect", path).stdout
    ran = run("inspect", path, "--order", shop.order_file)
    assert ran.exit_code == 0
    assert "parts/web-weak" in ran.stdout
    assert "1.00 mm wide" in ran.stdout


def test_a_part_larger_than_the_stock_stops_and_the_slip_is_named(shop: SmallShop) -> None:
    shop.write(
        "drawn.svg", svg(PLAIN.replace('"40"', '"1016"').replace('"30"', '"762"'), 1020, 770)
    )
    shop.order("drawn.svg")
    ran = run("inspect", shop.folder / "drawn.svg", "--order", shop.order_file)
    assert ran.exit_code == BAD_INPUT
    assert "parts/larger-than-sheets" in ran.stdout
    assert "offcut (120 × 100 mm)" in ran.stdout
    assert "it would be 40.0 × 30.0 mm" in ran.stdout
    planned = shop.plan()
    assert planned.exit_code == BAD_INPUT
    assert "as if it were drawn in millimetres and read as centimetres" in planned.told


def test_a_web_that_burns_away_stops_the_plan(shop: SmallShop) -> None:
    hole = '<rect x="10" y="1.1" width="10" height="10" fill="none" stroke="black"/>'
    shop.draw(PLAIN + hole)
    ran = shop.plan()
    assert ran.exit_code == BAD_INPUT
    assert "parts/web-burns-away" in ran.told
    assert not shop.out.exists()


def test_a_copy_elsewhere_is_read_with_the_order_of_the_same_name(shop: SmallShop) -> None:
    (shop.folder / "new").mkdir()
    other = shop.write("new/tile.svg", svg(PLAIN))
    ran = run("inspect", other, "--order", shop.order_file, "--json")
    assert ran.exit_code == 0
    assert json.loads(ran.stdout)["parts"][0]["engraves"] == 0


def test_a_drawing_that_is_not_in_the_order(shop: SmallShop) -> None:
    path = shop.write("other.svg", svg(PLAIN))
    ran = run("inspect", path, "--order", shop.order_file)
    assert ran.exit_code == BAD_INPUT
    assert "order/drawing-not-in-order" in ran.told
    assert '"tile.svg"' in ran.told


def test_alike_parts_are_grouped_in_the_table(shop: SmallShop) -> None:
    flag = "M {x},2 h 9 v 4 h -5 v 9 h -4 z"
    mirrored = "M 40,2 h -9 v 4 h 5 v 9 h 4 z"
    lines = [flag.format(x=2), flag.format(x=15), mirrored]
    path = shop.write(
        "flags.svg", svg("".join(f'<path d="{d}" fill="none" stroke="black"/>' for d in lines))
    )
    found = json.loads(run("inspect", path, "--json").stdout)
    assert [(one["alike"], one["mirrored"]) for one in found["parts"]] == [
        (1, False),
        (1, False),
        (1, True),
    ]
    assert "A, mirrored" in run("inspect", path).stdout


def test_the_picture_is_written_and_numbers_findings_as_the_table_does(shop: SmallShop) -> None:
    lines = '<path d="M 1,1 H 30 V 20" fill="none" stroke="black"/>'
    path = shop.write("open.svg", svg(lines + PLAIN + PLAIN.replace('x="1"', 'x="1.2"')))
    file = shop.folder / "picture.svg"
    ran = run("inspect", path, "--picture", file)
    assert ran.exit_code == BAD_INPUT
    picture = file.read_text(encoding="utf-8")
    assert picture.startswith("<svg")
    assert "  1  stop" in ran.stdout
    assert 'class="stop"' in picture
    refused = run("inspect", path, "--picture", shop.folder / "picture.bmp")
    assert "order/picture-ending" in refused.told
