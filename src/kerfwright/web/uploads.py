"""Takes drawings that are sent: safe names, known kinds, bounded sizes.

Names: Unicode Standard Annex 15 (normal form C); reserved names and signs as Microsoft's "Naming
Files, Paths, and Namespaces" lists them (from memory), so that an order can be moved to any system.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import BinaryIO

from fastapi import UploadFile

from kerfwright.drawing.read import kind_of
from kerfwright.errors import KerfwrightError
from kerfwright.output.text import file_size
from kerfwright.web.workshop import is_reserved

MOST_BYTES = 48 * 1024 * 1024
"""Of one drawing."""

MOST_FILES = 100
"""Drawings that are sent at once."""

NAME_BYTES = 120
"""Of a name as UTF-8; file systems take 255, and copies get numbers."""

_AT_ONCE = 1024 * 1024

_SEPARATORS = re.compile(r"[/\\]")
_FORBIDDEN = re.compile(r'[<>:"|?*]')


def safe_name(given: str) -> str:
    """Make a file name of whatever a browser sends: no path, no control signs, valid anywhere."""
    name = unicodedata.normalize("NFC", _SEPARATORS.split(given)[-1])
    # Cc, Cf (also what turns the order of letters round), Cs, Co, Cn
    name = "".join(sign for sign in name if not unicodedata.category(sign).startswith("C"))
    name = " ".join(_FORBIDDEN.sub("-", name).split()).strip(" .").lstrip("-")
    stem, ending = Path(name).stem, Path(name).suffix.lower()
    stem = stem.rstrip(" .") or "drawing"
    if is_reserved(stem):
        stem = f"drawing {stem}"
    if len(ending.encode()) > NAME_BYTES // 4:
        ending = ""
    room = NAME_BYTES - len(ending.encode())
    stem = stem.encode()[:room].decode("utf-8", "ignore").rstrip(" .")
    return f"{stem}{ending}"


def free_name(name: str, taken: Iterable[str]) -> str:
    """Give a name a number if one that differs only in capitals is taken already."""
    used = {unicodedata.normalize("NFC", one).casefold() for one in taken}
    stem, ending = Path(name).stem, Path(name).suffix
    number = 1
    while name.casefold() in used:
        number += 1
        name = f"{stem}-{number}{ending}"
    return name


def take(files: Sequence[UploadFile], folder: Path) -> list[str]:
    """Write drawings into a folder under safe names; returns the names, in the order of the files.

    Nothing is left in the folder if one of them is refused.

    Raises:
        KerfwrightError: there is none, too many, one is too large, or is no drawing that can be
            read by its ending and its content.
    """
    if not 0 < len(files) <= MOST_FILES:
        raise KerfwrightError(
            "pages/no-drawing",
            file="",
            thing=f"{len(files) or 'no'} drawings were sent; 1 to {MOST_FILES} can be taken.",
            remedy="Choose the drawings that are to be made.",
        )
    written: list[Path] = []
    try:
        for file in files:
            there = [path.name for path in folder.iterdir()]
            path = folder / free_name(safe_name(file.filename or ""), there)
            written.append(path)
            _write(file.file, path)
            _require_drawing(path)
    except BaseException:
        for path in written:
            path.unlink(missing_ok=True)
        raise
    return [path.name for path in written]


def _write(source: BinaryIO, path: Path) -> None:
    size = 0
    with path.open("xb") as target:
        while some := source.read(_AT_ONCE):
            size += len(some)
            if size > MOST_BYTES:
                raise KerfwrightError(
                    "pages/too-large",
                    file=path.name,
                    thing=f"the drawing is larger than {file_size(MOST_BYTES)}.",
                    remedy="Plan a drawing of that size with the command kerfwright plan.",
                )
            target.write(some)


def _require_drawing(path: Path) -> None:
    try:
        kind_of(path)
    except KerfwrightError as error:
        raise KerfwrightError(
            error.code, file=path.name, thing=error.thing, remedy=error.remedy
        ) from None
