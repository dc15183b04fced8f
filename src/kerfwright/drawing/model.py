"""What a reader returns: shapes in millimetres, with layer, paint and where they came from."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from kerfwright.findings import Finding
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.regions import FillRule


@dataclass(frozen=True, slots=True)
class Paint:
    """How a shape is drawn. Colours are ``#rrggbb`` in lower case, ``None`` is unpainted.

    A pattern or gradient counts as painted and is named ``"pattern"``. DXF lines have a stroke
    and no fill. ``dashed`` says that a line was broken into its dashes: the gaps are meant.
    """

    fill: str | None = None
    stroke: str | None = None
    stroke_width_mm: float | None = None
    fill_rule: FillRule = "nonzero"
    dashed: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class Shape:
    """One drawn element: its subpaths together, since a fill needs them all.

    ``name`` is unique within the drawing: the element's id where it has one, else its kind and
    number (``path 12``). ``line`` is the line in the source file where it is known.
    """

    name: str
    paths: tuple[Path, ...]
    layer: str = ""
    paint: Paint = field(default_factory=Paint)
    line: int | None = None

    @property
    def length_mm(self) -> float:
        """Length of all subpaths."""
        return sum(path.length_mm for path in self.paths)


@dataclass(frozen=True, eq=False, slots=True)
class Picture:
    """A picture made of dots, where it lies in the drawing.

    ``grey`` is an array of uint8, shape (rows, columns), 0 for black to 255 for white, with
    transparency laid over white; row 0 is the uppermost, column 0 the leftmost. ``to_mm`` takes
    the unit square to the drawing's mm: u runs to the right along the rows, v DOWN along the
    columns, (0, 0) is the upper left corner of the upper left dot. ``name`` and ``line`` are as
    for a :class:`Shape`.
    """

    name: str
    grey: npt.NDArray[np.uint8]
    to_mm: Affine
    layer: str = ""
    line: int | None = None
    alpha: npt.NDArray[np.uint8] | None = None
    """Opacity of every dot, 0 (transparent) to 255; ``None`` where all are opaque."""

    def __post_init__(self) -> None:
        if self.alpha is not None and self.alpha.shape != self.grey.shape:
            raise ValueError("alpha must have the shape of grey")
        if self.grey.ndim != 2 or self.grey.dtype != np.uint8 or not self.grey.size:
            raise ValueError(
                f"grey must be uint8 of shape (rows, columns), "
                f"not {self.grey.dtype} {self.grey.shape}"
            )

    @property
    def corners_mm(self) -> FloatArray:
        """Corners of shape (4, 2): upper left, upper right, lower right, lower left."""
        return self.to_mm.apply(np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]))

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Smallest x, smallest y, largest x, largest y."""
        return Path(self.corners_mm).bounds_mm

    @property
    def size_mm(self) -> tuple[float, float]:
        """Length of a row and of a column, also of a turned or skewed picture."""
        to_mm = self.to_mm
        return math.hypot(to_mm.a, to_mm.b), math.hypot(to_mm.c, to_mm.d)

    @property
    def dots_per_mm(self) -> tuple[float, float]:
        """Dots to a mm along the rows and along the columns; infinite if it has no size."""
        rows, columns = self.grey.shape
        width_mm, height_mm = self.size_mm
        return (
            columns / width_mm if width_mm else math.inf,
            rows / height_mm if height_mm else math.inf,
        )

    def only(self, inside: npt.NDArray[np.bool_]) -> Picture:
        """Return the picture with the dots that are not ``inside`` white and transparent."""
        alpha = np.full(self.grey.shape, 255, dtype=np.uint8) if self.alpha is None else self.alpha
        return replace(
            self,
            grey=np.where(inside, self.grey, np.uint8(255)),
            alpha=np.where(inside, alpha, np.uint8(0)),
        )

    def transformed(self, transform: Affine) -> Picture:
        """Return the picture moved by ``transform``; the dots stay as they are."""
        return replace(self, to_mm=transform @ self.to_mm)


@dataclass(frozen=True, eq=False, slots=True)
class Drawing:
    """A drawing in millimetres, y upwards, origin at the lower left corner of its page.

    ``width_mm`` and ``height_mm`` are the page's where the file states one, otherwise the
    extent of shapes and pictures.
    """

    name: str
    shapes: tuple[Shape, ...]
    width_mm: float
    height_mm: float
    findings: tuple[Finding, ...] = ()
    pictures: tuple[Picture, ...] = ()
