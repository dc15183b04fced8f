"""A start for a recipe at a thickness that the shop has none for, from its own at others.

Nothing here is a setting to work with: it is where a trial piece begins. Only recipes that were
tested count, of the same machine at the same rated power, the same process and the same kind of
material.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from kerfwright.errors import KerfwrightError
from kerfwright.findings import number_of
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe, RecipeStatus
from kerfwright.trials.energy_line import LineEnergy, along_line, in_proportion, line_energy_j_mm

FURTHEST = 1.5
"""A sheet so many times thicker or thinner than the nearest tested one is beyond what a straight
line tells; common practice, no source."""

WIDEST_GAP = 3.0
"""Between two tested thicknesses, so many times apart at most, a line tells what lies between."""

TRIED_LOW, TRIED_HIGH = 0.7, 1.4
"""Least and most energy of the trial piece, as shares of the start's, where nothing tells more."""

TRIED_LEAST, TRIED_MOST = 0.5, 2.0
"""The same, however wide the range is in which the recipe may lie."""

Way = Literal["line", "proportion", "nearest"]


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A recipe for a sheet of the same kind; the power is what the laser was rated at then."""

    material: str
    thickness_mm: float
    recipe: Recipe
    power_w: float | None = None
    """``None`` where it is not known to have been another than today's."""


@dataclass(frozen=True, slots=True)
class Trial:
    """What a trial piece round the start should span."""

    powers: tuple[float, float]
    speeds_mm_s: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A recipe to begin a trial piece with, and how it was come by."""

    material: str
    thickness_mm: float
    recipe: Recipe
    """Untested, always."""
    way: Way
    energy: LineEnergy
    used: tuple[Neighbour, ...]
    nearest: Neighbour
    trial: Trial
    remarks: tuple[str, ...]


def suggested(
    material: Material, machine: Machine, process: str, neighbours: Sequence[Neighbour]
) -> Suggestion:
    """Find a start for ``material`` from recipes for sheets of its kind.

    A cut's energy follows a straight line over the thickness or, where only one is known, grows in
    proportion; marks stay on the surface, and take over what the nearest sheet has.

    Raises:
        KerfwrightError: ``recipes/tested-already``, ``recipes/no-neighbour``,
            ``recipes/too-far`` or ``recipes/neighbours-contradict``.
    """
    present = material.recipe(machine.name, process)
    if present is not None and present.status is not RecipeStatus.UNTESTED:
        raise _tested_already(material, machine, process, present)
    used, left_out = _usable(material, machine, process, neighbours)
    if not used:
        raise _no_neighbour(material, machine, process, neighbours, left_out)
    nearest = min(used, key=lambda one: _nearness(one, material.thickness_mm))
    _require_near(material, process, used, nearest)
    way, energy = _energy(material, machine, process, used, nearest)
    recipe = _recipe(material, machine, nearest, energy)
    return Suggestion(
        material.name,
        material.thickness_mm,
        recipe,
        way,
        energy,
        tuple(sorted(used, key=lambda one: (one.thickness_mm, one.material))),
        nearest,
        _trial(machine, recipe, energy),
        tuple(_remarks(material, way, used, nearest, recipe, left_out)),
    )


def _usable(
    material: Material, machine: Machine, process: str, neighbours: Sequence[Neighbour]
) -> tuple[list[Neighbour], int]:
    """Tested neighbours, and how many were left out because the laser had another power then."""
    tested = [
        one
        for one in neighbours
        if one.recipe.machine == machine.name
        and one.recipe.process == process
        and one.recipe.status is not RecipeStatus.UNTESTED
        and (one.material, one.thickness_mm) != (material.name, material.thickness_mm)
    ]
    used = [one for one in tested if one.power_w in {None, machine.power_w}]
    return used, len(tested) - len(used)


def _nearness(one: Neighbour, thickness_mm: float) -> tuple[float, bool, float]:
    """Sort key: the nearest by factor, then what is trusted, then the thinner one."""
    apart = abs(math.log(one.thickness_mm / thickness_mm))
    return round(apart, 9), one.recipe.status is not RecipeStatus.TRUSTED, one.thickness_mm


def _require_near(
    material: Material, process: str, used: Sequence[Neighbour], nearest: Neighbour
) -> None:
    wanted = material.thickness_mm
    factor = max(wanted, nearest.thickness_mm) / min(wanted, nearest.thickness_mm)
    thinner = [one.thickness_mm for one in used if one.thickness_mm <= wanted]
    thicker = [one.thickness_mm for one in used if one.thickness_mm >= wanted]
    between = bool(thinner and thicker) and min(thicker) / max(thinner) <= WIDEST_GAP
    if factor <= FURTHEST + 1e-9 or between:
        return
    raise KerfwrightError(
        "recipes/too-far",
        file=material.name,
        thing=f"{wanted:g} mm is {factor:.2g} times as thick or as thin as the nearest tested "
        f"sheet ({nearest.thickness_mm:g} mm); a {process} recipe is only suggested up to "
        f"{FURTHEST:g} times, or between two tested thicknesses that are no more than "
        f"{WIDEST_GAP:g} times apart.",
        remedy="Test a thickness in between first, or begin a power piece from what the machine's "
        "manual and the material's supplier allow.",
    )


def _energy(
    material: Material,
    machine: Machine,
    process: str,
    used: Sequence[Neighbour],
    nearest: Neighbour,
) -> tuple[Way, LineEnergy]:
    energies = [line_energy_j_mm(one.recipe, machine.power_w) for one in used]
    at_nearest = line_energy_j_mm(nearest.recipe, machine.power_w)
    if process != "cut":
        several = len(energies) > 1
        low, high = (min(energies), max(energies)) if several else (None, None)
        return "nearest", LineEnergy(at_nearest, low, high)
    thicknesses = [one.thickness_mm for one in used]
    if len(set(thicknesses)) < 2:
        mean = sum(energies) / len(energies)
        return "proportion", in_proportion(thicknesses[0], mean, material.thickness_mm)
    try:
        return "line", along_line(thicknesses, energies, material.thickness_mm)
    except ValueError:
        raise _contradict(material, machine, used) from None


def _recipe(material: Material, machine: Machine, nearest: Neighbour, energy: LineEnergy) -> Recipe:
    """The nearest recipe with the energy changed by its speed, or by its power at the fastest."""
    near = nearest.recipe
    ratio = energy.j_mm / line_energy_j_mm(near, machine.power_w)
    speed, power = near.speed_mm_s / ratio, near.power
    fastest = min(machine.cutting.speed_mm_s)
    if near.process == "cut" and speed > fastest:
        speed, power = fastest, power * fastest / speed
    changed: dict[str, object] = {
        "speed_mm_s": _rounded_down(speed),
        "power": round(power, 3),
        "status": RecipeStatus.UNTESTED,
        "tested_on": None,
        "tested_by": None,
    }
    if near.process != "cut":
        changed |= {"speed_mm_s": near.speed_mm_s, "power": near.power}
    thinner = min(material.thickness_mm / nearest.thickness_mm, 1.0)
    if near.focus_step_mm:
        # rounded up, the last pass could be focused below the sheet
        changed["focus_step_mm"] = math.floor(near.focus_step_mm * thinner * 1000.0) / 1000.0
    return near.model_copy(update=changed)


def _rounded_down(speed_mm_s: float) -> float:
    """To three figures, and never faster than it was."""
    digits = 2 - math.floor(math.log10(speed_mm_s))
    step = 10.0**-digits
    return round(math.floor(speed_mm_s / step + 1e-9) * step, max(digits, 0))


def _trial(machine: Machine, recipe: Recipe, energy: LineEnergy) -> Trial:
    """Speeds and powers that span where the recipe may lie, and no more than is sensible."""
    least = TRIED_LOW if energy.low_j_mm is None else energy.low_j_mm / energy.j_mm
    most = TRIED_HIGH if energy.high_j_mm is None else energy.high_j_mm / energy.j_mm
    least = min(max(least, TRIED_LEAST), TRIED_LOW)
    most = max(min(most, TRIED_MOST), TRIED_HIGH)
    fastest = (
        min(machine.cutting.speed_mm_s)
        if recipe.process in {"cut", "score"}
        else machine.scanning.speed_mm_s[0]
    )
    slow = float(f"{recipe.speed_mm_s / most:.3g}")
    fast = min(float(f"{recipe.speed_mm_s / least:.3g}"), fastest)
    return Trial((round(recipe.power * 0.85, 3), round(recipe.power, 3)), (slow, fast))


def _remarks(
    material: Material,
    way: Way,
    used: Sequence[Neighbour],
    nearest: Neighbour,
    recipe: Recipe,
    left_out: int,
) -> list[str]:
    said = ["This is where a trial piece begins, not a setting to work with; nobody has burned it."]
    if way == "proportion":
        said.append(
            "Only one thickness is tested, so that the energy is taken to grow in proportion; how "
            "far off that is, nothing here can tell."
        )
    if way == "line" and len(used) == 2:
        said.append("Two recipes make a line and leave no range: nobody knows how far off it is.")
    if way == "nearest":
        said.append(
            "Marks stay on the surface, so that the settings of the nearest thickness are taken "
            "over as they are; a thin sheet may be burned through."
        )
    wanted = [one.thickness_mm for one in used]
    if way == "line" and not min(wanted) <= material.thickness_mm <= max(wanted):
        said.append("The thickness lies outside those that are tested.")
    width = {"cut": "kerf_mm", "engrave": "interval_mm", "photo": "interval_mm"}
    if recipe.process in width:
        said.append(
            f"{width[recipe.process]} is that of {nearest.thickness_mm:g} mm and is still to be "
            "measured."
        )
    if left_out:
        said.append(
            f"{number_of(left_out, 'tested recipe')} of another rated power of the laser "
            f"{'was' if left_out == 1 else 'were'} left out."
        )
    return said


def _tested_already(
    material: Material, machine: Machine, process: str, present: Recipe
) -> KerfwrightError:
    return KerfwrightError(
        "recipes/tested-already",
        file=material.name,
        thing=f'there is a {present.status.value} {process} recipe for "{machine.name}" already.',
        remedy="Use that one. To try others, burn a trial piece: kerfwright calibrate power.",
    )


def _no_neighbour(
    material: Material,
    machine: Machine,
    process: str,
    neighbours: Sequence[Neighbour],
    left_out: int,
) -> KerfwrightError:
    untested = [
        one
        for one in neighbours
        if one.recipe.machine == machine.name
        and one.recipe.process == process
        and one.recipe.status is RecipeStatus.UNTESTED
        and (one.material, one.thickness_mm) != (material.name, material.thickness_mm)
    ]
    if left_out:
        why = (
            f" {number_of(left_out, 'recipe')} of that kind "
            f"{'was' if left_out == 1 else 'were'} tested when the laser had another rated power."
        )
    elif untested:
        count = len(untested)
        why = f" There {'is' if count == 1 else 'are'} {count} that nobody has tested."
    else:
        why = ""
    return KerfwrightError(
        "recipes/no-neighbour",
        file=material.name,
        thing=f'no tested {process} recipe for "{machine.name}" is known for another thickness of '
        f'"{material.kind}".{why}',
        remedy="Give the other thicknesses' material files the same kind, and --also FILE for "
        "those that no plan was made with; or begin a power piece from what the machine's manual "
        "and the material's supplier allow.",
    )


def _contradict(material: Material, machine: Machine, used: Sequence[Neighbour]) -> KerfwrightError:
    told = ", ".join(
        f"{one.thickness_mm:g} mm {line_energy_j_mm(one.recipe, machine.power_w):.3g} J/mm"
        for one in sorted(used, key=lambda one: one.thickness_mm)
    )
    return KerfwrightError(
        "recipes/neighbours-contradict",
        file=material.name,
        thing=f"the tested recipes do not take more energy where the sheet is thicker: {told}.",
        remedy="Look whether they are of one kind, and tested for the same result; a kind may be "
        "told apart further, by glue or by maker.",
    )
