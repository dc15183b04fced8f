"""A toolpath of any size reduced to a few lines that look the same in a picture.

Cut and scored lines keep their shape within a hair of the picture. Engraving, which may be
hundreds of thousands of moves, is laid on a grid finer than a pixel, each cell remembering when
(or how strongly) it was last burned, and drawn as runs of equal cells.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely

from kerfwright.geometry.paths import FloatArray
from kerfwright.output import path_data
from kerfwright.toolpath import MoveKind, Toolpath

IntArray = npt.NDArray[np.int64]

GRID_MM = 100
"""Steps of a picture's coordinates in a millimetre."""

CELLS_ACROSS = 1800
"""Cells along the longer side of a sheet: two to a pixel of a wide screen."""

INTERVALS_ACROSS_A_CELL = 1.618
"""More than one, so that no cell falls between two rows, and no simple fraction, so that edges of
cells do not keep meeting rows."""

SAMPLES_AT_ONCE = 1_000_000

ENGRAVED_CHARACTERS = 170_000
LINE_CHARACTERS = 180_000
CHARACTERS_PER_POINT = 8
CHARACTERS_PER_LINE = 6
TRAVELS = 2500


@dataclass(frozen=True, slots=True)
class EngravedCells:
    """Runs of cells: path data in cells for each bin, lying along x or along y."""

    cell_mm: float
    along_x: tuple[str, ...]
    along_y: tuple[str, ...]


def engraved_cells(
    toolpath: Toolpath,
    bins: IntArray,
    count: int,
    size_mm: tuple[float, float],
    interval_mm: float,
) -> EngravedCells:
    """Lay burned rows and loops on a grid; ``bins`` has a bin 0..count-1 for every move.

    Cells are never smaller than the picture needs, nor than leaves gaps between neighbouring
    rows, and are doubled until the result is small.
    """
    cell_mm = max(max(size_mm) / CELLS_ACROSS, INTERVALS_ACROSS_A_CELL * interval_mm)
    while True:
        grid = _grid(toolpath, bins, size_mm, cell_mm)
        runs = _shorter_runs(grid, count)
        if sum(len(text) for pair in runs for text in pair) <= ENGRAVED_CHARACTERS:
            break
        cell_mm *= 2.0
    return EngravedCells(cell_mm, tuple(run[0] for run in runs), tuple(run[1] for run in runs))


def burned_lines(toolpath: Toolpath, bins: IntArray, count: int, height_mm: float) -> list[str]:
    """Path data of cut and scored lines for each bin, in steps of the picture."""
    lined = np.isin(toolpath.moves["kind"], (MoveKind.CUT, MoveKind.SCORE)) & toolpath.burning
    points = toolpath.points
    lines = [
        (int(bins[first]), points[first : last + 1])
        for first, last in _runs(np.where(lined, bins, -1))
    ]
    out = [""] * count
    for one, line in simplified(lines, 1.0 / GRID_MM, LINE_CHARACTERS):
        out[one] += picture_data(line, height_mm, closed=False)
    return out


def simplified(
    lines: list[tuple[int, FloatArray]], tolerance_mm: float, characters: int
) -> Iterator[tuple[int, FloatArray]]:
    """Drop points that move a line by less than a tolerance, and lines shorter than it.

    The tolerance grows until the path data of all lines come to about ``characters``.
    """
    if not lines:
        return
    owners = np.array([owner for owner, _ in lines])
    strings = shapely.linestrings(
        np.concatenate([line for _, line in lines]),
        indices=np.repeat(np.arange(len(lines)), [len(line) for _, line in lines]),
    )
    lengths = shapely.length(strings)
    while True:
        kept = lengths >= tolerance_mm
        owners, lengths = owners[kept], lengths[kept]
        strings = shapely.simplify(strings[kept], tolerance_mm, preserve_topology=False)
        points = int(shapely.get_num_coordinates(strings).sum())
        if points * CHARACTERS_PER_POINT + len(strings) * CHARACTERS_PER_LINE <= characters:
            break
        tolerance_mm *= 2.0
    for owner, string in zip(owners.tolist(), strings, strict=True):
        yield owner, shapely.get_coordinates(string)


def picture_data(points: FloatArray, height_mm: float, *, closed: bool) -> str:
    """Path data of a line with y upwards, in steps of the picture."""
    return path_data.subpath(
        path_data.flipped(points, height_mm) * GRID_MM, closed=closed, decimals=0
    )


def travel_lines(toolpath: Toolpath, height_mm: float) -> tuple[str, int]:
    """Path data of the longest travels, and how many shorter ones were left out."""
    points, lengths = toolpath.points, toolpath.lengths_mm
    moved = np.flatnonzero((toolpath.moves["kind"] == MoveKind.TRAVEL) & (lengths > 0.5))
    drawn = np.sort(moved[np.argsort(-lengths[moved], kind="stable")[:TRAVELS]])
    data = [picture_data(points[i : i + 2], height_mm, closed=False) for i in drawn]
    return "".join(data), len(moved) - len(drawn)


def _runs(labels: IntArray) -> Iterator[tuple[int, int]]:
    """First and one past the last index of every run of one label that is not negative."""
    if len(labels) == 0:
        return
    edges = np.flatnonzero(np.diff(labels)) + 1
    starts = np.concatenate([[0], edges])
    ends = np.concatenate([edges, [len(labels)]])
    for first, last in zip(starts.tolist(), ends.tolist(), strict=True):
        if labels[first] >= 0:
            yield first, last


def _grid(
    toolpath: Toolpath, bins: IntArray, size_mm: tuple[float, float], cell_mm: float
) -> npt.NDArray[np.int8]:
    """Bin of the last burn in every cell, -1 for none, shape (rows from the top, columns)."""
    columns, rows = (max(1, int(np.ceil(side / cell_mm))) for side in size_mm)
    grid = np.full((rows, columns), -1, dtype=np.int8)
    engraved = np.isin(toolpath.moves["kind"], (MoveKind.ROW, MoveKind.LOOP)) & toolpath.burning
    moves = np.flatnonzero(engraved)
    points = toolpath.points
    samples = np.ceil(toolpath.lengths_mm[moves] / (0.5 * cell_mm)).astype(np.int64) + 1
    for some in np.split(moves, _chunk_ends(samples)):
        if len(some) == 0:
            continue
        number = np.ceil(toolpath.lengths_mm[some] / (0.5 * cell_mm)).astype(np.int64) + 1
        which = np.repeat(np.arange(len(some)), number)
        within = np.arange(len(which)) - np.repeat(np.cumsum(number) - number, number)
        share = (within / np.maximum(number[which] - 1, 1))[:, None]
        at = points[some][which] * (1.0 - share) + points[some + 1][which] * share
        x = np.clip((at[:, 0] / cell_mm).astype(np.int64), 0, columns - 1)
        y = np.clip(((size_mm[1] - at[:, 1]) / cell_mm).astype(np.int64), 0, rows - 1)
        grid[y, x] = bins[some][which]
    return grid


def _chunk_ends(samples: IntArray) -> IntArray:
    """Where to split the moves so that few samples are held at once."""
    chunk = np.cumsum(samples) // SAMPLES_AT_ONCE
    return np.flatnonzero(np.diff(chunk)) + 1


def _shorter_runs(grid: npt.NDArray[np.int8], count: int) -> list[tuple[str, str]]:
    """Runs of each bin along x or along y, whichever are fewer; the other is ""."""
    found = []
    for along_x, along_y in zip(
        _runs_by_bin(grid, count), _runs_by_bin(grid.T, count), strict=True
    ):
        if len(along_x[0]) <= len(along_y[0]):
            found.append((_run_data(*along_x, across="h"), ""))
        else:
            found.append(("", _run_data(*along_y, across="v")))
    return found


def _runs_by_bin(
    grid: npt.NDArray[np.int8], count: int
) -> list[tuple[IntArray, IntArray, IntArray]]:
    """Line, start and length of every run in the lines of a grid, for each bin in their order."""
    begins = np.ones(grid.shape, dtype=bool)
    begins[:, 1:] = grid[:, 1:] != grid[:, :-1]
    first = np.flatnonzero(begins)
    length = np.diff(first, append=grid.size)
    bins = grid.ravel()[first]
    line, start = np.divmod(first, grid.shape[1])
    order = np.argsort(bins, kind="stable")
    edges = np.searchsorted(bins[order], np.arange(count + 1))
    return [
        (line[some], start[some], length[some])
        for some in (order[low:high] for low, high in pairwise(edges.tolist()))
    ]


def _run_data(line: IntArray, start: IntArray, length: IntArray, *, across: str) -> str:
    pieces = []
    here = (0, 0)
    for at, first, run in zip(line.tolist(), start.tolist(), length.tolist(), strict=True):
        step = (first - here[0], at - here[1])
        x, y = step if across == "h" else (step[1], step[0])
        pieces.append(f"m{x} {y}{across}{run}")
        here = (first + run, at)
    return "".join(pieces).replace(" -", "-")
