"""What layouts cost in money: sheets, what is left of them, and the machine's time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from kerfwright.nesting.model import SheetSize
from kerfwright.nesting.remainder import Remainder

SECONDS_AN_HOUR = Decimal(3600)
MM2_A_M2 = 1e6
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Prices:
    """What the shop reckons with; amounts that it does not know are ``None``.

    ``offcut_share`` is the worth of material left over in one rectangle, as a share of its
    price new; a rectangle narrower than ``offcut_least_mm`` is worth nothing.
    """

    rate_per_hour: Decimal | None = None
    offcut_share: float = 0.5
    offcut_least_mm: float = 100.0
    currency: str = ""

    def in_words(self, amount: Decimal) -> str:
        """An amount to the hundredth, with the currency."""
        return f"{amount.quantize(CENT, ROUND_HALF_UP)} {self.currency}".strip()


NO_PRICES = Prices()


@dataclass(frozen=True, slots=True)
class Cost:
    """Terms of what a way costs; ``None`` where a price is missing."""

    sheets: Decimal | None
    left_over: Decimal
    """Worth of the largest rectangle left of each sheet, where it is worth keeping."""
    beam: Decimal | None = None

    @property
    def material(self) -> Decimal | None:
        """Sheets less what is left of them."""
        return None if self.sheets is None else self.sheets - self.left_over

    @property
    def total(self) -> Decimal | None:
        """All terms that are known; ``None`` where no sheet has a price."""
        return None if self.material is None else self.material + (self.beam or Decimal(0))

    def in_words(self, prices: Prices) -> str:
        """The terms as a sum, in plain words."""
        terms = []
        if self.sheets is not None:
            terms.append(f"sheets {prices.in_words(self.sheets)}")
            if self.left_over:
                terms.append(f"less {prices.in_words(self.left_over)} for what is left over")
        if self.beam is not None:
            terms.append(f"machine {prices.in_words(self.beam)}")
        return ", ".join(terms)


def worth(sheet: SheetSize, prices: Prices) -> Decimal | None:
    """What using up a sheet costs: its own cost, or its area at the price of the material.

    Offcuts without a cost of their own count at the share that the prices give them.
    """
    if sheet.cost is not None:
        return sheet.cost
    if sheet.price_per_m2 is None:
        return None
    share = prices.offcut_share if sheet.offcut else 1.0
    return sheet.price_per_m2 * Decimal(sheet.area_mm2 / MM2_A_M2 * share)


def worth_left(sheet: SheetSize, width_mm: float, height_mm: float, prices: Prices) -> Decimal:
    """What a rectangle left of a sheet is worth; nothing where it is too narrow to keep."""
    if min(width_mm, height_mm) < prices.offcut_least_mm or width_mm * height_mm <= 0.0:
        return Decimal(0)
    if sheet.price_per_m2 is not None:
        price_mm2 = sheet.price_per_m2 / Decimal(MM2_A_M2)
    elif sheet.cost is not None:
        price_mm2 = sheet.cost / Decimal(sheet.area_mm2)
    else:
        return Decimal(0)
    # an offcut's own cost is that of something left over already
    share = 1.0 if sheet.offcut and sheet.price_per_m2 is None else prices.offcut_share
    return price_mm2 * Decimal(width_mm * height_mm * share)


def cost_of(
    sheets: Sequence[tuple[SheetSize, Remainder | None]], beam_s: float | None, prices: Prices
) -> Cost:
    """Add up what sheets with these remainders and so many seconds of the machine cost."""
    each = [worth(sheet, prices) for sheet, _ in sheets]
    known = [amount for amount in each if amount is not None]
    rate = prices.rate_per_hour
    return Cost(
        sheets=sum(known, Decimal(0)) if known and len(known) == len(each) else None,
        left_over=sum(
            (worth_left(sheet, *left.rectangle_mm, prices) for sheet, left in sheets if left),
            Decimal(0),
        ),
        beam=None if rate is None or beam_s is None else rate * Decimal(beam_s) / SECONDS_AN_HOUR,
    )
