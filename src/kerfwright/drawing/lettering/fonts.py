"""Finds fonts: beside the drawing first, then in the folders where systems keep them.

Which face of a family is taken follows CSS Fonts 4, section 5.2: width first, then slope, then
weight.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path, PureWindowsPath

from font_source_sans_pro import font_files_ttf

from kerfwright.drawing.lettering.font_files import (
    ENDINGS,
    FontFace,
    FontFile,
    Slope,
    folded,
    font_file,
)

GENERIC = frozenset(("sans-serif", "serif", "monospace", "cursive", "fantasy", "system-ui"))
"""Families that name a kind and leave the font to the system (CSS Fonts 4, section 2.1.2)."""

_ALIASES = {"sans": "sans-serif", "mono": "monospace", "ui-sans-serif": "sans-serif"} | {
    "ui-serif": "serif",
    "ui-monospace": "monospace",
    "ui-rounded": "sans-serif",
    "-apple-system": "system-ui",
}
"""Other words that programs write for a generic family."""

_COMMON = {
    "sans-serif": (
        *("arial", "helvetica neue", "helvetica", "liberation sans", "dejavu sans"),
        *("noto sans", "open sans", "segoe ui", "verdana"),
    ),
    "serif": (
        *("times new roman", "times", "liberation serif", "dejavu serif", "noto serif"),
        "georgia",
    ),
    "monospace": (
        *("courier new", "consolas", "menlo", "liberation mono", "dejavu sans mono"),
        *("noto sans mono", "courier"),
    ),
}
"""Families that systems bring along, first those of most (common practice, no source)."""

_SLOPES: dict[Slope, tuple[Slope, ...]] = {
    "normal": ("normal", "oblique", "italic"),
    "italic": ("italic", "oblique", "normal"),
    "oblique": ("oblique", "italic", "normal"),
}

_FOLDER_LIMIT = 20_000
"""Files looked at in the folders of a system, before something must be wrong with them."""

_BESIDE_LIMIT = 500


@dataclass(frozen=True, slots=True)
class Wanted:
    """The face asked for within a family, in CSS's numbers."""

    weight: float = 400.0
    stretch_percent: float = 100.0
    slope: Slope = "normal"


class Fonts:
    """The fonts that a drawing may use.

    ``folders`` stand in for the system's own. Nothing is opened before a font is asked for, and
    the system's fonts only if those beside the drawing do not do. Source Sans Pro, in which
    tickets and labels are set, is there on every computer.
    """

    def __init__(self, drawing: Path | None = None, folders: Sequence[Path] | None = None) -> None:
        self._drawing = drawing
        self._folders = folders
        self._beside: tuple[FontFile, ...] | None = None

    def __bool__(self) -> bool:
        return any(file.faces for file in self.beside) or bool(self._system())

    @property
    def beside(self) -> tuple[FontFile, ...]:
        """Font files in the drawing's own folder and in a folder ``fonts`` within it."""
        if self._beside is None:
            folder = None if self._drawing is None else self._drawing.parent
            files = [] if folder is None else [*_files_in(folder), *_files_in(folder / "fonts")]
            self._beside = tuple(font_file(file) for file in files[:_BESIDE_LIMIT])
        return self._beside

    def family(self, name: str, wanted: Wanted | None = None) -> FontFace | None:
        """Return the face of a family that is most like ``wanted``.

        A name that is no family's may be a face's full or PostScript name, as some programs
        write it. ``None`` if there is nothing of that name.
        """
        wanted, name = wanted or Wanted(), folded(name)
        near = _of_family(self._near(), name)
        if near and is_as_wanted(found := _best(near, wanted), wanted):
            return found
        members = [*near, *_of_family(self._system(), name)]
        members = members or [*_carried_along(name)]
        if members:
            return _best(members, wanted)
        return next((face for face in self._all() if name in face.full_names), None)

    def generic(self, name: str, wanted: Wanted | None = None) -> FontFace | None:
        """Return the face that stands for a generic family, ``None`` if there is no font at all."""
        kind = generic_of(name) or "sans-serif"
        kind = kind if kind in _COMMON else "sans-serif"
        for family in _COMMON[kind]:
            face = self.family(family, wanted)
            if face is not None and family in face.families:
                return face
        faces = sorted(self._all(), key=lambda face: (face.name, face.file, face.number))
        alike = [face for face in faces if face.kind == kind] or faces
        if not alike:
            return None
        first = alike[0].families
        return _best([face for face in alike if face.families == first], wanted or Wanted())

    def file_named(self, name: str) -> FontFace | None:
        """Return the first face of a font file by its file's name, in whatever case."""
        wanted = PureWindowsPath(name).name.casefold()
        return next((face for face in self._all() if face.file.name.casefold() == wanted), None)

    def _near(self) -> tuple[FontFace, ...]:
        return tuple(face for file in self.beside for face in file.faces)

    def _system(self) -> tuple[FontFace, ...]:
        folders = system_folders() if self._folders is None else self._folders
        return _faces_in(tuple(folders))

    def _all(self) -> Iterable[FontFace]:
        yield from self._near()
        yield from self._system()


CARRIED_ALONG = "source sans pro"


@lru_cache(maxsize=4)
def _carried_along(name: str) -> tuple[FontFace, ...]:
    """Faces of the family that comes with this program, if it is the one asked for."""
    if name != CARRIED_ALONG:
        return ()
    files = [font_file(Path(path)) for path in sorted(font_files_ttf.values())]
    return tuple(face for file in files for face in file.faces)


def generic_of(name: str) -> str:
    """Return the generic family that a name stands for, "" if it is an ordinary family."""
    name = folded(name)
    name = _ALIASES.get(name, name)
    return name if name in GENERIC else ""


def system_folders() -> tuple[Path, ...]:
    """Folders where the system keeps fonts, the user's own first.

    Linux: XDG Base Directory Specification; macOS and Windows: the makers' documentation.
    """
    home = Path.home()
    environment = os.environ
    if sys.platform == "win32":
        local = environment.get("LOCALAPPDATA") or str(home / "AppData" / "Local")
        windows = environment.get("WINDIR") or "C:\\Windows"
        return (Path(local) / "Microsoft" / "Windows" / "Fonts", Path(windows) / "Fonts")
    if sys.platform == "darwin":
        return (
            home / "Library" / "Fonts",
            Path("/Library/Fonts"),
            Path("/System/Library/Fonts"),
        )
    own = environment.get("XDG_DATA_HOME") or str(home / ".local" / "share")
    shared = environment.get("XDG_DATA_DIRS") or "/usr/local/share:/usr/share"
    named = [own, *shared.split(":")]
    return (home / ".fonts", *(Path(folder) / "fonts" for folder in named if folder))


def is_as_wanted(face: FontFace, wanted: Wanted) -> bool:
    """Whether a face has the weight, the width and the slope asked for."""
    return (
        _reach(face.weights, wanted.weight) == 0.0
        and _reach(face.stretches_percent, wanted.stretch_percent) == 0.0
        and (face.slope == "normal") == (wanted.slope == "normal")
    )


@lru_cache(maxsize=8)
def _faces_in(folders: tuple[Path, ...]) -> tuple[FontFace, ...]:
    """All faces below ``folders``; read once in the life of the process."""
    seen: set[Path] = set()
    faces: list[FontFace] = []
    for folder in folders:
        for file in _files_below(folder, seen):
            faces.extend(font_file(file).faces)
    return tuple(faces)


def _files_below(folder: Path, seen: set[Path]) -> Iterable[Path]:
    for here, inner, names in os.walk(folder, followlinks=True):
        place = Path(here).resolve()
        if place in seen or len(seen) > _FOLDER_LIMIT:
            inner.clear()
            continue
        seen.add(place)
        inner.sort()
        for name in sorted(names):
            if Path(name).suffix.lower() in ENDINGS:
                yield Path(here) / name


def _files_in(folder: Path) -> list[Path]:
    try:
        entries = sorted(folder.iterdir())
        return [entry for entry in entries if entry.suffix.lower() in ENDINGS and entry.is_file()]
    except (OSError, ValueError):
        return []


def _of_family(faces: Iterable[FontFace], name: str) -> list[FontFace]:
    return [face for face in faces if name in face.families]


def _best(faces: Sequence[FontFace], wanted: Wanted) -> FontFace:
    """Choose by width, slope and weight in turn; the first in order wins among equals."""
    left = _nearest_by_width(faces, wanted.stretch_percent)
    for slope in _SLOPES[wanted.slope]:
        of_slope = [face for face in left if face.slope == slope]
        if of_slope:
            left = of_slope
            break
    return min(left, key=lambda face: _weight_rank(face.weights, wanted.weight))


def _nearest_by_width(faces: Sequence[FontFace], wanted: float) -> list[FontFace]:
    """Narrower widths first for a normal or narrow wish, wider first for a wide one."""

    def rank(face: FontFace) -> tuple[bool, float]:
        reach = _reach(face.stretches_percent, wanted)
        other_way = reach > 0.0 if wanted <= 100.0 else reach < 0.0
        return other_way, abs(reach)

    least = min(rank(face) for face in faces)
    return [face for face in faces if rank(face) == least]


def _weight_rank(weights: tuple[float, float], wanted: float) -> tuple[int, float]:
    reach = _reach(weights, wanted)
    if reach == 0.0:
        return 0, 0.0
    if 400.0 <= wanted <= 500.0:
        up_to_500 = reach > 0.0 and wanted + reach <= 500.0
        order = 1 if up_to_500 else 2 if reach < 0.0 else 3
    else:
        order = 1 if (reach < 0.0) == (wanted < 400.0) else 2
    return order, abs(reach)


def _reach(span: tuple[float, float], wanted: float) -> float:
    """How far ``span`` lies above (positive) or below what is wanted; 0 if it holds it."""
    low, high = span
    return low - wanted if wanted < low else high - wanted if wanted > high else 0.0
