"""Dashed lines as the dashes they show: pure geometry (ISO 32000-1, 8.4.3.6)."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kerfwright.drawing.stretches import stretch
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import FloatArray, Path

DASHES_LIMIT = 100_000
"""Dashes of one drawing; beyond that dashed lines are read unbroken."""


DUST = 1e-4
"""A dash shorter than this share of the pattern, at a line's end, is rounding."""


def user_lengths(path: Path, to_user: Affine) -> FloatArray:
    """Length in user units from a path's start to each point of its line, shape (n,)."""
    linear = Affine(to_user.a, to_user.b, to_user.c, to_user.d)
    steps = linear.apply(np.diff(path.line, axis=0))
    return np.concatenate([[0.0], np.cumsum(np.hypot(steps[:, 0], steps[:, 1]))])


def dash_count(along: FloatArray, lengths: Sequence[float]) -> float:
    """How many dashes a path has at most."""
    return (float(along[-1]) / sum(lengths) + 2.0) * len(lengths)


def dashed(path: Path, along: FloatArray, lengths: Sequence[float], phase: float) -> list[Path]:
    """Break a subpath into its dashes, in its direction, with the curves in them.

    ``along`` are the lengths from :func:`user_lengths`; ``lengths`` are dash and gap in turn, with
    a sum above 0, and an odd number of them counts twice; ``phase`` is where in them the line
    starts. A dash that runs over the start of a closed path stays one; dashes of no length are
    left out.
    """
    pattern = [*lengths, *lengths] if len(lengths) % 2 else [*lengths]
    period, whole = sum(pattern), float(along[-1])
    edges = np.concatenate([[0.0], np.cumsum(pattern)])
    runs: list[tuple[float, float]] = []
    begin = -math.fmod(phase, period) - period
    while begin < whole:
        for low, high in zip(begin + edges[:-1:2], begin + edges[1::2], strict=True):
            first, last = max(float(low), 0.0), min(float(high), whole)
            if last - first <= DUST * period:
                continue
            if runs and first <= runs[-1][1]:
                runs[-1] = (runs[-1][0], last)
            else:
                runs.append((first, last))
        begin += period
    if runs == [(0.0, whole)]:
        return [path]
    if path.closed and len(runs) > 1 and runs[0][0] == 0.0 and runs[-1][1] == whole:
        runs[0] = (runs.pop()[0], whole + runs[0][1])
    if path.closed:
        along = np.concatenate([along, whole + along[1:]])
    steps = np.arange(len(along), dtype=np.float64)
    return [
        stretch(path, float(np.interp(low, along, steps)), float(np.interp(high, along, steps)))
        for low, high in runs
    ]
