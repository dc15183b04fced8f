"""Curves of a DXF keep their exact form beside the points that stand for them."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace
from ezdxf.math import BSpline

from kerfwright.drawing.dxf.nurbs import nurbs_paths
from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.drawing.model import Shape
from kerfwright.geometry.curves import Arc, Bezier, EllipseArc
from kerfwright.geometry.regions import filled

Draw = Callable[[Modelspace], object]


def only(folder: Path, draw: Draw, *, release: str = "R2010") -> Shape:
    document = new(release, units=4)
    draw(document.modelspace())
    document.saveas(folder / "drawing.dxf")
    (shape,) = read_dxf(folder / "drawing.dxf").shapes
    return shape


def curves(shape: Shape) -> list[Arc | EllipseArc | Bezier]:
    return [span.curve for path in shape.paths for span in path.spans]


def test_arc_and_circle_are_arcs(tmp_path: Path) -> None:
    (arc,) = curves(only(tmp_path, lambda m: m.add_arc((10, 5), 7, 350, 20)))
    assert isinstance(arc, Arc)
    assert (*arc.centre, arc.radius_mm) == pytest.approx((10, 5, 7))
    assert arc.sweep_rad == pytest.approx(math.radians(30))
    (circle,) = curves(only(tmp_path, lambda m: m.add_circle((1, 2), 3)))
    assert isinstance(circle, Arc)
    assert circle.sweep_rad == pytest.approx(2 * math.pi)


def test_arc_seen_from_below_turns_the_other_way(tmp_path: Path) -> None:
    """DXF Reference, arbitrary axis algorithm: for (0, 0, -1) x is mirrored."""
    down = {"extrusion": (0, 0, -1)}
    (arc,) = curves(only(tmp_path, lambda m: m.add_arc((10, 5), 7, 0, 90, dxfattribs=down)))
    assert isinstance(arc, Arc)
    assert arc.centre == pytest.approx((-10, 5))
    assert arc.sweep_rad == pytest.approx(-math.pi / 2)


def test_circle_in_a_stretched_block_is_an_ellipse(tmp_path: Path) -> None:
    def draw(model: Modelspace) -> None:
        assert model.doc is not None
        model.doc.blocks.new("dot").add_circle((0, 0), 2)
        model.add_blockref("dot", (5, 5), dxfattribs={"xscale": 3, "yscale": 1})

    (curve,) = curves(only(tmp_path, draw))
    assert isinstance(curve, EllipseArc)
    assert curve.frame.determinant == pytest.approx(12)


def test_bulges_are_arcs_between_the_straight_parts(tmp_path: Path) -> None:
    """DXF Reference, LWPOLYLINE, code 42: a bulge of 1 is half a circle."""
    slot = [(0, 0, 0), (40, 0, 1), (40, 12, 0), (0, 12, 1)]
    (path,) = only(tmp_path, lambda m: m.add_lwpolyline(slot, format="xyb", close=True)).paths
    one, other = path.spans
    assert isinstance(one.curve, Arc)
    assert isinstance(other.curve, Arc)
    assert (one.curve.radius_mm, other.curve.radius_mm) == pytest.approx((6, 6))
    assert path.line[[one.first, one.last]].tolist() == [[40, 0], [40, 12]]
    assert path.line[[other.first, other.last]].tolist() == [[0, 12], [0, 0]]


@pytest.mark.parametrize("degree", [2, 3])
def test_spline_without_weights_is_bezier_curves_on_it(tmp_path: Path, degree: int) -> None:
    """Points of the curve by ezdxf's own evaluation of B-splines."""
    frame = [(0, 0), (6, 18), (16, -12), (28, 10), (36, 2), (22, -16)]
    shape = only(tmp_path, lambda m: m.add_open_spline([(*p, 0) for p in frame], degree=degree))
    pieces = curves(shape)
    assert all(isinstance(c, Bezier) and len(c.control) == degree + 1 for c in pieces)
    reference = BSpline(frame, order=degree + 1)
    dense = shapely.LineString([(p.x, p.y) for p in reference.approximate(20_000)])
    for curve in pieces:
        assert shapely.distance(shapely.points(curve.points(0.001)), dense).max() < 1e-5
    ends = [curve.points(1.0)[-1] for curve in pieces[:-1]]
    starts = [curve.points(1.0)[0] for curve in pieces[1:]]
    assert np.abs(np.array(ends) - np.array(starts)).max() < 1e-9


def test_quadratic_with_the_weight_of_an_arc_is_one() -> None:
    """An arc of half angle α weighs cos α in its middle (Piegl and Tiller, section 7.3)."""
    half = math.radians(40)
    control = np.array([(0, 0), (10, 10 * math.tan(half)), (20, 0)])
    weights = np.array([1, math.cos(half), 1])
    (path,) = nurbs_paths(control, np.array([0.0, 0, 0, 1, 1, 1]), weights, 2, 0.01)
    (span,) = path.spans
    assert isinstance(span.curve, Arc)
    assert span.curve.radius_mm == pytest.approx(10 / math.sin(half))
    assert abs(span.curve.sweep_rad) == pytest.approx(2 * half)


def test_half_circle_of_degree_3_is_an_arc() -> None:
    """Weights 1, 1/3, 1/3, 1 (Piegl and Tiller, *The NURBS Book*, section 7.5)."""
    control = np.array([(5, 0), (5, 10), (-5, 10), (-5, 0)], dtype=float)
    weights = np.array([1, 1 / 3, 1 / 3, 1])
    knots = np.array([0.0, 0, 0, 0, 1, 1, 1, 1])
    (path,) = nurbs_paths(control, knots, weights, 3, 0.01)
    assert [type(span.curve) for span in path.spans] == [Arc, Arc]
    for span in path.spans:
        assert isinstance(span.curve, Arc)
        assert span.curve.centre == pytest.approx((0, 0), abs=1e-9)
        assert span.curve.radius_mm == pytest.approx(5)


def test_weights_in_geometric_rows_make_a_parabola() -> None:
    """w₁² = w₀ w₂ is a parabola (Piegl and Tiller, *The NURBS Book*, section 7.3)."""
    control = np.array([(0, 0), (4, 8), (9, 0)], dtype=float)
    knots = np.array([0.0, 0, 0, 1, 1, 1])
    (path,) = nurbs_paths(control, knots, np.array([1.0, 2, 4]), 2, 0.01)
    (span,) = path.spans
    assert isinstance(span.curve, Bezier)
    assert np.allclose(span.curve.control, control)


@pytest.mark.parametrize("degree", [2, 3, 5])
def test_other_weights_stay_within_the_chord_tolerance(degree: int) -> None:
    frame = [(0, 0), (3, 9), (8, -6), (14, 5), (18, 1), (11, -8)]
    weights = [1, 4, 0.5, 2, 1, 3]
    reference = BSpline(frame, order=degree + 1, weights=weights)
    (path,) = nurbs_paths(
        np.array(frame, dtype=float), np.array(reference.knots()), np.array(weights), degree, 0.01
    )
    dense = shapely.points([(p.x, p.y) for p in reference.approximate(5_000)])
    assert shapely.distance(dense, shapely.LineString(path.points)).max() < 0.01


def test_spline_torn_at_a_knot_is_two_lines() -> None:
    """A knot of a multiplicity above the degree lets the curve jump (de Boor, chapter IX)."""
    control = np.array([(0, 0), (1, 1), (2, 0), (5, 0), (6, 1), (7, 0)], dtype=float)
    knots = np.array([0.0, 0, 0, 1, 1, 1, 2, 2, 2])
    one, other = nurbs_paths(control, knots, None, 2, 0.01)
    assert one.points[-1].tolist() == [2, 0]
    assert other.points[0].tolist() == [5, 0]


@pytest.mark.parametrize("release", ["R12", "R2000"])
def test_frame_of_a_fitted_polyline_is_not_drawn(tmp_path: Path, release: str) -> None:
    """DXF Reference, VERTEX, code 70: 8 is a fitted corner, 16 a control point of the frame."""

    def draw(model: Modelspace) -> None:
        line = model.add_polyline2d([(i, i * i / 10) for i in range(9)])
        line.dxf.flags |= 4
        for vertex in line.vertices:
            vertex.dxf.flags |= 8
        line.append_vertex((4, 50), dxfattribs={"flags": 16})

    document = new(release, units=4)
    draw(document.modelspace())
    document.saveas(tmp_path / "drawing.dxf")
    (shape,) = read_dxf(tmp_path / "drawing.dxf", unit_mm=1.0).shapes
    assert len(shape.paths[0].points) == 9
    assert shape.paths[0].bounds_mm == pytest.approx((0, 0, 8, 6.4))


def test_fitted_polyline_of_which_only_the_frame_is_left_is_its_spline(tmp_path: Path) -> None:
    """DXF Reference, POLYLINE, code 75: 6 is a cubic B-spline."""
    frame = [(0, 0), (6, 18), (16, -12), (28, 10)]

    def draw(model: Modelspace) -> None:
        line = model.add_polyline2d(frame, dxfattribs={"flags": 4, "smooth_type": 6})
        for vertex in line.vertices:
            vertex.dxf.flags |= 16

    shape = only(tmp_path, draw)
    assert {type(curve) for curve in curves(shape)} == {Bezier}
    # one cubic span without inner knots is the Bézier curve of the frame: its middle by hand
    middle = (np.array(frame) * np.array([[1], [3], [3], [1]])).sum(axis=0) / 8
    assert shapely.LineString(shape.paths[0].points).distance(shapely.Point(middle)) < 0.01


@pytest.mark.parametrize("style", [0, 1, 2])
def test_hatch_styles_fill_in_turn_the_outermost_or_all(tmp_path: Path, style: int) -> None:
    """DXF Reference, HATCH, code 75, whatever the flags of the boundaries say."""

    def draw(model: Modelspace) -> None:
        hatch = model.add_hatch(color=1)
        hatch.dxf.hatch_style = style
        for inset in (0, 10, 20):
            low, high = inset, 60 - inset
            hatch.paths.add_polyline_path([(low, low), (high, low), (high, high), (low, high)])

    shape = only(tmp_path, draw)
    area = filled(shape.paths, shape.paint.fill_rule).area
    assert area == pytest.approx({0: 3600 - 1600 + 400, 1: 3600 - 1600, 2: 3600}[style])


def test_edges_of_a_hatch_in_any_order_and_direction(tmp_path: Path) -> None:
    def draw(model: Modelspace) -> None:
        edges = model.add_hatch(color=1).paths.add_edge_path()
        edges.add_line((0, 0), (10, 0))
        edges.add_line((0, 10), (10, 10))
        edges.add_arc((10, 5), 5, -90, 90)
        edges.add_line((0, 0), (0, 10))

    (path,) = only(tmp_path, draw).paths
    assert abs(path.signed_area_mm2) == pytest.approx(100 + 12.5 * math.pi, rel=1e-3)
    (span,) = path.spans
    assert isinstance(span.curve, Arc)
