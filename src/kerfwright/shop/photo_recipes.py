"""What can be wrong with the keys of a recipe for photos, and keys that belong to no photo."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from kerfwright.shop.faults import Fault

WITHOUT_PHOTO_RECIPE = (
    ' Or set pictures = "trace" at the item to engrave only the picture\'s dark areas, or pictures '
    '= "leave-out" to plan without it.'
)

PROCESSES_OF_KEY = {
    "method": ("photo",),
    "gamma": ("photo",),
    "grey_curve": ("photo",),
    "power_min": ("photo",),
    "dot_mm": ("photo",),
    "invert": ("photo", "engrave"),
    "border_mm": ("engrave",),
    "shoulder_mm": ("engrave",),
    "corner_power": ("engrave",),
    "slowest_row": ("engrave",),
    "pass_angle_deg": ("engrave",),
    "row_direction": ("photo", "engrave"),
    "finish": ("engrave",),
    "seamless": ("engrave",),
    "lead_in": ("cut",),
    "lead_in_mm": ("cut",),
    "pierce_s": ("cut",),
    "overcut_mm": ("cut",),
    "focus_step_mm": ("cut",),
    "cooling_mm": ("cut",),
    "cooling_s": ("cut",),
    "cooling_wait": ("cut",),
    "tabs": ("cut",),
    "tab_width_mm": ("cut",),
    "tab_spacing_mm": ("cut",),
    "tab_largest_part_mm": ("cut",),
}
"""Keys of a recipe that mean nothing for other processes."""

LEAST_RISE = 0.01
"""Darkness that a measured curve must span to be one."""

STAMP_KEYS = ("border_mm", "shoulder_mm")
"""Keys of an engraving recipe that only an inverted one has a use for."""


def photo_faults(number: int, recipe: dict[str, Any]) -> list[Fault]:
    """Faults of one recipe's table: keys of other processes, tones that contradict each other."""
    process = recipe.get("process")
    faults = [
        Fault(
            "key-of-other-process",
            ("recipes", number, key),
            f"means nothing in a recipe for {process}.",
            f"Take it out; it belongs in a recipe for {' or '.join(processes)}.",
        )
        for key, processes in PROCESSES_OF_KEY.items()
        if key in recipe and isinstance(process, str) and process not in processes
    ]
    faults += [
        Fault(
            "key-of-other-process",
            ("recipes", number, key),
            "means nothing without invert = true.",
            "Set invert = true to engrave all but the marks, or take the key out.",
        )
        for key in STAMP_KEYS
        if process == "engrave" and recipe.get(key) and recipe.get("invert") is not True
    ]
    return faults if faults or process != "photo" else _tone_faults(number, recipe)


def _tone_faults(number: int, recipe: dict[str, Any]) -> list[Fault]:
    faults = []
    curve, least, most = (recipe.get(key) for key in ("grey_curve", "power_min", "power"))
    if curve is not None and "gamma" in recipe:
        faults.append(
            Fault(
                "grey-curve",
                ("recipes", number, "gamma"),
                "stands beside a measured grey_curve, which says the same better.",
                "Keep one of the two.",
            )
        )
    if _is_curve(curve) and not _rises(curve):
        faults.append(
            Fault(
                "grey-curve",
                ("recipes", number, "grey_curve"),
                "does not rise: each pair needs more power and no less darkness than the one "
                "before, and the last more darkness than the first.",
                "Sort the pairs [power, darkness] by power; where darkness falls again the "
                "material burns away, so leave those powers out.",
            )
        )
    if (
        recipe.get("method") == "power"
        and _is_curve(curve)
        and curve
        and isinstance(most, int | float)
        and curve[0][0] >= most
    ):
        faults.append(
            Fault(
                "grey-curve",
                ("recipes", number, "grey_curve"),
                f"begins at {curve[0][0]:g}, not below power = {most:g}.",
                "Measure powers up to that of the darkest tone, which is power.",
            )
        )
    if isinstance(least, int | float) and isinstance(most, int | float) and least >= most:
        faults.append(
            Fault(
                "out-of-range",
                ("recipes", number, "power_min"),
                f"is {least:g}, not below power = {most:g}.",
                "Give the power of the lightest tone that shows; power is that of the darkest.",
            )
        )
    return faults


def _is_curve(curve: object) -> bool:
    """Whether it is a list of pairs of numbers; what is not is told as a wrong type already."""
    return isinstance(curve, list) and all(
        isinstance(pair, list)
        and len(pair) == 2
        and all(isinstance(value, int | float) for value in pair)
        for pair in curve
    )


def _rises(curve: Any) -> bool:
    rises = all(b[0] > a[0] and b[1] >= a[1] for a, b in pairwise(curve))
    return rises and (len(curve) < 2 or curve[-1][1] - curve[0][1] >= LEAST_RISE)
