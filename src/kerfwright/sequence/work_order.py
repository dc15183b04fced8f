"""The sheet's work in one of two orders: process by process, or part by part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from kerfwright.cutting.cuts import CutWork
from kerfwright.decisions import Alternative, Decision
from kerfwright.findings import Finding
from kerfwright.motion.timing import time_toolpath
from kerfwright.parts.model import Part
from kerfwright.sequence.cooling import (
    Cooling,
    cooling_findings,
    gaps_between,
    near_cuts,
    with_waits,
)
from kerfwright.sequence.order import Sequenced, in_order
from kerfwright.sequence.part_by_part import in_order_by_part
from kerfwright.shop.machine import Machine
from kerfwright.shop.order import OrderOfWork
from kerfwright.shop.overruling import setting_overrules
from kerfwright.toolpath import BurnSource, MoveKind, Process, Stroke, Toolpath

WORDS: dict[OrderOfWork, str] = {"process": "process by process", "part": "part by part"}

MOST_COMPARED = 2000
"""Strokes up to which both orders are worked out; beyond, only the one that is asked for."""

SHARED_MM = 0.01
"""Beyond the reach of shared edges parts are worked alone; this allows for rounding."""


@dataclass(frozen=True, eq=False, slots=True)
class SheetWork:
    """Everything that is burned on one sheet, before it is put in order.

    ``before`` is as for :func:`kerfwright.sequence.order.in_order`; ``part_of`` numbers the part
    of every stroke, parts that share edges as one.
    """

    strokes: tuple[Stroke, ...]
    before: tuple[tuple[int, int], ...]
    part_of: tuple[int, ...]

    @property
    def has_choice(self) -> bool:
        """Whether the orders can differ: several parts, and some are marked as well as cut."""
        processes: dict[int, set[Process]] = {}
        for stroke, part in zip(self.strokes, self.part_of, strict=True):
            processes.setdefault(part, set()).add(stroke.process)
        return len(processes) > 1 and any(len(of_part) > 1 for of_part in processes.values())

    def ordered(self, machine: Machine, way: OrderOfWork, cooling: Cooling | None) -> Sequenced:
        """Put everything in order, and wait for near cuts to cool where that is asked for."""
        if way == "part":
            done = in_order_by_part(
                self.strokes, self.before, self.part_of, machine, cooling=cooling
            )
        else:
            done = in_order(self.strokes, self.before, machine, cooling=cooling)
        toolpath = _pierced_once(done.toolpath)
        if cooling is not None and cooling.wait:
            near = near_cuts(self.strokes, cooling.distance_mm)
            toolpath = with_waits(toolpath, done.spans, near, machine, cooling.seconds)
        return replace(done, toolpath=toolpath)

    def cooled(
        self, done: Sequenced, machine: Machine, cooling: Cooling | None, sheet: str
    ) -> tuple[Finding, ...]:
        """Tell how far apart in time near cuts are."""
        if cooling is None:
            return ()
        near = near_cuts(self.strokes, cooling.distance_mm)
        gaps = gaps_between(done.toolpath, done.spans, near, machine)
        return cooling_findings(gaps, self.strokes, cooling, sheet)

    def decision(
        self,
        machine: Machine,
        way: OrderOfWork,
        cooling: Cooling | None,
        taken_s: float,
        sheet: str,
    ) -> Decision | None:
        """Compare with the other order, if the two can differ."""
        if not self.has_choice:
            return None
        other: OrderOfWork = "part" if way == "process" else "process"
        compared = Alternative(
            WORDS[other], note=f"not worked out for more than {MOST_COMPARED} lines"
        )
        if len(self.strokes) <= MOST_COMPARED:
            toolpath = self.ordered(machine, other, cooling).toolpath
            compared = Alternative(WORDS[other], time_s=time_toolpath(toolpath, machine).total_s)
        return Decision(
            what="order of the work",
            chosen=WORDS[way],
            alternatives=(Alternative(WORDS[way], time_s=taken_s), compared),
            why="every mark is burned before anything can shift"
            if way == "process"
            else "the order asks for it",
            override=f'order_of_work = "{other}" in [settings]',
            code="sequence/order-of-work",
            sheet=sheet,
            overrules=setting_overrules(
                "order_of_work",
                {words: key for key, words in WORDS.items()},
                chosen=WORDS[way],
                usual="process",
            ),
        )


def sheet_work(
    marks: Sequence[Stroke],
    cut: CutWork | None,
    parts: Sequence[tuple[Part, int]],
    sources: Sequence[BurnSource],
    shared_mm: float,
) -> SheetWork:
    """Gather a sheet's work; ``parts`` are placed, each with the number of its copy.

    Parts no further than ``shared_mm`` apart may share edges and are worked as one.
    """
    strokes = (*marks, *(cut.strokes if cut is not None else ()))
    count = len(marks)
    before = tuple((i + count, j + count) for i, j in (cut.before if cut is not None else ()))
    groups = _groups([part for part, _ in parts], shared_mm + SHARED_MM)
    group_of = {(part.name, copy): group for (part, copy), group in zip(parts, groups, strict=True)}
    return SheetWork(
        strokes,
        before,
        tuple(
            group_of[source.part, source.instance]
            for source in (sources[_source_of(stroke)] for stroke in strokes)
        ),
    )


def _groups(parts: Sequence[Part], shared_mm: float) -> list[int]:
    """Number of each part's group; parts within ``shared_mm`` of one another are in one."""
    cut = [i for i, part in enumerate(parts) if not part.blank]
    outlines = np.array([shapely.linestrings(parts[i].outline.line) for i in cut], dtype=object)
    near = shapely.STRtree(outlines).query(outlines, predicate="dwithin", distance=shared_mm)
    ends = np.array(cut, dtype=np.int64)[near]
    linked = coo_array((np.ones(ends.shape[1]), tuple(ends)), shape=(len(parts), len(parts)))
    numbers: list[int] = connected_components(linked, directed=False)[1].tolist() if parts else []
    return numbers


def _source_of(stroke: Stroke) -> int:
    return stroke.source if stroke.block is None else int(stroke.block.moves["source"].max())


def _pierced_once(toolpath: Toolpath) -> Toolpath:
    """Leave out the pierce where a cut begins on the end of another: it is cut through there."""
    moves = toolpath.moves.copy()
    cutting = (moves["kind"] == MoveKind.CUT) & (moves["power"] > 0.0)
    through = np.append([False], cutting[:-1])[: len(moves)]
    moves["dwell_s"][through] = 0.0
    return replace(toolpath, moves=moves)
