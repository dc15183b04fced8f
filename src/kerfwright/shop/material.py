"""Materials and the recipes that a shop has tested on them."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field

from kerfwright.shop.machine import NotNegative, Positive, StrictModel


class RecipeStatus(StrEnum):
    """How far a recipe can be relied on."""

    UNTESTED = "untested"
    TESTED = "tested"
    TRUSTED = "trusted"


class Recipe(StrictModel):
    """Settings for one machine and one process on one material."""

    machine: str
    process: Literal["cut", "score", "engrave"]
    speed_mm_s: Positive
    power: Annotated[float, Field(gt=0.0, le=1.0)]
    """Fraction of full power."""
    passes: Annotated[int, Field(ge=1, le=50)] = 1
    kerf_mm: NotNegative | None = None
    """Width that a cut takes away; needed for cuts."""
    interval_mm: Positive | None = None
    """Distance between neighbouring engraving lines; needed for engraving."""
    status: RecipeStatus = RecipeStatus.UNTESTED


class Material(StrictModel):
    """A sheet material in one thickness, with its recipes."""

    name: str
    thickness_mm: Positive
    recipes: tuple[Recipe, ...] = ()
    cautions: tuple[str, ...] = ()
    invented: bool = False

    def recipe(self, machine: str, process: str) -> Recipe | None:
        """Return the recipe for a machine and a process, if the shop has one."""
        for recipe in self.recipes:
            if recipe.machine == machine and recipe.process == process:
                return recipe
        return None
