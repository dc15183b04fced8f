"""Materials and the recipes that a shop has tested on them."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, JsonValue

from kerfwright.shop.machine import NotNegative, Positive, StrictModel, Switch, Text


class RecipeStatus(StrEnum):
    """How far a recipe can be relied on."""

    UNTESTED = "untested"
    TESTED = "tested"
    TRUSTED = "trusted"


NEEDED_WIDTHS = {"cut": "kerf_mm", "engrave": "interval_mm"}
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
    process: Literal["cut", "score", "engrave"]
    """What the beam does."""
    speed_mm_s: Positive
    """Speed along the line or row while burning."""
    power: Annotated[float, Field(gt=0.0, le=1.0, strict=True)]
    """Fraction of full power."""
    passes: Annotated[int, Field(ge=1, le=50, strict=True)] = 1
    """How often the same line is burned."""
    kerf_mm: NotNegative | None = None
    """Width that a cut takes away; needed for cuts."""
    interval_mm: Positive | None = None
    """Distance between neighbouring engraving lines; needed for engraving."""
    status: RecipeStatus = RecipeStatus.UNTESTED
    """How far the recipe can be relied on."""


class Material(StrictModel):
    """A sheet material in one thickness, with its recipes."""

    name: Text
    """What the shop calls the material; items and stock name it."""
    thickness_mm: Positive
    """Thickness of the sheet."""
    recipes: tuple[Recipe, ...] = ()
    """Settings that the shop has tested, one for each machine and process."""
    cautions: tuple[Text, ...] = ()
    """What whoever runs the job must know; printed on the ticket."""
    invented: Switch = False
    """True for example files whose settings nobody has tested."""

    def recipe(self, machine: str, process: str) -> Recipe | None:
        """Return the recipe for a machine and a process, if the shop has one."""
        for recipe in self.recipes:
            if recipe.machine == machine and recipe.process == process:
                return recipe
        return None
