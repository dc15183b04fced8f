"""Measuring a machine: from its file to timed programs, and from their seconds to its file."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from kerfwright.errors import KerfwrightError
from kerfwright.motion.fit_result import Fit, TooFewReadingsError, UnfitReadingsError
from kerfwright.motion.fitting import fit_machine
from kerfwright.motion.parameters import parameters_of, with_other_corner_rule
from kerfwright.motion.run_candidates import LEAST_ROOM_MM, start_mm
from kerfwright.motion.run_choice import STOPWATCH, Design, design_runs
from kerfwright.motion.timed_runs import run_times_s
from kerfwright.output.fit_report import fitted_values
from kerfwright.output.machine_file import Value, write_changed_machine
from kerfwright.output.timing_programs import write_runs
from kerfwright.shop.controller_settings import SettingsRead, read_settings
from kerfwright.shop.files import load_machine
from kerfwright.shop.machine import Machine
from kerfwright.shop.readings import RUNS_FILE, Reading, load_readings, load_runs
from kerfwright.shop.timed_run import TimedRun, TimedRuns

CORNER_KEYS = {"junction_deviation_mm", "corner_speed_mm_s"}

CLEARLY = 0.85
"""Share of the spread that is left if a rule for corners fits clearly better than another."""


@dataclass(frozen=True, eq=False, slots=True)
class Measured:
    """A machine as it was described, and as its readings tell it."""

    machine: Machine
    runs: tuple[TimedRun, ...]
    fit: Fit


@dataclass(frozen=True, eq=False, slots=True)
class SettingsTaken:
    """A controller's settings beside the machine file that they belong to."""

    machine: Machine
    read: SettingsRead
    values: dict[str, Value]
    """New values by key; ``None`` takes a key out."""


def make_runs(machine_file: Path, folder: Path) -> Design:
    """Design timed runs for a machine and write their programs and sheets.

    Raises:
        KerfwrightError: the machine file is wrong, the bed is too small, or a file is in the way.
        BurningRunError: a program is not proven to keep the beam off.
    """
    machine = load_machine(machine_file)
    margin = start_mm(machine)
    if min(machine.bed_width_mm - 2 * margin[0], machine.bed_height_mm - 2 * margin[1]) < (
        LEAST_ROOM_MM
    ):
        raise KerfwrightError(
            "calibration/bed-too-small",
            file=str(machine_file),
            thing=f"a bed of {machine.bed_width_mm:g} × {machine.bed_height_mm:g} mm leaves no "
            "room for timed runs.",
            remedy="Correct bed_width_mm and bed_height_mm, if they are wrong.",
        )
    design = design_runs(machine)
    write_runs(design, machine, folder)
    return design


def measure(machine_file: Path, readings_file: Path) -> Measured:
    """Find a machine's numbers from the readings of its timed runs.

    Raises:
        KerfwrightError: a file is wrong, readings are missing, or they contradict one another.
    """
    machine = load_machine(machine_file)
    runs = load_runs(readings_file, machine, machine_file)
    readings = load_readings(readings_file, runs)
    try:
        fit = _fit(machine, runs, readings, readings_file)
    except TooFewReadingsError as few:
        raise _too_few(few, readings_file) from None
    except UnfitReadingsError as unfit:
        other = _fit_by_other_rule(machine, runs, readings, readings_file)
        if other is None:
            raise _unfit(unfit, readings_file) from None
        return Measured(machine, runs.runs, other)
    other = _fit_by_other_rule(machine, runs, readings, readings_file)
    if other is not None and _better(other, fit):
        fit = other
    return Measured(machine, runs.runs, fit)


def _fit(
    machine: Machine, runs: TimedRuns, readings: Sequence[Reading], readings_file: Path
) -> Fit:
    keys = set(runs.measures)
    if keys & CORNER_KEYS:
        keys |= CORNER_KEYS  # the same runs show either rule, whichever the machine file has
    told = [parameter for parameter in parameters_of(machine) if parameter.key in keys]
    if not told:
        raise KerfwrightError(
            "calibration/wrong-choice",
            file=str(readings_file.parent / RUNS_FILE),
            thing="measures holds no key of a machine file that tells how it moves.",
            remedy="Write the programs anew, in another folder.",
        )
    return fit_machine(
        machine,
        runs.runs,
        told,
        np.array([reading.run for reading in readings]),
        np.array([reading.seconds for reading in readings]),
    )


def _better(other: Fit, fit: Fit) -> bool:
    """Whether the other rule for corners fits clearly better: no more readings are set aside, and
    the rest agree better."""
    kept, other_kept = int(fit.kept.sum()), int(other.kept.sum())
    if other_kept > kept:
        return other.spread < max(fit.spread, STOPWATCH)
    return other_kept == kept and other.spread < CLEARLY * fit.spread


def _fit_by_other_rule(
    machine: Machine, runs: TimedRuns, readings: Sequence[Reading], readings_file: Path
) -> Fit | None:
    """The fit by the other rule for corners, if there is one."""
    try:
        other = _fit(with_other_corner_rule(machine), runs, readings, readings_file)
    except (TooFewReadingsError, UnfitReadingsError):
        return None
    unset = tuple(
        replace(one, before=math.nan) if one.parameter.key in CORNER_KEYS else one
        for one in other.estimates
    )
    before = run_times_s(runs.runs, machine, (), np.empty(0))
    return replace(other, estimates=unset, before_s=before)


def write_measured(
    measured: Measured, machine_file: Path, new_file: Path, *, overwrite: bool = False
) -> None:
    """Write the measured numbers into a new machine file, comments and order kept.

    Raises:
        KerfwrightError: there is a file already, or it cannot be written.
    """
    values = fitted_values(measured.fit, measured.machine)
    write_changed_machine(machine_file, values, new_file, overwrite=overwrite)


def take_settings(settings_file: Path, machine_file: Path) -> SettingsTaken:
    """Read a controller's list of settings beside a machine file.

    Raises:
        KerfwrightError: one of the files cannot be read.
    """
    machine = load_machine(machine_file)
    try:
        lines = settings_file.read_bytes().decode("utf-8-sig", errors="replace").splitlines()
    except OSError as error:
        raise KerfwrightError(
            "calibration/file-missing",
            file=str(settings_file),
            thing=f"the list of settings cannot be opened ({error.strerror}).",
            remedy="Check the path, and that the file may be read.",
        ) from None
    read = read_settings(lines, machine, settings_file.name)
    values: dict[str, Value] = dict(read.values)
    if "junction_deviation_mm" in values and machine.corner_speed_mm_s is not None:
        values["corner_speed_mm_s"] = None  # the controller goes by its junction deviation
    return SettingsTaken(machine, read, values)


def _too_few(few: TooFewReadingsError, file: Path) -> KerfwrightError:
    names = ", ".join(parameter.name for parameter in few.parameters)
    missing = f"Time {', '.join(few.runs)}" if few.runs else "Time every program again"
    return KerfwrightError(
        "calibration/too-few-readings",
        file=str(file),
        thing=f"the readings do not tell: {names}.",
        remedy=f"{missing}, best three times each, and write the seconds down.",
    )


def _unfit(unfit: UnfitReadingsError, file: Path) -> KerfwrightError:
    worst = sorted(unfit.off, key=lambda one: -abs(np.log(one.factor)))[:4]
    told = "; ".join(f"{one.run} reads {one.factor:.2g} times that" for one in worst)
    return KerfwrightError(
        "calibration/readings-disagree",
        file=str(file),
        thing=f"the readings do not fit together. Set against what the others say: {told}.",
        remedy="Time these again. If they come out the same, the machine does not move as its "
        "file can say: look first at the corner rule and at look_ahead_moves and moves_per_s.",
    )
