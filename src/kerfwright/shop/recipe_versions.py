"""What a machine, a material or a recipe was at some time: versions that are noted and stay."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import JsonValue, ValidationError

from kerfwright.errors import KerfwrightError
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe

Source = Literal["file", "run", "trial", "import", "suggestion", "restored"]
"""Where a version came from: a file that was planned with, a plan that was run, readings of a trial
piece, a table, a suggestion that was written down, or an earlier version brought back."""

IDENTITY = ("machine", "process")
"""Keys of a recipe that say which one it is."""

TRUST = ("status", "tested_on", "tested_by")
"""Keys of a recipe that say how far it can be relied on."""

SETTINGS = tuple(key for key in Recipe.model_fields if key not in {*IDENTITY, *TRUST})
"""Keys of a recipe that say how it is burned."""


@dataclass(frozen=True, slots=True)
class Noting:
    """Who notes a version, and where it came from."""

    by: str
    source: Source
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Noted:
    """When a version was noted, by whom, and from where; the moment is in UTC."""

    at: datetime.datetime
    by: str
    source: Source
    origin: str


@dataclass(frozen=True, order=True, slots=True)
class RecipeKey:
    """Which recipe it is: settings carry over from none of these to another."""

    machine: str
    material: str
    thickness_mm: float
    process: str


@dataclass(frozen=True, slots=True)
class RecipeVersion:
    """A recipe as it once was."""

    number: int
    key: RecipeKey
    settings: Mapping[str, JsonValue]
    """Every key that says how it is burned, also those that were as usual."""
    status: str
    tested_on: datetime.date | None
    tested_by: str | None
    noted: Noted

    @property
    def recipe(self) -> Recipe:
        """The recipe as a model.

        Raises:
            KerfwrightError: ``recipes/not-readable`` where it holds what this version of the
                program does not know.
        """
        trust = {"status": self.status, "tested_on": self.tested_on, "tested_by": self.tested_by}
        which = {"machine": self.key.machine, "process": self.key.process}
        try:
            return Recipe.model_validate({**self.settings, **trust, **which})
        except ValidationError as error:
            at = ".".join(str(step) for step in error.errors(include_url=False)[0]["loc"])
            raise KerfwrightError(
                "recipes/not-readable",
                file=f"version {self.number}",
                thing=f'the recipe holds "{at}" in a way that is not known here.',
                remedy="Another version of the program wrote it. kerfwright recipes history shows "
                "it; take over by hand what still applies.",
            ) from None

    def same_as(self, recipe: Recipe) -> bool:
        """Whether a recipe is this one; keys that came up later count as usual."""
        try:
            return self.recipe == recipe
        except KerfwrightError:
            return False


@dataclass(frozen=True, slots=True)
class MachineVersion:
    """A machine as its file once described it; ``settings`` are all keys of the file."""

    number: int
    name: str
    settings: Mapping[str, JsonValue]
    noted: Noted

    def same_as(self, machine: Machine) -> bool:
        """Whether a machine is this one."""
        try:
            return Machine.model_validate(self.settings) == machine
        except ValidationError:
            return False


@dataclass(frozen=True, slots=True)
class MaterialVersion:
    """A material as its file once described it, without its recipes."""

    number: int
    name: str
    thickness_mm: float
    settings: Mapping[str, JsonValue]
    noted: Noted

    @property
    def kind(self) -> str:
        """What it is whatever its thickness; empty where nobody said."""
        said = self.settings.get("kind")
        return said if isinstance(said, str) else ""

    @property
    def invented(self) -> bool:
        """Whether its settings belong to no real material."""
        return self.settings.get("invented") is True

    def same_as(self, material: Material) -> bool:
        """Whether a material is this one, its recipes left aside."""
        try:
            return Material.model_validate(self.settings) == material.model_copy(
                update={"recipes": ()}
            )
        except ValidationError:
            return False


def settings_of(recipe: Recipe) -> dict[str, Any]:
    """Every key of a recipe that says how it is burned, as JSON has it."""
    return recipe.model_dump(mode="json", include=set(SETTINGS))


def key_of(material: Material, recipe: Recipe) -> RecipeKey:
    """Which recipe of which material it is."""
    return RecipeKey(recipe.machine, material.name, material.thickness_mm, recipe.process)


def changes(before: RecipeVersion | None, after: RecipeVersion) -> dict[str, tuple[Any, Any]]:
    """Keys that differ from the version before, with their values before and after.

    Without one before: every key that is not as usual.
    """
    old = _usual() if before is None else _all(before)
    new = _all(after)
    keys: Iterable[str] = [*SETTINGS, *TRUST, *(set(new) - {*SETTINGS, *TRUST})]
    return {key: (old.get(key), new.get(key)) for key in keys if old.get(key) != new.get(key)}


def _all(version: RecipeVersion) -> dict[str, Any]:
    return {
        **version.settings,
        "status": version.status,
        "tested_on": version.tested_on,
        "tested_by": version.tested_by,
    }


def _usual() -> dict[str, Any]:
    return {
        name: None if field.is_required() else field.get_default()
        for name, field in Recipe.model_fields.items()
    }
