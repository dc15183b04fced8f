"""The form in which a page reads what lies round the moves of a sheet."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kerfwright.output.record import Count, NotNegative, Number, Record

Corner = tuple[Number, Number]
Corners = tuple[Corner, ...]


class PlaybackSource(Record):
    """Where burns come from."""

    part: str
    """What the part is called."""
    copy_number: Annotated[int, Field(ge=1)]
    """Which of the parts of that name."""
    item: str
    """What was ordered."""
    process: str
    """What is done."""
    shapes: tuple[str, ...]
    """Names of shapes in the drawing, the first few."""
    shapes_more: Count
    """How many more there are."""


class PlaybackPart(Record):
    """A part where it lies."""

    name: str
    """What the part is called."""
    rings: tuple[Corners, ...]
    """Outline and holes."""
    blank: bool
    """True for a thing made elsewhere."""
    free_s: NotNegative | None
    """When it is cut free; null where it never is, because tabs hold it or nothing cuts it."""


class PlaybackStretch(Record):
    """A stretch of time that belongs to one process, travel to it included."""

    process: str
    """Which."""
    start_s: NotNegative
    """Where it begins."""
    end_s: NotNegative
    """Where it ends."""


class Playback(Record):
    """A sheet as its beam is played. Lengths are in mm from its lower left corner, y upwards."""

    version: Literal[1]
    """Of this form."""
    number: Annotated[int, Field(ge=1)]
    """Of the sheet."""
    material: str
    """Name of the material."""
    sheet: str
    """What the shop calls the sheet."""
    width_mm: NotNegative
    """Size in x."""
    height_mm: NotNegative
    """Size in y."""
    moves: Count
    """How many there are in the file of moves."""
    time_s: NotNegative
    """Time of the whole program."""
    burn_s: NotNegative
    """Part of it with the beam burning."""
    travel_s: NotNegative
    """Part of it moving with the beam off."""
    wait_s: NotNegative
    """Part of it standing still."""
    power_w: NotNegative
    """The machine's full power."""
    power_follows_speed: bool
    """Whether the beam is weaker where it is slower than was asked for."""
    processes: tuple[str, ...]
    """What the numbers of processes mean."""
    widths_mm: dict[str, NotNegative]
    """How wide a line of each process is."""
    sources: tuple[PlaybackSource, ...]
    """What the moves' sources count."""
    parts: tuple[PlaybackPart, ...]
    """What lies on the sheet."""
    outline: tuple[Corners, ...]
    """The sheet's edge, and its holes."""
    keep_out: tuple[Corners, ...]
    """Areas on which no part may lie."""
    stretches: tuple[PlaybackStretch, ...]
    """The time, divided by process; they follow one another without gaps."""
    colours: dict[Literal["light", "dark"], tuple[str, ...]]
    """Colours along time or energy, from the least to the most."""
