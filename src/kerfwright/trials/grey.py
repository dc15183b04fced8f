"""Grey: a ramp of fields from bare to the darkest, burned as a photo."""

from __future__ import annotations

import numpy as np

from kerfwright.drawing.model import Picture
from kerfwright.engraving.tone import LEVELS
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import Affine
from kerfwright.parts.model import Part, PhotoMark
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.trial_pieces import GreyField, GreyPiece
from kerfwright.toolpath import Process
from kerfwright.trials.drawn import EDGE_MM, edge_mm, recipe_of, rectangle
from kerfwright.trials.model import Design, Label, Step

FIELD_MM = 10.0

DOTS = 40
"""Of the ramp's picture along each field: shades run into one another over one dot at most."""

LABELS_MM = 6.0


def grey_design(
    machine: Machine,
    material: Material,
    *,
    speed_mm_s: float,
    power: float,
    passes: int,
    interval_mm: float | None,
    method: str | None,
    steps: int,
) -> Design:
    """Draw a ramp of ``steps`` fields side by side along the rows.

    What is not given is that of the material's photo recipe.

    Raises:
        KerfwrightError: there is no interval, or the recipe does not go together.
    """
    known = material.recipe(machine.name, Process.PHOTO)
    interval = known.interval_mm if interval_mm is None and known else interval_mm
    if interval is None:
        raise KerfwrightError(
            "calibration/unclear-trial",
            file="calibrate grey",
            thing=f'it needs --interval: "{material.name}" has no photo recipe for '
            f'"{machine.name}" to take it from.',
            remedy="Measure it first with an interval piece.",
        )
    recipe = _ramp_recipe(machine, known, speed_mm_s, power, interval, method)
    recipe = recipe.model_copy(update={"passes": passes})
    shades = np.rint(255.0 * (1.0 - np.arange(steps) / (steps - 1))).astype(np.uint8)
    edge = edge_mm(speed_mm_s, machine)
    bottom = EDGE_MM + LABELS_MM
    ramp_mm = FIELD_MM * steps
    size = (2.0 * edge + ramp_mm, bottom + FIELD_MM + EDGE_MM)
    to_mm = Affine(a=ramp_mm, d=-FIELD_MM, e=edge, f=bottom + FIELD_MM)
    part = Part(
        "grey ramp",
        "",
        rectangle(0.0, 0.0, *size),
        photos=(PhotoMark(Picture("grey ramp", np.repeat(shades, DOTS)[None, :], to_mm)),),
        blank=True,
    )
    return Design(
        piece=GreyPiece(
            machine=machine.name,
            material=material.name,
            thickness_mm=material.thickness_mm,
            passes=passes,
            speed_mm_s=speed_mm_s,
            power=power,
            interval_mm=interval,
            method=recipe.method,
            power_min=recipe.power_min,
            dot_mm=recipe.dot_mm,
            fields=tuple(
                GreyField(number=i, strength=strength_of(recipe, int(shade)))
                for i, shade in enumerate(shades, 1)
            ),
        ),
        title="grey trial piece",
        size_mm=size,
        steps=(Step((part,), (recipe,)),),
        labels=tuple(
            Label(str(i + 1), edge + FIELD_MM * (i + 0.5), bottom - 3.5) for i in range(steps)
        ),
    )


def strength_of(recipe: Recipe, shade: int) -> float:
    """Power, or share of dots, by which a recipe without a curve burns a shade of 0 to 255."""
    darkness = 1.0 - shade / 255.0
    if recipe.method != "power" or darkness == 0.0:
        return round(darkness, 4)
    level = round(darkness * LEVELS) / LEVELS
    return round(recipe.power_min + (recipe.power - recipe.power_min) * level, 4)


def _ramp_recipe(
    machine: Machine,
    known: Recipe | None,
    speed_mm_s: float,
    power: float,
    interval_mm: float,
    method: str | None,
) -> Recipe:
    """A photo recipe without a curve: shades in proportion."""
    kept = {} if known is None else {"power_min": known.power_min, "dot_mm": known.dot_mm}
    chosen = method or (known.method if known else None)
    if chosen not in (None, "power"):
        kept.pop("power_min", None)
    if chosen is not None:
        kept["method"] = chosen  # type: ignore[assignment]
    if kept.get("power_min", 0.0) >= power:  # type: ignore[operator]
        raise KerfwrightError(
            "calibration/unclear-trial",
            file="calibrate grey",
            thing=f"the lightest tone's power_min is not below --power {power:g}.",
            remedy="Give the power of the darkest tone.",
        )
    return recipe_of(machine, Process.PHOTO, speed_mm_s, power, interval_mm=interval_mm, **kept)
