"""Reads vector pages of PDF documents in true millimetres (ISO 32000-1)."""

from __future__ import annotations

from pathlib import Path

from kerfwright.drawing.model import Drawing
from kerfwright.drawing.pdf.page import Page, damaged, opened_page
from kerfwright.drawing.pdf.walk import Walk
from kerfwright.drawing.svg.values import BadValueError
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.tolerances import CHORD_MM


def read_pdf(path: Path | str, chord_mm: float = CHORD_MM, page: int | None = None) -> Drawing:
    """Read one page of a PDF into shapes and pictures in mm, y up, as a viewer shows the page.

    Curves are flattened within ``chord_mm`` and kept as spans. ``page`` counts from 1; by default
    it is the only page that holds something. Whatever cannot be read is counted in the findings.

    Raises:
        KerfwrightError: the file cannot be opened, is damaged or needs a password; there is no
            such page, or none is named and several hold something; or nothing in it could be
            worked with.
    """
    path = Path(path)
    with opened_page(path, page) as opened:
        try:
            return _drawing(opened, path, chord_mm)
        except BadValueError as fault:
            raise KerfwrightError(
                fault.code, file=str(path), thing=fault.thing, remedy=fault.remedy
            ) from None
        except (MemoryError, RecursionError):
            raise damaged(path, "its data is endless") from None


def _drawing(page: Page, path: Path, chord_mm: float) -> Drawing:
    walk = Walk(page, chord_mm)
    walk.run()
    if page.annotations:
        walk.tally.add("pdf-annotations", count=page.annotations)
    if page.pages > 1:
        walk.tally.add("pdf-other-pages", count=page.pages - 1)
    findings = walk.tally.findings(path.name)
    stopped = any(walk.tally.count(slug) for slug in ("pdf-text", "pdf-text-clip"))
    if not (walk.shapes or walk.pictures or stopped):
        raise walk.tally.nothing_read(str(path))
    return Drawing(
        path.name,
        tuple(walk.shapes),
        page.width_mm,
        page.height_mm,
        findings,
        tuple(walk.pictures),
    )
