"""An order's items as bodies to place, and the plain words for what could not be placed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath as FilePath

import numpy as np
import shapely

from kerfwright.errors import KerfwrightError
from kerfwright.nesting.fits import Unplaced, why_unplaced
from kerfwright.nesting.model import Body, Layouts, SheetSize
from kerfwright.parts.model import Part
from kerfwright.parts.sizes import SheetRoom, Sized, likely_slips
from kerfwright.shop.order import Item


@dataclass(frozen=True, eq=False, slots=True)
class ItemBody:
    """A body and the parts that it carries, all in their drawing's coordinates."""

    body: Body
    item: Item
    parts: tuple[Part, ...]

    @property
    def label(self) -> str:
        """What the item is called in decisions."""
        return self.item.name or FilePath(self.item.drawing).stem


def bodies_of(
    item: Item, parts: Sequence[Part], *, as_drawn: bool | None = None
) -> tuple[ItemBody, ...]:
    """Make one body of each part, or one of all of them where the item stays as drawn.

    ``as_drawn`` overrules what the item says.
    """
    together = item.place == "as-drawn" if as_drawn is None else as_drawn
    groups = [tuple(parts)] if together else [(part,) for part in parts]
    return tuple(
        ItemBody(
            Body(
                name=group[0].name if len(group) == 1 else (item.name or group[0].drawing),
                footprint=tuple(part.polygon for part in group),
                quantity=item.quantity,
                turns_deg=item.turns_deg,
            ),
            item,
            group,
        )
        for group in groups
        if group
    )


def require_all_placed(
    bodies: Sequence[Body],
    sheets: Sequence[SheetSize],
    layouts: Layouts,
    *,
    margin_mm: float,
    file: str,
    material: str,
) -> None:
    """Refuse layouts that leave something over.

    Raises:
        KerfwrightError: a part fits no sheet, or the sheets ran out.
    """
    left = why_unplaced(bodies, sheets, layouts, margin_mm=margin_mm)
    if not left:
        return
    too_big = [one for one in left if one.reason == "part-too-big"]
    if too_big:
        raise _too_big(bodies, too_big, sheets, margin_mm=margin_mm, file=file, material=material)
    names = ", ".join(f"{one.count} × {bodies[one.body].name}" for one in left)
    raise KerfwrightError(
        "nesting/out-of-sheets",
        file=file,
        thing=f"the sheets of {material} in stock are full before all parts have a place; "
        f"left over: {names}.",
        remedy="Raise a sheet's count under [[stock]], add another size, or make less.",
    )


def _too_big(
    bodies: Sequence[Body],
    too_big: Sequence[Unplaced],
    sheets: Sequence[SheetSize],
    *,
    margin_mm: float,
    file: str,
    material: str,
) -> KerfwrightError:
    sizes = ", ".join(f"{s.name} ({s.width_mm:g} × {s.height_mm:g} mm)" for s in sheets)
    parts = ", ".join(
        f'"{bodies[one.body].name}" ({one.width_mm:.1f} × {one.height_mm:.1f} mm)'
        for one in too_big
    )
    return KerfwrightError(
        "nesting/part-too-big",
        file=file,
        thing=f"{parts} fits no sheet of {material} with a margin of {margin_mm:g} mm; "
        f"in stock: {sizes}.",
        remedy="Add a larger sheet under [[stock]], allow other turns_deg, make margin_mm smaller "
        "(half a kerf always stays), "
        f"or divide the part. If the size looks wrong, check the drawing's unit"
        f"{_slip(bodies[too_big[0].body], sheets, margin_mm)}.",
    )


def _slip(body: Body, sheets: Sequence[SheetSize], margin_mm: float) -> str:
    """Name the usual slip of scale that would make a body fit, if one would."""
    points = np.concatenate([shapely.get_coordinates(area) for area in body.footprint])
    rooms = [
        SheetRoom(
            sheet.name,
            sheet.width_mm,
            sheet.height_mm,
            (sheet.width_mm - 2.0 * margin_mm, sheet.height_mm - 2.0 * margin_mm),
        )
        for sheet in sheets
    ]
    slips = likely_slips([Sized(body.name, points, body.turns_deg)], rooms)
    return f": it would fit × {slips[0][0]:.4g}, as if it were {slips[0][1]}" if slips else ""
