"""What the shop has in stock: lots of sheets that are alike, and offcuts one by one."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from shapely import Polygon, box
from shapely.validation import explain_validity

from kerfwright.errors import KerfwrightError

LotKind = Literal["sheet", "offcut"]

Moved = Literal["received", "reserved", "released", "used", "returned", "scrapped"]

Rings = tuple[tuple[tuple[float, float], ...], ...]

LABEL_LETTERS: dict[LotKind, str] = {"sheet": "S", "offcut": "E"}
"""Labels are a letter and a number, such as S-003 for sheets and E-014 for an end piece."""

LONGEST_MM = 100_000.0
"""No sheet is longer; a slip of the pen."""

REACH_MM = 1.0
"""An outline reaches the sides of its size, or the piece would be laid elsewhere than planned."""

MM2_A_M2 = Decimal(1_000_000)


@dataclass(frozen=True, slots=True)
class Lot:
    """Sheets that are alike, or an offcut. ``rings`` lie within (0, 0) to the size."""

    material: str
    width_mm: float
    height_mm: float
    received_on: datetime.date
    kind: LotKind = "sheet"
    rings: Rings = ()
    """Outline, then holes; empty for a full rectangle."""
    location: str = ""
    cost: Decimal | None = None
    """What one of these is worth."""
    price_per_m2: Decimal | None = None
    """What a square metre of it costs new."""
    note: str = ""

    @property
    def area(self) -> Polygon:
        """Its material, in its own coordinates."""
        if not self.rings:
            return box(0.0, 0.0, self.width_mm, self.height_mm)
        return Polygon(self.rings[0], self.rings[1:])

    def worth(self, offcut_share: float) -> Decimal | None:
        """What one of these is worth; an offcut without a cost counts at a share of its price."""
        if self.cost is not None:
            return self.cost
        if self.price_per_m2 is None:
            return None
        share = offcut_share if self.kind == "offcut" else 1.0
        return self.price_per_m2 * Decimal(self.area.area * share) / MM2_A_M2

    def turned(self) -> Lot:
        """The same, turned a quarter to the left on the bed."""
        return Lot(
            self.material,
            self.height_mm,
            self.width_mm,
            self.received_on,
            self.kind,
            tuple(tuple((self.height_mm - y, x) for x, y in ring) for ring in self.rings),
            self.location,
            self.cost,
            self.price_per_m2,
            self.note,
        )


@dataclass(frozen=True, slots=True)
class StockedLot:
    """A lot as the records hold it, with what its movements add up to."""

    label: str
    lot: Lot
    on_hand: int
    held: Mapping[str, int] = field(default_factory=dict)
    """How many are reserved, by the reference of the order, which may be its title."""
    cut_from: str | None = None
    """Label of what an offcut was left of."""

    @property
    def reserved(self) -> int:
        """How many are reserved for any order."""
        return sum(self.held.values())

    @property
    def free(self) -> int:
        """How many may still be taken."""
        return self.on_hand - self.reserved

    def free_for(self, order: str) -> int:
        """How many an order may take: those reserved for it are its own."""
        return self.free + self.held.get(order, 0)


@dataclass(frozen=True, slots=True)
class Movement:
    """One line of the ledger; ``on_hand`` and ``held`` are what it adds. The moment is in UTC."""

    number: int
    label: str
    what: Moved
    on_hand: int
    held: int
    moved_at: datetime.datetime
    moved_by: str
    order: str = ""
    plan_sha256: str | None = None
    sheet: int | None = None
    run: int | None = None
    note: str = ""
    reference: str = ""
    """What tells the order from others of its title; empty where the title does."""


StockOf = Callable[[Sequence[str]], Sequence[StockedLot]]
"""Gives the lots on hand of the materials of those names, in the order of their labels."""


def offcut_of(
    parent: Lot, outline: Polygon, *, left_on: datetime.date, location: str | None = None
) -> Lot:
    """Make an offcut of what is left of a lot, its lower left corner moved to the origin.

    It costs no more than its parent did for a square metre; what that is worth as an offcut, the
    order or the list of stock says.
    """
    x_mm, y_mm, x_high_mm, y_high_mm = outline.bounds
    rings = tuple(
        tuple((x - x_mm, y - y_mm) for x, y in ring.coords[:-1])
        for ring in (outline.exterior, *outline.interiors)
    )
    width_mm, height_mm = x_high_mm - x_mm, y_high_mm - y_mm
    price = parent.price_per_m2
    if price is None and parent.cost is not None:
        price = round(parent.cost * MM2_A_M2 / Decimal(parent.area.area), 2)
    return Lot(
        parent.material,
        width_mm,
        height_mm,
        left_on,
        "offcut",
        () if outline.equals(outline.envelope) else rings,
        parent.location if location is None else location,
        None,
        price,
    )


def require_possible(lot: Lot, file: str) -> None:
    """Refuse a lot that cannot be meant.

    Raises:
        KerfwrightError: ``stock/wrong-size`` or ``stock/wrong-outline``.
    """
    if not lot.material.strip():
        raise KerfwrightError(
            "stock/wrong-material",
            file=file,
            thing="the material has no name.",
            remedy="Give the name that stands in the material's file.",
        )
    if not all(0.0 < side <= LONGEST_MM for side in (lot.width_mm, lot.height_mm)):
        raise KerfwrightError(
            "stock/wrong-size",
            file=file,
            thing=f"{lot.width_mm:g} × {lot.height_mm:g} mm is no size of a sheet.",
            remedy="Give width and height in mm, such as 600x400.",
        )
    if not lot.rings:
        return
    if any(len(ring) < 3 for ring in lot.rings):
        raise _wrong_outline(file, "has fewer than three corners")
    area = lot.area
    if not area.is_valid or area.area == 0.0:
        raise _wrong_outline(file, f"is no simple outline ({explain_validity(area)})")
    within = box(0.0, 0.0, lot.width_mm, lot.height_mm).buffer(1e-3)
    if not within.covers(area):
        raise _wrong_outline(file, f"passes the size of {lot.width_mm:g} × {lot.height_mm:g} mm")
    x_low, y_low, x_high, y_high = area.bounds
    if max(x_low, y_low, lot.width_mm - x_high, lot.height_mm - y_high) > REACH_MM:
        raise _wrong_outline(
            file, f"does not reach all sides of {lot.width_mm:g} × {lot.height_mm:g} mm"
        )


def _wrong_outline(file: str, why: str) -> KerfwrightError:
    return KerfwrightError(
        "stock/wrong-outline",
        file=file,
        thing=f"the outline {why}.",
        remedy="Give its corners in turn, once round, measured from the lower left corner of the "
        'smallest rectangle round the piece, such as "0,0 120,0 60,100 0,100"; holes after a ;',
    )
