"""Lines over one another: seconds to keep every stretch once, beside shapely's union of them.

``python -m benchmarks overlaps [--lines N] [--largest N]``; the lines are invented. ``length_mm``
is what is left. Shapely's union is exact, so that it is compared where lines coincide but for
rounding; where they lie within the tolerance of one another only this repair unites them. A union
also cuts lines where they cross, and ``line_merge`` joins only some of them again.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import shapely

from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.repair.arc_stretches import kept_arcs
from kerfwright.repair.overlaps import merged_overlaps
from kerfwright.repair.stretches import kept_stretches

TURNED_DEG = 13.7
"""So that nothing lies along an axis, where rounding would be kind."""


def run(argv: Sequence[str]) -> dict[str, Any]:
    """Return rows ``union`` (beside shapely), ``growth``, ``patterns``, ``arcs`` and ``paths``."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks overlaps")
    parser.add_argument("--lines", type=int, default=100_000, help="how many lines to unite")
    parser.add_argument("--largest", type=int, default=1_000_000, help="where growth ends")
    wanted = parser.parse_args(argv)
    kept_stretches(crowd(300))  # compiles what will be timed
    kept_arcs(one_circle(300))
    return {
        "union": [beside_shapely(wanted.lines)],
        "growth": growth(wanted.largest),
        "patterns": [
            {"pattern": name, **timed(pattern(wanted.lines))} for name, pattern in PATTERNS.items()
        ],
        "arcs": [arcs_timed(wanted.lines)],
        "paths": [paths_timed(wanted.lines)],
    }


def beside_shapely(count: int) -> dict[str, Any]:
    lines = crowd(count)
    began = time.perf_counter()
    union = shapely.line_merge(shapely.unary_union(shapely.linestrings(lines.reshape(-1, 2, 2))))
    shapely_s = time.perf_counter() - began
    row = timed(turned(lines))
    return {
        **row,
        "shapely_mm": float(union.length),
        "relative": abs(row["length_mm"] - union.length) / union.length,
        "shapely_s": shapely_s,
        "times_faster": shapely_s / row["seconds"],
    }


def growth(largest: int) -> list[dict[str, Any]]:
    rows = []
    count = 1000
    while count <= largest:
        row = timed(turned(crowd(count)))
        row["ns_per_n_log_n"] = 1e9 * row["seconds"] / (count * np.log2(count))
        rows.append(row)
        count *= 10
    return rows


def timed(lines: FloatArray) -> dict[str, Any]:
    """Figures of one set of lines; the faster of two runs."""
    seconds = []
    for _ in range(2):
        began = time.perf_counter()
        kept = kept_stretches(lines)
        seconds.append(time.perf_counter() - began)
    steps = lines[:, 2:] - lines[:, :2]
    return {
        "lines": len(lines),
        "drawn_mm": float(np.hypot(steps[:, 0], steps[:, 1]).sum()),
        "length_mm": kept.length_mm,
        "stretches": len(kept.segment),
        "seconds": min(seconds),
    }


def arcs_timed(count: int) -> dict[str, Any]:
    rows = one_circle(count)
    began = time.perf_counter()
    kept = kept_arcs(rows)
    seconds = time.perf_counter() - began
    return {"arcs": count, "stretches": len(kept.arc), "seconds": seconds}


def paths_timed(count: int) -> dict[str, Any]:
    paths = [Path(line) for line in turned(crowd(count)).reshape(-1, 2, 2)]
    began = time.perf_counter()
    merged = merged_overlaps(paths)
    seconds = time.perf_counter() - began
    return {
        "paths": count,
        "in_mm": merged.length_in_mm,
        "out_mm": merged.length_out_mm,
        "dropped_mm": merged.dropped_mm,
        "seconds": seconds,
    }


def turned(lines: FloatArray) -> FloatArray:
    return rotation(TURNED_DEG).apply(lines.reshape(-1, 2)).reshape(-1, 4)


def crowd(count: int) -> FloatArray:
    """Lines between whole millimetres in four directions, every place drawn about 1.6 times."""
    rng = np.random.default_rng(1978)
    side = max(4, int(2.0 * np.sqrt(count / 3.0)))
    ways = np.array([(1, 0), (0, 1), (1, 1), (1, -1)])
    start = rng.integers(0, side, (count, 2))
    step = ways[rng.integers(0, 4, count)] * rng.integers(1, 12, (count, 1))
    return np.hstack([start, start + step]).astype(np.float64)


def on_one_line(count: int) -> FloatArray:
    rng = np.random.default_rng(1)
    start = rng.uniform(0.0, 1000.0, count)
    end = start + rng.uniform(0.0, 500.0, count)
    return turned(np.column_stack([start, 0.0 * start, end, 0.0 * end]))


def wavering(count: int) -> FloatArray:
    """On one line but for 0.001 mm, so that only the tolerance makes them one."""
    lines = on_one_line(count)
    return lines + np.random.default_rng(2).uniform(-0.001, 0.001, lines.shape)


def star(count: int) -> FloatArray:
    """Overlapping lines along 2000 rays from one point."""
    rng = np.random.default_rng(3)
    angle = rng.integers(0, 2000, count) * np.pi / 1000.0
    ray = np.column_stack([np.cos(angle), np.sin(angle)])
    near, far = rng.uniform(0.0, 50.0, (count, 1)), rng.uniform(50.0, 100.0, (count, 1))
    return np.hstack([near * ray, far * ray])


def dense_star(count: int) -> FloatArray:
    """Lines from one point in as many directions, less than a tolerance apart near it."""
    rng = np.random.default_rng(4)
    angle, far = rng.uniform(0.0, 2.0 * np.pi, count), rng.uniform(50.0, 100.0, count)
    return np.column_stack([0.0 * far, 0.0 * far, far * np.cos(angle), far * np.sin(angle)])


def grid(count: int) -> FloatArray:
    """Sides of 10 mm squares, all drawn twice and half as long again."""
    at = 10.0 * np.arange(max(2, int(np.sqrt(count / 4))))
    x, y = (axis.ravel() for axis in np.meshgrid(at, at))
    flat, upright = np.column_stack([x, y, x + 15, y]), np.column_stack([x, y, x, y + 15])
    return turned(np.vstack([flat, upright, flat, upright]))


def fine_curve(count: int) -> FloatArray:
    """One curve of chords of 0.02 mm, of which nothing may be lost."""
    way = 3.0 * np.sin(0.02 * np.arange(count) / 7.0)
    points = np.cumsum(0.02 * np.column_stack([np.cos(way), np.sin(way)]), axis=0)
    return np.hstack([points[:-1], points[1:]])


def hatching(count: int) -> FloatArray:
    """Lines of 100 mm, 0.02 mm apart: twice the tolerance."""
    y = 0.02 * np.arange(count)
    return np.column_stack([0.0 * y, y, 0.0 * y + 100.0, y])


def one_circle(count: int) -> FloatArray:
    rng = np.random.default_rng(6)
    start, sweep = rng.uniform(-9.0, 9.0, count), rng.uniform(-0.5, 0.5, count)
    return np.column_stack([np.zeros((count, 2)), np.full(count, 50.0), start, sweep])


PATTERNS: dict[str, Callable[[int], FloatArray]] = {
    "all on one line": on_one_line,
    "wavering about one line": wavering,
    "star of 2000 rays": star,
    "star of as many rays": dense_star,
    "grid": grid,
    "curve of fine chords": fine_curve,
    "hatching": hatching,
}
