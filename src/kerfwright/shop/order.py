"""An order as its file describes it: drawings, quantities, stock, rules."""

from __future__ import annotations

import datetime
from decimal import Decimal
from fnmatch import fnmatchcase
from typing import Annotated, Literal

import tinycss2.color3
from pydantic import BeforeValidator, Field, field_validator
from pydantic_core import PydanticCustomError

from kerfwright.geometry.tolerances import CHORD_MM, GAP_MM, JOIN_MM
from kerfwright.shop.batch import Batch
from kerfwright.shop.fixture import Fixture
from kerfwright.shop.machine import Finite, NotNegative, Positive, StrictModel, Switch, Text
from kerfwright.shop.points import Point, Ring

EngraveWay = Literal["fastest", "scan", "contour-parallel", "mixed"]

OrderOfWork = Literal["process", "part"]

PhotoRows = Literal["fastest", "level", "upright"]

PictureWay = Literal["photo", "trace", "leave-out"]

PlaceWay = Literal["cheapest", "nest", "compact", "as-drawn"]

CompactTo = Literal[
    "left",
    "right",
    "bottom",
    "top",
    "bottom-left",
    "bottom-right",
    "top-left",
    "top-right",
]

FitWay = Literal["scale", "centre", "as-drawn"]

LengthUnit = Literal["mm", "cm", "m", "in", "ft", "pt", "px"]

MM_PER_UNIT: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": 25.4,
    "ft": 304.8,
    "pt": 25.4 / 72,
    "px": 25.4 / 96,
}
"""Millimetres in a unit; pt and px as CSS Values and Units Level 3, section 5.2, has them."""

PATTERN = "pattern"
"""Stands for a paint that is a pattern or gradient and so has no one colour."""


def _exact_money(value: object) -> object:
    """A number as it is written in the file, so that 0.1 stays a tenth."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | str):
        raise PydanticCustomError("money", "no amount")
    try:
        return Decimal(str(value))
    except ArithmeticError:
        raise PydanticCustomError("money", "no amount") from None


Money = Annotated[Decimal, BeforeValidator(_exact_money), Field(ge=0, max_digits=12)]


class Rule(StrictModel):
    """Gives a process to every shape that matches all of its tests.

    ``layer`` is a pattern with ``*`` and ``?``, upper and lower case alike. ``fill`` and
    ``stroke`` are ``true`` (painted), ``false`` (not painted) or a colour such as ``"#c00000"``.
    """

    process: Literal["cut", "score", "engrave", "guide"]
    """What the beam does to the shapes; guide is never burned."""
    layer: str | None = None
    """Pattern for the layer's name with * and ?, upper and lower case alike."""
    fill: Switch | Text | None = None
    """true (filled), false (not filled) or a colour such as "#c00000"."""
    stroke: Switch | Text | None = None
    """true (has a line), false (has none) or the line's colour such as "#c00000"."""

    @field_validator("fill", "stroke", mode="before")
    @classmethod
    def _paint(cls, value: object) -> object:
        if value is None or isinstance(value, bool):
            return value
        colour = _hex_colour(value) if isinstance(value, str) else None
        if colour is None:
            raise PydanticCustomError("colour", "no colour")
        return colour


def _hex_colour(text: str) -> str | None:
    """``#rrggbb`` in lower case for any CSS colour without transparency."""
    if text.strip().lower() == PATTERN:
        return PATTERN
    colour = tinycss2.color3.parse_color(text)
    if colour is None or isinstance(colour, str) or colour.alpha != 1:
        return None
    channels = (round(255 * max(0.0, min(1.0, channel))) for channel in colour[:3])
    return "#" + "".join(f"{channel:02x}" for channel in channels)


class Pinned(StrictModel):
    """One part of a drawing with a place of its own; the others are laid round it."""

    part: Annotated[int, Field(ge=1, le=1_000_000, strict=True)]
    """Which of the drawing's parts, counted from 1 as inspect lists them."""
    at_mm: Point
    """Where the lower left corner of the finished part must lie on its sheet, as [x, y]."""
    turn_deg: Annotated[float, Field(ge=-360.0, le=360.0, strict=True)] = 0.0
    """How far it is turned from how it is drawn, to the left."""
    on_sheet: Text | None = None
    """Name of the sheet; by default the first of the material in stock."""
    sheet_number: Annotated[int, Field(ge=1, le=100_000, strict=True)] = 1
    """Tells sheets of that name apart: pinned parts of one number lie on one sheet."""


class GuideLine(StrictModel):
    """A line over a sheet that parts are lined up with; it is never burned."""

    sheet: Text
    """Name of the sheets that it lies over."""
    x_mm: Finite | None = None
    """Distance of an upright line from the sheet's left edge."""
    y_mm: Finite | None = None
    """Distance of a level line from the sheet's lower edge."""


class Item(StrictModel):
    """A drawing to make ``quantity`` times from ``material``."""

    drawing: Text
    """Path of the drawing."""
    quantity: Annotated[int, Field(ge=1, le=100_000, strict=True)] = 1
    """How many of everything in the drawing."""
    material: Text
    """Name of the material, as its file says it."""
    name: Text | None = None
    """What the parts are called; by default the drawing's file name."""
    unit: LengthUnit | None = None
    """Unit of a drawing that does not state one, such as a DXF file without units."""
    page: Annotated[int, Field(ge=1, strict=True)] | None = None
    """Page of a PDF; by default its only page that holds something."""
    width_mm: Positive | None = None
    """Width of a picture file (PNG, JPEG …); by default as its dots to the inch say."""
    pictures: PictureWay = "photo"
    """``trace`` makes areas of pictures made of dots, ``leave-out`` drops them."""
    place: PlaceWay = "cheapest"
    """``nest`` moves and turns every part by itself, ``compact`` slides the drawing's parts
    together, none turned, ``as-drawn`` keeps them where they are to one another; ``cheapest``
    takes whichever costs least."""
    compact_to: CompactTo = "bottom-left"
    """Side or corner of the sheet to which ``place = "compact"`` slides the parts."""
    compact_as: Literal["parts", "drawing"] = "parts"
    """What slides with ``place = "compact"``: every part by itself, or the drawing as it is."""
    edges: Literal["apart", "shared"] | None = None
    """Whether the parts may be laid one kerf from others, so that one cut parts two; by default
    as ``edges`` under ``[settings]`` says."""
    turns_deg: Annotated[tuple[Finite, ...], Field(min_length=1)] = (0.0, 90.0, 180.0, 270.0)
    """Angles by which a part may be turned on the sheet; with a grain, 0 and 180."""
    may_turn_over: Switch = False
    """The sheet is alike on both faces: parts without marks may be laid mirrored."""
    fill: Switch = False
    """Make more of this than ``quantity`` where sheets that are in use have room left."""
    at_most: Annotated[int, Field(ge=1, le=100_000, strict=True)] | None = None
    """With ``fill``: no more than so many in all."""
    priority: Annotated[int, Field(ge=1, strict=True)] | None = None
    """1 is placed first, then 2 and so on; items without one come last."""
    due: Annotated[datetime.date, Field(strict=True)] | None = None
    """Day on which it must be ready; of equal priority, what is due sooner is placed first."""
    kit: Text | None = None
    """Everything of the items with this name lies on one sheet."""
    one_sheet: Switch = False
    """The parts of one copy of the drawing lie on one sheet; copies may lie on several."""
    at_mm: Point | None = None
    """Where the drawing's lower left corner must lie on its sheet, as [x, y]; it stays as drawn."""
    on_sheet: Text | None = None
    """Name of the sheet for ``at_mm``; by default the first of the material in stock."""
    sheet_number: Annotated[int, Field(ge=1, le=100_000, strict=True)] = 1
    """Which of the sheets of that name, in the order in which they are cut."""
    pinned: tuple[Pinned, ...] = ()
    """Single parts with places of their own, one [[items.pinned]] block for each copy."""
    blank: Switch = False
    """The drawing is only marks, for an item made elsewhere; nothing is cut."""
    fixture: Text | None = None
    """Name of the fixture whose pockets hold the blanks; nothing is cut then."""
    fit: FitWay = "scale"
    """How the marks lie in a pocket: ``scale`` makes them as large as the pocket takes,
    ``centre`` lays the middle of the drawing's page on the pocket's, ``as-drawn`` the lower left
    corner of the page on that of the pocket's box."""
    inset_mm: NotNegative = 1.0
    """Distance that marks keep from the edge of a blank in a pocket."""
    turned_deg: Finite = 0.0
    """Angle by which the drawing is turned in its pockets, counter-clockwise."""
    batch: Batch | None = None
    """Names, numbers and codes that differ from copy to copy; ``quantity`` is of each row."""
    mirror: Switch = False
    """Mirror the drawing left to right: for stamps, and for what is engraved from the back."""
    photo_rows: PhotoRows = "fastest"
    """Whether the rows of photos run level or upright as the part lies on the sheet."""
    engrave: EngraveWay | None = None
    """How this item's areas are engraved; by default as the order's settings say."""
    engrave_layers: dict[Text, EngraveWay] = Field(default_factory=dict)
    """The same for single layers, by a pattern for the layer's name with * and ?."""
    tabs: Annotated[int, Field(ge=0, le=100, strict=True)] | None = None
    """Holding tabs round each part; by default as the recipe for cutting says."""
    fit_mm: Annotated[float, Field(ge=-2.0, le=2.0, strict=True)] | None = None
    """How much wider than the material is thick slots are made, less than 0 for a tighter fit; by
    default slots are cut as drawn."""
    rules: tuple[Rule, ...] = ()
    """Rules for this drawing's shapes, tried before the order's."""

    def way_of(self, layer: str, default: EngraveWay) -> EngraveWay:
        """How a layer's areas are engraved: by its own entry, the item's, or ``default``."""
        for pattern, way in self.engrave_layers.items():
            if fnmatchcase(layer.lower(), pattern.lower()):
                return way
        return self.engrave or default

    @property
    def is_blank(self) -> bool:
        """Whether it is made elsewhere and only marked."""
        return self.blank or self.fixture is not None

    @property
    def unit_mm(self) -> float | None:
        """Millimetres in the drawing's unit, where the order states one."""
        return None if self.unit is None else MM_PER_UNIT[self.unit]


class KeepOut(StrictModel):
    """An area of a sheet on which no part may lie: a rectangle, or any outline by its points."""

    x_mm: Finite | None = None
    """Left edge, from the sheet's lower left corner."""
    y_mm: Finite | None = None
    """Lower edge, from the sheet's lower left corner."""
    width_mm: Positive | None = None
    """Size in x."""
    height_mm: Positive | None = None
    """Size in y."""
    points: Ring | None = None
    """Corners as [x, y] instead of a rectangle."""
    why: Text | None = None
    """What is there: a knot, a clamp, a hole."""

    @property
    def ring(self) -> tuple[Point, ...] | None:
        """Corners of the area; ``None`` where neither a rectangle nor an outline is complete."""
        if self.points is not None:
            return self.points
        x, y, width, height = self.x_mm, self.y_mm, self.width_mm, self.height_mm
        if x is None or y is None or width is None or height is None:
            return None
        return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


class StockSheet(StrictModel):
    """Sheets of one size that the shop has."""

    material: Text
    """Name of the material, as its file says it."""
    name: Text
    """What the shop calls these sheets."""
    width_mm: Positive
    """Size in x as the sheet lies on the bed."""
    height_mm: Positive
    """Size in y as the sheet lies on the bed."""
    count: Annotated[int, Field(ge=1, strict=True)] = 1
    """How many there are."""
    offcut: Switch = False
    """Left over from earlier work: offcuts are used up before new sheets are begun."""
    outline: Ring | None = None
    """Corners of the sheet as [x, y] where it is no full rectangle; it lies within its size."""
    holes: tuple[Ring, ...] = ()
    """Corners of each hole in the sheet."""
    keep_out: tuple[KeepOut, ...] = ()
    """Areas on which no part may lie."""
    cost: Money | None = None
    """What one of these sheets is worth."""
    price_per_m2: Money | None = None
    """What a square metre of the material costs new; also the worth of what is left over."""


class Settings(StrictModel):
    """How the order is worked."""

    spacing_mm: NotNegative | None = None
    """Distance between finished parts; by default twice the kerf, at least 1 mm."""
    margin_mm: NotNegative = 5.0
    """Distance that parts keep from the edge of the sheet."""
    nest_seconds: Annotated[float, Field(gt=0.0, le=3600.0, strict=True)] = 2.0
    """Time for the placement search of one sheet."""
    nest_work: Annotated[int, Field(ge=1_000, le=10_000_000_000, strict=True)] | None = None
    """Positions tried in the search of one sheet, instead of a time; the same order then always
    gives the same layout. A million takes some seconds."""
    seed: Annotated[int, Field(strict=True)] = 1
    """Start of the random numbers; the same seed gives the same search."""
    join_mm: Positive = JOIN_MM
    """Ends this close are joined without a word."""
    gap_mm: Positive = GAP_MM
    """Gaps up to this wide are closed and reported."""
    chord_mm: Annotated[float, Field(ge=1e-4, le=0.5, strict=True)] = CHORD_MM
    """Furthest that a straight piece may stray from the curve it stands for."""
    merge_mm: NotNegative | None = None
    """Cuts this close are one shared edge; by default half the kerf."""
    edges: Literal["apart", "shared"] = "apart"
    """``shared`` also tries to lay straight edges one kerf apart, so that one cut parts two."""
    shared_edges: Switch = True
    """Cut an edge once where two parts share it."""
    order_of_work: OrderOfWork = "process"
    """``process``: all marks of a sheet, then all cuts; ``part``: each part's marks and cuts."""
    engrave: EngraveWay = "fastest"
    """How areas are engraved."""
    if_sheets_run_out: Literal["stop", "leave-over"] = "stop"
    """``leave-over`` plans what the sheets in stock take and says what is left to make."""
    rate_per_hour: Money | None = None
    """What an hour of the machine costs."""
    currency: Annotated[str, Field(max_length=8)] = ""
    """Written behind amounts of money."""
    offcut_share: Annotated[float, Field(ge=0.0, le=1.0, strict=True)] = 0.5
    """What material left over in one rectangle is worth, as a share of its price new."""
    offcut_least_mm: NotNegative = 100.0
    """A rectangle narrower than this is not worth keeping."""
    learn: Switch = True
    """Times are corrected by what past runs of the machine took; false shows the clock's alone."""


class Order(StrictModel):
    """Everything that an order file says; paths in it are relative to the file."""

    title: Text
    """What the order is called on the ticket."""
    reference: Text | None = None
    """What tells the order from others of the same title, such as its number in your books: stock
    is reserved under it. By default the title."""
    machine: Text
    """Path of the machine file."""
    materials: Annotated[tuple[Text, ...], Field(min_length=1)]
    """Paths of the material files."""
    items: Annotated[tuple[Item, ...], Field(min_length=1)]
    """What is to be made, one [[items]] block for each drawing."""
    stock: tuple[StockSheet, ...] = ()
    """Sheets that may be used, one [[stock]] block for each size."""
    fixtures: tuple[Fixture, ...] = ()
    """Boards whose pockets hold blanks, one [[fixtures]] block for each."""
    fixture_files: tuple[Text, ...] = ()
    """Paths of files that each describe one fixture, for several orders to use."""
    rates: Text | None = None
    """Path of the rates file, for quotes."""
    stock_from: Literal["order", "records"] = "order"
    """``records`` also takes sheets and offcuts from the stock on record; planning leaves it as it
    is."""
    guides: tuple[GuideLine, ...] = ()
    """Lines to line parts up with on the pages, one [[guides]] block for each; never burned."""
    rules: tuple[Rule, ...] = ()
    """Rules that give shapes their process; the first that matches decides."""
    settings: Settings = Settings()
    """Distances, tolerances and ways that hold for the whole order."""
    invented: Switch = False
    """True for example orders."""

    @property
    def whose(self) -> str:
        """By what the records know the order: its reference, or else its title."""
        return self.reference or self.title

    @property
    def due(self) -> datetime.date | None:
        """The soonest day on which something of it must be ready."""
        return min((item.due for item in self.items if item.due is not None), default=None)
