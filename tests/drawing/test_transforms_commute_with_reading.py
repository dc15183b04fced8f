"""Reading a moved drawing gives the drawing as read and then moved."""

from __future__ import annotations

import tempfile
from pathlib import Path as FilePath

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.drawing.model import Drawing
from kerfwright.drawing.svg.read import read_svg
from kerfwright.geometry.affine import Affine, rotation, scaling, translation
from kerfwright.geometry.tolerances import CHORD_MM

PAGE_MM = 400.0

HEAD = (
    f'<svg xmlns="http://www.w3.org/2000/svg" width="{PAGE_MM}mm" height="{PAGE_MM}mm" '
    f'viewBox="0 0 {PAGE_MM} {PAGE_MM}">'
)

SHAPES = (
    '<path d="M10 20 h30 v10 q20 30 -10 25 t-20 5 c0 20-40 10-30-10z" fill="none" stroke="#000"/>'
    '<path d="M80 20 a30 12 40 1 0 25 18" fill="none" stroke="#000"/>'
    '<rect x="20" y="90" width="50" height="30" rx="9" ry="5"/>'
    '<circle cx="110" cy="100" r="17" fill="none" stroke="#000"/>'
    '<g transform="skewX(20) rotate(12)"><ellipse cx="90" cy="150" rx="30" ry="6"/></g>'
    '<polyline points="5,5 9,60 2,90" fill="none" stroke="#000"/>'
)

affines = st.builds(
    lambda turn, x, y, lean, move: translation(*move) @ rotation(turn) @ Affine(x, 0.0, lean, y),
    st.floats(0.0, 360.0),
    st.floats(0.1, 4.0),
    st.one_of(st.floats(0.1, 4.0), st.floats(-4.0, -0.1)),
    st.floats(-1.0, 1.0),
    st.tuples(st.floats(-100.0, 300.0), st.floats(-100.0, 300.0)),
)


def read(body: str) -> Drawing:
    with tempfile.TemporaryDirectory() as folder:
        file = FilePath(folder) / "moved.svg"
        file.write_text(f"{HEAD}{body}</svg>")
        return read_svg(file)


@given(affines)
def test_a_group_moves_everything_in_it(move: Affine) -> None:
    """The move is applied here by numpy; distances are measured by GEOS."""
    still = read(SHAPES)
    numbers = " ".join(repr(n) for n in (move.a, move.b, move.c, move.d, move.e, move.f))
    moved = read(f'<g transform="matrix({numbers})">{SHAPES}</g>')
    flip = translation(0.0, PAGE_MM) @ scaling(1.0, -1.0)
    in_mm = flip @ move @ flip  # the file's y points down
    tolerance_mm = CHORD_MM * (1.0 + in_mm.largest_scale) + 1e-6
    for before, after in zip(still.shapes, moved.shapes, strict=True):
        for one, other in zip(before.paths, after.paths, strict=True):
            assert one.closed is other.closed
            meant = one.transformed(in_mm)
            lines = [shapely.LineString(path.line) for path in (meant, other)]
            assert shapely.hausdorff_distance(*lines, densify=0.02) <= tolerance_mm
            assert len(one.spans) == 0 or len(other.spans) > 0
            for span in other.spans:
                ends = span.curve.points(1.0)[[0, -1]]
                assert ends == pytest.approx(other.line[[span.first, span.last]], abs=1e-6)
            assert meant.points[0] == pytest.approx(other.points[0], abs=1e-6)


@given(affines, affines)
def test_groups_within_groups_move_as_one(outer: Affine, inner: Affine) -> None:
    def matrix(move: Affine) -> str:
        return " ".join(repr(n) for n in (move.a, move.b, move.c, move.d, move.e, move.f))

    both = outer @ inner
    if max(abs(both.e), abs(both.f), 200.0 * both.largest_scale) > 5e4:
        return
    nested = read(
        f'<g transform="matrix({matrix(outer)})"><g transform="matrix({matrix(inner)})">{SHAPES}'
        "</g></g>"
    )
    at_once = read(f'<g transform="matrix({matrix(both)})">{SHAPES}</g>')
    for before, after in zip(nested.shapes, at_once.shapes, strict=True):
        for one, other in zip(before.paths, after.paths, strict=True):
            assert np.allclose(one.points[[0, -1]], other.points[[0, -1]], atol=1e-6)
            assert one.length_mm == pytest.approx(other.length_mm, rel=1e-3, abs=1e-6)
