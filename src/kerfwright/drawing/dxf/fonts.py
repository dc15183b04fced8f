"""Which font a DXF text style or a change of font within a text means.

A style names the font's file and, in its extended data, often the family (DXF Reference, STYLE).
Stroke fonts (.shx) consist of bare lines and belong to the program that drew the file; a font of
outlines stands in for them.
"""

from __future__ import annotations

from pathlib import PureWindowsPath

from ezdxf.entities.textstyle import Textstyle
from ezdxf.fonts.font_face import FontFace as NamedFace
from ezdxf.fonts.font_synonyms import FONT_SYNONYMS

from kerfwright.drawing.lettering.font_choice import Choice, NoFontError, choices
from kerfwright.drawing.lettering.font_files import FontFace
from kerfwright.drawing.lettering.fonts import Fonts, Wanted
from kerfwright.drawing.lettering.setting import SetFont, set_font

_STROKE_ENDINGS = frozenset((".shx", ".shp", ""))


def face_of_style(style: Textstyle | None) -> NamedFace:
    """Return what a text style says of its font."""
    if style is None:
        return NamedFace(family="")
    family, italic, bold = style.get_extended_font_data()
    return NamedFace(
        str(style.dxf.get("font", "")).strip(),
        family,
        "Italic" if italic else "Regular",
        700 if bold else 400,
    )


class DxfFonts:
    """The fonts of one drawing by the faces that its texts name."""

    def __init__(self, fonts: Fonts) -> None:
        self.fonts = fonts
        self._chosen: dict[NamedFace, Choice] = {}

    def choice(self, named: NamedFace) -> Choice:
        """Return the font for a face: by its file's name, then by its family.

        Raises:
            NoFontError: it is missing, or there are no fonts at all.
        """
        found = self._chosen.get(named)
        if found is None:
            found = self._chosen[named] = self._choose(named)
        return found

    def _choose(self, named: NamedFace) -> Choice:
        wanted = Wanted(
            weight=float(named.weight),
            slope="italic" if named.is_italic or named.is_oblique else "normal",
        )
        file, family = PureWindowsPath(named.filename), named.family
        if not file.name and PureWindowsPath(family).suffix.lower() == ".shx":
            file, family = PureWindowsPath(family), ""
        stroked = file.suffix.lower() in _STROKE_ENDINGS
        if not stroked:
            face = self._of_file(file.name)
            font = None if face is None else _opened(face, wanted)
            if font is not None:
                return Choice(font)
            family = family or file.stem
        if family:
            try:
                return choices(self.fonts, (family,), wanted)[0]
            except NoFontError:
                if not self.fonts:
                    raise NoFontError("") from None
                if not stroked or not file.name:
                    raise NoFontError(named.family or file.name) from None
        taken = choices(self.fonts, ("sans-serif",), wanted)[0]
        what = f"stroke font {file.name}" if file.name else "no font"
        return Choice(taken.font, f"{what} is set in {taken.font.face.label}")

    def _of_file(self, name: str) -> FontFace | None:
        other = FONT_SYNONYMS.get(name.lower(), "")
        return self.fonts.file_named(name) or (self.fonts.file_named(other) if other else None)


def _opened(face: FontFace, wanted: Wanted) -> SetFont | None:
    try:
        return set_font(face, wanted.weight, wanted.stretch_percent)
    except Exception:  # what a damaged font makes the libraries raise has no bounds
        return None
