"""Bodies with a fixed place, laid on the first sheet of the name they ask for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

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
        KerfwrightError: ``nesting/place-taken``, a place is not on the sheet or not free.
    """
    by_sheet: dict[SheetSize, list[Placement]] = {}
    for number, body in enumerate(bodies):
        if body.fixed is None:
            continue
        sheet = next((s for s in sheets if s.name == body.fixed.sheet), None)
        if sheet is None:
            raise _not_free(body.name, [f"there is no sheet {body.fixed.sheet!r}"])
        by_sheet.setdefault(sheet, []).append(_placement(number, body, body.fixed))
    for sheet, placements in by_sheet.items():
        used_mm2 = sum(material(bodies[p.body]).area for p in placements)
        layout = SheetLayout(sheet, tuple(placements), used_mm2 / sheet.area_mm2)
        counts = Counter(p.body for p in placements)
        there = Layouts((layout,), {n: b.quantity - counts[n] for n, b in enumerate(bodies)})
        faults = check_layouts(bodies, there, spacing_mm=spacing_mm, margin_mm=margin_mm)
        if faults:
            raise _not_free(", ".join(bodies[p.body].name for p in placements), faults)
    return tuple((sheet, tuple(placements)) for sheet, placements in by_sheet.items())


def _placement(number: int, body: Body, fixed: FixedPlace) -> Placement:
    turn_deg = body.turns_deg[0]
    x_mm, y_mm = rotate(material(body), turn_deg, origin=(0.0, 0.0)).bounds[:2]
    return Placement(number, turn_deg, fixed.x_mm - x_mm, fixed.y_mm - y_mm)


def _not_free(names: str, faults: Sequence[str]) -> KerfwrightError:
    return KerfwrightError(
        "nesting/place-taken",
        file=names,
        thing=f"it cannot lie where at_mm has it: {'; '.join(faults)}.",
        remedy="Change at_mm, on_sheet or the margin, or leave the place to the planner.",
    )
