"""Materials and the recipes that a shop has tested on them."""

from __future__ import annotations

import datetime
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, JsonValue

from kerfwright.shop.machine import NotNegative, Positive, StrictModel, Switch, Text


class RecipeStatus(StrEnum):
    """How far a recipe can be relied on."""

    UNTESTED = "untested"
    TESTED = "tested"
    TRUSTED = "trusted"


PhotoMethod = Literal[
    "power",
    "floyd-steinberg",
    "jarvis-judice-ninke",
    "stucki",
    "atkinson",
    "ordered",
    "blue-noise",
]
"""How a picture's shades are burned: by power, or by dots set by one of these rules."""

EngraveFinish = Literal["any", "rows", "loops"]
"""The look of an engraved area: whatever is fastest, rows at one angle, or loops."""

LeadIn = Literal["none", "line", "arc"]
"""The shape of the short way through waste on which a cut begins."""

RowDirection = Literal["both", "one"]
"""Whether rows are burned to and fro or all in one direction, coming back with the beam off."""

Fraction = Annotated[float, Field(ge=0.0, le=1.0, strict=True)]

NEEDED_WIDTHS = {"cut": "kerf_mm", "engrave": "interval_mm", "photo": "interval_mm"}
"""The measured width that a recipe cannot do without, by process."""


def _needs(process: str, key: str) -> JsonValue:
    return {
        "if": {"properties": {"process": {"const": process}}, "required": ["process"]},
        "then": {"properties": {key: {"type": "number"}}, "required": [key]},
    }


class Recipe(StrictModel):
    """Settings for one machine and one process on one material."""

    model_config = ConfigDict(
        json_schema_extra={"allOf": [_needs(*pair) for pair in NEEDED_WIDTHS.items()]}
    )

    machine: Text
    """Name of the machine, as its file says it."""
    process: Literal["cut", "score", "engrave", "photo"]
    """What the beam does."""
    speed_mm_s: Positive
    """Speed along the line or row while burning."""
    power: Annotated[float, Field(gt=0.0, le=1.0, strict=True)]
    """Fraction of full power."""
    passes: Annotated[int, Field(ge=1, le=50, strict=True)] = 1
    """How often the same line is burned."""
    kerf_mm: NotNegative | None = None
    """Width that a cut takes away; needed for cuts."""
    lead_in: LeadIn = "line"
    """Cuts: whether the lead-in is a straight line or a quarter circle into the cut's direction."""
    lead_in_mm: NotNegative = 0.0
    """Cuts: how far away in the waste the beam goes on, if there is room; 0 begins on the cut."""
    pierce_s: Annotated[float, Field(ge=0.0, le=60.0, strict=True)] = 0.0
    """Cuts: how long the beam stands and burns through before it moves."""
    overcut_mm: NotNegative = 0.0
    """Closed cuts: how far the beam goes on over its beginning, so that the cut surely closes."""
    focus_step_mm: NotNegative = 0.0
    """Cuts: how much deeper each pass is focused than the one before."""
    cooling_mm: NotNegative = 0.0
    """Cuts: how close to one another cuts heat each other; needed for cooling_s."""
    cooling_s: NotNegative = 0.0
    """Cuts: how long such a cut is to cool before the next one near it, where the order allows."""
    cooling_wait: Switch = False
    """Cuts: stand still, beam off, where the order alone does not give a cut its time to cool."""
    air: Switch = False
    """Blow air along the beam while burning, where the machine's controller can switch it."""
    tabs: Annotated[int, Field(ge=0, le=100, strict=True)] = 0
    """Cuts: holding tabs round each part, left standing so that it stays in the sheet."""
    tab_width_mm: Positive | None = None
    """Cuts: width of a holding tab as it stands; needed for tabs. Small parts, that could fall
    between the machine's slats, get tabs without asking once it is given."""
    tab_spacing_mm: Positive | None = None
    """Cuts: longest stretch of outline without a holding tab, on top of the number in tabs."""
    tab_largest_part_mm: Positive | None = None
    """Cuts: parts longer than this get no holding tabs; their weight keeps them in place."""
    interval_mm: Positive | None = None
    """Distance between neighbouring engraving lines; needed for engraving."""
    method: PhotoMethod = "floyd-steinberg"
    """How a photo's shades are burned: by power, or by dots set by the rule of that name."""
    gamma: Positive | None = None
    """Bends a photo's tones: share of power or of dots = darkness to the power of gamma."""
    grey_curve: Annotated[tuple[tuple[Fraction, Fraction], ...], Field(min_length=2)] | None = None
    """Measured grey ramp of a photo: pairs of power (of dots: their share) and darkness, 0 to 1."""
    power_min: Fraction = 0.0
    """Power of a photo's lightest tone, as a fraction of full power; method "power" only."""
    dot_mm: Positive | None = None
    """Length of a photo's dot along the row; by default as long as the interval is wide."""
    invert: Switch = False
    """Photo: burn what is light. Engraving: burn all of the part but the marks, as for a stamp."""
    border_mm: NotNegative = 0.0
    """How far an inverted engraving keeps from the edge of the part."""
    shoulder_mm: NotNegative = 0.0
    """Width of the slope round an inverted engraving's marks; the power rises over it."""
    pass_angle_deg: Annotated[float, Field(ge=0.0, le=180.0, strict=True)] = 0.0
    """How far the rows of each further engraving pass are turned; 90 hatches crosswise."""
    row_direction: RowDirection = "both"
    """Burn rows to and fro, or only on the way to: slower, but the same along every row."""
    corner_power: Fraction | None = None
    """Engraving: share of the power that loops get at a standstill; less power where they slow."""
    slowest_row: Annotated[float, Field(gt=0.0, le=1.0, strict=True)] = 1.0
    """Engraving: rows burn from this share of speed_mm_s on while they speed up and slow down, with
    as much less power, which saves run-ups; 1 burns every row at speed_mm_s from end to end."""
    finish: EngraveFinish = "any"
    """The look of an engraved area: rows at one angle, loops, or any, cells of both included."""
    seamless: Switch = False
    """Burn every connected piece of an area in one way; pieces apart may still differ."""
    status: RecipeStatus = RecipeStatus.UNTESTED
    """How far the recipe can be relied on."""
    tested_on: datetime.date | None = None
    """Day on which the recipe was last tested, such as 2031-05-17, without quotes."""
    tested_by: Text | None = None
    """Who tested it."""


class FireWatch(StrictModel):
    """From when on a plan warns of fire. The defaults are common practice, without a source."""

    burns: Switch = True
    """False for what has nothing in it that can burn, such as slate or steel: no such warnings."""
    window_mm: Annotated[float, Field(ge=5.0, le=500.0, strict=True)] = 20.0
    """Heat is added up on squares of this side."""
    window_min: Annotated[float, Field(ge=0.05, le=120.0, strict=True)] = 2.0
    """Heat is added up over so many minutes."""
    limit_j_cm2: Positive = 300.0
    """More of the beam's energy on such a square within that time is warned of; half is noted."""
    edge_mm: NotNegative = 3.0
    """Cuts that run closer than this to the sheet's edge for long are warned of."""
    strip_mm: Annotated[float, Field(ge=0.0, le=20.0, strict=True)] = 1.0
    """Cuts that run closer than this to another cut for long are noted."""
    long_mm: Positive = 100.0
    """How far cuts run near an edge or a cut before that is told."""


class Material(StrictModel):
    """A sheet material in one thickness, with its recipes."""

    name: Text
    """What the shop calls the material; items and stock name it."""
    thickness_mm: Positive
    """Thickness of the sheet."""
    recipes: tuple[Recipe, ...] = ()
    """Settings that the shop has tested, one for each machine and process."""
    kind: Text | None = None
    """What it is whatever its thickness, such as "birch plywood, glue for indoors": recipes of the
    same kind in another thickness are a start for a new one."""
    made_of: tuple[Text, ...] = ()
    """What it is made of, such as "PMMA", as the supplier or the safety data sheet says; the list
    of what must not be burned goes by this, and by the name only where nothing is said."""
    cautions: tuple[Text, ...] = ()
    """What whoever runs the job must know; printed on the ticket."""
    fire: FireWatch = FireWatch()
    """From when on a plan warns of fire; a table [fire] of its own."""
    invented: Switch = False
    """True for example files whose settings nobody has tested."""

    def recipe(self, machine: str, process: str) -> Recipe | None:
        """Return the recipe for a machine and a process, if the shop has one."""
        for recipe in self.recipes:
            if recipe.machine == machine and recipe.process == process:
                return recipe
        return None
