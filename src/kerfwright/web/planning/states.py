"""Where the planning of an order stands, as the pages are told."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import BaseModel

from kerfwright.output.plan_json import FindingRecord


class Told(BaseModel):
    """An error as the pages show it."""

    code: str
    file: str
    thing: str
    remedy: str
    help: str


class PlanningState(BaseModel):
    """The planning of one order: what goes on, and how the last try since the start ended."""

    order: str
    number: int = 0
    """Later states have higher ones, also once the server was started anew."""
    state: Literal["idle", "queued", "planning", "stopping"] = "idle"
    """``stopping``: the search for places was asked to end with the best layout so far."""
    position: int | None = None
    """Place in the queue; 1 is planned next."""
    words: str = ""
    """What is being done."""
    started: datetime | None = None
    """When the planning that goes on was begun."""
    outcome: Literal["none", "planned", "stopped", "refused", "dropped"] = "none"
    """How the last try ended; ``stopped`` by its findings, ``refused`` by an error."""
    finished: datetime | None = None
    """When the last try ended."""
    took_s: float | None = None
    """How long the last planning took, writing included."""
    kept: int = 0
    """How many steps of it were kept from before."""
    findings: tuple[FindingRecord, ...] = ()
    error: Told | None = None


class Progress(BaseModel):
    """What is being done with an order; ``share`` of all of it, where that is known."""

    order: str
    number: int
    """That of the state with these words."""
    words: str
    share: float | None = None


class SheetShown(BaseModel):
    """A sheet as SVG path data, y downwards, 1 mm a unit; ``parts`` fill by the even-odd rule."""

    name: str
    width_mm: float
    height_mm: float
    outline: str
    parts: str
    count: int
    """How many pieces ``parts`` has."""


class LayoutNews(BaseModel):
    """The best layout of one material so far."""

    order: str
    material: str
    sheets: tuple[SheetShown, ...]
    left_over: int
    cost: str = ""
    """Of the sheets, less what is left of them, in words; empty where no price is known."""


class Ended(BaseModel):
    """A planning came to its end; ``findings`` say why it was stopped, where it was."""

    order: str
    findings: tuple[FindingRecord, ...] = ()
