"""The way to engrave an area: every way computed, every way timed, the fastest taken."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import shapely
from shapely import MultiPolygon

from kerfwright.cores import at_once, both
from kerfwright.engraving.burn import Burn, burn_of
from kerfwright.engraving.cell_angles import WORTH_SCANNING, Angles, angles_of
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.mixed import EngravedCell, mixed
from kerfwright.engraving.row_model import RowModel, finer_angle
from kerfwright.engraving.rows import require_few_rows
from kerfwright.engraving.scan import Scan, repeated, scan
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity, number_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import EngraveFinish, Recipe
from kerfwright.shop.order import EngraveWay
from kerfwright.toolpath import MoveKind, Toolpath, join

PROMISED_SHARE = 0.001
"""Largest share of an area that may stay unburned without a warning."""

FINISH_OF_WAY: dict[str, EngraveFinish] = {"scan": "rows", "contour-parallel": "loops"}
"""The look that each way of treating an area alike gives it."""

SAME_ANGLE_DEG = 2.0

RAMPS_FROM = 0.3
"""Rows that burn from this share of the speed on are told of where the recipe has steady ones."""

WORTH_RAMPS = 0.8
"""They are reckoned where they may take at most this share of the time."""

SLOW_SHARE = 0.5
"""Loops that run at less than this share of the recipe's speed are worth a word."""


@dataclass(frozen=True, eq=False, slots=True)
class EngravedArea:
    """An area's toolpath, all passes, and what every way would take.

    ``way`` is ``scan``, ``contour-parallel`` or ``mixed``; ``times_s`` has all three.
    ``scan_times_s`` has every angle and arrangement of rows that was timed (one pass),
    ``angle_deg`` the best of them, also where loops were chosen. ``uncovered_mm2`` is area that
    the chosen way does not burn. ``cells`` says what is burned how; a way that treats the whole
    area alike has one.
    """

    toolpath: Toolpath
    way: str
    times_s: dict[str, float]
    angle_deg: float
    scan_times_s: dict[str, float]
    uncovered_mm2: float
    findings: tuple[Finding, ...]
    cells: tuple[EngravedCell, ...] = ()
    ramped_s: float | None = None


@dataclass(frozen=True, eq=False, slots=True)
class _Way:
    """One way to burn the whole area: all passes, their seconds, and what stays unburned."""

    toolpath: Toolpath
    seconds: float
    uncovered_mm2: float
    cells: tuple[EngravedCell, ...]


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
    all. Mixed takes no longer than rows or loops alone: where cells of different ways save
    nothing, it is the faster of the two. The recipe's ``finish`` leaves only rows or only loops
    to choose from, and ``seamless`` keeps every connected piece in one cell; a way that the
    order asks for by name is more particular than ``finish``, and is taken. The toolpath starts
    and ends where its own moves do; getting there is the sequence's task. Run-ups may reach
    beyond the bed: :func:`kerfwright.engraving.bed.keep_on_bed` shortens them once it is known
    where the area lies.

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
        times = {"scan": 0.0, "contour-parallel": 0.0, "mixed": 0.0}
        chosen: str = "scan" if way == "fastest" else way
        return EngravedArea(Toolpath(join([])), chosen, times, 0.0, {}, 0.0, ())
    burn = burn_of(recipe, machine, source)
    require_few_rows(area, burn)  # loops would be as many, and each takes longer
    loops, (angles, scans) = both(
        lambda: contour_parallel(area, burn, machine), lambda: _scans(area, burn, machine)
    )
    best_scan = _best_scan(scans, area.area)

    def way_of(
        toolpath: Toolpath, once_s: float, uncovered: float, cells: tuple[EngravedCell, ...]
    ) -> _Way:
        passes = repeated(toolpath, recipe.passes, machine)
        seconds = once_s if passes is toolpath else time_toolpath(passes, machine).total_s
        return _Way(passes, seconds, uncovered, cells)

    loops_s = float(loops.move_s.sum())
    ways = {
        "scan": way_of(
            best_scan.toolpath,
            best_scan.seconds,
            best_scan.uncovered_mm2,
            (EngravedCell(area, "scan", best_scan.angle_deg, best_scan.seconds),),
        ),
        "contour-parallel": way_of(
            loops.toolpath,
            loops_s,
            loops.uncovered_mm2,
            (EngravedCell(area, "contour-parallel", None, loops_s),),
        ),
    }
    allowed = [name for name in ways if recipe.finish in ("any", FINISH_OF_WAY[name])]
    candidates = {name: ways[name] for name in allowed}
    if recipe.finish == "any":
        rows_s = {one.angle_deg: one.seconds for one in scans}
        seams = not recipe.seamless
        parts = mixed(area, loops, rows_s, angles.of_cells, burn, machine, seams=seams)
        if parts is not None:
            candidates["cells"] = way_of(
                parts.toolpath, parts.seconds, parts.uncovered_mm2, parts.cells
            )
    ways["mixed"] = candidates[_fastest(candidates, area.area)]
    chosen = _fastest({name: ways[name] for name in (*allowed, "mixed")}, area.area)
    chosen = chosen if way == "fastest" else way
    taken = ways[chosen]
    scan_times = _scan_times(scans)
    found = _findings(taken.toolpath, taken.uncovered_mm2 / area.area, burn, machine)
    if burn.one_way and (taken.toolpath.moves["kind"] == MoveKind.ROW).any():
        turning = replace(burn, one_way=False)
        other = scan(area, turning, machine, angle_deg=best_scan.angle_deg)
        scan_times[f"{other.angle_deg:g}° rows {other.arrangement}, to and fro"] = other.seconds
        found += (_one_direction(best_scan.seconds, other.seconds),)
    ramped_s = None
    if burn.slowest == 1.0:
        angle = best_scan.angle_deg
        ramped_s = _ramped_s(taken, recipe.passes, angle, area, burn, machine)
    return EngravedArea(
        taken.toolpath,
        chosen,
        {name: one.seconds for name, one in ways.items()},
        best_scan.angle_deg,
        scan_times,
        taken.uncovered_mm2,
        found,
        taken.cells,
        ramped_s,
    )


def cells_in_words(works: Sequence[EngravedArea]) -> str:
    """Say how much of some areas is burned how, for a decision; nothing where all is alike."""
    shares: dict[str, tuple[int, float]] = {}
    for work in works:
        for cell in work.cells:
            name = "loops" if cell.angle_deg is None else f"rows at {cell.angle_deg:g}°"
            count, seconds = shares.get(name, (0, 0.0))
            shares[name] = (count + 1, seconds + cell.seconds)
    if len(shares) < 2:
        return ""
    return ", ".join(
        f"{number_of(count, 'cell')} in {name} ({seconds:.0f} s)"
        for name, (count, seconds) in sorted(shares.items(), key=lambda share: -share[1][1])
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


def _scans(area: MultiPolygon, burn: Burn, machine: Machine) -> tuple[Angles, list[Scan]]:
    """Rows over all of an area at every angle that promises something, and angles for its cells."""
    level = _angles(area)
    angles = angles_of(area, level[-1], burn, machine)
    scans = at_once(
        [
            partial(scan, area, burn, machine, angle_deg=angle)
            for angle in angles.worth_scanning(level)
        ]
    )
    scans += _scan_at_finer_angle(area, _best_scan(scans, area.area), burn, machine)
    return angles, scans


def _scan_at_finer_angle(
    area: MultiPolygon, best: Scan, burn: Burn, machine: Machine
) -> list[Scan]:
    """Rows at an angle near the best of those scanned, if it promises clearly less."""
    model = RowModel(list(area.geoms), burn, machine)
    everything = range(len(area.geoms))

    def seconds_at(angles: Sequence[float]) -> FloatArray:
        return model.seconds(everything, angles)

    known_s = float(seconds_at([best.angle_deg])[0])
    angle, seconds = finer_angle(best.angle_deg, known_s, seconds_at)
    if seconds > WORTH_SCANNING * known_s:
        return []
    return [scan(area, burn, machine, angle_deg=angle)]


def _best_scan(scans: list[Scan], area_mm2: float) -> Scan:
    covering = [s for s in scans if s.uncovered_mm2 <= PROMISED_SHARE * area_mm2]
    return min(covering or scans, key=lambda s: s.seconds)


def _fastest(ways: dict[str, _Way], area_mm2: float) -> str:
    covering = [w for w in ways if ways[w].uncovered_mm2 <= PROMISED_SHARE * area_mm2]
    return min(covering or list(ways), key=lambda w: ways[w].seconds)


def _scan_times(scans: list[Scan]) -> dict[str, float]:
    return {
        f"{s.angle_deg:g}° rows {arrangement}": time
        for s in scans
        for arrangement, time in s.times_s.items()
    }


def _findings(
    toolpath: Toolpath, uncovered_share: float, burn: Burn, machine: Machine
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
    found += _slow_loops(toolpath, burn, machine)
    return tuple(found)


def _one_direction(taken_s: float, to_and_fro_s: float) -> Finding:
    return Finding(
        Severity.NOTE,
        "engraving/one-direction",
        f"Rows are burned in one direction only: a pass in rows takes {taken_s:.0f} s, to and fro "
        f"it would be {to_and_fro_s:.0f} s.",
        'Where the material shows no difference set row_direction = "both" in the recipe.',
    )


def _ramped_s(
    taken: _Way, passes: int, angle_deg: float, area: MultiPolygon, burn: Burn, machine: Machine
) -> float | None:
    """Seconds in rows that burn while they speed up, where these may save much."""
    rows = taken.toolpath.moves["kind"] == MoveKind.ROW
    burn_s = float(taken.toolpath.lengths_mm[taken.toolpath.burning].sum()) / burn.speed_mm_s
    if not rows.any() or burn_s > WORTH_RAMPS * taken.seconds:
        return None
    ramps = replace(burn, slowest=RAMPS_FROM)
    return passes * scan(area, ramps, machine, angle_deg=angle_deg).seconds


def _slow_loops(toolpath: Toolpath, burn: Burn, machine: Machine) -> list[Finding]:
    looped = toolpath.moves["kind"] == MoveKind.LOOP
    if not looped.any():
        return []
    burned_mm = float(toolpath.lengths_mm[looped].sum())
    burn_s = float(move_times_s(toolpath, machine)[looped].sum())
    share = burned_mm / burn_s / burn.speed_mm_s if burn_s > 0.0 else 1.0
    if share >= SLOW_SHARE:
        return []
    return [
        Finding(
            Severity.NOTE,
            "engraving/slow-loops",
            f"Loops run at {share:.0%} of the recipe's speed on average, because of their "
            "corners and bends.",
            "Check the depth on scrap; the controller must lower the power with the speed, or the "
            "recipe's corner_power does it.",
        )
    ]
