"""A corpus of drawings against what ezdxf's own drawing add-on draws of them.

``ezdxf.addons.drawing`` walks layouts, blocks, layers and hatches by itself; a backend gathers the
lines and the filled areas that it is given, which must be those that are read here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path as FilePath

import numpy as np
import pytest
import shapely
from dxf_corpus import DRAWINGS, Sample, samples
from ezdxf.addons.drawing.backend import Backend, BkPath2d, BkPoints2d, ImageData
from ezdxf.addons.drawing.config import (
    BackgroundPolicy,
    Configuration,
    HatchPolicy,
    LinePolicy,
)
from ezdxf.addons.drawing.frontend import Frontend
from ezdxf.addons.drawing.properties import BackendProperties, RenderContext
from ezdxf.filemanagement import readfile
from ezdxf.math import Vec2
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.drawing.model import Drawing
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import filled

CHORD_MM = 0.01
FINE_MM = CHORD_MM / 20
ROUND_OFF_MM = 25 * 3e-4
"""ezdxf draws arcs as cubic Bézier curves; the corpus has no radius above 25 mm."""

SAMPLES = list(samples())


class Gathered(Backend):
    """Keeps what it is told to draw, by colour."""

    def __init__(self, unit_mm: float) -> None:
        super().__init__()
        self.unit_mm = unit_mm
        self.lines: dict[str, list[shapely.LineString]] = defaultdict(list)
        self.areas: dict[str, BaseGeometry] = defaultdict(shapely.MultiPolygon)

    def _line(self, points: Iterable[Vec2], colour: str) -> None:
        corners = [(p.x * self.unit_mm, p.y * self.unit_mm) for p in points]
        self.lines[colour[:7]].append(shapely.LineString(corners))

    def _flat(self, path: BkPath2d) -> list[Vec2]:
        return list(path.to_path().flattening(FINE_MM / self.unit_mm, segments=16))

    def draw_point(self, pos: Vec2, properties: BackendProperties) -> None:  # noqa: ARG002
        raise AssertionError("the corpus has no points")

    def draw_line(self, start: Vec2, end: Vec2, properties: BackendProperties) -> None:
        self._line((start, end), properties.color)

    def draw_solid_lines(
        self, lines: Iterable[tuple[Vec2, Vec2]], properties: BackendProperties
    ) -> None:
        for line in lines:
            self._line(line, properties.color)

    def draw_path(self, path: BkPath2d, properties: BackendProperties) -> None:
        self._line(self._flat(path), properties.color)

    def draw_filled_paths(self, paths: Iterable[BkPath2d], properties: BackendProperties) -> None:
        area: BaseGeometry = shapely.MultiPolygon()
        for path in paths:
            corners = [(p.x * self.unit_mm, p.y * self.unit_mm) for p in self._flat(path)]
            area = area.symmetric_difference(shapely.make_valid(shapely.Polygon(corners)))
        self.areas[properties.color[:7]] = self.areas[properties.color[:7]].union(area)

    def draw_filled_polygon(self, points: BkPoints2d, properties: BackendProperties) -> None:
        corners = [(p.x * self.unit_mm, p.y * self.unit_mm) for p in points.vertices()]
        area = shapely.Polygon(corners)
        self.areas[properties.color[:7]] = self.areas[properties.color[:7]].union(area)

    def draw_image(self, image_data: ImageData, properties: BackendProperties) -> None:  # noqa: ARG002
        raise AssertionError("the corpus has no images")

    def set_background(self, color: str) -> None:
        pass

    def clear(self) -> None:
        pass


def drawn_by_ezdxf(path: FilePath, unit_mm: float) -> Gathered:
    document = readfile(path)
    backend = Gathered(unit_mm)
    config = Configuration(
        background_policy=BackgroundPolicy.WHITE,
        hatch_policy=HatchPolicy.SHOW_SOLID,
        line_policy=LinePolicy.SOLID,
    )
    Frontend(RenderContext(document), backend, config).draw_layout(document.modelspace())
    return backend


def lines_by_colour(drawing: Drawing) -> dict[str, list[Path]]:
    lines = defaultdict(list)
    for shape in drawing.shapes:
        if shape.paint.stroke is not None:
            lines[shape.paint.stroke] += shape.paths
    return lines


def together(paths: Iterable[Path]) -> shapely.MultiLineString:
    return shapely.MultiLineString([path.line for path in paths])


def areas_by_colour(drawing: Drawing) -> dict[str, BaseGeometry]:
    areas: dict[str, BaseGeometry] = defaultdict(shapely.MultiPolygon)
    for shape in drawing.shapes:
        fill = shape.paint.fill
        if fill is not None:
            exact = [path.refined(FINE_MM) for path in shape.paths]
            areas[fill] = areas[fill].union(filled(exact, shape.paint.fill_rule))
    return areas


def furthest(points_of: BaseGeometry, other: BaseGeometry) -> float:
    """Largest distance of the first's corners from the second."""
    shapely.prepare(other)
    return float(shapely.distance(shapely.points(shapely.get_coordinates(points_of)), other).max())


@pytest.mark.parametrize("sample", SAMPLES, ids=str)
def test_lines_and_areas_are_those_that_ezdxf_draws(tmp_path: FilePath, sample: Sample) -> None:
    path = tmp_path / "drawing.dxf"
    sample.document().saveas(path, fmt="bin" if sample.binary else "asc")
    unit_mm = 25.4 if sample.insunits == 1 else 1.0
    # Release 12 has no $INSUNITS: the unit is given.
    drawing = read_dxf(path, CHORD_MM, unit_mm if sample.release == "R12" else None)
    theirs = drawn_by_ezdxf(path, unit_mm)

    lines = lines_by_colour(drawing)
    assert set(lines) == set(theirs.lines)
    for colour, gathered in theirs.lines.items():
        expected = shapely.MultiLineString(gathered)
        read = together(lines[colour])
        exact = together(path.refined(FINE_MM) for path in lines[colour])
        assert exact.length == pytest.approx(expected.length, rel=1e-3)
        assert furthest(read, expected) < ROUND_OFF_MM
        assert furthest(expected, read) < CHORD_MM + ROUND_OFF_MM

    areas = areas_by_colour(drawing)
    if "pattern" in areas:
        areas = {"any": shapely.union_all(list(areas.values()))}
        expected_areas = {"any": shapely.union_all(list(theirs.areas.values()))}
    else:
        expected_areas = theirs.areas
    assert set(areas) == set(expected_areas)
    for colour, area in expected_areas.items():
        assert areas[colour].area == pytest.approx(area.area, rel=1e-3)
        # what differs lies along the outline and is thin
        differing = areas[colour].symmetric_difference(area)
        assert differing.area < (FINE_MM + ROUND_OFF_MM) * area.length


@pytest.mark.parametrize("sample", SAMPLES, ids=str)
def test_exact_curves_are_the_points_they_stand_for(tmp_path: FilePath, sample: Sample) -> None:
    """A span's points lie on its curve at equal steps of the curve's parameter."""
    path = tmp_path / "drawing.dxf"
    sample.document().saveas(path)
    for shape in read_dxf(path, CHORD_MM, 1.0).shapes:
        for line in shape.paths:
            done = 0
            for span in line.spans:
                assert done <= span.first < span.last <= len(line.line) - 1
                done = span.last
                curve = span.curve.points(CHORD_MM * 4**-1)
                at = line.line[span.first : span.last + 1]
                assert np.abs(curve[0] - at[0]).max() < 1e-6
                assert np.abs(curve[-1] - at[-1]).max() < 1e-6
                exact = shapely.LineString(curve)
                strayed = shapely.distance(shapely.points(at), exact).max()
                assert strayed < CHORD_MM / 4 + 1e-9


def test_the_corpus_is_of_many_drawings_and_all_releases() -> None:
    assert len(DRAWINGS) >= 25
    releases = {sample.release for sample in SAMPLES}
    assert releases == {"R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"}
    assert any(sample.binary for sample in SAMPLES)
