"""Photos into toolpaths: shades burned in rows, to and fro, by power or by dots."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from shapely.affinity import translate

from kerfwright.engraving.bed import keep_on_bed
from kerfwright.engraving.burn import burn_of, row_motion
from kerfwright.engraving.parts import shifted
from kerfwright.engraving.photo_cells import PhotoPlace, burned_runs, cells_of
from kerfwright.engraving.photo_drive import driven
from kerfwright.engraving.reversal import burned_early
from kerfwright.engraving.scan import repeated
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.affine import translation
from kerfwright.geometry.regions import as_area
from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.order import PhotoRows
from kerfwright.toolpath import Toolpath, join

BUFFERED_MOVES = 64
"""Moves that a controller holds ahead, so that a few short ones do no harm; common practice."""

ANGLES_DEG: dict[str, float] = {"level": 0.0, "upright": 90.0}


@dataclass(frozen=True, eq=False, slots=True)
class BurnedPhoto:
    """A photo's toolpath, all passes, and what rows of either direction would take.

    ``rows`` is ``level`` or ``upright``, ``times_s`` has every direction that was timed.
    """

    toolpath: Toolpath
    rows: str
    times_s: dict[str, float]
    findings: tuple[Finding, ...]


def burn_photo(
    place: PhotoPlace,
    recipe: Recipe,
    machine: Machine,
    *,
    rows: PhotoRows = "fastest",
    source: int,
) -> BurnedPhoto:
    """Burn a picture where it lies, as far as its area reaches, by a recipe for photos.

    Both directions of rows are planned and timed; the faster is taken unless ``rows`` names one.
    Bare cells are crossed with the beam off at burning speed, or jumped by travelling where that
    is faster. Run-ups may reach beyond the bed, as those of engraving.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.
        ValueError: the recipe has no interval, which its file's reader refuses.
    """
    if recipe.interval_mm is None:
        raise ValueError("a photo's recipe must have an interval")
    if place.area.is_empty:
        nothing = Toolpath(join([]))
        return BurnedPhoto(nothing, "level", {}, (_nothing_to_burn(),))
    burn = burn_of(recipe, machine, source)
    made = {}
    for name, angle_deg in ANGLES_DEG.items():
        cells = cells_of(place, recipe, angle_deg)
        motion = row_motion(machine, burn, angle_deg)
        path = driven(cells, burned_runs(cells, recipe), burn, motion, machine)
        made[name] = repeated(path, recipe.passes, machine)
    times = {name: time_toolpath(path, machine).total_s for name, path in made.items()}
    chosen = min(times, key=lambda name: times[name]) if rows == "fastest" else rows
    return BurnedPhoto(made[chosen], chosen, times, _findings(made[chosen], recipe, machine))


@dataclass(eq=False, slots=True)
class PhotoBurner:
    """Plans photos one by one; copies of a part turned alike are burned alike.

    ``kept`` holds photos that were planned before, for other plans.
    """

    recipe: Recipe
    machine: Machine
    kept: Kept = NOTHING_KEPT
    _known: dict[tuple[object, ...], BurnedPhoto] = field(default_factory=dict)

    def burn(
        self,
        place: PhotoPlace,
        *,
        rows: PhotoRows,
        source: int,
        same: tuple[object, ...],
    ) -> BurnedPhoto:
        """Burn a picture in sheet coordinates; equal ``same`` says it is equal but for its place.

        The move table's ``source`` is the given one.
        """
        if place.area.is_empty:
            return burn_photo(place, self.recipe, self.machine, source=source)
        x, y = place.area.bounds[:2]
        key = (*same, rows)
        if key not in self._known:
            at_origin = PhotoPlace(
                place.picture.transformed(translation(-x, -y)),
                as_area(translate(place.area, -x, -y)),
            )
            self._known[key] = self.kept.of(
                "photo",
                (at_origin, rows, self.recipe, self.machine),
                lambda: burn_photo(at_origin, self.recipe, self.machine, rows=rows, source=source),
            )
        planned = self._known[key]
        toolpath, short = keep_on_bed(
            burned_early(shifted(planned.toolpath, (x, y), source), self.machine),
            self.machine,
            ANGLES_DEG[planned.rows],
        )
        return replace(planned, toolpath=toolpath, findings=planned.findings + short)


def _nothing_to_burn() -> Finding:
    return Finding(
        Severity.WARN,
        "engraving/photo-bare",
        "a picture leaves nothing to burn where it lies.",
        "Look whether it is white, hidden under another or on a hole; for a material that burns "
        "light set invert = true in its photo recipe.",
    )


def _findings(toolpath: Toolpath, recipe: Recipe, machine: Machine) -> tuple[Finding, ...]:
    if not toolpath.burning.any():
        return (_nothing_to_burn(),)
    found = []
    if recipe.grey_curve is None and recipe.gamma is None:
        found.append(
            Finding(
                Severity.NOTE,
                "engraving/tones-not-measured",
                "the photo recipe has no grey_curve, so tones are burned in proportion to the "
                "picture and may come out too dark or too light.",
                "kerfwright calibrate grey makes a ramp to burn on an offcut, and a recipe of what "
                "you measure.",
            )
        )
    taken = machine.controller.moves_per_s
    rate = _most_moves_per_s(toolpath, machine) if taken is not None else 0.0
    if taken is not None and rate > taken:
        found.append(
            Finding(
                Severity.WARN,
                "engraving/too-many-moves",
                f"a photo asks for up to {rate:.0f} moves a second, and the controller takes in "
                f"{taken:g}: it slows down there and may burn dark specks.",
                "Set a longer dot_mm or a slower speed_mm_s in the photo recipe.",
            )
        )
    if recipe.dot_mm is not None and recipe.dot_mm < 0.5 * machine.spot_mm:
        found.append(
            Finding(
                Severity.NOTE,
                "engraving/dot-shorter-than-spot",
                f"photo dots are {recipe.dot_mm:g} mm long, less than half of the spot "
                f"({machine.spot_mm:g} mm): finer detail than the beam can show.",
                "Set dot_mm near the spot's width: fewer moves, and the same picture.",
            )
        )
    return tuple(found)


def _most_moves_per_s(toolpath: Toolpath, machine: Machine) -> float:
    """Moves a second where they follow each other fastest, over as many as are buffered, on a
    controller that takes in any number."""
    controller = machine.controller.model_copy(update={"moves_per_s": None})
    machine = machine.model_copy(update={"controller": controller})
    ends_s = np.cumsum(move_times_s(toolpath, machine))
    if len(ends_s) <= BUFFERED_MOVES:
        return 0.0
    taken_s = ends_s[BUFFERED_MOVES:] - ends_s[:-BUFFERED_MOVES]
    return float(BUFFERED_MOVES / taken_s.min())
