"""The engraving of placed parts: every layer an area, identical areas planned once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely import MultiPolygon
from shapely.affinity import translate

from kerfwright.engraving.bed import keep_on_bed
from kerfwright.engraving.choose import EngravedArea
from kerfwright.engraving.corner_power import corner_power_findings, with_corner_power
from kerfwright.engraving.passes import engrave_passes
from kerfwright.engraving.reversal import burned_early
from kerfwright.engraving.row_ramps import with_row_ramps
from kerfwright.engraving.shoulder import engrave_shoulders
from kerfwright.geometry.regions import as_area
from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.parts.model import Part
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.order import EngraveWay
from kerfwright.toolpath import Toolpath

WORTH_BURNING_MM2 = 1e-3
"""What two layers leave of each other below this is the rounding of their edges."""


@dataclass(frozen=True, eq=False, slots=True)
class LayerArea:
    """What a part's layer asks to be engraved, less what layers before it already burn."""

    layer: str
    area: MultiPolygon
    shared_mm2: float
    shapes: tuple[str, ...] = ()
    relief: MultiPolygon = field(default_factory=MultiPolygon)
    """What an inverted engraving with shoulders leaves standing; empty for all others."""


def layer_areas(part: Part) -> tuple[LayerArea, ...]:
    """Areas of a part by layer, none overlapping another: what two layers share is burned once.

    A layer that lies wholly under those before it is kept with an empty area, so that it is told.
    """
    taken: shapely.Geometry = MultiPolygon()
    areas = []
    for layer in dict.fromkeys(mark.layer for mark in part.engraves):
        wanted = shapely.union_all([m.area for m in part.engraves if m.layer == layer])
        left = as_area(shapely.difference(wanted, taken))
        if left.area <= WORTH_BURNING_MM2:
            left = MultiPolygon()
        shapes = tuple(m.shape for m in part.engraves if m.layer == layer)
        areas.append(LayerArea(layer, left, max(wanted.area - left.area, 0.0), shapes))
        taken = shapely.union(taken, wanted)
    return tuple(areas)


@dataclass(eq=False, slots=True)
class PartEngraver:
    """Plans areas one by one and remembers those of the same part, layer and turn.

    A copy that only lies elsewhere on the sheet takes the same time and the same moves, shifted.
    ``kept`` holds areas that were planned before, for other plans.
    """

    recipe: Recipe
    machine: Machine
    kept: Kept = NOTHING_KEPT
    _known: dict[tuple[object, ...], EngravedArea] = field(default_factory=dict)

    def engrave(
        self,
        area: LayerArea,
        *,
        way: EngraveWay,
        source: int,
        same: tuple[object, ...],
    ) -> EngravedArea:
        """Engrave an area in sheet coordinates; equal ``same`` says it is equal but for its place.

        The move table's ``source`` is the given one.
        """
        if area.area.is_empty:
            return engrave_passes(area.area, self.recipe, self.machine, way=way, source=source)
        corner = area.area.bounds[:2]
        key = (*same, area.layer, way)
        if key not in self._known:
            at_origin = as_area(translate(area.area, -corner[0], -corner[1]))
            relief = as_area(translate(area.relief, -corner[0], -corner[1]))
            inputs = (at_origin, relief, way, self.recipe, self.machine)
            self._known[key] = self.kept.of(
                "engraving", inputs, lambda: self._engraved(at_origin, relief, way, source)
            )
        planned = self._known[key]
        placed = burned_early(shifted(planned.toolpath, corner, source), self.machine)
        toolpath, short = keep_on_bed(placed, self.machine)
        cells = tuple(
            replace(cell, area=as_area(translate(cell.area, *corner))) for cell in planned.cells
        )
        return replace(planned, toolpath=toolpath, findings=planned.findings + short, cells=cells)

    def _engraved(
        self, area: MultiPolygon, relief: MultiPolygon, way: EngraveWay, source: int
    ) -> EngravedArea:
        whole = (
            engrave_passes(area, self.recipe, self.machine, way=way, source=source)
            if relief.is_empty
            else engrave_shoulders(area, relief, self.recipe, self.machine, source=source)
        )
        lowered = with_corner_power(whole.toolpath, self.recipe, self.machine)
        lowered = with_row_ramps(lowered, self.recipe, self.machine)
        found = whole.findings + corner_power_findings(self.recipe, self.machine)
        return replace(whole, toolpath=lowered, findings=found)


def shifted(toolpath: Toolpath, by: Sequence[float], source: int) -> Toolpath:
    """Return the toolpath moved by ``by``, in mm, its burns coming from ``source``."""
    moves = toolpath.moves.copy()
    moves["x_mm"] += by[0]
    moves["y_mm"] += by[1]
    moves["source"][moves["source"] >= 0] = source
    start = toolpath.start_mm
    return Toolpath(moves, (start[0] + by[0], start[1] + by[1]))
