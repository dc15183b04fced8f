"""Holding tabs: short stretches of outline left standing, so that a part stays in its sheet.

How many and how wide is the shop's own experience with a material; where is worked out here:
spread evenly, on straight stretches away from corners, since a tab on a bend leaves a stump that
is hard to clean off, and outside narrow notches, where no file gets at it and often another part is
to fit in (common practice, no source). Only an outline without room there gets tabs elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.findings import Finding, Severity, number_of
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.regions import polygon_of
from kerfwright.parts.model import Part
from kerfwright.shop.material import Recipe

SMALL_PART_TABS = 2
"""Of a part that could fall: with one it would still tip."""

STRAIGHT_DEG = 1.0
"""A stretch that turns less in all is straight."""

CORNER_DEG = 20.0
"""A vertex that turns more is a corner, not a point of a curve."""

CLEAR_WIDTHS = 1.0
"""How far from the end of its stretch a tab stays, in widths of a tab."""

NOTCH_MM = 8.0
"""Notches narrower than this are kept free of tabs; a small file is about as wide."""

REACHED_MM = 0.05
"""Closing and opening again may move a straight by this much, corners being rounded by chords."""

PHASES = 48
"""Ways to turn the even spread round the outline that are tried."""

MIDDLE_WEIGHT = 0.05
"""How much the middle of a straight stretch counts beside an even spread."""


@dataclass(frozen=True, slots=True)
class HoldingTab:
    """A tab: its middle on the drawn outline, on the sheet, and how wide it stands."""

    x_mm: float
    y_mm: float
    width_mm: float


@dataclass(frozen=True, eq=False, slots=True)
class _Stretch:
    """Where middles of tabs may lie, in mm along an outline; ``high`` may go over its end."""

    low: float
    high: float


def holding_tabs(
    parts: Sequence[Part],
    recipe: Recipe,
    *,
    asked: Sequence[int | None],
    slat_spacing_mm: float | None,
) -> tuple[tuple[HoldingTab, ...], tuple[Finding, ...]]:
    """Place the holding tabs of all parts on a sheet, and tell of small parts without any.

    ``asked[i]`` is how many tabs part i is to have, ``None`` for what the recipe says. A part
    narrower than the slats are apart can stand on one of them at most, so it may tip or fall.
    """
    tabs: list[HoldingTab] = []
    held: list[Part] = []
    loose: list[Part] = []
    crowded: list[Part] = []
    for part, wanted in zip(parts, asked, strict=True):
        if part.blank:
            continue
        small = slat_spacing_mm is not None and _sides_mm(part)[1] < slat_spacing_mm
        count = tab_count(part, recipe, wanted, small=small)
        places = (
            tab_places(part.outline, count, recipe.tab_width_mm, recipe.kerf_mm or 0.0)
            if recipe.tab_width_mm is not None
            else []
        )
        tabs += [HoldingTab(*place, recipe.tab_width_mm or 0.0) for place in places]
        if places:
            held.append(part)
        if len(places) < count:
            crowded.append(part)
        if small and not places:
            loose.append(part)
    return tuple(tabs), (
        *_held_finding(held, len(tabs), recipe.tab_width_mm or 0.0),
        *_crowded_finding(crowded),
        *_loose_finding(loose, slat_spacing_mm or 0.0),
    )


def tab_count(part: Part, recipe: Recipe, asked: int | None, *, small: bool) -> int:
    """How many tabs a part is to have."""
    if asked is not None:
        return asked
    if recipe.tab_width_mm is None:
        return 0
    count = recipe.tabs
    if recipe.tab_spacing_mm is not None:
        count = max(count, math.ceil(part.outline.length_mm / recipe.tab_spacing_mm))
    largest = recipe.tab_largest_part_mm
    if largest is not None and _sides_mm(part)[0] > largest:
        count = 0
    return max(count, SMALL_PART_TABS) if small else count


def tab_places(
    outline: Path, count: int, width_mm: float, kerf_mm: float
) -> list[tuple[float, float]]:
    """Middles of ``count`` tabs on a closed outline, fewer where there is no room for so many."""
    line = outline.line
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    total_mm = float(along[-1])
    clear_mm = width_mm / 2.0 + kerf_mm / 2.0 + CLEAR_WIDTHS * width_mm
    apart_mm = 2.0 * (width_mm + kerf_mm)
    straight = _stretches(line, along, clear_mm, STRAIGHT_DEG, STRAIGHT_DEG)
    bent = _stretches(line, along, clear_mm, math.inf, CORNER_DEG)
    outside = _outside_notches(straight, outline, along)
    for number in range(min(count, int(total_mm / apart_mm)), 0, -1):
        for stretches in (outside, straight, bent):
            chosen = _spread(stretches, number, total_mm, apart_mm)
            if chosen is not None:
                at = np.sort(np.array(chosen) % total_mm)
                x, y = (np.interp(at, along, line[:, k]) for k in (0, 1))
                return list(zip(x.tolist(), y.tolist(), strict=True))
    return []


def _stretches(
    line: FloatArray, along: FloatArray, clear_mm: float, turn_deg: float, corner_deg: float
) -> list[_Stretch]:
    """Stretches between corners that turn at most so much in all, less what stays clear."""
    steps = np.diff(line, axis=0)
    real = np.hypot(*steps.T) > 0.0
    starts, ends = along[:-1][real], along[1:][real]
    heading = np.degrees(np.arctan2(*steps[real].T[::-1]))
    bends = (heading - np.roll(heading, 1) + 180.0) % 360.0 - 180.0  # at the start of each piece
    total_mm = float(along[-1])
    breaks = np.flatnonzero(np.abs(bends) > corner_deg)
    if len(breaks) == 0:
        # all one curve: tabs may lie anywhere
        return [_Stretch(0.0, total_mm)] if math.isinf(turn_deg) else []
    order = np.roll(np.arange(len(starts)), -breaks[0])
    found: list[_Stretch] = []
    low, turned = float(starts[order[0]]), 0.0
    high = low
    for piece in order.tolist():
        bend = float(bends[piece])
        if piece != order[0]:
            turned += bend
            if abs(bend) > corner_deg or abs(turned) > turn_deg:
                found.append(_Stretch(low + clear_mm, high - clear_mm))
                low, turned = high, 0.0
        high += float(ends[piece] - starts[piece])
    found.append(_Stretch(low + clear_mm, high - clear_mm))
    return [stretch for stretch in found if stretch.high >= stretch.low]


def _outside_notches(
    stretches: Sequence[_Stretch], outline: Path, along: FloatArray
) -> list[_Stretch]:
    """Stretches whose middle a disc as wide as the narrowest open notch touches from outside."""
    part = polygon_of(outline)
    closed = part.buffer(NOTCH_MM / 2.0).buffer(-NOTCH_MM / 2.0)
    middles = np.array([(one.low + one.high) / 2.0 for one in stretches]) % along[-1]
    points = shapely.points(*(np.interp(middles, along, outline.line[:, k]) for k in (0, 1)))
    deep = shapely.distance(closed.boundary, points)
    return [one for one, mm in zip(stretches, deep.tolist(), strict=True) if mm <= REACHED_MM]


def _spread(
    stretches: Sequence[_Stretch], count: int, total_mm: float, apart_mm: float
) -> list[float] | None:
    """Places in the stretches nearest to an even spread, in the best of some turns of it.

    ``None`` if two would come nearer than ``apart_mm``, or if one is half the way to the next off
    its even place, so that one side of the part would hang loose.
    """
    if not stretches:
        return None
    pitch = total_mm / count
    low, high = (np.array([getattr(s, end) for s in stretches]) for end in ("low", "high"))
    middles = (low + high) / 2.0
    turns = np.concatenate([middles, pitch * np.arange(PHASES) / PHASES])
    ideal = (turns[:, None] + pitch * np.arange(count))[:, :, None]
    # (turns, tabs, stretches): where on each stretch a tab would come, how far from where it should
    ideal = ideal + np.round((middles - ideal) / total_mm) * total_mm
    on = np.clip(ideal, low, high)
    moved = np.abs(on - ideal)
    nearest = moved.argmin(axis=2)[:, :, None]
    off = np.take_along_axis(moved, nearest, axis=2)[:, :, 0]
    places = np.take_along_axis(on, nearest, axis=2)[:, :, 0]
    aside = np.abs(places - middles[nearest[:, :, 0]])
    bad = off.max(axis=1) > pitch / 2.0
    if count > 1:
        bad |= _closest(places, total_mm) < apart_mm
    cost = (off**2).sum(axis=1) + MIDDLE_WEIGHT * (aside**2).sum(axis=1)
    cost = np.where(bad, np.inf, np.round(cost, 9))
    best = int(cost.argmin())
    return None if np.isinf(cost[best]) else places[best].tolist()


def _closest(places: FloatArray, total_mm: float) -> FloatArray:
    """Least way along the outline between two neighbouring places of each row."""
    at = np.sort(places % total_mm, axis=1)
    gaps = np.diff(at, axis=1, append=at[:, :1] + total_mm)
    return np.asarray(gaps.min(axis=1))


def _sides_mm(part: Part) -> tuple[float, float]:
    """Sides of the narrowest rectangle round a part, the longer one first."""
    corners = np.array(polygon_of(part.outline).minimum_rotated_rectangle.exterior.coords)
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    return float(sides.max()), float(sides.min())


def _held_finding(held: Sequence[Part], tabs: int, width_mm: float) -> tuple[Finding, ...]:
    if not held:
        return ()
    return (
        Finding(
            Severity.NOTE,
            "cutting/holding-tabs",
            f"{number_of(len(held), 'part')} {'stays' if len(held) == 1 else 'stay'} in the sheet "
            f"on {number_of(tabs, 'holding tab')} of {width_mm:g} mm.",
            "Let the sheet cool, then break or cut the tabs and clean off what stands out.",
            drawing=held[0].drawing,
            shape=held[0].name,
            count=len(held),
        ),
    )


def _crowded_finding(crowded: Sequence[Part]) -> tuple[Finding, ...]:
    if not crowded:
        return ()
    return (
        _of_first(
            crowded,
            Severity.WARN,
            "cutting/no-room-for-tabs",
            f"{number_of(len(crowded), 'part')} {'has' if len(crowded) == 1 else 'have'} no room "
            f'for all holding tabs; first "{crowded[0].name}" (place as on the sheet).',
            "Ask for fewer or narrower tabs, or watch these parts while they come loose.",
        ),
    )


def _loose_finding(loose: Sequence[Part], slat_spacing_mm: float) -> tuple[Finding, ...]:
    if not loose:
        return ()
    return (
        _of_first(
            loose,
            Severity.WARN,
            "cutting/part-may-tip",
            f"{number_of(len(loose), 'part')} {'is' if len(loose) == 1 else 'are'} narrower than "
            f"the slats are apart ({slat_spacing_mm:g} mm) and may fall or tip up once cut; first "
            f'"{loose[0].name}" (place as on the sheet).',
            "Give the recipe a tab_width_mm so that they are held by tabs, or lay the sheet on "
            "something closer.",
        ),
    )


def _of_first(
    parts: Sequence[Part], severity: Severity, code: str, what: str, remedy: str
) -> Finding:
    x0, y0, x1, y1 = parts[0].outline.bounds_mm
    return Finding(
        severity,
        code,
        what,
        remedy,
        drawing=parts[0].drawing,
        shape=parts[0].name,
        x_mm=(x0 + x1) / 2.0,
        y_mm=(y0 + y1) / 2.0,
        count=len(parts),
    )
