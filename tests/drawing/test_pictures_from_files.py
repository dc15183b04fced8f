"""A picture file becomes grey dots in their true size.

Grey: ITU-R Recommendation BT.601 luma, 0.299 R + 0.587 G + 0.114 B. Orientation: Exif 2.32, tag
274. The files are written by Pillow.
"""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from kerfwright.drawing.model import Drawing
from kerfwright.drawing.pictures.picture import DOTS_LIMIT, decoded, picture_from_bytes
from kerfwright.drawing.pictures.read import read_picture_file
from kerfwright.drawing.read import Choice, read_drawing
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.affine import Affine, rotation

COLOURS = np.array([[[255, 0, 0], [0, 255, 0], [0, 0, 255]], [[0] * 3, [255] * 3, [90] * 3]])
LUMA = [[76, 150, 29], [0, 255, 90]]


def saved(image: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    file = io.BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()


def colours() -> Image.Image:
    return Image.fromarray(COLOURS.astype(np.uint8))


def grey(data: bytes) -> np.ndarray:
    return decoded(data, file="boat.png").grey


def findings(drawing: Drawing) -> dict[str, Finding]:
    return {finding.code.partition("/")[2]: finding for finding in drawing.findings}


@pytest.mark.parametrize("kind", ["PNG", "BMP", "TIFF", "WEBP"])
def test_colours_become_luma(kind: str) -> None:
    options = {"lossless": True} if kind == "WEBP" else {}
    assert np.abs(grey(saved(colours(), kind, **options)).astype(int) - LUMA).max() <= 1


@pytest.mark.parametrize("mode", ["P", "CMYK", "RGBA", "YCbCr"])
def test_every_mode_of_the_same_picture(mode: str) -> None:
    kind = "PNG" if mode in {"P", "RGBA"} else "TIFF"
    options = {"palette": Image.Palette.ADAPTIVE} if mode == "P" else {}
    found = grey(saved(colours().convert(mode, **options), kind))
    assert np.abs(found.astype(int) - LUMA).max() <= 2


def test_two_tones_and_sixteen_bits() -> None:
    two = Image.fromarray(np.array([[True, False], [False, True]]))
    assert grey(saved(two)).tolist() == [[255, 0], [0, 255]]
    deep = Image.fromarray(np.array([[0, 257], [65535, 128 * 257]], dtype=np.uint16))
    for kind in ("PNG", "TIFF"):
        assert grey(saved(deep, kind)).tolist() == [[0, 1], [255, 128]]
    shares = Image.fromarray(np.array([[0.0, 0.5, 1.0]], dtype=np.float32))
    assert grey(saved(shares, "TIFF")).tolist() == [[0, 128, 255]]


def test_transparency_is_laid_over_white() -> None:
    dots = np.array([[[0, 0, 0, 255], [0, 0, 0, 0], [0, 0, 0, 51], [100, 100, 100, 128]]])
    assert grey(saved(Image.fromarray(dots.astype(np.uint8)))).tolist() == [[0, 255, 204, 177]]
    keyed = Image.fromarray(np.array([[0, 200]], dtype=np.uint8))
    assert grey(saved(keyed, transparency=0)).tolist() == [[255, 200]]


@pytest.mark.parametrize(
    ("orientation", "turned"),
    [
        (1, lambda a: a),
        (2, np.fliplr),
        (3, lambda a: np.rot90(a, 2)),
        (4, np.flipud),
        (5, np.transpose),
        (6, lambda a: np.rot90(a, -1)),
        (7, lambda a: np.rot90(a, 2).T),
        (8, np.rot90),
    ],
)
def test_a_cameras_orientation_is_followed(orientation: int, turned: object) -> None:
    dots = np.array([[0, 60, 120], [180, 200, 240]], dtype=np.uint8)
    exif = Image.Exif()
    exif[274] = orientation
    data = saved(Image.fromarray(dots), exif=exif, dpi=(100, 200))
    found = decoded(data, file="boat.png")
    assert found.grey.tolist() == turned(dots).tolist()  # type: ignore[operator]
    sides = (3 / 100 * 25.4, 2 / 200 * 25.4)
    assert found.size_mm == pytest.approx(sides if orientation < 5 else sides[::-1], rel=1e-3)


@pytest.mark.parametrize(
    ("kind", "ending"), [("PNG", "png"), ("JPEG", "jpg"), ("BMP", "bmp"), ("TIFF", "TIF")]
)
def test_dots_to_the_inch_give_the_size(tmp_path: Path, kind: str, ending: str) -> None:
    path = tmp_path / f"boat.{ending}"
    path.write_bytes(saved(Image.new("L", (600, 300), 0), kind, dpi=(300, 150)))
    drawing = read_drawing(path)
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((50.8, 50.8), rel=1e-3)
    (picture,) = drawing.pictures
    assert picture.grey.shape == (300, 600)
    upper_left = (0.0, drawing.height_mm)
    assert picture.corners_mm[0] == pytest.approx(upper_left)
    assert picture.dots_per_mm == pytest.approx((300 / 25.4, 150 / 25.4), rel=1e-3)
    assert not drawing.findings
    assert not drawing.shapes


def test_the_order_gives_the_width(tmp_path: Path) -> None:
    path = tmp_path / "boat.png"
    path.write_bytes(saved(Image.new("L", (600, 300), 0)))
    drawing = read_drawing(path, choice=Choice(width_mm=90.0))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((90.0, 45.0))
    path.write_bytes(saved(Image.new("L", (600, 300), 0), dpi=(300, 150)))
    drawing = read_drawing(path, choice=Choice(width_mm=90.0))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((90.0, 90.0), rel=1e-4)


@pytest.mark.parametrize("options", [{}, {"dpi": (1, 1)}])
def test_a_size_is_not_guessed(tmp_path: Path, options: dict[str, object]) -> None:
    path = tmp_path / "boat.png"
    path.write_bytes(saved(Image.new("L", (60, 30), 0), **options))
    with pytest.raises(KerfwrightError) as refused:
        read_picture_file(path)
    assert refused.value.code == "drawing/picture-without-size"
    assert "width_mm" in refused.value.remedy


@pytest.mark.parametrize("dpi", [72, 96])
def test_a_screens_dots_ask_for_a_look(tmp_path: Path, dpi: int) -> None:
    path = tmp_path / "boat.png"
    path.write_bytes(saved(Image.new("L", (600, 300), 0), dpi=(dpi, dpi)))
    assert findings(read_picture_file(path))["picture-screen-size"].severity is Severity.WARN
    assert "picture-screen-size" not in findings(read_picture_file(path, 30.0))


def test_few_dots_and_several_frames_are_told(tmp_path: Path) -> None:
    path = tmp_path / "boat.gif"
    frames = [Image.new("L", (60, 30), tone) for tone in (0, 255)]
    path.write_bytes(saved(frames[0], "GIF", save_all=True, append_images=frames[1:]))
    drawing = read_picture_file(path, 60.0)
    assert set(findings(drawing)) == {"picture-frames", "picture-coarse"}
    assert (drawing.pictures[0].grey == 0).all()


def test_a_picture_too_large_is_refused_before_it_is_unpacked() -> None:
    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    for side in (9_000, 60_000):
        assert side * side > DOTS_LIMIT
        header = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
        data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b""))
        with pytest.raises(KerfwrightError) as refused:
            decoded(data, file="boat.png")
        assert refused.value.code == "drawing/picture-too-large"


@pytest.mark.parametrize(
    "data", [b"no picture", b"\x89PNG\r\n\x1a\n", b"%!PS-Adobe-3.0 EPSF-3.0\n"]
)
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(KerfwrightError) as refused:
        decoded(data, file="boat.png")
    assert refused.value.code == "drawing/picture-damaged"
    assert refused.value.file == "boat.png"


def test_a_picture_placed_by_a_transform() -> None:
    to_mm = rotation(90.0) @ Affine(30.0, 0.0, 0.0, -20.0, 0.0, 20.0)
    picture = picture_from_bytes(
        saved(colours()), name="boat", to_mm=to_mm, file="a.svg", layer="Photo", line=7
    )
    assert (picture.name, picture.layer, picture.line) == ("boat", "Photo", 7)
    assert np.allclose(picture.corners_mm, [[-20, 0], [-20, 30], [0, 30], [0, 0]])
    assert picture.size_mm == pytest.approx((30.0, 20.0))
    assert picture.dots_per_mm == pytest.approx((0.1, 0.1))
    assert picture.transformed(rotation(-90.0)).bounds_mm == pytest.approx((0, 0, 30, 20))
