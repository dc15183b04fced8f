"""Tells the rows of an engraving from other burns, in a program that does not say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from kerfwright.engraving.burn import STEEPEST_SLANT
from kerfwright.program.model import Program
from kerfwright.toolpath import MoveKind, Toolpath

COLLINEAR_MM = 0.003
"""How far a row's moves may stray from its direction: rounding of both ends to 0.001 mm."""


def classify(program: Program) -> Program:
    """Return the program with every burn of an engraving row marked ``ROW``.

    A row is a straight run of burns that begins and ends with the beam off at burning speed.
    The clock then counts it with the accelerations of the machine's rows.
    """
    moves = program.toolpath.moves
    if len(moves) == 0:
        return program
    burn = program.toolpath.burning
    fed = moves["kind"] != MoveKind.TRAVEL
    first = np.flatnonzero(~_runs_on(program.toolpath, fed))
    last = np.append(first[1:], len(moves)) - 1
    run_up = moves["kind"] == MoveKind.RUN_UP
    is_row = run_up[first] & run_up[last] & (np.add.reduceat(burn, first, dtype=np.int64) > 0)
    in_row = np.repeat(is_row, last - first + 1)
    marked = moves.copy()
    marked["kind"][in_row & burn] = MoveKind.ROW
    return replace(program, toolpath=Toolpath(marked, program.toolpath.start_mm))


def _runs_on(toolpath: Toolpath, fed: np.ndarray) -> np.ndarray:
    """Whether each move runs on from the one before it, both at burning speed.

    Burns run straight on; a run-up may lean towards the row before it or after it.
    """
    steps = np.diff(toolpath.points, axis=0)
    length = toolpath.lengths_mm
    before, after = steps[:-1], steps[1:]
    cross = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    onward = (before * after).sum(axis=1) > 0.0
    straight = cross <= COLLINEAR_MM * np.maximum(length[:-1], length[1:])
    off = toolpath.moves["kind"] == MoveKind.RUN_UP
    straight |= (off[:-1] != off[1:]) & (cross <= STEEPEST_SLANT * length[:-1] * length[1:])
    return np.append([False], fed[:-1] & fed[1:] & onward & straight)
