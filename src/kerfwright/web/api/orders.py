"""Orders: the list, one order with its plan, changes to its file, the files of its plan."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Body, Depends, Request
from fastapi.responses import FileResponse
from pydantic import BaseModel

from kerfwright.errors import KerfwrightError
from kerfwright.output.files import PLAN_FILE
from kerfwright.shop.files import load_order
from kerfwright.shop.order import Order
from kerfwright.web.guard import PAPERS_POLICY
from kerfwright.web.order_file import Change, save_changes
from kerfwright.web.workshop import OrderFolder, Workshop

router = APIRouter(tags=["orders"])

PlanState = Literal["none", "current", "out-of-date"]


class OrderLine(BaseModel):
    """An order in the list."""

    slug: str
    title: str
    due: date | None = None
    """The soonest day on which something of it must be ready."""
    plan: PlanState = "none"
    sheets: int | None = None
    time_s: float | None = None
    trouble: str = ""
    """Why its file cannot be read, where it cannot."""


class OrderPage(BaseModel):
    """An order as its file says it, and what is known of its plan."""

    slug: str
    order: Order
    plan: PlanState
    plan_document: dict[str, Any] | None
    """``plan.json``, where there is one."""


def workshop_of(request: Request) -> Workshop:
    """Return the workshop that is served."""
    workshop: Workshop = request.app.state.workshop
    return workshop


def order_of(slug: str, workshop: Annotated[Workshop, Depends(workshop_of)]) -> OrderFolder:
    """Return the order that an address names."""
    return workshop.order(slug)


Here = Annotated[Workshop, Depends(workshop_of)]
ThisOrder = Annotated[OrderFolder, Depends(order_of)]


@router.get("/orders")
def list_orders(workshop: Here) -> list[OrderLine]:
    """All orders of the workshop."""
    return [_line(one) for one in workshop.orders()]


@router.get("/orders/{slug}")
def show_order(order: ThisOrder) -> OrderPage:
    """One order with its plan."""
    return order_page(order)


@router.patch("/orders/{slug}")
def change_order(order: ThisOrder, changes: Annotated[list[Change], Body(embed=True)]) -> OrderPage:
    """Change the order's file; comments in it stay."""
    save_changes(order.file, changes)
    return order_page(order)


@router.get("/orders/{slug}/files/{name}")
def plan_file(order: ThisOrder, name: str) -> FileResponse:
    """A file that planning wrote: a program, a layout, the ticket."""
    written = {one.name: one for one in order.plan_folder.glob("*") if one.is_file()}
    if name not in written or name.startswith("."):
        raise KerfwrightError(
            "pages/nothing-there",
            file=order.slug,
            thing=f'the plan has no file "{name}".',
            remedy="Load the page again: the order may have been planned anew.",
        )
    return paper(written[name])


def order_page(order: OrderFolder) -> OrderPage:
    """Gather what is known of an order."""
    document = _plan_document(order)
    return OrderPage(
        slug=order.slug,
        order=load_order(order.file),
        plan=plan_state(order),
        plan_document=document,
    )


def plan_state(order: OrderFolder) -> PlanState:
    """Whether there is a plan, and whether all that it was made from is older than it."""
    plan = order.plan_folder / PLAN_FILE
    try:
        made = plan.stat().st_mtime_ns
        read = load_order(order.file)
        names = [order.file.name, read.machine, *read.materials]
        names += [] if read.rates is None else [read.rates]
        names += [*(item.drawing for item in read.items), *read.fixture_files]
        names += [item.batch.rows for item in read.items if item.batch is not None]
        changed = max((order.folder / name).stat().st_mtime_ns for name in names)
    except (OSError, KerfwrightError):
        return "out-of-date" if plan.is_file() else "none"
    return "current" if made >= changed else "out-of-date"


def _line(order: OrderFolder) -> OrderLine:
    try:
        read = load_order(order.file)
    except KerfwrightError as error:
        return OrderLine(slug=order.slug, title=order.slug, trouble=f"{error.thing} {error.remedy}")
    document = _plan_document(order)
    totals = {} if document is None else document.get("totals", {})
    return OrderLine(
        slug=order.slug,
        title=read.title,
        due=min((item.due for item in read.items if item.due is not None), default=None),
        plan=plan_state(order),
        sheets=None if document is None else len(document.get("sheets", [])),
        time_s=totals.get("time_s"),
    )


def _plan_document(order: OrderFolder) -> dict[str, Any] | None:
    try:
        document: dict[str, Any] = json.loads(
            (order.plan_folder / PLAN_FILE).read_text(encoding="utf-8")
        )
    except (OSError, ValueError):
        return None
    return document


def paper(file: Path) -> FileResponse:
    """A file of a plan or trial piece: shown where a browser can, else saved; it runs nothing."""
    shown = "inline" if file.suffix in {".html", ".pdf", ".svg"} else "attachment"
    headers = {"content-security-policy": PAPERS_POLICY}
    return FileResponse(file, filename=file.name, content_disposition_type=shown, headers=headers)
