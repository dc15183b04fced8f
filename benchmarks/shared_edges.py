"""Shared edges: millimetres of cut saved on patterns made by code, and how long finding them takes.

``python -m benchmarks shared_edges [--parts N]``; patterns and the machine are invented.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from benchmarks._machines import trial_machine
from kerfwright.cutting.cuts import cut_strokes
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.motion.timing import time_toolpath
from kerfwright.parts.model import Part
from kerfwright.sequence.order import sequence
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe

KERF_MM = 0.2
SIZE_MM = 10.0
TURNED_DEG = 13.7
"""So that nothing lies along an axis, where rounding would be kind."""


def run(argv: Sequence[str]) -> dict[str, Any]:
    """Return rows ``edges``: cut length and time with shared edges and without, planning time."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks shared_edges")
    parser.add_argument("--parts", type=int, default=500, help="about how many parts a sheet has")
    wanted = parser.parse_args(argv).parts
    side = max(1, round(wanted**0.5))
    machine = trial_machine()
    cut_sheet(squares(2, 0.0), machine, shared_edges=True)  # compiles what will be timed
    return {
        "kerf_mm": KERF_MM,
        "edges": [
            {"pattern": name, **row(pattern(side), machine)} for name, pattern in PATTERNS.items()
        ],
    }


def row(parts: Sequence[Part], machine: Machine) -> dict[str, Any]:
    """Figures of one pattern."""
    once = cut_sheet(parts, machine, shared_edges=True)
    apart = cut_sheet(parts, machine, shared_edges=False)
    return {
        "parts": len(parts),
        "moves": once["moves"],
        "separate_mm": apart["cut_mm"],
        "cut_mm": once["cut_mm"],
        "saved": f"{1.0 - once['cut_mm'] / apart['cut_mm']:.1%}",
        "separate_s": apart["job_s"],
        "cut_s": once["job_s"],
        "strokes": once["strokes"],
        "pairs": once["pairs"],
        "finding_s": once["finding_s"],
        "order_s": once["order_s"],
    }


def cut_sheet(parts: Sequence[Part], machine: Machine, *, shared_edges: bool) -> dict[str, Any]:
    """Plan and time one sheet of cuts."""
    recipe = Recipe(
        machine=machine.name, process="cut", speed_mm_s=15.0, power=0.7, kerf_mm=KERF_MM
    )
    started = time.perf_counter()
    work = cut_strokes(
        parts, range(len(parts)), recipe, merge_mm=KERF_MM / 2, shared_edges=shared_edges
    )
    found = time.perf_counter()
    toolpath = sequence(work.strokes, work.before, machine)
    ordered = time.perf_counter()
    return {
        "cut_mm": work.cut_mm,
        "strokes": len(work.strokes),
        "pairs": len(work.before),
        "moves": len(toolpath),
        "job_s": time_toolpath(toolpath, machine).total_s,
        "finding_s": found - started,
        "order_s": ordered - found,
    }


def squares(side: int, apart_mm: float) -> list[Part]:
    pitch = SIZE_MM + apart_mm
    corners = np.array([(0.0, 0.0), (SIZE_MM, 0.0), (SIZE_MM, SIZE_MM), (0.0, SIZE_MM)])
    return [
        _part(corners + np.array([x * pitch, y * pitch])) for x in range(side) for y in range(side)
    ]


def hexagons(side: int, apart_mm: float) -> list[Part]:
    turn = np.pi / 6 + np.arange(6) * np.pi / 3
    corners = SIZE_MM / 2 * np.column_stack([np.cos(turn), np.sin(turn)])
    pitch = np.sqrt(3.0) * SIZE_MM / 2 + apart_mm
    return [
        _part(corners + pitch * np.array([x + 0.5 * (y % 2), np.sqrt(3.0) / 2 * y]))
        for x in range(side)
        for y in range(side)
    ]


def puzzle(side: int) -> list[Part]:
    """Squares with wavy edges that fit into each other, 60 corners to a part."""
    along = np.linspace(0.0, 1.0, 15, endpoint=False)
    wave = 0.08 * np.sin(2.0 * np.pi * along)
    edges = [
        np.column_stack([along, wave]),
        np.column_stack([1.0 + wave, along]),
        np.column_stack([1.0 - along, 1.0 - wave]),
        np.column_stack([-wave, 1.0 - along]),
    ]
    corners = SIZE_MM * np.vstack(edges)
    return [_part(corners + np.array([x, y]) * SIZE_MM) for x in range(side) for y in range(side)]


def _part(corners: FloatArray) -> Part:
    path = Path(np.asarray(corners, dtype=np.float64), closed=True)
    return Part("part", "parts.svg", path.transformed(rotation(TURNED_DEG)))


PATTERNS: dict[str, Callable[[int], list[Part]]] = {
    "squares that touch": lambda side: squares(side, 0.0),
    "squares one kerf apart": lambda side: squares(side, KERF_MM),
    "hexagons that touch": lambda side: hexagons(side, 0.0),
    "hexagons one kerf apart": lambda side: hexagons(side, KERF_MM),
    "wavy squares that touch": puzzle,
    "squares 2 mm apart": lambda side: squares(side, 2.0),
}
