"""What the server and the process that plans say to each other."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from kerfwright.output.plan_json import FindingRecord


@dataclass(frozen=True, slots=True)
class PlanThis:
    """Plan an order; ``records`` is the place of the workshop's records, ``run`` numbers tries."""

    run: int
    slug: str
    order_file: Path
    plan_folder: Path
    records: str | None


@dataclass(frozen=True, slots=True)
class Break:
    """Ends a try: ``stop`` the search for places, the best so far kept, ``drop`` all of it."""

    what: Literal["stop", "drop"]
    run: int


@dataclass(frozen=True, slots=True)
class Words:
    """What is being done."""

    words: str


@dataclass(frozen=True, slots=True)
class SheetSoFar:
    """A sheet as SVG path data, y downwards, 1 mm a unit; ``parts`` fill by the even-odd rule."""

    name: str
    width_mm: float
    height_mm: float
    outline: str
    parts: str
    count: int


@dataclass(frozen=True, slots=True)
class LayoutShown:
    """The best layouts of a material so far; ``left_over`` parts have no place in them."""

    material: str
    sheets: tuple[SheetSoFar, ...]
    left_over: int
    cost: str = ""
    """Of the sheets, less what is left of them, in words; empty where no price is known."""


@dataclass(frozen=True, slots=True)
class Planned:
    """It is planned and written."""

    took_s: float
    kept: int
    """So many of its steps were kept from before."""


@dataclass(frozen=True, slots=True)
class Stopped:
    """The order cannot be made as it is; ``findings`` say why."""

    findings: tuple[FindingRecord, ...]


@dataclass(frozen=True, slots=True)
class Refused:
    """An error that the user is meant to read, in the parts of a ``KerfwrightError``."""

    code: str
    file: str
    thing: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Dropped:
    """It was dropped as it was asked to be."""


Outcome = Planned | Stopped | Refused | Dropped
Message = Words | LayoutShown | Outcome
