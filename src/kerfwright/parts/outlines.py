"""From shapes that are to be cut to sound closed outlines and open cut lines."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import Polygon

from kerfwright.drawing.model import Paint, Shape
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import Path, without_repeats
from kerfwright.geometry.regions import as_area, filled, rings_of
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.parts.containment import contain, is_sliver
from kerfwright.parts.gathered import counted, gathered
from kerfwright.parts.paper import WHITE


@dataclass(frozen=True, eq=False, slots=True)
class Outline:
    """A closed cut line: sound, so that ``polygon`` is valid."""

    shape: str
    path: Path
    polygon: Polygon


@dataclass(frozen=True, eq=False, slots=True)
class OpenCut:
    """A cut line with two ends."""

    shape: str
    path: Path


@dataclass(eq=False, slots=True)
class CutLines:
    """Everything to be cut, and what had to be said about it."""

    outlines: list[Outline] = field(default_factory=list)
    open_cuts: list[OpenCut] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def cut_lines(shapes: Iterable[Shape], drawing: str) -> CutLines:
    """Take the cut lines out of ``shapes``.

    A line is followed as drawn. Where a shape is filled the edge of the filled area is meant, so
    its subpaths are closed as SVG 1.1 section 11.3 closes them, and subpaths that overlap are
    joined; subpaths that do not overlap stay as they are.
    """
    lines = CutLines()
    rings: list[tuple[Shape, Path]] = []
    empty: list[str] = []
    closed: list[str] = []
    joined: list[str] = []
    for shape in shapes:
        paths, lost = cleaned(shape.paths)
        empty += [shape.name] * lost
        if fill_is_meant(shape.paint):
            if any(not path.closed and len(path.points) > 2 for path in paths):
                closed.append(shape.name)
            paths = [replace(path, closed=len(path.points) > 2) for path in paths]
            if sum(path.closed for path in paths) > 1:
                paths, changed = _edge_of_fill(paths, shape.paint)
                joined += [shape.name] * changed
        rings += [(shape, path) for path in paths if path.closed]
        lines.open_cuts += [OpenCut(shape.name, path) for path in paths if not path.closed]
    _add_sound_outlines(lines, rings, drawing)
    lines.findings += no_length_findings(empty, drawing)
    lines.findings += _fill_findings(closed, joined, drawing)
    return lines


def fill_is_meant(paint: Paint) -> bool:
    """Whether the filled area is what the shape shows; white under a line is only paper."""
    return paint.fill is not None and (paint.fill != WHITE or paint.stroke is None)


def cleaned(paths: Iterable[Path]) -> tuple[list[Path], int]:
    """Drop repeated points; return what has length, and how many paths had none."""
    kept = []
    lost = 0
    for path in paths:
        points = path.points
        if len(points) > 1 and _has_repeats(path):
            points = without_repeats(points, SAME_MM, closed=path.closed)
        if len(points) < 2:
            lost += 1
        elif points is path.points and (len(points) > 2 or not path.closed):
            kept.append(path)
        else:
            kept.append(Path(points, path.closed and len(points) > 2))
    return kept, lost


def _has_repeats(path: Path) -> bool:
    points = path.points
    steps = points[1:] - points[:-1]
    if path.closed and math.dist(points[0], points[-1]) <= SAME_MM:
        return True
    return bool(((steps * steps).sum(axis=1) <= SAME_MM**2).any())


def no_length_findings(shapes: Sequence[str], drawing: str) -> list[Finding]:
    """Report lines that are only a point."""
    return counted(
        Severity.WARN,
        "parts/no-length",
        shapes,
        ("line is", "lines are"),
        " no longer than a point and left out.",
        "Delete them from the drawing, or draw a small circle where a hole is meant.",
        drawing=drawing,
    )


def _edge_of_fill(paths: list[Path], paint: Paint) -> tuple[list[Path], bool]:
    """Subpaths as they are, or the edge of what they fill together if that is something else."""
    closed = [path for path in paths if path.closed]
    area = filled(closed, paint.fill_rule)
    if area.is_empty or _each_bounds(closed, area.area):
        return paths, False
    edge = [Path(ring, closed=True) for ring in rings_of(area)]
    return [*edge, *(path for path in paths if not path.closed)], True


def _each_bounds(closed: list[Path], filled_mm2: float) -> bool:
    """Whether no line crosses another and every one has the fill on one of its sides only."""
    polygons = [Polygon(path.points) for path in closed]
    if not shapely.is_valid(polygons).all():
        return False
    lying = contain(polygons)
    if lying.crossings:
        return False
    live = [index for inside in lying.children().values() for index in inside]
    even_odd_mm2 = sum((-1) ** lying.depth[index] * polygons[index].area for index in live)
    length_mm = sum(path.length_mm for path in closed)
    return bool(abs(even_odd_mm2 - filled_mm2) <= SAME_MM * length_mm)


def _add_sound_outlines(lines: CutLines, rings: Sequence[tuple[Shape, Path]], drawing: str) -> None:
    if not rings:
        return
    points = np.concatenate([path.points for _, path in rings])
    owner = np.repeat(np.arange(len(rings)), [len(path.points) for _, path in rings])
    polygons = shapely.polygons(shapely.linearrings(points, indices=owner))
    mended: list[Finding] = []
    refused: list[Finding] = []
    for (shape, path), polygon, sound in zip(
        rings, polygons, shapely.is_valid(polygons), strict=True
    ):
        if sound:
            lines.outlines.append(Outline(shape.name, path, polygon))
            continue
        pieces = sorted(as_area(shapely.make_valid(polygon)).geoms, key=lambda piece: -piece.area)
        if not pieces:
            lines.open_cuts.append(OpenCut(shape.name, Path(path.points)))
            continue
        x_mm, y_mm = _trouble_spot(polygon)
        if pieces[0].interiors or any(not is_sliver(piece) for piece in pieces[1:]):
            refused.append(_crosses_itself(drawing, shape.name, x_mm, y_mm))
        else:
            mended.append(_mended(drawing, shape.name, x_mm, y_mm, path, pieces[0]))
        whole = Polygon(pieces[0].exterior)
        lines.outlines.append(
            Outline(shape.name, Path(shapely.get_coordinates(whole)[:-1], closed=True), whole)
        )
    lines.findings += gathered(refused) + gathered(mended)


def _trouble_spot(polygon: Polygon) -> tuple[float, float]:
    """Where the geometry library found an outline wanting."""
    numbers = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(polygon))
    if numbers is None:
        x_mm, y_mm = shapely.get_coordinates(polygon)[0]
        return float(x_mm), float(y_mm)
    return float(numbers[1]), float(numbers[2])


def _crosses_itself(drawing: str, shape: str, x_mm: float, y_mm: float) -> Finding:
    return Finding(
        Severity.STOP,
        "parts/outline-crosses-itself",
        f'the cut outline "{shape}" crosses or overlaps itself, so that inside and outside '
        "cannot be told apart.",
        "Untangle it in the drawing program, or unite its areas there into one outline.",
        drawing=drawing,
        shape=shape,
        x_mm=x_mm,
        y_mm=y_mm,
    )


def _mended(
    drawing: str, shape: str, x_mm: float, y_mm: float, path: Path, kept: Polygon
) -> Finding:
    return Finding(
        Severity.WARN,
        "parts/outline-mended",
        f'the cut outline "{shape}" touched or folded back on itself; '
        f"{max(path.length_mm - kept.length, 0.0):.2f} mm of line that bounds nothing was left "
        "out.",
        "Look at the place in the picture; delete the spike or loop in the drawing.",
        drawing=drawing,
        shape=shape,
        x_mm=x_mm,
        y_mm=y_mm,
    )


def _fill_findings(closed: list[str], joined: list[str], drawing: str) -> list[Finding]:
    filled_shapes = ("filled shape has", "filled shapes have")
    return counted(
        Severity.NOTE,
        "parts/closed-by-fill",
        closed,
        filled_shapes,
        " open lines; the edge of the filled area is cut, straight from end to end.",
        "Close the line in the drawing if the edge should run otherwise.",
        drawing=drawing,
    ) + counted(
        Severity.NOTE,
        "parts/fill-united",
        joined,
        filled_shapes,
        " overlapping lines; the edge of the area that they fill together is cut.",
        "To cut every line as drawn, take the fill away and give it a line.",
        drawing=drawing,
    )
