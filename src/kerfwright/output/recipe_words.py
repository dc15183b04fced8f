"""What else a recipe asks for, beside speed, power and widths, in a few words each."""

from __future__ import annotations

from collections.abc import Iterator

from kerfwright.findings import number_of
from kerfwright.output.text import short_number
from kerfwright.plan import PlannedSheet
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import Process


def further_settings(sheet: PlannedSheet, process: Process) -> list[str]:
    """What the recipe of a process on a sheet says beyond the columns that every recipe has.

    Holding tabs are counted as they are planned, since items may ask for others than the recipe.
    """
    recipe = sheet.recipes[process]
    return [
        *(_of_cuts(recipe, len(sheet.intended.tabs)) if process is Process.CUT else ()),
        *(_of_photos(recipe) if process is Process.PHOTO else ()),
        *(_of_engraving(recipe) if process is Process.ENGRAVE else ()),
        *(_of_rows(recipe) if process in (Process.ENGRAVE, Process.PHOTO) else ()),
        *(("air on",) if recipe.air else ()),
    ]


def _of_cuts(recipe: Recipe, tabs: int) -> Iterator[str]:
    if recipe.lead_in_mm and recipe.lead_in != "none":
        shape = "arc" if recipe.lead_in == "arc" else "straight"
        yield f"lead-in {shape} {short_number(recipe.lead_in_mm)} mm"
    if recipe.pierce_s:
        yield f"pierce {short_number(recipe.pierce_s)} s"
    if recipe.overcut_mm:
        yield f"overcut {short_number(recipe.overcut_mm)} mm"
    if recipe.focus_step_mm:
        yield f"focus {short_number(recipe.focus_step_mm)} mm deeper each pass"
    if tabs and recipe.tab_width_mm is not None:
        yield f"{number_of(tabs, 'holding tab')} {short_number(recipe.tab_width_mm)} mm wide"
    if recipe.cooling_s and recipe.cooling_mm:
        waits = ", waiting" if recipe.cooling_wait else ""
        yield (
            f"cooling {short_number(recipe.cooling_s)} s within "
            f"{short_number(recipe.cooling_mm)} mm{waits}"
        )


def _of_photos(recipe: Recipe) -> Iterator[str]:
    yield f"tones by {recipe.method}" if recipe.method == "power" else f"dots, {recipe.method}"
    if recipe.invert:
        yield "inverted"


def _of_engraving(recipe: Recipe) -> Iterator[str]:
    if recipe.finish != "any":
        yield f"{recipe.finish} only"
    if recipe.seamless:
        yield "seamless"
    if recipe.corner_power is not None:
        yield f"{short_number(recipe.corner_power * 100)} % of the power in corners"
    if recipe.invert:
        yield "stamp: all but the marks"
    if recipe.shoulder_mm:
        yield f"shoulder {short_number(recipe.shoulder_mm)} mm"


def _of_rows(recipe: Recipe) -> Iterator[str]:
    if recipe.pass_angle_deg and recipe.passes > 1:
        yield f"rows turned {short_number(recipe.pass_angle_deg)}° each pass"
    if recipe.row_direction == "one":
        yield "rows in one direction"
