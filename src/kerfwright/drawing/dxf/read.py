"""Reads DXF drawings in true millimetres (DXF Reference; releases 12 to 2018, text and binary)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from ezdxf.document import Drawing as Document

from kerfwright.drawing.dxf.file import damaged, dxf_document, no_collecting
from kerfwright.drawing.dxf.findings import DxfTally, printable
from kerfwright.drawing.dxf.walk import Walk
from kerfwright.drawing.model import Drawing
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.tolerances import CHORD_MM

_INCH_MM = 25.4
_US_SURVEY_FOOT_MM = 1_200_000.0 / 3937.0

UNIT_MM = {
    1: _INCH_MM,
    2: 12.0 * _INCH_MM,
    3: 63_360.0 * _INCH_MM,
    4: 1.0,
    5: 10.0,
    6: 1000.0,
    7: 1e6,
    8: 1e-6 * _INCH_MM,
    9: 1e-3 * _INCH_MM,
    10: 36.0 * _INCH_MM,
    11: 1e-7,
    12: 1e-6,
    13: 1e-3,
    14: 100.0,
    15: 1e4,
    16: 1e5,
    21: _US_SURVEY_FOOT_MM,
    22: _US_SURVEY_FOOT_MM / 12.0,
    23: 3.0 * _US_SURVEY_FOOT_MM,
    24: 5280.0 * _US_SURVEY_FOOT_MM,
}
"""Millimetres in a unit by the number of $INSUNITS (DXF Reference, HEADER section).

Factors: NIST Special Publication 811, appendix B. Gigametres and the astronomer's units (17 to
20) are no units of a drawing.
"""


def read_dxf(path: Path | str, chord_mm: float = CHORD_MM, unit_mm: float | None = None) -> Drawing:
    """Read a DXF file's model space into shapes in mm, at the coordinates that they are drawn at.

    Curves are flattened within ``chord_mm``. ``unit_mm`` is the length of the drawing's unit; by
    default the file has to state it. Whatever cannot be read as lines is counted in the drawing's
    findings.

    Raises:
        KerfwrightError: the file cannot be opened or is not a DXF, states no unit while
            ``unit_mm`` is not given, holds nothing to work with, or has coordinates beyond any
            sheet.
    """
    path = Path(path)
    tally = DxfTally()
    # numbers out of a damaged file may be anything; what comes of them is checked
    with no_collecting(), np.errstate(all="ignore"):
        document = dxf_document(path, tally)
        unit_mm = _unit_mm(document, path, unit_mm, tally)
        walk = Walk(document, unit_mm=unit_mm, chord_mm=chord_mm, tally=tally, file=str(path))
        try:
            walk.model_space()
        except (RecursionError, MemoryError):
            raise damaged(path, "its data is endless") from None
    _count_paper_space(document, tally)
    if not walk.shapes:
        raise tally.nothing_read(str(path))
    points = np.concatenate([line.points for shape in walk.shapes for line in shape.paths])
    width_mm, height_mm = np.ptp(points, axis=0)
    return Drawing(
        path.name,
        tuple(walk.shapes),
        float(width_mm),
        float(height_mm),
        tally.findings(path.name),
    )


def _unit_mm(document: Document, path: Path, wanted_mm: float | None, tally: DxfTally) -> float:
    stated_mm = _stated_unit_mm(document, path)
    if wanted_mm is not None:
        if stated_mm is not None and not np.isclose(stated_mm, wanted_mm, rtol=1e-9):
            detail = f"its unit is {stated_mm:g} mm, {wanted_mm:g} mm is given and followed"
            tally.add("dxf-units-overruled", detail=detail)
        return wanted_mm
    if stated_mm is None:
        raise KerfwrightError(
            "drawing/dxf-without-units",
            file=str(path),
            thing="The file does not say what its unit of length is: "
            f"{_why_no_unit(document, path)}.",
            remedy="Set the drawing's unit in the drawing program and save it again (release 2000 "
            'or later keeps the unit), or write unit = "mm" (or "in") for this drawing in the '
            "order file, or --unit mm on the command line.",
        )
    return stated_mm


def _stated_unit_mm(document: Document, path: Path) -> float | None:
    # The library gives a file without a header the header of a new one, whose unit is the metre.
    if not _has_variable("$INSUNITS", path):
        return None
    try:
        return UNIT_MM.get(int(document.header.get("$INSUNITS", 0)))
    except (TypeError, ValueError, OverflowError):
        return None


def _why_no_unit(document: Document, path: Path) -> str:
    if not _has_variable("$INSUNITS", path):
        why = "its header does not state one"
        if not _has_variable("HEADER", path):
            why = "it has no header"
    else:
        number = document.header.get("$INSUNITS", 0)
        why = "its unit is set to none" if number == 0 else f"nothing is drawn in unit {number}"
    if _has_variable("$MEASUREMENT", path):
        # DXF Reference: which patterns a new drawing takes; no unit, but a hint at the custom
        custom = "millimetres" if document.header.get("$MEASUREMENT", 0) else "inches"
        why += f" (it is set up for drawing in {custom}, which is no proof)"
    return why


def _has_variable(name: str, path: Path) -> bool:
    return name.encode() in path.read_bytes().replace(b"\0", b"")


def _count_paper_space(document: Document, tally: DxfTally) -> None:
    for layout in document.layouts:
        drawn = 0 if layout.is_modelspace else sum(e.dxftype() != "VIEWPORT" for e in layout)
        if drawn:
            tally.add("dxf-paper-space", detail=f'layout "{printable(layout.name)}"', count=drawn)
