"""QR codes (ISO/IEC 18004) and Data Matrix codes (ISO/IEC 16022, ECC 200) as areas to burn.

Dark modules that touch are one area: rows of single squares would leave a line between each two.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
import segno
import shapely
from ppf.datamatrix import DataMatrix
from shapely import MultiPolygon

from kerfwright.geometry.regions import as_area

CodeKind = Literal["qr", "datamatrix"]

QUIET_MODULES: dict[CodeKind, int] = {"qr": 4, "datamatrix": 1}
"""Modules kept free all round: ISO/IEC 18004 section 6.3.8 and ISO/IEC 16022 section 4.1, both
from memory."""

APART = 0.005
"""Share of a module: a corner in which two meet is no stroke of no width. Far below any spot."""

NAMES: dict[CodeKind, str] = {"qr": "QR code", "datamatrix": "Data Matrix code"}


class CodeError(ValueError):
    """A text that a code cannot hold; says why."""


@dataclass(frozen=True, eq=False, slots=True)
class Code:
    """A code of square modules: ``dark`` has the shape (modules, modules), row 0 uppermost."""

    kind: CodeKind
    dark: npt.NDArray[np.bool_]

    @property
    def across(self) -> int:
        """Modules across, the quiet zone included."""
        return len(self.dark) + 2 * QUIET_MODULES[self.kind]

    def area(self, *, burned: Literal["dark", "light"]) -> MultiPolygon:
        """What is burned, in modules, y downwards, the quiet zone's corner at the origin.

        It is :data:`APART` smaller all round, so that modules which touch in a corner do not.
        """
        quiet = QUIET_MODULES[self.kind]
        whole = np.pad(self.dark, quiet)
        rows, columns = np.nonzero(whole if burned == "dark" else ~whole)
        squares = shapely.box(columns, rows, columns + 1, rows + 1)
        return as_area(shapely.union_all(squares).buffer(-APART, join_style="mitre"))


def code_of(kind: CodeKind, text: str, *, error_correction: str = "M") -> Code:
    """Return the smallest code that holds a text.

    Raises:
        CodeError: the text is empty, too long, or has characters that the code cannot hold.
    """
    if not text:
        raise CodeError("it has no text")
    return Code(kind, _qr(text, error_correction) if kind == "qr" else _data_matrix(text))


def _qr(text: str, error_correction: str) -> npt.NDArray[np.bool_]:
    try:
        # a Micro QR code is read by few phones; readers guess wrong which letters bytes stand
        # for unless the code says so (ISO/IEC 18004, extended channel interpretation)
        plain = text.isascii()
        made = segno.make(
            text,
            micro=False,
            error=error_correction,
            boost_error=False,
            encoding=None if plain else "utf-8",
            eci=not plain,
        )
    except (ValueError, UnicodeError) as error:
        raise CodeError(f"a QR code cannot hold it ({error})") from None
    return np.asarray([list(row) for row in made.matrix], dtype=np.uint8).astype(bool)


def _data_matrix(text: str) -> npt.NDArray[np.bool_]:
    if not text.isascii():
        strange = next(letter for letter in text if not letter.isascii())
        raise CodeError(
            f'a Data Matrix code is made of plain letters and digits here, no "{strange}"'
        )
    try:
        matrix = DataMatrix(text).matrix
    except (ValueError, IndexError, KeyError) as error:
        raise CodeError(f"a Data Matrix code cannot hold it ({error})") from None
    return np.asarray(matrix, dtype=np.uint8).astype(bool)
