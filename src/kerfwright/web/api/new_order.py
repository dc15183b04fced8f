"""New orders, removed ones, and the example workshop."""

from __future__ import annotations

import datetime
from contextlib import suppress
from typing import Annotated

from fastapi import APIRouter, Form, UploadFile
from pydantic import BaseModel

from kerfwright.errors import KerfwrightError
from kerfwright.shop.files import load_machine, load_order
from kerfwright.shop.machine import Machine
from kerfwright.web.api.orders import Here, Seen, ThisOrder, changing_order
from kerfwright.web.api.planning import Planning
from kerfwright.web.example import begin_with_example, is_empty
from kerfwright.web.new_order import Sheets, Wish, bed_sheet, begin_order, materials_of
from kerfwright.web.removed import RemovedOrder, bring_back, remove_order, removed_orders
from kerfwright.web.stocked import stock_reader
from kerfwright.web.telling import told
from kerfwright.web.workshop import Workshop, is_within

router = APIRouter(tags=["orders"])

ORDERS_LOOKED_AT = 100
"""The latest orders, which tell what sheets of a material were last used."""


class MachineOffered(BaseModel):
    """A machine of the workshop."""

    file: str
    name: str
    bed_width_mm: float
    bed_height_mm: float


class MaterialOffered(BaseModel):
    """A material of the workshop, and the sheets of it that were last used."""

    name: str
    thickness_mm: float
    sheet: Sheets | None
    on_record: int
    """Sheets and offcuts of it that are free in the stock on record."""


class Offered(BaseModel):
    """What a new order can be begun with."""

    machines: list[MachineOffered]
    materials: list[MaterialOffered]
    faults: list[dict[str, str]]
    """Files of the workshop that cannot be used, and why."""
    empty: bool
    """The folder has neither shop nor orders: the example may be copied into it."""


class Begun(BaseModel):
    """Name of a new order in addresses."""

    slug: str


class Removed(BaseModel):
    """A removed order; ``name`` brings it back."""

    name: str
    title: str
    removed: datetime.datetime


@router.get("/new-order")
def offer(workshop: Here) -> Offered:
    """Machines, materials and sheets that a new order can be begun with, and what is missing."""
    materials, faults = materials_of(workshop)
    machines: list[MachineOffered] = []
    for file in workshop.machine_files():
        try:
            machine = load_machine(file)
        except KerfwrightError as error:
            faults.append(error)
            continue
        machines.append(
            MachineOffered(
                file=file.relative_to(workshop.folder).as_posix(),
                name=machine.name,
                bed_width_mm=machine.bed_width_mm,
                bed_height_mm=machine.bed_height_mm,
            )
        )
    last_used = _sheets_last_used(workshop)
    stock_of = stock_reader(workshop)
    lots = stock_of([material.name for _, material in materials])
    return Offered(
        machines=machines,
        materials=[
            MaterialOffered(
                name=material.name,
                thickness_mm=material.thickness_mm,
                sheet=last_used.get(material.name),
                on_record=sum(one.free for one in lots if one.lot.material == material.name),
            )
            for _, material in materials
        ],
        faults=[told(error, workshop) for error in faults],
        empty=is_empty(workshop),
    )


@router.post("/orders", status_code=201)
def begin(  # noqa: PLR0913, PLR0917 (the fields of a form)
    workshop: Here,
    files: list[UploadFile],
    title: Annotated[str, Form(min_length=1, max_length=200)],
    material: Annotated[str, Form(min_length=1, max_length=200)],
    machine: Annotated[str, Form(max_length=300)] = "",
    due: Annotated[datetime.date | None, Form()] = None,
    sheet_width_mm: Annotated[float | None, Form(gt=0, le=100_000)] = None,
    sheet_height_mm: Annotated[float | None, Form(gt=0, le=100_000)] = None,
    sheet_count: Annotated[int, Form(ge=1, le=10_000)] = 1,
    from_records: Annotated[bool, Form()] = False,
) -> Begun:
    """Begin an order: its folder with the drawings and an order file, all or nothing.

    Without a sheet's size, and not from the stock on record, one sheet as large as the bed is
    taken.
    """
    files_by_name = {
        one.relative_to(workshop.folder).as_posix(): one for one in workshop.machine_files()
    }
    file = files_by_name.get(machine) if machine else next(iter(files_by_name.values()), None)
    if file is None:
        raise KerfwrightError(
            "pages/no-machine",
            file=str(workshop.folder),
            thing="the workshop has no such machine file." if machine else "there is no machine.",
            remedy="Put a machine file, machine.toml, into the workshop's folder.",
        )
    sheets = _sheets(load_machine(file), sheet_width_mm, sheet_height_mm, sheet_count)
    wish = Wish(title, file, material, due, None if from_records else sheets)
    return Begun(slug=begin_order(workshop, wish, files, stock_reader(workshop)).slug)


@router.delete("/orders/{slug}")
def remove(workshop: Here, order: ThisOrder, seen: Seen, plannings: Planning) -> Removed:
    """Move an order's folder aside; nothing in it is lost."""
    with changing_order(order, seen):
        removed = remove_order(workshop, order)
    plannings.drop(order.slug)
    return _removed(removed)


@router.get("/orders-removed")
def list_removed(workshop: Here) -> list[Removed]:
    """Removed orders, the last one first."""
    return [_removed(one) for one in removed_orders(workshop)]


@router.post("/orders-removed/{name}")
def restore(workshop: Here, name: str) -> Begun:
    """Move a removed order back to the others."""
    return Begun(slug=bring_back(workshop, name).slug)


@router.post("/example", status_code=201)
def copy_example(workshop: Here) -> Begun:
    """Copy the example workshop with its order into an empty folder."""
    return Begun(slug=begin_with_example(workshop).slug)


def _sheets(
    machine: Machine, width_mm: float | None, height_mm: float | None, count: int
) -> Sheets:
    if width_mm is None or height_mm is None:
        return bed_sheet(machine)
    return Sheets(width_mm, height_mm, count)


def _sheets_last_used(workshop: Workshop) -> dict[str, Sheets]:
    """The first sheet of each material in the order that was changed last."""
    orders = []
    for one in workshop.orders():
        with suppress(OSError):  # it may just be removed
            if is_within(one.file, workshop.folder):
                orders.append((one.file.stat().st_mtime_ns, one))
    orders.sort(key=lambda one: one[0], reverse=True)
    found: dict[str, Sheets] = {}
    for _, order in orders[:ORDERS_LOOKED_AT]:
        try:
            stock = load_order(order.file).stock
        except KerfwrightError:
            continue
        for sheet in stock:
            if not sheet.offcut:
                new = Sheets(sheet.width_mm, sheet.height_mm, sheet.count)
                found.setdefault(sheet.material, new)
    return found


def _removed(one: RemovedOrder) -> Removed:
    return Removed(name=one.name, title=one.title, removed=one.removed)
