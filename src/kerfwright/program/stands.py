"""What a program does besides moving in the plane: pierces, focus, air."""

from __future__ import annotations

import numpy as np

from kerfwright.plan import PlannedSheet
from kerfwright.program.burned import PROCESSES, Assigned, Burns, Widths
from kerfwright.program.model import Program
from kerfwright.program.near import BoolArray
from kerfwright.program.telling import DOING, more, place
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Process

PIERCE_TOLERANCE_S = 0.002
"""Words of seconds have three decimals."""


def stand_faults(
    program: Program,
    burns: Burns,
    assigned: Assigned,
    sheet: PlannedSheet,
    machine: Machine,
    widths: Widths,
) -> list[str]:
    """Tell of wrong pierces, focus steps and air."""
    return [
        *_pierce_faults(program, burns, assigned, sheet),
        *_focus_faults(program, burns, assigned, sheet, widths),
        *_air_faults(program, burns, assigned, sheet, machine),
    ]


def _pierce_faults(
    program: Program, burns: Burns, assigned: Assigned, sheet: PlannedSheet
) -> list[str]:
    """Every cut that a travel leads to is pierced as long as the recipe says, nothing else is."""
    faults: list[str] = []
    recipe = sheet.recipes.get(Process.CUT)
    pierce_s = recipe.pierce_s if recipe is not None else 0.0
    moves = program.toolpath.moves
    seconds = moves["dwell_s"][burns.move]
    cut = assigned.by(Process.CUT)
    wrong = (seconds > 0.0) & ~(cut & (np.abs(seconds - pierce_s) <= PIERCE_TOLERANCE_S))
    wrong |= (seconds > 0.0) & _within_a_cut(program, burns)
    if wrong.any():
        first = wrong.argmax()
        faults.append(
            f"Line {burns.line[first]}: waits with the beam on for {seconds[first]:g} s, near "
            f"{place(*burns.ends[first, :2])}, where the recipe says "
            f"{f'{pierce_s:g} s and only where a cut begins' if pierce_s else 'not to wait'}"
            f"{more(int(wrong.sum()))}."
        )
    entered = cut & _after_travel(program, burns)
    unpierced = entered & (seconds == 0.0)
    if pierce_s > 0.0 and unpierced.any():
        first = unpierced.argmax()
        faults.append(
            f"Line {burns.line[first]}: a cut begins without its pierce of {pierce_s:g} s, near "
            f"{place(*burns.ends[first, :2])}{more(int(unpierced.sum()))}."
        )
    return faults


def _after_travel(program: Program, burns: Burns) -> BoolArray:
    kinds = np.append([MoveKind.TRAVEL], program.toolpath.moves["kind"])
    return np.asarray(kinds[burns.move] == MoveKind.TRAVEL)


def _within_a_cut(program: Program, burns: Burns) -> BoolArray:
    """Whether a burn goes on smoothly from the burn before it: nothing begins there."""
    steps = burns.ends[:, 2:] - burns.ends[:, :2]
    lengths = np.maximum(np.hypot(*steps.T), 1e-12)
    cosine = (steps[1:] * steps[:-1]).sum(axis=1) / (lengths[1:] * lengths[:-1])
    goes_on = (np.diff(burns.move) == 1) & (cosine > 0.9)
    same_height = np.diff(program.toolpath.moves["z_mm"][burns.move]) == 0.0
    return np.append([False], goes_on & same_height)[: len(burns)]


def _focus_faults(
    program: Program, burns: Burns, assigned: Assigned, sheet: PlannedSheet, widths: Widths
) -> list[str]:
    """The focus is on the surface but for cuts in steps, which only go down from pass to pass."""
    faults: list[str] = []
    slack = widths.rounding_mm
    if program.slanted_burn_lines:
        faults.append(f"Line {program.slanted_burn_lines[0]}: burns while the focus moves.")
    moves = program.toolpath.moves
    if program.unfocused_burn_line is not None and (np.abs(moves["z_mm"]) > slack).any():
        faults.append(
            f"Line {program.unfocused_burn_line}: burns before the program has set the focus, "
            "which it moves later, to the surface."
        )
    travel = np.flatnonzero((moves["kind"] == MoveKind.TRAVEL) & (np.abs(moves["z_mm"]) > slack))
    if len(travel):
        faults.append(
            f"Line {program.line_of_move[travel[0]]}: travels with the focus at "
            f"z {moves['z_mm'][travel[0]]:g} mm instead of 0{more(len(travel))}."
        )
    if abs(program.end_z_mm) > slack:
        faults.append(
            f"Line {program.lines}: the focus is left at z {program.end_z_mm:g} mm instead of 0."
        )
    recipe = sheet.recipes.get(Process.CUT)
    step = recipe.focus_step_mm if recipe is not None else 0.0
    passes = recipe.passes if recipe is not None else 1
    heights = moves["z_mm"][burns.move]
    level = np.rint(-heights / step) if step > 0.0 else np.zeros(len(burns))
    right = np.abs(heights + level * step) <= slack
    right &= (level >= 0) & (level < passes)
    right &= assigned.by(Process.CUT) | (level == 0)
    # every pass of a cut is burned deeper than the one before; the next cut begins on the surface
    rises = (np.diff(heights) > slack) & ~_after_travel(program, burns)[1:] & (level[1:] > 0)
    right[1:] &= ~rises
    wrong = np.flatnonzero(~right)
    if len(wrong):
        first = wrong[0]
        faults.append(
            f"Line {burns.line[first]}: burns with the focus at z {heights[first]:g} mm, near "
            f"{place(*burns.middles[first])}, where it does not belong"
            f"{more(len(wrong))}."
        )
    return faults


def _air_faults(
    program: Program, burns: Burns, assigned: Assigned, sheet: PlannedSheet, machine: Machine
) -> list[str]:
    """The air blows during what its recipe says, if the controller can switch it, and no longer."""
    faults: list[str] = []
    on = program.air_of_move[burns.move]
    for process in PROCESSES:
        recipe = sheet.recipes.get(process)
        if recipe is None:
            continue
        wanted = recipe.air and bool(machine.controller.air_on)
        wrong = np.flatnonzero(assigned.by(process) & (on != wanted))
        if len(wrong):
            faults.append(
                f"Line {burns.line[wrong[0]]}: a {DOING[process]} is burned with the air "
                f"{'off' if wanted else 'on'}{more(len(wrong))}."
            )
    if program.air_on_at_end and machine.controller.air_off:
        faults.append(f"Line {program.lines}: the air is not switched off (M9) at the end.")
    return faults
