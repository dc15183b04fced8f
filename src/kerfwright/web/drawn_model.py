"""What the pages are told of an item's drawing.

Coordinates are the view's: mm from the upper left corner of all that is drawn, y downwards.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel

from kerfwright.output.plan_json import FindingRecord

Owner = Literal["item", "order"]


class LikeThis(BaseModel):
    """Tests of a rule that take shapes like these and no others."""

    layer: str
    fill: bool | str
    stroke: bool | str


class DrawnLines(BaseModel):
    """Shapes that are alike in process, layer and paint."""

    process: str
    """What the beam does; ``none`` for what is left out."""
    layer: str
    fill: str | None
    stroke: str | None
    decided_by: str
    shapes: int
    length_mm: float
    like: LikeThis
    d: str
    """Path data of their lines."""
    area: str
    """Path data of the areas that are engraved, to be filled by the nonzero rule."""


class DrawnPhoto(BaseModel):
    """A picture made of dots; ``matrix`` takes the unit square to the view as in SVG."""

    name: str
    layer: str
    matrix: tuple[float, ...]
    width_mm: float
    height_mm: float
    dots: tuple[int, int]
    png: str
    """The picture in grey, made small, as an address of its own."""


class DrawnPart(BaseModel):
    """A part; what is burned inside is given only for the first of parts that are alike."""

    name: str
    d: str
    """Outline and holes, to be filled by the even-odd rule."""
    box: tuple[float, float, float, float]
    """Left, top, right, bottom."""
    scored: str
    engraved: str
    slits: str
    photos: str


class AlikeGroup(BaseModel):
    """Parts that are alike, or one that is like no other."""

    members: tuple[int, ...]
    """Their places in the list of parts."""
    mirrored: int
    """How many of them are the first one's mirror image."""
    width_mm: float
    height_mm: float
    area_mm2: float
    holes: int
    slits: int
    scores: int
    engraves: int
    photos: int
    blank: bool


class PinnedFinding(FindingRecord):
    """A finding, and where it is in the view."""

    at: tuple[float, float] | None


class RuleCatch(BaseModel):
    """How many of the drawing's shapes a rule decides about."""

    owner: Owner
    number: int
    """Its place among its owner's rules, from 0."""
    shapes: int


class DrawnItem(BaseModel):
    """An item's drawing as it was understood, ready to be shown."""

    digest: str
    """Changes with anything that this depends on."""
    drawing: str
    width_mm: float
    height_mm: float
    view: tuple[float, float]
    """Width and height of the view."""
    page: tuple[float, float, float, float]
    """The page in the view: left, top, width, height."""
    shapes: int
    lines: tuple[DrawnLines, ...]
    photos: tuple[DrawnPhoto, ...]
    parts: tuple[DrawnPart, ...]
    alike: tuple[AlikeGroup, ...]
    findings: tuple[PinnedFinding, ...]
    """In the order of their numbers, from 1."""
    layers: tuple[str, ...]
    rules: tuple[RuleCatch, ...]
    checked: bool
    """Whether kerf, spot, sheets and thickness were known to check against."""
    trouble: dict[str, str] | None = None
    """Why not, where they were not."""


class Caught(BaseModel):
    """What a rule would take of one drawing."""

    shapes: int
    """Shapes that it would decide about."""
    earlier: int
    """Shapes that it matches, but that a rule before it takes."""
    of: int
    """All shapes of the drawing."""
    was: dict[str, int]
    """What is done to those shapes now, and to how many."""
    d: str
    """Path data of those shapes."""
