"""DXF against closed forms and against what the ezdxf library draws.

The files are written by ezdxf (an independent implementation of the DXF Reference) in several
releases; its ``ezdxf.path`` flattens by its own subdivision, from entities that ezdxf itself has
taken out of their blocks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import shapely
from ezdxf import path as ezpath
from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert
from ezdxf.entities.spline import Spline
from ezdxf.filemanagement import new, readfile
from ezdxf.layouts.base import BaseLayout

from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.drawing.model import Shape

RELEASES = ["R12", "R2000", "R2010", "R2018"]
NEWER = RELEASES[1:]  # release 12 has no ellipses, splines and light polylines

CHORD_MM = 0.01

# Number of $INSUNITS and millimetres: definitions of the inch (NIST SP 811) and of the SI prefixes.
UNITS = {"inch": (1, 25.4), "mm": (4, 1.0), "cm": (5, 10.0), "m": (6, 1000.0)}


def read(folder: Path, document: Document, unit_mm: float | None = None) -> tuple[Shape, ...]:
    document.saveas(folder / "drawing.dxf")
    return read_dxf(folder / "drawing.dxf", CHORD_MM, unit_mm).shapes


@pytest.fixture(params=[(release, unit) for release in RELEASES for unit in UNITS])
def release_and_unit(request: pytest.FixtureRequest) -> tuple[str, int, float]:
    release, unit = request.param
    return release, *UNITS[unit]


def test_lengths_and_areas_of_arcs_and_bulges(
    tmp_path: Path, release_and_unit: tuple[str, int, float]
) -> None:
    """Circle, arc, and a slot whose round ends are bulges of 1 (half circles)."""
    release, insunits, unit_mm = release_and_unit
    document = new(release)
    document.header["$INSUNITS"] = insunits
    model = document.modelspace()

    def own(mm: float) -> float:
        return mm / unit_mm

    model.add_circle((own(5), own(5)), own(20))
    model.add_arc((0, 0), own(30), 45, 225)
    slot = [(0, 0, 0), (own(40), 0, 1), (own(40), own(12), 0), (0, own(12), 1)]
    model.add_polyline2d(slot, format="xyb", close=True)
    if release != "R12":
        model.add_lwpolyline(slot, format="xyb", close=True)

    # Release 12 has no $INSUNITS: the unit is given.
    circle, arc, *slots = read(tmp_path, document, unit_mm if release == "R12" else None)
    assert circle.paths[0].signed_area_mm2 == pytest.approx(math.pi * 400, rel=1e-3)
    assert circle.length_mm == pytest.approx(2 * math.pi * 20, rel=5e-4)
    assert arc.length_mm == pytest.approx(math.pi * 30, rel=5e-4)
    assert len(slots) == (1 if release == "R12" else 2)
    for shape in slots:
        assert shape.paths[0].closed
        assert shape.length_mm == pytest.approx(80 + 12 * math.pi, rel=1e-3)
        assert shape.paths[0].signed_area_mm2 == pytest.approx(480 + 36 * math.pi, rel=1e-3)


@pytest.mark.parametrize("release", NEWER)
def test_ellipse_area_and_perimeter(tmp_path: Path, release: str) -> None:
    """Perimeter 4 a E(m), E(3/4) = 1.2110560 (Abramowitz and Stegun, table 17.1)."""
    document = new(release, units=4)
    model = document.modelspace()
    model.add_ellipse((3, 4), (30 * math.cos(1), 30 * math.sin(1)), 0.5)
    model.add_ellipse((3, 4), (0, 30), 0.5, 0, math.pi)
    whole, half = read(tmp_path, document)
    assert whole.paths[0].signed_area_mm2 == pytest.approx(math.pi * 30 * 15, rel=1e-3)
    assert whole.length_mm == pytest.approx(4 * 30 * 1.2110560, rel=1e-3)
    assert half.length_mm == pytest.approx(2 * 30 * 1.2110560, rel=1e-3)
    assert half.paths[0].bounds_mm == pytest.approx((-12, -26, 3, 34), abs=0.011)


@pytest.mark.parametrize("release", NEWER)
def test_rational_spline_is_an_exact_circle(tmp_path: Path, release: str) -> None:
    """A full circle of nine weighted points (Piegl and Tiller, *The NURBS Book*, section 7.5)."""
    corner = math.sqrt(0.5)
    points = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    document = new(release, units=4)
    document.modelspace().add_rational_spline(
        [(25 * x, 25 * y) for x, y in points],
        [1, corner] * 4 + [1],
        degree=2,
        knots=[0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4],
    )
    (shape,) = read(tmp_path, document)
    radii = np.hypot(*shape.paths[0].points.T)
    assert shape.paths[0].closed
    assert np.abs(radii - 25).max() < 1e-9
    assert shape.paths[0].signed_area_mm2 == pytest.approx(math.pi * 625, rel=1e-3)


@pytest.mark.parametrize("release", RELEASES)
def test_area_scales_by_the_determinants_of_nested_blocks(tmp_path: Path, release: str) -> None:
    document = new(release)
    document.header["$INSUNITS"] = 4
    document.blocks.new("disc").add_circle((4, 1), 2)
    outer = document.blocks.new("outer")
    outer.add_blockref("disc", (1, 2), dxfattribs={"xscale": 2.5, "yscale": -1.5, "rotation": 30})
    document.modelspace().add_blockref(
        "outer", (50, 60), dxfattribs={"xscale": -3, "yscale": 2, "rotation": -70}
    )
    (shape,) = read(tmp_path, document, 1.0 if release == "R12" else None)
    assert abs(shape.paths[0].signed_area_mm2) == pytest.approx(
        math.pi * 4 * 2.5 * 1.5 * 3 * 2, rel=1e-3
    )


def everything(model: BaseLayout, release: str, *, fit_points: bool = True) -> None:
    """Draw one of each kind of line, away from the origin and of no symmetry."""
    down = {"extrusion": (0, 0, -1)}
    model.add_line((1, 2), (8, 5))
    model.add_arc((10, 3), 7, 200, 20)
    model.add_arc((10, 3), 7, 200, 20, dxfattribs=down)
    model.add_circle((30, -4), 3)
    corners = [(0, 0, 0.3), (10, 2, -1.7), (14, 9, 0), (3, 12, 0.05)]
    model.add_polyline2d(corners, format="xyb", close=True)
    model.add_polyline2d(corners, format="xyb", dxfattribs=down)
    model.add_polyline3d([(0, 0), (5, 7), (9, 1)])
    if release == "R12":
        return
    model.add_lwpolyline(corners, format="xyb", close=True)
    model.add_lwpolyline(corners, format="xyb", dxfattribs=down)
    model.add_ellipse((5, 5), (6, 2), 0.35, 0.4, 5.5)
    model.add_ellipse((5, 5), (6, 2), 0.35, 0.4, 5.5, dxfattribs=down)
    frame = [(0, 0, 0), (3, 9, 0), (8, -6, 0), (14, 5, 0), (18, 1, 0), (11, -8, 0)]
    model.add_open_spline(frame)
    model.add_open_spline(frame, degree=5)
    model.add_rational_spline(frame, [1, 4, 0.5, 2, 1, 3])
    if fit_points:
        model.add_spline(frame)


def entities(model: BaseLayout) -> Iterator[DXFEntity]:
    """Everything drawn, blocks taken apart by ezdxf itself."""
    waiting: list[DXFEntity] = list(model)
    while waiting:
        entity = waiting.pop(0)
        if isinstance(entity, Insert):
            waiting[:0] = entity.virtual_entities()
        else:
            yield entity


def flattened_by_ezdxf(entity: DXFEntity) -> shapely.LineString:
    # its path of a spline is a cubic approximation of it, its construction tool is the spline
    drawn = entity.construction_tool() if isinstance(entity, Spline) else ezpath.make_path(entity)
    return shapely.LineString([(v.x, v.y) for v in drawn.flattening(CHORD_MM / 10, segments=16)])


@pytest.mark.parametrize("placed", ["plain", "mirrored", "stretched", "nested", "extruded"])
@pytest.mark.parametrize("release", RELEASES)
def test_same_lines_as_ezdxf_draws(tmp_path: Path, release: str, placed: str) -> None:
    document = new(release)
    document.header["$INSUNITS"] = 4
    model = document.modelspace()
    if placed == "plain":
        everything(model, release)
    else:
        # Where ezdxf stretches a spline it moves the fit points and then finds another curve
        # through them, since their distances have changed; a placed block keeps its curve.
        inner = document.blocks.new("inner", base_point=(2, 1))
        everything(inner, release, fit_points=placed != "stretched")
        place: dict[str, object] = {"rotation": 33, "xscale": 1.5, "yscale": 1.5, "zscale": 1.5}
        if placed == "mirrored":
            place["xscale"] = -1.5
        elif placed == "stretched":
            place |= {"xscale": -2, "yscale": 0.7}
        elif placed == "extruded":
            place["extrusion"] = (0, 0, -1)
        block = "inner"
        if placed == "nested":
            document.blocks.new("outer").add_blockref("inner", (4, -3), dxfattribs=place)
            block, place = "outer", {"rotation": 90, "xscale": 2, "yscale": -2, "zscale": 2}
        model.add_blockref(block, (100, 50), dxfattribs=place)

    ours = read(tmp_path, document, 1.0 if release == "R12" else None)
    reread = readfile(tmp_path / "drawing.dxf").modelspace()
    theirs = [flattened_by_ezdxf(entity) for entity in entities(reread)]
    lines = [shapely.LineString(shape.paths[0].line) for shape in ours]
    assert len(lines) == (7 if release == "R12" else 15 - (placed == "stretched"))
    if placed == "stretched":  # ezdxf takes polylines apart when their arcs become elliptic
        assert math.fsum(line.length for line in lines) == pytest.approx(
            math.fsum(line.length for line in theirs), rel=1e-3
        )
        lines, theirs = [shapely.union_all(lines)], [shapely.union_all(theirs)]
    for line, reference in zip(lines, theirs, strict=True):
        # ezdxf turns arcs into Bézier curves, off by up to 3e-4 of the radius (here up to 21 mm).
        assert line.hausdorff_distance(reference) < CHORD_MM + 21 * 3e-4
        assert line.length == pytest.approx(reference.length, rel=2e-3)


@pytest.mark.parametrize("release", NEWER)
def test_closed_spline_is_the_periodic_one(tmp_path: Path, release: str) -> None:
    """Uniform cubic B-spline in matrix form (Farin, *Curves and Surfaces for CAGD*, chapter 8)."""
    frame = np.array([(0, 0), (3, 9), (8, -6), (14, 5), (18, 1), (11, -8)], dtype=float)
    document = new(release, units=4)
    document.modelspace().add_spline().set_closed([(x, y, 0) for x, y in frame])
    (shape,) = read(tmp_path, document)
    t = np.linspace(0, 1, 500, endpoint=False)[:, None]
    basis = (
        (1 - t) ** 3 / 6,
        (3 * t**3 - 6 * t**2 + 4) / 6,
        (-3 * t**3 + 3 * t**2 + 3 * t + 1) / 6,
        t**3 / 6,
    )
    spans = [sum(weight * frame[(i + k) % 6] for k, weight in enumerate(basis)) for i in range(6)]
    exact = shapely.LinearRing(np.vstack(spans))
    assert shape.paths[0].closed
    assert shapely.LinearRing(shape.paths[0].points).hausdorff_distance(exact) < 1.1 * CHORD_MM
    assert shape.length_mm == pytest.approx(exact.length, rel=1e-3)
