"""What a quote holds."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class ItemWork:
    """What an item of the order takes: ``pieces`` as ordered, ``parts`` cut or marked for them."""

    item: str
    material: str
    pieces: int
    parts: int
    area_mm2: float
    beam_s: float
    """Expected time of its own burns, and its share of travel and waiting."""


@dataclass(frozen=True, slots=True)
class SheetWork:
    """A sheet that is used; ``price`` and ``price_per_m2`` where it has its own.

    A sheet with a ``price`` costs that; what comes back of it is still worth its ``price_per_m2``.
    """

    material: str
    name: str
    area_mm2: float
    parts_mm2: float
    offcut_mm2: float
    """Reusable offcut that comes back."""
    beam_s: float
    price: Decimal | None = None
    price_per_m2: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """Everything in a plan that costs money."""

    items: tuple[ItemWork, ...]
    sheets: tuple[SheetWork, ...]

    @property
    def beam_s(self) -> float:
        """Expected seconds of all programs."""
        return sum(sheet.beam_s for sheet in self.sheets)


@dataclass(frozen=True, slots=True)
class QuoteLine:
    """One line of the reckoning: what for, how it is worked out, and the rounded amount."""

    what: str
    how: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class ItemPrice:
    """What an item costs, before tax; ``each`` is rounded and only told."""

    item: str
    material: str
    pieces: int
    price: Decimal
    each: Decimal
    discount: Decimal


@dataclass(frozen=True, slots=True)
class Quote:
    """A price with every line that leads to it; the amounts of each list add up exactly."""

    title: str
    currency: str
    locale: str
    costs: tuple[QuoteLine, ...]
    surcharges: tuple[QuoteLine, ...]
    """What turns costs into the net price: margin, discounts, the minimum."""
    items: tuple[ItemPrice, ...]
    net: Decimal
    tax: QuoteLine
    total: Decimal
    beam_s: float
    sheets: int
    invented: bool

    @property
    def cost(self) -> Decimal:
        """All costs, without margin."""
        return sum((line.amount for line in self.costs), Decimal(0))
