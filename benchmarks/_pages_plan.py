"""A large sheet that nobody planned: wavy plates to cut, and rows of engraving over them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
from shapely import MultiPolygon

from benchmarks._machines import trial_machine
from kerfwright.decisions import Alternative, Decision
from kerfwright.geometry.paths import Path as Line
from kerfwright.motion.timing import time_toolpath
from kerfwright.nesting.model import SheetSize
from kerfwright.parts.model import Part
from kerfwright.plan import Intended, Plan, PlannedSheet
from kerfwright.shop.material import Material, Recipe
from kerfwright.toolpath import (
    BurnSource,
    MoveArray,
    MoveKind,
    Process,
    Toolpath,
    join,
    moves_along,
)

PIECES = 50
PITCH_MM = 12.0
INTERVAL_MM = 0.1
DECISIONS = 8


def large_plan(segments: int, moves: int) -> Plan:
    """Plan with so many straight pieces of cuts, of so many moves in all, and some decisions."""
    machine = trial_machine()
    plates = _plates(segments)
    cuts = join(piece for number, ring in enumerate(plates) for piece in _cut(ring, number))
    side_mm = PITCH_MM * (math.ceil(math.sqrt(len(plates))) + 2)
    rows = _rows(moves - len(cuts), side_mm, len(plates))
    toolpath = Toolpath(join([rows, cuts]))
    sources = [BurnSource(f"plate {n}", 1, Process.CUT, (), "plates") for n in range(len(plates))]
    sources.append(BurnSource("plate 0", 1, Process.ENGRAVE, ("hatch",), "plates"))
    cut = Recipe(machine=machine.name, process="cut", speed_mm_s=16.0, power=0.5, kerf_mm=0.2)
    engrave = Recipe(
        machine=machine.name, process="engrave", speed_mm_s=400.0, power=0.5, interval_mm=0.1
    )
    sheet = PlannedSheet(
        number=1,
        material=Material(name="board", thickness_mm=3.0, invented=True),
        sheet=SheetSize("large", side_mm, side_mm, 1),
        parts=tuple(
            Part(f"plate {n}", "plates.svg", Line(ring, closed=True))
            for n, ring in enumerate(plates)
        ),
        used_fraction=0.5,
        recipes={Process.CUT: cut, Process.ENGRAVE: engrave},
        toolpath=toolpath,
        sources=tuple(sources),
        intended=Intended(cuts=(), scores=(), area=MultiPolygon()),
        times=time_toolpath(toolpath, machine),
        times_by_process_s={},
        items=("plates",) * len(plates),
    )
    return Plan("Plates", machine, (sheet,), _decisions(), (), invented=True)


def _decisions() -> tuple[Decision, ...]:
    ways = tuple(Alternative(f"way {n}", time_s=100.0 + n, length_mm=1e4 + n) for n in range(3))
    return tuple(
        Decision(
            f"area {n}: the way it is engraved",
            "way 0",
            ways,
            "it takes least time",
            "",
            code="engraving/ways",
        )
        for n in range(DECISIONS)
    )


def _plates(segments: int) -> list[Any]:
    random = np.random.default_rng(7)
    count = max(segments // PIECES, 1)
    across = math.ceil(math.sqrt(count))
    angles = np.arange(PIECES) * 2.0 * math.pi / PIECES
    plates = []
    for n in range(count):
        row, column = divmod(n, across)
        radius = 5.0 * (1.0 + random.uniform(0.02, 0.1) * np.sin(random.integers(3, 8) * angles))
        ring = np.column_stack([radius * np.cos(angles), radius * np.sin(angles)])
        plates.append(ring + PITCH_MM * np.array([column + 1, row + 1]))
    return plates


def _cut(ring: Any, source: int) -> Iterator[MoveArray]:
    yield moves_along(ring[:1], kind=MoveKind.TRAVEL, speed_mm_s=800.0, power=0.0, source=-1)
    closed = np.vstack([ring[1:], ring[:1]])
    yield moves_along(closed, kind=MoveKind.CUT, speed_mm_s=16.0, power=0.5, source=source)


def _rows(count: int, side_mm: float, source: int) -> MoveArray:
    """Rows back and forth, each of a hundred burns with gaps, a run-up at either end."""
    each = 200
    rows = max(count // each, 0)
    stops = np.linspace(10.0, side_mm - 10.0, each)
    x = np.where(np.arange(rows)[:, None] % 2 == 0, stops, stops[::-1]).ravel()
    y = np.repeat(10.0 + np.arange(rows) * INTERVAL_MM % (side_mm - 20.0), each)
    moves = moves_along(
        np.column_stack([x, y]), kind=MoveKind.RUN_UP, speed_mm_s=400.0, power=0.0, source=source
    )
    burned = np.tile(np.arange(each) % 2 == 1, rows)
    moves["kind"][burned] = MoveKind.ROW
    moves["power"][burned] = 0.5
    return moves
