"""A DXF that is no use gives one clear error; a damaged one is read as far as it goes."""

from __future__ import annotations

import io
import math
import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.drawing.dxf import walk as dxf_walk
from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.errors import KerfwrightError

HEADER = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
END = "0\nENDSEC\n0\nEOF\n"


def entities(text: str) -> str:
    return f"{HEADER}0\nSECTION\n2\nENTITIES\n{text}{END}"


def line(x: object, y: object = 0, handle: str = "A") -> str:
    return f"0\nLINE\n5\n{handle}\n8\n0\n10\n0\n20\n0\n11\n{x}\n21\n{y}\n"


def refused(path: Path) -> KerfwrightError:
    with pytest.raises(KerfwrightError) as caught:
        read_dxf(path)
    error = caught.value
    assert error.file == str(path)
    assert error.thing
    assert error.remedy
    return error


@pytest.mark.parametrize(
    ("slug", "content"),
    [
        ("empty-file", b" \r\n"),
        ("dxf-damaged", b"Dear workshop,\nplease cut this.\n"),
        ("dxf-not-a-dxf", b'<svg xmlns="http://www.w3.org/2000/svg"/>'),
        ("dxf-not-a-dxf", b"%PDF-1.7\n"),
        ("dxf-not-a-dxf", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"),
        ("dxf-not-a-dxf", b"AC1032\0\0\0\0\0"),
        ("dxf-not-a-dxf", bytes(range(256))),
        ("empty", entities("").encode()),
    ],
)
def test_not_a_drawing(tmp_path: Path, slug: str, content: bytes) -> None:
    path = tmp_path / "drawing.dxf"
    path.write_bytes(content)
    assert refused(path).code == f"drawing/{slug}"


def test_missing_file_names_a_near_one(tmp_path: Path) -> None:
    (tmp_path / "Lantern.dxf").write_text("")
    error = refused(tmp_path / "lanten.dxf")
    assert error.code == "drawing/file-missing"
    assert '"Lantern.dxf"' in error.remedy
    assert refused(tmp_path / "nowhere" / "lantern.dxf").code == "drawing/file-missing"


def test_folder(tmp_path: Path) -> None:
    assert refused(tmp_path).code == "drawing/not-a-file"


@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e6", "1e300"])
def test_coordinate_beyond_any_sheet(tmp_path: Path, value: str) -> None:
    path = tmp_path / "far.dxf"
    path.write_text(entities(line(5) + line(value, handle="B")))
    error = refused(path)
    assert error.code == "drawing/coordinates"
    assert "line B" in error.thing


def far_circle(model: Modelspace) -> None:
    model.add_circle((0, 0), 1e7)


def far_bulge(model: Modelspace) -> None:
    model.add_lwpolyline([(0, 0, 1e5), (100, 0, 0)], format="xyb")


def far_ellipse(model: Modelspace) -> None:
    model.add_ellipse((0, 0), (1e8, 0), 0.5)


def far_block(model: Modelspace) -> None:
    assert model.doc is not None
    model.doc.blocks.new("hook").add_line((0, 0), (1, 0))
    model.add_blockref("hook", (0, 0), dxfattribs={"xscale": 1e9, "yscale": 1})


def nan_radius(model: Modelspace) -> None:
    model.add_circle((0, 0), math.nan)


@pytest.mark.parametrize("draw", [far_circle, far_bulge, far_ellipse, far_block, nan_radius])
def test_curve_beyond_any_sheet(tmp_path: Path, draw: Callable[[Modelspace], None]) -> None:
    document = new("R2010")
    document.units = 4
    draw(document.modelspace())
    document.saveas(tmp_path / "far.dxf")
    assert refused(tmp_path / "far.dxf").code == "drawing/coordinates"


def test_blocks_that_multiply_without_end_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dxf_walk, "COPIES_LIMIT", 3_000)
    document = new("R2010")
    document.units = 4
    document.blocks.new("b0").add_line((0, 0), (1, 0))
    for n in range(8):
        block = document.blocks.new(f"b{n + 1}")
        for _ in range(10):
            block.add_blockref(f"b{n}", (0, 0))
    document.modelspace().add_blockref(
        "b8", (0, 0), dxfattribs={"row_count": 32000, "row_spacing": 1}
    )
    document.saveas(tmp_path / "bomb.dxf")
    assert refused(tmp_path / "bomb.dxf").code == "drawing/too-many-copies"


def test_file_that_breaks_off_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    path = tmp_path / "broken.dxf"
    whole = entities(line(5) + line(7, handle="B") + line(9, handle="C"))
    path.write_text(whole[: whole.index(END) - 5])
    drawing = read_dxf(path)
    assert drawing.width_mm == pytest.approx(7)
    (finding,) = drawing.findings
    assert finding.code == "drawing/dxf-mended-file"
    assert "breaks off" in finding.what


def test_one_damaged_entity_does_not_take_the_others_with_it(tmp_path: Path) -> None:
    document = new("R2010")
    document.units = 4
    model = document.modelspace()
    model.add_line((0, 0), (9, 0))
    spline = model.add_open_spline([(0, 0), (1, 1), (2, 0), (3, 1)])
    spline.weights = [1.0, 1.0, -1.0, 1.0]
    document.saveas(tmp_path / "damaged.dxf")
    drawing = read_dxf(tmp_path / "damaged.dxf")
    assert len(drawing.shapes) == 1
    assert [f.code for f in drawing.findings] == ["drawing/dxf-damaged-entity"]
    assert f"spline {spline.dxf.handle}" in drawing.findings[0].what


def test_binary_dxf_is_read(tmp_path: Path) -> None:
    document = new("R2010")
    document.units = 5
    document.modelspace().add_line((0, 0), (3, 4))
    document.saveas(tmp_path / "binary.dxf", fmt="bin")
    assert read_dxf(tmp_path / "binary.dxf").shapes[0].length_mm == pytest.approx(50)


def bare(document: Document, version: str) -> bytes:
    """Tables, blocks and entities alone, so that every mutation is near something that counts."""
    stream = io.StringIO()
    document.write(stream)
    sections = re.findall(
        r"  0\nSECTION\n  2\n(?:TABLES|BLOCKS|ENTITIES)\n.*?  0\nENDSEC\n", stream.getvalue(), re.S
    )
    header = HEADER.replace("9\n$INS", f"9\n$ACADVER\n1\n{version}\n9\n$INS")
    return (header + "".join(sections) + "0\nEOF\n").encode()


def old_file() -> bytes:
    document = new("R12")
    model = document.modelspace()
    document.blocks.new("hook").add_arc((0, 0), 5, 10, 200)
    model.add_blockref("hook", (9, 9), dxfattribs={"xscale": -2})
    model.add_polyline2d([(0, 0, 0.5), (9, 0, 0), (9, 9, -1)], format="xyb", close=True)
    model.add_circle((3, 3), 2)
    return bare(document, "AC1009")


def newer_file() -> bytes:
    document = new("R2000")
    model = document.modelspace()
    model.add_rational_spline([(0, 0), (1, 9), (5, -3), (9, 2)], [1, 2, 1, 3])
    model.add_spline([(0, 0), (4, 4), (9, 0)])
    model.add_ellipse((1, 1), (5, 2), 0.3, 0, 4)
    model.add_lwpolyline([(0, 0, 1), (9, 0, 0), (9, 9, -0.4)], format="xyb", close=True)
    hatch = model.add_hatch(color=1)
    hatch.paths.add_polyline_path([(0, 0), (9, 0), (9, 9)])
    hatch.paths.add_edge_path().add_ellipse((3, 3), (1, 0), 0.5)
    return bare(document, "AC1015")


MUTATED = {"old": (old_file(), 3), "newer": (newer_file(), 5)}

NASTY = [b"nan", b"1e308", b"-1", b"99999999", b"\xff\xfe", b"\0", b"0\nINSERT\n", b"", b"0", b"\n"]


@settings(max_examples=60, deadline=None)
@given(
    release=st.sampled_from(sorted(MUTATED)),
    seed=st.integers(0, 2**32),
    count=st.integers(1, 8),
)
def test_damage_raises_nothing_but_our_own_error(
    tmp_path_factory: pytest.TempPathFactory, release: str, seed: int, count: int
) -> None:
    chance = random.Random(seed)
    lines = MUTATED[release][0].split(b"\n")
    start = lines.index(b"TABLES") // 2 * 2
    for _ in range(count):
        # Codes and values come in pairs of lines: most damage keeps the pairs, to get further in.
        at = chance.randrange(start, len(lines) - 2) // 2 * 2
        other = chance.randrange(start, len(lines) - 2) // 2 * 2
        match chance.randrange(5):
            case 0:
                lines[at + 1] = chance.choice(NASTY)
            case 1:
                lines[at + 1] = lines[other + 1]
            case 2:
                del lines[at : at + 2]
            case 3:
                lines[at:at] = lines[other : other + 2]
            case _ if chance.random() < 0.2:
                del lines[at]
            case _:
                lines[at] = lines[other]
    path = tmp_path_factory.getbasetemp() / "mutated.dxf"
    path.write_bytes(b"\n".join(lines))
    try:
        drawing = read_dxf(path, unit_mm=1.0)
    except KerfwrightError as error:
        assert error.code.startswith("drawing/")
    else:
        # Whatever is told must be printable anywhere.
        for shape in drawing.shapes:
            f"{shape.name}{shape.layer}".encode()
        for finding in drawing.findings:
            f"{finding.what}{finding.where}".encode()
        assert all(math.isfinite(shape.length_mm) for shape in drawing.shapes)


def test_the_files_that_are_mutated_are_sound(tmp_path: Path) -> None:
    for content, count in MUTATED.values():
        path = tmp_path / "sound.dxf"
        path.write_bytes(content)
        assert len(read_dxf(path, unit_mm=1.0).shapes) == count
