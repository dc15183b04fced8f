"""Warns of work that may set the sheet on fire: much heat in one place, thin strips, near edges.

The limits are the material file's. Their defaults are common practice of the trade, without a
source; no limit makes a burning laser safe to leave alone.
"""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from kerfwright.findings import Finding, Severity, number_of
from kerfwright.motion.heat import HeatMap, heat_map
from kerfwright.motion.trace import trace_of
from kerfwright.nesting.model import SheetSize
from kerfwright.sequence.thin_strips import LongStrip, cuts_along_edge, strips_between_cuts
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import FireWatch, Material, Recipe
from kerfwright.toolpath import Toolpath

NOTED_SHARE = 0.5
"""Share of the limit from which heat in one place is told, without a warning."""

MM_OF_M = 1000.0
TOUCHING = np.ones((3, 3), dtype=bool)
"""Windows that meet at a corner are one place."""


def burn_risks(
    toolpath: Toolpath,
    machine: Machine,
    material: Material,
    cut: Recipe | None,
    sheet: SheetSize,
    number: int,
) -> tuple[Finding, ...]:
    """Say what on a sheet asks for a fire extinguisher within reach; ``number`` is the sheet's.

    Nothing is said of a material of which its file says that it does not burn.
    """
    fire = material.fire
    if not fire.burns:
        return ()
    found = _heat(toolpath, machine, fire, number)
    if cut is None:
        return found
    along = cuts_along_edge(
        toolpath, sheet, closer_mm=fire.edge_mm, long_mm=fire.long_mm, passes=cut.passes
    )
    strips = strips_between_cuts(
        toolpath,
        closer_mm=fire.strip_mm,
        kerf_mm=cut.kerf_mm or 0.0,
        long_mm=fire.long_mm,
        passes=cut.passes,
    )
    return (*found, *_edges(along, fire, number), *_strips(strips, fire, number))


def _heat(
    toolpath: Toolpath, machine: Machine, fire: FireWatch, number: int
) -> tuple[Finding, ...]:
    heat = heat_map(
        trace_of(toolpath, machine),
        toolpath,
        window_mm=fire.window_mm,
        window_s=60.0 * fire.window_min,
    )
    if heat is None:
        return ()
    most = np.unravel_index(int(np.argmax(heat.j_cm2)), heat.j_cm2.shape)
    j_cm2 = float(heat.j_cm2[most])
    severe = j_cm2 > fire.limit_j_cm2
    told_from = fire.limit_j_cm2 if severe else NOTED_SHARE * fire.limit_j_cm2
    if j_cm2 <= told_from:
        return ()
    x_mm, y_mm = heat.middles_mm[most].tolist()
    side_mm = fire.window_mm
    compared = "above" if severe else "near"
    return (
        Finding(
            Severity.WARN if severe else Severity.NOTE,
            "sequence/heat-in-one-place",
            f"On sheet {number}, up to {j_cm2:.0f} J/cm² fall on {side_mm:g} × {side_mm:g} mm "
            f"within {fire.window_min:g} min, about {_clock(float(heat.reached_s[most]))} after "
            f"the start; that is {compared} the limit of {fire.limit_j_cm2:g} J/cm² for this "
            "material (place as on the sheet).",
            "Watch that place, with air on and the extinguisher at hand. To lessen the heat: "
            "less power or fewer passes, wider intervals, or cuts that lie or follow further "
            "apart (spacing_mm, cooling_s). The limit is limit_j_cm2 under [fire] of the "
            "material file.",
            x_mm=x_mm,
            y_mm=y_mm,
            count=_places(heat, told_from),
            sheet=number,
        ),
    )


def _places(heat: HeatMap, above_j_cm2: float) -> int:
    """How many places, apart from each other, get more than that."""
    return int(ndimage.label(heat.j_cm2 > above_j_cm2, structure=TOUCHING)[1])


def _clock(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes else f"{seconds:.0f} s"


def _edges(found: tuple[LongStrip, ...], fire: FireWatch, number: int) -> tuple[Finding, ...]:
    if not found:
        return ()
    return (
        Finding(
            Severity.WARN,
            "sequence/cut-along-edge",
            f"On sheet {number}, cuts run closer than {fire.edge_mm:g} mm to the sheet's edge for "
            f"{_length(found)}: the strip beside them gets hot, can flame and curl into the "
            "head's way (place as on the sheet).",
            "Watch it, or give the parts more room with margin_mm under [settings]. What is near "
            "and what is long is said by edge_mm and long_mm under [fire] of the material file.",
            x_mm=found[0].x_mm,
            y_mm=found[0].y_mm,
            count=len(found),
            sheet=number,
        ),
    )


def _strips(found: tuple[LongStrip, ...], fire: FireWatch, number: int) -> tuple[Finding, ...]:
    if not found:
        return ()
    return (
        Finding(
            Severity.NOTE,
            "sequence/thin-strip",
            f"On sheet {number}, {_length(found)} of cuts run closer than {fire.strip_mm:g} mm to "
            f"a cut beside them, in {number_of(len(found), 'place')}: thin strips between cuts "
            "char and can catch fire (place as on the sheet).",
            "Watch them, lay parts further apart with spacing_mm under [settings], or let them "
            "share their edges. What is near and what is long is said by strip_mm and long_mm "
            "under [fire] of the material file.",
            x_mm=found[0].x_mm,
            y_mm=found[0].y_mm,
            count=len(found),
            sheet=number,
        ),
    )


def _length(found: tuple[LongStrip, ...]) -> str:
    length_mm = sum(one.length_mm for one in found)
    return f"{length_mm / MM_OF_M:.1f} m" if length_mm >= MM_OF_M else f"{length_mm:.0f} mm"
