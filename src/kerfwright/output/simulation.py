"""How long a program takes, for people and as JSON."""

from __future__ import annotations

import numpy as np
from pydantic import BaseModel
from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.findings import number_of
from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.output.text import duration, length, printable
from kerfwright.program.model import Program
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind

NAMES = {
    MoveKind.TRAVEL: "travel",
    MoveKind.RUN_UP: "beam off at burning speed",
    MoveKind.ROW: "rows",
    MoveKind.CUT: "lines and loops",
}


class KindRecord(BaseModel):
    """Time and length of one kind of move."""

    kind: str
    moves: int
    length_mm: float
    time_s: float


class Simulation(BaseModel):
    """A program timed on a machine. ``time_s`` includes pauses that the program itself asks for."""

    program: str
    machine: str
    lines: int
    moves: int
    time_s: float
    burn_s: float
    travel_s: float
    wait_s: float
    bounds_mm: tuple[float, float, float, float] | None
    kinds: tuple[KindRecord, ...]
    notes: tuple[str, ...]


def simulation(program: Program, machine: Machine) -> Simulation:
    """Time a program that was read back."""
    times = time_toolpath(program.toolpath, machine)
    wait_s = times.wait_s + program.dwell_s
    return Simulation(
        program=program.name,
        machine=machine.name,
        lines=program.lines,
        moves=len(program.toolpath),
        time_s=round(times.burn_s + times.travel_s + wait_s, 3),
        burn_s=round(times.burn_s, 3),
        travel_s=round(times.travel_s, 3),
        wait_s=round(wait_s, 3),
        bounds_mm=program.bounds_mm,
        kinds=_kinds(program, machine),
        notes=(*program.notes, *_warnings(program)),
    )


def print_simulation(result: Simulation, console: Console | None = None) -> None:
    """Print a timed program."""
    console = console or Console()
    console.print(Text(printable(result.program), style="bold"))
    console.print(
        f"{duration(result.time_s)} on {printable(result.machine)}: burning "
        f"{duration(result.burn_s)}, beam off {duration(result.travel_s)}, standing "
        f"{duration(result.wait_s)}; {number_of(result.moves, 'move')} in "
        f"{number_of(result.lines, 'line')}",
        markup=False,
        highlight=False,
    )
    if result.bounds_mm is not None:
        x0, y0, x1, y1 = result.bounds_mm
        console.print(
            f"x {x0:.2f} to {x1:.2f} mm, y {y0:.2f} to {y1:.2f} mm\n", markup=False, highlight=False
        )
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    table.add_column("moves")
    for name in ("count", "length", "time"):
        table.add_column(name, justify="right")
    for one in result.kinds:
        table.add_row(one.kind, str(one.moves), length(one.length_mm), duration(one.time_s))
    console.print(table)
    for note in result.notes:
        console.print(Text(printable(note)))


def _kinds(program: Program, machine: Machine) -> tuple[KindRecord, ...]:
    toolpath = program.toolpath
    seconds = move_times_s(toolpath, machine)
    lengths = toolpath.lengths_mm
    found = []
    for kind, name in NAMES.items():
        of_kind = toolpath.moves["kind"] == kind
        if of_kind.any():
            found.append(
                KindRecord(
                    kind=name,
                    moves=int(np.count_nonzero(of_kind)),
                    length_mm=round(float(lengths[of_kind].sum()), 3),
                    time_s=round(float(seconds[of_kind].sum()), 3),
                )
            )
    return tuple(found)


def _warnings(program: Program) -> tuple[str, ...]:
    warnings = {
        "The beam is still on where the program ends.": program.beam_on_at_end,
        "The program does not say where it ends (M2 or M30).": not program.ended,
        f"Not timed: {number_of(program.pauses, 'pause')} for the operator.": program.pauses > 0,
        f"Not timed: {number_of(program.z_moves, 'move')} of the Z axis.": program.z_moves > 0,
    }
    return tuple(text for text, holds in warnings.items() if holds)
