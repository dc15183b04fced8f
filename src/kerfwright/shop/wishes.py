"""What may be wrong with the wishes of an order's items: keys that do not go together."""

from __future__ import annotations

from collections.abc import Iterator

from kerfwright.shop.faults import Fault, Location, listed, nearest
from kerfwright.shop.order import Item, Order


def wish_faults(order: Order) -> list[Fault]:
    """Keys of one item, or of several, that contradict one another."""
    return [
        fault
        for n, item in enumerate(order.items)
        for fault in (
            *_fill_faults(("items", n), item),
            *_fixed_faults(("items", n), item, order),
            *_pinned_faults(("items", n), item, order),
            *_kit_faults(("items", n), item, order),
            *_compact_faults(("items", n), item),
            *_batch_faults(("items", n), item),
        )
    ]


def _fill_faults(at: Location, item: Item) -> Iterator[Fault]:
    if item.at_most is None:
        return
    if not item.fill:
        yield Fault(
            "wishes-contradict",
            (*at, "at_most"),
            "means nothing without fill = true.",
            "Add fill = true, or take at_most out.",
        )
    elif item.at_most < item.quantity:
        yield Fault(
            "wishes-contradict",
            (*at, "at_most"),
            f"is {item.at_most}, but {item.quantity} are wanted.",
            "Give quantity what is needed at least, and at_most what is welcome in all.",
        )


def _fixed_faults(at: Location, item: Item, order: Order) -> Iterator[Fault]:
    if item.on_sheet is not None and item.at_mm is None:
        yield Fault(
            "wishes-contradict",
            (*at, "on_sheet"),
            "means nothing without at_mm.",
            "Add at_mm = [x, y], or take on_sheet out.",
        )
    if item.at_mm is None:
        if item.sheet_number != 1:
            yield Fault(
                "wishes-contradict",
                (*at, "sheet_number"),
                "means nothing without at_mm.",
                "Add at_mm = [x, y], or take sheet_number out.",
            )
        return
    if item.kit is not None:
        yield Fault(
            "wishes-contradict",
            (*at, "at_mm"),
            f'gives a place of its own, and kit = "{item.kit}" leaves that to the planner.',
            "Keep one of them; give every item of the kit an at_mm on one sheet if need be.",
        )
    if item.quantity != 1 or item.fill:
        yield Fault(
            "wishes-contradict",
            (*at, "at_mm"),
            "gives one place, but more than one is to be made.",
            "Give quantity = 1 here without fill, and a block without at_mm for the others.",
        )
    names = [sheet.name for sheet in order.stock if sheet.material == item.material]
    if item.on_sheet is not None and names and item.on_sheet not in names:
        like = nearest(item.on_sheet, names)
        yield Fault(
            "sheet-unknown",
            (*at, "on_sheet"),
            f'is "{item.on_sheet}", and no sheet of "{item.material}" has that name.',
            f'Did you mean "{like}"?' if like else f"There is {listed(names)}.",
        )


def _pinned_faults(at: Location, item: Item, order: Order) -> Iterator[Fault]:
    if not item.pinned:
        return
    if item.at_mm is not None or item.place in ("as-drawn", "compact"):
        other = "at_mm" if item.at_mm is not None else f'place = "{item.place}"'
        yield Fault(
            "wishes-contradict",
            (*at, "pinned"),
            f"gives single parts a place, and {other} keeps the drawing together.",
            "Keep one of them.",
        )
    if item.kit is not None or item.one_sheet:
        yield Fault(
            "wishes-contradict",
            (*at, "pinned"),
            "gives places on sheets, and kit or one_sheet leaves the sheet to the planner.",
            "Keep one of them.",
        )
    names = [sheet.name for sheet in order.stock if sheet.material == item.material]
    for n, pin in enumerate(item.pinned):
        if sum(other.part == pin.part for other in item.pinned[: n + 1]) > item.quantity:
            yield Fault(
                "wishes-contradict",
                (*at, "pinned", n),
                f"pins more copies of part {pin.part} than the {item.quantity} that are wanted.",
                "Take the block out, or make more.",
            )
        if pin.on_sheet is not None and names and pin.on_sheet not in names:
            yield Fault(
                "sheet-unknown",
                (*at, "pinned", n, "on_sheet"),
                f'is "{pin.on_sheet}", and no sheet of "{item.material}" has that name.',
                f"There is {listed(names)}.",
            )


def _kit_faults(at: Location, item: Item, order: Order) -> Iterator[Fault]:
    if item.kit is None:
        return
    if item.one_sheet or item.fill:
        yield Fault(
            "wishes-contradict",
            (*at, "kit"),
            "asks for everything on one sheet, and one_sheet or fill for something else.",
            "Keep one of them.",
        )
    materials = {other.material for other in order.items if other.kit == item.kit}
    if len(materials) > 1:
        yield Fault(
            "wishes-contradict",
            (*at, "kit"),
            f'is "{item.kit}", and items of other materials are in it.',
            "A kit lies on one sheet, and so is of one material; give each its own name.",
        )


def _compact_faults(at: Location, item: Item) -> Iterator[Fault]:
    if item.place in ("compact", "cheapest"):
        return
    for key, usual in (("compact_to", "bottom-left"), ("compact_as", "parts")):
        if getattr(item, key) != usual:
            yield Fault(
                "wishes-contradict",
                (*at, key),
                f'means nothing with place = "{item.place}".',
                f'Write place = "compact", or take {key} out.',
            )


def _batch_faults(at: Location, item: Item) -> Iterator[Fault]:
    if item.batch is None:
        return
    told = {
        "at_mm": "gives one place, but a copy is made for each row of the batch",
        "fill": "would make more of some rows than of others",
        "pinned": "gives one place, but a copy is made for each row of the batch",
    }
    for key, why in told.items():
        if getattr(item, key) not in (None, False, ()):
            yield Fault(
                "wishes-contradict",
                (*at, key),
                f"{why}.",
                f"Take {key} out; quantity makes more of every row.",
            )
