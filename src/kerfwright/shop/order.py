"""An order as its file describes it: drawings, quantities, stock, rules."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kerfwright.shop.machine import NotNegative, Positive, StrictModel

EngraveWay = Literal["fastest", "scan", "contour-parallel"]


class Rule(StrictModel):
    """Gives a process to every shape that matches all of its tests.

    ``layer`` is a pattern with ``*`` and ``?``, upper and lower case alike. ``fill`` and
    ``stroke`` are ``true`` (painted), ``false`` (not painted) or a colour such as ``"#c00000"``.
    """

    process: Literal["cut", "score", "engrave", "guide"]
    layer: str | None = None
    fill: bool | str | None = None
    stroke: bool | str | None = None


class Item(StrictModel):
    """A drawing to make ``quantity`` times from ``material``."""

    drawing: str
    quantity: Annotated[int, Field(ge=1, le=100_000)] = 1
    material: str
    name: str | None = None
    place: Literal["nest", "as-drawn"] = "nest"
    """``as-drawn`` keeps the drawing's parts where they are to one another."""
    turns_deg: tuple[float, ...] = (0.0, 90.0, 180.0, 270.0)
    """Angles by which a part may be turned on the sheet."""
    blank: bool = False
    """The drawing is only marks, for an item made elsewhere; nothing is cut."""
    engrave: EngraveWay | None = None
    rules: tuple[Rule, ...] = ()


class StockSheet(StrictModel):
    """Sheets of one size that the shop has."""

    material: str
    name: str
    width_mm: Positive
    height_mm: Positive
    count: Annotated[int, Field(ge=1)] = 1


class Settings(StrictModel):
    """How the order is worked."""

    spacing_mm: NotNegative | None = None
    """Distance between finished parts; by default twice the kerf, at least 1 mm."""
    margin_mm: NotNegative = 5.0
    """Distance that parts keep from the edge of the sheet."""
    nest_seconds: Annotated[float, Field(gt=0.0, le=3600.0)] = 2.0
    """Time for the placement search of one sheet."""
    seed: int = 1
    join_mm: Positive = 0.05
    """Ends this close are joined without a word."""
    gap_mm: Positive = 0.5
    """Gaps up to this wide are closed and reported."""
    merge_mm: NotNegative | None = None
    """Cuts this close are one shared edge; by default half the kerf."""
    shared_edges: bool = True
    engrave: EngraveWay = "fastest"


class Order(StrictModel):
    """Everything that an order file says; paths in it are relative to the file."""

    title: str
    machine: str
    """Path of the machine file."""
    materials: tuple[str, ...]
    """Paths of the material files."""
    items: Annotated[tuple[Item, ...], Field(min_length=1)]
    stock: Annotated[tuple[StockSheet, ...], Field(min_length=1)]
    rules: tuple[Rule, ...] = ()
    settings: Settings = Settings()
    invented: bool = False
