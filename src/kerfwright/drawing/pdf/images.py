"""Images of a PDF page as grey dots."""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pypdfium2.raw as pdfium

from kerfwright.drawing.pdf.page import Page
from kerfwright.drawing.pdf.raw import Object, bitmap_array
from kerfwright.drawing.pictures.picture import DOTS_LIMIT

_LUMA = np.array([0.114, 0.587, 0.299])
"""Weights of blue, green and red (ITU-R Recommendation BT.601)."""


@dataclass(frozen=True, eq=False, slots=True)
class Dots:
    """Grey and opacity of an image, as :class:`kerfwright.drawing.model.Picture` has them."""

    grey: npt.NDArray[np.uint8]
    alpha: npt.NDArray[np.uint8] | None


def dots_of_image(page: Page, image: Object) -> Dots | None:
    """Grey dots of an image object, its masks laid over white; ``None`` if it cannot be read.

    The library draws an image with its masks only as it lies on the page, so it is laid there
    dot by dot for as long as it is drawn. Stencils come in the colour they are painted with.
    """
    columns, rows = ctypes.c_uint(), ctypes.c_uint()
    if not pdfium.FPDFImageObj_GetImagePixelSize(image, columns, rows):
        return None
    if not 0 < columns.value * rows.value <= DOTS_LIMIT:
        return None
    placed = pdfium.FS_MATRIX()
    if not pdfium.FPDFPageObj_GetMatrix(image, placed):
        return None
    numbers = (placed.a, placed.b, placed.c, placed.d, placed.e, placed.f)
    pdfium.FPDFImageObj_SetMatrix(image, columns.value, 0.0, 0.0, rows.value, 0.0, 0.0)
    try:
        dots = bitmap_array(pdfium.FPDFImageObj_GetRenderedBitmap(page.document, page.page, image))
    finally:
        pdfium.FPDFImageObj_SetMatrix(image, *numbers)
    return None if dots is None else _over_white(dots)


def _over_white(dots: npt.NDArray[np.uint8]) -> Dots:
    if dots.shape[2] == 1:
        return Dots(np.ascontiguousarray(dots[..., 0]), None)
    luma = dots[..., :3] @ _LUMA
    alpha = dots[..., 3] if dots.shape[2] == 4 else None
    if alpha is None or bool((alpha == 255).all()):
        return Dots(np.asarray(np.rint(luma), dtype=np.uint8), None)
    share = alpha / 255.0
    grey = np.asarray(np.rint(luma * share + 255.0 * (1.0 - share)), dtype=np.uint8)
    return Dots(grey, np.ascontiguousarray(alpha))
