"""Bodies to place, sheets to place them on, and where they were placed."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

import shapely
from shapely import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.affine import Affine, rotation, scaling, translation
from kerfwright.nesting.sheet_areas import kept_inside, kept_off

WhyLeft = Literal["part-too-big", "kit-too-big", "out-of-sheets"]
"""Why something has no place: no sheet takes it, or its whole kit, or they are all full."""


@dataclass(frozen=True, slots=True)
class Kit:
    """Bodies of one kit come in ``sets`` equal sets, each of which lies on one sheet."""

    name: str
    sets: int = 1


@dataclass(frozen=True, slots=True)
class FixedPlace:
    """Where a body has to lie: the lower left corner of its box, on one of the sheets of a name.

    ``number`` says which of them, from 1.
    """

    sheet: str
    x_mm: float
    y_mm: float
    number: int = 1


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
    may_mirror: bool = False
    """Whether it may also be laid with its other face up."""
    extra: int = 0
    """So many more may be made of what room is left on sheets that are in use anyway."""
    rank: int = 0
    """Lower ranks are placed before higher ones."""
    kit: Kit | None = None
    fixed: FixedPlace | None = None
    shares_edges: bool = True
    """Whether it may lie one kerf from another, where parts are laid edge to edge."""


@dataclass(frozen=True, slots=True)
class SheetSize:
    """A kind of sheet and how many there are.

    ``outline`` is the material's edge where the sheet is no full rectangle (with its holes),
    inside (0, 0) to (``width_mm``, ``height_mm``); ``keep_out`` are areas that no part may lie
    on. ``cost`` is what one sheet is worth, ``price_per_m2`` what its material costs new.
    """

    name: str
    width_mm: float
    height_mm: float
    count: int
    outline: Polygon | None = None
    keep_out: tuple[Polygon, ...] = ()
    keep_out_why: tuple[str, ...] = ()
    """What is on each of these areas, where that is known."""
    cost: Decimal | None = None
    price_per_m2: Decimal | None = None
    offcut: bool = False
    pockets: tuple[Polygon, ...] = ()
    """Of a fixture that lies there instead of a sheet: the outlines of the blanks it can hold."""

    @property
    def material(self) -> Polygon:
        """The sheet's own area, in its coordinates; areas kept free are still part of it."""
        return self.outline or box(0.0, 0.0, self.width_mm, self.height_mm)

    @property
    def area_mm2(self) -> float:
        """Area of the sheet's material."""
        if self.outline is None:
            return self.width_mm * self.height_mm
        return float(self.outline.area)

    @property
    def plain(self) -> bool:
        """Whether the sheet is a rectangle without areas to keep free."""
        return self.outline is None and not self.keep_out

    @property
    def barred(self) -> BaseGeometry:
        """What of the sheet's box no part may lie on, margins apart."""
        beyond = box(0.0, 0.0, self.width_mm, self.height_mm).difference(self.material)
        return shapely.union_all([beyond, *self.keep_out])

    def usable(self, margin_mm: float, spacing_mm: float = 0.0) -> MultiPolygon:
        """Where finished parts may lie, in the sheet's coordinates.

        At least ``margin_mm`` inside the material's edge, that of its holes too, and
        ``spacing_mm`` from every area to keep free. But for rounding never larger than
        exact, and at most 0.13 % of the distance smaller, at corners. Empty where nothing is left.
        """
        if self.plain:
            if min(self.width_mm, self.height_mm) <= 2.0 * margin_mm:
                return MultiPolygon()
            room = box(margin_mm, margin_mm, self.width_mm - margin_mm, self.height_mm - margin_mm)
            return MultiPolygon([room])
        return kept_off(kept_inside(self.material, margin_mm), self.keep_out, spacing_mm)


@dataclass(frozen=True, slots=True)
class Placement:
    """Body number ``body`` turned about its drawing's origin, then moved.

    ``mirrored`` bodies are mirrored left to right first, about the same origin.
    """

    body: int
    turn_deg: float
    x_mm: float
    y_mm: float
    mirrored: bool = False

    @property
    def transform(self) -> Affine:
        """From the drawing's coordinates to the sheet's."""
        turned = translation(self.x_mm, self.y_mm) @ rotation(self.turn_deg)
        return turned @ scaling(-1.0, 1.0) if self.mirrored else turned


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """One sheet, its lower left corner at the origin, and what lies on it."""

    sheet: SheetSize
    placements: tuple[Placement, ...]
    used_fraction: float
    """Area of finished parts over the area of the sheet's material."""


@dataclass(frozen=True, slots=True)
class Layouts:
    """All sheets of one material; ``unplaced`` counts what fitted nowhere, by body number."""

    sheets: tuple[SheetLayout, ...]
    unplaced: dict[int, int]
    stopped: bool = False
    """Whether the search was broken off by hand; the layouts are legal all the same."""

    @property
    def area_mm2(self) -> float:
        """Area of all sheets."""
        return sum(layout.sheet.area_mm2 for layout in self.sheets)

    @property
    def in_words(self) -> str:
        """The sheets by their names, such as ``2 × half sheet, 1 × offcut``."""
        counts = Counter(layout.sheet.name for layout in self.sheets)
        return ", ".join(f"{count} × {name}" for name, count in counts.items())


@dataclass(frozen=True, eq=False, slots=True)
class LayoutSoFar:
    """The best layouts of a material while places are still searched for, not checked yet.

    ``bodies`` are what the placements number.
    """

    material: str
    bodies: tuple[Body, ...]
    layouts: Layouts
    cost_in_words: str = ""
    """What the sheets cost, less what is left of them; empty where no price is known."""
