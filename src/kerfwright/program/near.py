"""Straight pieces in the plane that can be asked what is near them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.program import kernel
from kerfwright.program.kernel import IntArray

CELL_MM = 0.5
MOST_CELLS = 2_000_000
"""Width of the search grid's cells, wider where that would make too many of them."""

BoolArray = npt.NDArray[np.bool_]


class Pieces:
    """Straight pieces (ax, ay, bx, by) of shape (n, 4), in mm."""

    def __init__(self, pieces: FloatArray) -> None:
        self.ends = np.ascontiguousarray(pieces, dtype=np.float64).reshape(-1, 4)
        corners = self.ends.reshape(-1, 2)
        low = corners.min(axis=0) if len(corners) else np.zeros(2)
        span = (corners.max(axis=0) if len(corners) else np.zeros(2)) - low
        cell = max(CELL_MM, math.sqrt(span[0] * span[1] / MOST_CELLS), span.max() / MOST_CELLS)
        nx, ny = (int(s / cell) + 1 for s in span)
        self.frame = np.array([low[0], low[1], cell, nx, ny])
        self.start, self.items = kernel.fill_grid(self.ends, low[0], low[1], cell, nx, ny)

    def __len__(self) -> int:
        return len(self.ends)

    def nearest(self, points: FloatArray, reach_mm: float) -> tuple[FloatArray, IntArray]:
        """Distance from points of shape (m, 2) to the nearest piece, and which: see the kernel."""
        return kernel.nearest(
            np.ascontiguousarray(points), self.ends, self.start, self.items, self.frame, reach_mm
        )

    def visits(
        self, points: FloatArray, directions: FloatArray, reach_mm: float, least_cosine: float
    ) -> tuple[IntArray, IntArray]:
        """How many pieces pass alongside every point and the last of them: see the kernel."""
        return kernel.visits(
            np.ascontiguousarray(points),
            np.ascontiguousarray(directions),
            self.ends,
            self.start,
            self.items,
            self.frame,
            reach_mm,
            least_cosine,
        )


class Lines(Pieces):
    """Lines as pieces that know their line and their neighbours."""

    def __init__(self, paths: tuple[Path, ...]) -> None:
        ends: list[FloatArray] = [np.empty((0, 4))]
        links: list[IntArray] = [np.empty((0, 4), dtype=np.int64)]
        count = 0
        for number, path in enumerate(paths):
            line = path.line
            if len(line):
                line = line[np.append([True], (np.diff(line, axis=0) != 0.0).any(axis=1))]
            n = len(line) - 1
            if n < 1:
                continue
            order = np.arange(n)
            ends.append(np.hstack([line[:-1], line[1:]]))
            links.append(
                np.column_stack(
                    [
                        np.full(n, number),
                        count + (order - 1) % n,
                        count + (order + 1) % n,
                        np.full(n, path.closed and n > 2),
                    ]
                )
            )
            count += n
        super().__init__(np.vstack(ends))
        self.links: IntArray = np.vstack(links)

    def on_size(
        self,
        points: FloatArray,
        *,
        half_kerf_mm: float,
        shared_mm: float,
        tolerance_mm: float,
        corner_limit: float,
    ) -> BoolArray:
        """Whether the beam at every point leaves the lines on size: see the kernel."""
        return kernel.on_size(
            np.ascontiguousarray(points),
            self.ends,
            self.links,
            self.start,
            self.items,
            self.frame,
            np.array([half_kerf_mm, shared_mm, tolerance_mm, corner_limit]),
        )


@dataclass(frozen=True, eq=False, slots=True)
class Samples:
    """Points on pieces: where, which way the piece runs, which piece, how much of it in mm."""

    points: FloatArray
    directions: FloatArray
    piece: IntArray
    length_mm: FloatArray

    def __len__(self) -> int:
        return len(self.points)


INSIDE_STEP = 0.4637
"""Where in its step a sample lies: no round fraction, so that it misses others' corners."""


def sampled(ends: FloatArray, step_mm: float) -> Samples:
    """Samples in the inside of pieces of shape (n, 4), at least one a piece."""
    delta = ends[:, 2:] - ends[:, :2]
    length = np.hypot(delta[:, 0], delta[:, 1])
    count = np.maximum(np.ceil(length / step_mm - 1e-9).astype(np.int64), 1)
    piece = np.repeat(np.arange(len(ends)), count)
    number = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
    share = (number + INSIDE_STEP) / count[piece]
    unit = delta / np.maximum(length, 1e-12)[:, None]
    return Samples(
        ends[piece, :2] + share[:, None] * delta[piece],
        unit[piece],
        piece,
        (length / count)[piece],
    )


def warm() -> None:
    """Compile the kernels of verification, or load them, before the first real work."""
    triangle = Path(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), closed=True)
    lines = Lines((triangle,))
    points = np.zeros((1, 2))
    lines.nearest(points, 1.0)
    lines.visits(points, points, 1.0, 0.5)
    lines.on_size(points, half_kerf_mm=0.1, shared_mm=0.1, tolerance_mm=0.1, corner_limit=4.0)
