"""Lines, areas and parts of a drawing as path data for the screen.

Coordinates are the view's: mm from the upper left corner of everything that is drawn, y downwards.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.drawing.model import Drawing, Shape
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.regions import rings_of
from kerfwright.output import path_data
from kerfwright.output.beam_lines import simplified
from kerfwright.parts.marks import marks_of
from kerfwright.parts.model import Part

STEPS_ACROSS = 16_000
"""Steps of the coordinates along the longer side: four to a pixel of a wide screen, zoomed in."""

LINE_CHARACTERS = 700_000
"""Path data of all lines together; beyond it they are simplified further."""

PART_CHARACTERS = 300_000


@dataclass(frozen=True, slots=True)
class View:
    """What is looked at: the page and whatever lies beside it, in the drawing's mm, y upwards."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float

    @property
    def step_mm(self) -> float:
        """One step of the coordinates."""
        return max(self.width_mm, self.height_mm, 1e-6) / STEPS_ACROSS

    @property
    def decimals(self) -> int:
        """Decimals that the coordinates are written with."""
        return int(np.clip(math.ceil(-math.log10(self.step_mm)), 0, 6))

    def points(self, points: FloatArray) -> FloatArray:
        """Points of shape (n, 2) in the view."""
        return np.column_stack([points[:, 0] - self.left_mm, self.top_mm - points[:, 1]])

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """One place in the view, rounded to its steps."""
        decimals = self.decimals
        return round(x_mm - self.left_mm, decimals), round(self.top_mm - y_mm, decimals)

    def data(self, lines: Sequence[tuple[int, FloatArray]], count: int, most: int) -> list[str]:
        """Path data for each of ``count`` owners; ``lines`` are (owner, points in drawing's mm)."""
        pieces: list[list[str]] = [[] for _ in range(count)]
        long_enough = [(owner, line) for owner, line in lines if len(line) > 1]
        for owner, line in simplified(long_enough, 2.0 * self.step_mm, most):
            closed = len(line) > 3 and bool((line[0] == line[-1]).all())
            points = self.points(line)
            pieces[owner].append(path_data.subpath(points, closed=closed, decimals=self.decimals))
        return ["".join(some) for some in pieces]


def view_of(drawing: Drawing) -> View:
    """The view that shows a drawing's page and all of its lines and pictures."""
    corners = [np.array([[0.0, 0.0], [drawing.width_mm, drawing.height_mm]])]
    drawn = [path.points for shape in drawing.shapes for path in shape.paths if len(path.points)]
    drawn += [picture.corners_mm for picture in drawing.pictures]
    if drawn:
        points = np.vstack(drawn)
        low, high = points.min(axis=0), points.max(axis=0)
        size = np.array([drawing.width_mm, drawing.height_mm])
        # a drawing without a page, as DXF has none, keeps its places; its extent is its page
        corners = [np.vstack([low, high])]
        if np.abs(high - low - size).max() > 1e-6 * max(1.0, float(size.max())):
            corners.append(np.array([[0.0, 0.0], size]))
    low = np.min([box.min(axis=0) for box in corners], axis=0)
    high = np.max([box.max(axis=0) for box in corners], axis=0)
    wide, tall = np.maximum(high - low, 1e-3)
    return View(float(low[0]), float(high[1]), float(wide), float(tall))


def lines_of(shapes: Iterable[Shape], owner: int) -> list[tuple[int, FloatArray]]:
    """All lines of shapes, as drawn."""
    return [(owner, path.line) for shape in shapes for path in shape.paths]


def area_rings(
    shapes: Sequence[Shape], owner: int
) -> tuple[list[tuple[int, FloatArray]], set[str]]:
    """Rings of what shapes fill, and the names of those that fill anything.

    Outer rings turn one way and inner ones the other, so that all of them together filled by the
    nonzero rule show the union, as burning does.
    """
    marks = marks_of((), shapes, "").engraves
    areas = [shapely.orient_polygons(mark.area) for mark in marks]
    rings = [np.vstack([ring, ring[:1]]) for area in areas for ring in rings_of(area)]
    return [(owner, ring) for ring in rings], {mark.shape for mark in marks}


def part_lines(parts: Sequence[Part]) -> list[tuple[int, FloatArray]]:
    """Outlines and holes of parts, each owned by its part's place in the sequence."""
    return [
        (place, path.line)
        for place, part in enumerate(parts)
        for path in (part.outline, *part.holes)
    ]


def mark_lines(part: Part) -> list[tuple[int, FloatArray]]:
    """What is burned inside a part: scores are 0, engraved areas 1, slits 2, pictures 3."""
    scored: list[Path] = [path for mark in part.scores for path in mark.paths]
    rings = [
        np.vstack([ring, ring[:1]])
        for mark in part.engraves
        for ring in rings_of(shapely.orient_polygons(mark.area))
    ]
    frames = [np.vstack([mark.picture.corners_mm] * 2)[:5] for mark in part.photos]
    return [
        *((0, path.line) for path in scored),
        *((1, ring) for ring in rings),
        *((2, slit.line) for slit in part.slits),
        *((3, frame) for frame in frames),
    ]
