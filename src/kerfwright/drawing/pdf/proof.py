"""Compares what was read of a PDF page with the page as the library draws it whole.

Reading asks the library object by object; whatever slips through that (soft masks of whole
groups, objects of a kind that it does not tell) shows as a difference here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from PIL import Image, ImageDraw
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.model import Picture, Shape
from kerfwright.drawing.pdf.look import Sight
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area, filled

PAGE_DOTS = 1200
"""Dots along the longer side of the page that is compared."""

SLACK_DOTS = 3
"""Edges may differ by this much: blur, rounding, thin lines drawn a dot wide."""

LEAST_DOTS = 12
"""Smaller differences are specks of rounding."""

_FAINT = 16
_MITRE_LIMIT = 10.0
"""The page's own limit is not asked for: 10 is where it starts (ISO 32000-1, table 52)."""

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Differences:
    """Places in mm: where something shows that was not read, and the other way round."""

    unread: tuple[tuple[float, float], ...]
    unseen: tuple[tuple[float, float], ...]


def differences(
    whole: Sight, shapes: Sequence[Shape], pictures: Sequence[Picture], uncut: Sequence[Shape]
) -> Differences:
    """Compare the page as drawn with what was read of it.

    ``uncut`` are shapes before they were cut along a clip: a wide line may show inside its clip
    where its middle, which is read, lies outside.
    """
    alpha = whole.rgba[..., 3]
    may, must = _Canvas(whole), _Canvas(whole)
    for shape in shapes:
        _cover(shape, may, must, whole.dots_per_mm)
    for shape in uncut:
        _cover(shape, may, None, whole.dots_per_mm)
    for picture in pictures:
        may.area(shapely.Polygon(picture.corners_mm))
    unread = (alpha >= _FAINT) & ~_widened(may.dots)
    unseen = must.dots & ~_widened(alpha > 0)
    return Differences(_places(unread, whole), _places(unseen, whole))


def _cover(shape: Shape, may: _Canvas, must: _Canvas | None, dots_per_mm: float) -> None:
    """Cover all that a shape may ink, ends and corners as long as they can be, and what it must.

    Patterns may have gaps, so they must not ink anything.
    """
    paint = shape.paint
    if paint.fill is not None:
        area = filled(shape.paths, paint.fill_rule)
        may.area(area)
        if must is not None and paint.fill.startswith("#"):
            must.area(area)
    if paint.stroke is None:
        return
    half_mm = (paint.stroke_width_mm or 0.0) / 2.0
    for line in _lines(shape):
        may.line(line)
        if half_mm * dots_per_mm > SLACK_DOTS:
            wide = line.buffer(
                half_mm, cap_style="square", join_style="mitre", mitre_limit=_MITRE_LIMIT
            )
            may.area(wide)
        if must is not None and paint.stroke.startswith("#"):
            must.line(line)


def _lines(shape: Shape) -> list[shapely.LineString]:
    return [shapely.LineString(path.line) for path in shape.paths if len(path.line) > 1]


def _widened(dots: Mask) -> Mask:
    wide = ndimage.maximum_filter(dots.view(np.uint8), size=2 * SLACK_DOTS + 1)
    return np.asarray(wide, dtype=np.bool_)


def _places(dots: Mask, sight: Sight) -> tuple[tuple[float, float], ...]:
    """Middles of the patches that are large enough to mean something."""
    if not dots.any():
        return ()
    labels, count = ndimage.label(dots, structure=np.ones((3, 3)))
    sizes = np.bincount(labels.ravel(), minlength=count + 1)[1:]
    large = np.flatnonzero(sizes >= LEAST_DOTS) + 1
    if not len(large):
        return ()
    middles = np.atleast_2d(np.asarray(ndimage.center_of_mass(dots, labels, large)))
    return tuple(
        (
            sight.left_mm + (float(column) + 0.5) / sight.dots_per_mm,
            sight.top_mm - (float(row) + 0.5) / sight.dots_per_mm,
        )
        for row, column in middles.tolist()
    )


class _Canvas:
    """Dots that areas and lines cover."""

    def __init__(self, sight: Sight) -> None:
        self._sight = sight
        self.dots: Mask = np.zeros(sight.rgba.shape[:2], dtype=np.bool_)

    def area(self, area: BaseGeometry) -> None:
        """Cover an area, leaving its holes."""
        for polygon in as_area(area).geoms:
            rings = [polygon.exterior, *polygon.interiors]
            self._draw([self._to_dots(np.asarray(ring.coords)[:, :2]) for ring in rings], True)

    def line(self, line: BaseGeometry) -> None:
        """Cover a line a dot wide."""
        self._draw([self._to_dots(np.asarray(line.coords)[:, :2])], False)

    def _to_dots(self, points_mm: FloatArray) -> FloatArray:
        sight = self._sight
        x = (points_mm[:, 0] - sight.left_mm) * sight.dots_per_mm - 0.5
        y = (sight.top_mm - points_mm[:, 1]) * sight.dots_per_mm - 0.5
        return np.column_stack([x, y])

    def _draw(self, rings: Sequence[FloatArray], closed: bool) -> None:
        rows, columns = self.dots.shape
        low = np.clip(np.floor(rings[0].min(axis=0)).astype(int) - 1, 0, (columns, rows))
        high = np.clip(np.ceil(rings[0].max(axis=0)).astype(int) + 2, 0, (columns, rows))
        width, height = (high - low).tolist()
        if width <= 0 or height <= 0:
            return
        patch = Image.new("1", (width, height))
        pen = ImageDraw.Draw(patch)
        for number, ring in enumerate(rings):
            xy: Iterable[tuple[float, float]] = map(tuple, (ring - low).tolist())
            if closed:
                pen.polygon(list(xy), fill=int(number == 0))
            else:
                pen.line(list(xy), fill=1)
        self.dots[low[1] : high[1], low[0] : high[0]] |= np.asarray(patch, dtype=np.bool_)
