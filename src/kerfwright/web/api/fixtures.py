"""An order's fixtures: their pockets, the marks in them, and the drawings they are cut from."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Response, UploadFile
from fastapi import Path as InPath
from pydantic import BaseModel, ConfigDict

from kerfwright.errors import KerfwrightError
from kerfwright.shop.files import load_order, load_shop
from kerfwright.shop.fixture import Fixture
from kerfwright.shop.fixture_files import with_fixture_files
from kerfwright.shop.order import Order
from kerfwright.web.api.orders import (
    Here,
    OrderPage,
    Seen,
    ThisOrder,
    changing_order,
    order_page,
)
from kerfwright.web.drawn_order import no_such_item
from kerfwright.web.fixture_shown import (
    BoardKind,
    Described,
    ItemInPockets,
    PocketsShown,
    board_drawn,
    item_in_pockets,
    page_mm,
    pockets_shown,
)
from kerfwright.web.moved_in import moved_in
from kerfwright.web.new_order import unfinished_folder
from kerfwright.web.order_file import Change, save_changes
from kerfwright.web.reading import READERS
from kerfwright.web.stocked import stock_reader
from kerfwright.web.uploads import take
from kerfwright.web.workshop import OrderFolder, Workshop, slug_of

router = APIRouter(tags=["fixtures"])

FixtureNumber = Annotated[int, InPath(ge=0, le=10_000, description="Its place, from 0.")]

Side = Annotated[float | None, Form(gt=0.0, le=100_000.0)]


class FixtureShown(PocketsShown):
    """A fixture with its pockets; lengths in mm, y upwards."""

    name: str
    width_mm: float
    height_mm: float
    at_mm: tuple[float, float]
    own: int | None = None
    """Which [[fixtures]] block of the order it is, from 0; null where it has a file of its own."""
    file: str | None = None
    """The file that describes it, where it has one."""
    described: dict[str, Any]
    """What is said of it, as its block of the order file says it; usual values are left out."""


class Tried(BaseModel):
    """A fixture that is being thought of."""

    model_config = ConfigDict(extra="forbid")

    fixture: Fixture


@router.get("/orders/{slug}/fixtures")
def show_fixtures(workshop: Here, order: ThisOrder) -> list[FixtureShown]:
    """The order's fixtures with the outlines of their pockets."""
    read = _read(order)
    own = len(load_order(order.file).fixtures)
    shown = []
    for n, fixture in enumerate(read.fixtures):
        one = _shown(workshop, order, read, fixture)
        place = {"own": n} if n < own else {"file": read.fixture_files[n - own]}
        shown.append(one.model_copy(update=place))
    return shown


@router.post("/orders/{slug}/fixtures/try")
def try_fixture(workshop: Here, order: ThisOrder, tried: Tried) -> FixtureShown:
    """The pockets of a fixture that is not saved yet; nothing is changed."""
    return _shown(workshop, order, load_order(order.file), tried.fixture)


@router.post("/orders/{slug}/fixtures/drawn")
def add_drawn(
    workshop: Here,
    order: ThisOrder,
    files: list[UploadFile],
    seen: Seen,
    name: Annotated[str, Form(min_length=1, max_length=200)],
    width_mm: Side = None,
    height_mm: Side = None,
    layer: Annotated[str, Form(min_length=1, max_length=200)] = "*",
) -> OrderPage:
    """Add a fixture whose pockets are the closed lines of a drawing, as large as its page.

    All or nothing: a drawing that gives no pockets is not kept.
    """
    if len(files) != 1:
        raise KerfwrightError(
            "pages/no-drawing",
            file=order.slug,
            thing=f"{len(files)} files were sent for one fixture.",
            remedy="Choose one drawing of the pockets.",
        )
    with changing_order(order, seen), unfinished_folder(workshop) as folder:
        read = load_order(order.file)
        (sent,) = take(files, folder)
        page = READERS.ask(sent, page_mm, folder / sent, read.settings)
        fixture = Fixture(
            name=name,
            width_mm=width_mm or page[0],
            height_mm=height_mm or page[1],
            drawing=sent,
            layer=layer,
        )
        READERS.ask(sent, Described.pockets, Described(fixture, folder, sent, read.settings))
        with moved_in(order, folder, [sent]) as (target,):
            value = fixture.model_copy(update={"drawing": target.name})
            place = ("fixtures", len(read.fixtures))
            data = value.model_dump(mode="json", exclude_defaults=True)
            save_changes(order.file, [Change(at=place, value=data)])
    return order_page(order)


@router.get("/orders/{slug}/fixtures/{number}/board.{kind}")
def fixture_drawing(
    workshop: Here,
    order: ThisOrder,
    number: FixtureNumber,
    kind: BoardKind,
    clearance_mm: Annotated[float | None, Query(ge=0.0, le=20.0)] = None,
    marks: bool = True,
) -> Response:
    """The drawing from which a fixture is cut: edge, pockets, their numbers, two marks."""
    read = _read(order)
    if number >= len(read.fixtures):
        raise KerfwrightError(
            "pages/nothing-there",
            file=order.slug,
            thing=f"the order has no fixture {number + 1}.",
            remedy="Load the page again: the order may have been changed.",
        )
    fixture = read.fixtures[number]
    described = _described(workshop, order, read, fixture)
    with tempfile.TemporaryDirectory() as folder:
        path = READERS.ask(
            fixture.name,
            board_drawn,
            described,
            kind,
            Path(folder),
            clearance_mm=clearance_mm,
            marks=marks,
        )
        data = path.read_bytes()
    name = f"{slug_of(fixture.name) or 'fixture'}.{kind}"
    return Response(
        data,
        media_type="image/svg+xml" if kind == "svg" else "image/vnd.dxf",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


@router.get("/orders/{slug}/items/{number}/pockets")
def show_item_in_pockets(
    workshop: Here, order: ThisOrder, number: Annotated[int, InPath(ge=0, le=100_000)]
) -> ItemInPockets:
    """How an item's marks lie in the pockets of its fixture."""
    shop = load_shop(order.file, stock_reader(workshop))
    if number >= len(shop.order.items):
        raise no_such_item(order.slug, number)
    item = shop.order.items[number]
    if item.fixture is None:
        raise KerfwrightError(
            "pages/nothing-there",
            file=order.slug,
            thing=f"item {number + 1} lies in no fixture.",
            remedy="Choose a fixture for it.",
        )
    inside = [item.drawing, *(one.batch.rows for one in shop.order.items if one.batch)]
    drawing = shop.fixture(item.fixture).drawing
    for path in [*inside, *([] if drawing is None else [drawing])]:
        _require_inside(workshop, order, path)
    return READERS.ask(Path(item.drawing).name, item_in_pockets, shop, number)


def _read(order: OrderFolder) -> Order:
    return with_fixture_files(load_order(order.file), order.folder)


def _shown(workshop: Workshop, order: OrderFolder, read: Order, fixture: Fixture) -> FixtureShown:
    try:
        described = _described(workshop, order, read, fixture)
        # what has no drawing is counted out at once; strangers' drawings are read elsewhere
        pockets = (
            pockets_shown(described)
            if fixture.drawing is None
            else READERS.ask(Path(fixture.drawing).name, pockets_shown, described)
        )
    except KerfwrightError as error:
        pockets = PocketsShown(trouble=f"{error.thing} {error.remedy}")
    return FixtureShown(
        **dict(pockets),
        name=fixture.name,
        width_mm=fixture.width_mm,
        height_mm=fixture.height_mm,
        at_mm=fixture.at_mm,
        described=fixture.model_dump(mode="json", exclude_defaults=True),
    )


def _described(workshop: Workshop, order: OrderFolder, read: Order, fixture: Fixture) -> Described:
    if fixture.drawing is not None:
        _require_inside(workshop, order, fixture.drawing)
    return Described(fixture, order.folder, order.file.name, read.settings)


def _require_inside(workshop: Workshop, order: OrderFolder, path: str) -> None:
    """Refuse what an order names outside of the workshop: the pages show nothing of it."""
    if (order.folder / path).resolve().is_relative_to(workshop.folder.resolve()):
        return
    raise KerfwrightError(
        "pages/drawing-elsewhere",
        file=path,
        thing="lies outside the workshop's folder, and the pages show only what is in it.",
        remedy="Copy it into the order's folder and name it there.",
    )
