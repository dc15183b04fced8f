"""Orders: the list, one order with its plan, changes to its file, the files of its plan."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Body, Depends, Header, Request, Response
from fastapi.responses import FileResponse
from pydantic import BaseModel

from kerfwright.errors import KerfwrightError
from kerfwright.output.files import PLAN_FILE
from kerfwright.shop.files import load_order, load_rates
from kerfwright.shop.order import Order
from kerfwright.web.changing import changing, digest_of, require_seen
from kerfwright.web.guard import PAPERS_POLICY
from kerfwright.web.order_file import Change, save_changes
from kerfwright.web.workshop import OrderFolder, Workshop, is_within

router = APIRouter(tags=["orders"])

MOST_CHANGES = 10_000
"""At once: every part of a full sheet may be pinned by one."""

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
    digest: str
    """SHA-256 of the order file. Sent back as If-Match, a change is refused if others were made."""
    order: Order
    plan: PlanState
    plan_document: dict[str, Any] | None
    """``plan.json``, where there is one."""
    currency: str = ""
    """What amounts are in, by the order or else by its rates; empty where neither says."""


def workshop_of(request: Request) -> Workshop:
    """Return the workshop that is served."""
    workshop: Workshop = request.app.state.workshop
    return workshop


def order_of(slug: str, workshop: Annotated[Workshop, Depends(workshop_of)]) -> OrderFolder:
    """Return the order that an address names."""
    return workshop.order(slug)


Here = Annotated[Workshop, Depends(workshop_of)]
ThisOrder = Annotated[OrderFolder, Depends(order_of)]
IfMatch = Annotated[
    str | None,
    Header(
        max_length=1000,
        description="Digest of the file as it was seen, in quotes; 412 if it is another now.",
    ),
]


def seen_before(if_match: IfMatch = None) -> str | None:
    """Return which state of a file whoever changes it has seen."""
    return if_match


Seen = Annotated[str | None, Depends(seen_before)]


@contextmanager
def changing_order(order: OrderFolder, seen: str | None) -> Iterator[None]:
    """Change an order while nobody else does, if its file is still as it was ``seen``."""
    with changing(order.folder):
        require_seen(order.file, seen)
        yield


@router.get("/orders")
def list_orders(workshop: Here) -> list[OrderLine]:
    """All orders of the workshop."""
    return [_line(workshop, one) for one in workshop.orders()]


@router.get("/orders/{slug}")
def show_order(order: ThisOrder, response: Response) -> OrderPage:
    """One order with its plan."""
    page = order_page(order)
    response.headers["etag"] = f'"{page.digest}"'
    return page


@router.patch("/orders/{slug}")
def change_order(
    order: ThisOrder,
    workshop: Here,
    seen: Seen,
    changes: Annotated[list[Change], Body(embed=True, max_length=MOST_CHANGES)],
) -> OrderPage:
    """Change the order's file; comments in it stay."""
    with changing_order(order, seen):
        save_changes(order.file, changes, workshop.folder)
    return order_page(order)


@router.get("/orders/{slug}/files/{name}")
def plan_file(order: ThisOrder, name: str) -> FileResponse:
    """A file that planning wrote: a program, a layout, the ticket."""
    written = files_in(order.plan_folder)
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
    # before the file is read: a change in between is refused once too often rather than lost
    digest = digest_of(order.file)
    document = _plan_document(order)
    read = load_order(order.file)
    return OrderPage(
        slug=order.slug,
        digest=digest,
        order=read,
        plan=plan_state(order),
        plan_document=document,
        currency=_currency(order, read),
    )


def _currency(order: OrderFolder, read: Order) -> str:
    if read.settings.currency or read.rates is None:
        return read.settings.currency
    return currency_of(order.folder / read.rates)


def currency_of(rates: Path) -> str:
    """What amounts are in by a rates file; empty where it cannot be read.

    Whoever asks for a price is told what is wrong with the rates; pages show without.
    """
    with suppress(KerfwrightError):
        return load_rates(rates).currency
    return ""


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
        names += [one.drawing for one in read.fixtures if one.drawing is not None]
        changed = max((order.folder / name).stat().st_mtime_ns for name in names)
    except (OSError, KerfwrightError):
        return "out-of-date" if plan.is_file() else "none"
    return "current" if made >= changed else "out-of-date"


def _line(workshop: Workshop, order: OrderFolder) -> OrderLine:
    try:
        workshop.require_inside(order)
        read = load_order(order.file)
    except KerfwrightError as error:
        return OrderLine(slug=order.slug, title=order.slug, trouble=f"{error.thing} {error.remedy}")
    document = _plan_document(order)
    totals = {} if document is None else document.get("totals", {})
    return OrderLine(
        slug=order.slug,
        title=read.title,
        due=read.due,
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


def files_in(folder: Path) -> dict[str, Path]:
    """Files of a folder by their names, without those that links lead to elsewhere."""
    there = {one.name: one for one in folder.glob("*") if is_within(one, folder)}
    return {name: one for name, one in there.items() if one.is_file()}


def paper(file: Path) -> FileResponse:
    """A file of a plan or trial piece: shown where a browser can, else saved; it runs nothing."""
    shown = "inline" if file.suffix in {".html", ".pdf", ".svg"} else "attachment"
    headers = {"content-security-policy": PAPERS_POLICY}
    return FileResponse(file, filename=file.name, content_disposition_type=shown, headers=headers)
