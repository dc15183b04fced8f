"""What an order may take of the stock on record, as sheets to plan on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal

from kerfwright.findings import Finding, Severity, number_of
from kerfwright.shop.faults import Fault
from kerfwright.shop.machine import Machine
from kerfwright.shop.order import Order, StockSheet
from kerfwright.shop.stock_lots import Lot, StockedLot, StockOf
from kerfwright.shop.stock_words import MOST


@dataclass(frozen=True, slots=True)
class StockForOrder:
    """Sheets from the stock on record, what is told of it, and where the sheets lie by label."""

    sheets: tuple[StockSheet, ...] = ()
    findings: tuple[Finding, ...] = ()
    faults: tuple[Fault, ...] = ()
    locations: tuple[tuple[str, str], ...] = ()

    def location(self, label: str) -> str | None:
        """Where a sheet lies; empty where nobody said, ``None`` for what is not from stock."""
        return dict(self.locations).get(label)

    def label(self, name: str) -> str | None:
        """The label of a sheet of that name, which is its name; ``None`` if not from stock."""
        return None if self.location(name) is None else name


NO_STOCK = StockForOrder()


def stock_for(
    order: Order, machine: Machine, known: Collection[str], stock_of: StockOf | None
) -> StockForOrder:
    """Return the sheets that an order may use: on hand, of its materials, and not taken already.

    ``known`` are the names of the order's materials. What is reserved for the order itself is its
    own. A piece that passes the bed is turned a quarter if it lies on it that way, and left out
    with a note if not.
    """
    if order.stock_from != "records" or stock_of is None:
        return NO_STOCK
    wanted = (item.material for item in order.items if item.material in known)
    materials = tuple(dict.fromkeys(wanted))
    lots = stock_of(materials)
    own = {sheet.name for sheet in order.stock}
    faults = tuple(
        Fault(
            "sheet-twice",
            ("stock", number, "name"),
            f'is "{sheet.name}", and so is the label of a sheet in the stock on record.',
            "Take the block out if it is the same sheet, or give it another name.",
        )
        for number, sheet in enumerate(order.stock)
        if sheet.name in {one.label for one in lots}
    )
    free = [one for one in lots if one.free_for(order.whose) > 0 and one.label not in own]
    laid = [(one, _on_bed(one.lot, machine)) for one in free]
    return StockForOrder(
        tuple(
            _sheet(one.label, lot, one.free_for(order.whose))
            for one, lot in laid
            if lot is not None
        ),
        (
            *_too_big([one for one, lot in laid if lot is None], machine),
            *_taken([one for one in lots if one.free_for(order.whose) < one.on_hand], order.whose),
        ),
        faults,
        tuple((one.label, one.lot.location) for one, lot in laid if lot is not None),
    )


def _on_bed(lot: Lot, machine: Machine) -> Lot | None:
    for way in (lot, lot.turned()):
        if way.width_mm <= machine.bed_width_mm and way.height_mm <= machine.bed_height_mm:
            return way
    return None


def _sheet(label: str, lot: Lot, count: int) -> StockSheet:
    return StockSheet(
        material=lot.material,
        name=label,
        width_mm=lot.width_mm,
        height_mm=lot.height_mm,
        count=count,
        offcut=lot.kind == "offcut",
        outline=lot.rings[0] if lot.rings else None,
        holes=lot.rings[1:],
        cost=_rounded(lot.cost),
        price_per_m2=_rounded(lot.price_per_m2),
    )


def _rounded(amount: Decimal | None) -> Decimal | None:
    """An amount with no more digits than an order may have; none where it passes all reason."""
    return None if amount is None or amount >= MOST else round(amount, 4)


def _too_big(lots: Sequence[StockedLot], machine: Machine) -> list[Finding]:
    if not lots:
        return []
    count = sum(one.on_hand for one in lots)
    return [
        Finding(
            Severity.NOTE,
            "stock/too-big-for-bed",
            f"{number_of(count, 'sheet')} in stock ({_labels(lots)}) "
            f'{"is" if count == 1 else "are"} too large for the bed of "{machine.name}" and '
            f"{'was' if count == 1 else 'were'} left out.",
            "Cut them down, and put the pieces into stock instead.",
            count=count,
        )
    ]


def _taken(lots: Sequence[StockedLot], order: str) -> list[Finding]:
    if not lots:
        return []
    count = sum(one.on_hand - one.free_for(order) for one in lots)
    return [
        Finding(
            Severity.NOTE,
            "stock/reserved-for-others",
            f"{number_of(count, 'sheet')} in stock ({_labels(lots)}) "
            f"{'is' if count == 1 else 'are'} reserved for other orders and "
            f"{'was' if count == 1 else 'were'} not used.",
            "kerfwright stock release LABEL makes them free.",
            count=count,
        )
    ]


def _labels(lots: Sequence[StockedLot]) -> str:
    return ", ".join(one.label for one in lots)
