"""Checks before burning, with what the order's shop burns on: after parts are recognised."""

from __future__ import annotations

from collections.abc import Sequence

from kerfwright.findings import Finding
from kerfwright.parts.congruence import AlikeParts, alike_findings, alike_parts
from kerfwright.parts.model import Part
from kerfwright.parts.sizes import (
    SheetRoom,
    larger_than_sheets,
    pieces_to_place,
    scale_findings,
)
from kerfwright.parts.stamps import stamp_findings
from kerfwright.parts.widths import BurnWidths, gap_findings, width_findings
from kerfwright.shop.files import Shop
from kerfwright.shop.order import Item
from kerfwright.toolpath import Process


def checked_for_plan(parts: Sequence[Part], shop: Shop, item: Item) -> list[Finding]:
    """What has to be said about an item's parts before they are placed and burned.

    Placing itself tells of parts that fit no sheet, cutting of gaps narrower than the kerf.
    """
    if not parts:
        return []
    drawing = parts[0].drawing
    alike = alike_parts(parts)
    sizes = scale_findings(
        pieces_to_place(parts, item.turns_deg, together=_together(item)),
        rooms(shop, item),
        drawing,
        thickness_mm=shop.material(item.material).thickness_mm,
    )
    return [
        *alike_findings(parts, alike, drawing),
        *width_findings(parts, alike, burn_widths(shop, item), drawing),
        *sizes,
        *stamp_findings(parts, shop.material(item.material), shop.machine, item),
    ]


def checked_alone(
    parts: Sequence[Part], alike: Sequence[AlikeParts], shop: Shop, item: Item
) -> list[Finding]:
    """What has to be said about an item's parts where nothing will be placed or cut."""
    if not parts:
        return []
    drawing = parts[0].drawing
    widths = burn_widths(shop, item)
    pieces = pieces_to_place(parts, item.turns_deg, together=_together(item))
    sheets = rooms(shop, item)
    bed_mm = shop.machine.bed_width_mm, shop.machine.bed_height_mm
    return [
        *width_findings(parts, alike, widths, drawing),
        *gap_findings(parts, alike, widths),
        *(() if item.fixture else larger_than_sheets(pieces, sheets, bed_mm, drawing)),
        *scale_findings(pieces, sheets, drawing, thickness_mm=widths.thickness_mm),
    ]


def burn_widths(shop: Shop, item: Item) -> BurnWidths:
    """Kerf, spot and thickness for an item, as the shop's files have them."""
    material = shop.material(item.material)
    cut = material.recipe(shop.machine.name, Process.CUT)
    return BurnWidths(
        material=material.name,
        thickness_mm=material.thickness_mm,
        spot_mm=shop.machine.spot_mm,
        kerf_mm=None if cut is None else cut.kerf_mm,
    )


def rooms(shop: Shop, item: Item) -> list[SheetRoom]:
    """Sheets in stock for an item, and what its parts may take up on each; none in a fixture."""
    if item.fixture is not None:
        return []
    kerf_mm = 0.0 if item.is_blank else burn_widths(shop, item).kerf_mm or 0.0
    margin_mm = max(shop.order.settings.margin_mm, kerf_mm / 2.0)
    return [
        SheetRoom(
            sheet.name,
            sheet.width_mm,
            sheet.height_mm,
            (sheet.width_mm - 2.0 * margin_mm, sheet.height_mm - 2.0 * margin_mm),
        )
        for sheet in shop.order.stock
        if sheet.material == item.material
    ]


def _together(item: Item) -> str:
    return (item.name or item.drawing) if item.place == "as-drawn" else ""
