"""Rows that burn while they speed up and slow down: power and feed of each piece of them.

A row of the length L that is entered at the speed u and goes on with the acceleration a takes
2·(√(u² + a·L) − u) / a, up to the burning speed v, and turning round 2·u / a. Both together are
less the lower u is: half of the turns' time and more is saved where rows are short. The power goes
with the speed, so that every millimetre gets the same energy.

A piece of a row has as its feed the highest speed that the clock reaches on it. No machine is
faster there than the plan, and the shift of rows burned to and fro is looked up at about the speed
that a row's ends have. Where the controller lowers the power with the speed itself and no shift is
measured, rows stay whole.
"""

from __future__ import annotations

import numpy as np

from kerfwright.engraving.burn import power_share, scales_itself, slowest_of
from kerfwright.engraving.speed_steps import LEVELS, cut_at_speed_steps
from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Toolpath

FEEDS = 100
"""Feeds are rounded up to such a part of the recipe's speed."""

WIDEST_STEP = 2.0 / LEVELS
"""On one piece speeds differ by no more than this share of the recipe's."""


def with_row_ramps(toolpath: Toolpath, recipe: Recipe, machine: Machine) -> Toolpath:
    """Return the toolpath with its rows in pieces, each with the feed and power of its speed.

    The way and its seconds stay the same. Rows whose recipe keeps them at one speed do so.
    """
    rowed = toolpath.burning & (toolpath.moves["kind"] == MoveKind.ROW)
    if slowest_of(recipe) >= 1.0 or not rowed.any():
        return toolpath
    if scales_itself(machine) and not machine.reversal_shift_mm:
        return toolpath
    # a limit on jerk makes rows last longer than their speeds say, which no feed should add to
    at_once = machine.scanning.model_copy(update={"jerk_mm_s3": None})
    unlimited = machine.model_copy(update={"scanning": at_once})
    steps = cut_at_speed_steps(toolpath, unlimited, rowed, recipe.speed_mm_s)
    feed = np.minimum(np.ceil(steps.most * FEEDS - 1e-6) / FEEDS, 1.0)
    share = feed if scales_itself(machine) else steps.mean
    piece = rowed[steps.move]
    power = steps.moves["power"] * power_share(share, recipe, machine)
    steps.moves["power"] = np.where(piece, power, steps.moves["power"])
    steps.moves["speed_mm_s"] = np.where(piece, feed * recipe.speed_mm_s, steps.moves["speed_mm_s"])
    return Toolpath(steps.moves, toolpath.start_mm)


def powers_of_feed(
    feed: FloatArray, recipe: Recipe, machine: Machine
) -> tuple[FloatArray, FloatArray]:
    """Least and most power that is right for pieces of rows at feeds, shares of the speed."""
    most = recipe.power * power_share(feed, recipe, machine)
    if scales_itself(machine):
        return most, most
    slower = np.maximum(feed - WIDEST_STEP, recipe.slowest_row)
    least = recipe.power * power_share(np.minimum(slower, feed), recipe, machine)
    return least, most
