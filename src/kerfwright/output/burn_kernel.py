"""Compiled loop that burns strokes into a picture."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray


@njit(cache=True)
def burn_strokes(
    ends: FloatArray, dark: FloatArray, radius: float, rows: int, columns: int
) -> FloatArray:
    """Darkness of every pixel, row 0 the lowest: the darkest of the strokes that reach it.

    Args:
        ends: x0, y0, x1, y1 of every stroke in pixels, shape (n, 4).
        dark: darkness of every stroke, shape (n,).
        radius: half the width of a stroke; its ends are round.
        rows: height of the picture.
        columns: its width.

    """
    out = np.zeros((rows, columns))
    for k in range(len(ends)):
        ax, ay, bx, by = ends[k]
        dx, dy = bx - ax, by - ay
        square = dx * dx + dy * dy
        low_x = max(math.floor(min(ax, bx) - radius), 0)
        high_x = min(math.ceil(max(ax, bx) + radius), columns - 1)
        low_y = max(math.floor(min(ay, by) - radius), 0)
        high_y = min(math.ceil(max(ay, by) + radius), rows - 1)
        for i in range(low_y, high_y + 1):
            for j in range(low_x, high_x + 1):
                px, py = j + 0.5 - ax, i + 0.5 - ay
                t = 0.0
                if square > 0.0:
                    t = min(max((px * dx + py * dy) / square, 0.0), 1.0)
                qx, qy = px - t * dx, py - t * dy
                if qx * qx + qy * qy <= radius * radius and out[i, j] < dark[k]:
                    out[i, j] = dark[k]
    return out
