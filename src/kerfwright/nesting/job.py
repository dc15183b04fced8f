"""What is to be placed on what, and how good a filling of sheets is."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from shapely import MultiPolygon, box
from shapely.affinity import affine_transform

from kerfwright.nesting.board import Board, Kind
from kerfwright.nesting.cost import NO_PRICES, Prices, worth, worth_left
from kerfwright.nesting.empty_rectangle import largest_rectangle
from kerfwright.nesting.footprint import material
from kerfwright.nesting.model import Body, Placement, SheetSize
from kerfwright.nesting.sheet_areas import kept_off

OFFCUT_FIRST = 1e-3
"""Without prices an offcut counts as so small a share of its area, so that offcuts go first."""

Wanted = Counter[int]
"""Copies still to place, by body number."""

Pinned = tuple[Placement, ...]
"""What lies at a fixed place on a sheet."""


@dataclass(frozen=True, eq=False, slots=True)
class Unit:
    """What is placed whole or not at all: one copy of a kind, or one set of a kit."""

    kinds: tuple[tuple[Kind, int], ...]
    rank: int

    @property
    def copies(self) -> Wanted:
        """Copies in it by body number."""
        return Counter({kind.body: count for kind, count in self.kinds})

    @property
    def area_mm2(self) -> float:
        """Area of all that is in it."""
        return math.fsum(kind.area_mm2 * count for kind, count in self.kinds)

    @property
    def outer_mm2(self) -> float:
        """The same with the holes filled."""
        return math.fsum(kind.outer_mm2 * count for kind, count in self.kinds)

    def is_within(self, wanted: Wanted) -> bool:
        """Whether one more of it is wanted."""
        return all(wanted[kind.body] >= count for kind, count in self.kinds)


def units_of(kinds: Sequence[Kind], bodies: Sequence[Body]) -> tuple[Unit, ...]:
    """Kinds by themselves or with the others of their kit; urgent ones first, then the largest.

    Holes count as filled: a ring is laid down before what goes into it.
    """
    kits: dict[object, list[tuple[Kind, int]]] = {}
    for kind in sorted(kinds, key=lambda kind: (-kind.outer_mm2, kind.body)):
        body = bodies[kind.body]
        in_a_set = 1 if body.kit is None else max(body.quantity // body.kit.sets, 1)
        kits.setdefault(body.kit or kind.body, []).append((kind, in_a_set))
    units = [
        Unit(tuple(together), min(bodies[kind.body].rank for kind, _ in together))
        for together in kits.values()
    ]
    return tuple(sorted(units, key=lambda u: (u.rank, -u.outer_mm2, u.kinds[0][0].body)))


@dataclass(frozen=True, eq=False, slots=True)
class Job:
    """What is to be placed on what; ``units`` in the order of placing.

    ``pinned`` are sheets with something at a fixed place; nothing of that is in ``wanted``.
    """

    bodies: tuple[Body, ...]
    kinds: tuple[Kind, ...]
    wanted: Wanted
    sheets: tuple[SheetSize, ...]
    spacing_mm: float
    margin_mm: float
    prices: Prices = NO_PRICES
    pinned: tuple[tuple[SheetSize, Pinned], ...] = ()
    by_corners: dict[object, Board] = field(default_factory=dict)
    """Constructive fillings by sheet, turning and what was wanted: each is asked for again."""
    rooms: dict[object, MultiPolygon] = field(default_factory=dict)

    @property
    def units(self) -> tuple[Unit, ...]:
        """Everything that is placed, in the order of placing."""
        return units_of(self.kinds, self.bodies)

    def room(self, sheet: SheetSize, pinned: Pinned = ()) -> MultiPolygon:
        """Where parts may lie on a sheet, beside what is pinned there."""
        if (sheet, pinned) not in self.rooms:
            usable = sheet.usable(self.margin_mm, self.spacing_mm)
            taken = [
                polygon
                for placement in pinned
                for polygon in _moved(self.bodies[placement.body], placement).geoms
            ]
            self.rooms[sheet, pinned] = kept_off(usable, taken, self.spacing_mm)
        return self.rooms[sheet, pinned]

    def board(self, sheet: SheetSize, pinned: Pinned = ()) -> Board:
        """Return an empty board for a sheet's usable area."""
        return Board(self.room(sheet, pinned), self.spacing_mm)

    def area_mm2(self, wanted: Wanted) -> float:
        """Area of the footprints of ``wanted``."""
        return math.fsum(kind.area_mm2 * wanted[kind.body] for kind in self.kinds)

    @property
    def priced(self) -> bool:
        """Whether every sheet has a price, so that money decides."""
        return all(worth(sheet, self.prices) is not None for sheet in self.sheets)

    def price(self, sheet: SheetSize) -> float:
        """What taking a sheet costs: money, or its area where prices are missing."""
        if self.priced:
            return float(worth(sheet, self.prices) or Decimal(0))
        return sheet.area_mm2 * (OFFCUT_FIRST if sheet.offcut else 1.0)


def _moved(body: Body, placement: Placement) -> MultiPolygon:
    t = placement.transform
    return affine_transform(material(body), [t.a, t.c, t.b, t.d, t.e, t.f])


@dataclass(frozen=True, eq=False, slots=True)
class FilledSheet:
    """A sheet with its board, and what is pinned beside it."""

    sheet: SheetSize
    board: Board
    pinned: Pinned = ()

    @property
    def placements(self) -> tuple[Placement, ...]:
        """Everything on the sheet, in its coordinates."""
        return (*self.pinned, *self.board.placements())

    @property
    def used_width_mm(self) -> float:
        """How far to the right of the board's edge anything reaches."""
        return self.board.used_width_mm


@dataclass(frozen=True, eq=False, slots=True)
class Filling:
    """All sheets filled in one way, and what was left over; the lower ``rank`` is the better."""

    sheets: tuple[FilledSheet, ...]
    left: Wanted
    rank: tuple[float, ...]

    @property
    def cost(self) -> float:
        """What the sheets cost, less what is left of them."""
        return self.rank[-3]

    @classmethod
    def of(cls, job: Job, sheets: Sequence[FilledSheet], left: Wanted) -> Filling:
        """Rank a filling: less left over (of what is urgent first), cheaper sheets, then fewer.

        Cheaper is what the sheets cost less the worth of a rectangle that surely is left; where
        prices are missing, less of new sheets' area, then less of offcuts'. Last comes the width
        in use.
        """
        ranks = sorted({body.rank for body in job.bodies})
        left_mm2 = [
            round(
                math.fsum(
                    kind.area_mm2 * left[kind.body]
                    for kind in job.kinds
                    if job.bodies[kind.body].rank == rank
                ),
                3,
            )
            for rank in ranks
        ]
        width_mm = round(math.fsum(filled.used_width_mm for filled in sheets), 1)
        cost = round(math.fsum(job.price(filled.sheet) for filled in sheets), 3)
        if job.priced:
            cost = round(cost - math.fsum(float(_left_worth(job, f)) for f in sheets), 3)
        return cls(tuple(sheets), left, (*left_mm2, cost, float(len(sheets)), width_mm))


def _left_worth(job: Job, filled: FilledSheet) -> Decimal:
    """Worth of what is left to the right of everything, or above it, whichever is larger."""
    sheet, spacing_mm = filled.sheet, job.spacing_mm
    right, top = filled.board.reach_mm
    for placement in filled.pinned:
        bounds = _moved(job.bodies[placement.body], placement).bounds
        right, top = max(right, bounds[2]), max(top, bounds[3])
    beside = box(right + spacing_mm, 0.0, max(sheet.width_mm, right + spacing_mm), sheet.height_mm)
    above = box(0.0, top + spacing_mm, sheet.width_mm, max(sheet.height_mm, top + spacing_mm))
    if not sheet.plain:
        free = kept_off(MultiPolygon([sheet.material]), sheet.keep_out, spacing_mm)
        beside = largest_rectangle(free.intersection(beside))
        above = largest_rectangle(free.intersection(above))
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (r.bounds for r in (beside, above))]
    worths = [worth_left(sheet, *size, job.prices) for size in sizes if not math.isnan(size[0])]
    return max(worths, default=Decimal(0))
