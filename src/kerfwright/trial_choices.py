"""What is asked for in a trial piece, whoever asks, and the drawing of the piece that follows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from kerfwright.errors import KerfwrightError
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.trials.focus import focus_design
from kerfwright.trials.grey import grey_design
from kerfwright.trials.interval import interval_design
from kerfwright.trials.kerf import kerf_design
from kerfwright.trials.model import Design, Marking
from kerfwright.trials.power import power_design
from kerfwright.trials.ranges import Range

if TYPE_CHECKING:
    from kerfwright.recipe_trials import Draw

TrialKind = Literal["kerf", "interval", "power", "focus", "grey"]

Triple = tuple[float, float, int]
"""Lowest value, highest value, and how many."""

KEPT_RECIPE = {"kerf": "cut", "interval": "engrave", "focus": "score", "grey": "photo"}
"""The recipe whose speed, power and passes are taken where none are given, by kind."""


@dataclass(frozen=True, slots=True)
class TrialChoices:
    """What is asked for; what is left ``None`` is taken from the material's recipe.

    ``labels`` are speed in mm/s and power of the scored labels.
    """

    kind: TrialKind
    speed_mm_s: float | None = None
    power: float | None = None
    passes: int | None = None
    labels: tuple[float, float] | None = None
    length_mm: float = 80.0
    intervals: Triple | None = None
    powers: Triple | None = None
    speeds: Triple | None = None
    process: str = "cut"
    interval_mm: float | None = None
    method: str | None = None
    steps: int = 11
    lines: int = 13


def marking_of(choices: TrialChoices) -> Marking | None:
    """How the labels are scored, where that is asked for.

    Raises:
        KerfwrightError: ``calibration/unclear-trial``.
    """
    if choices.labels is None:
        return None
    speed, power = choices.labels
    if not (speed > 0.0 and 0.0 < power <= 1.0):
        raise unclear_trial(
            "calibrate", "labels need a speed above 0 and a power from 0 to 1.", "Correct them."
        )
    return Marking(speed, power)


def draw_of(choices: TrialChoices, named: Callable[[str], str] = str) -> Draw:
    """Return what draws the piece that is asked for; ``named`` is how errors call a choice.

    Raises:
        KerfwrightError: ``calibration/unclear-trial``.
    """
    if choices.kind == "power":
        return _power(choices, named)
    given = None
    if choices.kind == "interval":
        given = _range(choices.kind, named("intervals"), choices.intervals)

    def draw(machine: Machine, material: Material) -> Design:
        speed, power, passes = _settings(choices, machine, material, named)
        match choices.kind:
            case "kerf":
                return kerf_design(
                    machine,
                    material,
                    speed_mm_s=speed,
                    power=power,
                    passes=passes,
                    length_mm=choices.length_mm,
                )
            case "interval":
                assert given is not None
                return interval_design(
                    machine, material, given, speed_mm_s=speed, power=power, passes=passes
                )
            case "focus":
                return focus_design(
                    machine, material, speed_mm_s=speed, power=power, lines=choices.lines
                )
            case _:
                return grey_design(
                    machine,
                    material,
                    speed_mm_s=speed,
                    power=power,
                    passes=passes,
                    interval_mm=choices.interval_mm,
                    method=choices.method,
                    steps=choices.steps,
                )

    return draw


def unclear_trial(kind: str, thing: str, remedy: str) -> KerfwrightError:
    """Make the error for choices that do not say which piece is meant."""
    return KerfwrightError(
        "calibration/unclear-trial",
        file=f"calibrate {kind}" if kind != "calibrate" else kind,
        thing=thing,
        remedy=remedy,
    )


def _power(choices: TrialChoices, named: Callable[[str], str]) -> Draw:
    powers = _range(choices.kind, named("powers"), choices.powers)
    speeds = _range(choices.kind, named("speeds"), choices.speeds)

    def draw(machine: Machine, material: Material) -> Design:
        return power_design(
            machine,
            material,
            powers,
            speeds,
            process=choices.process,
            passes=choices.passes or 1,
            interval_mm=choices.interval_mm,
        )

    return draw


def _range(kind: str, name: str, given: Triple | None) -> Range:
    if given is None:
        raise unclear_trial(
            kind,
            f"it needs {name}: the lowest value, the highest value, and how many.",
            "Start from what the machine's manual and the material's supplier allow; no setting "
            "is invented here.",
        )
    return Range(name, *given)


def _settings(
    choices: TrialChoices, machine: Machine, material: Material, named: Callable[[str], str]
) -> tuple[float, float, int]:
    """Speed, power and passes as given, or those of the material's recipe."""
    process = KEPT_RECIPE[choices.kind]
    recipe = material.recipe(machine.name, process)
    speed, power, passes = choices.speed_mm_s, choices.power, choices.passes
    if recipe is not None:
        speed = recipe.speed_mm_s if speed is None else speed
        power = recipe.power if power is None else power
        passes = recipe.passes if passes is None else passes
    if speed is None or power is None:
        raise unclear_trial(
            "calibrate",
            f"it needs {named('speed')} and {named('power')}: "
            f'"{material.name}" has no {process} recipe for "{machine.name}" to take them from.',
            "Give settings that work, such as those that a power piece told.",
        )
    if not (0.0 < power <= 1.0 and speed > 0.0):
        raise unclear_trial(
            "calibrate",
            f"a speed of {speed:g} mm/s at a power of {power:g} cannot be burned.",
            "Power is a fraction of full power, above 0 and at most 1.",
        )
    if choices.kind == "focus":  # its lines are burned once
        return speed, power, 1
    return speed, power, passes or 1
