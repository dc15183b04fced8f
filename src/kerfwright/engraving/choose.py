"""The way to engrave an area: every way computed, every way timed, the fastest taken."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon

from kerfwright.engraving.burn import Burn
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.scan import Scan, repeated, scan
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.order import EngraveWay
from kerfwright.toolpath import Toolpath, join

PROMISED_SHARE = 0.001
"""Largest share of an area that may stay unburned without a warning."""

SAME_ANGLE_DEG = 2.0

SLOW_SHARE = 0.5
"""Loops that run at less than this share of the recipe's speed are worth a word."""


@dataclass(frozen=True, eq=False, slots=True)
class EngravedArea:
    """An area's toolpath, all passes, and what every way would take.

    ``way`` is ``scan`` or ``contour-parallel``; ``times_s`` has both. ``scan_times_s`` has every
    angle and arrangement of rows that was timed (one pass), ``angle_deg`` the best of them, also
    where loops were chosen. ``uncovered_mm2`` is area that the chosen way does not burn.
    """

    toolpath: Toolpath
    way: str
    times_s: dict[str, float]
    angle_deg: float
    scan_times_s: dict[str, float]
    uncovered_mm2: float
    findings: tuple[Finding, ...]


def engrave(
    area: MultiPolygon,
    recipe: Recipe,
    machine: Machine,
    *,
    way: EngraveWay = "fastest",
    source: int,
) -> EngravedArea:
    """Engrave ``area``, in mm, by the fastest way or by the one asked for.

    The fastest is taken among the ways that leave at most 0.1 % uncovered; if none does, among
    all. The toolpath starts and ends where its own moves do; getting there is the sequence's
    task. Run-ups may reach beyond the bed: :func:`kerfwright.engraving.bed.keep_on_bed` shortens
    them once it is known where the area lies.

    Raises:
        KerfwrightError: ``engraving/interval-missing``, ``engraving/too-many-rows``.

    """
    if recipe.interval_mm is None:
        raise KerfwrightError(
            "engraving/interval-missing",
            file=f"recipe for {recipe.machine}",
            thing="has no interval_mm for engraving.",
            remedy="Burn an interval test piece and put the distance between lines in.",
        )
    area = _clean(area)
    if area.is_empty:
        times = {"scan": 0.0, "contour-parallel": 0.0}
        chosen: str = "scan" if way == "fastest" else way
        return EngravedArea(Toolpath(join([])), chosen, times, 0.0, {}, 0.0, ())
    burn = Burn(recipe.speed_mm_s, recipe.power, recipe.interval_mm, machine.spot_mm, source)
    scans = [scan(area, burn, machine, angle_deg=angle) for angle in _angles(area)]
    best_scan = _best_scan(scans, area.area)
    loops = contour_parallel(area, burn, machine)
    toolpaths = {
        "scan": repeated(best_scan.toolpath, recipe.passes, machine),
        "contour-parallel": repeated(loops.toolpath, recipe.passes, machine),
    }
    uncovered = {"scan": best_scan.uncovered_mm2, "contour-parallel": loops.uncovered_mm2}
    times = {name: time_toolpath(path, machine).total_s for name, path in toolpaths.items()}
    chosen = _fastest(times, uncovered, area.area) if way == "fastest" else way
    return EngravedArea(
        toolpaths[chosen],
        chosen,
        times,
        best_scan.angle_deg,
        _scan_times(scans),
        uncovered[chosen],
        _findings(chosen, toolpaths[chosen], uncovered[chosen] / area.area, burn, machine),
    )


def _clean(area: MultiPolygon) -> MultiPolygon:
    valid = area if area.is_valid else as_area(shapely.make_valid(area))
    return MultiPolygon([polygon for polygon in valid.geoms if polygon.area > 0.0])


def _angles(area: MultiPolygon) -> list[float]:
    """Level, upright, and the area's long direction where that is another one."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(area))
    sides = np.diff(corners[:3], axis=0)
    x, y = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    long_deg = round(math.degrees(math.atan2(y, x)) % 180.0, 3)
    off_axis = abs((long_deg + 45.0) % 90.0 - 45.0)
    return [0.0, 90.0] if off_axis < SAME_ANGLE_DEG else [0.0, 90.0, long_deg]


def _best_scan(scans: list[Scan], area_mm2: float) -> Scan:
    covering = [s for s in scans if s.uncovered_mm2 <= PROMISED_SHARE * area_mm2]
    return min(covering or scans, key=lambda s: s.times_s[s.arrangement])


def _fastest(times: dict[str, float], uncovered: dict[str, float], area_mm2: float) -> str:
    covering = [w for w in times if uncovered[w] <= PROMISED_SHARE * area_mm2]
    return min(covering or list(times), key=lambda w: times[w])


def _scan_times(scans: list[Scan]) -> dict[str, float]:
    return {
        f"{s.angle_deg:g}° rows {arrangement}": time
        for s in scans
        for arrangement, time in s.times_s.items()
    }


def _findings(
    way: str, toolpath: Toolpath, uncovered_share: float, burn: Burn, machine: Machine
) -> tuple[Finding, ...]:
    found = []
    if uncovered_share > PROMISED_SHARE:
        found.append(
            Finding(
                Severity.WARN,
                "engraving/uncovered",
                f"{uncovered_share:.2%} of an engraved area is too fine for the beam and "
                "stays unburned.",
                "Use a smaller interval, or draw the finest places wider.",
            )
        )
    if machine.spot_mm < burn.interval_mm * 0.999:
        found.append(
            Finding(
                Severity.NOTE,
                "engraving/spot-narrower-than-interval",
                f"The spot ({machine.spot_mm:g} mm) is narrower than the interval "
                f"({burn.interval_mm:g} mm): lines stay visible.",
                "For a closed surface use an interval no wider than the spot.",
            )
        )
    if way == "contour-parallel":
        found += _slow_loops(toolpath, burn, machine)
    return tuple(found)


def _slow_loops(toolpath: Toolpath, burn: Burn, machine: Machine) -> list[Finding]:
    burned_mm = float(toolpath.lengths_mm[toolpath.burning].sum())
    burn_s = time_toolpath(toolpath, machine).burn_s
    share = burned_mm / burn_s / burn.speed_mm_s if burn_s > 0.0 else 1.0
    if share >= SLOW_SHARE:
        return []
    return [
        Finding(
            Severity.NOTE,
            "engraving/slow-loops",
            f"Loops run at {share:.0%} of the recipe's speed on average, because of their "
            "corners and bends.",
            "Check the depth on scrap; the controller must lower the power with the speed.",
        )
    ]
