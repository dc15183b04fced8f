"""A PDF's page and a traced picture go the whole way from the file to a part."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from kerfwright.drawing.read import Choice
from kerfwright.findings import stops
from kerfwright.prepare import prepare_drawing
from kerfwright.shop.order import Item, Rule
from pdf_pages import document

POINT = 25.4 / 72


def test_the_second_page_of_a_pdf_is_a_part_with_a_hole(tmp_path: Path) -> None:
    path = tmp_path / "signs.pdf"
    plate = "1 0 0 RG 0 w 20 20 300 100 re S 50 50 m 50 80 95 80 95 50 c s"
    path.write_bytes(document("0 w 5 5 50 50 re S", plate))
    prepared = prepare_drawing(path, choice=Choice(page=2))
    assert not stops(prepared.findings)
    (part,) = prepared.parts
    assert len(part.holes) == 1
    left, low, right, high = part.outline.bounds_mm
    assert (right - left, high - low) == pytest.approx((300 * POINT, 100 * POINT), abs=1e-3)


def logo(path: Path) -> None:
    picture = Image.new("L", (400, 300), 255)
    pen = ImageDraw.Draw(picture)
    pen.rectangle((50, 50, 349, 249), fill=0)
    pen.ellipse((150, 100, 249, 199), fill=255)
    picture.save(path)


def test_a_traced_logo_is_cut_by_a_rule(tmp_path: Path) -> None:
    path = tmp_path / "logo.png"
    logo(path)
    prepared = prepare_drawing(
        path, rules=[Rule(process="cut")], choice=Choice(width_mm=80.0, pictures="trace")
    )
    assert not stops(prepared.findings)
    (part,) = prepared.parts
    assert len(part.holes) == 1
    left, low, right, high = part.outline.bounds_mm
    assert (right - left, high - low) == pytest.approx((60.0, 40.0), abs=0.1)


def test_an_item_chooses_page_width_and_what_becomes_of_pictures() -> None:
    item = Item(drawing="a.pdf", material="birch")
    assert (item.page, item.width_mm, item.pictures) == (None, None, "photo")
    item = Item.model_validate(
        {"drawing": "a.png", "material": "birch", "width_mm": 80, "pictures": "trace", "page": 2}
    )
    assert (item.page, item.width_mm, item.pictures) == (2, 80.0, "trace")
    for wrong in ({"page": 0}, {"page": 1.5}, {"width_mm": -1}, {"pictures": "dither"}):
        with pytest.raises(ValueError, match=next(iter(wrong))):
            Item.model_validate({"drawing": "a", "material": "b", **wrong})
