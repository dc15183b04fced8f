"""A drawing is read by its ending, and its content has to be what the ending says."""

from __future__ import annotations

import gzip
import subprocess
import sys
from pathlib import Path

import pytest
from ezdxf.filemanagement import new

from kerfwright.drawing.read import read_drawing
from kerfwright.errors import KerfwrightError

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">'
    '<path d="M0 0H40" stroke="red"/></svg>'
)


def write_dxf(path: Path, insunits: int = 4) -> None:
    document = new("R2010")
    document.header["$INSUNITS"] = insunits
    document.modelspace().add_line((0, 0), (3, 4))
    document.saveas(path)


@pytest.mark.parametrize("name", ["a.svg", "a.SVG", "b.dxf", "b.DXF", "c.svgz"])
def test_ending_chooses_the_reader_in_upper_and_lower_case(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    if name.startswith("a"):
        path.write_text(SVG)
    elif name.startswith("b"):
        write_dxf(path)
    else:
        path.write_bytes(gzip.compress(SVG.encode()))
    drawing = read_drawing(path)
    assert drawing.name == name
    assert drawing.shapes[0].length_mm == pytest.approx(5 if name.startswith("b") else 40)


def test_unit_and_chord_are_handed_on(tmp_path: Path) -> None:
    write_dxf(tmp_path / "a.dxf", insunits=0)
    assert read_drawing(tmp_path / "a.dxf", unit_mm=25.4).shapes[0].length_mm == pytest.approx(127)
    with pytest.raises(KerfwrightError) as refused:
        read_drawing(tmp_path / "a.dxf")
    assert refused.value.code == "drawing/dxf-without-units"
    document = new("R2010", units=4)
    document.modelspace().add_circle((0, 0), 50)
    document.saveas(tmp_path / "circle.dxf")
    fine, coarse = (
        len(read_drawing(tmp_path / "circle.dxf", chord).shapes[0].paths[0].points)
        for chord in (0.01, 1.0)
    )
    assert fine > 8 * coarse


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("a.dxf", SVG.encode(), 'ending ".svg"'),
        ("a.svg", b"0\nSECTION\n2\nENTITIES\n0\nENDSEC\n0\nEOF\n", 'ending ".dxf"'),
        ("a.svg", b"%PDF-1.7\n%", 'ending ".pdf"'),
        ("a.svg", b"leading bytes\n%PDF-1.7\n%", 'ending ".pdf"'),
        ("a.dxf", b"AC1032\0\0\0\0", "Save it as DXF"),
        ("a.dxf", b"\x89PNG\r\n\x1a\n\0", '".png"'),
        ("a.pdf", b"RIFF\x10\0\0\0WEBPVP8 ", '".png"'),
        ("a.png", SVG.encode(), 'ending ".svg"'),
        ("a.dxf", b"PK\x03\x04\0\0", "Unpack"),
    ],
)
def test_content_that_is_not_what_the_ending_says(
    tmp_path: Path, name: str, content: bytes, says: str
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(KerfwrightError) as refused:
        read_drawing(path)
    assert refused.value.code == "drawing/not-what-it-says"
    assert refused.value.file == str(path)
    assert says in refused.value.remedy


@pytest.mark.parametrize("name", ["a.eps", "drawing", "a.svg.bak"])
def test_unknown_ending_lists_what_can_be_read(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text(SVG)
    with pytest.raises(KerfwrightError) as refused:
        read_drawing(tmp_path / name)
    assert refused.value.code == "drawing/unknown-ending"
    for ending in (".svg", ".svgz", ".dxf", ".pdf", ".png", ".jpg", ".tif", ".webp"):
        assert ending in refused.value.remedy


def test_missing_file_names_a_near_one(tmp_path: Path) -> None:
    (tmp_path / "sign.svg").write_text(SVG)
    with pytest.raises(KerfwrightError) as refused:
        read_drawing(tmp_path / "sing.svg")
    assert refused.value.code == "drawing/file-missing"
    assert '"sign.svg"' in refused.value.remedy


def test_the_readers_are_loaded_only_when_they_are_needed() -> None:
    script = (
        "import sys, kerfwright.drawing.read as r; "
        "print([m for m in ('ezdxf', 'lxml', 'PIL', 'pypdfium2', 'contourpy') if m in sys.modules])"
    )
    seen = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert seen.stdout.strip() == "[]"
