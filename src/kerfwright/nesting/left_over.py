"""What could not be placed, why, and the plain words for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import shapely

from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.nesting.fits import fits, fits_any, room_mm, smallest_size_mm
from kerfwright.nesting.footprint import material
from kerfwright.nesting.model import Body, Kit, Layouts, SheetSize, WhyLeft
from kerfwright.nesting.nest import nest
from kerfwright.nesting.until import Control
from kerfwright.parts.sizes import SheetRoom, Sized, likely_slips
from kerfwright.shop.faults import listed

MM2_A_CM2 = 100.0


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Copies of a body that lie on no sheet, and why.

    ``part-too-big``: no sheet of the stock takes it in any allowed turn, ``width_mm`` ×
    ``height_mm`` being its smallest box. ``kit-too-big``: it must lie on one sheet with the others
    of its kit, and no empty sheet was found to take them all. ``out-of-sheets``: it fits, but the
    stock ran out.
    """

    body: int
    count: int
    reason: WhyLeft
    width_mm: float
    height_mm: float


@dataclass(frozen=True, eq=False, slots=True)
class Stock:
    """What parts are laid on: sheets of one material, the margin and the spacing.

    ``more`` says where sheets are added.
    """

    material: str
    sheets: tuple[SheetSize, ...]
    spacing_mm: float
    margin_mm: float
    more: str = "under [[stock]]"

    @property
    def largest(self) -> SheetSize | None:
        """The sheet with the most room."""
        there = [sheet for sheet in self.sheets if sheet.count > 0]
        return max(there, key=self.room_mm2, default=None)

    def room_mm2(self, sheet: SheetSize) -> float:
        """Area of a sheet that parts may lie on."""
        return float(sheet.usable(self.margin_mm, self.spacing_mm).area)


def why_unplaced(bodies: Sequence[Body], stock: Stock, layouts: Layouts) -> tuple[Unplaced, ...]:
    """Say for every body left over whether it or its kit is too big, or the sheets ran out."""
    takes: dict[Kit, bool] = {}

    def reason(body: Body) -> WhyLeft:
        if not fits_any(body, stock.sheets, margin_mm=stock.margin_mm, spacing_mm=stock.spacing_mm):
            return "part-too-big"
        if body.kit is None:
            return "out-of-sheets"
        if body.kit not in takes:
            takes[body.kit] = _takes(stock, one_set(bodies, body.kit))
        return "out-of-sheets" if takes[body.kit] else "kit-too-big"

    return tuple(
        Unplaced(number, count, reason(bodies[number]), *smallest_size_mm(bodies[number]))
        for number, count in sorted(layouts.unplaced.items())
        if count > 0
    )


def one_set(bodies: Sequence[Body], kit: Kit) -> list[Body]:
    """The bodies of one set of a kit, free to be laid anywhere."""
    return [
        replace(
            body,
            quantity=max(body.quantity // kit.sets, 1),
            kit=replace(kit, sets=1),
            extra=0,
            fixed=None,
        )
        for body in bodies
        if body.kit == kit
    ]


def _takes(stock: Stock, together: Sequence[Body]) -> bool:
    """Whether any empty sheet takes all these bodies, as far as a constructive filling finds."""
    needed_mm2 = _area_mm2(together)
    for sheet in sorted(stock.sheets, key=stock.room_mm2, reverse=True):
        if sheet.count == 0 or stock.room_mm2(sheet) < needed_mm2:
            continue
        can = partial(fits, sheet=sheet, margin_mm=stock.margin_mm, spacing_mm=stock.spacing_mm)
        if not all(can(body) for body in together):
            continue
        tried = nest(
            together,
            [replace(sheet, count=1)],
            spacing_mm=stock.spacing_mm,
            margin_mm=stock.margin_mm,
            seconds=0.0,
            seed=1,
            control=Control(stop=lambda: True),
        )
        if not tried.unplaced:
            return True
    return False


def _area_mm2(bodies: Sequence[Body]) -> float:
    return math.fsum(material(body).area * body.quantity for body in bodies)


def require_all_placed(
    bodies: Sequence[Body], stock: Stock, layouts: Layouts, *, file: str
) -> None:
    """Refuse layouts that leave something over.

    Raises:
        KerfwrightError: a part or a kit fits no sheet, or the sheets ran out.
    """
    left = why_unplaced(bodies, stock, layouts)
    if not left:
        return
    if too_big := [one for one in left if one.reason == "part-too-big"]:
        raise _too_big(bodies, too_big, stock, file)
    if short := [one for one in left if one.reason == "kit-too-big"]:
        raise KerfwrightError(
            "nesting/kit-too-big",
            file=file,
            thing=_kits_in_words(bodies, short, stock),
            remedy=f"Add a larger sheet {stock.more}, make spacing_mm or margin_mm smaller, or "
            "let it lie on several sheets: without kit or one_sheet.",
        )
    raise KerfwrightError(
        "nesting/out-of-sheets",
        file=file,
        thing=f"the sheets of {stock.material} in stock are full before all parts have a place; "
        f"left over: {_counted(bodies, left)}.{_on_one_sheet(bodies, left)}",
        remedy=f"Add sheets {stock.more}, of this or another size, make less, or let the "
        'plan go on without them: if_sheets_run_out = "leave-over" under [settings].',
    )


def left_over_findings(
    bodies: Sequence[Body], stock: Stock, layouts: Layouts
) -> tuple[Finding, ...]:
    """Warn of what the sheets in stock did not take."""
    left = why_unplaced(bodies, stock, layouts)
    told: tuple[tuple[WhyLeft, str, str, Callable[[list[Unplaced]], str]], ...] = (
        (
            "part-too-big",
            "fit no sheet",
            "Add a larger sheet, or divide them.",
            lambda some: _on_one_sheet(bodies, some),
        ),
        (
            "kit-too-big",
            "fit no sheet together",
            "Add a larger sheet, or let them lie on several.",
            lambda some: f" {_kits_in_words(bodies, some, stock)}",
        ),
        (
            "out-of-sheets",
            "found no room",
            "Plan them again with more sheets in stock.",
            lambda some: _on_one_sheet(bodies, some),
        ),
    )
    return tuple(
        Finding(
            Severity.WARN,
            "nesting/left-over",
            f"not planned, because they {words} of {stock.material}: {_counted(bodies, some)}."
            f"{more(some)}",
            remedy,
            count=sum(one.count for one in some),
        )
        for reason, words, remedy, more in told
        if (some := [one for one in left if one.reason == reason])
    )


def _counted(bodies: Sequence[Body], left: Sequence[Unplaced]) -> str:
    return ", ".join(f"{one.count} × {bodies[one.body].name}" for one in left)


def _on_one_sheet(bodies: Sequence[Body], left: Sequence[Unplaced]) -> str:
    """Say which kits are left over; sheets with room for some of one may be there in plenty."""
    kits = sorted({kit.name for one in left if (kit := bodies[one.body].kit) is not None})
    return f" What belongs to {listed(kits)} must lie on one sheet, all of it." if kits else ""


def _kits_in_words(bodies: Sequence[Body], left: Sequence[Unplaced], stock: Stock) -> str:
    kits = dict.fromkeys(kit for one in left if (kit := bodies[one.body].kit) is not None)
    return " ".join(_kit_in_words(kit.name, one_set(bodies, kit), stock) for kit in kits)


def _kit_in_words(name: str, together: Sequence[Body], stock: Stock) -> str:
    """How large a kit is against the largest sheet."""
    largest = stock.largest
    count = sum(body.quantity for body in together)
    parts = "its part covers" if count == 1 else f"its {count} parts cover"
    text = f'"{name}" must lie on one sheet, all of it, and fits none of {stock.material}'
    if largest is None:
        return f"{text}: there is none."
    needed_mm2, room_mm2 = _area_mm2(together), stock.room_mm2(largest)
    found = "" if needed_mm2 > room_mm2 else ", but no way of laying them there was found"
    return (
        f"{text}: {parts} {needed_mm2 / MM2_A_CM2:.1f} cm², and the largest sheet, "
        f"{_sheet_in_words(largest)}, has {room_mm2 / MM2_A_CM2:.1f} cm² inside its margin{found}."
    )


def _sheet_in_words(sheet: SheetSize) -> str:
    size = f"{sheet.width_mm:g} × {sheet.height_mm:g} mm"
    if sheet.plain:
        return f"{sheet.name} ({size})"
    why = [
        *(["no full rectangle"] if sheet.outline is not None else []),
        *(["parts of it to be kept free"] if sheet.keep_out else []),
    ]
    return f"{sheet.name} ({size}, {', '.join(why)})"


def _too_big(
    bodies: Sequence[Body], too_big: Sequence[Unplaced], stock: Stock, file: str
) -> KerfwrightError:
    sheets = ", ".join(_sheet_in_words(sheet) for sheet in stock.sheets)
    parts = ", ".join(
        f'"{bodies[one.body].name}" ({one.width_mm:.1f} × {one.height_mm:.1f} mm)'
        for one in too_big
    )
    return KerfwrightError(
        "nesting/part-too-big",
        file=file,
        thing=f"{parts} fits no sheet of {stock.material} with a margin of {stock.margin_mm:g} mm; "
        f"in stock: {sheets}.{_by_outline(bodies, too_big, stock)}",
        remedy=f"Add a larger sheet {stock.more}, allow other turns_deg, make margin_mm smaller "
        "(half a kerf always stays), "
        f"or divide the part. If the size looks wrong, check the drawing's unit"
        f"{_slip(bodies[too_big[0].body], stock)}.",
    )


def _by_outline(bodies: Sequence[Body], too_big: Sequence[Unplaced], stock: Stock) -> str:
    """Say so where a part would fit the box round a sheet, but not what the sheet is."""
    boxes = [replace(sheet, outline=None, keep_out=()) for sheet in stock.sheets]
    names = [
        bodies[one.body].name
        for one in too_big
        if fits_any(bodies[one.body], boxes, margin_mm=stock.margin_mm, spacing_mm=stock.spacing_mm)
    ]
    if not names:
        return ""
    return (
        f" The rectangle round a sheet would take {listed(names)}, but in no allowed turn does the "
        "outline find a place inside the sheet's own outline and beside what is to be kept free."
    )


def _slip(body: Body, stock: Stock) -> str:
    """Name the usual slip of scale that would make a body fit, if one would."""
    points = np.concatenate([shapely.get_coordinates(area) for area in body.footprint])
    rooms = [
        SheetRoom(
            sheet.name,
            sheet.width_mm,
            sheet.height_mm,
            room_mm(sheet, stock.margin_mm),
        )
        for sheet in stock.sheets
    ]
    slips = likely_slips([Sized(body.name, points, body.turns_deg)], rooms)
    return f": it would fit × {slips[0][0]:.4g}, as if it were {slips[0][1]}" if slips else ""
