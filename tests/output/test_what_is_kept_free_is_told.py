"""Areas that are kept free are hatched and told with their reason. Numbers are invented."""

from __future__ import annotations

import io

import numpy as np
import pypdfium2
import pytest
from lxml import etree
from PIL import Image
from shapely import Polygon, box

import planned_order
from kerfwright.nesting.model import SheetSize
from kerfwright.output.kept_free import (
    kept_free,
    kept_free_in_words,
    kept_free_picture,
    kept_free_records,
)
from kerfwright.output.layout_svg import layout_svg
from kerfwright.output.paper import printed_picture
from kerfwright.output.pictures import sheet_picture
from kerfwright.output.ticket import ticket_html
from kerfwright.output.ticket_pdf import ticket_pdf
from kerfwright.plan import Plan, PlannedSheet

SVG = "{http://www.w3.org/2000/svg}"
CLAMP, KNOT = box(0.0, 0.0, 40.0, 6.0), Polygon([(90, 70), (96, 70), (93, 76)])


def sheet(*whys: str) -> PlannedSheet:
    size = SheetSize("board", 100.0, 80.0, 1, keep_out=(CLAMP, KNOT), keep_out_why=whys)
    return planned_order.first_sheet(sheet=size)


def titles(svg: str) -> list[str]:
    root = etree.fromstring(svg.encode("utf-8"))
    found = [e.text or "" for e in root.iter(SVG + "title")]
    return [text for text in found if text.startswith("Kept free")]


def planned(one: PlannedSheet) -> Plan:
    plan = planned_order.order()
    return Plan(plan.title, plan.machine, (one,), (), (), invented=True)


def test_words_say_what_where_and_how_large() -> None:
    words = kept_free_in_words(sheet("clamp", "knot").sheet)
    assert words == "clamp, 40 × 6 mm at (0, 0); knot, 6 × 6 mm at (90, 70)"


def test_an_area_without_a_reason_is_told_all_the_same() -> None:
    found = kept_free(sheet("clamp").sheet)
    assert [one.why for one in found] == ["clamp", ""]
    assert "an area, 6 × 6 mm at (90, 70)" in kept_free_in_words(sheet("clamp").sheet)


@pytest.mark.parametrize("words", ["clamp", planned_order.HOSTILE])
def test_pictures_name_the_reason(words: str) -> None:
    one = sheet(words, "knot")
    for svg in (sheet_picture(one), layout_svg(one)):
        first, second = titles(svg)
        assert second == "Kept free: knot"
        assert words.splitlines()[0][:12] in first


def test_a_label_stands_where_there_is_room() -> None:
    picture = kept_free_picture(sheet("clamp", "a knot with a long name").sheet)
    root = etree.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{picture}</svg>')
    texts = [e.text for e in root.iter(SVG + "text")]
    assert texts == ["clamp"]


def test_hatching_covers_the_area_and_nothing_else() -> None:
    size = sheet("clamp", "knot").sheet
    drawn = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10000 8000" width="1000" '
        f'height="800"><style>path{{stroke:#000;fill:none}}text{{display:none}}'
        f"</style>{kept_free_picture(size)}</svg>"
    )
    dark = np.asarray(Image.open(io.BytesIO(printed_picture(drawn, 1000))).convert("L")) < 200
    # 10 px a millimetre, y downwards; lines spread half a millimetre at most
    inside = dark[740:800, 0:400]
    assert 0.05 < inside.mean() < 0.6
    outside = dark.copy()
    outside[734:800, 0:406] = False
    outside[34:106, 894:966] = False
    assert not outside.any()


def test_tickets_and_records_tell_it() -> None:
    plan = planned(sheet("clamp", "knot"))
    files = planned_order.files_of(plan)
    assert "clamp, 40 × 6 mm at (0, 0)" in ticket_html(plan, files)
    with pypdfium2.PdfDocument(ticket_pdf(plan, files)) as pdf:
        text = pdf[0].get_textpage().get_text_bounded()
    assert "Kept free: clamp, 40 × 6 mm" in text
    records = kept_free_records(plan.sheets[0].sheet)
    assert [one.why for one in records] == ["clamp", "knot"]
    assert set(records[0].outline) == {(0.0, 0.0), (40.0, 0.0), (40.0, 6.0), (0.0, 6.0)}


def test_a_sheet_that_is_all_free_says_nothing() -> None:
    plain = planned_order.first_sheet()
    assert "Kept free" not in ticket_html(planned(plain), planned_order.files_of(planned(plain)))
    assert "hatch" not in classes(sheet_picture(plain))


def classes(svg: str) -> set[str]:
    return {e.get("class", "") for e in etree.fromstring(svg.encode()).iter(SVG + "path")}
