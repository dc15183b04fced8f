"""The program of a trial piece: every step proven as sheets are, then all of them joined."""

from __future__ import annotations

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.output.gcode import program_text
from kerfwright.program.interpreter import interpret
from kerfwright.program.model import Program
from kerfwright.program.verify import verify
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind
from kerfwright.trials.model import PlannedTrial


class UnprovenTrialError(Exception):
    """A trial piece's program that did not read back as what it is; nothing was written."""

    def __init__(self, program: str, faults: tuple[str, ...]) -> None:
        self.program = program
        self.faults = faults
        super().__init__(f"{program}: {'; '.join(faults)}")


def proven_program(trial: PlannedTrial, name: str) -> str:
    """Return the program, read back and proven; ``name`` is its file's.

    Each step has recipes of its own, so each is written and proven by itself. The joined program
    must then burn what the steps burn, in their order and nothing else.

    Raises:
        UnprovenTrialError: a step or the joined program is not proven.
    """
    machine = trial.machine
    burned = []
    for step in trial.steps:
        read_back = interpret(program_text(step, machine).splitlines(), machine, name)
        faults = verify(read_back, step, machine)
        if faults:
            raise UnprovenTrialError(
                name, tuple(f"Step {step.number}: {fault}" for fault in faults)
            )
        burned.append(burns(read_back))
    text = program_text(trial.sheet, machine)
    faults = joined_faults(interpret(text.splitlines(), machine, name), burned, machine)
    if faults:
        raise UnprovenTrialError(name, faults)
    return text


def burns(program: Program) -> FloatArray:
    """Every burn of a program: start and end in mm, speed and power; shape (n, 6)."""
    toolpath = program.toolpath
    points, moves = toolpath.points, toolpath.moves
    on = moves["power"] > 0.0
    settings = np.column_stack([moves["speed_mm_s"], moves["power"]])
    return np.hstack([points[:-1], points[1:], settings])[on]


def joined_faults(program: Program, burned: list[FloatArray], machine: Machine) -> tuple[str, ...]:
    """What is wrong with a joined program; nothing means that it burns the steps in turn."""
    faults = []
    moves = program.toolpath.moves
    if program.beam_on_at_end or not program.off_before_motion or not program.ended:
        faults.append("The program does not begin and end with the beam off.")
    if program.standing_burn_lines or program.unplaced_burn_line is not None:
        faults.append("The program burns where the beam stands still or nobody knows where it is.")
    if ((moves["kind"] == MoveKind.TRAVEL) & (moves["power"] > 0.0)).any():
        faults.append("The beam is on in a rapid move.")
    if program.units != "mm" or program.distance != "absolute":
        faults.append("The program does not set millimetres and absolute positions.")
    bed = (machine.bed_width_mm, machine.bed_height_mm)
    if ((program.toolpath.points < 0.0) | (program.toolpath.points > bed)).any():
        faults.append("The program leaves the bed.")
    found, wanted = burns(program), np.vstack(burned)
    if found.shape != wanted.shape or not np.allclose(found, wanted, rtol=0.0, atol=1e-9):
        faults.append("The program does not burn the steps in their order.")
    return tuple(faults)
