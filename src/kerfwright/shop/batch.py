"""A batch: what differs from copy to copy, and how an item says so."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kerfwright.shop.machine import Positive, StrictModel, Text


class Batch(StrictModel):
    """One copy of the drawing for each row of a table, with the row's words in it."""

    rows: Text
    """Path of a table (CSV) with headings; text such as {name} in the drawing is replaced by
    what stands under that heading."""
    first_number: Annotated[int, Field(ge=0, le=10**12, strict=True)] = 1
    """What {n} counts from; {n:04d} writes it with at least four digits."""
    room_mm: dict[Text, Positive] = Field(default_factory=dict)
    """How wide the text with a heading's words may be, by heading; longer text is made smaller."""
    least_text_mm: Positive = 2.5
    """Text is never made smaller than this size of letters (font size)."""
    codes: Literal["dark", "light"] = "dark"
    """What the beam leaves: dark modules on a light blank, or light ones on a dark blank. With
    ``light`` everything but the dark modules is burned, the quiet zone too."""
    error_correction: Literal["L", "M", "Q", "H"] = "M"
    """How much of a QR code may be spoiled and still be read: about 7, 15, 25 or 30 %."""
