"""An order's drawings: how they were understood, their files, and what rules would take of them."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Path, Query, Response, UploadFile
from pydantic import BaseModel, Field

from kerfwright.errors import KerfwrightError
from kerfwright.shop.order import Rule
from kerfwright.web.api.orders import Here, OrderPage, Seen, ThisOrder, changing_order, order_page
from kerfwright.web.drawn_model import Caught, DrawnItem
from kerfwright.web.drawn_order import DrawnOrder
from kerfwright.web.order_items import (
    Undo,
    add_items,
    remove_item,
    replace_drawing,
    take_back,
)

router = APIRouter(tags=["drawings"])

ItemNumber = Annotated[int, Path(ge=0, le=10_000, description="The item's number, from 0.")]


class Changed(BaseModel):
    """The order after a change, and what was done with files."""

    page: OrderPage
    kept: str | None = None
    """Where a drawing's former file lies now."""
    undo: Undo | None = None


class RuleAsked(BaseModel):
    """A rule that is being thought of."""

    rule: Rule
    item: Annotated[int, Field(ge=0, le=10_000)] | None = None
    """For this item only; ``null`` for the whole order."""
    place: Annotated[int, Field(ge=0, le=10_000)] = 10_000
    """Where among its owner's rules it would stand, from 0; at most behind the last."""
    instead: bool = False
    """It takes the place of the rule that stands there."""


class CaughtOfItem(BaseModel):
    """What a rule would take of an item's drawing."""

    item: int
    caught: Caught | None
    """``null`` where the drawing cannot be read."""


@router.get(
    "/orders/{slug}/items/{number}/drawing",
    response_model=DrawnItem,
    responses={204: {"description": "What is known is still so."}},
)
def show_drawing(
    order: ThisOrder,
    workshop: Here,
    number: ItemNumber,
    known: Annotated[str, Query(max_length=64)] = "",
) -> Response:
    """An item's drawing as it was understood: lines by process, parts, findings with places.

    ``known`` is the digest of an answer that is at hand already.
    """
    drawn = DrawnOrder(workshop, order)
    digest, answer = drawn.item(number, known)
    if answer is None:
        return Response(status_code=204)
    headers = {"etag": f'"{digest}"'}
    return Response(answer, media_type="application/json", headers=headers)


@router.post("/orders/{slug}/items")
def add_drawings(
    order: ThisOrder,
    workshop: Here,
    files: list[UploadFile],
    seen: Seen,
    material: Annotated[str, Form(min_length=1, max_length=200)],
) -> Changed:
    """Add drawings to the order, an item each; all or none."""
    with changing_order(order, seen):
        add_items(workshop, order, files, material)
    return Changed(page=order_page(order))


@router.put("/orders/{slug}/items/{number}/drawing")
def change_drawing(
    order: ThisOrder, workshop: Here, seen: Seen, number: ItemNumber, files: list[UploadFile]
) -> Changed:
    """Put another file in the place of an item's drawing; the former file is kept."""
    if len(files) != 1:
        raise KerfwrightError(
            "pages/no-drawing",
            file=order.slug,
            thing=f"{len(files)} files were sent in the place of one drawing.",
            remedy="Choose one file.",
        )
    with changing_order(order, seen):
        kept = replace_drawing(workshop, order, number, files[0])
    return Changed(page=order_page(order), kept=None if kept is None else workshop.shown(str(kept)))


@router.delete("/orders/{slug}/items/{number}")
def take_out_item(order: ThisOrder, seen: Seen, number: ItemNumber) -> Changed:
    """Take an item out of the order; its drawing stays in the folder."""
    with changing_order(order, seen):
        undo = remove_item(order, number)
    return Changed(page=order_page(order), undo=undo)


@router.post("/orders/{slug}/undo")
def undo_change(order: ThisOrder, workshop: Here, undo: Undo) -> OrderPage:
    """Write the order file as it was before a change, if nobody changed it since."""
    with changing_order(order, None):
        take_back(workshop, order, undo)
    return order_page(order)


@router.post("/orders/{slug}/rules/preview")
def preview_rule(order: ThisOrder, workshop: Here, asked: RuleAsked) -> list[CaughtOfItem]:
    """Tell what a rule would take, of one item's drawing or of all; nothing is changed."""
    drawn = DrawnOrder(workshop, order)
    items = drawn.order.items
    wanted = range(len(items)) if asked.item is None else [asked.item]
    told = []
    for number in wanted:
        own = items[number].rules if number < len(items) else ()
        rules, first = (own, 0) if asked.item is not None else (drawn.order.rules, len(own))
        place = min(asked.place, len(rules))
        others = [one for n, one in enumerate(rules) if not (asked.instead and n == place)]
        all_rules = (*others, *drawn.order.rules) if asked.item is not None else (*own, *others)
        told.append(_caught(drawn, number, asked.rule, all_rules, first + place))
    return told


def _caught(
    drawn: DrawnOrder, number: int, rule: Rule, rules: tuple[Rule, ...], place: int
) -> CaughtOfItem:
    try:
        return CaughtOfItem(item=number, caught=drawn.caught(number, rule, rules, place))
    except KerfwrightError as error:
        if error.code == "pages/nothing-there":
            raise
        return CaughtOfItem(item=number, caught=None)
