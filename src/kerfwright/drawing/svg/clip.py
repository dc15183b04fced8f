"""Areas outside which nothing shows, and what they leave of shapes.

A line goes with its middle: where that lies outside a clip it is not read, though a broad stroke
might still show. What is painted with both a fill and a line stays one shape, and its area is cut:
read as a line of its own, its edge would become a cut all of a sudden.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import shapely
from PIL import Image, ImageDraw
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.clipping import clipped_lines
from kerfwright.drawing.model import Paint, Picture, Shape
from kerfwright.drawing.svg.values import inverted
from kerfwright.geometry.affine import Affine, scaling
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.regions import as_area, filled, rings_of
from kerfwright.geometry.tolerances import JOIN_MM, SAME_MM

PAPER = "#ffffff"
"""White under a line is paper; the line is what is meant."""

EDGE_DOTS_PER_MM = 10.0
"""Dots to the mm with which the edge of a cut picture is followed."""

MOST_DOTS = 8000
"""Dots along a row or column up to which a picture is made finer."""


def is_line(paint: Paint) -> bool:
    """Whether a shape is a line, without an area that is to be seen."""
    return paint.stroke is not None and paint.fill in {None, PAPER}


class Region:
    """The area in mm within which something shows."""

    def __init__(self, area: BaseGeometry) -> None:
        area = as_area(area)
        self.area = area
        # a line drawn along the clip's own edge, flattened otherwise, lies inside
        self._wide = area.buffer(JOIN_MM / 2.0, join_style="mitre")
        self._is_box = len(shapely.get_coordinates(area)) == 5 and area.equals(area.envelope)
        self._has_holes = any(len(one.interiors) for one in area.geoms)
        shapely.prepare(self.area)
        shapely.prepare(self._wide)

    @classmethod
    def frame(cls, to_mm: Affine, width: float, height: float) -> Region:
        """The rectangle from (0, 0) to (width, height) in user units."""
        corners = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
        return cls(MultiPolygon([Polygon(to_mm.apply(corners))]))

    def left_of(self, shape: Shape) -> Shape | None:
        """Return what shows of a shape: the shape itself, one cut along the edge, or nothing."""
        lines = is_line(shape.paint)
        if self._holds(shape, lines=lines):
            return shape
        if self._misses(shape.paths):
            return None
        if lines:
            paths = clipped_lines(shape.paths, self.area)
            if len(paths) == len(shape.paths) and all(map(operator.is_, paths, shape.paths)):
                return shape
            return replace(shape, paths=paths) if paths else None
        paths = self._area_left(shape)
        return replace(shape, paths=paths) if paths else None

    def _area_left(self, shape: Shape) -> tuple[Path, ...]:
        area = shapely.intersection(filled(shape.paths, shape.paint.fill_rule), self.area)
        polygons = [one for one in as_area(area).geoms if one.area > SAME_MM * one.length / 2.0]
        # outlines and holes turn opposite ways, so that either fill rule gives the area
        turned = [shapely.geometry.polygon.orient(polygon) for polygon in polygons]
        return tuple(Path(ring, closed=True) for ring in rings_of(MultiPolygon(turned)))

    def left_of_picture(self, picture: Picture) -> Picture | None:
        """Return what shows of a picture: dots outside become transparent, which burns nothing."""
        whole = Polygon(picture.corners_mm)
        if shapely.covers(self._wide, whole):
            return picture
        picture = _fine(picture)
        back = inverted(picture.to_mm)
        shown = shapely.intersection(self.area, whole)
        if shown.area <= 0.0 or back is None:
            return None
        rows, columns = picture.grey.shape
        to_dots = scaling(columns, rows) @ back
        inside = Image.new("L", (columns, rows))
        pen = ImageDraw.Draw(inside)
        # islands come after the holes they lie in
        for polygon in sorted(as_area(shown).geoms, key=lambda one: -one.envelope.area):
            for ring, ink in [(polygon.exterior, 1), *((hole, 0) for hole in polygon.interiors)]:
                # the imaging library counts from the middles of dots
                dots = to_dots.apply(np.asarray(ring.coords)[:, :2]) - 0.5
                pen.polygon([(x, y) for x, y in dots.tolist()], fill=ink)
        return picture.only(np.asarray(inside) > 0)

    def _holds(self, shape: Shape, *, lines: bool) -> bool:
        left, low, right, high = self._wide.bounds
        if self.area.is_empty or not all(
            left <= x0 and low <= y0 and x1 <= right and y1 <= high
            for x0, y0, x1, y1 in (path.bounds_mm for path in shape.paths)
        ):
            return False
        if self._is_box:
            return True
        if not all(
            shapely.covers(self._wide, shapely.LineString(path.line if lines else _ring(path)))
            for path in shape.paths
        ):
            return False
        if lines or not self._has_holes:
            return True
        return bool(shapely.covers(self._wide, filled(shape.paths, shape.paint.fill_rule)))

    def _misses(self, paths: Sequence[Path]) -> bool:
        if self.area.is_empty:
            return True
        left, low, right, high = self.area.bounds
        return all(
            x1 <= left or right <= x0 or y1 <= low or high <= y0
            for x0, y0, x1, y1 in (_solid_bounds(path) for path in paths)
        )


def _fine(picture: Picture) -> Picture:
    """A picture whose dots are small enough to follow an edge, each divided if it has to be."""
    rows, columns = (
        max(min(math.ceil(EDGE_DOTS_PER_MM / max(per_mm, 1e-9)), most), 1)
        for per_mm, most in zip(
            picture.dots_per_mm[::-1], (MOST_DOTS // n for n in picture.grey.shape), strict=True
        )
    )
    if rows == columns == 1:
        return picture

    def divided(dots: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
        return dots.repeat(rows, axis=0).repeat(columns, axis=1)

    alpha = None if picture.alpha is None else divided(picture.alpha)
    return replace(picture, grey=divided(picture.grey), alpha=alpha)


def _ring(path: Path) -> FloatArray:
    """A path with its ends joined, as a fill joins them."""
    return np.vstack([path.points, path.points[:1]])


def _solid_bounds(path: Path) -> tuple[float, float, float, float]:
    """Bounds in which an upright or level line is not empty."""
    x0, y0, x1, y1 = path.bounds_mm
    return x0, y0, max(x1, np.nextafter(x0, np.inf)), max(y1, np.nextafter(y0, np.inf))
