"""Are all wanted cuts and scores burned, all along, and as often as wanted?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.regions import as_area, rings_of
from kerfwright.program.burned import STEP_MM, Burns, Widths
from kerfwright.program.kernel import IntArray
from kerfwright.program.near import BoolArray, Lines, Pieces, sampled

MISSING_STEP_MM = 0.5
"""Furthest that two samples on a wanted line lie apart."""

CLOSED_STEP_MM = 0.1
"""The same on cuts with a narrow kerf. Cuts whose ends are half a kerf apart still meet; a wider
gap may hold the part."""

ALONGSIDE_COSINE = 0.95
"""Burns within 18° of one another run alongside."""

REPEAT_MM = 0.01
"""Burns this close are the same line burned again; rounding comes on top."""

REPEAT_LENGTH_MM = 0.5
"""Longest stretch burned too often or too seldom that is let pass: ends of sharp corners."""

SMALLEST_RING_MM = 0.1
"""Shorter rings are what offsetting leaves of rounding, not a line to burn."""


@dataclass(frozen=True, eq=False, slots=True)
class Wanted:
    """Where the beam should run: samples on the wanted lines, half a kerf beside closed cuts."""

    points: FloatArray
    directions: FloatArray
    line: IntArray
    """Number of the wanted line that each sample belongs to."""
    regions: tuple[MultiPolygon | None, ...]
    """What each closed line frees, up to the middle of its cut."""
    step_mm: float
    """Furthest that two samples lie apart."""


def wanted(paths: tuple[Path, ...], half_kerf_mm: float | None) -> Wanted:
    """Work out where the beam should run; independent of the planner's kerf compensation.

    The material kept lies left of a closed line, so counter-clockwise lines move outward and
    clockwise ones inward. Lines that are not cut through have no half kerf and free nothing.
    """
    step_mm = MISSING_STEP_MM
    if half_kerf_mm is not None:
        step_mm = min(MISSING_STEP_MM, max(half_kerf_mm, CLOSED_STEP_MM))
    points: list[FloatArray] = []
    directions: list[FloatArray] = []
    line: list[IntArray] = []
    regions: list[MultiPolygon | None] = []
    for number, path in enumerate(paths):
        rings, region = _beam_lines(path, half_kerf_mm)
        regions.append(region)
        for ring in rings:
            samples = sampled(np.hstack([ring[:-1], ring[1:]]), step_mm)
            points.append(samples.points)
            directions.append(samples.directions)
            line.append(np.full(len(samples), number))
    return Wanted(
        np.vstack([np.empty((0, 2)), *points]),
        np.vstack([np.empty((0, 2)), *directions]),
        np.concatenate([np.empty(0, dtype=np.int64), *line]),
        tuple(regions),
        step_mm,
    )


def _beam_lines(
    path: Path, half_kerf_mm: float | None
) -> tuple[list[FloatArray], MultiPolygon | None]:
    if half_kerf_mm is None or not path.closed or len(path.points) < 3:
        return ([path.line] if len(path.line) > 1 else []), None
    outward = half_kerf_mm if path.signed_area_mm2 > 0.0 else -half_kerf_mm
    polygon = shapely.make_valid(Polygon(path.points))
    freed = as_area(polygon.buffer(outward) if outward else polygon)
    rings = [np.vstack([ring, ring[:1]]) for ring in rings_of(freed)]
    long_enough = [ring for ring in rings if _length_mm(ring) > SMALLEST_RING_MM]
    return long_enough, freed


def _length_mm(line: FloatArray) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def missing(
    wanted_lines: Wanted, lines: Lines, burned: Pieces, widths: Widths, shared_mm: float
) -> BoolArray:
    """Which samples of the wanted lines no burn comes near.

    Around a corner of its own one of ``lines``, where offsets may be round or mitred, the burn may
    be half a kerf away from the sample.
    """
    reach = shared_mm + widths.tolerance_mm
    away, _ = burned.nearest(
        wanted_lines.points, max(shared_mm, widths.half_kerf_mm) + widths.tolerance_mm
    )
    bare = ~np.isfinite(away)
    unsure = np.flatnonzero(~bare & (away > reach))
    for line in np.unique(wanted_lines.line[unsure]):
        # another part that touches may be nearer, but its edges are not this line's corners
        own = Pieces(lines.ends[lines.links[:, 0] == line])
        of_line = unsure[wanted_lines.line[unsure] == line]
        bare[of_line] = ~_at_corner(wanted_lines.points[of_line], own, widths)
    return bare


def _at_corner(points: FloatArray, line: Pieces, widths: Widths) -> BoolArray:
    """Whether what is nearest of the line is an end of a piece."""
    _, nearest = line.nearest(points, widths.half_kerf_mm + widths.tolerance_mm)
    ends = line.ends[nearest]
    along = ((points - ends[:, :2]) * (ends[:, 2:] - ends[:, :2])).sum(axis=1)
    square = ((ends[:, 2:] - ends[:, :2]) ** 2).sum(axis=1)
    inside = (along > 1e-6 * square) & (along < (1.0 - 1e-6) * square)
    return np.asarray((nearest >= 0) & ~inside)


@dataclass(frozen=True, eq=False, slots=True)
class Stretch:
    """A run of burns burned too often or too seldom."""

    burn: int
    """Number of its first burn."""
    length_mm: float
    count: int


def wrong_counts(
    burns: Burns,
    passes: int,
    widths: Widths,
    *,
    lines: Pieces | None = None,
    beside_mm: float = 0.0,
    overcut_mm: float = 0.0,
) -> list[Stretch]:
    """Stretches that are not burned exactly ``passes`` times.

    Where several ``lines`` run together within ``beside_mm``, each may be burned that often.
    Stretches up to ``overcut_mm`` may be burned once more.
    """
    pieces = burns.pieces()
    samples = sampled(burns.ends, STEP_MM)
    reach = REPEAT_MM + 2.0 * widths.rounding_mm
    count, last = pieces.visits(samples.points, samples.directions, reach, ALONGSIDE_COSINE)
    most = np.full(len(samples), passes)
    if lines is not None:
        together, _ = lines.visits(samples.points, samples.directions, beside_mm, ALONGSIDE_COSINE)
        most = passes * np.maximum(together, 1)
    # Told once, at the last burn of the stretch
    wrong = ((count < passes) | (count > most)) & (last == samples.piece)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], wrong, [False]]).astype(np.int8)))
    runs = edges.reshape(-1, 2).tolist()
    lengths = [float(samples.length_mm[first:beyond].sum()) for first, beyond in runs]
    once_more = count == most + 1
    overcut = [
        bool(once_more[first:beyond].all()) and length <= overcut_mm + STEP_MM
        for (first, beyond), length in zip(runs, lengths, strict=True)
    ]
    return [
        Stretch(int(samples.piece[first]), length, int(count[first]))
        for (first, _), length, passed in zip(runs, lengths, overcut, strict=True)
        if length > REPEAT_LENGTH_MM and not (passed and overcut_mm > 0.0)
    ]
