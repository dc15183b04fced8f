"""What can be wrong with the recipes of a material, before they are made into models."""

from __future__ import annotations

from typing import Any

from kerfwright.shop.cut_recipes import cut_faults
from kerfwright.shop.faults import Fault
from kerfwright.shop.material import NEEDED_WIDTHS
from kerfwright.shop.photo_recipes import photo_faults


def recipe_faults(table: dict[str, Any]) -> list[Fault]:
    """Recipes that miss the width their process needs, or that are there twice."""
    recipes = table.get("recipes")
    faults: list[Fault] = []
    seen: dict[tuple[object, object], int] = {}
    for number, recipe in enumerate(recipes if isinstance(recipes, list) else []):
        if not isinstance(recipe, dict):
            continue
        process = recipe.get("process")
        key = NEEDED_WIDTHS.get(process) if isinstance(process, str) else None
        if key is not None and key not in recipe:
            faults.append(_WIDTH_FAULTS[key](("recipes", number, key)))
        faults += photo_faults(number, recipe)
        faults += cut_faults(number, recipe, table.get("thickness_mm"))
        machine = recipe.get("machine")
        if not isinstance(machine, str) or not isinstance(process, str):
            continue
        first = seen.setdefault((machine, process), number)
        if first != number:
            faults.append(
                Fault(
                    "recipe-twice",
                    ("recipes", number, "process"),
                    f'is a second {process} recipe for "{machine}" after recipes[{first + 1}].',
                    "Keep the one that is right; for another thickness make another material.",
                )
            )
    return faults


def _kerf_missing(at: tuple[str | int, ...]) -> Fault:
    return Fault(
        "kerf-missing",
        at,
        "is missing: without the kerf no part comes out on size.",
        "kerfwright calibrate kerf makes a piece to measure it by; add the result as kerf_mm = …",
    )


def _interval_missing(at: tuple[str | int, ...]) -> Fault:
    return Fault(
        "interval-missing",
        at,
        "is missing: an area cannot be engraved without the distance between its lines.",
        "kerfwright calibrate interval makes a piece with several distances; add the best as "
        "interval_mm = …",
    )


_WIDTH_FAULTS = {"kerf_mm": _kerf_missing, "interval_mm": _interval_missing}
