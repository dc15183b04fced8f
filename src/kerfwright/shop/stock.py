"""What may be wrong with the sheets of an order beyond single values: their shapes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shapely import Polygon, box
from shapely.validation import explain_validity

from kerfwright.shop.faults import Fault, Location
from kerfwright.shop.machine import Machine
from kerfwright.shop.order import KeepOut, Order, StockSheet
from kerfwright.shop.points import Point

BEYOND_MM = 1e-6
"""An outline may pass its sheet's size by rounding."""


def stock_faults(order: Order) -> list[Fault]:
    """Outlines, holes and areas kept free that cannot be meant."""
    return [
        fault
        for n, sheet in enumerate(order.stock)
        for fault in (
            *_outline_faults(("stock", n), sheet),
            *_keep_out_faults(("stock", n), sheet),
        )
    ]


def _outline_faults(at: Location, sheet: StockSheet) -> Iterator[Fault]:
    edge = sheet.outline
    if edge is not None:
        yield from _ring_faults((*at, "outline"), edge)
        inside = box(0.0, 0.0, sheet.width_mm, sheet.height_mm).buffer(BEYOND_MM)
        if not inside.covers(Polygon(edge)):
            yield Fault(
                "outline-beyond-sheet",
                (*at, "outline"),
                f"passes the sheet's size of {sheet.width_mm:g} × {sheet.height_mm:g} mm.",
                "Measure from the lower left corner of the smallest rectangle round the sheet, and "
                "give that rectangle as width_mm and height_mm.",
            )
    for number, hole in enumerate(sheet.holes):
        yield from _ring_faults((*at, "holes", number), hole)


def _keep_out_faults(at: Location, sheet: StockSheet) -> Iterator[Fault]:
    for number, zone in enumerate(sheet.keep_out):
        here = (*at, "keep_out", number)
        if zone.ring is None or (zone.points is not None and _has_box(zone)):
            yield Fault(
                "keep-out-unclear",
                here,
                "is neither a rectangle nor an outline.",
                "Give x_mm, y_mm, width_mm and height_mm together, or points alone.",
            )
        elif zone.points is not None:
            yield from _ring_faults((*here, "points"), zone.points)


def _has_box(zone: KeepOut) -> bool:
    return any(v is not None for v in (zone.x_mm, zone.y_mm, zone.width_mm, zone.height_mm))


def _ring_faults(at: Location, ring: Sequence[Point]) -> Iterator[Fault]:
    polygon = Polygon(ring)
    if not polygon.is_valid:
        yield Fault(
            "outline-crosses-itself",
            at,
            f"is no simple outline ({explain_validity(polygon)}).",
            "Give its corners in turn, once round, the last not joined across another side.",
        )
    elif polygon.area == 0.0:
        yield Fault("outline-crosses-itself", at, "encloses no area.", "Check its corners.")


def bed_faults(order: Order, machine: Machine) -> list[Fault]:
    """Sheets that the machine's bed does not hold."""
    bed = (machine.bed_width_mm, machine.bed_height_mm)
    return [
        Fault(
            "sheet-too-big",
            ("stock", n, "width_mm" if sheet.width_mm > bed[0] else "height_mm"),
            f"makes the sheet {sheet.width_mm:g} × {sheet.height_mm:g} mm, but the bed of "
            f'"{machine.name}" is {bed[0]:g} × {bed[1]:g} mm.',
            "Give the size of the piece as it will lie on the bed, turned or cut down to fit.",
        )
        for n, sheet in enumerate(order.stock)
        if sheet.width_mm > bed[0] or sheet.height_mm > bed[1]
    ]
