"""Machines, materials and recipes with all their versions as one JSON document, and back.

Reading adds what is not on record yet, and nothing twice: the same document read again changes
nothing. Stock, orders and runs are in a backup, which holds these versions too.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AwareDatetime, Field, ValidationError
from sqlalchemy.orm import Session

from kerfwright.errors import KerfwrightError
from kerfwright.shop.database import Database
from kerfwright.shop.faults import dotted
from kerfwright.shop.files import material_of_table
from kerfwright.shop.machine import Machine, StrictModel, Text
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.recipe_history import (
    RECIPES_FORM,
    machines_within,
    materials_within,
    recipes_within,
)
from kerfwright.shop.recipe_tables import MachineVersionRow, MaterialVersionRow, RecipeVersionRow
from kerfwright.shop.recipe_versions import Noted, Source, settings_of

MOST_TOLD = 12

A_DAY = datetime.timedelta(days=1)
"""Clocks may differ by so much; what is later has not happened."""


class _Version(StrictModel):
    noted_at: AwareDatetime
    """When it was noted."""
    noted_by: str
    """Who noted it."""
    source: Source
    """Where it came from."""
    origin: str
    """Name of the file, or what else tells where it came from."""


class VersionOfMachine(_Version):
    """A machine as its file once described it."""

    machine: Machine
    """All keys of the file."""


class VersionOfMaterial(_Version):
    """A material as its file once described it, without its recipes."""

    material: Material
    """All keys of the file but the recipes."""


class VersionOfRecipe(_Version):
    """A recipe as it once was."""

    material: Text
    """Name of the material."""
    thickness_mm: Annotated[float, Field(gt=0.0, allow_inf_nan=False, strict=True)]
    """Thickness of the material."""
    recipe: Recipe
    """All keys of the recipe."""


VersionT = TypeVar("VersionT", bound=_Version)


class ShopDocument(StrictModel):
    """Everything that is known of machines, materials and recipes, oldest first."""

    document: Literal["kerfwright shop"] = "kerfwright shop"
    """What this is."""
    form: Literal[1] = 1
    """Version of this form."""
    machines: tuple[VersionOfMachine, ...] = ()
    """Versions of machines."""
    materials: tuple[VersionOfMaterial, ...] = ()
    """Versions of materials."""
    recipes: tuple[VersionOfRecipe, ...] = ()
    """Versions of recipes."""


@dataclass(frozen=True, slots=True)
class TakenIn:
    """How many versions were new."""

    machines: int
    materials: int
    recipes: int


def shop_document(database: Database) -> ShopDocument:
    """Return all versions on record.

    Raises:
        KerfwrightError: ``recipes/not-readable`` where one holds what is not known here; a backup
            has it as it is.
    """
    with database.reading(RECIPES_FORM) as session:
        return ShopDocument() if session is None else _document(session)


def shop_json(document: ShopDocument) -> str:
    """Return the document as indented JSON text."""
    return document.model_dump_json(indent=1) + "\n"


def document_of_json(text: str, file: str) -> ShopDocument:
    """Read a document and check every row of it.

    Raises:
        KerfwrightError: ``recipes/wrong-document``.
    """
    try:
        table = json.loads(text)
    except (ValueError, RecursionError):
        raise _wrong(file, "it is no JSON.") from None
    if not isinstance(table, dict) or table.get("document") != "kerfwright shop":
        raise _wrong(file, "kerfwright recipes export did not write it.")
    try:
        document = ShopDocument.model_validate(table)
    except ValidationError as error:
        faults = [f"{dotted(one['loc'])}: {one['msg']}." for one in error.errors()]
        raise _wrong(file, _told(faults)) from None
    faults = [*_recipe_faults(document), *_moment_faults(document)]
    if faults:
        raise _wrong(file, _told(faults))
    return document


def take_in(database: Database, document: ShopDocument) -> TakenIn:
    """Add the versions of a document that are not on record yet, all or none."""
    with database.writing() as session:
        present = _document(session)
        machines = _new(document.machines, present.machines)
        materials = _new(document.materials, present.materials)
        recipes = _new(document.recipes, present.recipes)
        session.add_all([_machine_row(one) for one in machines])
        session.add_all([_material_row(one) for one in materials])
        session.add_all([_recipe_row(one) for one in recipes])
    return TakenIn(len(machines), len(materials), len(recipes))


def _new(versions: Sequence[VersionT], present: Sequence[VersionT]) -> list[VersionT]:
    """Versions that are not there yet, each once."""
    known = {_as_text(one) for one in present}
    texts = {_as_text(one): one for one in versions}
    return [one for text, one in texts.items() if text not in known]


def _as_text(version: _Version) -> str:
    at = version.noted_at.astimezone(UTC)
    return version.model_copy(update={"noted_at": at}).model_dump_json()


def _document(session: Session) -> ShopDocument:
    try:
        return ShopDocument(
            machines=tuple(
                VersionOfMachine(machine=Machine.model_validate(one.settings), **_said(one.noted))
                for one in machines_within(session)
            ),
            materials=tuple(
                VersionOfMaterial(
                    material=Material.model_validate(one.settings), **_said(one.noted)
                )
                for one in materials_within(session)
            ),
            recipes=tuple(
                VersionOfRecipe(
                    material=one.key.material,
                    thickness_mm=one.key.thickness_mm,
                    recipe=one.recipe,
                    **_said(one.noted),
                )
                for one in recipes_within(session)
            ),
        )
    except ValidationError as error:
        at = dotted(error.errors(include_url=False)[0]["loc"])
        raise KerfwrightError(
            "recipes/not-readable",
            file="records",
            thing=f'a version on record holds "{at}" in a way that is not known here.',
            remedy="kerfwright backup writes everything as it is.",
        ) from None


def _said(noted: Noted) -> dict[str, Any]:
    return {
        "noted_at": noted.at,
        "noted_by": noted.by,
        "source": noted.source,
        "origin": noted.origin,
    }


def _columns(version: _Version) -> dict[str, Any]:
    return {
        "noted_at": version.noted_at.astimezone(UTC).replace(tzinfo=None),
        "noted_by": version.noted_by,
        "source": version.source,
        "origin": version.origin,
    }


def _machine_row(version: VersionOfMachine) -> MachineVersionRow:
    return MachineVersionRow(
        name=version.machine.name,
        settings=version.machine.model_dump(mode="json"),
        **_columns(version),
    )


def _material_row(version: VersionOfMaterial) -> MaterialVersionRow:
    return MaterialVersionRow(
        name=version.material.name,
        thickness_mm=version.material.thickness_mm,
        settings=version.material.model_dump(mode="json", exclude={"recipes"}),
        **_columns(version),
    )


def _recipe_row(version: VersionOfRecipe) -> RecipeVersionRow:
    recipe = version.recipe
    return RecipeVersionRow(
        machine=recipe.machine,
        material=version.material,
        thickness_mm=version.thickness_mm,
        process=recipe.process,
        settings=settings_of(recipe),
        status=recipe.status.value,
        tested_on=recipe.tested_on,
        tested_by=recipe.tested_by,
        **_columns(version),
    )


def _recipe_faults(document: ShopDocument) -> list[str]:
    """What is wrong with recipes as in a material file, beside the types of their values."""
    faults = []
    for number, one in enumerate(document.recipes):
        table = {
            "name": one.material,
            "thickness_mm": one.thickness_mm,
            "recipes": [one.recipe.model_dump(mode="json", exclude_defaults=True)],
        }
        try:
            material_of_table(table, "")
        except KerfwrightError as error:
            faults.append(f"recipes[{number + 1}]: {error.thing} {error.remedy}")
    faults += [
        f"materials[{number + 1}]: its recipes belong under recipes."
        for number, version in enumerate(document.materials)
        if version.material.recipes
    ]
    return faults


def _moment_faults(document: ShopDocument) -> list[str]:
    latest = datetime.datetime.now(UTC) + A_DAY
    lists: dict[str, Sequence[_Version]] = {
        "machines": document.machines,
        "materials": document.materials,
        "recipes": document.recipes,
    }
    return [
        f"{name}[{number + 1}].noted_at: {version.noted_at:%Y-%m-%d} is yet to come."
        for name, versions in lists.items()
        for number, version in enumerate(versions)
        if version.noted_at > latest
    ]


def _told(faults: Sequence[str]) -> str:
    if len(faults) == 1:
        return faults[0]
    more = f"\n  and {len(faults) - MOST_TOLD} more" if len(faults) > MOST_TOLD else ""
    lines = "".join(f"\n  {one}" for one in faults[:MOST_TOLD])
    return f"{len(faults)} things are wrong.{lines}{more}\n"


def _wrong(file: str, thing: str) -> KerfwrightError:
    return KerfwrightError(
        "recipes/wrong-document",
        file=file,
        thing=thing,
        remedy="Give the JSON file that kerfwright recipes export wrote; nothing was taken in.",
    )
