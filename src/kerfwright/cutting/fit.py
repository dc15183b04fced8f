"""Slots on the thickness of the sheet that they are cut from, so that parts press into each other.

A sheet sold as 3 mm is seldom 3.00 mm thick, and a press fit wants tenths. A slot is recognised as
two straight sides that stand square on a straight bottom about as long as the sheet is thick: a
notch of an outline or of a hole, or a hole with four corners. Its sides are moved, half the way
each, until they are the thickness and the allowance apart; its depth stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from kerfwright.findings import Finding, Severity, number_of
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.parts.model import Part

NEAR_SHARE = 0.2
"""How far from the thickness a slot may be drawn and still be one, as a share of it."""

SQUARE_DEG = 1.5
"""How far from a right angle the corners of a slot's bottom may be."""

BEND_DEG = 0.5
"""A vertex that turns more ends a straight side."""

STRAIGHT_MM = 0.01
"""How far a side may stray from a straight line."""

LEAST_DEPTH_SHARE = 0.5
"""Of the thickness: shallower notches are steps, not slots."""


@dataclass(frozen=True, slots=True)
class _Slot:
    """Two sides of a ring as runs of vertices (first, last), how far apart, where the bottom is."""

    sides: tuple[tuple[int, int], tuple[int, int]]
    width_mm: float
    x_mm: float
    y_mm: float


def fitted(
    parts: Sequence[Part], thickness_mm: float, fit_mm: float
) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    """Make every slot of ``parts`` as wide as ``thickness_mm + fit_mm``, and tell what was done."""
    wanted_mm = thickness_mm + fit_mm
    made: list[Part] = []
    slots: list[_Slot] = []
    kept: list[_Slot] = []
    for part in parts:
        if part.blank:
            made.append(part)
            continue
        rings = (part.outline, *part.holes)
        found = [_slots(ring, thickness_mm) for ring in rings]
        moved = [_moved(ring, those, wanted_mm) for ring, those in zip(rings, found, strict=True)]
        changed = replace(part, outline=moved[0], holes=tuple(moved[1:]))
        here = [slot for those in found for slot in those]
        fits = changed.polygon.is_valid
        made.append(changed if fits else part)
        (slots if fits else kept).extend(here)
    drawing = parts[0].drawing if parts else ""
    return tuple(made), _findings(slots, kept, thickness_mm, fit_mm, drawing)


def _slots(ring: Path, thickness_mm: float) -> list[_Slot]:
    """Slots of a closed line that has the material on its left."""
    points = ring.points
    corners = _corners(points)
    if len(corners) < 4:
        return []
    ends = points[corners]
    steps = np.roll(ends, -1, axis=0) - ends
    length = np.hypot(*steps.T)
    heading = np.degrees(np.arctan2(steps[:, 1], steps[:, 0]))
    # at the corner where each side begins; to the right, round the material, below 0
    turn = (heading - np.roll(heading, 1) + 180.0) % 360.0 - 180.0
    runs = _runs(corners)
    straight = [_is_straight(points, *run) for run in runs]
    found: dict[frozenset[tuple[int, int]], _Slot] = {}
    count = len(corners)
    for k in range(count):
        before, after = (k - 1) % count, (k + 1) % count
        if (
            abs(length[k] - thickness_mm) <= NEAR_SHARE * thickness_mm
            and abs(turn[k] + 90.0) <= SQUARE_DEG
            and abs(turn[after] + 90.0) <= SQUARE_DEG
            and straight[before]
            and straight[k]
            and straight[after]
            and min(length[before], length[after]) >= LEAST_DEPTH_SHARE * thickness_mm
        ):
            sides = (runs[before], runs[after])
            middle = (ends[k] + ends[after]) / 2.0
            found.setdefault(frozenset(sides), _Slot(sides, float(length[k]), *middle.tolist()))
    return list(found.values())


def _corners(points: FloatArray) -> list[int]:
    """Numbers of the vertices where a closed line bends."""
    after = np.roll(points, -1, axis=0) - points
    heading = np.degrees(np.arctan2(after[:, 1], after[:, 0]))
    turn = (heading - np.roll(heading, 1) + 180.0) % 360.0 - 180.0
    return np.flatnonzero(np.abs(turn) > BEND_DEG).tolist()


def _runs(corners: Sequence[int]) -> list[tuple[int, int]]:
    """First and last vertex of every side; the last side goes over the end of the points."""
    return list(zip(corners, [*corners[1:], corners[0]], strict=True))


def _of_run(count: int, first: int, last: int) -> list[int]:
    """Numbers of a side's vertices, both ends included."""
    return [(first + k) % count for k in range((last - first) % count + 1)]


def _is_straight(points: FloatArray, first: int, last: int) -> bool:
    line = points[_of_run(len(points), first, last)]
    chord = line[-1] - line[0]
    off = line - line[0]
    aside = np.abs(off[:, 0] * chord[1] - off[:, 1] * chord[0]) / max(np.hypot(*chord), 1e-12)
    return bool(aside.max() <= STRAIGHT_MM)


def _moved(ring: Path, slots: Sequence[_Slot], wanted_mm: float) -> Path:
    """Return the line with the sides of its slots moved into the material, or out of it."""
    if not slots:
        return ring
    points = ring.points
    shift = np.zeros_like(points)
    touched: set[int] = set()
    for slot in slots:
        for first, last in slot.sides:
            along = points[last] - points[first]
            into = np.array([-along[1], along[0]]) / np.hypot(*along)
            vertices = _of_run(len(points), first, last)
            shift[vertices] += into * (wanted_mm - slot.width_mm) / 2.0
            touched.update(vertices)
    count = len(points)
    spans = tuple(
        span
        for span in ring.spans
        if touched.isdisjoint(k % count for k in range(span.first, span.last + 1))
    )
    return Path(points + shift, ring.closed, spans)


def _findings(
    slots: Sequence[_Slot],
    kept: Sequence[_Slot],
    thickness_mm: float,
    fit_mm: float,
    drawing: str,
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    if not slots and not kept:
        found.append(
            Finding(
                Severity.WARN,
                "cutting/no-slots-to-fit",
                f"fit_mm is set, but no slot is about {thickness_mm:g} mm wide.",
                "Check the drawing's scale and the material's thickness_mm, or take fit_mm out.",
                drawing=drawing,
            )
        )
    if slots:
        drawn = sorted(slot.width_mm for slot in slots)
        widths = f"{drawn[0]:.2f} mm"
        if drawn[-1] - drawn[0] > 0.005:
            widths += f" to {drawn[-1]:.2f} mm"
        found.append(
            Finding(
                Severity.NOTE,
                "cutting/slots-fitted",
                f"{number_of(len(slots), 'slot')} drawn {widths} wide "
                f"{'is' if len(slots) == 1 else 'are'} cut {thickness_mm + fit_mm:.2f} mm wide, "
                f"for {thickness_mm:g} mm of material and {fit_mm:+g} mm to fit.",
                "Try one joint on an offcut of the same sheet before cutting all.",
                drawing=drawing,
                x_mm=slots[0].x_mm,
                y_mm=slots[0].y_mm,
                count=len(slots),
            )
        )
    if kept:
        found.append(
            Finding(
                Severity.WARN,
                "cutting/slots-not-fitted",
                f"{number_of(len(kept), 'slot')} {'stays' if len(kept) == 1 else 'stay'} as drawn: "
                "moved on size, sides would run into each other.",
                "Leave more material beside the slots, or draw them on size.",
                drawing=drawing,
                x_mm=kept[0].x_mm,
                y_mm=kept[0].y_mm,
                count=len(kept),
            )
        )
    return tuple(found)
