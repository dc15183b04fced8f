"""Arcs of a program (G2, G3) into straight moves.

Centre and radius format as NISTIR 6556, section 3.5.3: I and J are relative to the start; a
negative R means the arc of more than a half turn; a whole circle needs the centre format.
"""

from __future__ import annotations

import math

import numpy as np

from kerfwright.errors import KerfwrightError
from kerfwright.geometry.flatten import arc_points
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import SAME_MM

CENTRE_TOLERANCE_MM = 0.05
"""How much nearer one end of an arc may be to the centre than the other: rounded programs."""

Point = tuple[float, float]


def arc_by_centre(
    start: Point, end: Point, centre: Point, *, clockwise: bool, chord_mm: float, file: str
) -> FloatArray:
    """Points along an arc after its start, shape (n, 2); the last is exactly ``end``.

    A difference of the two radii within the tolerance is spread over the arc.

    Raises:
        KerfwrightError: ``program/bad-arc``.

    """
    radius = math.dist(start, centre)
    end_radius = math.dist(end, centre)
    if radius < SAME_MM or abs(radius - end_radius) > CENTRE_TOLERANCE_MM + 1e-3 * radius:
        raise _bad_arc(
            f"an arc starts {radius:.3f} mm from its centre and ends {end_radius:.3f} mm from it.",
            "Both ends must lie on one circle: check I and J, which are relative to the start.",
            file,
        )
    start_rad = math.atan2(start[1] - centre[1], start[0] - centre[0])
    end_rad = math.atan2(end[1] - centre[1], end[0] - centre[0])
    turn = 2.0 * math.pi
    sweep = (start_rad - end_rad if clockwise else end_rad - start_rad) % turn
    if math.dist(start, end) < 1e-9 or sweep < 1e-12:
        sweep = turn
    points = arc_points(centre, radius, start_rad, -sweep if clockwise else sweep, chord_mm)[1:]
    share = np.arange(1, len(points) + 1)[:, None] / len(points)
    reached: FloatArray = points + share * (np.array(end) - points[-1])
    reached[-1] = end
    return reached


def uneven_mm(start: Point, end: Point, centre: Point) -> float:
    """By how much an arc's ends lie unequally far from its centre."""
    return abs(math.dist(start, centre) - math.dist(end, centre))


def arc_by_radius(
    start: Point, end: Point, radius_mm: float, *, clockwise: bool, chord_mm: float, file: str
) -> FloatArray:
    """Points along an arc given by its radius, as :func:`arc_by_centre`.

    Raises:
        KerfwrightError: ``program/bad-arc``.

    """
    chord = math.dist(start, end)
    if chord < 1e-9:
        raise _bad_arc(
            "an arc given by its radius ends where it starts.",
            "Write a whole circle with I and J.",
            file,
        )
    radius = abs(radius_mm)
    if radius < chord / 2.0 - CENTRE_TOLERANCE_MM:
        raise _bad_arc(
            f"an arc of radius {radius:.3f} mm cannot reach over {chord:.3f} mm.",
            "Check R: it is at least half the distance between the arc's ends.",
            file,
        )
    away = math.sqrt(max(radius**2 - (chord / 2.0) ** 2, 0.0))
    left_of_chord = clockwise != (radius_mm > 0.0)
    side = away / chord if left_of_chord else -away / chord
    dx, dy = end[0] - start[0], end[1] - start[1]
    centre = ((start[0] + end[0]) / 2.0 - side * dy, (start[1] + end[1]) / 2.0 + side * dx)
    return arc_by_centre(start, end, centre, clockwise=clockwise, chord_mm=chord_mm, file=file)


def _bad_arc(thing: str, remedy: str, file: str) -> KerfwrightError:
    return KerfwrightError("program/bad-arc", file=file, thing=thing, remedy=remedy)
