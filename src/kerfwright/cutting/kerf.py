"""Kerf compensation: the beam runs half a kerf beside the line, so that the part is on size."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pyclipr

from kerfwright.cutting.clearance import closed_notches, vanished_hole
from kerfwright.findings import Finding
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.regions import CLIPPER_UNITS_PER_MM
from kerfwright.parts.model import Part

MITRE_LIMIT = 2.05
"""Corners sharper than 58° are squared off outside the part: no long spikes into the waste."""

SMALLEST_CUT_MM = 0.1
"""A beam path shorter than this is what offsetting leaves of rounding, not a shape."""


@dataclass(frozen=True, eq=False, slots=True)
class BeamLines:
    """Where the beam runs for one part: outside its outline, inside its holes."""

    outline: tuple[Path, ...]
    holes: tuple[Path, ...]
    """Shrunk by half a kerf."""
    slits: tuple[Path, ...]
    """As they are."""

    @property
    def rings(self) -> tuple[Path, ...]:
        """Lines that bound the part: outline and holes."""
        return (*self.outline, *self.holes)


def compensated(part: Part, kerf_mm: float) -> tuple[BeamLines, tuple[Finding, ...]]:
    """Beam lines that leave ``part`` on size, and what is too narrow to be cut.

    The outline grows and holes shrink by half of ``kerf_mm``. Corners are mitred, so that sharp
    corners of the part stay sharp with no more moves than the outline has.
    """
    half = kerf_mm / 2.0
    holes: list[Path] = []
    vanished: list[Path] = []
    for hole in part.holes:
        shrunk = offset([hole], -half)
        holes += shrunk
        if not shrunk:
            vanished.append(hole)
    findings = [vanished_hole(part, hole, kerf_mm) for hole in vanished]
    findings += closed_notches(part, vanished, kerf_mm)
    outline = tuple(offset([part.outline], half))
    return BeamLines(outline, tuple(holes), part.slits), tuple(findings)


def offset(paths: Iterable[Path], by_mm: float) -> list[Path]:
    """Closed lines moved outward (inward if negative) of what they enclose; may be none."""
    rings = [_counter_clockwise(path) for path in paths]
    if by_mm == 0.0:
        return [Path(ring, closed=True) for ring in rings]
    clipper = pyclipr.ClipperOffset()
    clipper.scaleFactor = CLIPPER_UNITS_PER_MM
    clipper.miterLimit = MITRE_LIMIT
    for ring in rings:
        clipper.addPath(ring, pyclipr.JoinType.Miter, pyclipr.EndType.Polygon)
    moved = [
        Path(np.asarray(ring, dtype=np.float64), closed=True) for ring in clipper.execute(by_mm)
    ]
    return [path for path in moved if path.length_mm > SMALLEST_CUT_MM]


def _counter_clockwise(path: Path) -> FloatArray:
    return path.points if path.signed_area_mm2 >= 0.0 else path.points[::-1]
