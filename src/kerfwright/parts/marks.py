"""Takes the lines to score and the areas to engrave out of shapes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon

from kerfwright.drawing.model import Shape
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import filled
from kerfwright.parts.gathered import counted, gathered
from kerfwright.parts.model import EngraveMark, ScoreMark
from kerfwright.parts.outlines import cleaned, fill_is_meant, no_length_findings


@dataclass(frozen=True, eq=False, slots=True)
class Marks:
    """All marks of a drawing before it is known which part each belongs to."""

    scores: tuple[ScoreMark, ...]
    engraves: tuple[EngraveMark, ...]
    findings: tuple[Finding, ...]


def marks_of(scored: Iterable[Shape], engraved: Iterable[Shape], drawing: str) -> Marks:
    """Take lines to score and areas to engrave out of shapes."""
    findings: list[Finding] = []
    scores = []
    points: list[str] = []
    for shape in scored:
        paths, lost = cleaned(shape.paths)
        points += [shape.name] * lost
        if paths:
            scores.append(ScoreMark(shape.name, shape.layer, tuple(paths)))
    shapes = tuple(engraved)
    simple = _simple_areas(shapes)
    areas = [_engraved_area(shape, simple.get(index)) for index, shape in enumerate(shapes)]
    engraves = [
        EngraveMark(read.shape.name, read.shape.layer, read.area)
        for read in areas
        if not read.area.is_empty
    ]
    findings += no_length_findings(points, drawing)
    findings += gathered([_open_line(drawing, read) for read in areas if read.open_lines])
    findings += _area_findings(drawing, areas)
    return Marks(tuple(scores), tuple(engraves), tuple(findings))


@dataclass(frozen=True, eq=False, slots=True)
class _EngravedArea:
    shape: Shape
    area: MultiPolygon
    open_lines: tuple[Path, ...]
    by_lines: bool


def _simple_areas(shapes: Sequence[Shape]) -> dict[int, MultiPolygon]:
    """Areas of shapes that are one closed line without crossings, by their place in ``shapes``.

    They need no clipping, and there may be thousands of them.
    """
    rings = [
        (index, shape.paths[0].points)
        for index, shape in enumerate(shapes)
        if len(shape.paths) == 1 and shape.paths[0].closed and len(shape.paths[0].points) > 2
    ]
    if not rings:
        return {}
    owner = np.repeat(np.arange(len(rings)), [len(points) for _, points in rings])
    lines = shapely.linearrings(np.concatenate([points for _, points in rings]), indices=owner)
    polygons = shapely.polygons(lines)
    sound = np.flatnonzero(shapely.is_valid(polygons))
    turned = shapely.orient_polygons(polygons[sound])
    areas = shapely.multipolygons(turned, indices=np.arange(len(turned)))
    return {rings[at][0]: area for at, area in zip(sound.tolist(), areas, strict=True)}


def _engraved_area(shape: Shape, simple: MultiPolygon | None) -> _EngravedArea:
    if fill_is_meant(shape.paint):
        area = filled(shape.paths, shape.paint.fill_rule) if simple is None else simple
        return _EngravedArea(shape, area, (), False)
    closed = [path for path in shape.paths if path.closed]
    open_lines = tuple(path for path in shape.paths if not path.closed)
    area = filled(closed, "evenodd") if simple is None else simple
    return _EngravedArea(shape, area, open_lines, True)


def _open_line(drawing: str, read: _EngravedArea) -> Finding:
    x_mm, y_mm = read.open_lines[0].points[0]
    return Finding(
        Severity.STOP,
        "parts/engrave-open-line",
        f'"{read.shape.name}" is to be engraved, but has an open line without fill, which encloses '
        "no area.",
        'Give it the process "score" to burn along the line, or close and fill it in the drawing.',
        drawing=drawing,
        shape=read.shape.name,
        x_mm=float(x_mm),
        y_mm=float(y_mm),
        count=len(read.open_lines),
    )


def _area_findings(drawing: str, areas: Sequence[_EngravedArea]) -> list[Finding]:
    by_lines = [read.shape.name for read in areas if read.by_lines and not read.area.is_empty]
    empty = [read.shape.name for read in areas if read.area.is_empty and not read.open_lines]
    return counted(
        Severity.NOTE,
        "parts/area-from-lines",
        by_lines,
        ("shape", "shapes"),
        " to be engraved without fill: the area between the closed lines is engraved, every "
        "second ring left free.",
        'To burn along the lines instead, give them the process "score".',
        drawing=drawing,
    ) + counted(
        Severity.WARN,
        "parts/no-area",
        empty,
        ("shape", "shapes"),
        " to be engraved without any area: left out.",
        'Delete it, or give it the process "score" if the line is meant.',
        drawing=drawing,
    )
