"""Where in an order file a choice of the planner is made by hand, and given back to it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fnmatch import fnmatchcase
from glob import escape

from kerfwright.decisions import BACK, Overrule
from kerfwright.shop.order import EngraveWay, Item, Order, PhotoRows

ENGRAVE_WAYS: tuple[EngraveWay, ...] = ("scan", "contour-parallel", "mixed")

PHOTO_ROWS: tuple[PhotoRows, ...] = ("level", "upright")


def setting_overrules(
    key: str, ways: Mapping[str, str | bool], *, chosen: str, usual: str | bool
) -> tuple[Overrule, ...]:
    """Ways that a key under ``[settings]`` chooses; ``usual`` is what it is if nobody writes it."""
    at = ("settings", key)
    others = [Overrule(way, at, value) for way, value in ways.items() if way != chosen]
    back = [] if ways[chosen] == usual else [Overrule(BACK, at, None)]
    return (*others, *back)


def engrave_overrules(
    order: Order, numbers: Iterable[int], layer: str, ways: Sequence[str], chosen: str
) -> tuple[Overrule, ...]:
    """Ways to engrave one layer of the items ``numbers``, and the choice given back."""
    numbers = sorted(set(numbers))
    others = [
        _layer_overrule(order.items[number], number, layer, way, way)
        for way in ENGRAVE_WAYS
        if way in ways and way != chosen
        for number in numbers
    ]
    by_hand = _by_hand(order, numbers, layer)
    return (*others, *(_layer_back(order, number, layer) for number in by_hand))


def photo_overrules(order: Order, numbers: Iterable[int], chosen: str) -> tuple[Overrule, ...]:
    """Directions of the rows of photos of the items ``numbers``, and the choice given back."""
    numbers = sorted(set(numbers))
    others = [
        Overrule(f"{rows} rows", ("items", number, "photo_rows"), rows)
        for rows in PHOTO_ROWS
        if f"{rows} rows" != chosen
        for number in numbers
    ]
    back = [
        Overrule(BACK, ("items", number, "photo_rows"), None)
        for number in numbers
        if order.items[number].photo_rows != "fastest"
    ]
    return (*others, *back)


def place_overrules(
    numbers: Iterable[int], ways: Iterable[str], *, chosen: str, by_hand: bool, edges_tried: bool
) -> tuple[Overrule, ...]:
    """Ways to lay the items ``numbers``; laying them edge to edge cannot be asked for outright.

    ``edges_tried`` says that the order lets parts be laid edge to edge, which then may win over
    whatever else is asked for.
    """
    numbers = sorted(set(numbers))
    others: list[Overrule] = []
    for way in ways:
        if way in (chosen, "edge-to-edge"):
            continue
        others += [Overrule(way, ("items", number, "place"), way) for number in numbers]
        if edges_tried:
            others.append(Overrule(way, ("settings", "edges"), None))
    back = [Overrule(BACK, ("items", number, "place"), None) for number in numbers]
    return (*others, *(back if by_hand else ()))


def _by_hand(order: Order, numbers: Sequence[int], layer: str) -> list[int]:
    usual = order.settings.engrave
    return [number for number in numbers if order.items[number].way_of(layer, usual) != "fastest"]


def _layer_overrule(item: Item, number: int, layer: str, way: str, value: str) -> Overrule:
    """Have one layer of an item engraved one way, or the item where no layer is named."""
    own = escape(layer)
    matching = _matching(item, layer)
    if not layer:
        key = ("engrave",) if matching is None else ("engrave_layers", matching)
        return Overrule(way, ("items", number, *key), value)
    if matching is None or matching == own:
        return Overrule(way, ("items", number, "engrave_layers", own), value)
    # the first pattern that matches decides, so that the layer's own has to stand before it
    layers = {own: value} | {key: kept for key, kept in item.engrave_layers.items() if key != own}
    return Overrule(way, ("items", number, "engrave_layers"), layers)


def _layer_back(order: Order, number: int, layer: str) -> Overrule:
    """Take the word that decides away, or say ``fastest`` where another would then decide."""
    item = order.items[number]
    matching = _matching(item, layer)
    if matching == escape(layer):
        rest = {key: way for key, way in item.engrave_layers.items() if key != matching}
        freed = item.model_copy(update={"engrave_layers": rest})
        at: tuple[str | int, ...] = ("items", number, "engrave_layers", matching)
        at = at if rest else at[:3]
    else:
        freed = item.model_copy(update={"engrave": None})
        at = ("items", number, "engrave")
    if freed.way_of(layer, order.settings.engrave) == "fastest":
        return Overrule(BACK, at, None)
    return _layer_overrule(item, number, layer, BACK, "fastest")


def _matching(item: Item, layer: str) -> str | None:
    """The pattern among the item's layers that decides, as :meth:`Item.way_of` finds it."""
    patterns = item.engrave_layers
    return next((p for p in patterns if fnmatchcase(layer.lower(), p.lower())), None)
