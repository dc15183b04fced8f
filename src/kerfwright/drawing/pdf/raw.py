"""Plain data out of a PDF library's page objects: outlines, colours, names, transforms."""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
import numpy.typing as npt
import pypdfium2.raw as pdfium

from kerfwright.drawing.svg.path_data import Beziers, Lines, Outline
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.regions import FillRule

Object = Any
"""A page object, as the library hands it out."""


class Kind(IntEnum):
    """What a page object is."""

    UNKNOWN = pdfium.FPDF_PAGEOBJ_UNKNOWN
    TEXT = pdfium.FPDF_PAGEOBJ_TEXT
    PATH = pdfium.FPDF_PAGEOBJ_PATH
    IMAGE = pdfium.FPDF_PAGEOBJ_IMAGE
    SHADING = pdfium.FPDF_PAGEOBJ_SHADING
    FORM = pdfium.FPDF_PAGEOBJ_FORM


def kind_of(thing: Object) -> Kind:
    """Return what a page object is."""
    try:
        return Kind(pdfium.FPDFPageObj_GetType(thing))
    except ValueError:
        return Kind.UNKNOWN


def objects_of_page(page: Object) -> list[Object]:
    """All objects of a page in painting order; forms count as one."""
    count = pdfium.FPDFPage_CountObjects(page)
    found = (pdfium.FPDFPage_GetObject(page, i) for i in range(count))
    return [thing for thing in found if thing]


def objects_of_form(form: Object) -> list[Object]:
    """All objects inside a form, in painting order."""
    count = pdfium.FPDFFormObj_CountObjects(form)
    found = (pdfium.FPDFFormObj_GetObject(form, i) for i in range(max(count, 0)))
    return [thing for thing in found if thing]


def matrix_of(thing: Object) -> Affine:
    """Transform from an object's own units to those of what it stands in."""
    matrix = pdfium.FS_MATRIX()
    if not pdfium.FPDFPageObj_GetMatrix(thing, matrix):
        return Affine()
    return affine_of(matrix)


def affine_of(matrix: Any) -> Affine:
    """Turn the library's matrix into ours; both have PDF's order of numbers (ISO 32000 8.3.4)."""
    return Affine(matrix.a, matrix.b, matrix.c, matrix.d, matrix.e, matrix.f)


def bounds_of(thing: Object) -> tuple[float, float, float, float] | None:
    """Left, bottom, right, top of an object in the units of what it stands in."""
    edges = [ctypes.c_float() for _ in range(4)]
    if not pdfium.FPDFPageObj_GetBounds(thing, *edges):
        return None
    left, bottom, right, top = (edge.value for edge in edges)
    return left, bottom, right, top


@dataclass(frozen=True, slots=True)
class Colour:
    """``#rrggbb`` and how opaque, 0 to 255."""

    hex: str
    alpha: int


def fill_colour(thing: Object) -> Colour:
    """Colour that an object is filled with."""
    return _colour(pdfium.FPDFPageObj_GetFillColor, thing)


def stroke_colour(thing: Object) -> Colour:
    """Colour that an object's line is drawn with."""
    return _colour(pdfium.FPDFPageObj_GetStrokeColor, thing)


def _colour(getter: Callable[..., int], thing: Object) -> Colour:
    channels = [ctypes.c_uint() for _ in range(4)]
    if not getter(thing, *channels):
        return Colour("#000000", 255)
    red, green, blue, alpha = (channel.value for channel in channels)
    return Colour(f"#{red:02x}{green:02x}{blue:02x}", alpha)


def draw_mode(path: Object) -> tuple[FillRule | None, bool]:
    """Fill rule of a path object, ``None`` if it is not filled, and whether it is stroked."""
    fill, stroke = ctypes.c_int(), ctypes.c_int()
    if not pdfium.FPDFPath_GetDrawMode(path, fill, stroke):
        return None, False
    rules: dict[int, FillRule] = {
        pdfium.FPDF_FILLMODE_ALTERNATE: "evenodd",
        pdfium.FPDF_FILLMODE_WINDING: "nonzero",
    }
    return rules.get(fill.value), bool(stroke.value)


@contextmanager
def only_painted(thing: Object, *, fill: bool) -> Iterator[None]:
    """Leave a path object only its fill or only its line for a while; others stay as they are."""
    rule, stroke = ctypes.c_int(), ctypes.c_int()
    if not pdfium.FPDFPath_GetDrawMode(thing, rule, stroke):
        yield
        return
    pdfium.FPDFPath_SetDrawMode(thing, rule.value if fill else 0, not fill and stroke.value)
    try:
        yield
    finally:
        pdfium.FPDFPath_SetDrawMode(thing, rule.value, stroke.value)


@contextmanager
def text_filled(text: Object) -> Iterator[None]:
    """Have a text object filled and nothing else for a while."""
    mode = pdfium.FPDFTextObj_GetTextRenderMode(text)
    pdfium.FPDFTextObj_SetTextRenderMode(text, pdfium.FPDF_TEXTRENDERMODE_FILL)
    try:
        yield
    finally:
        pdfium.FPDFTextObj_SetTextRenderMode(text, mode)


def line_width(thing: Object) -> float:
    """Width of an object's line in its own units."""
    width = ctypes.c_float()
    pdfium.FPDFPageObj_GetStrokeWidth(thing, width)
    return float(width.value)


def dashes_of(thing: Object) -> tuple[tuple[float, ...], float]:
    """Lengths of dash and gap in turn, in the object's own units, and the phase."""
    count = max(pdfium.FPDFPageObj_GetDashCount(thing), 0)
    if not count:
        return (), 0.0
    lengths, phase = (ctypes.c_float * count)(), ctypes.c_float()
    if not pdfium.FPDFPageObj_GetDashArray(thing, lengths, count):
        return (), 0.0
    pdfium.FPDFPageObj_GetDashPhase(thing, phase)
    return tuple(float(length) for length in lengths), float(phase.value)


def path_outlines(path: Object) -> list[Outline]:
    """Subpaths of a path object in its own units."""
    count = pdfium.FPDFPath_CountSegments(path)
    return _outlines(pdfium.FPDFPath_GetPathSegment(path, i) for i in range(max(count, 0)))


def glyph_outlines(glyph: Object) -> list[Outline]:
    """Subpaths of a glyph; its lines are closed by nature."""
    count = pdfium.FPDFGlyphPath_CountGlyphSegments(glyph)
    segments = (pdfium.FPDFGlyphPath_GetGlyphPathSegment(glyph, i) for i in range(max(count, 0)))
    outlines = _outlines(segments)
    for outline in outlines:
        outline.closed = True
    return outlines


def clip_outlines(thing: Object) -> list[list[Outline]]:
    """Clips of an object, each as its subpaths, in the units of what it stands in."""
    clip = pdfium.FPDFPageObj_GetClipPath(thing)
    count = pdfium.FPDFClipPath_CountPaths(clip) if clip else 0
    return [
        _outlines(
            pdfium.FPDFClipPath_GetPathSegment(clip, number, i)
            for i in range(max(pdfium.FPDFClipPath_CountPathSegments(clip, number), 0))
        )
        for number in range(max(count, 0))
    ]


def _outlines(segments: Iterator[Object]) -> list[Outline]:
    outlines: list[Outline] = []
    curve: list[tuple[float, float]] = []
    at = (0.0, 0.0)
    for segment in segments:
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        point = (float(x.value), float(y.value))
        kind = pdfium.FPDFPathSegment_GetType(segment)
        if kind == pdfium.FPDF_SEGMENT_MOVETO or not outlines:
            outlines.append(Outline(point))
            curve = []
        elif kind == pdfium.FPDF_SEGMENT_BEZIERTO:
            curve.append(point)
            if len(curve) == 3:
                outlines[-1].pieces.append(Beziers(np.array([[at, *curve]])))
                curve = []
        else:
            outlines[-1].pieces.append(Lines(np.array([point])))
        if not curve:
            at = point
            if pdfium.FPDFPathSegment_GetClose(segment):
                outlines[-1].closed = True
    return outlines


def layer_names(thing: Object) -> list[str]:
    """Names of the optional content that an object belongs to, the outermost first.

    A name that the library does not give, as of a membership in several layers, is "".
    """
    names = []
    for i in range(max(pdfium.FPDFPageObj_CountMarks(thing), 0)):
        mark = pdfium.FPDFPageObj_GetMark(thing, i)
        if mark and _mark_name(mark) == "OC":
            names.append(_text_string(mark, b"Name"))
    return names


def _mark_name(mark: Object) -> str:
    """A mark's name, which the library writes in UTF-16 with a zero at its end."""
    size = ctypes.c_ulong()
    if not pdfium.FPDFPageObjMark_GetName(mark, None, 0, size) or size.value < 2:
        return ""
    room = (ctypes.c_ushort * (size.value // 2 + 1))()
    pdfium.FPDFPageObjMark_GetName(mark, room, size.value, size)
    return bytes(room).decode("utf-16-le", errors="replace").partition("\0")[0]


def _text_string(mark: Object, key: bytes) -> str:
    """Decode a text string of a mark from its bytes (ISO 32000-1, 7.9.2.2).

    The library's own decoding gives nothing for letters beyond Latin.
    """
    size = ctypes.c_ulong()
    if not pdfium.FPDFPageObjMark_GetParamBlobValue(mark, key, None, 0, size) or not size.value:
        return ""
    room = (ctypes.c_ubyte * size.value)()
    pdfium.FPDFPageObjMark_GetParamBlobValue(mark, key, room, size.value, size)
    data = bytes(room)
    for sign, encoding in ((b"\xfe\xff", "utf-16-be"), (b"\xef\xbb\xbf", "utf-8")):
        if data.startswith(sign):
            text = data.removeprefix(sign).decode(encoding, errors="replace")
            break
    else:
        text = data.decode("cp1252", errors="replace")
    return "".join(letter for letter in text if letter.isprintable()).strip()


def bitmap_array(bitmap: Object) -> npt.NDArray[np.uint8] | None:
    """Dots of one of the library's bitmaps, which is released: shape (rows, columns, channels)."""
    if not bitmap:
        return None
    try:
        rows, columns = pdfium.FPDFBitmap_GetHeight(bitmap), pdfium.FPDFBitmap_GetWidth(bitmap)
        step = pdfium.FPDFBitmap_GetStride(bitmap)
        channels = _CHANNELS.get(pdfium.FPDFBitmap_GetFormat(bitmap), 0)
        start = pdfium.FPDFBitmap_GetBuffer(bitmap)
        if not (start and channels and rows > 0 and columns > 0):
            return None
        raw = ctypes.string_at(start, rows * step)
        flat = np.frombuffer(raw, dtype=np.uint8).reshape(rows, step)
        return flat[:, : columns * channels].reshape(rows, columns, channels).copy()
    finally:
        pdfium.FPDFBitmap_Destroy(bitmap)


_CHANNELS = {
    pdfium.FPDFBitmap_Gray: 1,
    pdfium.FPDFBitmap_BGR: 3,
    pdfium.FPDFBitmap_BGRx: 4,
    pdfium.FPDFBitmap_BGRA: 4,
}
