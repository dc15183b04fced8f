"""A DXF is read at its true size, as open and closed lines at the coordinates it is drawn at."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.drawing.model import Drawing, Shape
from kerfwright.errors import KerfwrightError

MM = 4

Draw = Callable[[Modelspace, Document], object]


def drawn(folder: Path, draw: Draw, *, insunits: int = MM, chord_mm: float = 0.01) -> Drawing:
    document = new("R2010")
    document.header["$INSUNITS"] = insunits
    draw(document.modelspace(), document)
    path = folder / "drawing.dxf"
    document.saveas(path)
    return read_dxf(path, chord_mm)


def only(drawing: Drawing) -> Shape:
    (shape,) = drawing.shapes
    return shape


# Factors by definition of the inch (25.4 mm exactly, NIST SP 811, appendix B) and the SI prefixes;
# numbers of the units from the DXF Reference, HEADER section, $INSUNITS.
@pytest.mark.parametrize(
    ("insunits", "unit_mm"),
    [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0), (9, 0.0254), (13, 1e-3), (14, 100.0)],
)
def test_stated_unit_gives_the_size(tmp_path: Path, insunits: int, unit_mm: float) -> None:
    drawing = drawn(tmp_path, lambda m, _: m.add_line((1, 2), (4, 6)), insunits=insunits)
    assert only(drawing).length_mm == pytest.approx(5 * unit_mm)
    assert drawing.width_mm == pytest.approx(3 * unit_mm)
    assert drawing.height_mm == pytest.approx(4 * unit_mm)


def test_coordinates_stay_where_they_are_drawn(tmp_path: Path) -> None:
    line = only(drawn(tmp_path, lambda m, _: m.add_line((-7, 30), (5, 46)))).paths[0]
    assert line.points.tolist() == [[-7, 30], [5, 46]]
    assert not line.closed


@pytest.mark.parametrize("insunits", [0, 17, 99])
def test_no_usable_unit_is_refused_and_both_ways_out_are_named(
    tmp_path: Path, insunits: int
) -> None:
    with pytest.raises(KerfwrightError) as refused:
        drawn(tmp_path, lambda m, _: m.add_line((0, 0), (1, 0)), insunits=insunits)
    assert refused.value.code == "drawing/dxf-without-units"
    assert "drawing program" in refused.value.remedy
    assert 'unit = "mm"' in refused.value.remedy
    assert "--unit mm" in refused.value.remedy


@pytest.mark.parametrize(
    ("insunits", "measurement", "words"),
    [(0, 1, "set to none"), (0, 1, "millimetres"), (0, 0, "inches"), (17, 1, "unit 17")],
)
def test_why_there_is_no_unit_is_told_and_measurement_is_no_more_than_a_hint(
    tmp_path: Path, insunits: int, measurement: int, words: str
) -> None:
    """DXF Reference, HEADER section: $MEASUREMENT is 0 for English and 1 for metric custom."""

    def draw(model: Modelspace, document: Document) -> None:
        document.header["$MEASUREMENT"] = measurement
        model.add_line((0, 0), (1, 0))

    with pytest.raises(KerfwrightError) as refused:
        drawn(tmp_path, draw, insunits=insunits)
    assert words in refused.value.thing


def test_file_without_a_header_states_no_unit(tmp_path: Path) -> None:
    """DXF Reference: a file may consist of its ENTITIES section alone."""
    path = tmp_path / "bare.dxf"
    line = "0\nLINE\n8\n0\n10\n0\n20\n0\n11\n5\n21\n0\n"
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{line}0\nENDSEC\n0\nEOF\n")
    with pytest.raises(KerfwrightError) as refused:
        read_dxf(path)
    assert refused.value.code == "drawing/dxf-without-units"
    drawing = read_dxf(path, unit_mm=25.4)
    assert drawing.width_mm == pytest.approx(127.0)
    assert drawing.findings == ()


def test_given_unit_overrules_the_file_and_that_is_told(tmp_path: Path) -> None:
    drawn(tmp_path, lambda m, _: m.add_line((0, 0), (1, 0)), insunits=6)
    drawing = read_dxf(tmp_path / "drawing.dxf", unit_mm=1.0)
    assert drawing.width_mm == pytest.approx(1.0)
    assert [f.code for f in drawing.findings] == ["drawing/dxf-units-overruled"]


@pytest.mark.parametrize("insunits", [1, 4, 6])
@pytest.mark.parametrize("chord_mm", [0.01, 0.1])
def test_chord_tolerance_is_in_millimetres_whatever_the_unit(
    tmp_path: Path, insunits: int, chord_mm: float
) -> None:
    unit_mm = {1: 25.4, 4: 1.0, 6: 1000.0}[insunits]
    drawing = drawn(
        tmp_path,
        lambda m, _: m.add_circle((0, 0), 40 / unit_mm),
        insunits=insunits,
        chord_mm=chord_mm,
    )
    circle = only(drawing).paths[0]
    sagitta_mm = 40 * (1 - math.cos(math.pi / len(circle.points)))
    assert chord_mm / 2 < sagitta_mm <= chord_mm


def test_closed_lines_do_not_repeat_their_first_point(tmp_path: Path) -> None:
    def draw(model: Modelspace, _: Document) -> None:
        model.add_circle((0, 0), 5)
        model.add_ellipse((0, 0), (5, 0), 0.5)
        model.add_arc((0, 0), 5, 0, 360)
        model.add_lwpolyline([(0, 0), (9, 0), (9, 9)], close=True)
        model.add_polyline2d([(0, 0), (9, 0), (9, 9)], close=True)
        model.add_polyline3d([(0, 0, 0), (9, 0, 0), (9, 9, 0)], close=True)
        model.add_spline().set_closed([(0, 0, 0), (9, 0, 0), (9, 9, 0), (0, 9, 0)])
        model.add_spline([(0, 0), (9, 0), (9, 9)]).closed = True

    drawing = drawn(tmp_path, draw)
    assert len(drawing.shapes) == 8
    for shape in drawing.shapes:
        (path,) = shape.paths
        assert path.closed, shape.name
        assert math.dist(path.points[0], path.points[-1]) > 0.01, shape.name
    assert drawing.findings == ()


def test_closed_fit_spline_is_smooth_where_it_closes(tmp_path: Path) -> None:
    corners = [(math.cos(a) * 20, math.sin(a) * 20) for a in (k * math.pi / 4 for k in range(8))]

    def draw(model: Modelspace, _: Document) -> None:
        model.add_spline(corners).closed = True

    path = only(drawn(tmp_path, draw)).paths[0]
    # A periodic cubic through 8 points of a circle is off by about r·h⁴/384, h = π/4.
    radii = [math.hypot(x, y) for x, y in path.points]
    assert max(radii) - min(radii) < 20 * (math.pi / 4) ** 4 / 384 * 2


def test_arcs_run_counter_clockwise_between_their_angles(tmp_path: Path) -> None:
    arc = only(drawn(tmp_path, lambda m, _: m.add_arc((10, 0), 5, 350, 20))).paths[0]
    assert arc.length_mm == pytest.approx(5 * math.radians(30), rel=1e-3)
    assert arc.points[0].tolist() == pytest.approx(
        [10 + 5 * math.cos(math.radians(350)), 5 * math.sin(math.radians(350))]
    )


def test_bulge_bends_the_way_to_the_next_corner(tmp_path: Path) -> None:
    """DXF Reference, LWPOLYLINE, code 42: 1 is half a circle, positive is counter-clockwise."""
    path = only(
        drawn(tmp_path, lambda m, _: m.add_lwpolyline([(0, 0, 1), (10, 0, 0)], format="xyb"))
    ).paths[0]
    assert path.bounds_mm == pytest.approx((0, -5, 10, 0), abs=0.01)
    assert path.length_mm == pytest.approx(5 * math.pi, rel=1e-3)


def test_line_in_space_is_seen_from_above_with_a_note(tmp_path: Path) -> None:
    drawing = drawn(tmp_path, lambda m, _: m.add_polyline3d([(0, 0, 0), (3, 4, 12)]))
    assert only(drawing).length_mm == pytest.approx(5)
    assert [f.code for f in drawing.findings] == ["drawing/dxf-out-of-plane"]


def test_height_above_the_plane_alone_is_no_fault(tmp_path: Path) -> None:
    assert drawn(tmp_path, lambda m, _: m.add_line((0, 0, 7), (3, 4, 7))).findings == ()


def test_solid_is_an_area_with_its_corners_in_order(tmp_path: Path) -> None:
    """DXF Reference, SOLID: the third and the fourth corner are crossed over."""
    shape = only(drawn(tmp_path, lambda m, _: m.add_solid([(0, 0), (4, 0), (0, 3), (4, 3)])))
    assert abs(shape.paths[0].signed_area_mm2) == pytest.approx(12)
    assert shape.paint.fill is not None
    assert shape.paint.stroke is None


def test_hatch_is_an_area_with_its_islands(tmp_path: Path) -> None:
    def draw(model: Modelspace, _: Document) -> None:
        hatch = model.add_hatch(color=1)
        hatch.paths.add_polyline_path([(0, 0), (10, 0), (10, 10), (0, 10)])
        ring = hatch.paths.add_edge_path()
        ring.add_arc((5, 5), 2, 0, 360)

    shape = only(drawn(tmp_path, draw))
    assert shape.paint.fill == "#ff0000"
    assert shape.paint.fill_rule == "evenodd"
    areas = sorted(abs(path.signed_area_mm2) for path in shape.paths)
    assert areas == pytest.approx([4 * math.pi, 100], rel=1e-2)


def test_edges_of_a_hatch_are_put_end_to_end(tmp_path: Path) -> None:
    def draw(model: Modelspace, _: Document) -> None:
        edges = model.add_hatch(color=1).paths.add_edge_path()
        edges.add_line((0, 0), (10, 0))
        edges.add_arc((10, 5), 5, -90, 90)
        edges.add_line((10, 10), (0, 10))
        edges.add_line((0, 10), (0, 0))

    path = only(drawn(tmp_path, draw)).paths[0]
    assert path.signed_area_mm2 == pytest.approx(100 + 12.5 * math.pi, rel=1e-3)
