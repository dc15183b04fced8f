"""Recipes on record on the terminal and as JSON: what they are, what they were, where to begin."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping, Sequence
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, JsonValue
from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.findings import Finding, number_of
from kerfwright.output.text import printable, short_number
from kerfwright.shop.recipe_history import NewVersions
from kerfwright.shop.recipe_versions import Noted, RecipeKey, RecipeVersion, Source
from kerfwright.trials.energy_line import LineEnergy
from kerfwright.trials.neighbour_recipe import Suggestion

FROM: dict[Source, str] = {
    "file": "file",
    "run": "run",
    "trial": "trial piece",
    "import": "table",
    "suggestion": "suggestion",
    "restored": "brought back",
}

WAYS = {
    "line": "a straight line through the energy of the tested thicknesses",
    "proportion": "energy in proportion to the thickness",
    "nearest": "the nearest thickness as it is",
}

Changed = Mapping[str, tuple[Any, Any]]
"""Values before and after, by key."""


class VersionRecord(BaseModel):
    """A version of a recipe; the moment is in UTC."""

    model_config = ConfigDict(frozen=True)

    number: int
    settings: dict[str, JsonValue]
    status: str
    tested_on: datetime.date | None
    tested_by: str | None
    noted_at: datetime.datetime
    noted_by: str
    source: str
    origin: str


class RecipeRecord(BaseModel):
    """A recipe with its versions, oldest first."""

    model_config = ConfigDict(frozen=True)

    machine: str
    material: str
    thickness_mm: float
    process: str
    invented: bool
    versions: tuple[VersionRecord, ...]


class RecipesRecord(BaseModel):
    """All recipes that were asked for."""

    schema_version: Literal[1] = 1
    recipes: tuple[RecipeRecord, ...]


def recipes_json(
    recipes: Mapping[RecipeKey, Sequence[RecipeVersion]], invented: Collection[RecipeKey] = ()
) -> str:
    """Return recipes with the versions given for each as indented JSON text."""
    records = tuple(
        RecipeRecord(
            machine=key.machine,
            material=key.material,
            thickness_mm=key.thickness_mm,
            process=key.process,
            invented=key in invented,
            versions=tuple(version_record(version) for version in versions),
        )
        for key, versions in recipes.items()
    )
    return RecipesRecord(recipes=records).model_dump_json(indent=2)


def print_recipes(
    latest: Sequence[RecipeVersion],
    place: str,
    invented: Collection[RecipeKey] = (),
    console: Console | None = None,
) -> None:
    """Print the latest version of recipes, a table for each machine and material.

    ``invented`` are those whose numbers were never burned.
    """
    console = console or Console()
    if not latest:
        _say(
            console,
            f"No recipe of the kind is on record in {place}. They are noted when an order is "
            "planned, and when a trial piece tells one.",
        )
        return
    for head in dict.fromkeys(_head(one.key) for one in latest):
        unreal = any(_head(key) == head for key in invented)
        said = f"{head} (invented)" if unreal else head
        console.print(Text(printable(said), style="bold"), soft_wrap=True)
        console.print(_table([one for one in latest if _head(one.key) == head]))


def print_history(
    key: RecipeKey,
    versions: Sequence[tuple[RecipeVersion, Changed]],
    console: Console | None = None,
) -> None:
    """Print every version of one recipe with what it changed."""
    console = console or Console()
    console.print(Text(printable(f"{_head(key)}: {key.process}"), style="bold"), soft_wrap=True)
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("version", justify="right")
    table.add_column("noted", no_wrap=True)
    table.add_column("by")
    table.add_column("from")
    table.add_column("changed")
    for version, changed in versions:
        table.add_row(
            str(version.number),
            version.noted.at.astimezone().strftime("%Y-%m-%d %H:%M"),
            Text(printable(version.noted.by)),
            Text(printable(noted_from(version.noted))),
            Text(printable(_changes(changed))),
        )
    console.print(table)


def print_suggestion(
    found: Suggestion, findings: Sequence[Finding], console: Console | None = None
) -> None:
    """Print where a trial piece may begin, how that was come by, and what is not known."""
    console = console or Console()
    recipe = found.recipe
    head = f"{found.material}, {found.thickness_mm:g} mm, on {recipe.machine}: {recipe.process}"
    console.print(Text(printable(head), style="bold"), soft_wrap=True)
    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column()
    table.add_column()
    table.add_row("speed", f"{recipe.speed_mm_s:g} mm/s")
    table.add_row("power", f"{recipe.power:g}")
    table.add_row("passes", str(recipe.passes))
    table.add_row(*_width(recipe.kerf_mm, recipe.interval_mm))
    table.add_row("energy", energy_in_words(found.energy))
    table.add_row("status", "untested")
    table.add_row("by", WAYS[found.way])
    for one in found.used:
        table.add_row(
            "from",
            Text(
                printable(
                    f"{one.material}, {one.thickness_mm:g} mm: {one.recipe.speed_mm_s:g} mm/s, "
                    f"power {one.recipe.power:g}, passes {one.recipe.passes}, "
                    f"{one.recipe.status.value}"
                )
            ),
        )
    console.print(table)
    for remark in found.remarks:
        _say(console, remark)
    for finding in findings:
        _say(console, f"{finding.what} {finding.remedy}")


def trial_words(found: Suggestion, machine_file: str, material_file: str) -> str:
    """The command that makes the trial piece round a suggestion."""
    process = found.recipe.process
    kind = "grey" if process == "photo" else "power"
    words = [
        f"kerfwright calibrate {kind} --machine {machine_file} --material {material_file}",
        "--out trial",
    ]
    recipe = found.recipe
    if process == "photo":
        words.append(f"--speed {recipe.speed_mm_s:g} --power {recipe.power:g}")
        words.append(f"--interval {recipe.interval_mm:g} --method {recipe.method}")
        return " ".join(words)
    low, high = found.trial.powers
    slow, fast = found.trial.speeds_mm_s
    words.append(f"--powers {low:g} {high:g} 2 --speeds {slow:g} {fast:g} 6")
    words += [f"--process {process}"] if process != "cut" else []
    words += [f"--interval {recipe.interval_mm:g}"] if process == "engrave" else []
    words += [f"--passes {recipe.passes}"] if recipe.passes > 1 else []
    return " ".join(words)


def version_in_words(version: RecipeVersion) -> str:
    """A version on one line."""
    key = version.key
    settings = version.settings
    return printable(
        f"Version {version.number}: {key.process} on {key.machine}, {key.material}, "
        f"{key.thickness_mm:g} mm: {settings.get('speed_mm_s')} mm/s, power "
        f"{settings.get('power')}, {version.status}"
    )


def new_in_words(new: NewVersions) -> str:
    """How much was noted, on one line."""
    if not new:
        return "Nothing new: all of it was on record already."
    counts = {
        "recipe": len(new.recipes),
        "material": len(new.materials),
        "machine": len(new.machines),
    }
    told = ", ".join(number_of(count, what) for what, count in counts.items() if count)
    return f"Noted: {told}."


def version_record(version: RecipeVersion) -> VersionRecord:
    """Gather a version."""
    return VersionRecord(
        number=version.number,
        settings=dict(version.settings),
        status=version.status,
        tested_on=version.tested_on,
        tested_by=version.tested_by,
        noted_at=version.noted.at,
        noted_by=version.noted.by,
        source=version.noted.source,
        origin=version.noted.origin,
    )


def _table(latest: Sequence[RecipeVersion]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("process", no_wrap=True)
    for name in ("mm/s", "power", "passes", "kerf, interval"):
        table.add_column(name, justify="right", no_wrap=True)
    for name, wraps in (("status", False), ("tested", True), ("noted", False)):
        table.add_column(name, no_wrap=not wraps)
    table.add_column("version", justify="right")
    for one in latest:
        settings = one.settings
        width = settings.get("kerf_mm") or settings.get("interval_mm")
        tested = [str(one.tested_on)] if one.tested_on else []
        tested += [one.tested_by] if one.tested_by else []
        table.add_row(
            one.key.process,
            _number(settings.get("speed_mm_s")),
            _number(settings.get("power")),
            _number(settings.get("passes")),
            _number(width),
            one.status,
            Text(printable(" ".join(tested))),
            one.noted.at.astimezone().strftime("%Y-%m-%d"),
            str(one.number),
        )
    return table


def _head(key: RecipeKey) -> str:
    return f"{key.material}, {key.thickness_mm:g} mm, on {key.machine}"


def noted_from(noted: Noted) -> str:
    """Where a version came from."""
    what = FROM.get(noted.source, noted.source)
    return f"{what}: {noted.origin}" if noted.origin else what


def _changes(changed: Changed) -> str:
    return ", ".join(
        f"{key} {_value(after)}" if before is None else f"{key} {_value(before)} → {_value(after)}"
        for key, (before, after) in changed.items()
    )


def _value(value: object) -> str:
    if value is None:
        return "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _number(value: object) -> str:
    return short_number(value, 4) if isinstance(value, int | float) else "–"


def _width(kerf_mm: float | None, interval_mm: float | None) -> tuple[str, str]:
    if kerf_mm is not None:
        return "kerf", f"{kerf_mm:g} mm"
    return ("interval", f"{interval_mm:g} mm") if interval_mm is not None else ("kerf", "–")


def energy_in_words(energy: LineEnergy) -> str:
    """The energy of a line, and in which range that of a working recipe may lie."""
    told = f"{energy.j_mm:.3g} J/mm"
    if energy.low_j_mm is None or energy.high_j_mm is None:
        return f"{told}, how sure is not known"
    return f"{told} ({energy.low_j_mm:.3g} to {energy.high_j_mm:.3g})"


def _say(console: Console, words: str) -> None:
    console.print(words, markup=False, highlight=False, soft_wrap=True)
