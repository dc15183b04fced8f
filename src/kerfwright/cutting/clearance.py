"""What the kerf takes though the drawing wanted it kept: narrow places, parts too near others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon

from kerfwright.cutting.overlaps import IntArray
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import as_area, polygon_of
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.parts.model import Part

MITRE_LIMIT = 10.0
"""Corners down to 12° come back sharp, so that only what is narrow all along is found."""


def vanished_hole(part: Part, hole: Path, kerf_mm: float) -> Finding:
    """Say that a hole is too small to be cut at all."""
    long_mm, short_mm = _sides_mm(polygon_of(hole))
    x_mm, y_mm = _middle(polygon_of(hole))
    return Finding(
        Severity.WARN,
        "cutting/feature-vanishes",
        f'a hole of "{part.name}" ({long_mm:.2f} × {short_mm:.2f} mm) is no wider than the kerf '
        f"({kerf_mm:g} mm) and is left out (place as on the sheet).",
        "Make it a score line or a slit, or draw it wider.",
        drawing=part.drawing,
        x_mm=x_mm,
        y_mm=y_mm,
    )


def closed_notches(part: Part, vanished: Sequence[Path], kerf_mm: float) -> tuple[Finding, ...]:
    """Say where the beam is too wide for a notch of the outline or a narrow place of a hole.

    A notch is what closing (growing by half a kerf, then shrinking by as much) adds to a part,
    or what opening takes from a hole; see Serra, *Image Analysis and Mathematical Morphology*,
    1982. Holes in ``vanished`` are reported by themselves.
    """
    if kerf_mm == 0.0:
        return ()
    half_mm = kerf_mm / 2.0
    outline = polygon_of(part.outline)
    found = _wide_enough(_moved(_moved(outline, half_mm), -half_mm).difference(outline), kerf_mm)
    for hole in part.holes:
        if not any(hole is one for one in vanished):
            whole = polygon_of(hole)
            left = _moved(_moved(whole, -half_mm), half_mm)
            found += _wide_enough(whole.difference(left), kerf_mm)
    if not found:
        return ()
    largest = max(found, key=lambda polygon: polygon.area)
    long_mm, short_mm = _sides_mm(largest)
    x_mm, y_mm = _middle(largest)
    places = "a notch" if len(found) == 1 else f"{len(found)} notches"
    return (
        Finding(
            Severity.WARN,
            "cutting/notch-closes",
            f'{places} of "{part.name}" no wider than the kerf ({kerf_mm:g} mm) cannot be cut and '
            f"stay closed; the largest is {long_mm:.2f} × {short_mm:.2f} mm (place as on the "
            "sheet).",
            "Draw it as a single open line, which is cut as a slit, or wider than the kerf.",
            drawing=part.drawing,
            x_mm=x_mm,
            y_mm=y_mm,
            count=len(found),
        ),
    )


def closer_than_kerf(
    parts: Sequence[Part], cluster: IntArray, kerf_mm: float
) -> tuple[Finding, ...]:
    """Say which parts lie nearer than one kerf without sharing edges.

    ``cluster`` numbers the parts that hang together by shared edges, shape (parts,).
    """
    within_mm = kerf_mm - 2.0 * SAME_MM
    if within_mm <= 0.0 or len(parts) < 2:
        return ()
    polygons = np.array([part.polygon for part in parts], dtype=object)
    one, other = shapely.STRtree(polygons).query(polygons, predicate="dwithin", distance=within_mm)
    near = (one < other) & (cluster[one] != cluster[other])
    if not near.any():
        return ()
    first, second = min(zip(one[near].tolist(), other[near].tolist(), strict=True))
    x_mm, y_mm = _middle(shapely.shortest_line(polygons[first], polygons[second]))
    count = int(near.sum())
    pairs = "one pair of parts lies" if count == 1 else f"{count} pairs of parts lie"
    return (
        Finding(
            Severity.WARN,
            "cutting/parts-closer-than-kerf",
            f"{pairs} closer together than the kerf ({kerf_mm:g} mm) and share no edge: the cut "
            f'round one takes from the other; first "{parts[first].name}" and '
            f'"{parts[second].name}" (place as on the sheet).',
            "Place them at least one kerf apart, or let the planner place them.",
            drawing=parts[first].drawing,
            shape=parts[first].name,
            x_mm=x_mm,
            y_mm=y_mm,
            count=count,
        ),
    )


def no_room_for_lead_in(cuts: Sequence[Path]) -> tuple[Finding, ...]:
    """Say how many cuts begin on their line, since there is no waste beside them."""
    if not cuts:
        return ()
    x_mm, y_mm = _middle(shapely.linestrings(cuts[0].line))
    count = len(cuts)
    begin = "a cut begins" if count == 1 else f"{count} cuts begin"
    return (
        Finding(
            Severity.NOTE,
            "cutting/no-room-for-lead-in",
            f"{begin} on the line itself: there is no room in the waste beside for a lead-in "
            "(first place as on the sheet).",
            "Look at these edges on the first piece; a shorter lead-in or more spacing between "
            "parts makes room.",
            x_mm=x_mm,
            y_mm=y_mm,
            count=count,
        ),
    )


def _moved(area: shapely.Geometry, by_mm: float) -> shapely.Geometry:
    return area.buffer(by_mm, join_style="mitre", mitre_limit=MITRE_LIMIT)


def _wide_enough(area: shapely.Geometry, kerf_mm: float) -> list[Polygon]:
    """Pieces longer than the kerf is wide; smaller ones are the rounding of a corner."""
    real = area.buffer(-SAME_MM / 4, join_style="mitre")
    return [piece for piece in as_area(real).geoms if _sides_mm(piece)[0] > kerf_mm]


def _sides_mm(polygon: Polygon) -> tuple[float, float]:
    """Sides of the narrowest rectangle round a polygon, the longer one first."""
    corners = shapely.get_coordinates(polygon.minimum_rotated_rectangle)
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    if len(sides) < 2:
        return float(sides.sum()), 0.0
    return float(sides.max()), float(sides.min())


def _middle(shape: shapely.Geometry) -> tuple[float, float]:
    x0, y0, x1, y1 = shape.bounds
    return float(x0 + x1) / 2.0, float(y0 + y1) / 2.0
