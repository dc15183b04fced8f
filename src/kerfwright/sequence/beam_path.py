"""Everything burned on one sheet: engraved, scored and cut, in order and timed."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import MultiPolygon

from kerfwright.cutting.cuts import CutWork, cut_strokes
from kerfwright.decisions import Alternative, Decision
from kerfwright.engraving.choose import EngravedArea, cells_in_words
from kerfwright.engraving.parts import PartEngraver
from kerfwright.engraving.photo import PhotoBurner
from kerfwright.engraving.stamp import engraved_areas
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import Times, move_times_s, time_toolpath
from kerfwright.parts.model import Part
from kerfwright.sequence.order import sequence
from kerfwright.sequence.photos import PhotoOfPart, burned_photos
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.order import EngraveWay, PhotoRows
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


@dataclass(frozen=True, eq=False, slots=True)
class EngravedPart:
    """One layer of one placed part, engraved."""

    item: str
    layer: str
    area: MultiPolygon
    shared_mm2: float
    work: EngravedArea
    way: EngraveWay
    relief: MultiPolygon = field(default_factory=MultiPolygon)


@dataclass(frozen=True, eq=False, slots=True)
class BeamPath:
    """A sheet's whole toolpath with where its burns come from, and what was found on the way."""

    toolpath: Toolpath
    sources: tuple[BurnSource, ...]
    times: Times
    times_by_process_s: dict[Process, float]
    engraved: tuple[EngravedPart, ...]
    photos: tuple[PhotoOfPart, ...]
    cut_decision: Decision | None
    findings: tuple[Finding, ...]


@dataclass(eq=False, slots=True)
class BeamPlanner:
    """Plans the beam's path on the sheets of one material; copies are engraved alike."""

    machine: Machine
    recipes: dict[Process, Recipe]
    merge_mm: float
    shared_edges: bool
    _engraver: PartEngraver | None = field(init=False, default=None)
    _burner: PhotoBurner | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        if Process.ENGRAVE in self.recipes:
            self._engraver = PartEngraver(self.recipes[Process.ENGRAVE], self.machine)
        if Process.PHOTO in self.recipes:
            self._burner = PhotoBurner(self.recipes[Process.PHOTO], self.machine)

    def plan(self, placed: Sequence[PlacedPart], sheet: str) -> BeamPath:
        """Plan one sheet; ``sheet`` names it in decisions."""
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
        cut = self._cut(placed, sources, shared_edges=self.shared_edges)
        toolpath = self._in_order(strokes, cut)
        times = time_toolpath(toolpath, self.machine)
        return BeamPath(
            toolpath=toolpath,
            sources=tuple(sources),
            times=times,
            times_by_process_s=times_by_process_s(toolpath, self.machine, sources),
            engraved=tuple(engraved),
            photos=tuple(photos),
            cut_decision=self._cut_decision(placed, sources, strokes, times.total_s, cut, sheet),
            findings=cut.findings if cut is not None else (),
        )

    def _cut_decision(
        self,
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
        other = self._cut(placed, sources[:], shared_edges=not self.shared_edges)
        together = cut if self.shared_edges else other
        if other is None or together is None or together.shared_mm == 0.0:
            return None
        other_s = time_toolpath(self._in_order(marks, other), self.machine).total_s
        if self.shared_edges:
            return _shared_edges_decision(together, taken_s, other_s, sheet)
        return replace(
            _shared_edges_decision(together, other_s, taken_s, sheet),
            chosen=SEPARATE,
            why="the order asks for it",
            override="shared_edges = true in [settings]",
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
                        one.item, layer.layer, layer.area, layer.shared_mm2, work, way, layer.relief
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

    def _cut(
        self, placed: Sequence[PlacedPart], sources: list[BurnSource], *, shared_edges: bool
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
        )

    def _in_order(self, marks: Sequence[Stroke], cut: CutWork | None) -> Toolpath:
        if cut is None:
            return sequence(marks, (), self.machine)
        before = tuple((i + len(marks), j + len(marks)) for i, j in cut.before)
        return sequence((*marks, *cut.strokes), before, self.machine)


def times_by_process_s(
    toolpath: Toolpath, machine: Machine, sources: Sequence[BurnSource] = ()
) -> dict[Process, float]:
    """Seconds of each process, run-up and waiting before burns included, travel left out."""
    seconds = move_times_s(toolpath, machine)
    processes = processes_of(toolpath, sources)
    times = {process: float(seconds[processes == process].sum()) for process in Process}
    return {process: taken for process, taken in times.items() if taken > 0.0}


def engraving_decisions(engraved: Sequence[EngravedPart]) -> tuple[Decision, ...]:
    """One decision for each item and layer, the seconds of all its copies together."""
    groups: dict[tuple[str, str, EngraveWay], list[EngravedPart]] = {}
    for one in engraved:
        if len(one.work.toolpath) and len(one.work.times_s) > 1:
            groups.setdefault((one.item, one.layer, one.way), []).append(one)
    return tuple(
        _engraving_decision(item, layer, group) for (item, layer, _), group in groups.items()
    )


def _overlap_findings(engraved: Sequence[EngravedPart]) -> tuple[Finding, ...]:
    """Say where layers ask for the same area twice: it is burned once."""
    shared: dict[tuple[str, str], float] = {}
    for one in engraved:
        if one.shared_mm2 > 0.01:
            shared[one.item, one.layer] = max(
                one.shared_mm2, shared.get((one.item, one.layer), 0.0)
            )
    return tuple(
        Finding(
            Severity.NOTE,
            "engraving/layers-overlap",
            f'{area:.2f} mm² of layer "{layer}" are engraved by a layer before it already and '
            "are burned once.",
            "Subtract one from the other in the drawing if they are meant to differ.",
            drawing=item,
        )
        for (item, layer), area in shared.items()
    )


def engraving_findings(engraved: Sequence[EngravedPart]) -> tuple[Finding, ...]:
    """What engraving found, once for each item, and layers that ask for one area twice."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for one in engraved:
        for finding in one.work.findings:
            groups.setdefault((one.item, finding.code), []).append(finding)
    told = tuple(
        replace(
            found[0],
            drawing=item,
            what=found[0].what
            if len(found) == 1
            else f"{found[0].what} ({len(found)} areas alike)",
            count=sum(finding.count for finding in found),
        )
        for (item, _), found in groups.items()
    )
    return told + _overlap_findings(engraved)


def engraved_area(engraved: Sequence[EngravedPart]) -> MultiPolygon:
    """The whole area that a sheet's engraving is meant to cover."""
    return as_area(shapely.union_all([one.area for one in engraved]))


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


def _engraving_decision(item: str, layer: str, group: Sequence[EngravedPart]) -> Decision:
    ways = list(dict.fromkeys(way for one in group for way in one.work.times_s))
    sums = {way: sum(one.work.times_s[way] for one in group) for way in ways}
    taken = sum(one.work.times_s[one.work.way] for one in group)
    chosen_ways = list(dict.fromkeys(one.work.way for one in group))
    chosen = chosen_ways[0] if len(chosen_ways) == 1 else "the fastest for each part"
    words = cells_in_words([one.work for one in group])
    # where nothing is gained by dividing, mixed is the best single way over again
    singly = [seconds for way, seconds in sums.items() if way != "mixed"]
    undivided = chosen != "mixed" and sums.get("mixed") in singly
    alternatives = [
        Alternative(way, note="no division is faster")
        if way == "mixed" and undivided
        else Alternative(way, time_s=seconds, note=words if way == "mixed" == chosen else "")
        for way, seconds in sums.items()
    ]
    if len(chosen_ways) > 1:
        alternatives.append(Alternative(chosen, time_s=taken))
    overruled = group[0].way != "fastest"
    what = f"engraving of {item}" + (f', layer "{layer}"' if layer else "")
    return Decision(
        what=what if len(group) == 1 else f"{what} ({len(group)} parts)",
        chosen=chosen,
        alternatives=tuple(alternatives),
        why=_why_this_way(overruled=overruled, fastest=taken <= min(sums.values()) + 1e-9),
        override=_way_key(layer, _other_way(chosen, ways)) + f" in the [[items]] of {item}",
        code="engraving/ways",
    )


def _why_this_way(*, overruled: bool, fastest: bool) -> str:
    if overruled:
        return "the order asks for it"
    if fastest:
        return "least time on this machine"
    return "least time of the ways that cover the area and have the recipe's finish"


def _way_key(layer: str, way: str) -> str:
    """What to write into the order file to have one layer engraved one way, as valid TOML."""
    if not layer:
        return f'engrave = "{way}"'
    return f'engrave_layers = {{ {json.dumps(layer, ensure_ascii=False)} = "{way}" }}'


def _other_way(chosen: str, ways: Sequence[str]) -> str:
    return next((way for way in ways if way != chosen), chosen)


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
    )
