"""Names of the files that a planned sheet is written to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kerfwright.output.program_size import ProgramSize
    from kerfwright.plan import PlannedSheet

PLAN_FILE = "plan.json"
TICKET_FILE = "ticket.html"
PRINTED_TICKET_FILE = "ticket.pdf"
LABELS_FILE = "labels.pdf"


@dataclass(frozen=True, slots=True)
class SheetFiles:
    """Files of one sheet, named relative to the folder that the plan is written to.

    ``program`` is ``None`` where none was written.
    """

    program: str | None
    layout_svg: str
    layout_dxf: str
    program_sha256: str | None = None
    """Tells whether a program is still the one that was proven."""
    program_size: ProgramSize | None = None


def program_name(sheet: PlannedSheet) -> str:
    """Name the program of a sheet after its ``slug``."""
    return f"{sheet.slug}.nc"


def proof_name(program: str) -> str:
    """Name the file that says what a program is proven against."""
    return f"{program.removesuffix('.nc')}.proof.json"


def sheet_files(sheet: PlannedSheet) -> SheetFiles:
    """Name the files of a sheet after its ``slug``."""
    return SheetFiles(
        program=program_name(sheet),
        layout_svg=f"{sheet.slug}.svg",
        layout_dxf=f"{sheet.slug}.dxf",
    )
