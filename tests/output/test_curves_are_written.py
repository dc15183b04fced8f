"""Layouts keep a drawing's arcs and Béziers, as other readers see them."""

from __future__ import annotations

import math
from pathlib import Path as FilePath

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf import path as ezdxf_path

from kerfwright.drawing.svg.read import read_svg
from kerfwright.geometry.affine import rotation, scaling, translation
from kerfwright.geometry.curves import Arc
from kerfwright.geometry.paths import Path
from kerfwright.output.curve_data import subpath
from kerfwright.output.layout_dxf import _vertices

BADGE = """<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm"
viewBox="0 0 100 80"><g fill="none" stroke="black">
<path d="M10 10 H60 A12 12 0 0 1 60 34 Q40 50 30 34 C25 30 15 44 10 34 Z"/>
<ellipse cx="75" cy="55" rx="20" ry="8" transform="rotate(20 75 55)"/>
<circle cx="30" cy="60" r="9"/>
<path d="M70 10 A15 9 30 1 0 90 20"/></g></svg>"""


@pytest.fixture
def paths(tmp_path: FilePath) -> list[Path]:
    file = tmp_path / "badge.svg"
    file.write_text(BADGE)
    return [path for shape in read_svg(file).shapes for path in shape.paths]


def strays_mm(one: Path, line: np.ndarray) -> float:
    a, b = shapely.LineString(one.line), shapely.LineString(line)
    return float(shapely.hausdorff_distance(a, b, densify=0.05))


@pytest.mark.parametrize("turn,mirror", [(0.0, 1.0), (33.0, 1.0), (250.0, -1.0)])
def test_svg_data_reads_back_as_the_same_curves(
    paths: list[Path], tmp_path: FilePath, turn: float, mirror: float
) -> None:
    place = translation(150.0, 150.0) @ rotation(turn) @ scaling(mirror, 1.0)
    for path in paths:
        moved = path.transformed(place)
        data = subpath(moved, 300.0, decimals=4)
        assert any(letter in data for letter in "ACQ")
        file = tmp_path / "back.svg"
        file.write_text(
            '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" '
            f'viewBox="0 0 300 300"><path fill="none" stroke="black" d="{data}"/></svg>'
        )
        (shape,) = read_svg(file).shapes
        assert len(shape.paths) == 1
        assert strays_mm(moved, shape.paths[0].line) < 0.02
        assert shape.paths[0].closed is path.closed


def test_dxf_bulges_are_the_arcs_as_ezdxf_reads_them(paths: list[Path]) -> None:
    space = ezdxf.new().modelspace()
    for path in paths:
        entity = space.add_lwpolyline(_vertices(path), "xyb", close=path.closed)
        flat = np.array([v.vec2 for v in ezdxf_path.make_path(entity).flattening(0.002)])
        assert strays_mm(path, flat) < 0.02
    arcs = [span.curve for path in paths for span in path.spans if isinstance(span.curve, Arc)]
    assert sorted(arc.radius_mm for arc in arcs) == pytest.approx([9.0, 12.0])
    assert sum(abs(arc.sweep_rad) for arc in arcs) == pytest.approx(3.0 * math.pi)
