"""A trace of any length laid on a few columns of time, so that its picture stays small."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.trace import Trace


@dataclass(frozen=True, eq=False, slots=True)
class Columns:
    """Columns of equal time; lowest, highest and mean are exact for the trace. Shape (n,)."""

    seconds: float
    """Width of a column."""
    low_mm_s: FloatArray
    high_mm_s: FloatArray
    mean_mm_s: FloatArray
    low_w: FloatArray
    high_w: FloatArray
    mean_w: FloatArray
    shares: FloatArray
    """Share of the column's time that goes to each sort of stretch, shape (n, sorts)."""


def columns_of(trace: Trace, sorts: np.ndarray, sort_count: int, count: int) -> Columns:
    """Cut a trace that is not empty into ``count`` columns; ``sorts`` has one of 0..sort_count - 1
    for each stretch."""
    total = float(trace.begin_s[-1] + trace.seconds[-1])
    edges = np.linspace(0.0, total, count + 1)
    begin = np.union1d(trace.begin_s, edges[:-1])
    end = np.append(begin[1:], total)
    stretch = np.searchsorted(trace.begin_s, begin, side="right") - 1
    column = np.searchsorted(edges[:-1], begin, side="right") - 1
    first = np.searchsorted(begin, edges[:-1])
    seconds = end - begin

    def spread(start: FloatArray, stop: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        slope = (stop - start) / trace.seconds
        a, b = (
            start[stretch] + slope[stretch] * (t - trace.begin_s[stretch]) for t in (begin, end)
        )
        mean = np.add.reduceat(0.5 * (a + b) * seconds, first) * count / total
        return (
            np.minimum.reduceat(np.minimum(a, b), first),
            np.maximum.reduceat(np.maximum(a, b), first),
            mean,
        )

    low_mm_s, high_mm_s, mean_mm_s = spread(trace.start_mm_s, trace.end_mm_s)
    low_w, high_w, mean_w = spread(trace.start_w, trace.end_w)
    shares = np.bincount(column * sort_count + sorts[stretch], seconds, count * sort_count).reshape(
        count, sort_count
    )
    return Columns(
        seconds=total / count,
        low_mm_s=low_mm_s,
        high_mm_s=high_mm_s,
        mean_mm_s=mean_mm_s,
        low_w=low_w,
        high_w=high_w,
        mean_w=mean_w,
        shares=shares * count / total,
    )
