"""Looks at single objects of a PDF page, drawn by the PDF library itself.

Some things the library draws but does not tell: whether an object's layer is shown, whether white
is a colour or a pattern, whether text looks as its glyphs say. For these the object is drawn alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pypdfium2.raw as pdfium

from kerfwright.drawing.pdf.raw import (
    Kind,
    Object,
    bitmap_array,
    kind_of,
    objects_of_form,
    objects_of_page,
)

Bounds = tuple[float, float, float, float]
"""Left, bottom, right, top in mm."""

PAGE_DOTS_LIMIT = 1_000_000
"""Dots along the whole page that the library's whole numbers can safely hold."""

_LEAST_DOTS = 8


@dataclass(frozen=True, eq=False, slots=True)
class Sight:
    """What was drawn: ``rgba`` of shape (rows, columns, 4), and where its dots lie.

    The middle of the dot in row r and column c is at ``left_mm + (c + 0.5) / dots_per_mm``,
    ``top_mm - (r + 0.5) / dots_per_mm``.
    """

    rgba: npt.NDArray[np.uint8]
    left_mm: float
    top_mm: float
    dots_per_mm: float

    @property
    def blank(self) -> bool:
        """Whether nothing at all was drawn."""
        return not self.rgba[..., 3].any()

    @property
    def only_white(self) -> bool:
        """Whether all that is drawn is plain white."""
        drawn = self.rgba[self.rgba[..., 3] > 0]
        return bool((drawn[:, :3] >= 254).all())

    @property
    def ink(self) -> npt.NDArray[np.bool_]:
        """Dots that are covered by half or more."""
        return self.rgba[..., 3] >= 128


class Look:
    """Draws objects of one page alone. Takes all objects of the page out of its painting.

    ``whole`` is the page as it was before, about ``dots`` dots along its longer side.
    """

    def __init__(self, page: Object, size_mm: tuple[float, float], dots: int) -> None:
        self._page = page
        self._size_mm = size_mm
        self.whole = self._drawn((0.0, 0.0, *size_mm), dots)
        _set_active(objects_of_page(page), False)

    def at(
        self, things: Sequence[Object], chain: Iterable[Object], bounds: Bounds, dots: int = 64
    ) -> Sight:
        """Draw ``things``, which stand in the forms of ``chain``, within ``bounds``.

        ``dots`` is about the number of dots along the longer side.
        """
        shown = [*chain, *things]
        inner = [form for form in things if kind_of(form) is Kind.FORM]
        for thing in shown:
            pdfium.FPDFPageObj_SetIsActive(thing, True)
        for form in inner:
            _set_active(objects_of_form(form), True)
        sight = self._drawn(bounds, dots)
        for thing in shown:
            pdfium.FPDFPageObj_SetIsActive(thing, False)
        for form in inner:
            _set_active(objects_of_form(form), False)
        return sight

    def _drawn(self, bounds: Bounds, dots: int) -> Sight:
        left, bottom, right, top = bounds
        longest = max(right - left, top - bottom, 1e-6)
        scale = min(dots / longest, PAGE_DOTS_LIMIT / max(self._size_mm))
        # whole dots along the page, or the library would stretch it
        page_columns, page_rows = (max(round(side * scale), 1) for side in self._size_mm)
        scale = page_columns / self._size_mm[0]
        first_column = int(np.floor(left * scale)) - 1
        first_row = int(np.floor((self._size_mm[1] - top) * scale)) - 1
        columns = max(int(np.ceil((right - left) * scale)) + 3, _LEAST_DOTS)
        rows = max(int(np.ceil((top - bottom) * scale)) + 3, _LEAST_DOTS)
        bitmap = pdfium.FPDFBitmap_CreateEx(columns, rows, pdfium.FPDFBitmap_BGRA, None, 0)
        pdfium.FPDFBitmap_FillRect(bitmap, 0, 0, columns, rows, 0)
        pdfium.FPDF_RenderPageBitmap(
            bitmap, self._page, -first_column, -first_row, page_columns, page_rows, 0, 0
        )
        drawn = bitmap_array(bitmap)
        if drawn is None:
            drawn = np.zeros((rows, columns, 4), dtype=np.uint8)
        return Sight(
            drawn[..., [2, 1, 0, 3]],
            first_column / scale,
            self._size_mm[1] - first_row / scale,
            scale,
        )


def _set_active(things: Iterable[Object], active: bool) -> None:
    waiting = list(things)
    while waiting:
        thing = waiting.pop()
        pdfium.FPDFPageObj_SetIsActive(thing, active)
        if kind_of(thing) is Kind.FORM:
            waiting += objects_of_form(thing)
