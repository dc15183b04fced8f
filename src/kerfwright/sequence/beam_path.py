"""Everything burned on one sheet: engraved, scored and cut, in order and timed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from kerfwright.cutting.cuts import CutWork, cut_strokes
from kerfwright.cutting.tabs import HoldingTab, holding_tabs
from kerfwright.decisions import Alternative, Decision, Overrule
from kerfwright.engraving.parts import PartEngraver
from kerfwright.engraving.photo import PhotoBurner
from kerfwright.engraving.stamp import engraved_areas
from kerfwright.findings import Finding
from kerfwright.geometry.paths import Path
from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.motion.timing import Times, move_times_s, time_toolpath
from kerfwright.parts.model import Part
from kerfwright.sequence.cooling import Cooling
from kerfwright.sequence.engraved import EngravedPart
from kerfwright.sequence.photos import PhotoOfPart, burned_photos
from kerfwright.sequence.work_order import SheetWork, sheet_work
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.order import EngraveWay, OrderOfWork, PhotoRows
from kerfwright.shop.overruling import setting_overrules
from kerfwright.toolpath import (
    ENGRAVE_PHASE,
    SCORE_PHASE,
    BurnSource,
    MoveKind,
    Process,
    Stroke,
    Toolpath,
    processes_of,
)

TOGETHER = "cut once"
SEPARATE = "each part by itself"
"""The two ways to cut an edge that two parts share."""


@dataclass(frozen=True, eq=False, slots=True)
class PlacedPart:
    """A part where it lies on the sheet.

    ``same`` is equal for copies of one part turned alike; ``item`` names what was ordered.
    """

    part: Part
    instance: int
    item: str
    same: tuple[object, ...]
    way_of: Callable[[str], EngraveWay]
    """How each layer is to be engraved."""
    photo_rows: PhotoRows = "fastest"
    tabs: int | None = None
    """How many holding tabs it is to have; by default what the recipe for cutting says."""
    item_number: int = 0
    """Which of the order's items it comes from, counted from 0."""


@dataclass(frozen=True, eq=False, slots=True)
class BeamPath:
    """A sheet's whole toolpath with where its burns come from, and what was found on the way."""

    toolpath: Toolpath
    sources: tuple[BurnSource, ...]
    times: Times
    times_by_process_s: dict[Process, float]
    engraved: tuple[EngravedPart, ...]
    photos: tuple[PhotoOfPart, ...]
    decisions: tuple[Decision, ...]
    findings: tuple[Finding, ...]
    tabs: tuple[HoldingTab, ...] = ()


@dataclass(eq=False, slots=True)
class BeamPlanner:
    """Plans the beam's path on the sheets of one material; copies are engraved alike.

    Areas and photos that were planned before are taken from ``kept``.
    """

    machine: Machine
    recipes: dict[Process, Recipe]
    merge_mm: float
    shared_edges: bool
    order_of_work: OrderOfWork = "process"
    kept: Kept = NOTHING_KEPT
    _engraver: PartEngraver | None = field(init=False, default=None)
    _burner: PhotoBurner | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        if Process.ENGRAVE in self.recipes:
            self._engraver = PartEngraver(self.recipes[Process.ENGRAVE], self.machine, self.kept)
        if Process.PHOTO in self.recipes:
            self._burner = PhotoBurner(self.recipes[Process.PHOTO], self.machine, self.kept)

    def meet(self, placed: Sequence[PlacedPart]) -> None:
        """Engrave parts as the first of their copies, which the others are then engraved like."""
        self._engraved(placed, [])
        self._photos(placed, [])

    def plan(
        self,
        placed: Sequence[PlacedPart],
        sheet: str,
        sheet_mm: tuple[float, float] | None = None,
    ) -> BeamPath:
        """Plan one sheet of ``sheet_mm`` (width, height); ``sheet`` names it in decisions."""
        sources: list[BurnSource] = []
        engraved = self._engraved(placed, sources)
        photos = self._photos(placed, sources)
        blocks = [(Process.ENGRAVE, one.work.toolpath) for one in engraved]
        blocks += [(Process.PHOTO, one.work.toolpath) for one in photos]
        strokes = [
            _block_stroke(block, process, self.recipes[process])
            for process, block in blocks
            if len(block)
        ]
        strokes += self._scored(placed, sources)
        tabs, told_of_tabs = self._tabs(placed)
        cutting = partial(self._cut, placed, tabs, sheet_mm)
        cut = cutting(sources, shared_edges=self.shared_edges)
        work = self._work(strokes, cut, placed, sources)
        done = work.ordered(self.machine, self.order_of_work, self._cooling)
        toolpath = done.toolpath
        times = time_toolpath(toolpath, self.machine)
        decisions = (
            self._cut_decision(cutting, placed, sources, strokes, times.total_s, cut, sheet),
            work.decision(self.machine, self.order_of_work, self._cooling, times.total_s, sheet),
        )
        return BeamPath(
            toolpath=toolpath,
            sources=tuple(sources),
            times=times,
            times_by_process_s=times_by_process_s(toolpath, self.machine, sources),
            engraved=tuple(engraved),
            photos=tuple(photos),
            decisions=tuple(decision for decision in decisions if decision is not None),
            findings=(
                *((*told_of_tabs, *cut.findings) if cut is not None else ()),
                *work.cooled(done, self.machine, self._cooling, sheet),
            ),
            tabs=tabs,
        )

    def _cut_decision(
        self,
        cutting: Callable[..., CutWork | None],
        placed: Sequence[PlacedPart],
        sources: list[BurnSource],
        marks: Sequence[Stroke],
        taken_s: float,
        cut: CutWork | None,
        sheet: str,
    ) -> Decision | None:
        """Compare with the other way of cutting edges that parts share, if they share any."""
        if cut is None or (self.shared_edges and cut.shared_mm == 0.0):
            return None
        sources = sources[:]
        other = cutting(sources, shared_edges=not self.shared_edges)
        together = cut if self.shared_edges else other
        if other is None or together is None or together.shared_mm == 0.0:
            return None
        work = self._work(marks, other, placed, sources)
        done = work.ordered(self.machine, self.order_of_work, self._cooling)
        other_s = time_toolpath(done.toolpath, self.machine).total_s
        if self.shared_edges:
            return _shared_edges_decision(together, taken_s, other_s, sheet)
        return replace(
            _shared_edges_decision(together, other_s, taken_s, sheet),
            chosen=SEPARATE,
            why="the order asks for it",
            override="shared_edges = true in [settings]",
            overrules=_shared_edges_overrules(SEPARATE),
        )

    def _engraved(
        self, placed: Sequence[PlacedPart], sources: list[BurnSource]
    ) -> list[EngravedPart]:
        if self._engraver is None:
            return []
        engraved = []
        for one in placed:
            for layer in engraved_areas(one.part, self.recipes[Process.ENGRAVE]):
                shapes = layer.shapes
                source = _add_source(sources, one, Process.ENGRAVE, shapes)
                way = one.way_of(layer.layer)
                work = self._engraver.engrave(layer, way=way, source=source, same=one.same)
                engraved.append(
                    EngravedPart(
                        one.item,
                        layer.layer,
                        layer.area,
                        layer.shared_mm2,
                        work,
                        way,
                        layer.relief,
                        one.item_number,
                    )
                )
        return engraved

    def _photos(self, placed: Sequence[PlacedPart], sources: list[BurnSource]) -> list[PhotoOfPart]:
        if self._burner is None:
            return []
        photos: list[PhotoOfPart] = []
        for one in placed:
            numbers = [
                _add_source(sources, one, Process.PHOTO, (mark.picture.name,))
                for mark in one.part.photos
            ]
            photos += burned_photos(
                one.part,
                one.item,
                self._burner,
                rows=one.photo_rows,
                sources=numbers,
                same=one.same,
                item_number=one.item_number,
            )
        return photos

    def _scored(self, placed: Sequence[PlacedPart], sources: list[BurnSource]) -> list[Stroke]:
        recipe = self.recipes.get(Process.SCORE)
        if recipe is None:
            return []
        return [
            Stroke(
                path=path,
                process=Process.SCORE,
                kind=MoveKind.SCORE,
                speed_mm_s=recipe.speed_mm_s,
                power=recipe.power,
                source=_add_source(sources, one, Process.SCORE, (mark.shape,)),
                phase=SCORE_PHASE,
                passes=recipe.passes,
            )
            for one in placed
            for mark in one.part.scores
            for path in mark.paths
        ]

    def _tabs(
        self, placed: Sequence[PlacedPart]
    ) -> tuple[tuple[HoldingTab, ...], tuple[Finding, ...]]:
        recipe = self.recipes.get(Process.CUT)
        if recipe is None:
            return (), ()
        return holding_tabs(
            [one.part for one in placed],
            recipe,
            asked=[one.tabs for one in placed],
            slat_spacing_mm=self.machine.slat_spacing_mm,
        )

    def _cut(
        self,
        placed: Sequence[PlacedPart],
        tabs: Sequence[HoldingTab],
        sheet_mm: tuple[float, float] | None,
        sources: list[BurnSource],
        *,
        shared_edges: bool,
    ) -> CutWork | None:
        recipe = self.recipes.get(Process.CUT)
        if recipe is None:
            return None
        return cut_strokes(
            [one.part for one in placed],
            [_add_source(sources, one, Process.CUT, ()) for one in placed],
            recipe,
            merge_mm=self.merge_mm,
            shared_edges=shared_edges,
            tabs=tabs,
            sheet_mm=sheet_mm,
        )

    def _work(
        self,
        marks: Sequence[Stroke],
        cut: CutWork | None,
        placed: Sequence[PlacedPart],
        sources: Sequence[BurnSource],
    ) -> SheetWork:
        recipe = self.recipes.get(Process.CUT)
        kerf_mm = (recipe.kerf_mm or 0.0) if recipe is not None else 0.0
        parts = [(one.part, one.instance) for one in placed]
        return sheet_work(marks, cut, parts, sources, self.merge_mm + kerf_mm)

    @property
    def _cooling(self) -> Cooling | None:
        return Cooling.asked_by(self.recipes.get(Process.CUT))


def times_by_process_s(
    toolpath: Toolpath, machine: Machine, sources: Sequence[BurnSource] = ()
) -> dict[Process, float]:
    """Seconds of each process, run-up and waiting before burns included, travel left out."""
    seconds = move_times_s(toolpath, machine)
    processes = processes_of(toolpath, sources)
    times = {process: float(seconds[processes == process].sum()) for process in Process}
    return {process: taken for process, taken in times.items() if taken > 0.0}


def _add_source(
    sources: list[BurnSource], placed: PlacedPart, process: Process, shapes: tuple[str, ...]
) -> int:
    sources.append(BurnSource(placed.part.name, placed.instance, process, shapes, placed.item))
    return len(sources) - 1


def _block_stroke(block: Toolpath, process: Process, recipe: Recipe) -> Stroke:
    return Stroke(
        path=Path(np.array([block.start_mm, block.end_mm])),
        process=process,
        kind=MoveKind.ROW,
        speed_mm_s=recipe.speed_mm_s,
        power=recipe.power,
        source=-1,
        phase=ENGRAVE_PHASE,
        block=block,
    )


def _shared_edges_decision(
    cut: CutWork, together_s: float, separate_s: float, sheet: str
) -> Decision:
    return Decision(
        what="edges that two parts share",
        chosen=TOGETHER,
        alternatives=(
            Alternative(TOGETHER, time_s=together_s, length_mm=cut.cut_mm),
            Alternative(SEPARATE, time_s=separate_s, length_mm=cut.separate_mm),
        ),
        why=f"{cut.shared_mm / 1000:.2f} m of edge belong to two parts",
        override="shared_edges = false in [settings]",
        code="cutting/shared-edges",
        sheet=sheet,
        overrules=_shared_edges_overrules(TOGETHER),
    )


def _shared_edges_overrules(chosen: str) -> tuple[Overrule, ...]:
    ways: dict[str, str | bool] = {TOGETHER: True, SEPARATE: False}
    return setting_overrules("shared_edges", ways, chosen=chosen, usual=True)
