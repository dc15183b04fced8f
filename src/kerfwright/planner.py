"""From an order to its plan: the only module that knows the whole line."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path as FilePath

import shapely

from kerfwright.cutting.fit import fitted
from kerfwright.decisions import Alternative, Decision
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, number_of, stops
from kerfwright.geometry.regions import as_area
from kerfwright.learning import learned
from kerfwright.nesting.bodies import ItemBody, bodies_of, require_all_placed
from kerfwright.nesting.model import Layouts, SheetLayout, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.parts.checks import checked_for_plan
from kerfwright.parts.model import Part, ProcessedShape
from kerfwright.parts.processes import unused_rules
from kerfwright.plan import Intended, Plan, PlannedSheet
from kerfwright.prepare import prepare_item
from kerfwright.sequence.beam_path import BeamPath, BeamPlanner, PlacedPart
from kerfwright.sequence.engraved import (
    EngravedPart,
    engraved_area,
    engraving_decisions,
    engraving_findings,
)
from kerfwright.sequence.photos import PhotoOfPart, photo_decisions, photo_findings
from kerfwright.shop.cut_recipes import require_focus_axis, require_tab_width
from kerfwright.shop.files import (
    Shop,
    load_shop,
    missing_recipe_error,
    require_plausible_widths,
    require_reachable_speed,
)
from kerfwright.shop.hazards import hazard_findings
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.order import Item
from kerfwright.shop.runs import RunsOf
from kerfwright.toolpath import Process

Progress = Callable[[str], None]

OTHER_WAY_SECONDS = 0.01
"""Too short for a search: a way that is only compared with is laid down where it fits first."""


class PlanStoppedError(Exception):
    """The work cannot be planned as it is: ``findings`` hold every reason, stops first."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.stops = stops(findings)
        self.findings = tuple(findings)
        super().__init__("; ".join(f"{stop.where}: {stop.what}" for stop in self.stops))


def plan_order(
    order_path: FilePath | str, progress: Progress | None = None, runs_of: RunsOf | None = None
) -> Plan:
    """Plan an order file, from its drawings to timed toolpaths.

    With ``runs_of`` times are corrected by what past runs of the machine took.

    Raises:
        KerfwrightError: a file is wrong, a recipe is missing, or a part fits no sheet.
        PlanStoppedError: a drawing cannot be made as it is drawn.
    """
    return plan_shop(load_shop(order_path), progress, runs_of)


def plan_shop(shop: Shop, progress: Progress | None = None, runs_of: RunsOf | None = None) -> Plan:
    """Plan an order that is loaded, as :func:`plan_order` does."""
    say = progress or (lambda _: None)
    items, findings = _prepare_items(shop, say)
    _require_recipes(shop, items)
    findings += hazard_findings(_used_materials(shop))
    findings += [f for one in items for f in checked_for_plan(one.parts, shop, one.item)]
    if stops(findings):
        raise PlanStoppedError(findings)
    sheets: list[PlannedSheet] = []
    decisions: list[Decision] = []
    planners = [
        _MaterialPlanner(
            shop,
            shop.material(material),
            [one for one in items if one.item.material == material],
            say,
        )
        for material in dict.fromkeys(one.item.material for one in items)
    ]
    # the placement search runs outside the interpreter: the next material is placed meanwhile
    with ThreadPoolExecutor(max_workers=1) as pool:
        placing = [pool.submit(planner.place) for planner in planners]
        try:
            for planner, placed in zip(planners, placing, strict=True):
                placed.result()
                planner.plan(len(sheets))
                sheets += planner.sheets
                decisions += planner.decisions
                findings += planner.findings
        finally:
            pool.shutdown(cancel_futures=True)
    plan = Plan(
        title=shop.order.title,
        machine=shop.machine,
        sheets=tuple(sheets),
        decisions=tuple(decisions),
        findings=tuple(dict.fromkeys(findings)),
        invented=shop.order.invented
        or shop.machine.invented
        or any(material.invented for material in shop.materials),
    )
    return learned(plan, runs_of, wanted=shop.order.settings.learn)


@dataclass(frozen=True, eq=False, slots=True)
class _ItemParts:
    item: Item
    parts: tuple[Part, ...]


def _prepare_items(shop: Shop, say: Progress) -> tuple[list[_ItemParts], list[Finding]]:
    items: list[_ItemParts] = []
    findings: list[Finding] = []
    shapes: list[ProcessedShape] = []
    for item in shop.order.items:
        say(f"Reading {item.drawing}")
        prepared = prepare_item(shop, item)
        findings += prepared.findings
        findings += unused_rules(item.rules, prepared.shapes, item_rules=len(item.rules))
        shapes += prepared.shapes
        parts, told_of_fit = _fitted(shop, item, prepared.parts)
        findings += told_of_fit
        items.append(_ItemParts(item, parts))
    findings += unused_rules(shop.order.rules, shapes)
    if stops(findings):
        raise PlanStoppedError(findings)
    return items, findings


def _fitted(
    shop: Shop, item: Item, parts: tuple[Part, ...]
) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    if item.fit_mm is None:
        return parts, ()
    return fitted(parts, shop.material(item.material).thickness_mm, item.fit_mm)


def _used_materials(shop: Shop) -> list[Material]:
    used = {item.material for item in shop.order.items}
    return [material for material in shop.materials if material.name in used]


def _require_recipes(shop: Shop, items: Sequence[_ItemParts]) -> None:
    for one in items:
        material = shop.material(one.item.material)
        for process in sorted({p for part in one.parts for p in part.processes}):
            file = shop.material_file(material.name)
            recipe = material.recipe(shop.machine.name, process)
            if recipe is None:
                raise missing_recipe_error(material, shop.machine, process, file)
            require_reachable_speed(recipe, material, shop.machine, file)
            require_plausible_widths(recipe, material, shop.machine, file)
            require_focus_axis(recipe, material, shop.machine, shop.machine_file)
            require_tab_width(recipe, material, one.item.tabs, file)


class _MaterialPlanner:
    """Plans everything of an order that is made from one material."""

    def __init__(
        self, shop: Shop, material: Material, items: Sequence[_ItemParts], say: Progress
    ) -> None:
        self.sheets: list[PlannedSheet] = []
        self.decisions: list[Decision] = []
        self.findings: list[Finding] = []
        self._shop = shop
        self._settings = shop.order.settings
        self._material = material
        self._items = items
        self._bodies: Sequence[ItemBody] = ()
        self._layouts = Layouts((), {})
        self._say = say
        self._recipes = _recipes(shop, material)
        self._stock = tuple(
            SheetSize(sheet.name, sheet.width_mm, sheet.height_mm, sheet.count)
            for sheet in shop.order.stock
            if sheet.material == material.name
        )

    def place(self) -> None:
        """Find where everything lies; for :meth:`plan`."""
        self._bodies, self._layouts = self._placed_best(self._items)

    def plan(self, sheets_before: int) -> None:
        """Plan every sheet once all is placed; they are numbered on from ``sheets_before``."""
        beam = BeamPlanner(
            self._shop.machine,
            self._recipes,
            self._merge_mm,
            self._settings.shared_edges,
            self._settings.order_of_work,
        )
        copies: dict[int, int] = {}
        engraved: list[EngravedPart] = []
        photos: list[PhotoOfPart] = []
        for number, layout in enumerate(self._layouts.sheets, sheets_before + 1):
            self._say(f"Planning the beam's path on sheet {number} ({self._material.name})")
            placed = self._placed(self._bodies, layout, copies)
            size_mm = (layout.sheet.width_mm, layout.sheet.height_mm)
            path = beam.plan(placed, f"sheet {number}", size_mm)
            engraved += path.engraved
            photos += path.photos
            self.sheets.append(self._sheet(number, layout, placed, path))
            self.findings += path.findings
            self.decisions += path.decisions
        self.decisions += (*engraving_decisions(engraved), *photo_decisions(photos))
        self.findings += (*engraving_findings(engraved), *photo_findings(photos))

    @property
    def _kerf_mm(self) -> float:
        cut = self._recipes.get(Process.CUT)
        return (cut.kerf_mm or 0.0) if cut else 0.0

    @property
    def _merge_mm(self) -> float:
        given = self._settings.merge_mm
        return self._kerf_mm / 2 if given is None else given

    def _place(self, bodies: Sequence[ItemBody], seconds: float) -> Layouts:
        margin_mm = self._settings.margin_mm
        if any(not part.blank for body in bodies for part in body.parts):
            # the beam runs half a kerf outside the part and must stay on the sheet
            margin_mm = max(margin_mm, self._kerf_mm / 2)
        spacing_mm = self._settings.spacing_mm
        if spacing_mm is None:
            # twice the kerf leaves a web as wide as the kerf between neighbouring cuts
            spacing_mm = max(1.0, 2.0 * self._kerf_mm)
        layouts = nest(
            [body.body for body in bodies],
            self._stock,
            spacing_mm=spacing_mm,
            margin_mm=margin_mm,
            seconds=seconds,
            seed=self._settings.seed,
        )
        require_all_placed(
            [body.body for body in bodies],
            self._stock,
            layouts,
            margin_mm=margin_mm,
            file=str(self._shop.order_file),
            material=self._material.name,
        )
        return layouts

    def _placed_best(self, items: Sequence[_ItemParts]) -> tuple[Sequence[ItemBody], Layouts]:
        """Nest, and compare with the drawings laid down as they are where that is another way."""
        nested = [body for one in items for body in bodies_of(one.item, one.parts)]
        count = sum(one.body.quantity for one in nested)
        self._say(f"Placing {number_of(count, 'part')} on {self._material.name}")
        layouts = self._place(nested, self._settings.nest_seconds)
        places = {one.item.place for one in items if len(one.parts) > 1}
        if places == {"as-drawn"}:
            self._compare_nested(items, layouts)
        if "nest" not in places:
            return nested, layouts
        by_nesting = _placing("nest", layouts)
        drawn = [b for one in items for b in bodies_of(one.item, one.parts, as_drawn=True)]
        try:
            as_drawn = self._place(drawn, OTHER_WAY_SECONDS)
        except KerfwrightError as error:
            other = Alternative("as-drawn", note=f"not possible: {error.thing}")
            why = "the drawings do not fit the stock as they are drawn"
            self._decide_placing("nest", by_nesting, other, why)
            return nested, layouts
        other = _placing("as-drawn", as_drawn)
        saved_mm2 = as_drawn.area_mm2 - layouts.area_mm2
        if saved_mm2 < 0.0:
            why = f"as drawn, {-saved_mm2 / 1e6:.3f} m² less of sheet is needed"
            self._decide_placing("as-drawn", by_nesting, other, why)
            return drawn, as_drawn
        why = f"saves {saved_mm2 / 1e6:.3f} m² of sheet" if saved_mm2 else "takes no more sheet"
        self._decide_placing("nest", by_nesting, other, why)
        return nested, layouts

    def _compare_nested(self, items: Sequence[_ItemParts], as_drawn: Layouts) -> None:
        """Record that the order keeps its drawings as drawn, and what nesting would take."""
        bodies = [b for one in items for b in bodies_of(one.item, one.parts, as_drawn=False)]
        try:
            nested = _placing("nest", self._place(bodies, OTHER_WAY_SECONDS))
        except KerfwrightError as error:
            nested = Alternative("nest", note=f"not possible: {error.thing}")
        self._decide_placing(
            "as-drawn",
            _placing("as-drawn", as_drawn),
            nested,
            "the order asks for it",
            override='place = "nest" in the [[items]] that may be taken apart',
        )

    def _decide_placing(
        self,
        chosen: str,
        one: Alternative,
        other: Alternative,
        why: str,
        *,
        override: str = 'place = "as-drawn" in the [[items]] that should stay as drawn',
    ) -> None:
        self.decisions.append(
            Decision(
                what=f"placing on {self._material.name}",
                chosen=chosen,
                alternatives=(one, other),
                why=why,
                override=override,
                code="nesting/placing",
            )
        )

    def _placed(
        self, bodies: Sequence[ItemBody], layout: SheetLayout, copies: dict[int, int]
    ) -> list[PlacedPart]:
        placed = []
        for placement in layout.placements:
            body = bodies[placement.body]
            copies[placement.body] = copies.get(placement.body, 0) + 1
            placed += [
                PlacedPart(
                    part.transformed(placement.transform),
                    copies[placement.body],
                    body.label,
                    (placement.body, number, placement.turn_deg),
                    partial(body.item.way_of, default=self._settings.engrave),
                    body.item.photo_rows,
                    body.item.tabs,
                )
                for number, part in enumerate(body.parts)
            ]
        return placed

    def _sheet(
        self, number: int, layout: SheetLayout, placed: Sequence[PlacedPart], path: BeamPath
    ) -> PlannedSheet:
        parts = tuple(one.part for one in placed)
        used = {process for part in parts for process in part.processes}
        return PlannedSheet(
            number=number,
            material=self._material,
            sheet=layout.sheet,
            parts=parts,
            items=tuple(one.item for one in placed),
            used_fraction=layout.used_fraction,
            recipes={
                process: self._recipes[process] for process in self._recipes if process in used
            },
            toolpath=path.toolpath,
            sources=path.sources,
            intended=Intended(
                cuts=tuple(
                    cut
                    for part in parts
                    if not part.blank
                    for cut in (part.outline, *part.holes, *part.slits)
                ),
                scores=tuple(p for part in parts for mark in part.scores for p in mark.paths),
                area=engraved_area(path.engraved),
                relief=as_area(shapely.union_all([one.relief for one in path.engraved])),
                photos=tuple(one.place for one in path.photos),
                tabs=path.tabs,
            ),
            times=path.times,
            times_by_process_s=path.times_by_process_s,
            shared_edges=self._settings.shared_edges,
            merge_mm=self._merge_mm,
        )


def _recipes(shop: Shop, material: Material) -> dict[Process, Recipe]:
    by_process = {
        process: material.recipe(shop.machine.name, process)
        for process in (Process.ENGRAVE, Process.PHOTO, Process.SCORE, Process.CUT)
    }
    return {process: recipe for process, recipe in by_process.items() if recipe is not None}


def _placing(way: str, layouts: Layouts) -> Alternative:
    return Alternative(way, material_mm2=layouts.area_mm2, note=layouts.in_words)
