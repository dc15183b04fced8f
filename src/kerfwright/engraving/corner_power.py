"""Less power where loops slow down, for controllers that hold the power as it was set.

A beam that goes slower burns deeper. Controllers with a laser mode lower the power with the speed
themselves; for others the recipe's ``corner_power`` c says how much of the power P is right at a
standstill, and at the speed v on the way to the recipe's V the loop is burned at
P · (c + (1 - c) · v / V). Speeds are the clock's, the mean of every piece, so that its energy is
right.
"""

from __future__ import annotations

import numpy as np

from kerfwright.engraving.burn import power_share, scales_itself
from kerfwright.engraving.speed_steps import cut_at_speed_steps
from kerfwright.findings import Finding, Severity
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Toolpath


def with_corner_power(toolpath: Toolpath, recipe: Recipe, machine: Machine) -> Toolpath:
    """Return the toolpath with its loops burned at less power where the machine slows down.

    The way stays the same; long moves are cut into pieces. Without ``corner_power`` in the
    recipe, or where the controller scales the power itself, nothing changes.
    """
    share = recipe.corner_power
    looped = toolpath.burning & (toolpath.moves["kind"] == MoveKind.LOOP)
    if share is None or share >= 1.0 or scales_itself(machine) or not looped.any():
        return toolpath
    steps = cut_at_speed_steps(toolpath, machine, looped, recipe.speed_mm_s)
    lowered = steps.moves["power"] * power_share(steps.mean, recipe, machine)
    steps.moves["power"] = np.where(looped[steps.move], lowered, steps.moves["power"])
    return Toolpath(steps.moves, toolpath.start_mm)


def corner_power_findings(recipe: Recipe, machine: Machine) -> tuple[Finding, ...]:
    """Say that the key is not used where the controller does the same itself."""
    if recipe.corner_power is None or not scales_itself(machine):
        return ()
    return (
        Finding(
            Severity.NOTE,
            "engraving/corner-power-unused",
            f"{machine.name} lowers the power with the speed itself, so the recipe's "
            f"corner_power = {recipe.corner_power:g} is not used.",
            "Leave corner_power out of this recipe.",
        ),
    )
