"""The moves of a sheet as bytes that a page can show without reading them one by one.

A file begins with 16 bytes: ``KWMV``, the version, the number n of moves, and 0, each a 32 bit
integer. Behind it stand the columns of :data:`COLUMNS`, one after the other, each begun on a
multiple of 8 bytes from the file's beginning; everything is little-endian. ``points`` has n + 1
rows, the first of which is where the toolpath starts; every other column has n.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.trace import Trace, trace_of
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import BurnSource, Process, Toolpath, processes_of

MAGIC = b"KWMV"
VERSION = 1
HEADER = struct.Struct("<4sIII")
ALIGNMENT = 8

TRAVEL = "travel"
PROCESSES = (TRAVEL, *Process)
"""What the column ``process`` counts."""

FULL = 65535
"""The columns ``power``, ``up`` and ``down`` are shares of this."""

COLUMNS: tuple[tuple[str, str, int], ...] = (
    ("points", "<f4", 2),  # x and y in mm
    ("end_s", "<f8", 1),  # when the move is over
    ("wait_s", "<f4", 1),  # standing before it moves
    ("entry_mm_s", "<f4", 1),  # speed at its beginning
    ("top_mm_s", "<f4", 1),  # highest speed
    ("exit_mm_s", "<f4", 1),  # speed at its end
    ("energy_j_mm", "<f4", 1),  # mean along its length
    ("source", "<i4", 1),  # row of the sheet's sources, -1 for none
    ("power", "<u2", 1),  # of the machine's full power
    ("up", "<u2", 1),  # of the time in motion: speeding up, at its beginning
    ("down", "<u2", 1),  # and braking, at its end
    ("process", "<u1", 1),  # of PROCESSES
    ("kind", "<u1", 1),  # MoveKind
)
"""Name, type and numbers in a row of each column."""


@dataclass(frozen=True, eq=False, slots=True)
class ClockedMoves:
    """When the machine is where: one row a move; every field has shape (n,)."""

    end_s: FloatArray
    wait_s: FloatArray
    up_s: FloatArray
    down_s: FloatArray
    entry_mm_s: FloatArray
    top_mm_s: FloatArray
    exit_mm_s: FloatArray
    energy_j_mm: FloatArray


def clocked_moves(toolpath: Toolpath, machine: Machine) -> ClockedMoves:
    """Gather what a trace says of each move, as the machine's clock has it."""
    return _clocked(trace_of(toolpath, machine), toolpath)


def _clocked(trace: Trace, toolpath: Toolpath) -> ClockedMoves:
    count = len(toolpath)

    def summed(values: FloatArray, which: npt.NDArray[np.bool_] | None = None) -> FloatArray:
        counted = values if which is None else np.where(which, values, 0.0)
        return np.asarray(np.bincount(trace.move, counted, count), dtype=np.float64)

    moving = trace.length_mm > 0.0
    change = trace.end_mm_s - trace.start_mm_s
    top, entry, leaving = np.zeros(count), np.zeros(count), np.zeros(count)
    np.maximum.at(top, trace.move, np.maximum(trace.start_mm_s, trace.end_mm_s))
    of_move, first = np.unique(trace.move[moving], return_index=True)
    entry[of_move] = trace.start_mm_s[moving][first]
    last = np.append(first[1:], np.count_nonzero(moving)) - 1 if len(first) else first
    leaving[of_move] = trace.end_mm_s[moving][last]
    lengths = toolpath.lengths_mm
    energy = summed(trace.energy_j)
    return ClockedMoves(
        end_s=np.cumsum(summed(trace.seconds)),
        wait_s=summed(trace.seconds, ~moving),
        up_s=summed(trace.seconds, moving & (change > 0.0)),
        down_s=summed(trace.seconds, moving & (change < 0.0)),
        entry_mm_s=entry,
        top_mm_s=top,
        exit_mm_s=leaving,
        energy_j_mm=np.divide(energy, lengths, out=np.zeros(count), where=lengths > 0.0),
    )


def process_codes(toolpath: Toolpath, sources: Sequence[BurnSource]) -> npt.NDArray[np.uint8]:
    """Process of every move as a place in :data:`PROCESSES`, shape (n,)."""
    processes = processes_of(toolpath, sources)
    codes = np.zeros(len(toolpath), dtype=np.uint8)
    for code, process in enumerate(PROCESSES[1:], 1):
        codes[processes == process] = code
    return codes


def moves_bytes(
    toolpath: Toolpath, clocked: ClockedMoves, processes: npt.NDArray[np.uint8]
) -> bytes:
    """Write a toolpath's moves as the bytes of a file."""
    began = np.concatenate([[0.0], clocked.end_s[:-1]])[: len(toolpath)]
    moving_s = clocked.end_s - began - clocked.wait_s
    moves = toolpath.moves
    values = {
        "points": toolpath.points,
        "end_s": clocked.end_s,
        "wait_s": clocked.wait_s,
        "entry_mm_s": clocked.entry_mm_s,
        "top_mm_s": clocked.top_mm_s,
        "exit_mm_s": clocked.exit_mm_s,
        "energy_j_mm": clocked.energy_j_mm,
        "source": moves["source"],
        "power": np.rint(FULL * np.clip(moves["power"], 0.0, 1.0)),
        "up": _share(clocked.up_s, moving_s),
        "down": _share(clocked.down_s, moving_s),
        "process": processes,
        "kind": moves["kind"],
    }
    out = bytearray(HEADER.pack(MAGIC, VERSION, len(toolpath), 0))
    for name, kind, _ in COLUMNS:
        out += bytes(-len(out) % ALIGNMENT)
        out += np.ascontiguousarray(values[name], dtype=kind).tobytes()
    return bytes(out)


def read_columns(data: bytes) -> dict[str, npt.NDArray[np.generic]]:
    """Read the columns back, ``points`` with shape (n + 1, 2).

    Raises:
        ValueError: the bytes are no such file, or cut off.
    """
    magic, version, count, _ = HEADER.unpack_from(data)
    if magic != MAGIC or version != VERSION:
        raise ValueError("not a file of moves of this version")
    at = HEADER.size
    columns: dict[str, npt.NDArray[np.generic]] = {}
    for name, kind, width in COLUMNS:
        at += -at % ALIGNMENT
        rows = count + 1 if name == "points" else count
        column = np.frombuffer(data, dtype=kind, count=rows * width, offset=at)
        columns[name] = column.reshape(rows, width) if width > 1 else column
        at += column.nbytes
    return columns


def _share(part_s: FloatArray, whole_s: FloatArray) -> FloatArray:
    share = np.divide(part_s, whole_s, out=np.zeros(len(part_s)), where=whole_s > 0.0)
    return np.asarray(np.rint(FULL * np.clip(share, 0.0, 1.0)))
