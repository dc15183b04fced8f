"""Text of a PDF page as the outlines of its glyphs, checked against the library's own drawing."""

from __future__ import annotations

import ctypes
import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pypdfium2.raw as pdfium
import shapely
from PIL import Image, ImageDraw
from scipy import ndimage
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.pdf.look import Bounds, Look, Sight
from kerfwright.drawing.pdf.raw import Object, affine_of, glyph_outlines
from kerfwright.drawing.pictures.trace import dark_areas
from kerfwright.drawing.svg.geometry import flattened
from kerfwright.drawing.svg.path_data import Outline
from kerfwright.geometry.affine import Affine, scaling
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import as_area, filled, rings_of

EM_DOTS = 150
"""Dots to the font size when the glyphs are compared with the library's drawing; at
many fewer it would shift letters to whole dots."""

LINE_DOTS = 12_000
"""Most dots along a line of text."""

STRAY_SHARE = 0.02
"""Share of the drawn dots that may differ beyond the edges' own blur."""

STRAY_DOTS = 60
"""Largest patch that may differ: a third of a full stop."""

INVISIBLE = pdfium.FPDF_TEXTRENDERMODE_INVISIBLE
CLIPPING = frozenset(
    (
        pdfium.FPDF_TEXTRENDERMODE_FILL_CLIP,
        pdfium.FPDF_TEXTRENDERMODE_STROKE_CLIP,
        pdfium.FPDF_TEXTRENDERMODE_FILL_STROKE_CLIP,
        pdfium.FPDF_TEXTRENDERMODE_CLIP,
    )
)
FILLING = frozenset(
    (
        pdfium.FPDF_TEXTRENDERMODE_FILL,
        pdfium.FPDF_TEXTRENDERMODE_FILL_STROKE,
        pdfium.FPDF_TEXTRENDERMODE_FILL_CLIP,
        pdfium.FPDF_TEXTRENDERMODE_FILL_STROKE_CLIP,
    )
)
STROKING = frozenset(
    (
        pdfium.FPDF_TEXTRENDERMODE_STROKE,
        pdfium.FPDF_TEXTRENDERMODE_FILL_STROKE,
        pdfium.FPDF_TEXTRENDERMODE_STROKE_CLIP,
        pdfium.FPDF_TEXTRENDERMODE_FILL_STROKE_CLIP,
    )
)
"""Text rendering modes of ISO 32000-1, table 106."""


_LIGATURES = {
    "ff": 0xFB00,
    "fi": 0xFB01,
    "fl": 0xFB02,
    "ffi": 0xFB03,
    "ffl": 0xFB04,
}
"""Letters drawn as one glyph (Unicode, block Alphabetic Presentation Forms)."""

TRACE_DOTS_PER_MM = 50.0
"""Where letters are traced from the drawing: an edge is found within about a tenth of a dot."""

_TRACE_DOTS_LIMIT = 4_000_000
_TRACE_STRAY_DOTS = 0.1


@dataclass(frozen=True, slots=True)
class _Letter:
    text: str
    to_page: Affine
    """From the letter, scaled to its font size, to the page's user space."""


@dataclass(frozen=True, eq=False, slots=True)
class Words:
    """A text object: what it says, and its glyphs in mm, one group of paths for each letter."""

    text: str
    paths: tuple[Path, ...]
    missing: int
    """Letters whose outline the library does not give."""
    font: str
    embedded: bool


class PageText:
    """All letters of a page, by text object. Made before anything is taken out of the page."""

    def __init__(self, page: Object, to_mm: Affine, chord_mm: float) -> None:
        self._to_mm = to_mm
        self._chord_mm = chord_mm
        self._letters: dict[int, list[_Letter]] = defaultdict(list)
        self._proven: set[tuple[str, str]] = set()
        self._glyphs: dict[tuple[int, int], list[Outline]] = {}
        text_page = pdfium.FPDFText_LoadPage(page)
        if not text_page:
            return
        try:
            for i in range(max(pdfium.FPDFText_CountChars(text_page), 0)):
                self._take(text_page, i)
        finally:
            pdfium.FPDFText_ClosePage(text_page)

    def _take(self, text_page: Object, i: int) -> None:
        thing = pdfium.FPDFText_GetTextObject(text_page, i)
        if not thing or pdfium.FPDFText_IsGenerated(text_page, i) == 1:
            return
        matrix, x, y = pdfium.FS_MATRIX(), ctypes.c_double(), ctypes.c_double()
        pdfium.FPDFText_GetMatrix(text_page, i, matrix)
        pdfium.FPDFText_GetCharOrigin(text_page, i, x, y)
        turn = affine_of(matrix)
        placed = Affine(turn.a, turn.b, turn.c, turn.d, x.value, y.value)
        hyphen = pdfium.FPDFText_IsHyphen(text_page, i) == 1
        text = "-" if hyphen else chr(pdfium.FPDFText_GetUnicode(text_page, i))
        letters = self._letters[_address(thing)]
        if letters and letters[-1].to_page == placed and letters[-1].text + text in _LIGATURES:
            letters[-1] = _Letter(letters[-1].text + text, placed)
        else:
            letters.append(_Letter(text, placed))

    def words(self, thing: Object) -> Words:
        """Glyph outlines of a text object; raises ``BadValueError`` for coordinates too far."""
        font = pdfium.FPDFTextObj_GetFont(thing)
        size = _font_size(thing)
        paths: list[Path] = []
        missing = 0
        letters = self._letters.get(_address(thing), [])
        for letter in letters:
            outlines = self._glyph(font, letter.text) if font else []
            if not outlines and letter.text.isprintable() and not letter.text.isspace():
                missing += 1
            to_mm = self._to_mm @ letter.to_page @ scaling(size, size)
            paths += flattened(outlines, to_mm, self._chord_mm)[0]
        return Words(
            "".join(letter.text for letter in letters),
            tuple(paths),
            missing,
            _font_name(font) if font else "",
            bool(font and pdfium.FPDFFont_GetIsEmbedded(font) == 1),
        )

    def _glyph(self, font: Object, text: str) -> list[Outline]:
        """Outlines of a letter or ligature in em."""
        code = ord(text) if len(text) == 1 else _LIGATURES[text]
        key = (_address(font), code)
        if key not in self._glyphs:
            glyph = pdfium.FPDFFont_GetGlyphPath(font, code, 1.0)
            self._glyphs[key] = glyph_outlines(glyph) if glyph else []
        return self._glyphs[key]

    def is_drawn_so(
        self,
        thing: Object,
        words: Words,
        look: Look,
        chain: Sequence[Object],
        bounds: Bounds,
        shows: BaseGeometry,
    ) -> bool:
        """Whether the library draws the text, inside ``shows``, as its glyphs' outlines say.

        A font's letter is looked at once: what differs is not where a letter stands but which
        glyph belongs to it.
        """
        found = self._letters.get(_address(thing), [])
        letters = {(words.font, letter.text) for letter in found}
        if letters and letters <= self._proven and not words.missing:
            return True
        stretches = [(self._to_mm @ letter.to_page).largest_scale for letter in found]
        em_mm = max(abs(_font_size(thing)) * max(stretches, default=1.0), 1e-3)
        longest = max(bounds[2] - bounds[0], bounds[3] - bounds[1])
        dots = min(max(int(longest / em_mm * EM_DOTS), EM_DOTS), LINE_DOTS)
        sight = look.at([thing], chain, bounds, dots)
        if words.missing:
            return sight.blank
        same = _same(words.paths, sight, shows)
        if same:
            self._proven |= letters
        return same


def traced_text(
    thing: Object, look: Look, chain: Sequence[Object], bounds: Bounds
) -> tuple[Path, ...]:
    """Outlines of a text object traced from the library's own drawing of it, in mm.

    Good within a hundredth of a millimetre for small letters; very large text is drawn with fewer
    dots to the mm.
    """
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    whole_dots = max(width * height, 1e-6) * TRACE_DOTS_PER_MM**2
    per_mm = TRACE_DOTS_PER_MM * min(1.0, math.sqrt(_TRACE_DOTS_LIMIT / whole_dots))
    sight = look.at([thing], chain, bounds, max(int(max(width, height) * per_mm), EM_DOTS))
    alpha = sight.rgba[..., 3]
    areas = dark_areas(255 - alpha, 255.0 - float(alpha.max()) / 2.0)
    simple = shapely.simplify(np.array(areas, dtype=object), _TRACE_STRAY_DOTS)
    scale = 1.0 / sight.dots_per_mm
    to_mm = Affine(scale, 0.0, 0.0, -scale, sight.left_mm, sight.top_mm)
    rings = rings_of(MultiPolygon(list(simple))) if alpha.any() else []
    return tuple(Path(to_mm.apply(ring), closed=True) for ring in rings)


def _same(paths: Sequence[Path], sight: Sight, shows: BaseGeometry) -> bool:
    drawn = sight.ink
    ours = _inked(paths, sight, shows)
    core = ndimage.binary_erosion(ours, iterations=2)
    around = ndimage.binary_dilation(ours, iterations=2)
    stray = (core & ~drawn) | (drawn & ~around)
    patches, count = ndimage.label(stray)
    largest = int(np.bincount(patches.ravel())[1:].max()) if count else 0
    inked = max(int(drawn.sum()), int(ours.sum()))
    return largest <= STRAY_DOTS and int(stray.sum()) <= STRAY_SHARE * inked


def _inked(paths: Sequence[Path], sight: Sight, shows: BaseGeometry) -> npt.NDArray[np.bool_]:
    rows, columns = sight.rgba.shape[:2]
    image = Image.new("1", (columns, rows))
    pen = ImageDraw.Draw(image)
    # a letter's island is smaller than the letter around it
    whole = as_area(shapely.intersection(filled(paths, "nonzero"), shows))
    for area in sorted(whole.geoms, key=lambda one: -one.envelope.area):
        for ring, ink in [(area.exterior, 1), *((hole, 0) for hole in area.interiors)]:
            xy = np.asarray(ring.coords)[:, :2] - (sight.left_mm, sight.top_mm)
            pen.polygon([(x, -y) for x, y in xy * sight.dots_per_mm - (0.5, -0.5)], fill=ink)
    return np.asarray(image, dtype=bool)


def _address(thing: Object) -> int:
    return ctypes.cast(thing, ctypes.c_void_p).value or 0


def _font_size(thing: Object) -> float:
    size = ctypes.c_float()
    pdfium.FPDFTextObj_GetFontSize(thing, size)
    return float(size.value)


def _font_name(font: Object) -> str:
    size = pdfium.FPDFFont_GetBaseFontName(font, None, 0)
    room = ctypes.create_string_buffer(max(int(size), 1))
    pdfium.FPDFFont_GetBaseFontName(font, room, len(room))
    return room.value.decode("utf-8", errors="replace")
