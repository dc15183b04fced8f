"""Orders that were removed: their folders are moved aside, so that nothing is lost."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.shop.files import load_order
from kerfwright.web.new_order import moved_into_place
from kerfwright.web.workshop import ORDER_FILE, OrderFolder, Workshop

REMOVED = "orders-removed"


@dataclass(frozen=True, slots=True)
class RemovedOrder:
    """A removed order; ``name`` is that of its folder."""

    name: str
    title: str
    removed: datetime.datetime


def removed_orders(workshop: Workshop) -> list[RemovedOrder]:
    """All removed orders, the last one first."""
    found = [_removed(file.parent) for file in _above(workshop).glob(f"*/{ORDER_FILE}")]
    return sorted(found, key=lambda one: one.removed, reverse=True)


def remove_order(workshop: Workshop, order: OrderFolder) -> RemovedOrder:
    """Move an order's folder aside.

    Raises:
        KerfwrightError: ``pages/order-in-own-folder`` or ``pages/cannot-write``.
    """
    if order.folder.resolve().parent != (workshop.folder / "orders").resolve():
        raise KerfwrightError(
            "pages/order-in-own-folder",
            file=order.file.name,
            thing="the order lies in the workshop's own folder, beside the machine's file.",
            remedy="Move its order file and drawings away by hand.",
        )
    above = _above(workshop)
    try:
        above.mkdir(exist_ok=True)
        target = _free(above, order.slug)
        order.folder.rename(target)
        # the folder's own time says when it was removed
        target.touch()
    except OSError as error:
        raise _cannot(order.folder, error) from error
    return _removed(target)


def bring_back(workshop: Workshop, name: str) -> OrderFolder:
    """Move a removed order back to the others.

    Raises:
        KerfwrightError: there is none of that name, or it cannot be moved.
    """
    found = next((one for one in removed_orders(workshop) if one.name == name), None)
    if found is None:
        raise KerfwrightError(
            "pages/nothing-there",
            file=REMOVED,
            thing="that order is not among the removed ones.",
            remedy="Load the page again.",
        )
    folder = _above(workshop) / found.name
    try:
        return moved_into_place(workshop, folder, found.name)
    except OSError as error:
        raise _cannot(folder, error) from error


def _removed(folder: Path) -> RemovedOrder:
    try:
        title = load_order(folder / ORDER_FILE).title
    except KerfwrightError:
        title = folder.name
    moment = datetime.datetime.fromtimestamp(folder.stat().st_mtime, tz=datetime.UTC)
    return RemovedOrder(folder.name, title, moment)


def _above(workshop: Workshop) -> Path:
    return workshop.folder / REMOVED


def _free(above: Path, name: str) -> Path:
    target, number = above / name, 1
    while target.exists():
        number += 1
        target = above / f"{name}-{number}"
    return target


def _cannot(folder: Path, error: OSError) -> KerfwrightError:
    return KerfwrightError(
        "pages/cannot-write",
        file=str(folder),
        thing=f"the folder cannot be moved ({error.strerror or error}).",
        remedy="See that no other program has it open and that it is yours.",
    )
