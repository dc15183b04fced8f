"""Writes a material file anew with a recipe that was tested, its comments and its order kept."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit

from kerfwright.errors import KerfwrightError
from kerfwright.output.whole_file import whole_file
from kerfwright.shop.files import load_material

REPLACED = {"grey_curve": "gamma"}
"""Keys that say the same as another one and may not stand beside it."""


def changed_material_text(text: str, machine: str, process: str, values: Mapping[str, Any]) -> str:
    """A material file's text with a recipe's values changed, or the recipe added at its end.

    A value of ``None`` takes the key out.
    """
    document = tomlkit.parse(text)
    recipes: Any = document.get("recipes")
    if recipes is None:
        recipes = tomlkit.aot()
        document.append("recipes", recipes)
    recipe = next(
        (one for one in recipes if one["machine"] == machine and one["process"] == process), None
    )
    if recipe is None:
        recipe = tomlkit.table()
        recipe.update({"machine": machine, "process": process})
        recipes.append(recipe)
        recipe = recipes[-1]
    for key, value in values.items():
        if value is None:
            recipe.pop(key, None)
        else:
            recipe.pop(REPLACED.get(key, ""), None)
            recipe[key] = value
    return tomlkit.dumps(document)


def write_changed_material(
    material_file: Path,
    machine: str,
    process: str,
    values: Mapping[str, Any],
    new_file: Path,
    *,
    overwrite: bool = False,
) -> None:
    """Write ``new_file`` like ``material_file`` with a recipe changed; it is read back first.

    Raises:
        KerfwrightError: ``new_file`` is there already, cannot be written, or the recipe still
            lacks something that it needs.
    """
    if new_file.exists() and not overwrite:
        raise KerfwrightError(
            "calibration/in-the-way",
            file=str(new_file),
            thing="there is a file of this name already.",
            remedy="Give another name with --write, or say --overwrite.",
        )
    text = material_file.read_bytes().decode("utf-8-sig")
    with whole_file(new_file) as path:
        path.write_text(
            changed_material_text(text, machine, process, values), encoding="utf-8", newline=""
        )
        load_material(path)
