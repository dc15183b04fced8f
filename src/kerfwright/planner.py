"""From an order to its plan: the only module that knows the whole line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import partial
from pathlib import Path as FilePath
from threading import Event

import shapely

from kerfwright.batches import prepare_copies
from kerfwright.checked_items import checked, recipes_of, require_recipes, used_materials
from kerfwright.cutting.fit import fitted
from kerfwright.decisions import Alternative, Decision
from kerfwright.findings import Finding, number_of, stops
from kerfwright.fixtures.loads import Loads, loads_of
from kerfwright.geometry.regions import as_area
from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.learning import learned
from kerfwright.nesting.model import LayoutSoFar, SheetLayout
from kerfwright.nesting.remainder import Remainder
from kerfwright.nesting.until import NO_END, Control, Until
from kerfwright.parts.model import Part, ProcessedShape
from kerfwright.parts.processes import unused_rules
from kerfwright.placing import ItemParts, Placer, laid
from kerfwright.plan import Intended, Laid, LeftToMake, Plan, PlannedSheet
from kerfwright.sequence.beam_path import BeamPath, BeamPlanner, PlacedPart
from kerfwright.sequence.burn_risk import burn_risks
from kerfwright.sequence.engraved import (
    EngravedPart,
    engraved_area,
    engraving_decisions,
    engraving_findings,
)
from kerfwright.sequence.kept_path import KeptPaths
from kerfwright.sequence.photos import PhotoOfPart, photo_decisions, photo_findings
from kerfwright.shop.files import Shop, load_shop
from kerfwright.shop.hazards import hazard_findings
from kerfwright.shop.material import Material
from kerfwright.shop.order import Item
from kerfwright.shop.runs import RunsOf
from kerfwright.shop.stock_lots import StockOf
from kerfwright.toolpath import Process
from kerfwright.ways import Way

Progress = Callable[[str], None]
Better = Callable[[LayoutSoFar], None]


class PlanStoppedError(Exception):
    """The work cannot be planned as it is: ``findings`` hold every reason, stops first."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.stops = stops(findings)
        self.findings = tuple(findings)
        super().__init__("; ".join(f"{stop.where}: {stop.what}" for stop in self.stops))


def plan_order(
    order_path: FilePath | str,
    progress: Progress | None = None,
    runs_of: RunsOf | None = None,
    until: Until = NO_END,
    stock_of: StockOf | None = None,
    better: Better | None = None,
) -> Plan:
    """Plan an order file, from its drawings to timed toolpaths.

    With ``runs_of`` times are corrected by what past runs of the machine took; ``stock_of`` gives
    what is in stock on record, for an order that takes its sheets from there. ``until`` ends
    the search for places instead of the order's ``nest_seconds``. An interrupt while places are
    searched for (Ctrl-C) ends only that, with the best layout so far; a second one ends all.
    ``better`` gets each material's best layouts while places are searched for, in another thread.

    Raises:
        KerfwrightError: a file is wrong, a recipe is missing, or a part fits no sheet.
        PlanStoppedError: a drawing cannot be made as it is drawn.
    """
    return plan_shop(load_shop(order_path, stock_of), progress, runs_of, until, better)


def plan_shop(
    shop: Shop,
    progress: Progress | None = None,
    runs_of: RunsOf | None = None,
    until: Until = NO_END,
    better: Better | None = None,
    stop: Callable[[], bool] | None = None,
    kept: Kept = NOTHING_KEPT,
) -> Plan:
    """Plan an order that is loaded, as :func:`plan_order` does.

    The search for places ends with the best layout so far as soon as ``stop`` says so. What is
    ``kept`` of planning the order before is taken from there where nothing of it has changed,
    and is the same as if it was planned anew.
    """
    say = progress or (lambda _: None)
    items, findings = _prepare_items(shop, say, kept)
    findings += shop.from_stock.findings
    require_recipes(shop, items)
    findings += hazard_findings(used_materials(shop))
    findings += checked(items, shop, kept)
    loads = loads_of(shop, items)
    findings += [finding for one in loads for finding in one.findings]
    if stops(findings):
        raise PlanStoppedError(findings)
    sheets: list[PlannedSheet] = []
    decisions: list[Decision] = []
    stopping = Event()
    control = Control(until, lambda: stopping.is_set() or (stop is not None and stop()), say)
    loose = [one for one in items if one.item.fixture is None]
    planners = [
        _MaterialPlanner(
            shop,
            shop.material(material),
            [one for one in loose if one.item.material == material],
            control,
            better,
            kept,
        )
        for material in dict.fromkeys(one.item.material for one in loose)
    ]
    planners += [
        _MaterialPlanner(shop, shop.material(one.material), one.items, control, better, kept, one)
        for one in loads
    ]
    # the placement search runs outside the interpreter: the next material is placed meanwhile
    with ThreadPoolExecutor(max_workers=1) as pool:
        placing = [pool.submit(planner.place) for planner in planners]
        try:
            for planner, placed in zip(planners, placing, strict=True):
                _await(placed, stopping, say)
                planner.plan(len(sheets))
                sheets += planner.sheets
                decisions += planner.decisions
                findings += planner.findings
        except BaseException:
            stopping.set()
            raise
        finally:
            pool.shutdown(cancel_futures=True)
    plan = Plan(
        title=shop.order.title,
        reference=shop.order.reference or "",
        machine=shop.machine,
        sheets=tuple(sheets),
        decisions=tuple(decisions),
        findings=tuple(dict.fromkeys(findings)),
        left_to_make=tuple(one for planner in planners for one in planner.left_to_make),
        from_stock=shop.from_stock,
        offcut_least_mm=shop.order.settings.offcut_least_mm,
        invented=shop.order.invented
        or shop.machine.invented
        or any(material.invented for material in shop.materials),
    )
    return learned(plan, runs_of, wanted=shop.order.settings.learn)


def _await(placed: Future[None], stopping: Event, say: Progress) -> None:
    """Wait until all is placed; the first interrupt asks for the best layout so far."""
    try:
        placed.result()
    except KeyboardInterrupt:
        if stopping.is_set():
            raise
        stopping.set()
        say("Stopping the search; the best layout so far is kept (Ctrl-C again ends all)")
        placed.result()


def _prepare_items(shop: Shop, say: Progress, kept: Kept) -> tuple[list[ItemParts], list[Finding]]:
    items: list[ItemParts] = []
    findings: list[Finding] = []
    shapes: list[ProcessedShape] = []
    for number, item in enumerate(shop.order.items):
        say(f"Reading {item.drawing}")
        copies = prepare_copies(shop, item, kept)
        findings += copies.findings
        of_item = [shape for _, one in copies.all for shape in one.shapes]
        findings += unused_rules(item.rules, of_item, item_rules=len(item.rules))
        shapes += of_item
        for row, prepared in copies.all:
            parts, told_of_fit = _fitted(shop, item, prepared.parts)
            findings += told_of_fit
            page_mm = prepared.drawing.width_mm, prepared.drawing.height_mm
            of_row = None if row is None else row.number
            items.append(ItemParts(item, parts, number, page_mm, of_row))
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


class _MaterialPlanner:
    """Plans everything of one material on sheets, or what of it lies in one fixture."""

    def __init__(
        self,
        shop: Shop,
        material: Material,
        items: Sequence[ItemParts],
        control: Control,
        better: Better | None,
        kept: Kept,
        loads: Loads | None = None,
    ) -> None:
        self.sheets: list[PlannedSheet] = []
        self.decisions: list[Decision] = []
        self.findings: list[Finding] = []
        self.left_to_make: tuple[LeftToMake, ...] = ()
        self._order = shop.order
        self._settings = shop.order.settings
        self._machine = shop.machine
        self._material = material
        self._items = items
        self._say = control.progress
        self._recipes = recipes_of(shop, material)
        self._placer = loads or Placer(shop, material, items, self._kerf_mm, control, better, kept)
        self._ways: tuple[Way, ...] = ()
        self._failed: tuple[Alternative, ...] = ()
        self._beam = KeptPaths(
            BeamPlanner(
                shop.machine,
                self._recipes,
                self._merge_mm,
                self._settings.shared_edges,
                self._settings.order_of_work,
                kept,
            )
        )

    def place(self) -> None:
        """Find where everything may lie, in every way there is; for :meth:`plan`."""
        count = sum(one.item.quantity * len(one.parts) for one in self._items)
        self._say(f"Placing {number_of(count, 'part')} on {self._material.name}")
        self._ways, self._failed = self._placer.ways()

    def plan(self, sheets_before: int) -> None:
        """Plan every sheet once all is placed; they are numbered on from ``sheets_before``.

        Where the sheets alone do not decide how the parts are laid, the beam's path is planned
        for every way, and its time does.
        """
        contenders = self._placer.contenders(self._ways)
        planned = {way.name: self._paths(way, sheets_before) for way in contenders}
        times_s = [sum(path.times.total_s for _, path in planned[one.name]) for one in contenders]
        timed = self._placer.cheapest(contenders, times_s)
        way = timed[0]
        by_name = {one.name: one for one in timed}
        ways = [by_name.get(one.name, one) for one in self._ways]
        decided = self._placer.decision(way, ways, self._failed)
        self.decisions += () if decided is None else (decided,)
        self.findings += self._placer.findings_of(way)
        self.left_to_make = self._placer.left_to_make(way)
        engraved: list[EngravedPart] = []
        photos: list[PhotoOfPart] = []
        by_sheet = zip(way.layouts.sheets, way.remainders, planned[way.name], strict=True)
        for number, (layout, left, (placed, path)) in enumerate(by_sheet, sheets_before + 1):
            engraved += path.engraved
            photos += path.photos
            self.sheets.append(self._sheet(number, way, layout, left, placed, path))
            self.findings += (*path.findings, *self._burn_risks(layout, path, number))
            self.decisions += path.decisions
        self.decisions += (
            *engraving_decisions(engraved, self._order),
            *photo_decisions(photos, self._order),
        )
        self.findings += (*engraving_findings(engraved), *photo_findings(photos))

    def _burn_risks(self, layout: SheetLayout, path: BeamPath, number: int) -> tuple[Finding, ...]:
        return burn_risks(
            path.toolpath,
            self._machine,
            self._material,
            self._recipes.get(Process.CUT),
            layout.sheet,
            number,
        )

    def _paths(self, way: Way, sheets_before: int) -> list[tuple[list[PlacedPart], BeamPath]]:
        """The beam's path on every sheet of one way of placing."""
        copies: Counter[tuple[int, tuple[int, ...]]] = Counter()
        paths = []
        for number, layout in enumerate(way.layouts.sheets, sheets_before + 1):
            words = f"the beam's path on sheet {number} ({self._material.name})"
            placed = self._placed(way, layout, copies)
            path = self._beam.plan(
                placed,
                f"sheet {number}",
                (layout.sheet.width_mm, layout.sheet.height_mm),
                begun=partial(self._say, f"Planning {words}"),
                found=partial(self._say, f"Kept {words}: nothing of it has changed"),
            )
            paths.append((placed, path))
        return paths

    @property
    def _kerf_mm(self) -> float:
        cut = self._recipes.get(Process.CUT)
        return (cut.kerf_mm or 0.0) if cut else 0.0

    @property
    def _merge_mm(self) -> float:
        given = self._settings.merge_mm
        return self._kerf_mm / 2 if given is None else given

    def _placed(
        self, way: Way, layout: SheetLayout, copies: Counter[tuple[int, tuple[int, ...]]]
    ) -> list[PlacedPart]:
        placed = []
        for placement in layout.placements:
            body = way.bodies[placement.body]
            same = (body.item_number, body.part_numbers)
            copies[same] += 1
            placed += [
                PlacedPart(
                    laid(part, placement),
                    copies[same],
                    body.label,
                    (body.item_number, number, placement.turn_deg),
                    partial(body.item.way_of, default=self._settings.engrave),
                    body.item.photo_rows,
                    body.item.tabs,
                    self._items[body.item_number].number,
                )
                for number, part in zip(body.part_numbers, body.parts, strict=True)
            ]
        return placed

    def _origins(self, way: Way, layout: SheetLayout) -> tuple[Laid, ...]:
        """Where each part of a layout comes from, in the order in which they are placed."""
        return tuple(
            Laid(
                item=self._items[body.item_number].number,
                part=part,
                turn_deg=placement.turn_deg,
                mirrored=placement.mirrored,
                pinned=body.body.fixed is not None,
            )
            for placement in layout.placements
            for body in (way.bodies[placement.body],)
            for part in body.part_numbers
        )

    def _sheet(
        self,
        number: int,
        way: Way,
        layout: SheetLayout,
        left: Remainder | None,
        placed: Sequence[PlacedPart],
        path: BeamPath,
    ) -> PlannedSheet:
        parts = tuple(one.part for one in placed)
        used = {process for part in parts for process in part.processes}
        return PlannedSheet(
            number=number,
            material=self._material,
            sheet=layout.sheet,
            parts=parts,
            items=tuple(one.item for one in placed),
            laid=self._origins(way, layout),
            used_fraction=layout.used_fraction,
            left=left,
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
