"""Reads DXF drawings in true millimetres (DXF Reference; releases 12 to 2018, text and binary)."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from io import BytesIO
from pathlib import Path

import numpy as np
from ezdxf import recover
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError

from kerfwright.drawing.content import Content, content_of, head_of
from kerfwright.drawing.dxf_findings import DxfTally, printable
from kerfwright.drawing.dxf_walk import Walk
from kerfwright.drawing.model import Drawing
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.tolerances import CHORD_MM

# The library's own remarks would go to the terminal; what matters of them becomes a finding.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

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
    document = _document(path, tally)
    unit_mm = _unit_mm(document, path, unit_mm, tally)
    walk = Walk(document, unit_mm=unit_mm, chord_mm=chord_mm, tally=tally, file=str(path))
    try:
        walk.model_space()
    except (RecursionError, MemoryError):
        raise _damaged(path, "its data is endless") from None
    _count_paper_space(document, tally)
    if not walk.shapes:
        left_out = tally.summary()
        raise KerfwrightError(
            "drawing/empty",
            file=str(path),
            thing="There is no line and no area in the drawing that could be worked with"
            + (f" (found: {left_out})." if left_out else "."),
            remedy="Check that its layers are shown and that text is turned into outlines.",
        )
    bounds = np.array([line.bounds_mm for shape in walk.shapes for line in shape.paths])
    width_mm, height_mm = bounds[:, 2:].max(axis=0) - bounds[:, :2].min(axis=0)
    return Drawing(
        path.name,
        tuple(walk.shapes),
        float(width_mm),
        float(height_mm),
        tally.findings(path.name),
    )


def _document(path: Path, tally: DxfTally) -> Document:
    content = content_of(head_of(path))
    # A damaged file may begin with anything, but a file of another kind is told as that.
    if content not in (Content.DXF, Content.TEXT):
        raise KerfwrightError(
            "drawing/dxf-not-a-dxf",
            file=str(path),
            thing=f"The file is not a DXF drawing: it is {content}.",
            remedy="Save the drawing as DXF in the drawing program.",
        )
    try:
        return readfile(path)
    except Exception:  # damaged files make the library raise nearly anything
        return _recovered(path, tally, content)


def _recovered(path: Path, tally: DxfTally, content: Content) -> Document:
    data = path.read_bytes()
    whole = _ended(data)
    if whole is not data:
        tally.add("dxf-mended-file", detail="it breaks off before its end, the rest is missing")
    try:
        document, auditor = recover.read(BytesIO(whole))
        drawn = len(document.modelspace())
    except Exception as fault:  # as above
        reason = str(fault) if isinstance(fault, DXFError) else "its data makes no sense"
        raise _damaged(path, reason) from None
    if content is not Content.DXF and not drawn:
        raise _damaged(path, "it does not begin like one, and nothing in it could be recovered")
    entries = [*auditor.errors, *auditor.fixes]
    for entry in entries:
        tally.add("dxf-mended-file", detail=printable(entry.message))
    if not entries and whole is data:
        tally.add("dxf-mended-file", detail="its structure is damaged")
    return document


def _ended(data: bytes) -> bytes:
    """End a text file that breaks off before its last entity, which may be incomplete.

    The library would leave out the whole section that has no end.
    """
    lines = data.splitlines()
    if b"\0" in data or any(line.strip() == b"EOF" for line in lines[-4:]):
        return data
    begins = [i for i in range(0, len(lines) - 1, 2) if lines[i].strip() == b"0"]
    if not begins:
        return data
    return b"\n".join([*lines[: begins[-1]], b"0", b"ENDSEC", b"0", b"EOF", b""])


def _damaged(path: Path, reason: str) -> KerfwrightError:
    return KerfwrightError(
        "drawing/dxf-damaged",
        file=str(path),
        thing=f"The file cannot be read as a DXF drawing ({printable(reason)}).",
        remedy="Open it in the drawing program and save it again as DXF, release 2000 or later.",
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
            thing="The file does not say what its unit of length is.",
            remedy="Set the drawing's unit in the drawing program and save it again (release 2000 "
            'or later keeps the unit), or write unit = "mm" (or "in") for this drawing in the '
            "order file, or --unit mm on the command line.",
        )
    return stated_mm


def _stated_unit_mm(document: Document, path: Path) -> float | None:
    # The library gives a file without a header the header of a new one, whose unit is the metre.
    if b"$INSUNITS" not in path.read_bytes():
        return None
    try:
        return UNIT_MM.get(int(document.header.get("$INSUNITS", 0)))
    except (TypeError, ValueError, OverflowError):
        return None


def _count_paper_space(document: Document, tally: DxfTally) -> None:
    layouts: Iterable[str] = document.layout_names()
    for name in layouts:
        if name == "Model":
            continue
        drawn = sum(entity.dxftype() != "VIEWPORT" for entity in document.paperspace(name))
        if drawn:
            tally.add("dxf-paper-space", detail=f'layout "{printable(name)}"', count=drawn)
