"""Timed runs as programs that never burn, with a sheet to write their seconds on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import tomlkit

from kerfwright.motion.run_choice import Design
from kerfwright.motion.timed_runs import ROUNDS, toolpath_of
from kerfwright.output.gcode import beam_off_lines
from kerfwright.output.gcode_header import minutes
from kerfwright.output.gcode_numbers import FEED_DECIMALS
from kerfwright.output.pages import render
from kerfwright.output.whole_file import write_new_files
from kerfwright.program.interpreter import interpret
from kerfwright.program.model import Program
from kerfwright.shop.machine import Machine
from kerfwright.shop.readings import PROGRAM_ENDING, READINGS_FILE, RUNS_FILE
from kerfwright.shop.timed_run import TimedRun
from kerfwright.toolpath import MoveKind, Toolpath

SHEET_FILE = "timing.html"

SHOWN = 0.15
"""Share of a time that a number must have to be named on the sheet."""

CAUTIONS = (
    "The beam stays off: this program never switches it on.",
    "The gantry moves as fast as it can. Lid closed, bed empty, hands away.",
    "Stay with it. Stop it if it strikes, stalls or skips.",
    "The manual of the machine and local rules come before this file.",
)


class BurningRunError(Exception):
    """A timed run that did not read back as what it is; nothing was kept."""

    def __init__(self, program: str, faults: tuple[str, ...]) -> None:
        self.program = program
        self.faults = faults
        super().__init__(f"{program}: {'; '.join(faults)}")


def write_runs(design: Design, machine: Machine, folder: Path) -> tuple[Path, ...]:
    """Write programs, ``programs.toml``, ``readings.toml`` and the sheet; return the programs.

    Each program is read back and proven to keep the beam off before anything is written.

    Raises:
        BurningRunError: a program is not proven.
        KerfwrightError: one of the files is there already, or the folder cannot be written.
    """
    texts = {
        f"{run.name}{PROGRAM_ENDING}": _proven_text(design, machine, i)
        for i, run in enumerate(design.runs.runs)
    }
    programs = tuple(folder / name for name in texts)
    texts |= {
        RUNS_FILE: _runs_text(design),
        READINGS_FILE: _readings_text(design),
        SHEET_FILE: timing_sheet(design, machine),
    }
    write_new_files(folder, {name: text.encode() for name, text in texts.items()})
    return programs


def run_program(
    run: TimedRun, start_mm: tuple[float, float], machine: Machine, shows: str, seconds: float
) -> str:
    """The program of a run."""
    about = [
        ("Timed run", run.name),
        ("Machine", machine.name),
        ("Shows", shows),
        ("Time", f"about {minutes(seconds)} with the present machine file"),
        ("Start and end", f"x {start_mm[0]:g} mm, y {start_mm[1]:g} mm"),
        *(("Caution", caution) for caution in CAUTIONS),
    ]
    lines = beam_off_lines(toolpath_of(run, start_mm), machine, about)
    return "".join(f"{line}\n" for line in lines)


def beam_off_faults(
    program: Program, run: TimedRun, start_mm: tuple[float, float], machine: Machine
) -> tuple[str, ...]:
    """What is wrong with a program that was read back; nothing means that it is the run."""
    moves = program.toolpath.moves
    faults = []
    if moves["power"].any() or program.modes or program.standing_burn_lines:
        faults.append("The beam is switched on.")
    if program.beam_on_at_end or not program.off_before_motion or not program.ended:
        faults.append("The program does not begin and end with the beam off.")
    if program.units != "mm" or program.distance != "absolute":
        faults.append("The program does not set millimetres and absolute positions.")
    wanted = toolpath_of(run, start_mm)
    # the program comes from anywhere to the start first
    if len(moves) != len(wanted) + 1 or not _alike(program.toolpath, wanted):
        faults.append("The program does not make the moves of the run.")
    bed = (machine.bed_width_mm, machine.bed_height_mm)
    if ((program.toolpath.points < 0.0) | (program.toolpath.points > bed)).any():
        faults.append("The program leaves the bed.")
    return tuple(faults)


def shown_by(design: Design, run: int) -> str:
    """What a run shows, in words: the numbers that matter most to its time."""
    shares = np.abs(design.sensitivity[run])
    order = [j for j in np.argsort(-shares) if shares[j] >= SHOWN]
    names = [design.parameters[j].name for j in order]
    return ", ".join(names[:4]) if names else "the controller's rule for corners and curves"


def timing_sheet(design: Design, machine: Machine) -> str:
    """The sheet to print: what to do, the programs and room for their seconds."""
    rows = [
        {
            "name": run.name,
            "shows": shown_by(design, i),
            "seconds": f"{design.seconds[i]:.0f} s",
            "moves": _moves_words(run),
        }
        for i, run in enumerate(design.runs.runs)
    ]
    untold = [parameter.name for parameter in design.untold]
    start = "x {:g} mm, y {:g} mm".format(*design.runs.start_mm)
    return render(
        "timing.html",
        machine=machine,
        rows=rows,
        start=start,
        untold=untold,
        total_s=float(design.seconds.sum()),
        readings_file=READINGS_FILE,
    )


def _proven_text(design: Design, machine: Machine, i: int) -> str:
    run = design.runs.runs[i]
    start = design.runs.start_mm
    text = run_program(run, start, machine, shown_by(design, i), float(design.seconds[i]))
    faults = beam_off_faults(interpret(text.splitlines(), machine, run.name), run, start, machine)
    if faults:
        raise BurningRunError(f"{run.name}{PROGRAM_ENDING}", faults)
    return text


def _alike(program: Toolpath, wanted: Toolpath) -> bool:
    """Whether the moves after the first are the wanted ones: places, speeds, travel or not."""
    near = 0.6 * 10.0**-2
    read = program.moves[1:]
    travel = wanted.moves["kind"] == MoveKind.TRAVEL
    speed_off = np.abs(read["speed_mm_s"] - wanted.moves["speed_mm_s"]) * 60.0
    return bool(
        np.abs(program.points[1:] - wanted.points).max() < near
        and np.array_equal(read["kind"] == MoveKind.TRAVEL, travel)
        and (speed_off[~travel] < 10.0**-FEED_DECIMALS).all()
    )


def _moves_words(run: TimedRun) -> str:
    size = f"{run.length_mm:g} mm"
    axis = {"x": "left and right", "y": "up and down the bed"}[run.along]
    return {
        "strokes": f"{size} forth and back, {axis}, {run.repeats} times",
        "settle": f"a travel of {size} and back slowly, {run.repeats} times",
        "zigzag": f"{run.count} teeth of {size}, turning {run.turn_deg:g}°, and back, "
        f"{run.repeats} times",
        "stairs": f"{run.count} steps of {size}, right and up in turn, and back, "
        f"{run.repeats} times",
        "pieces": f"a line of {run.count} moves of {size}, {axis}, {run.repeats} times",
        "loops": f"circles of {size} radius, {ROUNDS} at a time, {run.repeats} times",
    }[run.shape]


def _runs_text(design: Design) -> str:
    document = tomlkit.document()
    document.add(tomlkit.comment("What each program does. Keep this file beside the readings."))
    document.update(design.runs.model_dump(mode="json", exclude={"runs"}))
    blocks = tomlkit.aot()
    for run in design.runs.runs:
        block = tomlkit.table()
        block.update(run.model_dump(mode="json"))
        blocks.append(block)
    document.append("runs", blocks)
    return tomlkit.dumps(document)


def _readings_text(design: Design) -> str:
    lines = [
        "# Seconds of each program, from the first movement to standstill: all times of a program",
        "# between its brackets, such as [29.7, 29.9, 29.6]. Three each are best.",
    ]
    for i, run in enumerate(design.runs.runs):
        lines += [
            "",
            "[[readings]]",
            f'program = "{run.name}"',
            f"seconds = []  # about {design.seconds[i]:.0f}; shows {shown_by(design, i)}",
        ]
    return "".join(f"{line}\n" for line in lines)
