"""What a font file says of itself: its families, weight, width and slope (OpenType 1.9)."""

from __future__ import annotations

import logging
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from fontTools.ttLib import TTCollection, TTFont

# The library's own remarks on damaged tables would go to the terminal.
logging.getLogger("fontTools").addHandler(logging.NullHandler())

ENDINGS = frozenset((".ttf", ".otf", ".ttc", ".otc", ".woff", ".woff2"))
"""Endings of font files that hold outlines, in lower case."""

Slope = Literal["normal", "italic", "oblique"]

_OUTLINES = ("glyf", "CFF ", "CFF2")

_STRETCH_PERCENT = (50.0, 62.5, 75.0, 87.5, 100.0, 112.5, 125.0, 150.0, 200.0)
"""Widths of usWidthClass 1 to 9 (OpenType, OS/2 table)."""

_FAMILY, _STYLE, _FULL, _POSTSCRIPT, _TYPE_FAMILY, _TYPE_STYLE = 1, 2, 4, 6, 16, 17


@dataclass(frozen=True, slots=True)
class FontFace:
    """One face of a font file; ranges are wider than a point for variable fonts only.

    ``families`` and ``full_names`` are folded by :func:`folded`; ``kind`` is the generic family
    that the face belongs to by its own word, "" if it says nothing.
    """

    file: Path
    number: int
    name: str
    families: frozenset[str]
    full_names: frozenset[str]
    weights: tuple[float, float] = (400.0, 400.0)
    stretches_percent: tuple[float, float] = (100.0, 100.0)
    slope: Slope = "normal"
    kind: str = ""

    @property
    def label(self) -> str:
        """Name and file in one phrase, for findings."""
        return f"{self.name} from {self.file.name}"


@dataclass(frozen=True, slots=True)
class FontFile:
    """The faces of one file, or why it has none."""

    file: Path
    faces: tuple[FontFace, ...] = ()
    fault: str = ""


def folded(name: str) -> str:
    """Return a family's name as it is compared: without case, extra spaces or quotes."""
    plain = unicodedata.normalize("NFKC", name).strip().strip("'\"")
    return " ".join(plain.casefold().split())


def font_file(path: Path) -> FontFile:
    """Read what a font file says of itself; a damaged one comes back with its fault."""
    try:
        state = path.stat()
    except OSError as fault:
        return FontFile(path, fault=fault.strerror or "it cannot be opened")
    return _read(path, state.st_mtime_ns, state.st_size)


@lru_cache(maxsize=20_000)
def _read(path: Path, _changed_ns: int, _size: int) -> FontFile:
    try:
        return FontFile(path, tuple(_faces(path)))
    except Exception as fault:  # what damaged tables make the font library raise has no bounds
        return FontFile(path, fault=" ".join(str(fault).split())[:80] or "its tables are damaged")


def _faces(path: Path) -> Iterable[FontFace]:
    with path.open("rb") as stream:
        packed = stream.read(4) == b"ttcf"
    if packed:
        with TTCollection(path, lazy=True) as collection:
            for number, font in enumerate(collection):
                yield from _face(font, path, number)
    else:
        with TTFont(path, lazy=True) as font:
            yield from _face(font, path, 0)


def _face(font: Any, path: Path, number: int) -> Iterable[FontFace]:
    """Yield the face of ``font``, nothing for one that is made of dots."""
    if not any(table in font for table in _OUTLINES):
        return
    if "cmap" not in font:
        raise ValueError("it does not say which glyph is which letter")
    names = font["name"]
    style = names.getDebugName(_TYPE_STYLE) or names.getDebugName(_STYLE) or ""
    family = names.getDebugName(_TYPE_FAMILY) or names.getDebugName(_FAMILY) or path.stem
    weight, stretch, slope, kind = _os2(font, style)
    axes = {axis.axisTag: axis for axis in font["fvar"].axes} if "fvar" in font else {}
    weights = (axes["wght"].minValue, axes["wght"].maxValue) if "wght" in axes else (weight,) * 2
    stretches = (axes["wdth"].minValue, axes["wdth"].maxValue) if "wdth" in axes else (stretch,) * 2
    yield FontFace(
        path,
        number,
        f"{family} {style}".strip(),
        _spelt(names, _FAMILY, _TYPE_FAMILY) or frozenset((folded(path.stem),)),
        _spelt(names, _FULL, _POSTSCRIPT),
        weights,
        stretches,
        slope,
        kind,
    )


def _spelt(names: Any, *wanted: int) -> frozenset[str]:
    """All spellings of a name, in every language that the file has."""
    found = {folded(entry.toUnicode("replace")) for entry in names.names if entry.nameID in wanted}
    return frozenset(found - {""})


def _os2(font: Any, style: str) -> tuple[float, float, Slope, str]:
    slanted = bool(font["head"].macStyle & 2)
    weight, stretch = (700.0 if font["head"].macStyle & 1 else 400.0), 100.0
    kind = "monospace" if "post" in font and font["post"].isFixedPitch else ""
    if "OS/2" in font:
        table = font["OS/2"]
        weight = float(table.usWeightClass) or weight
        # some old files count 1 to 9
        weight = weight * 100.0 if weight < 10.0 else min(weight, 1000.0)
        stretch = _STRETCH_PERCENT[min(max(int(table.usWidthClass), 1), 9) - 1]
        slanted = slanted or bool(table.fsSelection & 0x201)
        kind = kind or _kind(table.panose)
    oblique = "oblique" in style.casefold()
    slope: Slope = "oblique" if oblique else "italic" if slanted else "normal"
    return weight, stretch, slope, kind


def _kind(panose: Any) -> str:
    """Generic family by PANOSE: Latin text, serif styles 2 to 10, sans 11 to 15."""
    if panose.bFamilyType != 2:
        return ""
    if panose.bProportion == 9:
        return "monospace"
    if 11 <= panose.bSerifStyle <= 15:
        return "sans-serif"
    return "serif" if 2 <= panose.bSerifStyle <= 10 else ""
