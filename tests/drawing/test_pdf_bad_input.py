"""Whatever bytes stand in a file called .pdf or .png: a drawing, or one clear error."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from kerfwright.drawing.model import Drawing
from kerfwright.drawing.read import Choice, read_drawing
from kerfwright.errors import KerfwrightError
from pdf_pages import HELVETICA, document, stream

WHOLE = document(
    "q 40 40 100 100 re W* n [9 3] 0 d 4 w 0 0 m 200 20 150 60 90 180 c b* Q /Outer Do "
    "/OC /Cut BDC 1 0 0 rg 20 20 10 10 re f EMC BT /F 40 Tf 50 200 Td (Boje 3) Tj ET "
    "q 90 0 0 90 200 100 cm /Boat Do Q /Flow sh",
    resources=(
        f"/Font <</F {HELVETICA}>> /XObject <</Outer 10 0 R /Boat 11 0 R>> "
        "/Properties <</Cut 12 0 R>> /Shading <</Flow <</ShadingType 2 /ColorSpace /DeviceRGB "
        "/Coords [0 0 9 9] /Function <</FunctionType 2 /Domain [0 1] /C0 [1 0 0] /C1 [0 0 1] "
        "/N 1>>>>>>"
    ),
    page="/MediaBox [0 0 400 300] /CropBox [5 5 390 290] /Rotate 90 /UserUnit 2",
    objects=[
        stream(
            "/Type /XObject /Subtype /Form /BBox [0 0 90 90] /Matrix [1 1 -1 1 50 5] "
            "/Resources <</XObject <</Self 10 0 R>>>>",
            "10 10 30 30 re f /Self Do",
        ),
        stream(
            "/Type /XObject /Subtype /Image /Width 4 /Height 4 /ColorSpace /DeviceGray "
            "/BitsPerComponent 8",
            bytes(range(16)),
        ),
        "<</Type /OCG /Name (Cut)>>",
    ],
    catalog="/OCProperties <</OCGs [12 0 R] /D <</ON [12 0 R]>>>>",
)


def picture_bytes(kind: str) -> bytes:
    file = io.BytesIO()
    Image.linear_gradient("L").resize((24, 16)).save(file, kind, dpi=(254, 254))
    return file.getvalue()


@st.composite
def spoilt(draw: st.DrawFn, whole: bytes) -> bytes:
    data = bytearray(whole)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(data) - 1))
        length = draw(st.integers(1, 12))
        data[at : at + length] = draw(st.binary(max_size=12) | st.sampled_from([b"-9e9", b"0 R"]))
    return bytes(data)


def read_or_refuse(path: Path, data: bytes, choice: Choice | None = None) -> Drawing | None:
    path.write_bytes(data)
    try:
        return read_drawing(path, choice=choice)
    except KerfwrightError as error:
        assert error.file == str(path)
        assert error.thing
        assert error.remedy
        return None


def test_the_whole_file_can_be_read(tmp_path: Path) -> None:
    drawing = read_or_refuse(tmp_path / "a.pdf", WHOLE)
    assert drawing is not None
    assert {"path 1", "path 1 (line)", "text 1"} < {shape.name for shape in drawing.shapes}
    assert "Cut" in {shape.layer for shape in drawing.shapes}
    assert len(drawing.pictures) == 1


@given(data=spoilt(WHOLE))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_spoilt_pdf(tmp_path: Path, data: bytes) -> None:
    read_or_refuse(tmp_path / "a.pdf", data)


@given(rest=st.binary(max_size=200))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_after_a_pdf_header(tmp_path: Path, rest: bytes) -> None:
    assert read_or_refuse(tmp_path / "a.pdf", b"%PDF-1.7\n" + rest) is None


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "BMP", "GIF", "TIFF", "WEBP"])
@given(draw=st.data())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
def test_a_spoilt_picture(tmp_path: Path, kind: str, draw: st.DataObject) -> None:
    data = draw.draw(spoilt(picture_bytes(kind)))
    read_or_refuse(tmp_path / f"a.{kind.lower()}", data, Choice(width_mm=50.0, pictures="trace"))
