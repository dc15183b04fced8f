"""Names of the files that a planned sheet is written to."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.plan import PlannedSheet


@dataclass(frozen=True, slots=True)
class SheetFiles:
    """Files of one sheet, named relative to the folder that the plan is written to.

    ``program`` is ``None`` where none was written.
    """

    program: str | None
    layout_svg: str
    layout_dxf: str


def sheet_files(sheet: PlannedSheet, *, program: bool = True) -> SheetFiles:
    """Name the files of a sheet after its ``slug``."""
    return SheetFiles(
        program=f"{sheet.slug}.nc" if program else None,
        layout_svg=f"{sheet.slug}.svg",
        layout_dxf=f"{sheet.slug}.dxf",
    )
