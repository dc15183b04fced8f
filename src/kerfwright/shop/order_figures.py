"""What orders came to: time, material, scrap and earnings, one by one and together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from kerfwright.shop.orders import SheetWork, ShopOrder

SECONDS_AN_HOUR = 3600


@dataclass(frozen=True, slots=True)
class OrderFigures:
    """Figures of the sheets that were run; seconds and mm².

    ``earned`` and ``earned_s`` are the net price and the machine's time of orders that are run
    wholly and have a price, in ``currency``; both 0 where there is none.
    """

    expected_s: float = 0.0
    actual_s: float = 0.0
    remakes: int = 0
    scrapped: int = 0
    sheets_mm2: float = 0.0
    parts_mm2: float = 0.0
    earned: Decimal = Decimal(0)
    earned_s: float = 0.0
    currency: str = ""

    @property
    def ratio(self) -> float | None:
        """Actual over expected time."""
        return self.actual_s / self.expected_s if self.expected_s else None

    @property
    def used_fraction(self) -> float | None:
        """Share of the sheets that became parts; sheets of re-makes count as waste."""
        return self.parts_mm2 / self.sheets_mm2 if self.sheets_mm2 else None

    @property
    def an_hour(self) -> Decimal | None:
        """Net price for each hour of the machine."""
        return self.earned * SECONDS_AN_HOUR / Decimal(self.earned_s) if self.earned_s else None


@dataclass(frozen=True, slots=True)
class MaterialUse:
    """Sheets of a material that were run, every re-make counted; mm²."""

    material: str
    sheets: int
    sheets_mm2: float
    parts_mm2: float


def figures_of(order: ShopOrder) -> OrderFigures:
    """What one order came to so far."""
    made = _made(order)
    runs = [run for work in made for run in work.runs]
    earned = order.plan.net if order.an_hour is not None and order.plan is not None else None
    return OrderFigures(
        expected_s=order.expected_s,
        actual_s=order.actual_s,
        remakes=len(runs) - len(made),
        scrapped=sum(run.scrapped_parts for run in runs),
        sheets_mm2=sum(work.sheet.sheet_mm2 * len(work.runs) for work in made),
        parts_mm2=sum(work.sheet.parts_mm2 for work in made),
        earned=earned or Decimal(0),
        earned_s=0.0 if earned is None else order.actual_s,
        currency=order.plan.currency if order.plan is not None else "",
    )


def together(figures: Sequence[OrderFigures]) -> OrderFigures:
    """Sums of several orders; no earnings where they are in more than one currency."""
    priced = [one for one in figures if one.earned_s]
    currencies = {one.currency for one in priced}
    alike = priced if len(currencies) == 1 else []
    return OrderFigures(
        expected_s=sum(one.expected_s for one in figures),
        actual_s=sum(one.actual_s for one in figures),
        remakes=sum(one.remakes for one in figures),
        scrapped=sum(one.scrapped for one in figures),
        sheets_mm2=sum(one.sheets_mm2 for one in figures),
        parts_mm2=sum(one.parts_mm2 for one in figures),
        earned=sum((one.earned for one in alike), Decimal(0)),
        earned_s=sum(one.earned_s for one in alike),
        currency=currencies.pop() if alike else "",
    )


def material_use(orders: Iterable[ShopOrder]) -> tuple[MaterialUse, ...]:
    """What was laid in, by material, in alphabetical order."""
    work: dict[str, list[SheetWork]] = {}
    for order in orders:
        for one in _made(order):
            work.setdefault(one.sheet.material, []).append(one)
    return tuple(
        MaterialUse(
            material,
            sum(len(one.runs) for one in made),
            sum(one.sheet.sheet_mm2 * len(one.runs) for one in made),
            sum(one.sheet.parts_mm2 for one in made),
        )
        for material, made in sorted(work.items())
    )


def _made(order: ShopOrder) -> list[SheetWork]:
    return [work for work in order.work if work.runs]
