"""Open and closed lines as arrays of points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.affine import Affine
from kerfwright.geometry.curves import Span, Spans, reversed_spans, rolled_spans

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Path:
    """A line through ``points`` of shape (n, 2), in mm; a closed one does not repeat its first.

    ``spans`` tell which points stand for an exact curve, in rising order and without overlap.
    Whoever ignores them has the line within the chord tolerance that it was read with.
    """

    points: FloatArray
    closed: bool = False
    spans: Spans = ()

    def __post_init__(self) -> None:
        if self.points.ndim != 2 or self.points.shape[1] != 2:
            raise ValueError(f"points must have shape (n, 2), not {self.points.shape}")

    @property
    def line(self) -> FloatArray:
        """All points in order, the first repeated at the end of a closed path."""
        if self.closed and len(self.points):
            return np.vstack([self.points, self.points[:1]])
        return self.points

    @property
    def length_mm(self) -> float:
        """Length along the path."""
        steps = np.diff(self.line, axis=0)
        return float(np.hypot(steps[:, 0], steps[:, 1]).sum())

    @property
    def signed_area_mm2(self) -> float:
        """Area by the shoelace formula; positive for counter-clockwise, 0 for an open path."""
        if not self.closed or len(self.points) < 3:
            return 0.0
        x, y = (self.points - self.points[0]).T
        return float(0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1)))

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Smallest x, smallest y, largest x, largest y."""
        low, high = self.points.min(axis=0), self.points.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def reversed(self) -> Path:
        """Return the same line followed the other way."""
        points = np.ascontiguousarray(self.points[::-1])
        if not self.spans:
            return Path(points, self.closed)
        count = len(self.points)
        if not self.closed:
            return Path(points, spans=reversed_spans(self.spans, count - 1))
        # the ring 0, n - 1, …, 1 first, then begun at its second point
        return Path(points, True, rolled_spans(reversed_spans(self.spans, count), 1, count))

    def transformed(self, transform: Affine) -> Path:
        """Return the line moved by ``transform``."""
        spans = tuple(
            Span(span.first, span.last, span.curve.transformed(transform)) for span in self.spans
        )
        return Path(transform.apply(self.points), self.closed, spans)

    def entered_at(self, vertex: int) -> Path:
        """Return a closed path starting at ``vertex``."""
        count = len(self.points)
        spans = rolled_spans(self.spans, vertex % count, count)
        return Path(np.roll(self.points, -vertex, axis=0), self.closed, spans)

    def refined(self, chord_mm: float) -> Path:
        """Return the line with its curves flattened anew within ``chord_mm``."""
        if not self.spans:
            return self
        line, pieces, spans, done, count = self.line, [], [], 0, 0
        for span in self.spans:
            pieces.append(line[done : span.first])
            count += len(pieces[-1])
            curve = span.curve.points(chord_mm)
            curve[0], curve[-1] = line[span.first], line[span.last]
            pieces.append(curve[:-1])
            spans.append(Span(count, count + len(curve) - 1, span.curve))
            count += len(curve) - 1
            done = span.last
        rest = line[done : len(line) - 1] if self.closed else line[done:]
        return Path(np.concatenate([*pieces, rest]), self.closed, tuple(spans))


def without_repeats(points: FloatArray, tolerance_mm: float, *, closed: bool) -> FloatArray:
    """Drop points within ``tolerance_mm`` of the one before them (and, closed, of the first)."""
    if len(points) < 2:
        return points
    keep = np.ones(len(points), dtype=bool)
    last = 0
    for i in range(1, len(points)):
        if np.hypot(*(points[i] - points[last])) <= tolerance_mm:
            keep[i] = False
        else:
            last = i
    kept = points[keep]
    if not closed and len(kept) > 1 and not keep[-1]:
        kept[-1] = points[-1]
    if closed and len(kept) > 1 and np.hypot(*(kept[-1] - kept[0])) <= tolerance_mm:
        kept = kept[:-1]
    return kept


def concatenated(pieces: Sequence[Path], *, closed: bool) -> Path:
    """Open lines one behind the other, each beginning where the one before it ends.

    The exact curves of the pieces are kept. A closed line's last point must be its first.
    """
    points = np.concatenate([pieces[0].points, *(piece.points[1:] for piece in pieces[1:])])
    spans: list[Span] = []
    at = 0
    for piece in pieces:
        spans += [span.moved(at) for span in piece.spans] if at else piece.spans
        at += len(piece.points) - 1
    return Path(points[:-1] if closed else points, closed, tuple(spans))
