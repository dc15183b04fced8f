"""Trial pieces: from a material without a recipe to a program, and from readings to the recipe."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, stops
from kerfwright.output.machine_file import write_changed_machine
from kerfwright.output.material_file import write_changed_material
from kerfwright.output.trial_files import write_trial
from kerfwright.shop.files import load_machine, load_material
from kerfwright.shop.hazards import hazard_findings
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, RecipeStatus
from kerfwright.shop.trial_pieces import (
    GreyPiece,
    IntervalPiece,
    KerfPiece,
    PowerPiece,
    TrialPiece,
    load_trial_piece,
)
from kerfwright.shop.trial_readings import (
    load_focus_readings,
    load_grey_readings,
    load_interval_readings,
    load_kerf_readings,
    load_power_readings,
)
from kerfwright.toolpath import Process
from kerfwright.trials.focus_fit import focus_result
from kerfwright.trials.grey_fit import grey_result
from kerfwright.trials.interval_fit import interval_result
from kerfwright.trials.kerf_fit import kerf_result
from kerfwright.trials.model import Design, Marking, PlannedTrial
from kerfwright.trials.planned import planned_trial
from kerfwright.trials.power_fit import MARGIN, power_result
from kerfwright.trials.result import Result, UntoldError

Draw = Callable[[Machine, Material], Design]

SPOTS_APART = 20.0
"""An interval so many times wider or narrower than the spot is a slip of the keyboard."""


def make_trial(
    draw: Draw,
    machine_file: Path,
    material_file: Path,
    folder: Path,
    marking: Marking | None = None,
) -> tuple[PlannedTrial, tuple[Finding, ...]]:
    """Draw, plan, prove and write a trial piece; return it with what must be said before burning.

    Without a ``marking`` the labels are scored by the material's recipe for scoring, if it has
    one, and left off if not.

    Raises:
        KerfwrightError: a file or setting is wrong, or the material must not be burned.
        UnprovenTrialError: the program is not proven.
    """
    machine, material = load_machine(machine_file), load_material(material_file)
    hazards = hazard_findings([material])
    for stop in stops(hazards):
        raise KerfwrightError(
            stop.code, file=str(material_file), thing=stop.what, remedy=stop.remedy
        )
    if marking is None and (score := material.recipe(machine.name, Process.SCORE)) is not None:
        marking = Marking(score.speed_mm_s, score.power)
    design = draw(machine, material)
    _require_burnable(design, machine, marking)
    trial = planned_trial(design, machine, material, marking)
    write_trial(trial, folder)
    return trial, (*hazards, *trial.findings)


def read_trial(
    kind: str,
    machine_file: Path,
    material_file: Path,
    readings_file: Path,
    *,
    margin: float = MARGIN,
) -> tuple[TrialPiece, Result]:
    """Find settings from the readings of a trial piece.

    Raises:
        KerfwrightError: a file is wrong, readings are missing, or they contradict one another.
    """
    machine, material = load_machine(machine_file), load_material(material_file)
    piece = load_trial_piece(readings_file, kind, machine, material)
    try:
        return piece, _result(piece, machine, material, readings_file, margin)
    except UntoldError as untold:
        raise KerfwrightError(
            "calibration/readings-contradict" if untold.disagree else "calibration/too-few-seen",
            file=str(readings_file),
            thing=untold.thing,
            remedy=untold.remedy,
        ) from None


def _result(
    piece: TrialPiece, machine: Machine, material: Material, file: Path, margin: float
) -> Result:
    match piece:
        case KerfPiece():
            return kerf_result(piece, load_kerf_readings(file, piece))
        case IntervalPiece():
            return interval_result(piece, *load_interval_readings(file, len(piece.squares)))
        case PowerPiece():
            recipe = material.recipe(machine.name, piece.process)
            return power_result(piece, load_power_readings(file, piece), margin, recipe)
        case GreyPiece():
            return grey_result(piece, load_grey_readings(file, piece))
        case _:
            return focus_result(piece, load_focus_readings(file, piece))


def write_result(
    piece: TrialPiece,
    result: Result,
    machine_file: Path,
    material_file: Path,
    new_file: Path,
    *,
    overwrite: bool = False,
) -> None:
    """Write the recipe into a new material file, or a machine's number into a machine file.

    Raises:
        KerfwrightError: there is a file already, it cannot be written, or the recipe is not
            complete yet.
    """
    if result.process is None:
        write_changed_machine(machine_file, result.keys, new_file, overwrite=overwrite)
        return
    status = RecipeStatus.TESTED if result.complete else RecipeStatus.UNTESTED
    # who tested an earlier recipe says nothing of this one
    read = {"tested_on": result.tested.on, "tested_by": result.tested.by}
    keys: dict[str, Any] = {**result.keys, "status": status.value, **read}
    material = load_material(material_file)
    recipe = material.recipe(piece.machine, result.process)
    if result.process is Process.CUT and "kerf_mm" not in keys and recipe is None:
        speed, power = keys["speed_mm_s"], keys["power"]
        raise KerfwrightError(
            "calibration/kerf-next",
            file=str(material_file),
            thing="a cut recipe needs its kerf too, and there is none yet.",
            remedy=f"Make a kerf piece with these settings (kerfwright calibrate kerf --speed "
            f"{speed:g} --power {power:g} --passes {piece.passes} …) and write the recipe from it.",
        )
    write_changed_material(
        material_file, piece.machine, result.process, keys, new_file, overwrite=overwrite
    )


def _require_burnable(design: Design, machine: Machine, marking: Marking | None) -> None:
    """Refuse settings that the machine cannot keep: it would burn other ones than are read."""
    lines = min(machine.cutting.speed_mm_s)
    rows = machine.scanning.speed_mm_s[0]
    used = [(recipe.process, recipe.speed_mm_s) for step in design.steps for recipe in step.recipes]
    if marking is not None:
        used.append(("score", marking.speed_mm_s))
    for process, speed in used:
        fastest = rows if process in ("engrave", "photo") else lines
        if speed > fastest:
            raise _unburnable(
                f'{speed:g} mm/s for {process} is more than the {fastest:g} mm/s that "'
                f'{machine.name}" burns at.'
            )
    for step in design.steps:
        for recipe in step.recipes:
            width = recipe.interval_mm
            if width and not 1.0 / SPOTS_APART <= width / machine.spot_mm <= SPOTS_APART:
                raise _unburnable(
                    f"an interval of {width:g} mm cannot belong to a spot of "
                    f"{machine.spot_mm:g} mm."
                )


def _unburnable(thing: str) -> KerfwrightError:
    return KerfwrightError(
        "calibration/unburnable-setting",
        file="trial piece",
        thing=thing,
        remedy="Give settings that the machine can keep, or correct its file.",
    )
