"""Checks before burning: parts too large for the sheets, and drawings in the wrong scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.findings import Finding, Severity, number_of
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.parts.gathered import names_of
from kerfwright.parts.model import Part

SLIPS = (
    (25.4, "drawn in inches and read as millimetres"),
    (1 / 25.4, "drawn in millimetres and read as inches"),
    (10.0, "drawn in centimetres and read as millimetres"),
    (1 / 10, "drawn in millimetres and read as centimetres"),
    (96 / 72, "drawn at 72 units an inch and read at 96"),
    (72 / 96, "drawn at 96 units an inch and read at 72"),
    (96 / 90, "drawn at 90 units an inch and read at 96"),
    (90 / 96, "drawn at 96 units an inch and read at 90"),
)
"""Factors that put a drawing right, with the slip that they undo.

72 and 96 units an inch are CSS's pt and px (CSS Values and Units Level 3, section 5.2); 90 was
usual before (common practice, no source).
"""

ABSURD_MM = 2.0
"""A drawing whose largest part is smaller than this is hardly meant; common practice, no source."""

PLAUSIBLE_MM = 10.0
"""A drawing whose largest part is at least this long may be meant."""


@dataclass(frozen=True, slots=True)
class SheetRoom:
    """A sheet in stock and what its parts may take up, the margin already taken off, in mm."""

    name: str
    width_mm: float
    height_mm: float
    room_mm: tuple[float, float]


@dataclass(frozen=True, eq=False, slots=True)
class Sized:
    """What has to fit a sheet in one piece: ``points`` of shape (n, 2) in mm bound it."""

    name: str
    points: FloatArray
    turns_deg: tuple[float, ...] = (0.0, 90.0)

    @property
    def sizes_mm(self) -> FloatArray:
        """Width and height in every allowed turn, shape (turns, 2)."""
        turned = [rotation(turn).apply(self.points) for turn in self.turns_deg]
        return np.array([points.max(axis=0) - points.min(axis=0) for points in turned])


def pieces_to_place(
    parts: Sequence[Part], turns_deg: tuple[float, ...], *, together: str = ""
) -> list[Sized]:
    """Each part by itself, or all as one of the name ``together`` where they stay as drawn."""
    if not together or not parts:
        return [Sized(part.name, part.outline.points, turns_deg) for part in parts]
    return [Sized(together, np.concatenate([p.outline.points for p in parts]), turns_deg)]


def larger_than_sheets(
    pieces: Sequence[Sized], sheets: Sequence[SheetRoom], bed_mm: tuple[float, float], drawing: str
) -> list[Finding]:
    """Stop for pieces that no sheet takes in any allowed turn."""
    large = [piece for piece in pieces if not _fits(piece, 1.0, sheets)]
    if not large:
        return []
    piece = max(large, key=lambda piece: float(piece.sizes_mm.prod(axis=1).min()))
    middle = (piece.points.min(axis=0) + piece.points.max(axis=0)) / 2.0
    on_bed = any((size <= bed_mm).all() for size in piece.sizes_mm)
    bed = "" if on_bed else f", nor the bed ({bed_mm[0]:g} × {bed_mm[1]:g} mm)"
    stock = ", ".join(f"{s.name} ({s.width_mm:g} × {s.height_mm:g} mm)" for s in sheets)
    return [
        Finding(
            Severity.STOP,
            "parts/larger-than-sheets",
            f"{number_of(len(large), 'part')} {'fits' if len(large) == 1 else 'fit'} no sheet less "
            f'its margin{bed}; the largest, "{piece.name}", is {_size(piece)}. In stock: {stock}.',
            "Add a larger sheet under [[stock]], allow other turns_deg, or divide the part.",
            drawing=drawing,
            shape=names_of(one.name for one in large),
            x_mm=float(middle[0]),
            y_mm=float(middle[1]),
            count=len(large),
        )
    ]


def scale_findings(
    pieces: Sequence[Sized],
    sheets: Sequence[SheetRoom],
    drawing: str,
    *,
    thickness_mm: float = 0.0,
) -> list[Finding]:
    """Warn of a drawing that is too large or absurdly small, and plausible after a usual factor.

    Without ``sheets`` only absurdly small drawings are told. A drawing whose largest part is
    smaller than 2 mm or than the material is thick counts as absurd.
    """
    if not pieces:
        return []
    largest = max(pieces, key=lambda piece: float(piece.sizes_mm.max()))
    long_mm = float(largest.sizes_mm.max())
    too_large = bool(sheets) and any(not _fits(piece, 1.0, sheets) for piece in pieces)
    least_mm = max(ABSURD_MM, thickness_mm)
    too_small = long_mm < least_mm
    slips = likely_slips(pieces, sheets) if too_large or too_small else []
    if not slips:
        return []
    trouble = "fits no sheet in stock" if too_large else f"has no part longer than {least_mm:g} mm"
    ways = "; or ".join(
        f"× {factor:.4g} it would be {_size(largest, factor)}, as if it were {slip}"
        for factor, slip in slips
    )
    middle = (largest.points.min(axis=0) + largest.points.max(axis=0)) / 2.0
    return [
        Finding(
            Severity.WARN,
            "parts/scale-suspicion",
            f'the drawing {trouble}: "{largest.name}" is {_size(largest)}. {ways[0].upper()}'
            f"{ways[1:]}.",
            "Compare a size that you know. Then state the right unit in the program that it was "
            "drawn in, or for a DXF file without a unit as unit = … at the item.",
            drawing=drawing,
            shape=largest.name,
            x_mm=float(middle[0]),
            y_mm=float(middle[1]),
        )
    ]


def likely_slips(pieces: Sequence[Sized], sheets: Sequence[SheetRoom]) -> list[tuple[float, str]]:
    """Factors after which all ``pieces`` fit a sheet and the largest is no toy, at most two.

    The one that changes least comes first.
    """
    long_mm = max(float(piece.sizes_mm.max()) for piece in pieces)
    found = [
        (factor, slip)
        for factor, slip in SLIPS
        if factor * long_mm >= PLAUSIBLE_MM
        and (not sheets or all(_fits(piece, factor, sheets) for piece in pieces))
    ]
    return sorted(found, key=lambda one: abs(np.log(one[0])))[:2]


def _fits(piece: Sized, factor: float, sheets: Sequence[SheetRoom]) -> bool:
    sizes = factor * piece.sizes_mm
    return any(bool((sizes <= np.add(sheet.room_mm, 1e-9)).all(axis=1).any()) for sheet in sheets)


def _size(piece: Sized, factor: float = 1.0) -> str:
    width, height = factor * (piece.points.max(axis=0) - piece.points.min(axis=0))
    return f"{width:.1f} × {height:.1f} mm"
