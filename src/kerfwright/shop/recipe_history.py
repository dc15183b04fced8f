"""Versions of machines, materials and recipes in the shop's database.

Files stay what plans are made from; here is kept what they once held. A version is noted where it
differs from the last one of the same machine, material or recipe, so that going back to an earlier
setting is a version of its own. Nothing noted is ever changed or taken out.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import InstrumentedAttribute, Session

from kerfwright.errors import KerfwrightError
from kerfwright.shop.database import Database, utc_now
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.recipe_tables import MachineVersionRow, MaterialVersionRow, RecipeVersionRow
from kerfwright.shop.recipe_versions import (
    MachineVersion,
    MaterialVersion,
    Noted,
    Noting,
    RecipeKey,
    RecipeVersion,
    key_of,
    settings_of,
)

RECIPES_FORM = 3
"""The first form of the tables that has versions in it."""

Row = TypeVar("Row", MachineVersionRow, MaterialVersionRow, RecipeVersionRow)

AnyRow = MachineVersionRow | MaterialVersionRow | RecipeVersionRow


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which recipes are asked for; what is ``None`` may be anything."""

    machine: str | None = None
    material: str | None = None
    process: str | None = None

    def takes(self, key: RecipeKey) -> bool:
        """Whether a recipe is one of those; a machine or material is told by words in its name."""
        return (
            _has_words(key.machine, self.machine)
            and _has_words(key.material, self.material)
            and self.process in {None, key.process}
        )


@dataclass(frozen=True, slots=True)
class Described:
    """A machine or material as something describes it, and where that came from."""

    thing: Machine | Material
    noting: Noting
    whole: bool = True
    """False where only the recipes of a material are known."""


@dataclass(frozen=True, slots=True)
class NewVersions:
    """What was not on record like that before."""

    machines: tuple[MachineVersion, ...] = ()
    materials: tuple[MaterialVersion, ...] = ()
    recipes: tuple[RecipeVersion, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.machines or self.materials or self.recipes)


class RecipeHistory:
    """Versions on record in ``database``. Every call is one transaction.

    Every method raises :class:`KerfwrightError` where the database cannot be read or written.
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self.place = database.place

    def recipes(self, chosen: Chosen | None = None) -> list[RecipeVersion]:
        """Return every version of the chosen recipes, oldest first."""
        with self._database.reading(RECIPES_FORM) as session:
            versions = [] if session is None else recipes_within(session)
        return [one for one in versions if chosen is None or chosen.takes(one.key)]

    def latest(self, chosen: Chosen | None = None) -> list[RecipeVersion]:
        """Return the last version of each chosen recipe, by machine, material and process."""
        last = {one.key: one for one in self.recipes(chosen)}
        return [last[key] for key in sorted(last)]

    def machines(self) -> list[MachineVersion]:
        """Return every version of every machine, oldest first."""
        with self._database.reading(RECIPES_FORM) as session:
            return [] if session is None else machines_within(session)

    def materials(self) -> list[MaterialVersion]:
        """Return every version of every material, oldest first."""
        with self._database.reading(RECIPES_FORM) as session:
            return [] if session is None else materials_within(session)

    def recipe(self, number: int) -> RecipeVersion:
        """Return the version of a number.

        Raises:
            KerfwrightError: ``recipes/no-such-version``.
        """
        for one in self.recipes():
            if one.number == number:
                return one
        raise KerfwrightError(
            "recipes/no-such-version",
            file=self.place,
            thing=f"no recipe on record has the number {number}.",
            remedy="kerfwright recipes history shows every version with its number.",
        )

    def note(self, described: Sequence[Described]) -> NewVersions:
        """Note what of machines, materials and their recipes is not on record like that.

        Of one that is described more than once, each description is noted after the one before.
        Nothing is written, and no database made, where all of it is known already.
        """
        with self._database.reading(RECIPES_FORM) as session:
            if session is not None and not _unknown_rows(session, described):
                return NewVersions()
        with self._database.writing() as session:
            return note_within(session, described)

    def note_recipes(self, materials: Sequence[Material], noting: Noting) -> NewVersions:
        """Note recipes alone, where a table gives no more of a material than their name."""
        described = [Described(material, noting, whole=False) for material in materials]
        return self.note(described)


def note_within(session: Session, described: Sequence[Described]) -> NewVersions:
    """Note versions as part of a larger transaction, as :meth:`RecipeHistory.note` does alone."""
    rows = _unknown_rows(session, described)
    session.add_all(rows)
    session.flush()
    return NewVersions(
        tuple(_machine(row) for row in rows if isinstance(row, MachineVersionRow)),
        tuple(_material(row) for row in rows if isinstance(row, MaterialVersionRow)),
        tuple(recipe_of_row(row) for row in rows if isinstance(row, RecipeVersionRow)),
    )


Names = Collection[str] | None
"""Names that are asked for; ``None`` for all."""


def recipes_within(session: Session, materials: Names = None) -> list[RecipeVersion]:
    """Return every version of recipes, oldest first, within a transaction."""
    rows = _rows(session, RecipeVersionRow, RecipeVersionRow.material, materials)
    return [recipe_of_row(row) for row in rows]


def machines_within(session: Session, names: Names = None) -> list[MachineVersion]:
    """Return every version of machines, oldest first, within a transaction."""
    return [
        _machine(row) for row in _rows(session, MachineVersionRow, MachineVersionRow.name, names)
    ]


def materials_within(session: Session, names: Names = None) -> list[MaterialVersion]:
    """Return every version of materials, oldest first, within a transaction."""
    return [
        _material(row) for row in _rows(session, MaterialVersionRow, MaterialVersionRow.name, names)
    ]


def recipe_of_row(row: RecipeVersionRow) -> RecipeVersion:
    """A recipe's version as its row holds it."""
    return RecipeVersion(
        row.id,
        RecipeKey(row.machine, row.material, row.thickness_mm, row.process),
        row.settings,
        row.status,
        row.tested_on,
        row.tested_by,
        _noted(row),
    )


def _unknown_rows(session: Session, described: Sequence[Described]) -> list[AnyRow]:
    """Rows for what differs from the last version of the same; what was run, from all of them."""
    names = {one.thing.name for one in described}
    machines = {one.name: one for one in machines_within(session, names)}
    materials = {(one.name, one.thickness_mm): one for one in materials_within(session, names)}
    recipes: dict[RecipeKey, list[RecipeVersion]] = {}
    for version in recipes_within(session, names):
        recipes.setdefault(version.key, []).append(version)
    rows: list[AnyRow] = []
    for one in described:
        told = _told(one.noting)
        if isinstance(one.thing, Machine):
            known = machines.get(one.thing.name)
            if known is None or not known.same_as(one.thing):
                machine_row = _machine_row(one.thing, told)
                machines[one.thing.name] = _machine(machine_row)
                rows.append(machine_row)
            continue
        material = one.thing
        which = (material.name, material.thickness_mm)
        before = materials.get(which)
        if one.whole and (before is None or not before.same_as(material)):
            material_row = _material_row(material, told)
            materials[which] = _material(material_row)
            rows.append(material_row)
        for recipe in material.recipes:
            known_ones = recipes.get(key_of(material, recipe), [])
            # an earlier plan may be run when the file has moved on already
            asked = known_ones if one.noting.source == "run" else known_ones[-1:]
            if not any(before_it.same_as(recipe) for before_it in asked):
                recipe_row = _recipe_row(material, recipe, told)
                recipes.setdefault(key_of(material, recipe), []).append(recipe_of_row(recipe_row))
                rows.append(recipe_row)
    return rows


def _told(noting: Noting) -> dict[str, Any]:
    return {
        "noted_at": utc_now(),
        "noted_by": noting.by,
        "source": noting.source,
        "origin": noting.origin,
    }


def _machine_row(machine: Machine, told: dict[str, Any]) -> MachineVersionRow:
    return MachineVersionRow(name=machine.name, settings=machine.model_dump(mode="json"), **told)


def _material_row(material: Material, told: dict[str, Any]) -> MaterialVersionRow:
    return MaterialVersionRow(
        name=material.name,
        thickness_mm=material.thickness_mm,
        settings=material.model_dump(mode="json", exclude={"recipes"}),
        **told,
    )


def _recipe_row(material: Material, recipe: Recipe, told: dict[str, Any]) -> RecipeVersionRow:
    return RecipeVersionRow(
        machine=recipe.machine,
        material=material.name,
        thickness_mm=material.thickness_mm,
        process=recipe.process,
        settings=settings_of(recipe),
        status=recipe.status.value,
        tested_on=recipe.tested_on,
        tested_by=recipe.tested_by,
        **told,
    )


def _rows(
    session: Session, table: type[Row], column: InstrumentedAttribute[str], names: Names
) -> Sequence[Row]:
    """Rows oldest first: those of another shop's history may have come in later."""
    chosen = select(table).order_by(table.noted_at, table.id)
    if names is not None:
        chosen = chosen.where(column.in_(names))
    return session.scalars(chosen).all()


def _machine(row: MachineVersionRow) -> MachineVersion:
    return MachineVersion(row.id, row.name, row.settings, _noted(row))


def _material(row: MaterialVersionRow) -> MaterialVersion:
    return MaterialVersion(row.id, row.name, row.thickness_mm, row.settings, _noted(row))


def _noted(row: AnyRow) -> Noted:
    at: datetime.datetime = row.noted_at.replace(tzinfo=UTC)
    return Noted(at, row.noted_by, row.source, row.origin)  # type: ignore[arg-type]


def _has_words(name: str, words: str | None) -> bool:
    return words is None or all(word in name.casefold() for word in words.casefold().split())
