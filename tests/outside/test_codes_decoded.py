"""Codes that were planned are burned in a picture and read by an independent reader.

The reader is zxing-cpp, which knows QR codes (ISO/IEC 18004) and Data Matrix codes (ISO/IEC
16022); the picture is made by Pillow from the beam's moves, each as wide as its interval.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from kerfwright.drawing.codes import CodeError, CodeKind, code_of
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.planner import plan_order
from small_shop import STOCK, SmallShop, svg

DOTS_PER_MM = 12

FORMATS = {
    "qr": zxingcpp.BarcodeFormat.QRCode,
    "datamatrix": zxingcpp.BarcodeFormat.DataMatrix,
}


def read(picture: Image.Image) -> list[tuple[str, zxingcpp.BarcodeFormat]]:
    return [(found.text, found.format) for found in zxingcpp.read_barcodes(picture)]


def burned(sheet: PlannedSheet, *, dark: bool = True) -> Image.Image:
    """The sheet as the beam leaves it: its burns drawn as lines as wide as the interval."""
    size = (sheet.sheet.width_mm, sheet.sheet.height_mm)
    ground, ink = (255, 0) if dark else (0, 255)
    picture = Image.new("L", (round(size[0] * DOTS_PER_MM), round(size[1] * DOTS_PER_MM)), ground)
    draw = ImageDraw.Draw(picture)
    points = sheet.toolpath.points * DOTS_PER_MM
    points[:, 1] = picture.height - points[:, 1]
    engrave = next(r for process, r in sheet.recipes.items() if process == "engrave")
    width = round((engrave.interval_mm or 0.0) * DOTS_PER_MM)
    for move in np.flatnonzero(sheet.toolpath.burning & (sheet.toolpath.moves["power"] == 0.42)):
        draw.line([*points[move], *points[move + 1]], fill=ink, width=width)
    return picture


def codes_on(plan: Plan, *, dark: bool = True) -> list[tuple[str, zxingcpp.BarcodeFormat]]:
    """Every code of a plan, each part read by itself."""
    found = []
    for sheet in plan.sheets:
        picture = burned(sheet, dark=dark)
        for part in sheet.parts:
            x0, y0, x1, y1 = (edge * DOTS_PER_MM for edge in part.outline.bounds_mm)
            found += read(picture.crop((x0, picture.height - y1, x1, picture.height - y0)))
    return found


PLACE = '<rect id="{kind}:{{link}}" x="2" y="2" width="26" height="26"/>'

BOARD = """
[[fixtures]]
name = "tiles"
width_mm = 100
height_mm = 40

[fixtures.grid]
columns = 3
first_mm = [18, 20]
pitch_mm = [32, 0]
width_mm = 30
height_mm = 30
"""

LINKS = ["https://eiderwick.example/b/17", "EW-000042", "harbour 7/3"]


@pytest.mark.parametrize("kind", ["qr", "datamatrix"])
@pytest.mark.parametrize("burned_modules", ["dark", "light"])
def test_codes_engraved_into_blanks_are_read(
    tmp_path: Path, kind: str, burned_modules: str
) -> None:
    shop = SmallShop(tmp_path)
    shop.write("tile.svg", svg(PLACE.format(kind=kind), 30, 30))
    shop.write("links.csv", "link\n" + "\n".join(LINKS))
    item = (
        '[[items]]\ndrawing = "tile.svg"\nmaterial = "board"\nfixture = "tiles"\n'
        f'fit = "centre"\nturned_deg = 90\nengrave = "scan"\n'
        f'batch = {{ rows = "links.csv", codes = "{burned_modules}" }}\n'
    )
    shop.order(items=item, stock=BOARD)
    plan = plan_order(shop.order_file)
    found = codes_on(plan, dark=burned_modules == "dark")
    assert found == [(link, FORMATS[kind]) for link in LINKS]


def test_codes_on_tags_that_are_cut_are_read(tmp_path: Path) -> None:
    shop = SmallShop(tmp_path)
    outline = '<rect id="edge" width="30" height="34" fill="none" stroke="black"/>'
    shop.write("tag.svg", svg(outline + PLACE.format(kind="qr"), 30, 34))
    shop.write("links.csv", "link\n" + "\n".join(LINKS))
    item = (
        '[[items]]\ndrawing = "tag.svg"\nmaterial = "board"\nengrave = "scan"\n'
        'batch = { rows = "links.csv" }\n'
    )
    shop.order(items=item, stock=STOCK)
    plan = plan_order(shop.order_file)
    found = codes_on(plan)
    assert sorted(found) == sorted((link, FORMATS["qr"]) for link in LINKS)
    assert sorted(part.name for part in plan.sheets[0].parts) == [
        "tag (row 2)",
        "tag (row 3)",
        "tag (row 4)",
    ]


LETTERS = {
    "qr": st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=60),
    "datamatrix": st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1),
}


@pytest.mark.parametrize("kind", ["qr", "datamatrix"])
@given(data=st.data())
def test_every_text_that_is_taken_is_read_back(kind: CodeKind, data: st.DataObject) -> None:
    text = data.draw(LETTERS[kind])
    code = code_of(kind, text)
    area = code.area(burned="dark")
    scale = 6
    picture = Image.new("L", (code.across * scale,) * 2, 255)
    draw = ImageDraw.Draw(picture)
    for polygon in area.geoms:
        draw.polygon([(x * scale, y * scale) for x, y in polygon.exterior.coords], fill=0)
        for hole in polygon.interiors:
            draw.polygon([(x * scale, y * scale) for x, y in hole.coords], fill=255)
    # what lies in holes is drawn over them
    for polygon in sorted(area.geoms, key=lambda one: -one.envelope.area):
        if not polygon.interiors:
            draw.polygon([(x * scale, y * scale) for x, y in polygon.exterior.coords], fill=0)
    assert read(picture) == [(text, FORMATS[kind])]


def test_what_a_code_cannot_hold_is_refused() -> None:
    for kind, text in (
        ("qr", ""),
        ("qr", "x" * 5000),
        ("datamatrix", "ö"),
        ("datamatrix", "x" * 3000),
    ):
        with pytest.raises(CodeError):
            code_of(kind, text)  # type: ignore[arg-type]
