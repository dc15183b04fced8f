"""The shop's recipes as a page or a command asks for them: listed, suggested, taken out and in.

Plain functions over the files and the records; what they return is frozen and ready to be shown.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, stops
from kerfwright.output.material_file import write_changed_material
from kerfwright.shop.database import Database
from kerfwright.shop.files import Shop, load_machine, load_material
from kerfwright.shop.hazards import hazard_findings
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe, RecipeStatus
from kerfwright.shop.recipe_csv import csv_of, recipes_of_csv
from kerfwright.shop.recipe_history import Chosen, Described, NewVersions, RecipeHistory
from kerfwright.shop.recipe_versions import (
    SETTINGS,
    MachineVersion,
    Noting,
    RecipeKey,
    RecipeVersion,
    changes,
)
from kerfwright.shop.shop_document import TakenIn, document_of_json, shop_document, shop_json
from kerfwright.shop.shop_document import take_in as take_in_document
from kerfwright.trials.neighbour_recipe import Neighbour, Suggestion, suggested

PROCESSES = ("cut", "score", "engrave", "photo")


@dataclass(frozen=True, slots=True)
class Change:
    """A version with what it changed: values by key, before and after."""

    version: RecipeVersion
    changed: dict[str, tuple[Any, Any]]


@dataclass(frozen=True, slots=True)
class RecipeOnRecord:
    """A recipe with everything that it has been, oldest first; the last version is the latest."""

    key: RecipeKey
    history: tuple[Change, ...]
    invented: bool = False
    """Whether the material's file says that its numbers were never burned."""

    @property
    def latest(self) -> RecipeVersion:
        """The last version."""
        return self.history[-1].version


@dataclass(frozen=True, slots=True)
class Suggested:
    """A suggestion with what must be known of the material before anything is burned."""

    suggestion: Suggestion
    findings: tuple[Finding, ...]
    machine_file: Path
    material_file: Path


def recipes_on_record(database: Database, chosen: Chosen | None = None) -> list[RecipeOnRecord]:
    """Return the chosen recipes with their history, by machine, material and process.

    Raises:
        KerfwrightError: the records cannot be read.
    """
    histories: dict[RecipeKey, list[Change]] = {}
    kept = RecipeHistory(database)
    described = {(one.name, one.thickness_mm): one.invented for one in kept.materials()}
    for version in kept.recipes(chosen):
        before = histories.setdefault(version.key, [])
        last = before[-1].version if before else None
        before.append(Change(version, changes(last, version)))
    return [
        RecipeOnRecord(
            key,
            tuple(histories[key]),
            described.get((key.material, key.thickness_mm), False),
        )
        for key in sorted(histories)
    ]


def note_shop(database: Database, shop: Shop, *, by: str) -> NewVersions:
    """Note what of an order's machine, materials and recipes is not on record like that.

    Raises:
        KerfwrightError: the records cannot be read or written.
    """
    described = [Described(shop.machine, _as_file(by, shop.machine_file))]
    described += [
        Described(material, _as_file(by, file))
        for material, file in zip(shop.materials, shop.material_files, strict=True)
    ]
    return RecipeHistory(database).note(described)


def note_trial(
    database: Database,
    machine: Machine,
    material: tuple[Material, Path] | None,
    new_file: Path,
    *,
    of_machine: bool,
    by: str,
) -> NewVersions:
    """Note what the readings of a trial piece wrote: a recipe, or a number of the machine.

    ``machine`` and ``material`` are as they were before; timed runs have no material.

    Raises:
        KerfwrightError: the records cannot be read or written.
    """
    after = load_machine(new_file) if of_machine else load_material(new_file)
    described = [Described(machine, Noting(by, "file"))]
    if material is not None:
        described.append(Described(material[0], _as_file(by, material[1])))
    described.append(Described(after, Noting(by, "trial", new_file.name)))
    return RecipeHistory(database).note(described)


def suggest(
    database: Database,
    machine_file: Path,
    material_file: Path,
    process: str,
    also: Sequence[Path] = (),
) -> Suggested:
    """Find a start for a recipe from the shop's own at other thicknesses of the same kind.

    Recipes come from the records, and from the material files ``also`` named, whose recipes count
    before those on record. Invented recipes count for an invented material only.

    Raises:
        KerfwrightError: a file is wrong, the material must not be burned or says no kind, or
            nothing that was tested is near enough.
    """
    machine, material = load_machine(machine_file), load_material(material_file)
    require_process(process)
    findings = hazard_findings([material])
    for stop in stops(findings):
        raise KerfwrightError(
            stop.code, file=str(material_file), thing=stop.what, remedy=stop.remedy
        )
    if material.kind is None:
        raise KerfwrightError(
            "recipes/no-kind",
            file=str(material_file),
            thing=f'"{material.name}" does not say of what kind it is, so nobody knows which other '
            "thicknesses it is like.",
            remedy="Write kind = … into this file and those of its other thicknesses, such as kind "
            '= "birch plywood", and plan with them or name them with --also.',
        )
    _require_none_on_record(database, material, machine, process, material_file)
    known = {
        (one.material, one.thickness_mm, one.recipe.machine, one.recipe.process): one
        for one in [*_on_record(database, material), *_in_files(also, material)]
    }
    suggestion = suggested(material, machine, process, list(known.values()))
    return Suggested(suggestion, findings, machine_file, material_file)


def write_suggestion(
    database: Database, found: Suggested, new_file: Path, *, by: str, overwrite: bool = False
) -> NewVersions:
    """Write a material file with the suggested recipe, as untested, and note it.

    What the files held before is on record before anything is written.

    Raises:
        KerfwrightError: the file is there already or cannot be written.
    """
    recipe, history = found.suggestion.recipe, RecipeHistory(database)
    history.note(
        [
            Described(load_machine(found.machine_file), _as_file(by, found.machine_file)),
            Described(load_material(found.material_file), _as_file(by, found.material_file)),
        ]
    )
    write_changed_material(
        found.material_file,
        recipe.machine,
        recipe.process,
        keys_of(recipe),
        new_file,
        overwrite=overwrite,
    )
    used = ", ".join(f"{one.thickness_mm:g} mm" for one in found.suggestion.used)
    noting = Noting(by, "suggestion", f"from {used}")
    return history.note([Described(load_material(new_file), noting)])


def bring_back(database: Database, number: int, material_file: Path, *, by: str) -> RecipeVersion:
    """Write a version on record back into a material file, its comments kept; return it.

    What the file held before is on record before anything is written.

    Raises:
        KerfwrightError: there is no such version, it cannot be read, the file is of another
            material, or it cannot be written.
    """
    history = RecipeHistory(database)
    version = history.recipe(number)
    recipe, before = version.recipe, load_material(material_file)
    if (before.name, before.thickness_mm) != (version.key.material, version.key.thickness_mm):
        raise KerfwrightError(
            "recipes/other-material",
            file=str(material_file),
            thing=f'this is "{before.name}", {before.thickness_mm:g} mm, and version {number} is '
            f'for "{version.key.material}", {version.key.thickness_mm:g} mm.',
            remedy="Give the file of that material; settings do not carry over.",
        )
    history.note([Described(before, _as_file(by, material_file))])
    write_changed_material(
        material_file,
        recipe.machine,
        recipe.process,
        keys_of(recipe),
        material_file,
        overwrite=True,
    )
    noting = Noting(by, "restored", f"version {number}")
    history.note([Described(load_material(material_file), noting)])
    return version


def keys_of(recipe: Recipe) -> dict[str, Any]:
    """What stands in a file for a recipe: ``None`` for each key that is left out as usual."""
    said = recipe.model_dump(mode="json", exclude_defaults=True)
    keys: dict[str, Any] = {key: _as_written(said.get(key)) for key in SETTINGS}
    keys["status"] = recipe.status.value
    # TOML has days of its own
    return keys | {"tested_on": recipe.tested_on, "tested_by": recipe.tested_by}


def _as_file(by: str, file: Path) -> Noting:
    return Noting(by, "file", file.name)


def _as_written(value: Any) -> Any:
    """A number as people write it: 16 rather than 16.0."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def recipes_csv(database: Database, chosen: Chosen | None = None) -> str:
    """Return the latest version of each chosen recipe as a CSV table.

    Raises:
        KerfwrightError: the records cannot be read.
    """
    return csv_of(RecipeHistory(database).latest(chosen))


def everything_json(database: Database) -> str:
    """Return machines, materials and recipes with all their versions as JSON text.

    Raises:
        KerfwrightError: the records cannot be read.
    """
    return shop_json(shop_document(database))


def take_in_csv(database: Database, text: str, file: str, *, by: str) -> NewVersions:
    """Note every recipe of a table that is not on record like that, all or none.

    Raises:
        KerfwrightError: ``recipes/wrong-table``, or the records cannot be written.
    """
    rows = recipes_of_csv(text, file)
    return RecipeHistory(database).note_recipes(
        [row.material for row in rows], Noting(by, "import", Path(file).name)
    )


def take_in_json(database: Database, text: str, file: str) -> TakenIn:
    """Add the versions of a document that are not on record yet, all or none.

    Raises:
        KerfwrightError: ``recipes/wrong-document``, or the records cannot be written.
    """
    return take_in_document(database, document_of_json(text, file))


def _require_none_on_record(
    database: Database, material: Material, machine: Machine, process: str, file: Path
) -> None:
    """A tested recipe that the file has lost is better than anything that is worked out."""
    key = RecipeKey(machine.name, material.name, material.thickness_mm, process)
    versions = [one for one in RecipeHistory(database).recipes() if one.key == key]
    tested = [one for one in versions if one.status != RecipeStatus.UNTESTED]
    if not tested or material.recipe(machine.name, process) is not None:
        return
    last = tested[-1]
    raise KerfwrightError(
        "recipes/tested-on-record",
        file=str(file),
        thing=f'the file has no {process} recipe for "{machine.name}", but a {last.status} one is '
        f"on record: version {last.number}.",
        remedy=f"Look at it (kerfwright recipes history) and bring it back: kerfwright recipes "
        f"restore {last.number} --into {file}.",
    )


def _on_record(database: Database, material: Material) -> list[Neighbour]:
    """Latest recipes of the material's kind, with the machine's power when they were noted."""
    history = RecipeHistory(database)
    described = {(one.name, one.thickness_mm): one for one in history.materials()}
    machines = history.machines()
    found = []
    for version in history.latest():
        what = described.get((version.key.material, version.key.thickness_mm))
        if what is None or not _is_like(what.kind, material, invented=what.invented):
            continue
        noted_at = version.noted.at
        found.append(
            Neighbour(
                version.key.material,
                version.key.thickness_mm,
                version.recipe,
                _power_w(machines, version.key.machine, noted_at),
            )
        )
    return found


def _in_files(files: Sequence[Path], material: Material) -> list[Neighbour]:
    others = [load_material(file) for file in files]
    return [
        Neighbour(other.name, other.thickness_mm, recipe)
        for other in others
        if _is_like(other.kind or "", material, invented=other.invented)
        for recipe in other.recipes
    ]


def _is_like(kind: str, material: Material, *, invented: bool) -> bool:
    wanted = (material.kind or "").casefold().split()
    return kind.casefold().split() == wanted and invented == material.invented


def _power_w(machines: Sequence[MachineVersion], name: str, at: datetime.datetime) -> float | None:
    """Rated power of a machine at a moment, by its versions, oldest first."""
    powers = [one.settings.get("power_w") for one in machines if one.name == name]
    known = [
        one.settings.get("power_w") for one in machines if one.name == name and one.noted.at <= at
    ]
    power = next(iter([*reversed(known), *powers]), None)
    return float(power) if isinstance(power, int | float) else None


def require_process(process: str) -> None:
    """Refuse a word that is no process with recipes.

    Raises:
        KerfwrightError: ``recipes/no-such-process``.
    """
    if process in PROCESSES:
        return
    raise KerfwrightError(
        "recipes/no-such-process",
        file="--process",
        thing=f'"{process}" is no process that has recipes.',
        remedy=f"Give one of {', '.join(PROCESSES)}.",
    )
