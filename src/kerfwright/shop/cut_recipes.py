"""What can be wrong with the keys of a recipe for cutting, alone and with the machine."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kerfwright.errors import KerfwrightError
from kerfwright.shop.faults import Fault
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe

TAB_KEYS = ("tabs", "tab_spacing_mm")
"""Keys that ask for holding tabs."""

TAB_WIDTH_REMEDY = (
    "Add the width that just holds a part of this material and still breaks by hand: try some on "
    "an offcut."
)


def cut_faults(number: int, recipe: dict[str, Any], thickness_mm: object) -> list[Fault]:
    """Faults of one recipe's table: keys that have no effect without another, or go too deep."""
    if recipe.get("process") != "cut":
        return []
    faults: list[Fault] = []
    asking = next((key for key in TAB_KEYS if recipe.get(key)), None)
    if asking is not None and "tab_width_mm" not in recipe:
        faults.append(
            Fault(
                "tab-width-missing",
                ("recipes", number, "tab_width_mm"),
                f"is missing, and {asking} asks for holding tabs.",
                TAB_WIDTH_REMEDY,
            )
        )
    if recipe.get("lead_in") in ("line", "arc") and "lead_in_mm" not in recipe:
        faults.append(
            Fault(
                "lead-in-length-missing",
                ("recipes", number, "lead_in_mm"),
                "is missing, and lead_in asks for lead-ins.",
                "Add how long they are to be, or take lead_in out.",
            )
        )
    if recipe.get("focus_step_mm") and recipe.get("passes", 1) == 1:
        faults.append(
            Fault(
                "focus-step-of-one-pass",
                ("recipes", number, "focus_step_mm"),
                "means nothing with a single pass.",
                "Set passes to how often the line is burned, or take focus_step_mm out.",
            )
        )
    faults += _focus_faults(number, recipe, thickness_mm)
    return faults + _cooling_faults(number, recipe)


def _focus_faults(number: int, recipe: dict[str, Any], thickness_mm: object) -> list[Fault]:
    """Focus steps that end below the sheet: the head follows the focus down and may hit it."""
    step_mm, passes = recipe.get("focus_step_mm"), recipe.get("passes", 1)
    numbers = (step_mm, passes, thickness_mm)
    if not all(isinstance(one, int | float) for one in numbers):
        return []
    deepest_mm = step_mm * (passes - 1)
    if deepest_mm <= thickness_mm:
        return []
    return [
        Fault(
            "focus-below-sheet",
            ("recipes", number, "focus_step_mm"),
            f"focuses the last of {passes} passes {deepest_mm:g} mm deep, and the sheet is "
            f"{thickness_mm:g} mm thick.",
            "Step less, so that the last pass is focused within the sheet.",
        )
    ]


def _cooling_faults(number: int, recipe: dict[str, Any]) -> list[Fault]:
    keys = ("cooling_mm", "cooling_s")
    missing = next((key for key in keys if not recipe.get(key)), None)
    asking = next((key for key in (*keys, "cooling_wait") if recipe.get(key)), None)
    if missing is None or asking is None:
        return []
    return [
        Fault(
            "cooling-needs-both",
            ("recipes", number, missing),
            f"is missing, and {asking} asks for cuts that cool.",
            "Say both how close cuts heat each other (cooling_mm) and how long they are to cool "
            f"(cooling_s), or take {asking} out.",
        )
    ]


def require_focus_axis(
    recipe: Recipe, material: Material, machine: Machine, file: Path | str
) -> None:
    """Refuse to step the focus of a machine of which nobody says that it can; ``file`` is its own.

    Raises:
        KerfwrightError: ``machine/focus-speed-missing``.
    """
    if recipe.focus_step_mm == 0.0 or machine.focus_speed_mm_s is not None:
        return
    raise KerfwrightError(
        "machine/focus-speed-missing",
        file=str(file),
        thing=f'the {recipe.process} recipe for "{material.name}" steps the focus, but the file '
        f'does not say that "{machine.name}" can move it, nor how fast.',
        remedy="Add focus_speed_mm_s if its programs can set the focus, else take focus_step_mm "
        "out of the recipe.",
    )


def require_tab_width(
    recipe: Recipe, material: Material, tabs: int | None, file: Path | str
) -> None:
    """Refuse to hold an item by tabs of which the recipe for cutting does not say how wide.

    Raises:
        KerfwrightError: ``material/tab-width-missing``.
    """
    if recipe.process != "cut" or not tabs or recipe.tab_width_mm is not None:
        return
    raise KerfwrightError(
        "material/tab-width-missing",
        file=str(file),
        thing=f'an item asks for holding tabs, and the recipe for cutting "{material.name}" has '
        "no tab_width_mm.",
        remedy=TAB_WIDTH_REMEDY,
    )
