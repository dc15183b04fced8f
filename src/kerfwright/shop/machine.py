"""A machine as its file describes it."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Pair = tuple[Positive, Positive]


class StrictModel(BaseModel):
    """Refuses unknown keys and never changes."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Dialect(StrEnum):
    """How a controller wants its program written."""

    GRBL_TYPE = "grbl-type"
    RS274_NGC = "rs274-ngc"


class AxisLimits(StrictModel):
    """Largest speed and acceleration of the x and the y axis for one kind of move."""

    speed_mm_s: Pair
    acceleration_mm_s2: Pair


class Controller(StrictModel):
    """How programs are written for the machine's controller."""

    dialect: Dialect = Dialect.GRBL_TYPE
    full_power_s: Positive = 1000.0
    """S word that stands for full power."""
    decimals: Annotated[int, Field(ge=2, le=6)] = 3


class Machine(StrictModel):
    """A flatbed laser. Speeds in mm/s, accelerations in mm/s², each as [x, y]."""

    name: str
    bed_width_mm: Positive
    bed_height_mm: Positive
    power_w: Positive
    laser_class: Literal["1", "1M", "2", "2M", "3R", "3B", "4"] = "4"
    spot_mm: Positive = 0.1
    travel: AxisLimits
    cutting: AxisLimits
    """Limits while burning lines and loops."""
    scanning: AxisLimits
    """Limits while burning rows, run-up included."""
    junction_deviation_mm: NotNegative = 0.01
    corner_speed_mm_s: NotNegative | None = None
    """Where a controller limits the change of speed at a corner instead of a deviation."""
    beam_delay_s: NotNegative = 0.0
    """Waiting time each time the beam goes on."""
    settle_s: NotNegative = 0.0
    """Waiting time after each travel."""
    controller: Controller = Controller()
    invented: bool = False
    """True for example files whose numbers belong to no machine."""
