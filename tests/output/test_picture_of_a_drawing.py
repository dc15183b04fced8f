"""The picture of a drawing: processes by line, parts tinted, findings numbered as in the list."""

from __future__ import annotations

import io
from pathlib import Path as FilePath

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from PIL import Image

from kerfwright.drawing.model import Drawing, Paint, Picture, Shape
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import Path
from kerfwright.output.drawing_picture import drawing_picture, write_picture
from kerfwright.output.finding_numbers import free_places, numbered
from kerfwright.parts.model import ProcessedShape
from kerfwright.parts.recognise import recognise_parts
from kerfwright.toolpath import Process

SVG = {"s": "http://www.w3.org/2000/svg"}
LINE, FILLED = Paint(stroke="#000000"), Paint(fill="#222222")


def box(x0: float, y0: float, x1: float, y1: float) -> Path:
    return Path(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=float), closed=True)


CUT = Shape("plate", (box(10, 10, 90, 50),), paint=LINE)
AREA = Shape("area", (box(60, 20, 80, 40),), paint=FILLED)
SCORE = Shape("fold", (Path(np.array([[20.0, 15.0], [20.0, 45.0]])),), paint=LINE)
LEFT_OUT = Shape("ghost", (box(92, 2, 98, 8),), paint=Paint(fill="#ffffff"))
FINDINGS = (
    Finding(Severity.NOTE, "parts/alike", "a note.", x_mm=50.0, y_mm=30.0),
    Finding(
        Severity.STOP, "parts/open-outline", 'a "stop" & more.', "Do <this>.", x_mm=10, y_mm=10
    ),
    Finding(Severity.WARN, "parts/web-weak", "a warning.", shape="plate", x_mm=50.0, y_mm=30.0),
    Finding(Severity.WARN, "parts/invisible", "no place."),
)


def picture(
    findings: tuple[Finding, ...] = FINDINGS, pictures: tuple[Picture, ...] = ()
) -> etree._Element:
    drawing = Drawing("tag.svg", (CUT, AREA, SCORE, LEFT_OUT), 100.0, 60.0, pictures=pictures)
    given = [(CUT, Process.CUT), (AREA, Process.ENGRAVE), (SCORE, Process.SCORE)]
    shapes = [ProcessedShape(shape, process, "given") for shape, process in given]
    parts, _ = recognise_parts(shapes, drawing, name="tag")
    return etree.fromstring(drawing_picture(drawing, shapes, parts, findings).encode())


def texts(root: etree._Element, at: str = "//s:text") -> list[str]:
    return ["".join(one.itertext()) for one in root.xpath(at, namespaces=SVG)]


def test_findings_are_numbered_stops_first_here_and_in_every_list() -> None:
    assert [one.severity.value for _, one in numbered(FINDINGS)] == ["stop", "warn", "warn", "note"]
    assert [number for number, _ in numbered(FINDINGS)] == [1, 2, 3, 4]


def test_each_finding_is_listed_and_those_with_a_place_are_signed_twice() -> None:
    root = picture()
    assert sorted(texts(root, "//s:g/s:text")) == ["1", "1", "2", "2", "3", "4", "4"]
    listed = " ".join(texts(root))
    for words in (
        'A "stop" & more.',
        "Do <this>.",
        "Warn, plate, x 50.00, y 30.00 mm",
        "No place.",
    ):
        assert words in listed


def test_each_kind_of_line_is_drawn_and_explained_in_the_key() -> None:
    root = picture(pictures=(Picture("p", np.zeros((1, 1), np.uint8), Affine(a=9, d=-9, f=9)),))
    drawn = {name for one in root.xpath("//s:path/@class", namespaces=SVG) for name in one.split()}
    assert {"cut", "score", "area", "left", "photo", "part"} <= drawn
    assert {"cut", "score", "engrave", "left out", "picture", "part"} <= set(texts(root))
    assert "guide, not burned" not in texts(root)
    assert len(root.xpath("//s:path[@class='to']", namespaces=SVG)) >= 3


def test_the_page_lies_round_what_is_drawn_where_the_file_has_none() -> None:
    """DXF has no page and keeps its own places; an SVG's page begins at (0, 0)."""
    plate = Shape("plate", (box(30, 20, 80, 60),), paint=LINE)

    def page_of(width_mm: float, height_mm: float) -> list[float]:
        drawing = Drawing("gear.dxf", (plate,), width_mm, height_mm)
        root = etree.fromstring(drawing_picture(drawing, (), (), ()).encode())
        (rect,) = root.xpath("//s:rect[@class='page']", namespaces=SVG)
        return [float(rect.get(name)) for name in ("x", "y", "width", "height")]

    # 50 mm fill 174 mm of paper, 80 mm of height fill 176
    assert page_of(50.0, 40.0) == pytest.approx([8.0, 15.0, 174.0, 139.2], abs=0.01)
    assert page_of(100.0, 80.0)[2:] == pytest.approx([174.0, 139.2], abs=0.01)


def test_a_drawing_of_no_shapes_and_no_findings_is_still_a_picture() -> None:
    drawing = Drawing("empty.svg", (), 0.0, 0.0)
    root = etree.fromstring(drawing_picture(drawing, (), (), ()).encode())
    assert "empty.svg" in texts(root)


def test_png_shows_the_lines_where_they_are(tmp_path: FilePath) -> None:
    """Source: the resvg library draws the SVG; Pillow reads the PNG."""
    text = etree.tostring(picture(())).decode()
    write_picture(tmp_path / "tag.svg", text)
    write_picture(tmp_path / "tag.PNG", text)
    image = Image.open(io.BytesIO((tmp_path / "tag.PNG").read_bytes())).convert("L")
    assert image.width == round(190 / 25.4 * 200)
    grey = np.asarray(image, dtype=int)
    per_mm = image.width / 190.0
    # 100 mm of page fill 174 mm of paper, from 8 mm on the left and 15 mm from above

    def darkest(x_mm: float, y_mm: float) -> int:
        x, y = (8.0 + 1.74 * x_mm) * per_mm, (15.0 + 1.74 * (60.0 - y_mm)) * per_mm
        near = grey[round(y) - 2 : round(y) + 3, round(x) - 2 : round(x) + 3]
        return int(near.min())

    assert darkest(10.0, 30.0) < 80, "on the cut line"
    assert darkest(50.0, 50.0) < 80, "on the cut line"
    assert 100 < darkest(70.0, 30.0) < 200, "in the engraved area"
    assert darkest(40.0, 20.0) > 200, "on the tinted part"


def test_other_endings_are_refused(tmp_path: FilePath) -> None:
    with pytest.raises(KerfwrightError) as refused:
        write_picture(tmp_path / "tag.bmp", "<svg/>")
    assert refused.value.code == "order/picture-ending"
    with pytest.raises(KerfwrightError) as refused:
        write_picture(tmp_path / "nowhere" / "tag.svg", "<svg/>")
    assert refused.value.code == "order/cannot-write"


@given(st.lists(st.tuples(st.floats(5, 185), st.floats(5, 185)), min_size=1, max_size=40))
def test_signs_never_lie_on_each_other_nor_outside(anchors: list[tuple[float, float]]) -> None:
    radius = 2.3
    places = free_places(np.array(anchors), np.empty((0, 2)), radius, (190.0, 190.0))
    apart = np.hypot(*np.moveaxis(places[:, None] - places[None], 2, 0))
    assert (apart[~np.eye(len(places), dtype=bool)] >= 2.0 * radius).all()
    assert ((places >= radius) & (places <= 190.0 - radius)).all()


def test_thirty_findings_at_one_place_are_all_shown() -> None:
    places = free_places(np.full((30, 2), 95.0), np.empty((0, 2)), 2.3, (190.0, 190.0))
    apart = np.hypot(*np.moveaxis(places[:, None] - places[None], 2, 0))
    assert apart[~np.eye(30, dtype=bool)].min() >= 4.6
