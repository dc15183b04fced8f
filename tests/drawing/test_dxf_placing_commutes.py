"""Reading a drawing through blocks is reading it plain and then moving it.

The reference is the algebra of affine maps alone: a block's INSERT is scaled, turned and moved (DXF
Reference, INSERT), and so is every point of what was read of the drawing in the block.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import new
from ezdxf.layouts.base import BaseLayout
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.drawing.model import Drawing
from kerfwright.geometry.affine import Affine, rotation, scaling, translation
from kerfwright.geometry.curves import Bezier
from kerfwright.geometry.paths import Path

CHORD_MM = 0.01
FINE_MM = CHORD_MM / 8

factors = st.floats(0.3, 3.0).flatmap(lambda size: st.sampled_from((size, -size)))
places = st.tuples(st.floats(-50, 50), st.floats(-50, 50), factors, factors, st.floats(-180, 180))


def everything(layout: BaseLayout) -> None:
    down = {"extrusion": (0, 0, -1)}
    layout.add_line((1, 2), (8, 5))
    layout.add_arc((10, 3), 7, 200, 20)
    layout.add_arc((10, 3), 7, 200, 20, dxfattribs=down)
    layout.add_circle((30, -4), 3)
    layout.add_lwpolyline(
        [(0, 0, 0.3), (10, 2, -1.7), (14, 9, 0), (3, 12, 0.05)], format="xyb", close=True
    )
    layout.add_ellipse((5, 5), (6, 2), 0.35, 0.4, 5.5)
    layout.add_open_spline([(0, 0), (3, 9), (8, -6), (14, 5), (18, 1), (11, -8)])
    layout.add_rational_spline([(0, 0), (3, 9), (8, -6), (14, 5)], [1, 4, 0.5, 2])
    layout.add_rational_spline(
        [(0, 0), (9, 0), (9, 9)], [1, math.sqrt(0.5), 1], degree=2, knots=[0, 0, 0, 1, 1, 1]
    )
    layout.add_spline([(0, 0), (4, 7), (9, 1)])
    hatch = layout.add_hatch(color=1)
    hatch.paths.add_polyline_path([(0, 0), (20, 0, 0.4), (20, 9), (0, 12)])
    edges = hatch.paths.add_edge_path()
    edges.add_line((5, 3), (9, 3))
    edges.add_arc((7, 3), 2, 0, 180)
    layout.add_solid([(0, 30), (8, 30), (0, 36), (8, 36)])


def attributes(place: tuple[float, float, float, float, float]) -> dict[str, float]:
    _, _, xscale, yscale, turn_deg = place
    return {"xscale": xscale, "yscale": yscale, "rotation": turn_deg}


def as_affine(place: tuple[float, float, float, float, float]) -> Affine:
    x, y, xscale, yscale, turn_deg = place
    return translation(x, y) @ rotation(turn_deg) @ scaling(xscale, yscale)


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Drawing:
    path = tmp_path_factory.mktemp("plain") / "plain.dxf"
    document = new("R2010", units=4)
    everything(document.modelspace())
    document.saveas(path)
    return read_dxf(path, CHORD_MM)


@settings(max_examples=25)
@given(inner=places, outer=places)
def test_placing_then_reading_is_reading_then_placing(
    tmp_path_factory: pytest.TempPathFactory,
    plain: Drawing,
    inner: tuple[float, float, float, float, float],
    outer: tuple[float, float, float, float, float],
) -> None:
    path = tmp_path_factory.getbasetemp() / "placed.dxf"
    document = new("R2010", units=4)
    everything(document.blocks.new("inner"))
    document.blocks.new("outer").add_blockref("inner", inner[:2], dxfattribs=attributes(inner))
    document.modelspace().add_blockref("outer", outer[:2], dxfattribs=attributes(outer))
    document.saveas(path)
    placed = read_dxf(path, CHORD_MM)

    transform = as_affine(outer) @ as_affine(inner)
    assert len(placed.shapes) == len(plain.shapes)
    for shape, reference in zip(placed.shapes, plain.shapes, strict=True):
        for line, original in zip(shape.paths, reference.paths, strict=True):
            moved = original.transformed(transform)
            assert line.closed == moved.closed
            assert len(line.spans) == len(moved.spans) or has_beziers(moved)
            one = shapely.LineString(line.line)
            # a curve without an exact form keeps its own straying, stretched by the block
            stray = CHORD_MM * (1 if moved.spans else 1 + transform.largest_scale)
            other = shapely.LineString(moved.refined(FINE_MM).line)
            assert one.hausdorff_distance(other) < 1.01 * (stray + FINE_MM)
            exact = line.refined(FINE_MM)
            if moved.spans:
                assert exact.length_mm == pytest.approx(other.length, rel=1e-3)
            ends = np.abs(line.line[[0, -1]] - moved.line[[0, -1]]).max()
            assert ends < 1e-6


def has_beziers(line: Path) -> bool:
    """Whether curves are halved where they bend, so that their number depends on the size."""
    return any(isinstance(span.curve, Bezier) for span in line.spans)
