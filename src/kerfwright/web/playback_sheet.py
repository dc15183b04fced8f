"""Gathers what a page shows round the moves of a sheet."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely

from kerfwright.geometry.regions import rings_of
from kerfwright.output.colours import ramp
from kerfwright.output.record import rounded
from kerfwright.output.text import encodable
from kerfwright.parts.model import Part
from kerfwright.plan import PlannedSheet
from kerfwright.shop.machine import Dialect, Machine
from kerfwright.toolpath import Process
from kerfwright.web.playback_file import PROCESSES, ClockedMoves, process_codes
from kerfwright.web.playback_free import free_times_s
from kerfwright.web.playback_model import (
    Corners,
    Playback,
    PlaybackPart,
    PlaybackSource,
    PlaybackStretch,
)

COLOURS = 24
"""Steps along time or energy."""

OUTLINE_MM = 0.01
"""Outlines are shown this near to what they are."""


MOST_SHAPES = 3
"""Names of shapes that are told of one burn."""


def playback_of(sheet: PlannedSheet, machine: Machine, clocked: ClockedMoves) -> Playback:
    """Gather what is shown of a planned sheet."""
    codes = process_codes(sheet.toolpath, sheet.sources)
    free_s = free_times_s(sheet, clocked.end_s)
    return Playback(
        version=1,
        number=sheet.number,
        material=encodable(sheet.material.name),
        sheet=encodable(sheet.sheet.name),
        width_mm=sheet.sheet.width_mm,
        height_mm=sheet.sheet.height_mm,
        moves=len(sheet.toolpath),
        time_s=sheet.times.total_s,
        burn_s=sheet.times.burn_s,
        travel_s=sheet.times.travel_s,
        wait_s=sheet.times.wait_s,
        power_w=machine.power_w,
        power_follows_speed=machine.controller.dialect is Dialect.GRBL_TYPE,
        processes=tuple(str(process) for process in PROCESSES),
        widths_mm=_widths_mm(sheet, machine),
        sources=_sources(sheet),
        parts=tuple(
            PlaybackPart(
                name=encodable(part.name), rings=_rings(part), blank=part.blank, free_s=free
            )
            for part, free in zip(sheet.parts, free_s, strict=True)
        ),
        outline=_corners(sheet.sheet.material),
        keep_out=tuple(ring for area in sheet.sheet.keep_out for ring in _corners(area)),
        stretches=stretches_of(codes, clocked.end_s),
        colours={"light": tuple(ramp(COLOURS, "light")), "dark": tuple(ramp(COLOURS, "dark"))},
    )


def stretches_of(
    codes: npt.NDArray[np.uint8], end_s: npt.NDArray[np.float64]
) -> tuple[PlaybackStretch, ...]:
    """Divide the time by process; travel belongs to what it leads to, the last to what it ends."""
    working = np.flatnonzero(codes)
    if len(working) == 0:
        return ()
    following = working[
        np.minimum(np.searchsorted(working, np.arange(len(codes))), len(working) - 1)
    ]
    belongs = codes[following]
    first = np.flatnonzero(np.diff(belongs, prepend=0))
    ends = end_s[np.append(first[1:], len(codes)) - 1].tolist()
    starts = [0.0, *ends[:-1]]
    return tuple(
        PlaybackStretch(process=str(PROCESSES[belongs[move]]), start_s=start, end_s=end)
        for move, start, end in zip(first.tolist(), starts, ends, strict=True)
    )


def _sources(sheet: PlannedSheet) -> tuple[PlaybackSource, ...]:
    return tuple(
        PlaybackSource(
            part=encodable(one.part),
            copy_number=one.instance,
            item=encodable(one.item),
            process=one.process.value,
            shapes=tuple(encodable(shape) for shape in one.shapes[:MOST_SHAPES]),
            shapes_more=max(len(one.shapes) - MOST_SHAPES, 0),
        )
        for one in sheet.sources
    )


def _widths_mm(sheet: PlannedSheet, machine: Machine) -> dict[str, float]:
    widths = {}
    for process, recipe in sheet.recipes.items():
        wide = recipe.kerf_mm if process is Process.CUT else recipe.interval_mm
        widths[process.value] = machine.spot_mm if wide is None else wide
    return widths


def _rings(part: Part) -> tuple[Corners, ...]:
    lines = [path.line for path in (part.outline, *part.holes)]
    shown = shapely.simplify(np.array([shapely.linestrings(line) for line in lines]), OUTLINE_MM)
    return tuple(_rounded(shapely.get_coordinates(line)[:-1]) for line in shown)


def _corners(area: shapely.geometry.base.BaseGeometry) -> tuple[Corners, ...]:
    return tuple(_rounded(ring) for ring in rings_of(area))


def _rounded(points: npt.NDArray[np.float64]) -> Corners:
    return tuple((rounded(x), rounded(y)) for x, y in points)
