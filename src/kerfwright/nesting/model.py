"""Bodies to place, and where they were placed."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from shapely import Polygon

from kerfwright.geometry.affine import Affine, rotation, translation


@dataclass(frozen=True, eq=False, slots=True)
class Body:
    """Something placed as a whole: a part, or several that keep their places to one another.

    ``footprint`` holds the finished material (one polygon or several), ``quantity`` says how
    many are wanted, ``turns_deg`` by which angles it may be turned.
    """

    name: str
    footprint: tuple[Polygon, ...]
    quantity: int
    turns_deg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class SheetSize:
    """A kind of sheet and how many there are."""

    name: str
    width_mm: float
    height_mm: float
    count: int


@dataclass(frozen=True, slots=True)
class Placement:
    """Body number ``body`` turned about its drawing's origin, then moved."""

    body: int
    turn_deg: float
    x_mm: float
    y_mm: float

    @property
    def transform(self) -> Affine:
        """From the drawing's coordinates to the sheet's."""
        return translation(self.x_mm, self.y_mm) @ rotation(self.turn_deg)


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """One sheet, its lower left corner at the origin, and what lies on it."""

    sheet: SheetSize
    placements: tuple[Placement, ...]
    used_fraction: float
    """Area of finished parts over the area of the sheet."""


@dataclass(frozen=True, slots=True)
class Layouts:
    """All sheets of one material; ``unplaced`` counts what fitted nowhere, by body number."""

    sheets: tuple[SheetLayout, ...]
    unplaced: dict[int, int]

    @property
    def area_mm2(self) -> float:
        """Area of all sheets."""
        return sum(layout.sheet.width_mm * layout.sheet.height_mm for layout in self.sheets)

    @property
    def in_words(self) -> str:
        """The sheets by their names, such as ``2 × half sheet, 1 × offcut``."""
        counts = Counter(layout.sheet.name for layout in self.sheets)
        return ", ".join(f"{count} × {name}" for name, count in counts.items())
