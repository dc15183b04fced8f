"""A PDF's page is read in its true size, as a viewer shows it, and one page is one drawing.

Sizes and turns: ISO 32000-1, 7.7.3.3 (table 30) and 8.3.2.3.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from kerfwright.drawing.model import Drawing
from kerfwright.drawing.pdf.read import read_pdf
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from pdf_pages import HELVETICA, document

POINT = 25.4 / 72
"""One point in mm (ISO 32000-1, 8.3.2.3)."""

CORNER = "10 20 30 15 re f"
"""A rectangle near the lower left corner of the page."""


def read(tmp_path: Path, data: bytes, page: int | None = None) -> Drawing:
    path = tmp_path / "sign.pdf"
    path.write_bytes(data)
    return read_pdf(path, page=page)


def refusal(tmp_path: Path, data: bytes, page: int | None = None) -> KerfwrightError:
    with pytest.raises(KerfwrightError) as refused:
        read(tmp_path, data, page)
    assert refused.value.file.endswith("sign.pdf")
    return refused.value


def findings(drawing: Drawing) -> dict[str, Finding]:
    return {finding.code.partition("/")[2]: finding for finding in drawing.findings}


def bounds_pt(drawing: Drawing) -> list[float]:
    (shape,) = drawing.shapes
    return [edge / POINT for edge in shape.paths[0].bounds_mm]


def test_a_point_is_a_72nd_of_an_inch(tmp_path: Path) -> None:
    drawing = read(tmp_path, document(CORNER, page="/MediaBox [0 0 720 360]"))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((254.0, 127.0))
    assert bounds_pt(drawing) == pytest.approx([10, 20, 40, 35], abs=1e-4)


def test_the_crop_box_is_the_page(tmp_path: Path) -> None:
    page = "/MediaBox [0 0 400 300] /CropBox [5 8 105 88]"
    drawing = read(tmp_path, document(CORNER, page=page))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((100 * POINT, 80 * POINT))
    assert bounds_pt(drawing) == pytest.approx([5, 12, 35, 27], abs=1e-4)


@pytest.mark.parametrize(
    ("turn", "size", "place"),
    [
        (0, (400, 300), [10, 20, 40, 35]),
        (90, (300, 400), [20, 360, 35, 390]),
        (180, (400, 300), [360, 265, 390, 280]),
        (270, (300, 400), [265, 10, 280, 40]),
        (-90, (300, 400), [265, 10, 280, 40]),
    ],
)
def test_the_page_is_turned_clockwise(
    tmp_path: Path, turn: int, size: tuple[int, int], place: list[int]
) -> None:
    drawing = read(tmp_path, document(CORNER, page=f"/MediaBox [0 0 400 300] /Rotate {turn}"))
    assert np.array([drawing.width_mm, drawing.height_mm]) / POINT == pytest.approx(size)
    assert bounds_pt(drawing) == pytest.approx(place, abs=1e-4)


def test_the_user_unit_stretches_everything(tmp_path: Path) -> None:
    page = "/MediaBox [0 0 400 300] /UserUnit 10"
    drawing = read(tmp_path, document("2 w 10 20 30 15 re S", page=page))
    assert drawing.width_mm == pytest.approx(4000 * POINT)
    assert bounds_pt(drawing) == pytest.approx([100, 200, 400, 350], abs=1e-3)
    assert drawing.shapes[0].paint.stroke_width_mm == pytest.approx(20 * POINT)


def test_words_in_a_content_stream_are_no_user_unit(tmp_path: Path) -> None:
    text = "BT /F 9 Tf 3 Tr 10 10 Td (/UserUnit 7) Tj ET " + CORNER
    data = document(text, resources=f"/Font <</F {HELVETICA}>>")
    assert read(tmp_path, data).width_mm == pytest.approx(400 * POINT)


def test_several_pages_with_something_on_them_ask_for_one(tmp_path: Path) -> None:
    data = document(CORNER, "", "50 50 20 20 re f")
    error = refusal(tmp_path, data)
    assert error.code == "drawing/pdf-several-pages"
    assert "2 of the document's 3 pages" in error.thing
    assert "1, 3" in error.thing
    assert "page = 1" in error.remedy
    third = read(tmp_path, data, page=3)
    assert bounds_pt(third) == pytest.approx([50, 50, 70, 70], abs=1e-4)
    assert findings(third)["pdf-other-pages"].count == 2


def test_the_only_page_that_holds_something_is_read(tmp_path: Path) -> None:
    drawing = read(tmp_path, document("", "", CORNER, ""))
    assert bounds_pt(drawing) == pytest.approx([10, 20, 40, 35], abs=1e-4)
    assert findings(drawing)["pdf-other-pages"].severity is Severity.NOTE


@pytest.mark.parametrize("page", [2, 100])
def test_a_page_that_is_not_there(tmp_path: Path, page: int) -> None:
    error = refusal(tmp_path, document(CORNER), page)
    assert error.code == "drawing/pdf-no-such-page"
    assert f"no page {page}" in error.thing


def test_a_locked_file(tmp_path: Path) -> None:
    blank = "00" * 32
    lock = (
        f"/Encrypt <</Filter /Standard /V 1 /R 2 /O <{blank}> /U <{blank}> /P -4>> /ID [<01> <01>]"
    )
    error = refusal(tmp_path, document(CORNER, trailer=lock))
    assert error.code == "drawing/pdf-encrypted"


@pytest.mark.parametrize("data", [b"%PDF-1.7\n", b"%PDF-1.4 nothing more", b"\0\1\2 no PDF"])
def test_a_broken_file(tmp_path: Path, data: bytes) -> None:
    assert refusal(tmp_path, data).code == "drawing/pdf-damaged"


def test_a_file_cut_short_is_mended_or_refused(tmp_path: Path) -> None:
    whole = document(CORNER)
    for length in range(20, len(whole), 40):
        try:
            drawing = read(tmp_path, whole[:length])
        except KerfwrightError as error:
            assert error.code in {"drawing/pdf-damaged", "drawing/empty"}
        else:
            assert bounds_pt(drawing) == pytest.approx([10, 20, 40, 35], abs=1e-4)


def test_an_empty_page(tmp_path: Path) -> None:
    assert refusal(tmp_path, document("")).code == "drawing/empty"
    assert refusal(tmp_path, document("10 10 20 20 re n")).code == "drawing/empty"


def test_what_lies_outside_the_page(tmp_path: Path) -> None:
    drawing = read(tmp_path, document(f"500 20 30 30 re f {CORNER} 390 100 30 30 re f"))
    assert len(drawing.shapes) == 2
    assert findings(drawing)["pdf-off-page"].count == 1
    assert findings(drawing)["outside-page"].shape == drawing.shapes[1].name


def test_notes_over_the_page_are_told_and_links_are_not(tmp_path: Path) -> None:
    notes = (
        "/Annots [<</Type /Annot /Subtype /Link /Rect [0 0 9 9]>> "
        "<</Type /Annot /Subtype /Square /Rect [0 0 9 9]>> "
        "<</Type /Annot /Subtype /Stamp /F 2 /Rect [0 0 9 9]>>]"
    )
    data = document(CORNER, page=f"/MediaBox [0 0 400 300] {notes}")
    assert findings(read(tmp_path, data))["pdf-annotations"].count == 1


def test_a_page_beyond_any_sheet(tmp_path: Path) -> None:
    data = document(CORNER, page="/MediaBox [0 0 14400 14400] /UserUnit 75000")
    assert refusal(tmp_path, data).code == "drawing/coordinates"
