"""One way to lay a material's parts on its sheets, and why it is taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from kerfwright.findings import number_of
from kerfwright.nesting.bodies import ItemBody
from kerfwright.nesting.cost import CENT, Cost, Prices
from kerfwright.nesting.model import Layouts
from kerfwright.nesting.remainder import Remainder
from kerfwright.shop.order import PlaceWay, Settings

WayName = PlaceWay | Literal["edge-to-edge"]

SAME_MM2 = 1.0
"""Sheets whose areas differ by less are the same for the choice."""


def distances_mm(settings: Settings, kerf_mm: float, *, cut: bool) -> tuple[float, float]:
    """Least distances in mm of finished parts from the sheet's edge, and from one another."""
    # the beam runs half a kerf outside the part and must stay on the sheet
    margin_mm = max(settings.margin_mm, kerf_mm / 2 if cut else 0.0)
    # twice the kerf leaves a web as wide as the kerf between neighbouring cuts
    usual_mm = max(1.0, 2.0 * kerf_mm)
    return margin_mm, usual_mm if settings.spacing_mm is None else settings.spacing_mm


@dataclass(frozen=True, eq=False, slots=True)
class Way:
    """One way to lay everything: bodies, where they lie, and what it costs so far."""

    name: WayName
    bodies: tuple[ItemBody, ...]
    layouts: Layouts
    remainders: tuple[Remainder | None, ...]
    cost: Cost
    beam_s: float | None = None

    @property
    def parts(self) -> int:
        """How many parts lie on the sheets."""
        return sum(
            len(self.bodies[p.body].parts)
            for layout in self.layouts.sheets
            for p in layout.placements
        )

    @property
    def parts_left(self) -> int:
        """How many parts found no place."""
        left = self.layouts.unplaced.items()
        return sum(len(self.bodies[body].parts) * count for body, count in left)

    @property
    def sheets_mm2(self) -> tuple[float, float]:
        """Area of new sheets, and of offcuts: the former weighs more."""
        each = [(layout.sheet.offcut, layout.sheet.area_mm2) for layout in self.layouts.sheets]
        new = sum(area for offcut, area in each if not offcut)
        return new, sum(area for offcut, area in each if offcut)

    @property
    def sheets_rank(self) -> tuple[float, ...]:
        """The less the better, without the machine's time: left over, then money or area."""
        if self.cost.material is not None:
            return (float(self.parts_left), float(self.cost.material.quantize(CENT)))
        new, offcuts = (round(area / SAME_MM2) for area in self.sheets_mm2)
        return (float(self.parts_left), float(new), float(offcuts))


def why_chosen(chosen: Way, ways: Sequence[Way], prices: Prices, *, asked: bool) -> str:
    """What the chosen way saves against the best of the others."""
    others = [way for way in ways if way is not chosen]
    if not others:
        return "there is no other way"
    if asked:
        return "the order asks for it"
    other = min(others, key=lambda way: (way.sheets_rank, way.beam_s or 0.0))
    fewer = other.parts_left - chosen.parts_left
    if fewer > 0:
        return f"leaves {number_of(fewer, 'part')} less over"
    if chosen.cost.total is not None and other.cost.total is not None:
        saved = other.cost.total - chosen.cost.total
        if saved >= CENT:
            return f"saves {prices.in_words(saved)}"
    new, offcuts = (b - a for a, b in zip(chosen.sheets_mm2, other.sheets_mm2, strict=True))
    if new > SAME_MM2:
        return f"saves {new / 1e6:.3f} m² of sheet"
    if abs(new) <= SAME_MM2 and offcuts > SAME_MM2:
        return f"saves {offcuts / 1e6:.3f} m² of offcuts"
    if chosen.beam_s is not None and other.beam_s is not None:
        return f"takes no more sheet, and {max(other.beam_s - chosen.beam_s, 0.0):.1f} s less"
    return "takes no more sheet"


def override_of(chosen: str, ways: int, *, from_records: bool = False) -> str:
    """The key of the order that chooses by hand."""
    if ways < 2 and from_records:
        return "the sheets to use as [[stock]] blocks, without stock_from"
    if ways < 2:
        return "cost, count or offcut in the [[stock]] of other sheets"
    if chosen == "edge-to-edge":
        return 'edges = "apart" in [settings]'
    if chosen != "nest":
        return 'place = "nest" in the [[items]] that may be taken apart'
    return 'place = "as-drawn" in the [[items]] that should stay as drawn'
