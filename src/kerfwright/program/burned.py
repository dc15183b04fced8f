"""What a program burns, and what each burn is for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.engraving.burn import slowest_of
from kerfwright.engraving.row_ramps import powers_of_feed
from kerfwright.engraving.shoulder import SHOULDER_STEPS
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area
from kerfwright.plan import PlannedSheet
from kerfwright.program.kernel import IntArray
from kerfwright.program.model import Program
from kerfwright.program.near import BoolArray, Lines, Pieces, sampled
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Process

PROCESSES = (Process.SCORE, Process.CUT, Process.ENGRAVE, Process.PHOTO)
"""In the order in which a burn that fits several is taken."""

NOTHING = -1
"""Process number of a burn that is for nothing on the sheet."""

STRAY_MM = 0.025
"""How far a burn may lie beside its place: chord tolerances of curves and of their offsets."""

STEP_MM = 1.0
"""Furthest that two samples on a straight burn lie apart."""

CORNER_LIMIT = 4.0
"""Half kerfs that a cut may reach out beyond a sharp corner."""

POWER_TOLERANCE = 1e-3
SPEED_TOLERANCE = 1e-3


@dataclass(frozen=True, slots=True)
class Widths:
    """Lengths that decide what counts as on its place; in mm."""

    half_kerf_mm: float
    interval_mm: float
    spot_mm: float
    shared_mm: float
    """How far apart two cuts may be that were made into one."""
    tolerance_mm: float
    rounding_mm: float


def widths_of(sheet: PlannedSheet, machine: Machine) -> Widths:
    """Widths of a sheet's recipes and of its shared edges."""
    cut, engrave = sheet.recipes.get(Process.CUT), sheet.recipes.get(Process.ENGRAVE)
    half_kerf = (cut.kerf_mm or 0.0) / 2.0 if cut else 0.0
    interval = engrave.interval_mm if engrave else None
    rounding = 10.0**-machine.controller.decimals
    return Widths(
        half_kerf_mm=half_kerf,
        interval_mm=interval or machine.spot_mm,
        spot_mm=machine.spot_mm,
        shared_mm=sheet.merge_mm if sheet.shared_edges else 0.0,
        tolerance_mm=STRAY_MM + rounding,
        rounding_mm=rounding,
    )


@dataclass(frozen=True, eq=False, slots=True)
class Burns:
    """All burning moves but rapid ones, in the program's order; tables of shape (n,)."""

    ends: FloatArray
    """Start and end, shape (n, 4), mm."""
    move: IntArray
    line: IntArray
    power: FloatArray
    speed_mm_s: FloatArray
    z_mm: FloatArray

    def __len__(self) -> int:
        return len(self.ends)

    @property
    def middles(self) -> FloatArray:
        """Middle of every burn, shape (n, 2)."""
        return (self.ends[:, :2] + self.ends[:, 2:]) / 2.0

    def those(self, which: BoolArray) -> Burns:
        """Return only some of the burns."""
        return Burns(
            self.ends[which],
            self.move[which],
            self.line[which],
            self.power[which],
            self.speed_mm_s[which],
            self.z_mm[which],
        )

    def pieces(self) -> Pieces:
        """Return the burns in a form that can be asked what is near."""
        return Pieces(self.ends)


def burns_of(program: Program) -> Burns:
    """Gather the burns of a program."""
    toolpath = program.toolpath
    points, moves = toolpath.points, toolpath.moves
    which = np.flatnonzero((moves["power"] > 0.0) & (moves["kind"] != MoveKind.TRAVEL))
    return Burns(
        np.hstack([points[which], points[which + 1]]),
        which,
        program.line_of_move[which],
        moves["power"][which],
        moves["speed_mm_s"][which],
        moves["z_mm"][which],
    )


@dataclass(frozen=True, eq=False, slots=True)
class Assigned:
    """What every burn is for: index into :data:`PROCESSES`, and whether its settings are right."""

    process: IntArray
    settings: BoolArray
    lead_in: BoolArray
    """Whether a burn only leads into a cut; it is for that cut, but on none of its lines."""

    def by(self, process: Process) -> BoolArray:
        """Which burns are for a process."""
        return np.asarray(self.process == PROCESSES.index(process))


def assign(burns: Burns, sheet: PlannedSheet, machine: Machine, widths: Widths) -> Assigned:
    """Find what each burn is for: by its place first, among several by its settings."""
    fits = {
        Process.SCORE: _on_lines(burns, Lines(sheet.intended.scores), 0.0, 0.0, widths),
        Process.CUT: _on_lines(
            burns, Lines(sheet.intended.cuts), widths.half_kerf_mm, widths.shared_mm, widths
        ),
        Process.ENGRAVE: _in_area(burns, sheet.intended.area, widths.interval_mm, widths),
        Process.PHOTO: _in_photos(burns, sheet, widths),
    }
    process = np.full(len(burns), NOTHING)
    settings = np.zeros(len(burns), dtype=bool)
    for number, name in enumerate(PROCESSES):
        recipe = sheet.recipes.get(name)
        if recipe is None:
            continue
        right = follows_recipe(burns, recipe, machine)
        better = fits[name] & ((process == NOTHING) | (right & ~settings))
        process[better] = number
        settings[better] = right[better]
    return Assigned(process, settings, np.zeros(len(burns), dtype=bool))


def follows_recipe(burns: Burns, recipe: Recipe, machine: Machine) -> BoolArray:
    """Whether each burn has the recipe's power and speed, as near as S and F words are rounded.

    A speed above what the machine can do may be written as it is or as the machine's own.
    """
    fastest = min(*machine.cutting.speed_mm_s, *machine.scanning.speed_mm_s)
    slack = SPEED_TOLERANCE * recipe.speed_mm_s + 1e-3
    low, high = min(recipe.speed_mm_s, fastest) - slack, recipe.speed_mm_s + slack
    speed_right = (burns.speed_mm_s >= low) & (burns.speed_mm_s <= high)
    least, most = powers_of(recipe)
    right = (burns.power >= least - POWER_TOLERANCE) & (burns.power <= most + POWER_TOLERANCE)
    return np.asarray(speed_right & right) | _slower_row(burns, recipe, machine, slack)


def _slower_row(burns: Burns, recipe: Recipe, machine: Machine, slack_mm_s: float) -> BoolArray:
    """Whether each burn is part of a row as slow as the recipe allows, with as much less power."""
    if recipe.process != "engrave" or slowest_of(recipe) == 1.0:
        return np.zeros(len(burns), dtype=bool)
    feed = np.minimum(burns.speed_mm_s / recipe.speed_mm_s, 1.0)
    least, most = powers_of_feed(feed, recipe, machine)
    right = (burns.power >= least - POWER_TOLERANCE) & (burns.power <= most + POWER_TOLERANCE)
    not_too_slow = burns.speed_mm_s >= slowest_of(recipe) * recipe.speed_mm_s - slack_mm_s
    return np.asarray(right & not_too_slow)


def powers_of(recipe: Recipe) -> tuple[float, float]:
    """Least and most power that a recipe burns at: one and the same but for shades, slopes and
    corners.
    """
    if recipe.process == "engrave":
        least = recipe.power if recipe.corner_power is None else recipe.power * recipe.corner_power
        return (least / SHOULDER_STEPS if recipe.shoulder_mm > 0.0 else least), recipe.power
    by_power = recipe.process == "photo" and recipe.method == "power"
    return (recipe.power_min if by_power else recipe.power), recipe.power


def _on_lines(
    burns: Burns, lines: Lines, half_kerf_mm: float, shared_mm: float, widths: Widths
) -> BoolArray:
    """Whether burns lie on lines (or half a kerf beside closed ones) all along."""
    if len(lines) == 0 or len(burns) == 0:
        return np.zeros(len(burns), dtype=bool)

    def on_size(points: FloatArray) -> BoolArray:
        return lines.on_size(
            points,
            half_kerf_mm=half_kerf_mm,
            shared_mm=shared_mm,
            tolerance_mm=widths.tolerance_mm,
            corner_limit=CORNER_LIMIT,
        )

    fits = on_size(burns.middles) & on_size(burns.ends[:, :2]) & on_size(burns.ends[:, 2:])
    likely = np.flatnonzero(fits)
    samples = sampled(burns.ends[likely], STEP_MM)
    fits[likely[samples.piece[~on_size(samples.points)]]] = False
    return fits


def _in_photos(burns: Burns, sheet: PlannedSheet, widths: Widths) -> BoolArray:
    recipe = sheet.recipes.get(Process.PHOTO)
    interval = (recipe.interval_mm or 0.0) if recipe else 0.0
    area = as_area(shapely.union_all([place.area for place in sheet.intended.photos]))
    return _in_area(burns, area, interval, widths)


def _in_area(
    burns: Burns, area: shapely.MultiPolygon, interval_mm: float, widths: Widths
) -> BoolArray:
    """Whether burns lie in the area, half a spot or interval over its edge at most."""
    inside = np.zeros(len(burns), dtype=bool)
    if area.is_empty or len(burns) == 0:
        return inside
    over = max(widths.spot_mm, interval_mm) / 2.0 + widths.tolerance_mm
    allowed = area.buffer(over)
    shapely.prepare(allowed)
    likely = np.flatnonzero(shapely.contains_xy(allowed, *burns.middles.T))
    lines = shapely.linestrings(burns.ends[likely].reshape(-1, 2, 2))
    inside[likely] = shapely.covers(allowed, lines)
    return inside
