"""Opens a PDF, picks its page, and finds the page's place and size in millimetres."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium

from kerfwright.drawing.content import bytes_of
from kerfwright.drawing.pdf.raw import Object
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import Affine, rotation, scaling, translation
from kerfwright.geometry.tolerances import COORDINATE_LIMIT_MM

MM_PER_POINT = 25.4 / 72.0
"""Default unit of user space (ISO 32000-1, 8.3.2.3)."""

PAGES_LIMIT = 1000
"""Pages that are looked through for one that holds something."""

_USER_UNIT = re.compile(rb"/UserUnit\s*([0-9.]+)")
_STREAM = re.compile(rb"stream\r?\n.*?endstream", re.DOTALL)

_LINK, _POPUP = pdfium.FPDF_ANNOT_LINK, pdfium.FPDF_ANNOT_POPUP


@dataclass(frozen=True, slots=True)
class Page:
    """An open page: ``to_mm`` takes its user space to mm, y up, visible page's corner at (0, 0)."""

    document: Object
    page: Object
    number: int
    pages: int
    to_mm: Affine
    width_mm: float
    height_mm: float
    annotations: int
    """Notes, stamps and form fields that lie over the page; links do not count."""


@contextmanager
def opened_page(path: Path, number: int | None) -> Iterator[Page]:
    """Open page ``number`` (from 1) of a PDF, by default its only page that holds something.

    Raises:
        KerfwrightError: the file cannot be opened, is damaged or needs a password, has no such
            page, or several pages hold something and no number is given.
    """
    data = bytes_of(path)
    try:
        document = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError as fault:
        raise _not_opened(path, fault) from None
    try:
        count = len(document)
        index = _page_index(document, count, number, path)
        try:
            page = document[index]
        except pypdfium2.PdfiumError:
            raise damaged(path, f"page {index + 1} cannot be read") from None
        yield _placed(document, page, index, count, path)
    finally:
        document.close()


def damaged(path: Path, reason: str) -> KerfwrightError:
    """Error for a file that is no PDF or a broken one."""
    return KerfwrightError(
        "drawing/pdf-damaged",
        file=str(path),
        thing=f"The file cannot be read as a PDF ({reason}).",
        remedy="Ask for it once more, or open it in a PDF viewer and save it again.",
    )


def _not_opened(path: Path, fault: pypdfium2.PdfiumError) -> KerfwrightError:
    code = getattr(fault, "err_code", None)
    if code in (pdfium.FPDF_ERR_PASSWORD, pdfium.FPDF_ERR_SECURITY):
        return KerfwrightError(
            "drawing/pdf-encrypted",
            file=str(path),
            thing="The PDF is locked with a password or by a way of locking not known here.",
            remedy="Ask for the file without protection.",
        )
    return damaged(path, "its structure is broken")


def _page_index(document: pypdfium2.PdfDocument, count: int, number: int | None, path: Path) -> int:
    if count < 1:
        raise damaged(path, "it has no pages")
    if number is not None:
        if not 1 <= number <= count:
            raise KerfwrightError(
                "drawing/pdf-no-such-page",
                file=str(path),
                thing=f"There is no page {number}: the document has {count}.",
                remedy=f"Give a page from 1 to {count}.",
            )
        return number - 1
    if count == 1:
        return 0
    filled = [i for i in range(min(count, PAGES_LIMIT)) if _holds_something(document, i)]
    if len(filled) > 1:
        raise KerfwrightError(
            "drawing/pdf-several-pages",
            file=str(path),
            thing=f"{len(filled)} of the document's {count} pages hold something "
            f"(pages {', '.join(str(i + 1) for i in filled[:6])}"
            f"{' …' if len(filled) > 6 else ''}); one page is one drawing.",
            remedy=f"Write page = {filled[0] + 1} for this drawing in the order file (one item "
            f"for each page that is wanted), or --page {filled[0] + 1} on the command line.",
        )
    return filled[0] if filled else 0


def _holds_something(document: pypdfium2.PdfDocument, index: int) -> bool:
    try:
        page = document[index]
    except pypdfium2.PdfiumError:
        return False
    try:
        return bool(pdfium.FPDFPage_CountObjects(page.raw) > 0)
    finally:
        page.close()


def _placed(
    document: pypdfium2.PdfDocument,
    page: pypdfium2.PdfPage,
    index: int,
    count: int,
    path: Path,
) -> Page:
    box = pdfium.FS_RECTF()
    if not pdfium.FPDF_GetPageBoundingBox(page.raw, box):
        raise damaged(path, "its page has no size")
    unit_mm = MM_PER_POINT * _user_unit(document, index)
    width, height = (box.right - box.left) * unit_mm, (box.top - box.bottom) * unit_mm
    if not all(0.0 < side <= COORDINATE_LIMIT_MM for side in (width, height)):
        raise KerfwrightError(
            "drawing/coordinates",
            file=str(path),
            thing=f"The page of {width:g} × {height:g} mm is no page.",
            remedy="Set the page's size in the program that made the file.",
        )
    to_mm = scaling(unit_mm, unit_mm) @ translation(-box.left, -box.bottom)
    turns = max(pdfium.FPDFPage_GetRotation(page.raw), 0) % 4
    for _ in range(turns):
        # one quarter clockwise, and back to the corner
        to_mm = translation(0.0, width) @ rotation(-90.0) @ to_mm
        width, height = height, width
    kinds = [_annotation_kind(page.raw, i) for i in range(pdfium.FPDFPage_GetAnnotCount(page.raw))]
    shown = sum(kind not in (_LINK, _POPUP) for kind in kinds)
    return Page(document.raw, page.raw, index + 1, count, to_mm, width, height, shown)


def _user_unit(document: pypdfium2.PdfDocument, index: int) -> float:
    """Points in the page's unit (ISO 32000-1, table 30), which the library does not tell.

    The page is saved alone, so that its entries stand in plain text whatever the file packs.
    """
    alone = pypdfium2.PdfDocument.new()
    try:
        alone.import_pages(document, [index])
        copy = io.BytesIO()
        alone.save(copy)
    except pypdfium2.PdfiumError:
        return 1.0
    finally:
        alone.close()
    found = _USER_UNIT.search(_STREAM.sub(b"", copy.getvalue()))
    try:
        unit = float(found[1]) if found else 1.0
    except ValueError:
        return 1.0
    return unit if unit > 0.0 else 1.0


def _annotation_kind(page: Object, index: int) -> int:
    note = pdfium.FPDFPage_GetAnnot(page, index)
    if not note:
        return int(_LINK)
    try:
        hidden = pdfium.FPDFAnnot_GetFlags(note) & pdfium.FPDF_ANNOT_FLAG_HIDDEN
        return int(_LINK) if hidden else int(pdfium.FPDFAnnot_GetSubtype(note))
    finally:
        pdfium.FPDFPage_CloseAnnot(note)
