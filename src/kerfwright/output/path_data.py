"""SVG path data as short as it gets: whole steps of a grid, each from the point before."""

from __future__ import annotations

import numpy as np

from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.output import curve_data


def subpath(points: FloatArray, *, closed: bool, decimals: int) -> str:
    """Path data (SVG 1.1 section 8.3) of one line, points of shape (n, 2), y downwards.

    Points are rounded first and steps taken between rounded points, so that nothing drifts. A
    line that rounds to a single point gives "".
    """
    if len(points) == 0:
        return ""
    grid = np.rint(points * 10**decimals).astype(np.int64)
    keep = np.ones(len(grid), dtype=bool)
    keep[1:] = np.any(grid[1:] != grid[:-1], axis=1)
    grid = grid[keep]
    if closed and len(grid) > 1 and bool(np.all(grid[0] == grid[-1])):
        grid = grid[:-1]
    if len(grid) < 2:
        return ""
    steps = np.diff(grid, axis=0).ravel()
    first = _numbers(grid[0], decimals)
    return f"M{first}l{_numbers(steps, decimals)}" + ("z" if closed else "")


def lines(paths: list[Path], height_mm: float, *, decimals: int) -> str:
    """Path data of several lines given with y upwards, on a sheet ``height_mm`` high.

    Curves that a line knows are written as curves.
    """
    return "".join(
        curve_data.subpath(path, height_mm, decimals=decimals)
        if path.spans
        else subpath(flipped(path.points, height_mm), closed=path.closed, decimals=decimals)
        for path in paths
    )


def rings(points: list[FloatArray], height_mm: float, *, decimals: int) -> str:
    """Path data of closed rings given with y upwards, for an even-odd fill."""
    return "".join(
        subpath(flipped(ring, height_mm), closed=True, decimals=decimals) for ring in points
    )


def flipped(points: FloatArray, height_mm: float) -> FloatArray:
    """Turn points with y upwards into points with y downwards, and back."""
    return np.column_stack([points[:, 0], height_mm - points[:, 1]])


def _numbers(values: np.ndarray[tuple[int, ...], np.dtype[np.int64]], decimals: int) -> str:
    if decimals == 0:
        words = [str(value) for value in values.tolist()]
    else:
        words = [_decimal(value, decimals) for value in values.tolist()]
    return " ".join(words).replace(" -", "-")


def _decimal(value: int, decimals: int) -> str:
    return f"{value / 10**decimals:.{decimals}f}".rstrip("0").rstrip(".")
