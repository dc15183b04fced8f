"""Does a program burn the wanted pictures, each place as dark as it should be?

The check is independent of how photos are planned: it never lays a picture on rows. The burned
length is summed in square blocks and compared with what the picture's dots ask for there, so that
a picture that is shifted, turned, mirrored, inverted or left out is found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import MultiPolygon

from kerfwright.drawing.model import Picture
from kerfwright.engraving.photo_cells import PhotoPlace, wanted_darkness
from kerfwright.engraving.tone import Tone, tone_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area
from kerfwright.plan import PlannedSheet
from kerfwright.program.burned import Burns
from kerfwright.program.near import sampled
from kerfwright.shop.material import Recipe

BLOCK_INTERVALS = 32
"""Side of a block. One row more or less in it is a thirty-second of its darkness."""

SAMPLES_ACROSS = 12
"""Points on a side of a block at which the wanted darkness is looked at."""

FULL_SHARE = 0.6
"""Of a block must lie in the picture, or its few dots tell nothing."""

TOLERANCE = 0.1
"""Of a block's share: rows and dots at its edges, and the step of dot masks."""

FEW_DOTS = 256
"""With fewer in a block the tolerance grows as the square root of what is missing."""

TOLERANCE_OF_METHOD = {"atkinson": 0.3, "ordered": 0.2, "blue-noise": 0.15}
"""Atkinson's kernel makes light tones lighter and dark ones darker, on purpose. Masks beat with
fine stripes of a picture."""


@dataclass(frozen=True, slots=True)
class WrongBlock:
    """A place of a picture that is burned too much or too little."""

    picture: str
    burned: float
    least: float
    most: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, eq=False, slots=True)
class _Blocks:
    """Square blocks over an area: corner, side in mm, columns and rows."""

    x0: float
    y0: float
    side: float
    columns: int
    rows: int

    def sums(self, points: FloatArray, weights: FloatArray) -> FloatArray:
        """Sum of weights in every block, shape (rows · columns,)."""
        column = ((points[:, 0] - self.x0) / self.side).astype(np.int64)
        row = ((points[:, 1] - self.y0) / self.side).astype(np.int64)
        within = (column >= 0) & (column < self.columns) & (row >= 0) & (row < self.rows)
        index = row[within] * self.columns + column[within]
        count = self.columns * self.rows
        return np.bincount(index, weights[within], minlength=count).astype(np.float64)

    def areas(self, area: MultiPolygon) -> FloatArray:
        """Part of an area that lies in every block, in mm²."""
        row, column = np.divmod(np.arange(self.columns * self.rows), self.columns)
        x, y = self.x0 + column * self.side, self.y0 + row * self.side
        boxes = shapely.box(x, y, x + self.side, y + self.side)
        shapely.prepare(area)
        whole = shapely.covers(area, boxes)
        found = np.full(len(boxes), self.side**2)
        found[~whole] = shapely.area(shapely.intersection(boxes[~whole], area))
        return found

    def middle(self, block: int) -> tuple[float, float]:
        """Middle of a block."""
        row, column = divmod(block, self.columns)
        return self.x0 + (column + 0.5) * self.side, self.y0 + (row + 0.5) * self.side


def wrong_blocks(burns: Burns, sheet: PlannedSheet, recipe: Recipe) -> list[WrongBlock]:
    """Blocks of a sheet's pictures that are not as dark as wanted; ``burns`` are the photos'."""
    interval = recipe.interval_mm or 1.0
    tone = tone_of(recipe)
    samples = sampled(burns.ends, 2.0 * interval)
    burned = samples.length_mm * interval / recipe.passes
    if not tone.dots:
        burned *= tone.darkness_of(burns.power)[samples.piece]
    return [
        wrong
        for place in sheet.intended.photos
        if not place.area.is_empty
        for wrong in _wrong(place, samples.points, burned, tone, recipe, interval)
    ]


def _wrong(
    place: PhotoPlace,
    points: FloatArray,
    burned: FloatArray,
    tone: Tone,
    recipe: Recipe,
    interval: float,
) -> list[WrongBlock]:
    blocks = _blocks(place.area, BLOCK_INTERVALS * interval)
    area = blocks.areas(place.area)
    least, most = _asked(place, blocks, tone, recipe)
    reached = as_area(place.area.buffer(interval / 2.0))
    shapely.prepare(reached)
    own = _inside(reached, points)
    share = blocks.sums(points[own], burned[own]) / np.maximum(area, 1e-12)
    slack = _slack(place.area, area, recipe)
    enough = min(FULL_SHARE * blocks.side**2, 0.9 * float(area.max()))
    wrong = (area >= enough) & ((share < least - slack) | (share > most + slack))
    return [
        WrongBlock(
            place.picture.name,
            float(share[block]),
            float(least[block]),
            float(most[block]),
            *blocks.middle(int(block)),
        )
        for block in np.flatnonzero(wrong)
    ]


def _slack(whole: MultiPolygon, area: FloatArray, recipe: Recipe) -> FloatArray:
    """Tolerance of every block: wider where there are few dots, or few from edge to edge.

    Error diffusion needs some dots from an edge until it has the tone, and loses at the other
    edge what it has not yet set.
    """
    interval = recipe.interval_mm or 1.0
    dots = area / (interval * max(recipe.dot_mm or interval, interval))
    few = np.sqrt(FEW_DOTS / np.maximum(dots, 1.0))
    narrow = BLOCK_INTERVALS * interval / max(4.0 * whole.area / whole.length, interval)
    wider: FloatArray = np.maximum(np.maximum(few, narrow), 1.0)
    return TOLERANCE_OF_METHOD.get(recipe.method, TOLERANCE) * wider


def _blocks(area: MultiPolygon, side: float) -> _Blocks:
    x0, y0, x1, y1 = area.bounds
    columns, rows = (max(1, round(span / side)) for span in (x1 - x0, y1 - y0))
    return _Blocks(x0, y0, side, columns, rows)


def _asked(
    place: PhotoPlace, blocks: _Blocks, tone: Tone, recipe: Recipe
) -> tuple[FloatArray, FloatArray]:
    """Least and most share that every block may be burned.

    By power darkness itself is compared. The share of dots is bent by the tone's curve, before
    or after the picture's own dots are averaged: what is burned lies between the two.
    """
    darkness = wanted_darkness(place.picture, invert=recipe.invert).astype(np.float64)
    bent = tone.strength_for(darkness) if tone.dots else darkness
    points, (plain, curved) = _spread(place.picture, (darkness, bent), blocks.side / SAMPLES_ACROSS)
    shapely.prepare(place.area)
    inside = _inside(place.area, points)
    points = points[inside]
    count = np.maximum(blocks.sums(points, np.ones(len(points))), 1.0)
    averaged = blocks.sums(points, plain[inside]) / count
    if tone.dots:
        averaged = tone.strength_for(averaged)
    raw = blocks.sums(points, curved[inside]) / count
    return np.minimum(averaged, raw), np.maximum(averaged, raw)


def _spread(
    picture: Picture, values: tuple[FloatArray, FloatArray], step_mm: float
) -> tuple[FloatArray, list[FloatArray]]:
    """Points evenly over a picture about ``step_mm`` apart, and the means there."""
    rows, columns = picture.grey.shape
    width, height = picture.size_mm
    down, across = (
        max(1, int(step_mm / max(size / count, 1e-9)))
        for size, count in ((height, rows), (width, columns))
    )
    down, across = min(down, rows), min(across, columns)
    pooled = [_pooled(table, down, across) for table in values]
    high, wide = pooled[0].shape
    split_y, split_x = (
        max(1, math.ceil(size / count / step_mm)) for size, count in ((height, high), (width, wide))
    )
    v = (np.arange(high * split_y) + 0.5) / split_y * down / rows
    u = (np.arange(wide * split_x) + 0.5) / split_x * across / columns
    # the last pooled row may stand for fewer dots than the others
    grid_u, grid_v = np.meshgrid(u, v)
    shown = (grid_u < 1.0) & (grid_v < 1.0)
    points = picture.to_mm.apply(np.column_stack([grid_u[shown], grid_v[shown]]))
    spread = [table.repeat(split_y, axis=0).repeat(split_x, axis=1)[shown] for table in pooled]
    return points, spread


def _pooled(table: FloatArray, down: int, across: int) -> FloatArray:
    """Mean of every ``down`` by ``across`` dots."""
    rows, columns = table.shape
    tops, lefts = np.arange(0, rows, down), np.arange(0, columns, across)
    sums = np.add.reduceat(np.add.reduceat(table, tops, axis=0), lefts, axis=1)
    high, wide = np.diff(np.append(tops, rows)), np.diff(np.append(lefts, columns))
    means: FloatArray = sums / (high[:, None] * wide[None, :])
    return means


def _inside(area: MultiPolygon, points: FloatArray) -> npt.NDArray[np.bool_]:
    x0, y0, x1, y1 = area.bounds
    near = (points[:, 0] >= x0) & (points[:, 0] <= x1) & (points[:, 1] >= y0) & (points[:, 1] <= y1)
    near[near] = shapely.contains_xy(area, *points[near].T)
    return np.asarray(near)
