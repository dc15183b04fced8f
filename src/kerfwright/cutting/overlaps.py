"""Straight segments of paths, and where two of them run along one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely

from kerfwright.cutting.intervals import Interval
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

ROUNDING_MM = 1e-9

ALONG_COSINE = 0.9
"""Neighbouring chords of two curves may differ this much in direction and still run together."""


@dataclass(frozen=True, eq=False, slots=True)
class Segments:
    """All straight segments of some paths, path after path; those without length left out."""

    ends: FloatArray
    """x, y, x, y; shape (n, 4)."""
    path: IntArray
    start: FloatArray
    """How far along its path each begins."""
    length: FloatArray
    first: IntArray
    """First segment of every path and, at the end, the number of all; shape (paths + 1,)."""
    path_length: FloatArray
    closed: BoolArray

    @classmethod
    def of(cls, paths: Sequence[Path]) -> Segments:
        """Take paths apart."""
        ends: list[FloatArray] = [np.empty((0, 4))]
        start: list[FloatArray] = [np.empty(0)]
        length: list[FloatArray] = [np.empty(0)]
        for path in paths:
            line = path.line
            step = np.hypot(*np.diff(line, axis=0).T) if len(line) > 1 else np.empty(0)
            real = step > 0.0
            ends.append(np.hstack([line[:-1], line[1:]])[real])
            start.append((np.cumsum(step) - step)[real])
            length.append(step[real])
        counts = [len(part) for part in length[1:]]
        return cls(
            ends=np.vstack(ends),
            path=np.repeat(np.arange(len(paths)), counts),
            start=np.concatenate(start),
            length=np.concatenate(length),
            first=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
            path_length=np.array([part.sum() for part in length[1:]]),
            closed=np.array([path.closed for path in paths], dtype=bool),
        )

    def __len__(self) -> int:
        return len(self.ends)

    def of_path(self, path: int) -> range:
        """Segments of a path."""
        return range(int(self.first[path]), int(self.first[path + 1]))

    def at(self, segment: int, along_mm: float) -> FloatArray:
        """Point so far along a segment; its own end where that is meant."""
        share = along_mm / self.length[segment]
        start, end = self.ends[segment, :2], self.ends[segment, 2:]
        if abs(along_mm) <= ROUNDING_MM:
            return start
        if abs(self.length[segment] - along_mm) <= ROUNDING_MM:
            return end
        return np.asarray(start + share * (end - start))


@dataclass(frozen=True, slots=True)
class Overlap:
    """A stretch where a later segment runs along an earlier one, at most ``apart`` mm away.

    Both stretches are in mm along their segment, low before high. ``origin`` and ``scale`` turn
    a place along the later one into a place along the earlier one.
    """

    earlier: int
    later: int
    on_earlier: Interval
    on_later: Interval
    apart: float
    origin: float
    scale: float

    def earlier_at(self, along_later: float) -> float:
        """Turn a place along the later segment into one along the earlier."""
        return self.origin + self.scale * along_later

    def later_of(self, on_earlier: Interval) -> Interval:
        """Turn a stretch of the earlier segment into one of the later."""
        if on_earlier == self.on_earlier:
            return self.on_later
        a, b = ((along - self.origin) / self.scale for along in on_earlier)
        return (a, b) if a < b else (b, a)

    def part(self, on_later: Interval) -> Overlap:
        """Return only a part of the overlap."""
        if on_later == self.on_later:
            return self
        a, b = (self.earlier_at(along) for along in on_later)
        return replace(self, on_later=on_later, on_earlier=(a, b) if a < b else (b, a))


def overlaps(segments: Segments, tolerance_mm: float) -> list[Overlap]:
    """Find every pair of segments that run along one another within a tolerance.

    Segments of one path count only where they lie on one another outright: the two sides of a
    slot as narrow as the tolerance are two edges of one part, not one edge of two.
    """
    earlier, later = _near(segments, tolerance_mm)
    frame = segments.ends[earlier]
    length = segments.length[earlier]
    along = (frame[:, 2:] - frame[:, :2]) / length[:, None]
    from_start = segments.ends[later] - np.hstack([frame[:, :2]] * 2)
    a, b = (from_start[:, k : k + 2] for k in (0, 2))
    ta, tb = (a * along).sum(axis=1), (b * along).sum(axis=1)
    da = along[:, 0] * a[:, 1] - along[:, 1] * a[:, 0]
    db = along[:, 0] * b[:, 1] - along[:, 1] * b[:, 0]
    scale = (tb - ta) / segments.length[later]
    low, high = np.maximum(np.minimum(ta, tb), 0.0), np.minimum(np.maximum(ta, tb), length)
    safe = np.where(np.abs(scale) >= ALONG_COSINE, scale, 1.0)
    w_low, w_high = (low - ta) / safe, (high - ta) / safe
    slope = (db - da) / segments.length[later]
    apart = np.maximum(np.abs(da + slope * w_low), np.abs(da + slope * w_high))
    one_path = segments.path[earlier] == segments.path[later]
    within = np.where(one_path, min(SAME_MM, tolerance_mm), tolerance_mm)
    found = (np.abs(scale) >= ALONG_COSINE) & (high - low > 1e-6) & (apart <= within * (1.0 + 1e-9))
    rows = np.flatnonzero(found)
    w_first, w_last = np.minimum(w_low, w_high), np.maximum(w_low, w_high)
    ends = segments.length[later]
    return [
        Overlap(i, j, (lo, hi), (max(x, 0.0), min(y, end)), d, t, s)
        for i, j, lo, hi, x, y, end, d, t, s in zip(
            *(
                column[rows].tolist()
                for column in (
                    earlier,
                    later,
                    low,
                    high,
                    w_first,
                    w_last,
                    ends,
                    apart,
                    ta,
                    scale,
                )
            ),
            strict=True,
        )
    ]


def _near(segments: Segments, tolerance_mm: float) -> tuple[IntArray, IntArray]:
    """Pairs (earlier, later) of segments that come within the tolerance, neighbours left out."""
    lines = shapely.linestrings(segments.ends.reshape(-1, 2, 2))
    one, other = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=tolerance_mm)
    order = one < other
    same_path = segments.path[one] == segments.path[other]
    count = np.diff(segments.first)[segments.path[one]]
    step = np.abs(one - other)
    neighbours = same_path & ((step == 1) | (step == count - 1))
    keep = order & (~neighbours | _folded_back(segments, one, other))
    return one[keep], other[keep]


def _folded_back(segments: Segments, one: IntArray, other: IntArray) -> BoolArray:
    u = segments.ends[one, 2:] - segments.ends[one, :2]
    v = segments.ends[other, 2:] - segments.ends[other, :2]
    cosine = (u * v).sum(axis=1) / (segments.length[one] * segments.length[other])
    return np.asarray(cosine < -0.999)
