"""Recipes as the pages show them: what is on record, what a version changed, where to begin."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from pydantic import BaseModel, JsonValue

from kerfwright.errors import KerfwrightError
from kerfwright.output.plan_json import FindingRecord, finding_record
from kerfwright.output.recipe_list import (
    WAYS,
    VersionRecord,
    energy_in_words,
    noted_from,
    version_record,
)
from kerfwright.recipe_book import RecipeOnRecord, Suggested, keys_of
from kerfwright.shop.files import load_material
from kerfwright.shop.material import Material
from kerfwright.shop.recipe_versions import SETTINGS, RecipeKey
from kerfwright.web.workshop import Workshop


class Key(BaseModel):
    """Which recipe it is."""

    machine: str
    material: str
    thickness_mm: float
    process: str


class OnRecord(BaseModel):
    """A recipe on record, as it was noted last."""

    which: Key
    invented: bool
    status: str
    versions: int
    """How many there are."""
    file: str | None
    """The workshop's material file that it belongs in; null where there is none."""
    in_file: bool
    """Whether that file has a recipe for the machine and process now."""


class ChangedKey(BaseModel):
    """A key of a recipe, before and after; the first version has nothing before."""

    key: str
    before: JsonValue
    after: JsonValue


class Version(BaseModel):
    """A version, where it came from, and what it changed."""

    version: VersionRecord
    origin: str
    changed: tuple[ChangedKey, ...]


class History(BaseModel):
    """Every version of a recipe, oldest first."""

    which: Key
    versions: tuple[Version, ...]
    file: str | None
    """The material file that a version is brought back into; null where there is none."""
    now: int | None
    """The version that the file holds; null where it holds none that is on record."""


class Used(BaseModel):
    """A tested recipe that a suggestion rests on."""

    material: str
    thickness_mm: float
    speed_mm_s: float
    power: float
    passes: int
    status: str


class Start(BaseModel):
    """Where a trial piece may begin; nobody has burned it."""

    material: str
    thickness_mm: float
    machine: str
    process: str
    settings: dict[str, JsonValue]
    """The recipe's settings that differ from what is usual."""
    energy: str
    """Energy of a line with its range, in words."""
    way: str
    """How it was come by, in words."""
    used: tuple[Used, ...]
    remarks: tuple[str, ...]
    findings: tuple[FindingRecord, ...]
    trial: dict[str, str]
    """What the form of a trial piece is filled in with: names of fields and what stands in them."""


def on_record(workshop: Workshop, recipes: list[RecipeOnRecord]) -> list[OnRecord]:
    """Say of recipes on record what they are and which file they belong in."""
    files = files_by_material(workshop)
    lines = []
    for one in recipes:
        key = one.key
        found = files.get((key.material, key.thickness_mm))
        lines.append(
            OnRecord(
                which=_key(key),
                invented=one.invented,
                status=one.latest.status,
                versions=len(one.history),
                file=None if found is None else _shown(workshop, found[1]),
                in_file=found is not None and found[0].recipe(key.machine, key.process) is not None,
            )
        )
    return lines


def history_of(workshop: Workshop, one: RecipeOnRecord) -> History:
    """Tell every version of a recipe with what it changed."""
    key = one.key
    found = files_by_material(workshop).get((key.material, key.thickness_mm))
    recipe = None if found is None else found[0].recipe(key.machine, key.process)
    same = [
        change.version.number
        for change in one.history
        if recipe is not None and change.version.same_as(recipe)
    ]
    return History(
        which=_key(key),
        versions=tuple(
            Version(
                version=version_record(change.version),
                origin=noted_from(change.version.noted),
                changed=tuple(
                    ChangedKey(key=name, before=_plain(before), after=_plain(after))
                    for name, (before, after) in change.changed.items()
                ),
            )
            for change in one.history
        ),
        file=None if found is None else _shown(workshop, found[1]),
        now=same[-1] if same else None,
    )


def start_of(workshop: Workshop, found: Suggested) -> Start:
    """Tell a suggestion and the trial piece that begins with it."""
    suggestion = found.suggestion
    recipe = suggestion.recipe
    said = keys_of(recipe)
    return Start(
        material=suggestion.material,
        thickness_mm=suggestion.thickness_mm,
        machine=recipe.machine,
        process=recipe.process,
        settings={key: _plain(said[key]) for key in SETTINGS if said[key] is not None},
        energy=energy_in_words(suggestion.energy),
        way=WAYS[suggestion.way],
        used=tuple(
            Used(
                material=one.material,
                thickness_mm=one.thickness_mm,
                speed_mm_s=one.recipe.speed_mm_s,
                power=one.recipe.power,
                passes=one.recipe.passes,
                status=one.recipe.status.value,
            )
            for one in suggestion.used
        ),
        remarks=suggestion.remarks,
        findings=tuple(finding_record(one) for one in found.findings),
        trial=_trial(workshop, found),
    )


def files_by_material(workshop: Workshop) -> dict[tuple[str, float], tuple[Material, Path]]:
    """The workshop's materials by name and thickness; files that cannot be read are left out."""
    found: dict[tuple[str, float], tuple[Material, Path]] = {}
    for file in workshop.material_files():
        with suppress(KerfwrightError):
            material = load_material(file)
            found.setdefault((material.name, material.thickness_mm), (material, file))
    return found


def _trial(workshop: Workshop, found: Suggested) -> dict[str, str]:
    """Fields of the piece that spans where the recipe may lie."""
    suggestion = found.suggestion
    recipe, trial = suggestion.recipe, suggestion.trial
    fields = {
        "machine": _shown(workshop, found.machine_file),
        "material": _shown(workshop, found.material_file),
    }
    if recipe.process == "photo":
        return fields | {
            "kind": "grey",
            "speed_mm_s": f"{recipe.speed_mm_s:g}",
            "power": f"{recipe.power:g}",
            "interval_mm": f"{recipe.interval_mm:g}",
            "method": recipe.method,
        }
    ranges = {"powers": (trial.powers, 2), "speeds": (trial.speeds_mm_s, 6)}
    fields |= {"kind": "power", "process": recipe.process, "passes": str(recipe.passes)}
    for name, ((low, high), count) in ranges.items():
        fields |= {f"{name}.0": f"{low:g}", f"{name}.1": f"{high:g}", f"{name}.2": str(count)}
    if recipe.interval_mm is not None and recipe.process == "engrave":
        fields["interval_mm"] = f"{recipe.interval_mm:g}"
    return fields


def _key(key: RecipeKey) -> Key:
    return Key(
        machine=key.machine,
        material=key.material,
        thickness_mm=key.thickness_mm,
        process=key.process,
    )


def _shown(workshop: Workshop, file: Path) -> str:
    return workshop.shown(str(file))


def _plain(value: object) -> JsonValue:
    """A value as JSON has it; days and words of a set of choices become text."""
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return str(value)
