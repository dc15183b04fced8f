"""Layouts hold every line of every part, on size, sorted by process, whatever parts are called."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
import shapely
from lxml import etree
from shapely import Polygon

import planned_order
from kerfwright.drawing.model import Drawing, Shape
from kerfwright.drawing.svg.read import read_svg
from kerfwright.geometry.regions import filled
from kerfwright.output.layout_dxf import CUT, ENGRAVE, SCORE, SHEET, write_layout_dxf
from kerfwright.output.layout_svg import layout_svg
from kerfwright.parts.layer_words import process_of_layer
from kerfwright.plan import PlannedSheet
from kerfwright.toolpath import Process

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def sheet() -> PlannedSheet:
    return planned_order.first_sheet()


def read_back(sheet: PlannedSheet, folder: Path) -> Drawing:
    path = folder / "layout.svg"
    path.write_text(layout_svg(sheet), encoding="utf-8")
    return read_svg(path)


def shapes(drawing: Drawing, process: Process) -> list[Shape]:
    return [shape for shape in drawing.shapes if process_of_layer(shape.layer)[0] is process]


def cut_length(sheet: PlannedSheet) -> float:
    return sum(
        path.length_mm
        for part in sheet.parts
        if not part.blank
        for path in (part.outline, *part.holes, *part.slits)
    )


def engraved_area(sheet: PlannedSheet) -> float:
    return sum(mark.area.area for part in sheet.parts for mark in part.engraves)


def test_svg_is_in_true_millimetres(sheet: PlannedSheet, tmp_path: Path) -> None:
    root = etree.fromstring(layout_svg(sheet).encode())
    assert (root.get("width"), root.get("height")) == ("100mm", "80mm")
    assert root.get("viewBox") == "0 0 100 80"
    drawing = read_back(sheet, tmp_path)
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((100.0, 80.0))


def test_svg_read_back_gives_the_same_geometry(sheet: PlannedSheet, tmp_path: Path) -> None:
    drawing = read_back(sheet, tmp_path)
    assert not drawing.findings
    cuts = shapes(drawing, Process.CUT)
    assert sum(shape.length_mm for shape in cuts) == pytest.approx(cut_length(sheet), abs=0.02)
    scored = sum(shape.length_mm for shape in shapes(drawing, Process.SCORE))
    assert scored == pytest.approx(24.0)
    areas = [
        filled(shape.paths, shape.paint.fill_rule) for shape in shapes(drawing, Process.ENGRAVE)
    ]
    assert sum(area.area for area in areas) == pytest.approx(engraved_area(sheet), rel=1e-4)
    wanted = shapely.union_all([mark.area for part in sheet.parts for mark in part.engraves])
    assert shapely.hausdorff_distance(shapely.union_all(areas), wanted) < 0.002


def test_svg_keeps_parts_on_size(sheet: PlannedSheet, tmp_path: Path) -> None:
    cuts = shapes(read_back(sheet, tmp_path), Process.CUT)
    boxes = {path.bounds_mm for shape in cuts for path in shape.paths}
    assert any(box == pytest.approx((10.0, 10.0, 40.0, 40.0)) for box in boxes)


def test_edge_of_the_sheet_reads_as_a_guide(sheet: PlannedSheet, tmp_path: Path) -> None:
    guides = shapes(read_back(sheet, tmp_path), Process.GUIDE)
    assert [path.bounds_mm for shape in guides for path in shape.paths] == [
        pytest.approx((0.0, 0.0, 100.0, 80.0))
    ]


def test_blanks_are_marked_and_never_cut(tmp_path: Path) -> None:
    only = planned_order.first_sheet(parts=(planned_order.blank_part(),))
    drawing = read_back(only, tmp_path)
    assert not shapes(drawing, Process.CUT)
    assert shapes(drawing, Process.ENGRAVE)
    write_layout_dxf(only, tmp_path / "layout.dxf")
    layers = {e.dxf.layer for e in ezdxf.readfile(tmp_path / "layout.dxf").modelspace()}
    assert layers == {ENGRAVE, SHEET}


def test_hostile_names_stay_words_in_the_svg(tmp_path: Path) -> None:
    sheet = planned_order.order(planned_order.HOSTILE).sheets[0]
    root = etree.fromstring(layout_svg(sheet).encode("utf-8"))
    assert {element.tag for element in root.iter()} == {
        SVG + name for name in ("svg", "title", "desc", "g", "path")
    }
    titles = [element.text for element in root.iter(SVG + "title")]
    assert any("<script>alert('x')</script> \"&amp;" in (title or "") for title in titles)
    assert read_back(sheet, tmp_path).shapes


def test_dxf_has_units_and_layers(sheet: PlannedSheet, tmp_path: Path) -> None:
    write_layout_dxf(sheet, tmp_path / "layout.dxf")
    document = ezdxf.readfile(tmp_path / "layout.dxf")
    assert document.dxfversion == "AC1024"
    assert document.header["$INSUNITS"] == 4
    assert {CUT, SCORE, ENGRAVE, SHEET} <= {layer.dxf.name for layer in document.layers}
    assert document.layers.get(SHEET).dxf.plot == 0
    assert not document.audit().errors


def test_dxf_read_back_gives_the_same_geometry(sheet: PlannedSheet, tmp_path: Path) -> None:
    write_layout_dxf(sheet, tmp_path / "layout.dxf")
    space = ezdxf.readfile(tmp_path / "layout.dxf").modelspace()
    lines = {
        layer: list(space.query(f'LWPOLYLINE[layer=="{layer}"]'))
        for layer in (CUT, SCORE, ENGRAVE, SHEET)
    }
    assert len(space) == sum(map(len, lines.values()))
    outlines = [Polygon(line.get_points("xy")) for line in lines[CUT] if line.closed]
    assert sorted(polygon.area for polygon in outlines) == pytest.approx(
        sorted(
            abs(path.signed_area_mm2)
            for part in sheet.parts
            if not part.blank
            for path in (part.outline, *part.holes)
        )
    )
    assert [line.closed for line in lines[CUT]].count(False) == 1, "the slit stays open"
    assert all(line.closed for line in lines[ENGRAVE])
    rings = [Polygon(line.get_points("xy")) for line in lines[ENGRAVE]]
    even_odd = rings[0]
    for ring in rings[1:]:
        even_odd = even_odd.symmetric_difference(ring)
    assert even_odd.area == pytest.approx(engraved_area(sheet))


def test_hostile_names_do_not_harm_the_dxf(tmp_path: Path) -> None:
    sheet = planned_order.order(planned_order.HOSTILE).sheets[0]
    write_layout_dxf(replace(sheet), tmp_path / "layout.dxf")
    assert not ezdxf.readfile(tmp_path / "layout.dxf").audit().errors
