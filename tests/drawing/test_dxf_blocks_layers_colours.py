"""Blocks, layers and colours: what an entity takes from where it stands."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.drawing.model import Drawing
from kerfwright.findings import Severity

Draw = Callable[[Modelspace, Document], object]


def drawn(folder: Path, draw: Draw) -> Drawing:
    document = new("R2010", setup=["linetypes"])
    document.units = 4
    draw(document.modelspace(), document)
    document.saveas(folder / "drawing.dxf")
    return read_dxf(folder / "drawing.dxf")


def codes(drawing: Drawing) -> list[str]:
    return [finding.code.removeprefix("drawing/") for finding in drawing.findings]


def test_layer_name_and_colour_by_layer(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        document.layers.add("Holes", color=1)
        document.layers.add("Fine").rgb = (1, 2, 3)
        for layer in ("Holes", "Fine", "not in the table"):
            model.add_line((0, 0), (1, 0), dxfattribs={"layer": layer})

    painted = [(s.layer, s.paint.stroke) for s in drawn(tmp_path, draw).shapes]
    assert painted == [
        ("Holes", "#ff0000"),
        ("Fine", "#010203"),
        ("not in the table", "#000000"),
    ]


# Colour numbers 1 to 6 are red, yellow, green, cyan, blue, magenta; 7 is drawn black on white
# paper (common practice, no source); a true colour goes before a number (DXF Reference, code 420).
@pytest.mark.parametrize(
    ("attributes", "stroke"),
    [
        ({"color": 1}, "#ff0000"),
        ({"color": 2}, "#ffff00"),
        ({"color": 5}, "#0000ff"),
        ({"color": 7}, "#000000"),
        ({"color": 256}, "#00ff00"),
        ({"color": 1, "true_color": 0x0A0B0C}, "#0a0b0c"),
    ],
)
def test_colour_of_an_entity(tmp_path: Path, attributes: dict[str, int], stroke: str) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        document.layers.add("Green", color=3)
        model.add_line((0, 0), (1, 0), dxfattribs={"layer": "Green", **attributes})

    assert [s.paint.stroke for s in drawn(tmp_path, draw).shapes] == [stroke]


def test_block_content_on_layer_0_and_by_block_takes_what_the_insert_has(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        document.layers.add("Cut", color=5)
        document.layers.add("Own", color=3)
        block = document.blocks.new("hook")
        block.add_line((0, 0), (1, 0))
        block.add_line((0, 0), (1, 0), dxfattribs={"color": 0})
        block.add_line((0, 0), (1, 0), dxfattribs={"layer": "Own"})
        block.add_line((0, 0), (1, 0), dxfattribs={"layer": "Own", "color": 0})
        outer = document.blocks.new("pair")
        outer.add_blockref("hook", (0, 0), dxfattribs={"color": 0})
        model.add_blockref("pair", (0, 0), dxfattribs={"layer": "Cut", "color": 1})

    assert [(s.layer, s.paint.stroke) for s in drawn(tmp_path, draw).shapes] == [
        ("Cut", "#0000ff"),
        ("Cut", "#ff0000"),
        ("Own", "#00ff00"),
        ("Own", "#ff0000"),
    ]


def test_layers_off_or_frozen_and_invisible_entities_are_left_out_with_a_count(
    tmp_path: Path,
) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        document.layers.add("Off").off()
        document.layers.add("Frozen").freeze()
        for layer in ("Off", "Off", "Frozen", "Shown"):
            model.add_line((0, 0), (1, 0), dxfattribs={"layer": layer})
        model.add_line((0, 0), (1, 0), dxfattribs={"invisible": 1})
        model.add_text("a note", dxfattribs={"layer": "Off"})

    drawing = drawn(tmp_path, draw)
    assert [s.layer for s in drawing.shapes] == ["Shown"]
    (finding,) = drawing.findings
    assert (finding.code, finding.count) == ("drawing/hidden", 5)
    assert finding.severity is Severity.NOTE
    assert "Frozen" in finding.what


def test_what_is_not_plotted_is_left_out_with_a_warning(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        document.layers.add("Aid", plot=False)
        model.add_line((0, 0), (1, 0), dxfattribs={"layer": "Aid"})
        model.add_line((0, 0), (1, 0))

    drawing = drawn(tmp_path, draw)
    assert len(drawing.shapes) == 1
    assert codes(drawing) == ["dxf-not-plotted"]


def test_names_tell_kind_and_handle_and_are_unique(tmp_path: Path) -> None:
    handles: list[str] = []

    def draw(model: Modelspace, document: Document) -> None:
        handles.append(model.add_arc((0, 0), 5, 0, 90).dxf.handle)
        document.blocks.new("hook").add_line((0, 0), (1, 0))
        outer = document.blocks.new("pair")
        for x in (0, 5):
            outer.add_blockref("hook", (x, 0))
        for x in (0, 50):
            model.add_blockref("pair", (x, 0))

    names = [shape.name for shape in drawn(tmp_path, draw).shapes]
    assert names[0] == f"arc {handles[0]}"
    assert len(set(names)) == len(names) == 5


def test_mirrored_stretched_and_nested_blocks(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        inner = document.blocks.new("disc", base_point=(1, 0))
        inner.add_circle((1, 0), 1)
        outer = document.blocks.new("outer")
        outer.add_blockref("disc", (10, 0), dxfattribs={"xscale": 3, "yscale": 2})
        model.add_blockref(
            "outer", (100, 50), dxfattribs={"xscale": -1, "yscale": 4, "rotation": 90}
        )

    (shape,) = drawn(tmp_path, draw).shapes
    # (10 ± 3, ± 2) -> mirrored, stretched (-10 ± 3, ± 8) -> turned (± 8, -10 ± 3) -> moved.
    assert shape.paths[0].bounds_mm == pytest.approx((92, 37, 108, 43), abs=0.01)
    assert abs(shape.paths[0].signed_area_mm2) == pytest.approx(math.pi * 3 * 8, rel=2e-3)


def test_extrusion_pointing_down_mirrors(tmp_path: Path) -> None:
    """DXF Reference, arbitrary axis algorithm: for (0, 0, -1) x is mirrored."""
    down = {"extrusion": (0, 0, -1)}

    def draw(model: Modelspace, document: Document) -> None:
        model.add_arc((10, 0), 5, 0, 90, dxfattribs=down)
        model.add_lwpolyline([(0, 0, 1), (10, 0, 0)], format="xyb", dxfattribs=down)
        document.blocks.new("hook").add_line((1, 2), (3, 4))
        model.add_blockref("hook", (10, 0), dxfattribs=down)

    bounds = [shape.paths[0].bounds_mm for shape in drawn(tmp_path, draw).shapes]
    assert bounds == [
        pytest.approx((-15, 0, -10, 5), abs=0.01),
        pytest.approx((-10, -5, 0, 0), abs=0.01),
        pytest.approx((-13, 2, -11, 4)),
    ]


def test_rows_and_columns_of_a_block(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        document.blocks.new("hook").add_line((0, 0), (1, 0))
        model.add_blockref(
            "hook",
            (0, 0),
            dxfattribs={
                "rotation": 90,
                "row_count": 2,
                "column_count": 3,
                "row_spacing": 10,
                "column_spacing": 20,
            },
        )

    shapes = drawn(tmp_path, draw).shapes
    # Turned by 90 degrees, columns go up and rows to the left.
    starts = sorted(tuple(s.paths[0].points[0].round(6).tolist()) for s in shapes)
    assert starts == [(-10, 0), (-10, 20), (-10, 40), (0, 0), (0, 20), (0, 40)]


def test_chord_tolerance_holds_after_the_scale_of_a_block(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        document.blocks.new("dot").add_circle((0, 0), 0.01)
        model.add_blockref("dot", (0, 0), dxfattribs={"xscale": 5000, "yscale": 5000})

    (shape,) = drawn(tmp_path, draw).shapes
    count = len(shape.paths[0].points)
    assert 0.005 < 50 * (1 - math.cos(math.pi / count)) <= 0.01


def test_block_inside_itself_is_left_out(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        block = document.blocks.new("snake")
        block.add_line((0, 0), (1, 0))
        block.add_blockref("snake", (1, 0))
        model.add_blockref("snake", (0, 0))
        model.add_blockref("nowhere", (0, 0))

    drawing = drawn(tmp_path, draw)
    assert len(drawing.shapes) == 1
    (finding,) = drawing.findings
    assert (finding.code, finding.count) == ("drawing/dxf-missing-block", 2)
    assert "nowhere" in finding.what
