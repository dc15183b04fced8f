"""Bodies with a fixed place, laid on the sheet they ask for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from shapely.affinity import rotate

from kerfwright.errors import KerfwrightError
from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.footprint import material
from kerfwright.nesting.model import Body, FixedPlace, Layouts, Placement, SheetLayout, SheetSize


def pinned_sheets(
    bodies: Sequence[Body], sheets: Sequence[SheetSize], *, spacing_mm: float, margin_mm: float
) -> tuple[tuple[SheetSize, tuple[Placement, ...]], ...]:
    """Return the sheets that hold something at a fixed place, with the placements there.

    Raises:
        KerfwrightError: ``nesting/place-taken``, a place is not on the sheet or not free, or
            there is no such sheet.
    """
    by_sheet: dict[SheetSize, dict[int, list[Placement]]] = {}
    for number, body in enumerate(bodies):
        if body.fixed is None:
            continue
        sheet = next((s for s in sheets if s.name == body.fixed.sheet), None)
        if sheet is None:
            raise _not_free(body.name, [f"there is no sheet {body.fixed.sheet!r}"])
        if body.fixed.number > sheet.count:
            of_them = f"only {sheet.count} of {sheet.name!r}, and sheet_number is"
            raise _not_free(body.name, [f"there are {of_them} {body.fixed.number}"])
        of_sheet = by_sheet.setdefault(sheet, {}).setdefault(body.fixed.number, [])
        of_sheet.append(_placement(number, body, body.fixed))
    pinned: list[tuple[SheetSize, tuple[Placement, ...]]] = []
    for sheet, by_number in by_sheet.items():
        on_each = [tuple(by_number.get(n, ())) for n in range(1, max(by_number) + 1)]
        _require_free(bodies, sheet, on_each, spacing_mm, margin_mm)
        pinned += [(sheet, placements) for placements in on_each]
    return tuple(pinned)


def without_gaps(bodies: Sequence[Body]) -> tuple[Body, ...]:
    """Number the sheets of each name that hold something fixed from 1 on, in the same order."""
    numbers: dict[str, set[int]] = {}
    for body in bodies:
        if body.fixed is not None:
            numbers.setdefault(body.fixed.sheet, set()).add(body.fixed.number)
    return tuple(
        body
        if body.fixed is None
        else replace(
            body,
            fixed=replace(
                body.fixed,
                number=sorted(numbers[body.fixed.sheet]).index(body.fixed.number) + 1,
            ),
        )
        for body in bodies
    )


def _require_free(
    bodies: Sequence[Body],
    sheet: SheetSize,
    on_each: Sequence[tuple[Placement, ...]],
    spacing_mm: float,
    margin_mm: float,
) -> None:
    """Raise where something pinned to one of a kind of sheets is too near, or beyond the sheet."""
    names = ", ".join(bodies[p.body].name for placements in on_each for p in placements)
    if not all(on_each):
        empty = on_each.index(()) + 1
        raise _not_free(
            names,
            [
                f"number {len(on_each)} of {sheet.name!r} is begun after number {empty}, and "
                "nothing has a fixed place there"
            ],
        )
    used_mm2 = [sum(material(bodies[p.body]).area for p in placed) for placed in on_each]
    there = tuple(
        SheetLayout(sheet, placed, used / sheet.area_mm2)
        for placed, used in zip(on_each, used_mm2, strict=True)
    )
    counts = Counter(p.body for placements in on_each for p in placements)
    left = {n: b.quantity - counts[n] for n, b in enumerate(bodies)}
    faults = check_layouts(bodies, Layouts(there, left), spacing_mm=spacing_mm, margin_mm=margin_mm)
    if faults:
        raise _not_free(names, faults)


def _placement(number: int, body: Body, fixed: FixedPlace) -> Placement:
    turn_deg = body.turns_deg[0]
    x_mm, y_mm = rotate(material(body), turn_deg, origin=(0.0, 0.0)).bounds[:2]
    return Placement(number, turn_deg, fixed.x_mm - x_mm, fixed.y_mm - y_mm)


def _not_free(names: str, faults: Sequence[str]) -> KerfwrightError:
    return KerfwrightError(
        "nesting/place-taken",
        file=names,
        thing=f"it cannot lie where the order has it: {'; '.join(faults)}.",
        remedy="Change its at_mm, on_sheet, sheet_number or the margin, or leave it to the "
        "planner.",
    )
