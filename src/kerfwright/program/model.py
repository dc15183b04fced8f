"""A machine program as it was understood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from kerfwright.toolpath import Toolpath


@dataclass(frozen=True, eq=False, slots=True)
class Program:
    """Moves of a program, and what was seen on the way; line numbers count from 1.

    Rapid moves are ``TRAVEL``, other moves ``CUT`` with the beam on and ``RUN_UP`` with the beam
    off, since a program does not say what its burns are for. ``power`` is the real one: a rapid
    move with the beam on has a power above 0. Moves without length are left out. A wait with the
    beam on just before a burn is a pierce, kept with that move (``dwell_s``).
    """

    name: str
    toolpath: Toolpath
    line_of_move: npt.NDArray[np.int64]
    """Line of every move, shape (n,)."""
    air_of_move: npt.NDArray[np.bool_]
    """Whether the air was on (M7, M8) during every move, shape (n,)."""
    lines: int
    """How many lines were read."""
    modes: tuple[str, ...]
    """Beam modes in the order of their first use: M3, M4; without those that only pierced."""
    ended: bool
    """Whether M2 or M30 was reached."""
    beam_on_at_end: bool
    """Whether M3 or M4 was still in force there (or where the file stops)."""
    off_before_motion: bool
    """Whether the program itself said M5 or S0 before anything moved."""
    units: Literal["mm", "inch"] | None
    """Units that the program had set before anything moved."""
    distance: Literal["absolute", "relative"] | None
    """Distance mode that the program had set before anything moved."""
    unplaced_burn_line: int | None
    """First burn that starts before the program has said where the beam is, in x and in y."""
    unfocused_burn_line: int | None
    """First burn that starts before the program has said where the z axis is."""
    standing_burn_lines: tuple[int, ...]
    """Waits, pauses and moves of z alone with the beam on."""
    pierce_lines: tuple[int, ...]
    """Those of them that are pierces: a burn follows from the same place at the same power."""
    slanted_burn_lines: tuple[int, ...]
    """Burns along which the head goes up or down."""
    skipped_lines: tuple[int, ...]
    """Lines behind a block delete sign; they are not followed."""
    uneven_arc: tuple[int, float] | None
    """The arc whose ends lie most unequally far from its centre: its line, and by how many mm."""
    dwell_s: float
    """Seconds of all G4 but the pierces."""
    pauses: int
    """How often the program waits for the operator (M0, M1, M60)."""
    z_moves: int
    """Moves of the z axis alone."""
    end_z_mm: float
    """Where the z axis is at the end; it counts from where it is at the start."""
    air_on_at_end: bool
    """Whether the air was still on there."""
    notes: tuple[str, ...]
    """Words that were passed over."""

    @property
    def mode(self) -> str | None:
        """First beam mode used, if any."""
        return self.modes[0] if self.modes else None

    @property
    def bounds_mm(self) -> tuple[float, float, float, float] | None:
        """Smallest x and y, largest x and y that any move ends at; nothing for no moves."""
        if len(self.toolpath) == 0:
            return None
        ends = self.toolpath.points[1:]
        low, high = ends.min(axis=0), ends.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])
