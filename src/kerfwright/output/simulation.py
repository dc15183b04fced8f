"""What a program takes on a machine: time, length, speed and energy, as a document."""

from __future__ import annotations

from typing import Annotated, Any

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from kerfwright.findings import number_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.causes import Cause, causes_s
from kerfwright.motion.line_energy import peak_line_energy
from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.motion.trace import Trace, trace_of
from kerfwright.program.model import Program
from kerfwright.shop.machine import Dialect, Machine
from kerfwright.toolpath import MoveKind

KIND_NAMES = {
    MoveKind.TRAVEL: "travel",
    MoveKind.RUN_UP: "beam off at burning speed",
    MoveKind.ROW: "rows",
    MoveKind.CUT: "lines and loops",
}
"""All that a program tells of its moves: which burn in rows, and not what a burn is for."""

WAITS_OF_PROGRAM = "waits that the program asks for (G4)"

Share = Annotated[float, Field(ge=0.0)]


class Record(BaseModel):
    """A table of the document."""

    model_config = ConfigDict(frozen=True, use_attribute_docstrings=True)


class MovesRecord(Record):
    """Moves of one sort, together."""

    moves: int
    """How many."""
    length_mm: float
    """How long all of them are."""
    time_s: float
    """Seconds, settling and beam delay before them included."""
    mean_speed_mm_s: float
    """Length over time in motion."""
    energy_j: float
    """What the beam puts out."""


class KindRecord(MovesRecord):
    """Moves of one kind."""

    kind: str
    """What can be told: travel, beam off at burning speed, rows, lines and loops."""


class SettingRecord(MovesRecord):
    """Burns at one power and speed; mostly one process, which a program does not name."""

    power: float
    """Share of full power."""
    speed_mm_s: float
    """Speed that is asked for."""
    line_energy_j_mm: float
    """Energy over length, on average."""


class PeakRecord(Record):
    """The spot's width of line that receives most energy, other lines over it not counted."""

    j_mm: float
    """Energy over the spot's width."""
    x_mm: float
    """Middle of the place."""
    y_mm: float
    """Middle of the place."""
    line: int
    """Line of the program."""


class CauseRecord(Record):
    """A share of the time and why it passes."""

    cause: str
    """Why."""
    time_s: float
    """How long; all causes add up to the whole time."""


class LongestTravel(Record):
    """The travel that takes longest."""

    line: int
    """Line of the program."""
    length_mm: float
    """Length of the travel."""
    time_s: float
    """Seconds with what is waited before it."""


class Simulation(Record):
    """A program timed on a machine. ``time_s`` includes pauses that the program itself asks for."""

    program: str
    """File name."""
    machine: str
    """Name of the machine."""
    lines: int
    """Lines read."""
    moves: int
    """Straight moves; arcs are many."""
    length_mm: float
    """Length of all moves."""
    time_s: float
    """Whole time."""
    burn_s: float
    """Part of it moving with the beam on."""
    travel_s: float
    """Part of it moving with the beam off."""
    wait_s: float
    """Part of it standing still."""
    mean_speed_mm_s: float
    """Length over time in motion."""
    beam_on_share: Share
    """Share of the whole time with the beam on."""
    mean_power_share: Share
    """Mean power over the whole time, as a share of the machine's rated power."""
    energy_j: float
    """What the beam puts out."""
    power_follows_speed: bool
    """Whether the controller lowers the power where it goes slower than asked."""
    peak_line_energy: PeakRecord | None
    """Where a line receives most energy; null where nothing burns."""
    bounds_mm: tuple[float, float, float, float] | None
    """Smallest x and y, largest x and y."""
    kinds: tuple[KindRecord, ...]
    """Time and length of each kind of move."""
    settings: tuple[SettingRecord, ...]
    """Burns by power and speed, those that take longest first."""
    causes: tuple[CauseRecord, ...]
    """What the time goes to."""
    longest_travel: LongestTravel | None
    """The travel that takes longest; null where there is none."""
    notes: tuple[str, ...]
    """What else is to be known of the program."""


def follows_speed(program: Program, machine: Machine) -> bool:
    """Whether power follows speed all through a program: M4 alone, on a controller that knows it.

    M3 is constant power, also on controllers of the GRBL type. Where a program has both, the
    larger energy is counted.
    """
    return machine.controller.dialect is Dialect.GRBL_TYPE and program.modes == ("M4",)


def program_trace(program: Program, machine: Machine) -> Trace:
    """Trace of a program that was read back; waits of the program itself (G4) have no place."""
    follows = follows_speed(program, machine)
    return trace_of(program.toolpath, machine, power_follows_speed=follows)


def simulation(program: Program, machine: Machine, trace: Trace | None = None) -> Simulation:
    """Time a program that was read back; ``trace`` is its trace where it is there already."""
    trace = trace or program_trace(program, machine)
    toolpath = program.toolpath
    times = time_toolpath(toolpath, machine)
    moving_s = times.burn_s + times.travel_s
    time_s = times.total_s + program.dwell_s
    energy_j = float(trace.energy_j.sum())
    length_mm = float(toolpath.lengths_mm.sum())
    moves = _Moves(program, machine, trace)
    return Simulation(
        program=program.name,
        machine=machine.name,
        lines=program.lines,
        moves=len(toolpath),
        length_mm=_rounded(length_mm),
        time_s=_rounded(time_s),
        burn_s=_rounded(times.burn_s),
        travel_s=_rounded(times.travel_s),
        wait_s=_rounded(times.wait_s + program.dwell_s),
        mean_speed_mm_s=_rounded(_over(length_mm, moving_s)),
        beam_on_share=round(_over(times.burn_s, time_s), 4),
        mean_power_share=round(_over(energy_j, time_s * machine.power_w), 4),
        energy_j=_rounded(energy_j),
        power_follows_speed=follows_speed(program, machine),
        peak_line_energy=_peak(program, machine, trace),
        bounds_mm=program.bounds_mm,
        kinds=moves.by_kind(),
        settings=moves.by_setting(),
        causes=_causes(program, machine),
        longest_travel=moves.longest_travel(),
        notes=(*program.notes, *_warnings(program, machine)),
    )


class _Moves:
    """Figures of every move of a program, to be summed up."""

    def __init__(self, program: Program, machine: Machine, trace: Trace) -> None:
        self.line = program.line_of_move
        self.table = program.toolpath.moves
        self.length_mm = program.toolpath.lengths_mm
        self.time_s = move_times_s(program.toolpath, machine)
        count = len(self.table)
        standing = trace.length_mm == 0.0
        waited = np.bincount(trace.move[standing], trace.seconds[standing], count)
        self.moving_s = self.time_s - waited
        self.energy_j = np.bincount(trace.move, trace.energy_j, count)
        self._summed = (self.length_mm, self.time_s, self.moving_s, self.energy_j)

    def by_kind(self) -> tuple[KindRecord, ...]:
        found = []
        for kind, name in KIND_NAMES.items():
            of_kind = self.table["kind"] == kind
            if of_kind.any():
                sums = (float(values[of_kind].sum()) for values in self._summed)
                moves = int(np.count_nonzero(of_kind))
                found.append(KindRecord(kind=name, **_moves_fields(moves, *sums)))
        return tuple(found)

    def by_setting(self) -> tuple[SettingRecord, ...]:
        burning = np.flatnonzero(self.table["power"] > 0.0)
        settings, group = np.unique(
            np.column_stack([self.table["power"][burning], self.table["speed_mm_s"][burning]]),
            axis=0,
            return_inverse=True,
        )
        group = group.ravel()
        summed = [np.bincount(group, values[burning], len(settings)) for values in self._summed]
        counts = np.bincount(group, minlength=len(settings))
        order = np.argsort(-summed[1], kind="stable").tolist()
        return tuple(
            SettingRecord(
                power=round(float(settings[i, 0]), 6),
                speed_mm_s=_rounded(settings[i, 1]),
                line_energy_j_mm=round(_over(summed[3][i], summed[0][i]), 6),
                **_moves_fields(int(counts[i]), *(values[i] for values in summed)),
            )
            for i in order
        )

    def longest_travel(self) -> LongestTravel | None:
        travels = np.flatnonzero(self.table["kind"] == MoveKind.TRAVEL)
        if len(travels) == 0:
            return None
        longest = travels[np.argmax(self.time_s[travels])]
        return LongestTravel(
            line=int(self.line[longest]),
            length_mm=_rounded(self.length_mm[longest]),
            time_s=_rounded(self.time_s[longest]),
        )


def _moves_fields(
    moves: int, length_mm: float, time_s: float, moving_s: float, energy_j: float
) -> dict[str, Any]:
    return {
        "moves": moves,
        "length_mm": _rounded(length_mm),
        "time_s": _rounded(time_s),
        "mean_speed_mm_s": _rounded(_over(length_mm, moving_s)),
        "energy_j": _rounded(energy_j),
    }


def _peak(program: Program, machine: Machine, trace: Trace) -> PeakRecord | None:
    peak = peak_line_energy(trace, program.toolpath, machine.spot_mm)
    if peak is None:
        return None
    return PeakRecord(
        j_mm=round(peak.j_mm, 6),
        x_mm=_rounded(peak.x_mm),
        y_mm=_rounded(peak.y_mm),
        line=int(program.line_of_move[peak.move]),
    )


def _causes(program: Program, machine: Machine) -> tuple[CauseRecord, ...]:
    causes: dict[str, float] = {
        cause.value: seconds
        for cause, seconds in causes_s(program.toolpath, machine).items()
        if seconds != 0.0 or cause is Cause.SPEED
    }
    if program.dwell_s > 0.0:
        causes[WAITS_OF_PROGRAM] = program.dwell_s
    return tuple(CauseRecord(cause=name, time_s=_rounded(s)) for name, s in causes.items())


def _warnings(program: Program, machine: Machine) -> tuple[str, ...]:
    standing = program.standing_burn_lines
    focus_timed = machine.focus_speed_mm_s is not None
    mixed = machine.controller.dialect is Dialect.GRBL_TYPE and len(program.modes) > 1
    warnings = {
        "The beam is still on where the program ends.": program.beam_on_at_end,
        "The program does not say where it ends (M2 or M30).": not program.ended,
        f"Not timed: {number_of(program.pauses, 'pause')} for the operator.": program.pauses > 0,
        f"Not timed: {number_of(program.z_moves, 'move')} of the Z axis; the machine file has no "
        "focus_speed_mm_s.": program.z_moves > 0 and not focus_timed,
        "The program's own waits (G4) are in the whole time, but not in its trace or picture, "
        "since they move nothing.": program.dwell_s > 0.0,
        f"The beam burns while the machine stands still in {number_of(len(standing), 'place')}, "
        f"first in line {standing[0] if standing else 0}; that energy is not counted.": bool(
            standing
        ),
        "The program uses both M3 and M4; all energy is counted at full power.": mixed,
    }
    return tuple(text for text, holds in warnings.items() if holds)


def _over(value: float, by: float) -> float:
    return float(value) / float(by) if by > 0.0 else 0.0


def _rounded(value: float | FloatArray) -> float:
    return round(float(value), 3) + 0.0
