"""Stretches of a line, between places given by their step along it."""

from __future__ import annotations

import math

import numpy as np

from kerfwright.geometry.paths import FloatArray, Path, concatenated


def stretch(path: Path, start: float, stop: float) -> Path:
    """Return the open line from one place of a path to another, with the curves in between.

    A place is the number of a point of ``path.line`` plus the share of the step that follows it:
    2.25 lies a quarter on the way from point 2 to point 3. On a closed path ``stop`` may lie up
    to a round beyond the last point. A curve that is cut inside one of its steps keeps its
    points' places but is exact only over its whole steps.
    """
    steps = len(path.line) - 1
    if path.closed and stop > steps:
        turn = math.floor(start)
        path, start, stop = path.entered_at(turn), start - turn, stop - turn
        if stop > steps:
            pieces = [stretch(path, start, steps), stretch(path, 0.0, stop - steps)]
            return concatenated(pieces, closed=False)
    line = path.line
    low, high = math.ceil(start), min(math.floor(stop), steps)
    if low > high:
        return Path(np.array([_at(line, start), _at(line, stop)]))
    before = [_at(line, start)] if low > start else []
    after = [_at(line, stop)] if high < stop else []
    points = np.array([*before, *line[low : high + 1], *after])
    spans = [span.between(low, high) for span in path.spans]
    shift = len(before) - low
    return Path(points, spans=tuple(span.moved(shift) for span in spans if span is not None))


def _at(line: FloatArray, place: float) -> FloatArray:
    step = min(math.floor(place), len(line) - 2)
    share = place - step
    return np.asarray((1.0 - share) * line[step] + share * line[step + 1])
