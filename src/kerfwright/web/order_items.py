"""Items of an order: drawings added, replaced and removed, and changes taken back."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path

from fastapi import UploadFile
from pydantic import BaseModel, Field

from kerfwright.errors import KerfwrightError
from kerfwright.output.whole_file import whole_file
from kerfwright.shop.files import load_order
from kerfwright.shop.order import Item, Order
from kerfwright.web.changing import digest_of
from kerfwright.web.drawn_order import no_such_item
from kerfwright.web.moved_in import REPLACED, moved_in
from kerfwright.web.new_order import unfinished_folder
from kerfwright.web.order_file import Change, order_text, save_changes, save_order_text
from kerfwright.web.uploads import free_name, take
from kerfwright.web.workshop import OrderFolder, Workshop


class Undo(BaseModel):
    """The order file as it was, and the SHA-256 of what it is now."""

    text: str = Field(max_length=4_000_000)
    after_sha256: str = Field(max_length=64)


def add_items(
    workshop: Workshop, order: OrderFolder, files: Sequence[UploadFile], material: str
) -> list[str]:
    """Add drawings to an order, an item each, all or none; returns the names of their files.

    Raises:
        KerfwrightError: a drawing is refused, or the order would be wrong.
    """
    first = len(load_order(order.file).items)
    with unfinished_folder(workshop) as folder:
        sent = take(files, folder)
        with moved_in(order, folder, sent) as moved:
            save_changes(
                order.file,
                [
                    Change(
                        at=("items", first + n),
                        value={"drawing": path.name, "material": material, "quantity": 1},
                    )
                    for n, path in enumerate(moved)
                ],
                workshop.folder,
            )
    return [path.name for path in moved]


def replace_drawing(
    workshop: Workshop, order: OrderFolder, number: int, file: UploadFile
) -> Path | None:
    """Put another file in the place of an item's drawing.

    One of the same kind takes the name over, so that parts keep theirs; the former file is kept
    in the folder ``replaced``. Returns where it is now; ``None`` if it was not there.

    Raises:
        KerfwrightError: there is no such item, or the file is refused.
    """
    item = item_of(load_order(order.file), order, number)
    with unfinished_folder(workshop) as folder:
        (sent,) = take([file], folder)
        former = order.folder / item.drawing
        own = former.parent.resolve() == order.folder.resolve()
        if not own or former.suffix.lower() != Path(sent).suffix.lower():
            with moved_in(order, folder, [sent]) as (target,):
                named = Change(at=("items", number, "drawing"), value=target.name)
                save_changes(order.file, [named], workshop.folder)
            return former if former.is_file() else None
        kept = put_aside(order, former) if former.is_file() else None
        (folder / sent).replace(former)
    return kept


def remove_item(order: OrderFolder, number: int) -> Undo:
    """Take an item out of the order file; its drawing stays in the folder.

    Raises:
        KerfwrightError: there is no such item, or it is the last one.
    """
    read = load_order(order.file)
    item_of(read, order, number)
    if len(read.items) == 1:
        raise KerfwrightError(
            "pages/last-item",
            file=order.slug,
            thing="an order needs at least one drawing, and this is the last.",
            remedy="Add another drawing first, or remove the order from the list of orders.",
        )
    return changed_with_undo(order, [Change(at=("items", number))])


def changed_with_undo(order: OrderFolder, changes: Sequence[Change]) -> Undo:
    """Change an order file, and return what takes the change back.

    Raises:
        KerfwrightError: the order would be wrong.
    """
    before = order_text(order.file)
    save_changes(order.file, changes)
    return Undo(text=before, after_sha256=digest_of(order.file))


def put_aside(order: OrderFolder, former: Path) -> Path:
    """Keep a copy of a file that another takes the place of in the folder ``replaced``.

    The file itself stays until that other is there: an order never lacks one that it names.
    """
    aside = order.folder / REPLACED
    aside.mkdir(exist_ok=True)
    kept = aside / free_name(former.name, {path.name for path in aside.iterdir()})
    with whole_file(kept) as path:
        shutil.copyfile(former, path)
    shutil.copystat(former, kept)
    return kept


def take_back(workshop: Workshop, order: OrderFolder, undo: Undo) -> None:
    """Write the order file as it was, if nobody changed it since.

    Raises:
        KerfwrightError: ``pages/changed-meanwhile``, or the text is no order.
    """
    now = order_text(order.file)
    if digest_of(order.file) != undo.after_sha256:
        raise KerfwrightError(
            "pages/changed-meanwhile",
            file=order.slug,
            thing="the order was changed since, and that change would be lost.",
            remedy="Add the drawing again; its file is still in the order's folder.",
        )
    save_order_text(order.file, undo.text, now, workshop.folder)


def item_of(read: Order, order: OrderFolder, number: int) -> Item:
    """Return an item by its number from 0.

    Raises:
        KerfwrightError: ``pages/nothing-there``.
    """
    if not 0 <= number < len(read.items):
        raise no_such_item(order.slug, number)
    return read.items[number]
