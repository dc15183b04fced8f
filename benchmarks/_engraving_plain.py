"""What a maker gets who sets one way for a whole artwork by hand.

Rows are level or upright over all of the artwork, to and fro, every run-up straight on and a step
at its end; a gap is crossed at burning speed, or travelled where that is faster. Loops are the
outline's offsets with sharp corners, one by one, a step from each to the next. Nothing that the
planner adds is in them: rows at other angles, pieces apart, leaning run-ups, spirals, rounded
corners, cells. Both cover the area as the planner's ways do.
"""

from __future__ import annotations

from shapely import MultiPolygon

from kerfwright.engraving.burn import Burn
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.scan import scan
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine

ANGLES_DEG = (0.0, 90.0)


def plain_ways_s(area: MultiPolygon, burn: Burn, machine: Machine) -> dict[str, float]:
    """Seconds on the clock of plain rows, by angle, and of plain loops."""
    # a controller that rounds no corner has run-ups laid straight; the clock is the machine's own
    square_turns = machine.model_copy(
        update={"junction_deviation_mm": 0.0, "corner_speed_mm_s": None}
    )
    toolpaths = {
        f"rows at {angle:g}°": scan(
            area, burn, square_turns, angle_deg=angle, arrangement="together"
        ).toolpath
        for angle in ANGLES_DEG
    }
    loops = contour_parallel(area, burn, machine, sharp_corners=True, joining="steps")
    toolpaths["loops"] = loops.toolpath
    return {way: time_toolpath(path, machine).total_s for way, path in toolpaths.items()}
