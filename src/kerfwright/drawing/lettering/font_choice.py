"""Chooses the fonts for a text by the families it asks for, and says what was taken instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.drawing.lettering.findings import UnsetTextError
from kerfwright.drawing.lettering.font_files import FontFace
from kerfwright.drawing.lettering.fonts import Fonts, Wanted, generic_of
from kerfwright.drawing.lettering.setting import Cluster, SetFont, set_font

NO_FAMILY = "serif"
"""What browsers take for text that names no family (common practice, no source)."""


class NoFontError(LookupError):
    """``family`` is not among the fonts, or there are no fonts at all ("")."""

    def __init__(self, family: str) -> None:
        super().__init__(family)
        self.family = family

    def unset(self, words: str) -> UnsetTextError:
        """Return the fault of the text ``words`` that this one leads to."""
        if not self.family:
            return UnsetTextError("text", f'"{words}": there is no font at all on this computer')
        return UnsetTextError("font-missing", f'font "{self.family}", text "{words}"')


@dataclass(frozen=True, slots=True)
class Choice:
    """A font, and what is worth telling where it is not the one asked for ("" if it is)."""

    font: SetFont
    instead: str = ""


def choices(fonts: Fonts, families: Sequence[str], wanted: Wanted) -> tuple[Choice, ...]:
    """Return the fonts for a text, the one asked for first, then those for characters it lacks.

    A family that is missing is made good by another one that the text names after it, never by
    a generic one, which programs add to every list.

    Raises:
        NoFontError: the family asked for is missing, or no font can be opened.
    """
    found: list[Choice] = []
    missing = ""
    for name in families or ("",):
        generic = generic_of(name) if name else NO_FAMILY
        face = fonts.family(name, wanted) if name else None
        if face is not None:
            told = f'"{missing}" is not found, the next choice is {face.label}' if missing else ""
            told = told or _unlike(face, wanted)
        elif generic and (found or not missing):
            face = fonts.generic(generic, wanted)
            told = f"{name or 'no family'} is set in {face.label}" if face is not None else ""
        font = None if face is None else _opened(face, wanted)
        if font is not None:
            found.append(Choice(font, told))
        elif not generic:
            missing = missing or name
    if not found:
        raise NoFontError(missing if fonts else "")
    return tuple(found)


def refuse_missing(clusters: Sequence[Cluster], words: str) -> None:
    """Raise :class:`UnsetTextError` if the fonts lack characters of a text."""
    missing = [cluster for cluster in clusters if cluster.missing]
    if not missing:
        return
    letters = dict.fromkeys(cluster.letters for cluster in missing)
    named = " ".join("(space)" if one.isspace() else one for one in letters)
    label = missing[0].font.face.label
    raise UnsetTextError("no-glyph", f'{named} in "{words}", {label}')


def damaged(fonts: Fonts) -> list[str]:
    """Name the font files beside the drawing that cannot be read, and why."""
    return [f"{file.file.name}: {file.fault}" for file in fonts.beside if file.fault]


def _opened(face: FontFace, wanted: Wanted) -> SetFont | None:
    try:
        return set_font(face, wanted.weight, wanted.stretch_percent)
    except Exception:  # what a damaged font makes the libraries raise has no bounds
        return None


def _unlike(face: FontFace, wanted: Wanted) -> str:
    """Say which of bold and italic a face lacks."""
    lacks = []
    if wanted.weight >= 600.0 > face.weights[1]:
        lacks.append("bold")
    if wanted.slope != "normal" and face.slope == "normal":
        lacks.append("italic")
    return f"{face.label} is not {' or '.join(lacks)}, as asked for" if lacks else ""
