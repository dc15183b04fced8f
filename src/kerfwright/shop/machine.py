"""A machine as its file describes it."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Finite = Annotated[float, Field(allow_inf_nan=False, strict=True)]
Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False, strict=True)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False, strict=True)]
Pair = tuple[Positive, Positive]
Text = Annotated[str, Field(min_length=1)]
Switch = Annotated[bool, Field(strict=True)]

LaserClass = Literal["1", "1M", "2", "2M", "3R", "3B", "4"]
"""Classes of lasers after IEC 60825-1."""


class StrictModel(BaseModel):
    """Refuses unknown keys and never changes.

    Numbers are strict: TOML knows numbers, texts and true/false apart, so ``"3"`` is no number.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)


class Dialect(StrEnum):
    """How a controller wants its program written."""

    GRBL_TYPE = "grbl-type"
    RS274_NGC = "rs274-ngc"


class AxisLimits(StrictModel):
    """Largest speed and acceleration of the x and the y axis for one kind of move."""

    speed_mm_s: Pair
    """Largest speed in mm/s as [x, y]."""
    acceleration_mm_s2: Pair
    """Acceleration in mm/s² as [x, y]."""
    jerk_mm_s3: Pair | None = None
    """Change of acceleration in mm/s³ as [x, y], where the controller limits it."""


class Controller(StrictModel):
    """How programs are written for the machine's controller."""

    dialect: Dialect = Dialect.GRBL_TYPE
    """How the controller wants its program written."""
    full_power_s_word: Positive = 1000.0
    """S word that stands for full power."""
    decimals: Annotated[int, Field(ge=2, le=6, strict=True)] = 3
    """Decimals of a coordinate in mm."""
    arcs: Switch = False
    """Write curves as arcs, G2 and G3 with their centre, where the controller knows them."""
    line_numbers: Switch = False
    """Begin lines with their number, an N word."""
    air_on: Literal["", "M7", "M8"] = ""
    """Word that switches the air on for recipes with air = true; none where it runs by itself."""
    air_off: Literal["", "M9"] = ""
    """Word that switches the air off."""
    look_ahead_moves: Annotated[int, Field(ge=1, strict=True)] | None = None
    """Moves that the controller plans ahead, the present one included; by default all."""
    moves_per_s: Positive | None = None
    """Moves a second that the link or the controller can take; by default any number."""


class Machine(StrictModel):
    """A flatbed laser. Speeds in mm/s, accelerations in mm/s², each as [x, y]."""

    name: Text
    """What the shop calls the machine; recipes name it."""
    bed_width_mm: Positive
    """How far the beam reaches in x."""
    bed_height_mm: Positive
    """How far the beam reaches in y."""
    power_w: Positive
    """Rated power of the laser."""
    laser_class: LaserClass | None = None
    """Class on the machine's label, after IEC 60825-1, as it stands in its enclosure; tickets say
    what that class asks for. Without it they send whoever runs the job to the label."""
    spot_mm: Positive = 0.1
    """Width of the line that the beam burns in focus."""
    travel: AxisLimits
    """Limits while moving with the beam off."""
    cutting: AxisLimits
    """Limits while burning lines and loops."""
    scanning: AxisLimits
    """Limits while burning rows, run-up included."""
    junction_deviation_mm: NotNegative = 0.01
    """How far the controller lets a corner be rounded when it works out the corner's speed."""
    corner_speed_mm_s: NotNegative | None = None
    """Where a controller limits the change of speed at a corner instead of a deviation."""
    slows_in_curves: Switch = True
    """The acceleration holds across the path too, however short the pieces of a curve are. False
    for controllers that look only at single corners."""
    beam_delay_s: NotNegative = 0.0
    """Waiting time each time the beam goes on after a travel; none in flight, after a run-up."""
    settle_s: NotNegative = 0.0
    """Waiting time after each travel."""
    focus_speed_mm_s: Positive | None = None
    """How fast the program can move the focus up and down, where it can; needed for recipes with
    focus_step_mm."""
    slat_spacing_mm: Positive | None = None
    """Distance between the slats that carry the sheet, or mesh of the honeycomb. Parts that could
    fall between them get holding tabs, or are told of."""
    reversal_shift_mm: tuple[tuple[Positive, Finite], ...] = ()
    """How far the ends of rows burned to and fro lie apart, measured: pairs of speed in mm/s and
    distance in mm, above 0 where every burn comes late. Rows are burned half of it early."""
    controller: Controller = Controller()
    """How programs are written."""
    invented: Switch = False
    """True for example files whose numbers belong to no machine."""
