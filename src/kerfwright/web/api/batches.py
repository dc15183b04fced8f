"""Tables of batches: their first rows, and whether they fit their drawings."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, UploadFile
from fastapi import Path as InPath
from pydantic import BaseModel

from kerfwright.drawing.svg.gaps import fields_of
from kerfwright.drawing.svg.xml import read_root
from kerfwright.errors import KerfwrightError
from kerfwright.output.whole_file import whole_file
from kerfwright.shop.batch_rows import MOST_BYTES, BatchRow, Field, doubtful_rows, rows_of
from kerfwright.shop.files import load_order
from kerfwright.shop.order import Item
from kerfwright.web.api.drawings import Changed
from kerfwright.web.api.orders import Here, Seen, ThisOrder, changing_order, order_page
from kerfwright.web.order_file import Change, save_changes
from kerfwright.web.order_items import changed_with_undo, put_aside
from kerfwright.web.reading import READERS
from kerfwright.web.uploads import free_name
from kerfwright.web.workshop import OrderFolder, Workshop, is_within, slug_of

router = APIRouter(tags=["batches"])

ROWS_SHOWN = 20

ItemNumber = Annotated[int, InPath(ge=0, le=100_000)]


class RowShown(BaseModel):
    """A row of a table; ``number`` is as a spreadsheet counts, ``serial`` what {n} stands for."""

    number: int
    serial: int
    cells: dict[str, str]


class BatchShown(BaseModel):
    """The table of an item and what its drawing asks of it."""

    table: str
    headings: list[str]
    count: int
    rows: list[RowShown]
    """The first rows."""
    fields: list[str]
    """Headings that the drawing uses; ``n`` counts the copies."""
    missing: list[str]
    """Fields of the drawing for which the table has no heading."""
    empty: dict[str, list[int]]
    """Rows that say nothing under a heading that the drawing uses."""
    same: list[list[int]]
    """Rows that would give the same copy."""


@router.get("/orders/{slug}/items/{number}/batch")
def show_batch(workshop: Here, order: ThisOrder, number: ItemNumber) -> BatchShown:
    """The first rows of an item's table, and whether they fit its drawing."""
    item = _item(order, number)
    if item.batch is None:
        raise _no_batch(order, number)
    table = order.folder / item.batch.rows
    _require_inside(workshop, table)
    _require_inside(workshop, order.folder / item.drawing)
    return _shown(order, item, table, item.batch.first_number)


@router.post("/orders/{slug}/items/{number}/batch")
def upload_batch(
    workshop: Here, order: ThisOrder, seen: Seen, number: ItemNumber, table: UploadFile
) -> BatchShown:
    """Give an item a table (CSV): one copy is made for each of its rows."""
    with changing_order(order, seen):
        return _put_batch(workshop, order, number, table)


def _put_batch(
    workshop: Workshop, order: OrderFolder, number: int, table: UploadFile
) -> BatchShown:
    item = _item(order, number)
    data = table.file.read(MOST_BYTES + 1)
    first_number = 1 if item.batch is None else item.batch.first_number
    stem = slug_of(Path(table.filename or "").stem) or "rows"
    with tempfile.TemporaryDirectory() as folder:
        # a table that cannot be read is never put beside the order
        trial = Path(folder) / f"{stem}.csv"
        trial.write_bytes(data)
        _read(trial, first_number)
    own = None if item.batch is None else order.folder / item.batch.rows
    if own is not None and own.name == f"{stem}.csv" and _is_only_for(order, number, own):
        if own.is_file():
            put_aside(order, own)
        name = own.name
    else:
        name = _free_name(order, stem)
    with whole_file(order.folder / name) as path:
        path.write_bytes(data)
    place: tuple[str | int, ...] = ("items", number, "batch")
    change = Change(at=place, value={"rows": name})
    if item.batch is not None:
        change = Change(at=(*place, "rows"), value=name)
    save_changes(order.file, [change], workshop.folder)
    return _shown(order, item, order.folder / name, first_number)


@router.delete("/orders/{slug}/items/{number}/batch")
def remove_batch(order: ThisOrder, seen: Seen, number: ItemNumber) -> Changed:
    """Take the table from an item; its file stays in the folder."""
    with changing_order(order, seen):
        if _item(order, number).batch is None:
            raise _no_batch(order, number)
        undo = changed_with_undo(order, [Change(at=("items", number, "batch"))])
        return Changed(page=order_page(order), undo=undo)


def _shown(order: OrderFolder, item: Item, table: Path, first_number: int) -> BatchShown:
    rows = _read(table, first_number)
    fields = _fields(order.folder / item.drawing)
    headings = list(rows[0].cells)
    known = [field for field in fields if field.is_number or field.name in headings]
    empty, same = doubtful_rows(rows, known)
    names = list(dict.fromkeys(field.name for field in fields))
    return BatchShown(
        table=table.name,
        headings=headings,
        count=len(rows),
        rows=[
            RowShown(number=row.number, serial=row.serial, cells=dict(row.cells))
            for row in rows[:ROWS_SHOWN]
        ],
        fields=names,
        missing=[f.name for f in fields if f not in known],
        empty=empty,
        same=same,
    )


def _fields(drawing: Path) -> tuple[Field, ...]:
    """Fields of a drawing; none where it cannot have any, which planning tells."""
    try:
        return READERS.ask(drawing.name, _fields_in, drawing)
    except KerfwrightError:
        return ()


def _fields_in(drawing: Path) -> tuple[Field, ...]:
    return fields_of(read_root(drawing), drawing.name)


def _read(table: Path, first_number: int) -> tuple[BatchRow, ...]:
    """Rows of a table; errors name the file without its folder."""
    try:
        return rows_of(table, first_number=first_number)
    except KerfwrightError as error:
        raise KerfwrightError(
            error.code, file=table.name, thing=error.thing, remedy=error.remedy
        ) from None


def _require_inside(workshop: Workshop, file: Path) -> None:
    """Refuse what does not lie in the workshop: an order may name it, but it is not shown."""
    if not is_within(file, workshop.folder):
        raise KerfwrightError(
            "pages/leads-outside",
            file=file.name,
            thing="it does not lie in the workshop's folder, so it is not shown here.",
            remedy="Copy it there, or upload it to the item.",
        )


def _is_only_for(order: OrderFolder, number: int, table: Path) -> bool:
    """Whether a table lies in the order's folder and no other item is made by it."""
    others = [one.batch for n, one in enumerate(load_order(order.file).items) if n != number]
    used = {(order.folder / batch.rows).resolve() for batch in others if batch is not None}
    return table.parent.resolve() == order.folder.resolve() and table.resolve() not in used


def _free_name(order: OrderFolder, stem: str) -> str:
    return free_name(f"{stem}.csv", {path.name for path in order.folder.iterdir()})


def _item(order: OrderFolder, number: int) -> Item:
    items = load_order(order.file).items
    if number < len(items):
        return items[number]
    raise KerfwrightError(
        "pages/nothing-there",
        file=order.slug,
        thing=f"the order has no item {number + 1}.",
        remedy="Load the page again: the order may have been changed.",
    )


def _no_batch(order: OrderFolder, number: int) -> KerfwrightError:
    return KerfwrightError(
        "pages/nothing-there",
        file=order.slug,
        thing=f"item {number + 1} has no table.",
        remedy="Upload a table (CSV) for it.",
    )
