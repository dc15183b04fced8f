"""Takes the lines to score and the areas to engrave out of shapes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

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
    areas = [_engraved_area(shape) for shape in engraved]
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


def _engraved_area(shape: Shape) -> _EngravedArea:
    if fill_is_meant(shape.paint):
        return _EngravedArea(shape, filled(shape.paths, shape.paint.fill_rule), (), False)
    closed = [path for path in shape.paths if path.closed]
    open_lines = tuple(path for path in shape.paths if not path.closed)
    return _EngravedArea(shape, filled(closed, "evenodd"), open_lines, True)


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
