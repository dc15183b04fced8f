"""What a reader returns: shapes in millimetres, with layer, paint and where they came from."""

from __future__ import annotations

from dataclasses import dataclass, field

from kerfwright.findings import Finding
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import FillRule


@dataclass(frozen=True, slots=True)
class Paint:
    """How a shape is drawn. Colours are ``#rrggbb`` in lower case, ``None`` is unpainted.

    A pattern or gradient counts as painted and is named ``"pattern"``. DXF lines have a stroke
    and no fill.
    """

    fill: str | None = None
    stroke: str | None = None
    stroke_width_mm: float | None = None
    fill_rule: FillRule = "nonzero"


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
class Drawing:
    """A drawing in millimetres, y upwards, origin at the lower left corner of its page.

    ``width_mm`` and ``height_mm`` are the page's where the file states one, otherwise the
    extent of the shapes.
    """

    name: str
    shapes: tuple[Shape, ...]
    width_mm: float
    height_mm: float
    findings: tuple[Finding, ...] = ()
