"""Faults of a file's text that do not touch the drawing are mended; those that do are told.

What a sound file looks like: DXF Reference, "Group Codes in DXF Files", "General DXF File
Structure" and the entities' own pages. The faults are those that small programs make (common
practice, no source).
"""

from __future__ import annotations

import math
import re
from io import StringIO
from pathlib import Path

import pytest
from ezdxf.filemanagement import new

from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.drawing.model import Drawing
from kerfwright.errors import KerfwrightError

LINE = "0\nLINE\n8\nCut\n10\n0\n20\n0\n11\n5\n21\n0\n"
CIRCLE = "0\nCIRCLE\n8\nCut\n10\n0\n20\n0\n40\n5\n"
POLYLINE = (
    "0\nPOLYLINE\n8\nCut\n66\n1\n70\n1\n"
    "0\nVERTEX\n8\nCut\n10\n0\n20\n0\n0\nVERTEX\n8\nCut\n10\n9\n20\n0\n0\nVERTEX\n8\nCut\n10\n9\n20\n9\n"
)
LIGHT = (
    "0\nLWPOLYLINE\n8\nCut\n62\n1\n90\n3\n70\n1\n10\n0\n20\n0\n42\n1\n10\n10\n20\n0\n10\n9\n20\n9\n"
)
ELLIPSE = "0\nELLIPSE\n8\nCut\n10\n0\n20\n0\n11\n5\n21\n0\n40\n0.5\n41\n0\n42\n6.283185307179586\n"
SPLINE = (
    "0\nSPLINE\n8\nCut\n70\n8\n71\n2\n72\n6\n73\n3\n40\n0\n40\n0\n40\n0\n40\n1\n40\n1\n40\n1\n"
    "10\n0\n20\n0\n10\n1\n20\n3\n10\n4\n20\n0\n"
)


def drawing_of(folder: Path, content: str | bytes, unit_mm: float | None = None) -> Drawing:
    path = folder / "drawing.dxf"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_dxf(path, unit_mm=unit_mm)


def file_of(entities: str, version: str = "AC1009") -> str:
    header = f"0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\n{version}\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
    return f"{header}0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n"


def whole_file(release: str = "R2000") -> str:
    document = new(release, units=4)
    document.layers.add("Règle", color=1)
    model = document.modelspace()
    model.add_line((0, 0), (10, 0), dxfattribs={"layer": "Règle"})
    model.add_lwpolyline([(0, 0, 0.5), (5, 0, 0), (5, 5, 0)], format="xyb", close=True)
    model.add_hatch(color=1).paths.add_polyline_path([(0, 0), (9, 0), (9, 9)])
    stream = StringIO()
    document.write(stream)
    return stream.getvalue()


def without_section(data: bytes, name: bytes) -> bytes:
    return re.sub(rb"  0\nSECTION\n  2\n" + name + rb"\n.*?  0\nENDSEC\n", b"", data, flags=re.S)


def codes(drawing: Drawing) -> list[str]:
    return [finding.code.removeprefix("drawing/") for finding in drawing.findings]


@pytest.mark.parametrize("version", ["AC1006", "AC1009", "AC1014", "AC1015", "AC1032"])
def test_newer_kinds_without_subclass_markers_are_read_whatever_release_is_stated(
    tmp_path: Path, version: str
) -> None:
    drawing = drawing_of(tmp_path, file_of(LINE + LIGHT + ELLIPSE + SPLINE, version))
    assert [shape.name.split()[0] for shape in drawing.shapes] == [
        "line",
        "polyline",
        "ellipse",
        "spline",
    ]
    assert drawing.findings == ()
    half = drawing.shapes[1].paths[0].spans[0].curve
    assert half.length_mm == pytest.approx(5 * math.pi)  # type: ignore[union-attr]


def test_file_of_a_later_release_without_a_header(tmp_path: Path) -> None:
    text = without_section(whole_file().encode("cp1252"), b"HEADER")
    drawing = drawing_of(tmp_path, text, unit_mm=1.0)
    assert [shape.layer for shape in drawing.shapes] == ["Règle", "0", "0"]
    with pytest.raises(KerfwrightError) as refused:
        drawing_of(tmp_path, text)
    assert refused.value.code == "drawing/dxf-without-units"
    assert "no header" in refused.value.thing


def test_polyline_without_its_end(tmp_path: Path) -> None:
    drawing = drawing_of(tmp_path, file_of(POLYLINE + CIRCLE))
    polyline, _ = drawing.shapes
    assert len(polyline.paths[0].points) == 3
    assert codes(drawing) == ["dxf-mended-file"]


@pytest.mark.parametrize(("five", "length"), [("5,5", 5.5), ("0.5D+01", 5.0), ("+5", 5.0)])
def test_numbers_in_another_notation(tmp_path: Path, five: str, length: float) -> None:
    drawing = drawing_of(tmp_path, file_of(LINE.replace("11\n5", f"11\n{five}")))
    assert drawing.width_mm == pytest.approx(length)
    assert codes(drawing) == ([] if five == "+5" else ["dxf-mended-file"])


@pytest.mark.parametrize(
    "broken",
    [
        CIRCLE.replace("40\n5", "40\nabc"),
        LINE.replace("20\n0\n", ""),
        LINE.replace("11\n5\n21\n0\n", ""),
        CIRCLE.replace("40\n5\n", ""),
        CIRCLE.replace("CIRCLE\n", ""),
        CIRCLE + "stray\nwords\n",
    ],
)
def test_one_entity_beyond_mending_leaves_the_others(tmp_path: Path, broken: str) -> None:
    drawing = drawing_of(tmp_path, file_of(ELLIPSE + broken + LINE))
    # which of two neighbours a slipped line belongs to cannot be known
    assert drawing.shapes[-1].name.startswith("line")
    assert (
        {"dxf-damaged-entity"} <= set(codes(drawing)) <= {"dxf-damaged-entity", "dxf-mended-file"}
    )
    lost = sum(f.count for f in drawing.findings if f.code == "drawing/dxf-damaged-entity")
    assert len(drawing.shapes) + lost == (3 if "CIRCLE" in broken or "LINE" in broken else 2)


def test_points_whose_x_and_y_stand_apart(tmp_path: Path) -> None:
    apart = "0\nLINE\n8\nCut\n10\n1\n11\n4\n20\n2\n21\n6\n"
    (shape,) = drawing_of(tmp_path, file_of(apart)).shapes
    assert shape.paths[0].points.tolist() == [[1, 2], [4, 6]]


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data.replace(b"\n", b"\r\n"),
        lambda data: data.replace(b"\n", b"\r"),
        lambda data: re.sub(b"\n(.*)\n", rb"\n\1\r\n", data),
        lambda data: b"\xef\xbb\xbf" + data,
        lambda data: b"\n\n" + data,
        lambda data: data + b"\n\n\x1a",
        lambda data: data.decode("cp1252").encode("utf-16"),
        lambda data: re.sub(rb"  5\n[0-9A-F]+\n", b"", data),
        lambda data: without_section(data, b"TABLES"),
        lambda data: without_section(data, b"BLOCKS"),
        lambda data: without_section(data, b"OBJECTS"),
    ],
)
def test_other_line_ends_and_missing_parts_change_nothing(tmp_path: Path, change: object) -> None:
    data = whole_file().encode("cp1252")
    sound = drawing_of(tmp_path, data)
    drawing = drawing_of(tmp_path, change(data))  # type: ignore[operator]
    assert [shape.layer for shape in drawing.shapes] == ["Règle", "0", "0"]
    assert drawing.findings == ()
    for shape, expected in zip(drawing.shapes, sound.shapes, strict=True):
        assert shape.paths[0].points.tolist() == expected.paths[0].points.tolist()


# DXF Reference, "Group Codes in DXF Files": \U+ and four digits; HEADER section: $DWGCODEPAGE.
@pytest.mark.parametrize(
    ("page", "name", "layer"),
    [
        ("ANSI_1251", "Рез".encode("cp1251"), "Рез"),
        ("ANSI_1252", "Ätzen".encode("cp1252"), "Ätzen"),
        ("ANSI_1250", "řez".encode("cp1250"), "řez"),
        ("ANSI_1252", "Ätzen".encode(), "Ätzen"),
        ("ANSI_1252", b"\\U+0420\\U+0435\\U+0437", "Рез"),
    ],
)
def test_layer_names_in_the_files_code_page(
    tmp_path: Path, page: str, name: bytes, layer: str
) -> None:
    text = file_of(LINE).replace("9\n$INS", f"9\n$DWGCODEPAGE\n3\n{page}\n9\n$INS").encode()
    drawing = drawing_of(tmp_path, text.replace(b"\nCut\n", b"\n" + name + b"\n"))
    assert [shape.layer for shape in drawing.shapes] == [layer]


def test_file_that_only_lacks_its_end_mark_has_lost_nothing(tmp_path: Path) -> None:
    drawing = drawing_of(tmp_path, file_of(LINE + CIRCLE).removesuffix("0\nEOF\n"))
    assert len(drawing.shapes) == 2
    assert "end mark" in drawing.findings[0].what


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8, 0.95])
def test_binary_file_that_breaks_off_is_told(tmp_path: Path, share: float) -> None:
    document = new("R2010", units=4)
    for n in range(40):
        document.modelspace().add_line((0, n), (9, n))
    document.saveas(tmp_path / "whole.dxf", fmt="bin")
    data = (tmp_path / "whole.dxf").read_bytes()
    try:
        drawing = drawing_of(tmp_path, data[: int(len(data) * share)])
    except KerfwrightError as error:
        assert error.code in {"drawing/dxf-damaged", "drawing/empty"}
    else:
        assert "dxf-mended-file" in codes(drawing)
