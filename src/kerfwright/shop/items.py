"""Which of an order's items a drawing belongs to."""

from __future__ import annotations

from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.shop.faults import listed
from kerfwright.shop.files import Shop
from kerfwright.shop.order import Item


def item_of_drawing(shop: Shop, drawing: Path | str) -> Item:
    """Return the first item made from a drawing: by its path, else by its file name.

    Raises:
        KerfwrightError: no item of the order is made from it.
    """
    file = Path(drawing)
    items = shop.order.items
    for item in items:
        if shop.drawing_file(item).resolve() == file.resolve():
            return item
    for item in items:
        if Path(item.drawing).name == file.name:
            return item
    names = dict.fromkeys(item.drawing for item in items)
    raise KerfwrightError(
        "order/drawing-not-in-order",
        file=str(shop.order_file),
        thing=f'no item of the order is made from "{file.name}"; it has {listed(names)}.',
        remedy="Name one of these drawings, or add an [[items]] block for this one.",
    )
