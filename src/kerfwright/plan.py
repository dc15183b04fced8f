"""A finished plan: what the planner hands to the outputs."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import reduce
from operator import add

from shapely import MultiPolygon

from kerfwright.cutting.tabs import HoldingTab
from kerfwright.decisions import Decision
from kerfwright.engraving.photo_cells import PhotoPlace
from kerfwright.findings import Finding
from kerfwright.geometry.paths import Path
from kerfwright.motion.expected_time import ExpectedTime, PastRuns
from kerfwright.motion.timing import Times
from kerfwright.nesting.model import SheetSize, WhyLeft
from kerfwright.nesting.remainder import Remainder
from kerfwright.parts.model import Part
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.stock_sheets import NO_STOCK, StockForOrder
from kerfwright.toolpath import BurnSource, Process, Toolpath


@dataclass(frozen=True, eq=False, slots=True)
class Intended:
    """What the drawing asks of a sheet, for verification; in the sheet's coordinates.

    ``cuts`` are outlines, holes and slits on size, before kerf compensation.
    """

    cuts: tuple[Path, ...]
    scores: tuple[Path, ...]
    area: MultiPolygon
    photos: tuple[PhotoPlace, ...] = ()
    relief: MultiPolygon = field(default_factory=MultiPolygon)
    """What engraving leaves standing with a shoulder round it."""
    tabs: tuple[HoldingTab, ...] = ()
    """Where cuts are to be interrupted."""


@dataclass(frozen=True, slots=True)
class Laid:
    """What a part on a sheet is a copy of, and how it was laid."""

    item: int
    """Which of the order's items, from 0."""
    part: int
    """Which of the parts of its drawing, from 0."""
    turn_deg: float
    mirrored: bool
    pinned: bool
    """Whether the order gives it this place."""


@dataclass(frozen=True, eq=False, slots=True)
class PlannedSheet:
    """One sheet with everything on it; parts lie in the sheet's coordinates."""

    number: int
    material: Material
    sheet: SheetSize
    parts: tuple[Part, ...]
    used_fraction: float
    recipes: dict[Process, Recipe]
    toolpath: Toolpath
    sources: tuple[BurnSource, ...]
    intended: Intended
    times: Times
    times_by_process_s: dict[Process, float]
    """Seconds of burning, run-up included; what is left of the total is travel."""
    shared_edges: bool = True
    merge_mm: float = 0.0
    """Cuts this close were taken for one."""
    expected: ExpectedTime | None = None
    """The time with what past runs of the machine teach, where they do."""
    items: tuple[str, ...] = ()
    """What was ordered, for each part."""
    laid: tuple[Laid, ...] = ()
    """Where each part comes from, as far as it is known."""
    left: Remainder | None = None
    """What is left of the sheet when its parts are out, where it was measured."""

    @property
    def slug(self) -> str:
        """Name for the sheet's files."""
        words = f"{self.number:02d} {self.material.name} {self.sheet.name}".lower()
        return "-".join("".join(c if c.isalnum() else " " for c in words).split())


@dataclass(frozen=True, slots=True)
class LeftToMake:
    """Copies of a part for which the sheets in stock had no place, and why."""

    name: str
    material: str
    count: int
    reason: WhyLeft


@dataclass(frozen=True, eq=False, slots=True)
class Plan:
    """An order, planned."""

    title: str
    machine: Machine
    sheets: tuple[PlannedSheet, ...]
    decisions: tuple[Decision, ...]
    findings: tuple[Finding, ...]
    invented: bool
    reference: str = ""
    """What tells the order from others of its title; empty where the title does."""
    left_to_make: tuple[LeftToMake, ...] = ()
    from_stock: StockForOrder = NO_STOCK
    """What of the sheets came from the stock on record."""
    offcut_least_mm: float = 100.0
    """What is left over in a rectangle narrower than this is not worth keeping."""
    past_runs: PastRuns | None = None
    """What recorded runs of the machine say; ``None`` where nobody looked or wanted to know."""

    @property
    def expected(self) -> ExpectedTime | None:
        """Expected time of all sheets together, where every sheet has one."""
        each = [sheet.expected for sheet in self.sheets if sheet.expected is not None]
        if not each or len(each) < len(self.sheets):
            return None
        return reduce(add, each)
