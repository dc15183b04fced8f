"""Which burns beside the wanted cuts are lead-ins, as the recipe allows them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from kerfwright.plan import PlannedSheet
from kerfwright.program.burned import (
    NOTHING,
    PROCESSES,
    STEP_MM,
    Assigned,
    Burns,
    Widths,
    follows_recipe,
)
from kerfwright.program.near import BoolArray, sampled
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Process

CLEAR_MM = 0.01
"""How much nearer than half a kerf to a part a lead-in may run: it ends on the cut."""


def with_lead_ins(
    assigned: Assigned, burns: Burns, sheet: PlannedSheet, machine: Machine, widths: Widths
) -> Assigned:
    """Take for a cut's lead-in what leads into it from a travel, through nothing but waste.

    A lead-in is no longer than the recipe says and keeps half a kerf from all parts; anything
    else beside the wanted lines stays what is wanted nowhere.
    """
    recipe = sheet.recipes.get(Process.CUT)
    lead_in = np.zeros(len(burns), dtype=bool)
    if recipe is None or recipe.lead_in_mm == 0.0 or len(burns) == 0:
        return assigned
    stray = assigned.process == NOTHING
    after_burn = np.append([False], np.diff(burns.move) == 1)
    cut = assigned.by(Process.CUT)
    lengths = np.hypot(*(burns.ends[:, 2:] - burns.ends[:, :2]).T)
    clear = _clear(burns, np.flatnonzero(stray), sheet, widths)
    for first in np.flatnonzero(stray & ~after_burn).tolist():
        last = first
        while last < len(burns) and stray[last] and (last == first or after_burn[last]):
            last += 1
        leads = last < len(burns) and after_burn[last] and cut[last]
        short = float(lengths[first:last].sum()) <= recipe.lead_in_mm + widths.tolerance_mm
        lead_in[first:last] = leads and short and bool(clear[first:last].all())
    process = np.where(lead_in, PROCESSES.index(Process.CUT), assigned.process)
    settings = np.where(lead_in, follows_recipe(burns, recipe, machine), assigned.settings)
    return replace(assigned, process=process, settings=settings, lead_in=lead_in)


def _clear(burns: Burns, which: np.ndarray, sheet: PlannedSheet, widths: Widths) -> BoolArray:
    """Whether each of some burns keeps half a kerf from the material of every part."""
    clear = np.zeros(len(burns), dtype=bool)
    clear[which] = True
    reach = widths.half_kerf_mm - CLEAR_MM - widths.tolerance_mm
    if reach <= 0.0 or len(which) == 0:
        return clear
    samples = sampled(burns.ends[which], STEP_MM)
    points = np.vstack([samples.points, burns.ends[which, :2], burns.ends[which, 2:]])
    owner = np.concatenate([which[samples.piece], which, which])
    tree = shapely.STRtree([part.polygon for part in sheet.parts])
    near, _ = tree.query(shapely.points(points), predicate="dwithin", distance=reach)
    clear[owner[near]] = False
    return clear
