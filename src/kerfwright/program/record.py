"""What a followed program has done so far: its moves, and what was seen between them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from kerfwright.program.model import Program
from kerfwright.toolpath import MOVE_DTYPE, MoveKind, Toolpath

Point = tuple[float, float]
Row = tuple[float, float, float, float, int, int, float, float]

RAPID = 0
"""The motion G0, in tenths as all codes."""


@dataclass(frozen=True, slots=True)
class Frame:
    """How a program begins and ends, as :class:`Program` has it."""

    off_before_motion: bool
    units: Literal["mm", "inch"] | None
    distance: Literal["absolute", "relative"] | None
    ended: bool
    beam_on_at_end: bool
    air_on_at_end: bool
    end_z_mm: float


@dataclass(slots=True)
class _Pierce:
    """A wait with the beam on that no move has followed yet."""

    line: int
    seconds: float
    power: float


@dataclass(slots=True)
class Record:
    """Collects moves and stands; the follower tells it what happens in the program's order."""

    rows: list[Row] = field(default_factory=list)
    row_lines: list[int] = field(default_factory=list)
    row_air: list[bool] = field(default_factory=list)
    modes: list[str] = field(default_factory=list)
    standing_burns: list[int] = field(default_factory=list)
    pierces: list[int] = field(default_factory=list)
    slanted_burns: list[int] = field(default_factory=list)
    skipped: list[int] = field(default_factory=list)
    unplaced_burn_line: int | None = None
    unfocused_burn_line: int | None = None
    uneven_arc: tuple[int, float] | None = None
    dwell_s: float = 0.0
    pauses: int = 0
    z_moves: int = 0
    notes: dict[str, int] = field(default_factory=dict)
    _mode: str | None = None
    _mode_pierced: bool = False
    _pierce: _Pierce | None = None

    def mode(self, mode: str | None) -> None:
        """The beam's mode is set, or the beam is switched off.

        A mode that lasts for a pierce and no longer is not the program's mode.
        """
        if not self._mode_pierced:
            self._settle_mode()
        self._mode, self._mode_pierced = mode, False
        if mode is None:
            self._stood()

    def _settle_mode(self) -> None:
        if self._mode is not None and self._mode not in self.modes:
            self.modes.append(self._mode)
        self._mode = None

    def wait(self, line: int, seconds: float, power: float, *, may_pierce: bool) -> None:
        """The machine waits; ``power`` is what burns meanwhile."""
        if power > 0.0 and may_pierce:
            self._mode_pierced = True
            if self._pierce is None or self._pierce.power != power:
                self._stood()
                self._pierce = _Pierce(line, 0.0, power)
                self.standing_burns.append(line)
            self._pierce.seconds += seconds
            return
        self.dwell_s += seconds
        if power > 0.0:
            self.standing_burns.append(line)

    def _stood(self) -> None:
        """The wait with the beam on was no pierce: no burn at its power followed."""
        if self._pierce is not None:
            self.dwell_s += self._pierce.seconds
            self._pierce = None

    def height(self, line: int, power: float) -> None:
        """The z axis has moved alone."""
        self._settle_mode()
        self._stood()
        self.z_moves += 1
        if power > 0.0:
            self.standing_burns.append(line)

    def move(
        self, line: int, end: Point, start: Point, z: tuple[float, float], *, air: bool,
        speed: float, power: float, kind: MoveKind,
    ) -> None:  # fmt: skip
        """Note a straight move; one without length leaves nothing but a pierce before it."""
        self._settle_mode()
        if power > 0.0 and z[0] != z[1]:
            self.slanted_burns.append(line)
        if end == start:
            return
        seconds = 0.0
        if self._pierce is not None:
            if kind is MoveKind.CUT and power == self._pierce.power:
                seconds = self._pierce.seconds
                self.pierces.append(self._pierce.line)
                self._pierce = None
            else:
                self._stood()
        self.rows.append((*end, speed, power, kind, -1, seconds, z[1]))
        self.row_lines.append(line)
        self.row_air.append(air)

    def burn_unplaced(self, line: int, axes: set[str]) -> None:
        """Note a burn before the program has said where these axes are; the first one is kept."""
        if self.unplaced_burn_line is None and not axes.isdisjoint("XY"):
            self.unplaced_burn_line = line
        if self.unfocused_burn_line is None and "Z" in axes:
            self.unfocused_burn_line = line

    def arc(self, line: int, uneven_mm: float) -> None:
        """Note by how much an arc's ends lie unequally far from its centre; the worst is kept."""
        if self.uneven_arc is None or uneven_mm > self.uneven_arc[1]:
            self.uneven_arc = (line, uneven_mm)

    def finish(self) -> None:
        """The program is at its end."""
        self.mode(None)

    def toolpath(self) -> Toolpath:
        """All moves."""
        return Toolpath(np.array(self.rows, dtype=MOVE_DTYPE))

    def program(self, name: str, lines: int, frame: Frame) -> Program:
        """Everything together."""
        return Program(
            name=name,
            lines=lines,
            toolpath=self.toolpath(),
            line_of_move=np.array(self.row_lines, dtype=np.int64),
            air_of_move=np.array(self.row_air, dtype=bool),
            modes=tuple(self.modes),
            ended=frame.ended,
            beam_on_at_end=frame.beam_on_at_end,
            off_before_motion=frame.off_before_motion,
            units=frame.units,
            distance=frame.distance,
            unplaced_burn_line=self.unplaced_burn_line,
            unfocused_burn_line=self.unfocused_burn_line,
            standing_burn_lines=tuple(sorted(self.standing_burns)),
            pierce_lines=tuple(self.pierces),
            slanted_burn_lines=tuple(self.slanted_burns),
            skipped_lines=tuple(self.skipped),
            uneven_arc=self.uneven_arc,
            dwell_s=self.dwell_s,
            pauses=self.pauses,
            z_moves=self.z_moves,
            end_z_mm=frame.end_z_mm,
            air_on_at_end=frame.air_on_at_end,
            notes=tuple(f"line {line}: {what} passed over" for what, line in self.notes.items()),
        )
