"""Turns a DXF file's texts into areas: TEXT, ATTRIB, ATTDEF and MTEXT.

A text's height is the height of its capital letters, exactly. Alignment goes by the outlines of
the letters and by the measures of the font, as the ezdxf library has it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath

from ezdxf.document import Drawing as Document
from ezdxf.entities.attrib import BaseAttrib
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.mtext import MText
from ezdxf.entities.text import Text
from ezdxf.entities.textstyle import Textstyle
from ezdxf.enums import MAP_TEXT_ENUM_TO_ALIGN_FLAGS, TextEntityAlignment
from ezdxf.math import Matrix44, Vec3
from ezdxf.tools.text import plain_text

from kerfwright.drawing.dxf.fonts import DxfFonts, face_of_style
from kerfwright.drawing.dxf.layers import as_text
from kerfwright.drawing.dxf.letters import Lettering, SetLine
from kerfwright.drawing.dxf.mtext import MTextSetter
from kerfwright.drawing.dxf.view import FarAwayError, View
from kerfwright.drawing.lettering.findings import UnsetTextError, short
from kerfwright.drawing.lettering.font_choice import NoFontError, damaged
from kerfwright.drawing.lettering.fonts import Fonts
from kerfwright.drawing.lettering.setting import bar, moved
from kerfwright.drawing.svg.geometry import flattened
from kerfwright.drawing.svg.path_data import Outline
from kerfwright.drawing.svg.values import BadValueError
from kerfwright.geometry.affine import Affine, scaling, translation
from kerfwright.geometry.paths import Path

_LINE_CODES = re.compile("%%([uok])", re.IGNORECASE)
"""Switches for a line under, over or through a text (DXF Reference, TEXT)."""

_FITTED = (TextEntityAlignment.ALIGNED, TextEntityAlignment.FIT)

_MASK = 3
_FRAME = 16
"""Bits of group 90 of an MTEXT: it hides what is behind it, or has a frame."""


@dataclass(frozen=True, eq=False, slots=True)
class TextAreas:
    """The areas of one text by colour (``None``: its own, a number, or red, green, blue).

    ``asides`` are findings by slug and detail.
    """

    areas: dict[object, tuple[Path, ...]]
    asides: tuple[tuple[str, str], ...]


class DxfTexts:
    """The texts of one drawing; fonts are looked for when the first one comes."""

    def __init__(self, document: Document, file: FilePath) -> None:
        self._document = document
        self._fonts = DxfFonts(Fonts(file))
        self._told_damage = False

    def set(self, entity: DXFEntity, view: View) -> TextAreas:
        """Return a text's areas in mm as ``view`` has them.

        Raises:
            UnsetTextError: it cannot be set.
            FarAwayError: it lies beyond any sheet.
        """
        if isinstance(entity, BaseAttrib) and entity.has_embedded_mtext_entity:
            entity = entity.virtual_mtext_entity()
        if not isinstance(entity, MText | Text):
            raise UnsetTextError("text", entity.dxftype())
        entity.doc = self._document
        self._decode(entity)
        words = short(str(entity.plain_text()))
        style = self._style(entity)
        if style is not None and style.is_vertical_stacked:
            raise UnsetTextError("text", f'"{words}", which runs from top to bottom')
        lettering = Lettering(words)
        try:
            if isinstance(entity, MText):
                MTextSetter(self._fonts, face_of_style(style), lettering).set(entity)
                place = entity.ucs().matrix
            else:
                self._set_text(entity, style, lettering)
                place = entity.wcs_transformation_matrix()
        except NoFontError as fault:
            raise fault.unset(words) from None
        frame = _seen(place, view)
        areas = {
            colour: _flat(outlines, frame, view.chord_mm)
            for colour, outlines in lettering.areas.items()
            if outlines
        }
        return TextAreas(areas, tuple(self._asides(entity, lettering)))

    def _decode(self, entity: Text | MText) -> None:
        """Decode letters beyond a code page, which are written as their numbers (\\U+03B1)."""
        raw = str(entity.text if isinstance(entity, MText) else entity.dxf.text)
        if "\\U+" not in raw.upper() and "\\M+" not in raw.upper():
            return
        if isinstance(entity, MText):
            entity.text = as_text(raw, self._document.encoding)
        else:
            entity.dxf.text = as_text(raw, self._document.encoding)

    def _style(self, entity: Text | MText) -> Textstyle | None:
        name = str(entity.dxf.get("style", "Standard"))
        return self._document.styles.get(name) if self._document.styles.has_entry(name) else None

    def _set_text(self, text: Text, style: Textstyle | None, lettering: Lettering) -> None:
        choice = self._fonts.choice(face_of_style(style))
        pieces = _struck(str(text.dxf.text))
        line = lettering.line("".join(letters for letters, _ in pieces), choice)
        height = float(text.dxf.height)
        outlines = list(line.outlines)
        pen = 0.0
        for letters, lines in pieces:
            end = pen + lettering.line(letters, choice).advance
            outlines += [_bar_along(line, pen, end, code) for code in sorted(lines)]
            pen = end
        place = _alignment(text, line, height)
        lettering.add([moved(outline, place) for outline in outlines])

    def _asides(self, entity: Text | MText, lettering: Lettering) -> list[tuple[str, str]]:
        told = [("text-set", choice.font.face.label) for choice in lettering.choices]
        told += [("font-taken", c.instead) for c in lettering.choices if c.instead]
        behind = int(entity.dxf.get("bg_fill", 0)) if isinstance(entity, MText) else 0
        if behind & _MASK:
            told.append(("dxf-cover", "background of a text"))
        if behind & _FRAME:
            told.append(("dxf-left-out", "frame of a text"))
        if not self._told_damage:
            self._told_damage = True
            told += [("font-damaged", detail) for detail in damaged(self._fonts.fonts)]
        return told


def _alignment(text: Text, line: SetLine, height: float) -> Affine:
    """Transform from em to the text's own plane, its alignment point at the origin."""
    align, _, _ = text.get_placement()
    across, along = MAP_TEXT_ENUM_TO_ALIGN_FLAGS[align]
    em = height / line.metrics.cap_height
    left, right, depth = line.left * em, line.right * em, line.metrics.descender * em
    shift_x = {0: 0.0, 2: -right}.get(across, -(left + right) / 2.0)
    shift_y = {0: 0.0, 1: depth, 2: -height / 2.0, 3: -height}[along]
    if align is TextEntityAlignment.MIDDLE:
        shift_y = (depth - height) / 2.0
    stretch = text.fit_length() / (right - left) if align in _FITTED and right > left else 1.0
    stretch_y = stretch if align is TextEntityAlignment.ALIGNED else 1.0
    return scaling(stretch, stretch_y) @ translation(shift_x, shift_y) @ scaling(em, em)


def _struck(raw: str) -> list[tuple[str, frozenset[str]]]:
    """Split a text where lines under, over or through it begin and end."""
    out: list[tuple[str, frozenset[str]]] = []
    lines: frozenset[str] = frozenset()
    for i, piece in enumerate(_LINE_CODES.split(raw)):
        if i % 2:
            lines ^= {piece.lower()}
        elif letters := plain_text(piece).encode("utf-8", "replace").decode("utf-8"):
            out.append((letters, lines))
    return out


def _bar_along(line: SetLine, start: float, end: float, code: str) -> Outline:
    metrics = line.metrics
    over = metrics.cap_height - metrics.underline
    height = {"u": metrics.underline, "o": over}.get(code, metrics.strike)
    return bar(start, end, height, metrics.line_thickness, ccw=line.runs_ccw)


def _seen(place: Matrix44, view: View) -> Affine:
    """Transform from a text's own plane to mm, as seen from above."""
    origin = place.transform(Vec3())
    x_axis, y_axis = (place.transform_direction(axis) for axis in (Vec3(1, 0), Vec3(0, 1)))
    return view.frame(origin, x_axis, y_axis)


def _flat(outlines: Sequence[Outline], frame: Affine, chord_mm: float) -> tuple[Path, ...]:
    if not all(math.isfinite(part) for part in (frame.a, frame.b, frame.c, frame.d)):
        raise FarAwayError
    try:
        return flattened(outlines, frame, chord_mm)[0]
    except BadValueError:
        raise FarAwayError from None
