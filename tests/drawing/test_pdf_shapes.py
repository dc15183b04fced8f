"""What becomes of a PDF's paths, layers, clips, patterns and text (ISO 32000-1, chapters 8, 9)."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from kerfwright.drawing.model import Drawing, Paint
from kerfwright.drawing.pdf.read import read_pdf
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.curves import Bezier
from kerfwright.geometry.regions import filled
from pdf_pages import HELVETICA, document, stream

POINT = 25.4 / 72
SQUARE = "300 200 50 50 re f "


def read(tmp_path: Path, content: str, **parts: object) -> Drawing:
    path = tmp_path / "sign.pdf"
    path.write_bytes(document(content, **parts))  # type: ignore[arg-type]
    return read_pdf(path)


def findings(drawing: Drawing) -> dict[str, Finding]:
    return {finding.code.partition("/")[2]: finding for finding in drawing.findings}


def test_curves_stay_exact_through_all_transforms(tmp_path: Path) -> None:
    drawing = read(tmp_path, "2 0 0 3 10 20 cm 0 0 m 10 20 30 20 40 0 c 50 10 l S")
    (path,) = drawing.shapes[0].paths
    (span,) = path.spans
    assert isinstance(span.curve, Bezier)
    control = np.array([[10, 20], [30, 80], [70, 80], [90, 20]]) * POINT
    assert np.allclose(span.curve.control, control, atol=1e-4)
    assert np.allclose(path.points[span.first], control[0], atol=1e-4)
    assert np.allclose(path.points[span.last], control[3], atol=1e-4)
    assert not path.closed


def test_colours_of_every_device_space(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        "1 0 0 rg 10 10 20 20 re f 0 0 1 RG 4 w 50 10 20 20 re S 0.2 g 90 10 20 20 re f "
        "0 1 0 RG 0 g 130 10 20 20 re B* 0 0 0 1 k 170 10 20 20 re f",
    )
    width_mm = pytest.approx(4 * POINT)
    assert [shape.paint for shape in drawing.shapes[:4]] == [
        Paint("#ff0000"),
        Paint(None, "#0000ff", width_mm),
        Paint("#333333"),
        Paint("#000000", "#00ff00", width_mm, "evenodd"),
    ]
    black = drawing.shapes[4].paint.fill or ""
    assert max(int(black[i : i + 2], 16) for i in (1, 3, 5)) < 64


def test_a_filled_subpath_is_closed_and_a_stroked_one_only_if_it_says_so(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        "10 10 m 50 10 l 50 50 l f 110 10 m 150 10 l 150 50 l S 210 10 m 250 10 l 250 50 l s",
    )
    assert [shape.paths[0].closed for shape in drawing.shapes] == [True, False, True]
    assert all(len(shape.paths[0].points) == 3 for shape in drawing.shapes)


def test_dashes_are_measured_before_the_transform(tmp_path: Path) -> None:
    drawing = read(tmp_path, "2 0 0 1 0 0 cm [10 5] 0 d 10 20 m 100 20 l S 10 50 m 10 140 l S")
    along, across = ([p.length_mm / POINT for p in s.paths] for s in drawing.shapes)
    assert along == pytest.approx([20.0] * 6, abs=1e-3)
    assert across == pytest.approx([10.0] * 6, abs=1e-3)


def test_dashes_keep_the_curves_in_them(tmp_path: Path) -> None:
    drawing = read(tmp_path, "[60 10] 20 d 10 20 m 50 200 150 200 190 20 c S")
    paths = drawing.shapes[0].paths
    assert len(paths) > 3
    assert all(path.spans for path in paths)
    assert paths[0].length_mm == pytest.approx(40 * POINT, abs=0.01)
    assert paths[1].length_mm == pytest.approx(60 * POINT, abs=0.01)


def test_round_dots_of_no_length_are_told(tmp_path: Path) -> None:
    drawing = read(tmp_path, "1 J [0 5] 0 d 10 20 m 100 20 l S")
    assert findings(drawing)["pdf-dashes"].severity is Severity.WARN
    assert len(drawing.shapes[0].paths) == 1


def test_layers_are_named_by_their_content_groups(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f"{SQUARE} /OC /Cut BDC {SQUARE} /OC /Aid BDC {SQUARE} EMC EMC /OC /Off BDC {SQUARE} "
        f"{SQUARE} EMC",
        resources="/Properties <</Cut 10 0 R /Aid 11 0 R /Off 12 0 R>>",
        objects=[
            "<</Type /OCG /Name (Cut lines)>>",
            "<</Type /OCG /Name <FEFF00C4>>>",
            "<</Type /OCG /Name (Notes)>>",
        ],
        catalog="/OCProperties <</OCGs [10 0 R 11 0 R 12 0 R] /D <</OFF [12 0 R]>>>>",
    )
    assert [shape.layer for shape in drawing.shapes] == ["", "Cut lines", "Cut lines/Ä"]
    hidden = findings(drawing)["hidden"]
    assert hidden.count == 2
    assert "Notes" in hidden.what


def test_a_membership_in_hidden_layers_hides(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f"{SQUARE} /OC /In BDC {SQUARE} EMC",
        resources="/Properties <</In 11 0 R>>",
        objects=["<</Type /OCG /Name (A)>>", "<</Type /OCMD /OCGs [10 0 R]>>"],
        catalog="/OCProperties <</OCGs [10 0 R] /D <</OFF [10 0 R]>>>>",
    )
    assert len(drawing.shapes) == 1
    assert findings(drawing)["hidden"].count == 1


SHADING = (
    "<</ShadingType 2 /ColorSpace /DeviceRGB /Coords [300 0 350 0] /Function "
    "<</FunctionType 2 /Domain [0 1] /C0 [1 0 0] /C1 [0 0 1] /N 1>> /Extend [true true]>>"
)
TILES = "/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 5 5] /XStep 5 /YStep 5"


def test_patterns_and_gradients_are_not_taken_for_colours(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f"/Pattern cs /Tiles scn {SQUARE} /Flow scn {SQUARE} 1 1 1 rg {SQUARE} "
        "/Pattern CS /Flow SCN 4 w 300 100 50 50 re B",
        resources="/Pattern <</Tiles 10 0 R /Flow 11 0 R>>",
        objects=[
            stream(f"{TILES} /Resources <<>>", "1 0 0 rg 0 0 3 3 re f"),
            f"<</PatternType 2 /Shading {SHADING}>>",
        ],
    )
    assert [shape.paint.fill for shape in drawing.shapes] == [
        "pattern",
        "pattern",
        "#ffffff",
        "#ffffff",
    ]
    assert drawing.shapes[3].paint.stroke == "pattern"


def test_a_shading_fills_its_clip(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        "q 300 200 50 40 re W n /Flow sh Q",
        resources=f"/Shading <</Flow {SHADING}>>",
    )
    (shape,) = drawing.shapes
    assert shape.paint.fill == "pattern"
    assert filled(shape.paths, "evenodd").area == pytest.approx(2000 * POINT**2, rel=1e-4)


def test_clips_cut_areas_and_lines(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        "q 100 100 50 50 re W n 90 90 30 30 re f 4 w 110 0 m 110 300 l S 10 10 20 20 re f "
        "120 120 10 10 re f Q",
    )
    area, line, whole = drawing.shapes
    assert filled(area.paths, "nonzero").area == pytest.approx(400 * POINT**2, rel=1e-4)
    assert line.length_mm == pytest.approx(50 * POINT, abs=0.01)
    assert whole.paths[0].bounds_mm == pytest.approx(np.array([120, 120, 130, 130]) * POINT)
    assert findings(drawing)["clipped"].count == 2
    assert findings(drawing)["clipped-away"].count == 1


def test_line_and_area_of_one_shape_part_at_a_clip(tmp_path: Path) -> None:
    drawing = read(tmp_path, "100 100 50 50 re W n 1 0 0 rg 4 w 80 110 50 20 re B")
    area, line = drawing.shapes
    assert (area.paint.fill, area.paint.stroke) == ("#ff0000", None)
    assert (line.paint.fill, line.paint.stroke) == (None, "#000000")
    assert line.length_mm == pytest.approx(80 * POINT, abs=0.01)
    assert line.name == f"{area.name} (line)"


def test_zero_opacity_is_hidden_and_a_mask_is_told(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f"{SQUARE} /Clear gs {SQUARE} /Soft gs {SQUARE} /Blend gs {SQUARE}",
        resources=(
            "/ExtGState <</Clear <</ca 0>> /Soft <</ca 1 /SMask <</S /Alpha /G 10 0 R>>>> "
            "/Blend <</SMask /None /BM /Multiply>>>>"
        ),
        objects=[
            stream(
                "/Type /XObject /Subtype /Form /BBox [0 0 400 300] /Group <</S /Transparency>>",
                "0 0 400 300 re f",
            )
        ],
    )
    assert len(drawing.shapes) == 3
    assert findings(drawing)["hidden"].count == 1
    assert findings(drawing)["pdf-mask"].count == 2


def test_letters_are_read_as_outlines_and_the_font_is_told(tmp_path: Path) -> None:
    drawing = read(
        tmp_path, "BT /F 100 Tf 50 100 Td (HO) Tj ET", resources=f"/Font <</F {HELVETICA}>>"
    )
    (text,) = drawing.shapes
    assert text.name == "text 1"
    assert [path.closed for path in text.paths] == [True] * 3
    left, bottom, _, top = text.paths[0].bounds_mm
    # cap height and left bearing of Helvetica's H: the font's metrics (Adobe Core 14 AFM files)
    assert (bottom, top) == pytest.approx((100 * POINT, 171.8 * POINT), abs=0.8)
    assert left == pytest.approx((50 + 7.7) * POINT, abs=0.4)
    assert "Helvetica" in findings(drawing)["pdf-font"].what


BOAT_FONT = (
    "<</Type /Font /Subtype /Type3 /FontBBox [0 0 10 10] /FontMatrix [.1 0 0 .1 0 0] "
    "/CharProcs <</boat 10 0 R>> /Encoding <</Type /Encoding /Differences [65 /boat]>> "
    "/FirstChar 65 /LastChar 65 /Widths [10] /Resources <<>>>>"
)


def test_letters_without_outlines_are_traced_from_the_page(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f"{SQUARE} 1 0 0 rg BT /F 50 Tf 50 100 Td (AA) Tj ET",
        resources=f"/Font <</F {BOAT_FONT}>>",
        objects=[stream("", "10 0 0 0 10 10 d1 0 0 m 10 0 l 5 8 l f")],
    )
    told = findings(drawing)["pdf-text-traced"]
    assert (told.severity, told.shape) == (Severity.WARN, "text 1")
    text = drawing.shapes[1]
    assert text.paint.fill == "#ff0000"
    area = filled(text.paths, "nonzero")
    # two triangles of 50 by 40 points
    assert area.area == pytest.approx(2000 * POINT**2, rel=2e-3)
    assert area.bounds == pytest.approx(np.array([50, 100, 150, 140]) * POINT, abs=0.02)


def test_letters_that_show_nothing_at_all_are_hidden(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f"{SQUARE} BT /F 50 Tf 50 100 Td (AA) Tj ET",
        resources=f"/Font <</F {BOAT_FONT}>>",
        objects=[stream("", "10 0 0 0 10 10 d1")],
    )
    assert findings(drawing)["hidden"].shape == "text 1"
    assert len(drawing.shapes) == 1


def test_outlined_text_keeps_its_line(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        "1 Tr 0 0 1 RG 2 w BT /F 80 Tf 50 100 Td (HO) Tj ET",
        resources=f"/Font <</F {HELVETICA}>>",
    )
    (text,) = drawing.shapes
    assert (text.paint.fill, text.paint.stroke) == (None, "#0000ff")
    assert len(text.paths) == 3
    assert any(path.spans for path in text.paths)


def test_unseen_text_of_a_scan_is_hidden(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f"{SQUARE} BT 3 Tr /F 20 Tf 50 100 Td (Boje) Tj ET",
        resources=f"/Font <</F {HELVETICA}>>",
    )
    assert len(drawing.shapes) == 1
    assert '"Boje"' in findings(drawing)["hidden"].what


def test_text_as_a_stencil_stops(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        f"{SQUARE} BT 7 Tr /F 80 Tf 50 100 Td (Boje) Tj ET 0 0 400 300 re f",
        resources=f"/Font <</F {HELVETICA}>>",
    )
    assert findings(drawing)["pdf-text-clip"].severity is Severity.STOP


def test_images_become_pictures_with_their_masks_over_white(tmp_path: Path) -> None:
    image = "/Type /XObject /Subtype /Image /Width 4 /Height 2 /ColorSpace /DeviceGray"
    drawing = read(
        tmp_path,
        "q 100 20 -10 50 200 100 cm /Boat Do Q",
        resources="/XObject <</Boat 10 0 R>>",
        objects=[
            stream(
                f"{image} /BitsPerComponent 8 /SMask 11 0 R",
                bytes([0, 50, 100, 150, 200, 250, 0, 0]),
            ),
            stream(f"{image} /BitsPerComponent 8", bytes([255] * 7 + [0])),
        ],
    )
    (picture,) = drawing.pictures
    assert picture.grey.tolist() == [[0, 50, 100, 150], [200, 250, 0, 255]]
    corners = np.array([[190, 150], [290, 170], [300, 120], [200, 100]]) * POINT
    assert np.allclose(picture.corners_mm, corners, atol=1e-3)
    assert not drawing.shapes


def test_names_are_unique(tmp_path: Path) -> None:
    drawing = read(tmp_path, "4 w [9 3] 0 d " + "100 100 50 50 re B " * 3)
    names = [shape.name for shape in drawing.shapes]
    assert len(names) == len(set(names)) == 6


def test_coordinates_beyond_any_sheet(tmp_path: Path) -> None:
    with pytest.raises(KerfwrightError) as refused:
        read(tmp_path, "1 w 0 0 m 30000000 0 l S")
    assert refused.value.code == "drawing/coordinates"


def test_the_thinnest_line_has_a_width_of_nothing(tmp_path: Path) -> None:
    width_mm = read(tmp_path, "0 w 10 10 m 50 50 l S").shapes[0].paint.stroke_width_mm
    assert width_mm == 0.0
    assert not math.copysign(1.0, width_mm or 0.0) < 0.0


def test_a_straight_line_that_is_also_filled_is_only_a_line(tmp_path: Path) -> None:
    """ISO 32000-1, 8.5.3.3: what is filled is the inside, and a straight line has none."""
    drawing = read(
        tmp_path, "10 10 m 200 10 l B 10 50 m 60 100 l 200 240 l b 10 9 m 90 9 l 90 99 l B"
    )
    assert [shape.paint.fill for shape in drawing.shapes] == [None, None, "#000000"]
    assert {shape.paint.stroke for shape in drawing.shapes} == {"#000000"}


def test_a_masked_group_shows_in_the_comparison_with_the_whole_page(tmp_path: Path) -> None:
    group = "/Type /XObject /Subtype /Form /BBox [0 0 400 300] /Group <</S /Transparency>>"
    drawing = read(
        tmp_path,
        f"{SQUARE} q /Soft gs /Outer Do Q",
        resources=(
            "/ExtGState <</Soft <</SMask <</S /Alpha /G 10 0 R>>>>>> /XObject <</Outer 11 0 R>>"
        ),
        objects=[stream(group, "0 0 60 300 re f"), stream(group, "20 20 100 50 re f")],
    )
    assert len(drawing.shapes) == 2
    unseen = findings(drawing)["pdf-unseen"]
    assert (unseen.severity, unseen.count) == (Severity.WARN, 1)
    assert (unseen.x_mm or 0.0, unseen.y_mm) == pytest.approx((90 * POINT, 45 * POINT), abs=1.0)


def test_what_is_read_right_agrees_with_the_whole_page(tmp_path: Path) -> None:
    drawing = read(
        tmp_path,
        "q 40 40 100 100 re W n 10 w 0 0 m 200 20 l 90 180 l s Q 2 J 20 w 200 50 m 300 60 l S "
        "1 j 200 150 m 300 150 l 220 160 l S 0 w 10 200 m 390 290 l S 1 1 1 rg 20 210 40 40 re f "
        "[7 9] 0 d 1 J 3 w 100 250 m 300 250 l S",
    )
    assert not {"pdf-unread", "pdf-unseen"} & set(findings(drawing))
