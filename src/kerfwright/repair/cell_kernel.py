"""Kernels of a grid of cells, hashed, that finds the straight pieces near another one.

Cells of a hashed grid need no bounds and no memory where nothing is (M. Teschner et al., "Optimized
spatial hashing for collision detection of deformable objects", VMV 2003). A piece is entered in
all cells that it passes, column by column, which visits the cells of J. Amanatides and A. Woo,
"A fast voxel traversal algorithm for ray tracing", Eurographics 1987, in another order.

Cells that share a place of the table only cost time.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

TINY_MM = 1e-6
"""Below this two ends are one: far below what can be drawn, far above rounding."""

NO_END = -1
"""Instead of the end of a line: nothing is drawn where a stretch is cut."""


class Grid(NamedTuple):
    """Entries of pieces in cells, which several frames see turned and of their own widths."""

    frames: FloatArray
    """Cosine and sine of a frame's angle, width of its cells along and across; shape (f, 4)."""
    heads: IntArray
    """First entry of every place of the table, -1 for none."""
    links: IntArray
    """Of every entry the next one and the piece, shape (entries, 2)."""
    used: IntArray
    """How many entries there are, shape (1,)."""


@njit(cache=True)
def place_of(frame: int, i: int, j: int, mask: int) -> int:
    """Place of a cell in a table of ``mask + 1`` places, a power of two."""
    h = i * 73856093 ^ j * 19349663 ^ (frame + 1) * 83492791
    h = (h ^ (h >> 15)) * 0x2C1B3C6D
    h = (h ^ (h >> 12)) * 0x297A2D39
    return (h ^ (h >> 15)) & mask


@njit(cache=True)
def _turned(piece: FloatArray, frame: FloatArray) -> tuple[float, float, float, float]:
    """Ends of a piece as a frame sees it, the one further left first."""
    cosine, sine = frame[0], frame[1]
    u0, v0 = cosine * piece[0] + sine * piece[1], cosine * piece[1] - sine * piece[0]
    u1, v1 = cosine * piece[2] + sine * piece[3], cosine * piece[3] - sine * piece[2]
    if u0 <= u1:
        return u0, v0, u1, v1
    return u1, v1, u0, v0


@njit(cache=True)
def _columns(line: tuple[float, float, float, float], width: float, reach: float) -> range:
    return range(math.floor((line[0] - reach) / width), math.floor((line[2] + reach) / width) + 1)


@njit(cache=True)
def _rows(
    line: tuple[float, float, float, float], i: int, frame: FloatArray, reach: float
) -> range:
    """Rows of the cells of column ``i`` within ``reach`` of a line."""
    u0, v0, u1, v1 = line
    width, height = frame[2], frame[3]
    low, high = v0, v1
    if u1 > u0:
        slope = (v1 - v0) / (u1 - u0)
        low = v0 + slope * (min(max(i * width - reach, u0), u1) - u0)
        high = v0 + slope * (max(min((i + 1) * width + reach, u1), u0) - u0)
    if low > high:
        low, high = high, low
    return range(math.floor((low - reach) / height), math.floor((high + reach) / height) + 1)


@njit(cache=True)
def with_room(rows: Any, need: int) -> Any:
    """Return ``rows``, or a longer copy where fewer than ``need`` would fit."""
    if need <= len(rows):
        return rows
    more = np.empty((max(need, 2 * len(rows)), rows.shape[1]), rows.dtype)
    more[: len(rows)] = rows
    return more


@njit(cache=True)
def entered(grid: Grid, frame: int, number: int, piece: FloatArray, occupied: BoolArray) -> Grid:
    """Enter a piece in the cells of a frame; with ``occupied`` not empty only where it is marked.

    The grid that is returned takes the place of the one given.
    """
    sight = grid.frames[frame]
    heads, links, count = grid.heads, grid.links, grid.used[0]
    mask = len(heads) - 1
    line = _turned(piece, sight)
    for i in _columns(line, sight[2], 0.0):
        rows = _rows(line, i, sight, 0.0)
        links = with_room(links, count + len(rows))
        for j in rows:
            place = place_of(frame, i, j, mask)
            if len(occupied) and not occupied[place]:
                continue
            links[count, 0], links[count, 1] = heads[place], number
            heads[place] = count
            count += 1
    grid.used[0] = count
    return Grid(grid.frames, heads, links, grid.used)


@njit(cache=True)
def mark(pieces: FloatArray, frames: FloatArray, frame: int, reach: float, out: BoolArray) -> None:
    """Mark the places of all cells of a frame that are within ``reach`` of one of the pieces."""
    sight = frames[frame]
    for piece in pieces:
        line = _turned(piece, sight)
        for i in _columns(line, sight[2], reach):
            for j in _rows(line, i, sight, reach):
                out[place_of(frame, i, j, len(out) - 1)] = True


@njit(cache=True)
def gathered(
    grid: Grid,
    frame: int,
    piece: FloatArray,
    reach: float,
    seen: BoolArray,
    found: IntArray,
    count: int,
) -> int:
    """Add pieces in cells within ``reach`` of a piece to ``found``, but none already ``seen``."""
    sight = grid.frames[frame]
    heads, links = grid.heads, grid.links
    mask = len(heads) - 1
    line = _turned(piece, sight)
    for i in _columns(line, sight[2], reach):
        for j in _rows(line, i, sight, reach):
            k = heads[place_of(frame, i, j, mask)]
            while k >= 0:
                other = links[k, 1]
                if not seen[other]:
                    seen[other] = True
                    found[count] = other
                    count += 1
                k = links[k, 0]
    return count
