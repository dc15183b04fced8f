"""Searches for places on a material's sheets, their results kept for planning again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import translation
from kerfwright.kept import Kept
from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.cost import Prices, cost_of, worth
from kerfwright.nesting.fits import room_mm
from kerfwright.nesting.model import Body, Layouts, Placement, SheetSize
from kerfwright.nesting.nest import nest, nest_edge_to_edge
from kerfwright.nesting.remainder import Remainder, remainder
from kerfwright.nesting.to_sides import into
from kerfwright.nesting.until import Control
from kerfwright.parts.model import Part
from kerfwright.shop.order import Item


@dataclass(frozen=True, eq=False, slots=True)
class Places:
    """The sheets of a material and what holds for every search on them.

    A search that was stopped by hand is not kept: planning again searches again.
    """

    stock: tuple[SheetSize, ...]
    spacing_mm: float
    margin_mm: float
    kerf_mm: float
    cut_mm_s: float | None
    prices: Prices
    seed: int
    kept: Kept

    def nested(self, bodies: Sequence[Body], seconds: float, control: Control) -> Layouts:
        """Lay every body where it leaves the least; errors as for :func:`nest`."""
        # only laying edge to edge weighs the machine's hour against the sheet
        prices = replace(self.prices, rate_per_hour=None, currency="")

        def search() -> Layouts:
            return nest(
                bodies,
                self.stock,
                spacing_mm=self.spacing_mm,
                margin_mm=self.margin_mm,
                seconds=seconds,
                seed=self.seed,
                prices=prices,
                control=control,
            )

        def found(layouts: Layouts) -> None:
            control.progress("kept from before, nothing of it has changed")
            if control.better is not None:
                control.better(layouts)

        room = (self.stock, self.spacing_mm, self.margin_mm, seconds, self.seed, prices)
        inputs = (bodies, *room, control.until)
        return self.kept.of("nest", inputs, search, found=found, worth_keeping=_is_whole)

    def edge_to_edge(self, bodies: Sequence[Body], control: Control) -> Layouts:
        """Lay bodies edge to edge; errors as for :func:`nest_edge_to_edge`."""

        def search() -> Layouts:
            return nest_edge_to_edge(
                bodies,
                self.stock,
                kerf_mm=self.kerf_mm,
                spacing_mm=self.spacing_mm,
                margin_mm=self.margin_mm,
                cut_mm_s=self.cut_mm_s,
                prices=self.prices,
                control=Control(stop=control.stop),
            )

        widths = (self.kerf_mm, self.spacing_mm, self.margin_mm)
        inputs = (bodies, self.stock, widths, self.cut_mm_s, self.prices)
        return self.kept.of("edge to edge", inputs, search, worth_keeping=_is_whole)

    def remainders(self, bodies: Sequence[Body], layouts: Layouts) -> tuple[Remainder, ...]:
        """What each of the sheets leaves over."""
        inputs = (bodies, layouts.sheets, self.spacing_mm)
        return self.kept.of(
            "remainders",
            inputs,
            lambda: tuple(
                remainder(bodies, layout, spacing_mm=self.spacing_mm) for layout in layouts.sheets
            ),
        )

    def cost_in_words(self, bodies: Sequence[Body], layouts: Layouts) -> str:
        """What the sheets of layouts cost less what is left of them; empty without prices.

        For layouts that a search goes on from: nothing of it is kept.
        """
        sheets = [layout.sheet for layout in layouts.sheets]
        if any(worth(sheet, self.prices) is None for sheet in sheets):
            return ""
        left = [remainder(bodies, one, spacing_mm=self.spacing_mm) for one in layouts.sheets]
        cost = cost_of(list(zip(sheets, left, strict=True)), None, self.prices)
        return "" if cost.material is None else self.prices.in_words(cost.material)

    def slid(self, item: Item, parts: Sequence[Part], control: Control) -> tuple[Part, ...]:
        """The parts of a drawing slid together, as on an empty sheet of the widest size.

        Raises:
            KerfwrightError: ``nesting/cannot-compact``.
        """
        sheet = max(self.stock, key=lambda s: room_mm(s, self.margin_mm)[0])
        area = sheet.usable(self.margin_mm, self.spacing_mm)
        bodies = [Body(p.name, (p.polygon,), 1, (0.0,)) for p in parts]
        x_mm, y_mm = into(shapely.get_coordinates([part.polygon for part in parts]), area)
        start = [Placement(n, 0.0, x_mm, y_mm) for n in range(len(parts))]
        slid = self.kept.of(
            "slid together",
            (bodies, start, area, self.spacing_mm, item.compact_to),
            lambda: compacted(
                bodies,
                start,
                area,
                spacing_mm=self.spacing_mm,
                to=item.compact_to,
                stop=control.stop,
            ),
            worth_keeping=lambda _: not control.stop(),
        )
        if not slid.legal:
            raise KerfwrightError(
                "nesting/cannot-compact",
                file=item.drawing,
                thing="its parts cannot be slid together on a sheet as they are drawn.",
                remedy='Write place = "nest" or "as-drawn" for it, or add a larger sheet.',
            )
        return tuple(
            part.transformed(translation(p.x_mm, p.y_mm))
            for part, p in zip(parts, slid.placements, strict=True)
        )


def _is_whole(layouts: Layouts) -> bool:
    return not layouts.stopped
