"""Turns runs of tiny straight pieces back into the arcs that they were made from."""

from __future__ import annotations

import math

import numpy as np

from kerfwright.geometry.arc_kernel import after_longest_step, arc_runs
from kerfwright.geometry.curves import Arc, Span
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import CHORD_MM

LEAST_STEPS = 4
"""Fewer straight pieces may as well be meant as corners."""


def with_arcs_fitted(path: Path, tolerance_mm: float, chord_mm: float = CHORD_MM) -> Path:
    """Return a path whose runs of tiny straight pieces are arcs again; itself if it has none.

    Every point of a run lies within ``tolerance_mm`` of its arc, and the arc within
    ``tolerance_mm`` of every straight piece. The arcs' points are laid anew within ``chord_mm``.
    Curves that the path already knows are left as they are. A closed path without
    known curves is begun behind its longest straight piece, if arcs are found, so that no arc is
    cut in two.
    """
    if len(path.points) <= LEAST_STEPS:
        return path
    fitted = path
    if path.closed and not path.spans:
        fitted = path.entered_at(after_longest_step(path.points))
    # a stretch that is left between two arcs may begin an arc of its own
    while found := _fitted(fitted, tolerance_mm):
        spans = sorted((*fitted.spans, *found), key=lambda span: span.first)
        fitted = Path(fitted.points, fitted.closed, tuple(spans))
    return path if len(fitted.spans) == len(path.spans) else fitted.refined(chord_mm)


def _fitted(path: Path, tolerance_mm: float) -> list[Span]:
    line = path.line
    begins = [0, *(span.last for span in path.spans)]
    ends = [*(span.first for span in path.spans), len(line) - 1]
    return [
        arc.moved(begin)
        for begin, end in zip(begins, ends, strict=True)
        if end - begin >= LEAST_STEPS
        for arc in arcs_of(line[begin : end + 1], tolerance_mm)
    ]


def arcs_of(line: FloatArray, tolerance_mm: float) -> list[Span]:
    """Arcs that stand for runs of a line's points, shape (n, 2), in rising order.

    A span's points lie on its arc within the tolerance, but not at equal steps.
    """
    found: list[Span] = []
    runs = arc_runs(np.ascontiguousarray(line), tolerance_mm, LEAST_STEPS)
    for first, last, x, y, sweep in runs.tolist():
        a, b = int(first), int(last)
        start_x, start_y = line[a].tolist()
        radius = math.hypot(start_x - x, start_y - y)
        start = math.atan2(start_y - y, start_x - x)
        found.append(Span(a, b, Arc((x, y), radius, start, sweep)))
    return found
