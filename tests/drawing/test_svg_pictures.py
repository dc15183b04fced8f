"""Pictures in an SVG come out with their dots where they are drawn (SVG 1.1 section 5.7)."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from svg_bodies import read

from kerfwright.drawing.model import Picture

DOTS = np.array([[0, 255, 255, 255], [0, 0, 128, 255]], dtype=np.uint8)
"""Four dots wide and two high."""


def png() -> bytes:
    file = io.BytesIO()
    Image.fromarray(DOTS).save(file, "PNG")
    return file.getvalue()


def data_address() -> str:
    return f"data:image/png;base64,{base64.b64encode(png()).decode()}"


def only_picture(tmp_path: Path, body: str) -> Picture:
    (picture,) = read(tmp_path, body).pictures
    return picture


@pytest.mark.parametrize(
    ("attributes", "upper_left", "lower_right"),
    [
        ('x="10" y="20" width="40" height="20"', (10, 80), (50, 60)),
        ('x="10" y="20" width="40" height="40"', (10, 70), (50, 50)),
        ('width="40" height="40" preserveAspectRatio="none"', (0, 100), (40, 60)),
        ('width="40" height="40" preserveAspectRatio="xMidYMax"', (0, 80), (40, 60)),
        ('width="40"', (0, 100), (40, 80)),
        ('height="40"', (0, 100), (80, 60)),
        ("", (0, 100), (4, 98)),
        ('width="40" height="20" transform="translate(50 50) rotate(90)"', (50, 50), (30, 10)),
        ('width="40" height="20" transform="scale(-1 1)"', (0, 100), (-40, 80)),
    ],
)
def test_place(
    tmp_path: Path,
    attributes: str,
    upper_left: tuple[float, float],
    lower_right: tuple[float, float],
) -> None:
    picture = only_picture(tmp_path, f'<image href="{data_address()}" {attributes}/>')
    np.testing.assert_allclose(picture.corners_mm[[0, 2]], [upper_left, lower_right], atol=1e-9)
    np.testing.assert_array_equal(picture.grey, DOTS)


def test_name_and_layer(tmp_path: Path) -> None:
    address = data_address()
    body = f'<g id="Photo"><image id="view" xlink:href="{address}"/><image href="{address}"/></g>'
    pictures = read(tmp_path, body).pictures
    assert [(picture.name, picture.layer) for picture in pictures] == [
        ("view", "Photo"),
        ("picture 2", "Photo"),
    ]


def test_blanks_and_percent_signs_in_the_data(tmp_path: Path) -> None:
    head, packed = data_address().split(",")
    broken = "\n ".join(packed[i : i + 20] for i in range(0, len(packed), 20)).replace("+", "%2B")
    picture = only_picture(tmp_path, f'<image href="{head},{broken}"/>')
    np.testing.assert_array_equal(picture.grey, DOTS)


def test_a_file_beside_the_drawing_is_read(tmp_path: Path) -> None:
    (tmp_path / "parts of it").mkdir()
    (tmp_path / "parts of it" / "view.png").write_bytes(png())
    picture = only_picture(tmp_path, '<image href="parts%20of%20it/view.png"/>')
    np.testing.assert_array_equal(picture.grey, DOTS)


@pytest.mark.parametrize(
    ("href", "why"),
    [
        ("../secret.png", "not in the drawing's folder"),
        ("inside/../../secret.png", "not in the drawing's folder"),
        ("file:///etc/passwd", "not in the drawing's folder"),
        ("http://example.org/a.png", "not in the drawing's folder"),
        ("//example.org/a.png", "not in the drawing's folder"),
        ("link.png", "not in the drawing's folder"),
        ("missing.png", "no such file"),
        ("text.png", "cannot be read"),
        ("data:image/png;base64,AAAA", "cannot be read"),
        ("data:image/png", "cut short"),
        ("data:image/svg+xml,%3Csvg/%3E", "itself an SVG"),
        ("", "refers to nothing"),
    ],
)
def test_what_is_not_read_is_told(tmp_path: Path, href: str, why: str) -> None:
    folder = tmp_path / "job"
    folder.mkdir()
    (tmp_path / "secret.png").write_bytes(png())
    (folder / "text.png").write_text("no picture", encoding="utf-8")
    (folder / "link.png").symlink_to(tmp_path / "secret.png")
    drawing = read(folder, f'<rect width="9" height="9"/><image id="view" href="{href}"/>')
    assert drawing.pictures == ()
    (finding,) = drawing.findings
    assert finding.code == "drawing/image"
    assert why in finding.what
    assert "view" in finding.what


def test_a_clip_makes_the_dots_outside_white(tmp_path: Path) -> None:
    body = (
        '<clipPath id="c"><rect width="50" height="100"/></clipPath><image clip-path="url(#c)" '
        f'href="{data_address()}" width="100" height="50" image-rendering="optimizeSpeed"/>'
    )
    picture = only_picture(tmp_path, body)
    columns = picture.grey.shape[1]
    assert (picture.grey[:, columns // 2 + 1 :] == 255).all()
    left = picture.grey[:: picture.grey.shape[0] // 2, : columns // 2 - 1]
    np.testing.assert_array_equal(left[:, [1, -1]], DOTS[:, :2])


def test_hidden_and_flat_pictures_are_left_out(tmp_path: Path) -> None:
    body = (
        f'<rect width="9" height="9"/><image visibility="hidden" href="{data_address()}"/>'
        f'<image href="{data_address()}" width="0"/>'
    )
    drawing = read(tmp_path, body)
    assert drawing.pictures == ()
    assert {finding.code for finding in drawing.findings} == {"drawing/hidden", "drawing/no-length"}


def test_a_drawing_of_one_picture_is_no_empty_drawing(tmp_path: Path) -> None:
    drawing = read(tmp_path, f'<image href="{data_address()}" width="20"/>')
    assert (drawing.shapes, len(drawing.pictures)) == ((), 1)
