"""Strokes that know how they are burned: where they may begin, and where they leave tabs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from kerfwright.cutting.burned_cut import BurnedCut
from kerfwright.cutting.clearance import no_room_for_lead_in
from kerfwright.cutting.lead_in import LeadIns
from kerfwright.cutting.tabs import HoldingTab
from kerfwright.findings import Finding
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.parts.model import Part
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import Stroke


def laid_strokes(
    strokes: Sequence[Stroke],
    inner: frozenset[int],
    parts: Sequence[Part],
    recipe: Recipe,
    *,
    tabs: Sequence[HoldingTab],
    reach_mm: float,
    sheet_mm: tuple[float, float] | None,
) -> tuple[tuple[Stroke, ...], tuple[Finding, ...]]:
    """Give cuts what the recipe asks beyond their line, and tell what has no room for a lead-in.

    ``inner`` are the numbers of holes and slits, which have no tabs; a tab interrupts every other
    stroke no further than ``reach_mm`` from it. Lead-ins keep off all ``parts``.
    """
    if _begins_on_line(recipe) and not tabs:
        return tuple(strokes), ()
    leads = _lead_ins(parts, recipe, sheet_mm)
    gaps = _gaps(strokes, inner, tabs, recipe.kerf_mm or 0.0, reach_mm + SAME_MM)
    laid: list[Stroke] = []
    tight: list[Path] = []
    for number, stroke in enumerate(strokes):
        slit = number in inner and not stroke.path.closed
        cut = BurnedCut(
            recipe,
            stroke.source,
            stroke.path.closed,
            None if slit else leads,
            gaps.get(number, np.empty((0, 3))),
        )
        laid.append(replace(stroke, lay=cut))
        if cut.leads is not None and not cut.has_room(stroke.path.line):
            tight.append(stroke.path)
    return tuple(laid), no_room_for_lead_in(tight)


def _begins_on_line(recipe: Recipe) -> bool:
    """Whether every cut is its line and nothing else: no lead-in, pierce, overcut or focus step."""
    return (
        (recipe.lead_in == "none" or recipe.lead_in_mm == 0.0)
        and recipe.pierce_s == 0.0
        and recipe.overcut_mm == 0.0
        and recipe.focus_step_mm == 0.0
    )


def _lead_ins(
    parts: Sequence[Part], recipe: Recipe, sheet_mm: tuple[float, float] | None
) -> LeadIns | None:
    if recipe.lead_in == "none" or recipe.lead_in_mm == 0.0:
        return None
    return LeadIns.between(
        [part.polygon for part in parts],
        shape=recipe.lead_in,
        length_mm=recipe.lead_in_mm,
        kerf_mm=recipe.kerf_mm or 0.0,
        sheet_mm=sheet_mm,
    )


def _gaps(
    strokes: Sequence[Stroke],
    inner: frozenset[int],
    tabs: Sequence[HoldingTab],
    kerf_mm: float,
    reach_mm: float,
) -> dict[int, FloatArray]:
    """Where strokes are interrupted: rows of x, y and width, by stroke; holes and slits never are.

    A tab lies on the outline as drawn, so the cut runs by half a kerf off. Where two parts share an
    edge, or their cuts fall together, every stroke along it is interrupted.
    """
    if not tabs:
        return {}
    rows = np.array([(tab.x_mm, tab.y_mm, tab.width_mm + kerf_mm) for tab in tabs])
    outlines = [number for number in range(len(strokes)) if number not in inner]
    lines = [shapely.linestrings(strokes[number].path.line) for number in outlines]
    which, tab = shapely.STRtree(shapely.points(rows[:, :2])).query(
        lines, predicate="dwithin", distance=reach_mm
    )
    return {number: rows[np.sort(tab[which == k])] for k, number in enumerate(outlines)}
