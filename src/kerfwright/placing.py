"""The ways to lay a material's parts on its sheets, what each costs, and which one is taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import shapely
from shapely import Polygon

from kerfwright.decisions import Alternative, Decision
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.affine import translation
from kerfwright.nesting.bodies import (
    ItemBody,
    bodies_of,
    left_over_findings,
    require_all_placed,
    wishes_of,
)
from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.copies import gathered_copies, told_apart
from kerfwright.nesting.cost import CENT, Cost, Prices, cost_of
from kerfwright.nesting.fits import room_mm, why_unplaced
from kerfwright.nesting.model import Body, Layouts, Placement, SheetSize
from kerfwright.nesting.nest import nest, nest_edge_to_edge
from kerfwright.nesting.remainder import remainder
from kerfwright.nesting.until import NO_END, Control, Until
from kerfwright.parts.model import Part
from kerfwright.plan import LeftToMake
from kerfwright.shop.files import Shop
from kerfwright.shop.material import Material
from kerfwright.shop.order import Item, PlaceWay, StockSheet
from kerfwright.ways import Way, WayName, override_of, why_chosen

OTHER_WAY_SECONDS = 0.01
"""Too short for a search: a way that is only compared with is laid down where it fits first."""

OTHER_WAY_WORK = 1_000
"""The same in tried positions, where work is counted."""

MORE_ON_RECORD = "to the stock on record (kerfwright stock receive) or under [[stock]]"

MOST_COMPACTED = 60
"""A drawing of more parts is only slid together where the order asks for it."""

MOST_TIMED_PARTS = 1500
"""With more parts the beam's path is planned for one way only."""


@dataclass(frozen=True, eq=False, slots=True)
class ItemParts:
    """An item with the parts of its drawing, and the size of the drawing's page."""

    item: Item
    parts: tuple[Part, ...]
    page_mm: tuple[float, float] = (0.0, 0.0)
    row: int | None = None
    """Of a batch: the row that this copy is of."""


class Placer:
    """Lays the parts of one material in every way that the order leaves open."""

    def __init__(
        self,
        shop: Shop,
        material: Material,
        items: Sequence[ItemParts],
        kerf_mm: float,
        control: Control,
    ) -> None:
        self._kerf_mm = kerf_mm
        self._order_file = str(shop.order_file)
        self._material = material.name
        recipe = material.recipe(shop.machine.name, "cut")
        self._cut_mm_s = None if recipe is None else recipe.speed_mm_s / recipe.passes
        self._items = items
        self._control = control
        self._settings = settings = shop.order.settings
        cut = any(not part.blank for one in items for part in one.parts)
        # the beam runs half a kerf outside the part and must stay on the sheet
        self._margin_mm = max(settings.margin_mm, kerf_mm / 2 if cut else 0.0)
        # twice the kerf leaves a web as wide as the kerf between neighbouring cuts
        usual_mm = max(1.0, 2.0 * kerf_mm)
        self._spacing_mm = usual_mm if settings.spacing_mm is None else settings.spacing_mm
        self._prices = _prices(shop)
        self._from_records = shop.order.stock_from == "records"
        # what is to be kept free is kept free of the cut, too
        missing_mm = max(kerf_mm / 2 - self._spacing_mm, 0.0)
        self._stock = tuple(
            sheet_of(sheet, missing_mm) for sheet in shop.stock if sheet.material == material.name
        )
        self._wishes = wishes_of([one.item for one in items], self._stock)

    def ways(self) -> tuple[tuple[Way, ...], tuple[Alternative, ...]]:
        """Lay everything in every way; the first is what the order asks for.

        The others are compared with it. Ways that are not possible come second, with why.

        Raises:
            KerfwrightError: what the order asks for is not possible.
        """
        first = self._way(self._asked, self._bodies(None), self._settings.nest_seconds)
        found, failed = [first], []
        for name in self._others:
            try:
                found.append(self._way(name, self._bodies(name), OTHER_WAY_SECONDS))
            except KerfwrightError as error:
                failed.append(Alternative(name, note=f"not possible: {error.thing}"))
        if self._shares_edges:
            bodies = self._bodies("nest")
            try:
                found.append(self._laid("edge-to-edge", bodies, self._edge_to_edge(bodies)))
            except KerfwrightError as error:
                failed.append(Alternative("edge-to-edge", note=f"not possible: {error.thing}"))
        return tuple(found), tuple(failed)

    @property
    def _shares_edges(self) -> bool:
        """Whether parts may be laid edge to edge: all are cut, and free to be moved."""
        free = all(one.item.place in ("cheapest", "nest") for one in self._items)
        kits = any(one.item.kit or one.item.one_sheet for one in self._items)
        return (
            self._settings.edges == "shared"
            and self._settings.shared_edges
            and self._kerf_mm > 0.0
            and free
            and not kits
            and not any(one.item.is_blank or one.item.at_mm for one in self._items)
        )

    @property
    def _is_open(self) -> bool:
        """Whether the order leaves the way to the planner."""
        return any(_may_be_moved(one) for one in self._items)

    @property
    def _asked(self) -> PlaceWay:
        if self._is_open:
            return "nest"
        ways = {one.item.place for one in self._items if len(one.parts) > 1} or {"nest"}
        return ways.pop() if len(ways) == 1 else "as-drawn"

    @property
    def _others(self) -> tuple[PlaceWay, ...]:
        if not any(len(one.parts) > 1 and one.item.at_mm is None for one in self._items):
            return ()
        if not self._is_open:
            return ("as-drawn",) if self._asked == "nest" else ("nest",)
        few = all(len(one.parts) <= MOST_COMPACTED for one in self._items if _may_be_moved(one))
        return ("as-drawn", "compact") if few else ("as-drawn",)

    def _bodies(self, name: PlaceWay | None) -> tuple[ItemBody, ...]:
        bodies: list[ItemBody] = []
        for one, wishes in zip(self._items, self._wishes, strict=True):
            way = one.item.place
            if name is not None and (_may_be_moved(one) or not self._is_open):
                way = name
            slide = way == "compact" and len(one.parts) > 1 and one.item.at_mm is None
            parts = self._slid(one) if slide else one.parts
            bodies += bodies_of(one.item, parts, way=way, wishes=wishes)
        return tuple(bodies)

    def _slid(self, one: ItemParts) -> tuple[Part, ...]:
        """The parts of a drawing slid together, as on an empty sheet of the widest size."""
        sheet = max(self._stock, key=lambda s: room_mm(s, self._margin_mm)[0])
        area = sheet.usable(self._margin_mm, self._spacing_mm)
        bodies = [Body(p.name, (p.polygon,), 1, (0.0,)) for p in one.parts]
        x_mm, y_mm = shapely.union_all([part.polygon for part in one.parts]).bounds[:2]
        x_low, y_low = area.bounds[:2]
        slid = compacted(
            bodies,
            [Placement(n, 0.0, x_low - x_mm, y_low - y_mm) for n in range(len(one.parts))],
            area,
            spacing_mm=self._spacing_mm,
            to=one.item.compact_to,
            stop=self._control.stop,
        )
        if not slid.legal:
            raise KerfwrightError(
                "nesting/cannot-compact",
                file=one.item.drawing,
                thing="its parts cannot be slid together on a sheet as they are drawn.",
                remedy='Write place = "nest" or "as-drawn" for it, or add a larger sheet.',
            )
        return tuple(
            part.transformed(translation(p.x_mm, p.y_mm))
            for part, p in zip(one.parts, slid.placements, strict=True)
        )

    def _way(self, name: PlaceWay, bodies: tuple[ItemBody, ...], seconds: float) -> Way:
        control = replace(self._control, progress=self._say)
        if control.until == NO_END and self._settings.nest_work is not None:
            control = replace(control, until=Until(work=self._settings.nest_work))
        if seconds <= OTHER_WAY_SECONDS:
            counted = control.until.work is not None
            until = Until(work=OTHER_WAY_WORK) if counted else NO_END
            control = Control(until, self._control.stop)
        plain, members = gathered_copies(bodies)
        layouts = nest(
            plain,
            self._stock,
            spacing_mm=self._spacing_mm,
            margin_mm=self._margin_mm,
            seconds=seconds,
            seed=self._settings.seed,
            prices=self._prices,
            control=control,
        )
        return self._laid(name, bodies, told_apart(layouts, members))

    def _edge_to_edge(self, bodies: tuple[ItemBody, ...]) -> Layouts:
        plain, members = gathered_copies(bodies)
        layouts = nest_edge_to_edge(
            plain,
            self._stock,
            kerf_mm=self._kerf_mm,
            spacing_mm=self._spacing_mm,
            margin_mm=self._margin_mm,
            cut_mm_s=self._cut_mm_s,
            prices=self._prices,
            control=Control(stop=self._control.stop),
        )
        return told_apart(layouts, members)

    def _laid(self, name: WayName, bodies: tuple[ItemBody, ...], layouts: Layouts) -> Way:
        """A way with what it leaves of its sheets; parts left over may be an error."""
        plain = [body.body for body in bodies]
        if self._settings.if_sheets_run_out == "stop" or not layouts.sheets:
            require_all_placed(
                plain,
                self._stock,
                layouts,
                margin_mm=self._margin_mm,
                file=self._order_file,
                material=self._material,
                more=MORE_ON_RECORD if self._from_records else "under [[stock]]",
            )
        remainders = tuple(
            remainder(plain, layout, spacing_mm=self._spacing_mm) for layout in layouts.sheets
        )
        return self._costed(Way(name, bodies, layouts, remainders, Cost(None, Decimal(0))), None)

    def _say(self, words: str) -> None:
        self._control.progress(f"Placing parts on {self._material}: {words}")

    def _costed(self, way: Way, beam_s: float | None) -> Way:
        sheets = [layout.sheet for layout in way.layouts.sheets]
        cost = cost_of(list(zip(sheets, way.remainders, strict=True)), beam_s, self._prices)
        return replace(way, beam_s=beam_s, cost=cost)

    def _choice(self, ways: Sequence[Way]) -> tuple[Way, ...]:
        """Ways that the order allows; the others are only compared with."""
        if self._is_open:
            return tuple(ways)
        return tuple(way for way in ways if way is ways[0] or way.name == "edge-to-edge")

    def contenders(self, ways: Sequence[Way]) -> tuple[Way, ...]:
        """Ways among which the machine's time decides; the best of the sheets alone is first."""
        ways = self._choice(ways)
        best = min(ways, key=lambda way: way.sheets_rank)
        if best.parts > MOST_TIMED_PARTS:
            return (best,)
        others = [
            way
            for way in ways
            if way is not best and (way.parts_left, way.parts) == (best.parts_left, best.parts)
        ]
        if self._prices.rate_per_hour is None or best.cost.material is None:
            others = [way for way in others if way.sheets_rank == best.sheets_rank]
        return (best, *others)

    def cheapest(self, contenders: Sequence[Way], beam_s: Sequence[float]) -> tuple[Way, ...]:
        """Contenders with their time: the cheapest in all, or else the quickest, first."""
        timed = [self._costed(way, time_s) for way, time_s in zip(contenders, beam_s, strict=True)]

        def rank(way: Way) -> tuple[Decimal, float]:
            total = way.cost.total if self._prices.rate_per_hour is not None else None
            return total or Decimal(0), way.beam_s or 0.0

        return tuple(sorted(timed, key=rank))

    def decision(
        self, chosen: Way, ways: Sequence[Way], failed: Sequence[Alternative]
    ) -> Decision | None:
        """Tell what was chosen and why; ``None`` where there is only one way and no price."""
        alternatives = (*(self._alternative(way) for way in ways), *failed)
        if len(alternatives) < 2 and chosen.cost.total is None:
            return None
        return Decision(
            what=f"placing on {self._material}",
            chosen=chosen.name,
            alternatives=alternatives,
            why=why_chosen(
                chosen, ways, self._prices, asked=not self._is_open and not self._shares_edges
            ),
            override=override_of(chosen.name, len(alternatives), from_records=self._from_records),
            code="nesting/placing",
        )

    def _alternative(self, way: Way) -> Alternative:
        total = way.cost.total
        words = way.cost.in_words(self._prices)
        return Alternative(
            way.name,
            time_s=way.beam_s,
            material_mm2=way.layouts.area_mm2,
            money=None if total is None else str(total.quantize(CENT)),
            note="; ".join(text for text in (way.layouts.in_words, words) if text),
        )

    def left_to_make(self, way: Way) -> tuple[LeftToMake, ...]:
        """Parts that a way leaves over."""
        bodies = [body.body for body in way.bodies]
        left = why_unplaced(bodies, self._stock, way.layouts, margin_mm=self._margin_mm)
        return tuple(
            LeftToMake(bodies[one.body].name, self._material, one.count, one.reason) for one in left
        )

    def findings_of(self, way: Way) -> tuple[Finding, ...]:
        """What has to be said of a way: parts left over, a search that was stopped."""
        found = left_over_findings(
            [body.body for body in way.bodies],
            self._stock,
            way.layouts,
            margin_mm=self._margin_mm,
            material=self._material,
        )
        if not way.layouts.stopped:
            return found
        stopped = Finding(
            Severity.NOTE,
            "nesting/stopped",
            f"the search for places on {self._material} was stopped by hand; the best layout "
            "until then was kept.",
            "Plan again and let it run if the sheets are dear.",
        )
        return (*found, stopped)


def _prices(shop: Shop) -> Prices:
    """What the order says of prices, and the rates where it says nothing."""
    settings, rates = shop.order.settings, shop.rates
    hour = settings.rate_per_hour
    return Prices(
        rates.machine_per_hour if hour is None and rates is not None else hour,
        settings.offcut_share,
        settings.offcut_least_mm,
        settings.currency or (rates.currency if rates is not None else ""),
    )


def _may_be_moved(one: ItemParts) -> bool:
    """Whether the planner may choose how an item's parts are laid, and there are several."""
    return len(one.parts) > 1 and one.item.place == "cheapest" and one.item.at_mm is None


def sheet_of(sheet: StockSheet, grow_mm: float = 0.0) -> SheetSize:
    """A sheet of the order as it is placed on, areas to keep free grown by ``grow_mm``."""
    outline = None
    if sheet.outline is not None or sheet.holes:
        size = (sheet.width_mm, sheet.height_mm)
        edge = sheet.outline or ((0.0, 0.0), (size[0], 0.0), size, (0.0, size[1]))
        outline = Polygon(edge, sheet.holes)
    zones = (Polygon(zone.ring) for zone in sheet.keep_out if zone.ring is not None)
    return SheetSize(
        sheet.name,
        sheet.width_mm,
        sheet.height_mm,
        sheet.count,
        outline=outline,
        keep_out=tuple(zone.buffer(grow_mm, join_style="mitre") for zone in zones),
        cost=sheet.cost,
        price_per_m2=sheet.price_per_m2,
        offcut=sheet.offcut,
    )
