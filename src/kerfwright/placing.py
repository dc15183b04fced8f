"""The ways to lay a material's parts on its sheets, what each costs, and which one is taken."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from shapely import Polygon

from kerfwright.decisions import Alternative, Decision, Overrule
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.nesting.bodies import (
    ItemBody,
    bodies_of,
    wishes_of,
)
from kerfwright.nesting.copies import gathered_copies, told_apart
from kerfwright.nesting.cost import CENT, Cost, Prices, cost_of
from kerfwright.nesting.fixed import without_gaps
from kerfwright.nesting.left_over import (
    Stock,
    left_over_findings,
    require_all_placed,
    why_unplaced,
)
from kerfwright.nesting.model import Body, Layouts, LayoutSoFar, Placement, SheetSize
from kerfwright.nesting.to_sides import slid_to_sides
from kerfwright.nesting.until import NO_END, Control, Until
from kerfwright.parts.model import Part
from kerfwright.places import Places
from kerfwright.plan import LeftToMake
from kerfwright.shop.files import Shop
from kerfwright.shop.material import Material
from kerfwright.shop.order import Item, PlaceWay, StockSheet
from kerfwright.shop.overruling import place_overrules
from kerfwright.ways import Way, WayName, distances_mm, override_of, why_chosen

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
    """An item with the parts of its drawing; ``number`` counts the order's items from 0.

    ``page_mm`` is the size of the drawing's page.
    """

    item: Item
    parts: tuple[Part, ...]
    number: int = 0
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
        better: Callable[[LayoutSoFar], None] | None = None,
        kept: Kept = NOTHING_KEPT,
    ) -> None:
        self._kerf_mm = kerf_mm
        self._order_file = str(shop.order_file)
        self._material = material.name
        recipe = material.recipe(shop.machine.name, "cut")
        self._items = items
        self._control = control
        self._better = better
        self._settings = settings = shop.order.settings
        cut = any(not part.blank for one in items for part in one.parts)
        self._margin_mm, self._spacing_mm = distances_mm(settings, kerf_mm, cut=cut)
        self._prices = _prices(shop)
        self._from_records = shop.order.stock_from == "records"
        # what is to be kept free is kept free of the cut, too
        missing_mm = max(kerf_mm / 2 - self._spacing_mm, 0.0)
        self._stock = tuple(
            sheet_of(sheet, missing_mm) for sheet in shop.stock if sheet.material == material.name
        )
        self._places = Places(
            self._stock,
            self._spacing_mm,
            self._margin_mm,
            kerf_mm,
            None if recipe is None else recipe.speed_mm_s / recipe.passes,
            self._prices,
            settings.seed,
            kept,
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
    def _in_stock(self) -> Stock:
        return Stock(
            self._material,
            self._stock,
            self._spacing_mm,
            self._margin_mm,
            MORE_ON_RECORD if self._from_records else "under [[stock]]",
        )

    @property
    def _shares_edges(self) -> bool:
        """Whether parts may be laid edge to edge: all are cut, and free to be moved."""
        free = all(one.item.place in ("cheapest", "nest") for one in self._items)
        kits = any(one.item.kit or one.item.one_sheet for one in self._items)
        return (
            any(self._may_share(one.item) for one in self._items)
            and self._settings.shared_edges
            and self._kerf_mm > 0.0
            and free
            and not kits
            and not any(one.item.is_blank or _is_fixed(one.item) for one in self._items)
        )

    def _may_share(self, item: Item) -> bool:
        return (item.edges or self._settings.edges) == "shared"

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
        if not any(len(one.parts) > 1 and not _is_fixed(one.item) for one in self._items):
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
            slide = way == "compact" and one.item.compact_as == "parts" and len(one.parts) > 1
            slide = slide and not _is_fixed(one.item)
            parts = self._places.slid(one.item, one.parts, self._control) if slide else one.parts
            bodies += bodies_of(one.item, parts, way=way, wishes=wishes)
        if any(one.item.at_mm is not None for one in self._items):
            return tuple(bodies)  # whoever numbers sheets for whole drawings means those numbers
        numbered = without_gaps([one.body for one in bodies])
        return tuple(replace(one, body=body) for one, body in zip(bodies, numbered, strict=True))

    def _way(self, name: PlaceWay, bodies: tuple[ItemBody, ...], seconds: float) -> Way:
        plain, members = gathered_copies(bodies)
        control = replace(self._control, progress=self._say, better=self._shown(plain))
        if control.until == NO_END and self._settings.nest_work is not None:
            control = replace(control, until=Until(work=self._settings.nest_work))
        if seconds <= OTHER_WAY_SECONDS:
            counted = control.until.work is not None
            until = Until(work=OTHER_WAY_WORK) if counted else NO_END
            control = Control(until, self._control.stop)
        layouts = told_apart(self._places.nested(plain, seconds, control), members)
        slid = slid_to_sides(
            [body.body for body in bodies],
            [body.slides_to for body in bodies],
            layouts,
            spacing_mm=self._spacing_mm,
            margin_mm=self._margin_mm,
            stop=self._control.stop,
        )
        return self._laid(name, bodies, slid)

    def _edge_to_edge(self, bodies: tuple[ItemBody, ...]) -> Layouts:
        sharing = [
            replace(one, body=replace(one.body, shares_edges=self._may_share(one.item)))
            for one in bodies
        ]
        plain, members = gathered_copies(sharing)
        return told_apart(self._places.edge_to_edge(plain, self._control), members)

    def _laid(self, name: WayName, bodies: tuple[ItemBody, ...], layouts: Layouts) -> Way:
        """A way with what it leaves of its sheets; parts left over may be an error."""
        plain = [body.body for body in bodies]
        if self._settings.if_sheets_run_out == "stop" or not layouts.sheets:
            require_all_placed(plain, self._in_stock, layouts, file=self._order_file)
        remainders = self._places.remainders(plain, layouts)
        return self._costed(Way(name, bodies, layouts, remainders, Cost(None, Decimal(0))), None)

    def _shown(self, bodies: Sequence[Body]) -> Callable[[Layouts], None] | None:
        """Who wants to see better layouts is told whose they are, and of what."""
        better = self._better
        if better is None:
            return None

        def shown(layouts: Layouts) -> None:
            cost = self._places.cost_in_words(bodies, layouts)
            better(LayoutSoFar(self._material, tuple(bodies), layouts, cost))

        return shown

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
            overrules=self._overrules(chosen, ways),
        )

    def _overrules(self, chosen: Way, ways: Sequence[Way]) -> tuple[Overrule, ...]:
        several = [one for one in self._items if len(one.parts) > 1 and one.item.at_mm is None]
        movable = [one for one in several if _may_be_moved(one) or not self._is_open]
        return place_overrules(
            [one.number for one in movable],
            [way.name for way in ways],
            chosen=chosen.name,
            by_hand=not self._is_open,
            edges_tried=self._shares_edges,
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
        left = why_unplaced(bodies, self._in_stock, way.layouts)
        return tuple(
            LeftToMake(bodies[one.body].name, self._material, one.count, one.reason) for one in left
        )

    def findings_of(self, way: Way) -> tuple[Finding, ...]:
        """What has to be said of a way: parts left over, a search that was stopped."""
        bodies = [body.body for body in way.bodies]
        found = left_over_findings(bodies, self._in_stock, way.layouts)
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
    return len(one.parts) > 1 and one.item.place == "cheapest" and not _is_fixed(one.item)


def _is_fixed(item: Item) -> bool:
    """Whether an item, or any part of it, has a place of its own."""
    return item.at_mm is not None or bool(item.pinned)


def sheet_of(sheet: StockSheet, grow_mm: float = 0.0) -> SheetSize:
    """A sheet of the order as it is placed on, areas to keep free grown by ``grow_mm``."""
    outline = None
    if sheet.outline is not None or sheet.holes:
        size = (sheet.width_mm, sheet.height_mm)
        edge = sheet.outline or ((0.0, 0.0), (size[0], 0.0), size, (0.0, size[1]))
        outline = Polygon(edge, sheet.holes)
    zones = [(zone.ring, zone.why or "") for zone in sheet.keep_out if zone.ring is not None]
    return SheetSize(
        sheet.name,
        sheet.width_mm,
        sheet.height_mm,
        sheet.count,
        outline=outline,
        keep_out=tuple(Polygon(ring).buffer(grow_mm, join_style="mitre") for ring, _ in zones),
        keep_out_why=tuple(why for _, why in zones),
        cost=sheet.cost,
        price_per_m2=sheet.price_per_m2,
        offcut=sheet.offcut,
    )


def laid(part: Part, placement: Placement) -> Part:
    """The part where it lies; a mirrored one keeps the sense of its lines."""
    if placement.mirrored:
        part, placement = part.mirrored(0.0), replace(placement, mirrored=False)
    return part.transformed(placement.transform)
