"""Are the holding tabs left standing, each in its place and as wide as wanted?"""

from __future__ import annotations

import numpy as np

from kerfwright.cutting.tabs import HoldingTab
from kerfwright.program.burned import Burns, Widths
from kerfwright.program.lines import Wanted
from kerfwright.program.near import BoolArray
from kerfwright.program.telling import PLACES_SHOWN, place, rest_told

SLACK = 0.1
"""Share of a tab's width by which its gap may be off, on a bend or between shared edges."""


def at_tabs(where: Wanted, tabs: tuple[HoldingTab, ...], widths: Widths) -> BoolArray:
    """Which samples of the wanted cuts lie in the gap of a tab, where nothing is to be burned."""
    excused = np.zeros(len(where.points), dtype=bool)
    aside = widths.half_kerf_mm + widths.shared_mm + widths.tolerance_mm
    for tab in tabs:
        along = _gap_mm(tab, widths) * (1.0 + SLACK) / 2.0 + widths.tolerance_mm
        away = np.hypot(*(where.points - [tab.x_mm, tab.y_mm]).T)
        excused |= away <= np.hypot(along, aside)
    return excused


def tab_faults(tabs: tuple[HoldingTab, ...], cuts: Burns, widths: Widths) -> list[str]:
    """Tell of tabs that a cut runs through."""
    if not tabs or len(cuts) == 0:
        return []
    middles = np.array([(tab.x_mm, tab.y_mm) for tab in tabs])
    least = np.array([_gap_mm(tab, widths) * (1.0 - SLACK) / 2.0 for tab in tabs])
    away, nearest = cuts.pieces().nearest(middles, float(least.max()))
    cut = np.flatnonzero(away < least - widths.tolerance_mm - widths.shared_mm)
    faults = [
        f"Line {cuts.line[nearest[tab]]}: cuts through the holding tab near {place(*middles[tab])}."
        for tab in cut[:PLACES_SHOWN]
    ]
    return rest_told(faults, len(cut))


def _gap_mm(tab: HoldingTab, widths: Widths) -> float:
    """Length over which the beam is off, so that the tab stands as wide as wanted."""
    return tab.width_mm + 2.0 * widths.half_kerf_mm
