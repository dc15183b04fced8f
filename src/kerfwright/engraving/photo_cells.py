"""A picture laid on the grid that it is burned on: rows one interval apart, a dot's step along."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely
from shapely import MultiPolygon, Polygon

from kerfwright.drawing.model import Picture
from kerfwright.engraving.dither import dithered
from kerfwright.engraving.photo_kernel import cells_met, runs_of, sample_cells
from kerfwright.engraving.rows import edges_of
from kerfwright.engraving.rows_kernel import cross_rows
from kerfwright.engraving.tone import LEVELS, Tone, tone_of
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import Affine, rotation, scaling
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area
from kerfwright.parts.model import Part
from kerfwright.shop.material import Recipe

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

SHORT_MM = 1e-3
"""Runs this short come from edges that graze a cell; a controller's step is no finer."""

MOST_SAMPLES = 8
"""Along each side of a cell: finer pictures are averaged from as many dots as that."""

MOST_CELLS = 60_000_000
"""More come from an interval in the wrong unit, and would fill the memory."""

WORTH_BURNING_MM2 = 1e-3
"""What pictures leave of each other below this is the rounding of their edges."""


@dataclass(frozen=True, eq=False, slots=True)
class PhotoPlace:
    """A picture where it lies, and the area within which it is burned."""

    picture: Picture
    area: MultiPolygon


@dataclass(frozen=True, eq=False, slots=True)
class Cells:
    """Shades of a picture on a grid in the frame turned by ``-angle_deg``.

    ``darkness`` is 0 (bare) to 1, shape (rows, columns), row 0 the lowest; ``inside`` marks the
    cells that may be burned. Row i lies at ``y[i]`` and burns within the stretches
    ``x[start[i]:start[i + 1]]``; column j begins at ``x0 + j * step``.
    """

    angle_deg: float
    y: FloatArray
    x0: float
    step: float
    darkness: FloatArray
    inside: BoolArray
    start: IntArray
    x: FloatArray


@dataclass(frozen=True, eq=False, slots=True)
class Runs:
    """Burns along rows, sorted by row and from left to right, each with its power."""

    row: IntArray
    a: FloatArray
    b: FloatArray
    power: FloatArray


def photo_places(part: Part) -> tuple[PhotoPlace, ...]:
    """Where each photo of a part is burned: on its material, and once.

    A picture hides what lies under it, and engraved areas are left to the engraving.
    """
    engraved = shapely.union_all([mark.area for mark in part.engraves])
    left = shapely.difference(part.polygon, engraved)
    places = []
    for mark in reversed(part.photos):
        frame = Polygon(mark.picture.corners_mm)
        shown = as_area(shapely.intersection(left, frame))
        if shown.area <= WORTH_BURNING_MM2:
            shown = MultiPolygon()
        places.append(PhotoPlace(mark.picture, shown))
        left = shapely.difference(left, frame)
    return tuple(reversed(places))


def wanted_darkness(picture: Picture, *, invert: bool) -> npt.NDArray[np.float32]:
    """Darkness that every dot of a picture asks for, 0 (bare) to 1; transparent dots ask none."""
    grey = picture.grey.astype(np.float32)
    dark: npt.NDArray[np.float32] = np.float32(255.0) - grey
    if not invert:
        return dark / np.float32(255.0)
    if picture.alpha is None:
        return grey / np.float32(255.0)
    # grey lies over white: what is left without the white is the picture's own light
    own: npt.NDArray[np.float32] = picture.alpha.astype(np.float32) - dark
    return np.asarray(own.clip(0.0, 255.0) / 255.0, dtype=np.float32)


def cells_of(place: PhotoPlace, recipe: Recipe, angle_deg: float) -> Cells:
    """Lay a picture on the grid of its recipe, as far as its area reaches.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.
    """
    picture = place.picture
    interval = recipe.interval_mm or 0.0
    grid = bare_cells(place.area, interval, recipe.dot_mm or interval, angle_deg)
    frame = np.array([grid.x0, grid.y[0] - 0.5 * interval, grid.step, interval])
    shape = np.array(grid.darkness.shape)
    to_dots = _to_dots(picture) @ rotation(angle_deg)
    across, down = _dots_in_a_cell(to_dots, grid.step, interval)

    def sampled(dots: npt.NDArray[np.float32]) -> FloatArray:
        coarser = _pooled(dots, down, across)
        m = scaling(1.0 / across, 1.0 / down) @ to_dots
        numbers = np.array([m.a, m.b, m.c, m.d, m.e, m.f])
        return sample_cells(coarser, numbers, frame, shape, _samples(m, grid.step, interval))

    darkness = sampled(wanted_darkness(picture, invert=recipe.invert))
    inside = grid.inside
    if picture.alpha is not None:
        inside = inside & (sampled(picture.alpha.astype(np.float32)) > 0.5)
    return replace(grid, darkness=np.where(inside, darkness, 0.0), inside=inside)


def bare_cells(area: MultiPolygon, interval: float, step: float, angle_deg: float) -> Cells:
    """Lay a grid over an area, rows one interval apart and centred, nothing dark yet.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.
    """
    low_x, low_y, high_x, high_y = _bounds(area, rotation(-angle_deg))
    rows = max(1, math.ceil((high_y - low_y) / interval - 1e-6))
    columns = max(1, math.ceil((high_x - low_x) / step - 1e-6))
    if rows * columns > MOST_CELLS:
        raise KerfwrightError(
            "engraving/too-many-rows",
            file="recipe",
            thing=f"interval_mm = {interval:g} and dot_mm = {step:g} give {rows} rows of "
            f"{columns} dots for one area.",
            remedy=f"Use wider ones; at most {MOST_CELLS // 1_000_000} million dots are planned.",
        )
    first = 0.5 * (low_y + high_y) - 0.5 * (rows - 1) * interval
    x0 = 0.5 * (low_x + high_x) - 0.5 * columns * step
    start, x = cross_rows(edges_of(area, angle_deg), first, interval, rows)
    inside = cells_met(start, x, x0, step, columns, SHORT_MM)
    y = first + np.arange(rows, dtype=np.float64) * interval
    return Cells(angle_deg, y, x0, step, np.zeros((rows, columns)), inside, start, x)


def burned_runs(cells: Cells, recipe: Recipe) -> Runs:
    """Burns along the rows: dots side by side, or cells of one power, in one burn."""
    tone = tone_of(recipe)
    level = _dots(cells, recipe, tone) if tone.dots else _levels(cells)
    row, a, b, of = runs_of(level, cells.start, cells.x, cells.x0, cells.step, SHORT_MM)
    if tone.dots:
        return Runs(row, a, b, np.full(len(row), recipe.power))
    return Runs(row, a, b, tone.strength_for(np.arange(LEVELS + 1) / LEVELS)[of])


def _levels(cells: Cells) -> IntArray:
    return np.rint(cells.darkness * LEVELS).astype(np.int64)


def _dots(cells: Cells, recipe: Recipe, tone: Tone) -> IntArray:
    wanted = tone.strength_for(cells.darkness)
    return dithered(wanted, cells.inside, recipe.method).astype(np.int64)


def _bounds(area: MultiPolygon, turn: Affine) -> tuple[float, float, float, float]:
    points = turn.apply(shapely.get_coordinates(area))
    (low_x, low_y), (high_x, high_y) = points.min(axis=0), points.max(axis=0)
    return float(low_x), float(low_y), float(high_x), float(high_y)


def _to_dots(picture: Picture) -> Affine:
    """From the drawing's mm to dots, the inverse of the picture's placing."""
    m = picture.to_mm
    rows, columns = picture.grey.shape
    det = m.determinant
    back = Affine(
        m.d / det,
        -m.b / det,
        -m.c / det,
        m.a / det,
        (m.c * m.f - m.d * m.e) / det,
        (m.b * m.e - m.a * m.f) / det,
    )
    return Affine(a=columns, d=rows) @ back


def _dots_in_a_cell(to_dots: Affine, step: float, interval: float) -> tuple[int, int]:
    """How many of a fine picture's dots along and across may be taken together.

    A cell is sampled :data:`MOST_SAMPLES` times each way; finer dots would fall between.
    """
    columns = max(abs(to_dots.a) * step, abs(to_dots.c) * interval)
    rows = max(abs(to_dots.b) * step, abs(to_dots.d) * interval)
    return max(1, int(columns / MOST_SAMPLES)), max(1, int(rows / MOST_SAMPLES))


def _pooled(dots: npt.NDArray[np.float32], down: int, across: int) -> npt.NDArray[np.float32]:
    """Means of ``down`` by ``across`` dots; what is left over at the end is a group too."""
    if down == across == 1:
        return dots
    rows, columns = dots.shape
    tops, lefts = np.arange(0, rows, down), np.arange(0, columns, across)
    sums = np.add.reduceat(np.add.reduceat(dots, tops, axis=0), lefts, axis=1)
    high, wide = np.diff(np.append(tops, rows)), np.diff(np.append(lefts, columns))
    return np.asarray(sums / (high[:, None] * wide[None, :]), dtype=np.float32)


def _samples(to_dots: Affine, step: float, interval: float) -> int:
    """Samples along a cell's sides, so that they lie no farther apart than a dot."""
    across = max(
        math.hypot(to_dots.a, to_dots.b) * step, math.hypot(to_dots.c, to_dots.d) * interval
    )
    return int(min(max(math.ceil(across - 1e-6), 1), 2 * MOST_SAMPLES))
