"""Transparent dots of pictures are kept apart from white ones: neither may ever be burned."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from kerfwright.drawing.model import Picture
from kerfwright.drawing.pictures.picture import decoded
from kerfwright.drawing.read import Choice, read_drawing
from kerfwright.geometry.affine import Affine
from small_shop import svg


def half_clear() -> bytes:
    """Black, its right half transparent, a quarter of the left half half so."""
    dots = np.zeros((8, 8, 4), dtype=np.uint8)
    dots[:, :4, 3] = 255
    dots[:4, :2, 3] = 128
    file = io.BytesIO()
    Image.fromarray(dots).save(file, "PNG")
    return file.getvalue()


def test_opacity_is_read_beside_the_grey() -> None:
    dots = decoded(half_clear(), file="a.png")
    assert dots.alpha is not None
    assert set(np.unique(dots.alpha)) == {0, 128, 255}
    assert (dots.grey[dots.alpha == 0] == 255).all()
    assert (dots.grey[dots.alpha == 128] == 127).all()


def test_an_opaque_picture_has_none() -> None:
    file = io.BytesIO()
    Image.new("RGBA", (3, 2), (9, 9, 9, 255)).save(file, "PNG")
    assert decoded(file.getvalue(), file="a.png").alpha is None


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_files_of_both_kinds_keep_it(tmp_path: Path, kind: str) -> None:
    if kind == "png":
        path = tmp_path / "a.png"
        path.write_bytes(half_clear())
    else:
        data = base64.b64encode(half_clear()).decode("ascii")
        path = tmp_path / "a.svg"
        image = f'<image href="data:image/png;base64,{data}" width="8" height="8"/>'
        path.write_text(svg(image), encoding="utf-8")
    (picture,) = read_drawing(path, choice=Choice(width_mm=8.0)).pictures
    assert picture.alpha is not None
    assert (picture.alpha[:, 4:] == 0).all()


def test_what_is_clipped_away_is_transparent(tmp_path: Path) -> None:
    file = io.BytesIO()
    Image.new("L", (40, 40), 0).save(file, "PNG")
    data = base64.b64encode(file.getvalue()).decode("ascii")
    path = tmp_path / "a.svg"
    path.write_text(
        svg(
            '<clipPath id="c"><circle cx="10" cy="10" r="8"/></clipPath>'
            f'<image clip-path="url(#c)" href="data:image/png;base64,{data}" '
            'x="0" y="0" width="20" height="20"/>'
        ),
        encoding="utf-8",
    )
    (picture,) = read_drawing(path).pictures
    assert picture.alpha is not None
    share = float((picture.alpha > 0).mean())
    assert share == pytest.approx(np.pi * 64.0 / 400.0, abs=0.02)
    assert np.array_equal(picture.grey == 255, picture.alpha == 0)


def test_opacity_must_have_the_shape_of_the_grey() -> None:
    grey = np.zeros((2, 3), dtype=np.uint8)
    with pytest.raises(ValueError, match="shape"):
        Picture("p", grey, Affine(), alpha=grey.T.copy())
