"""What a search is given and what it gives back."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from shapely import MultiPolygon

from kerfwright.geometry.affine import Affine, rotation, scaling, translation

Towards = Literal["left", "bottom"]
"""The edge of the sheet at which parts gather."""

Stop = Callable[[], bool]
"""Asked often; ``True`` ends a search with the best layout so far."""


@dataclass(frozen=True, eq=False, slots=True)
class Piece:
    """Material with holes in its drawing's coordinates, wanted ``quantity`` times.

    Other parts may lie in the holes. ``turns_deg``: the angles by which it may be turned about
    its drawing's origin, not empty; ``may_mirror``: whether it may be mirrored left to right
    before that.
    """

    area: MultiPolygon
    quantity: int
    turns_deg: tuple[float, ...]
    may_mirror: bool = False


@dataclass(frozen=True, slots=True)
class Spot:
    """Piece number ``piece`` on board number ``board``: turned about its origin, then moved.

    A ``mirrored`` one is mirrored left to right before that.
    """

    piece: int
    board: int
    turn_deg: float
    x_mm: float
    y_mm: float
    mirrored: bool = False

    @property
    def transform(self) -> Affine:
        """From the drawing's coordinates to the board's."""
        turned = translation(self.x_mm, self.y_mm) @ rotation(self.turn_deg)
        return turned @ scaling(-1.0, 1.0) if self.mirrored else turned


Report = Callable[[tuple[Spot, ...]], None]
"""Told every better layout as soon as it is legal, always in the calling thread."""


@dataclass(frozen=True, slots=True)
class Budget:
    """How much a search may do: by the clock, by counted work, or both, and by how many at once.

    ``work`` counts tried positions, per searcher; there are as many searchers as cores if it is
    ``None``. With both given and ``seconds`` infinite a search depends on nothing but its
    input, and gives the same layout bit for bit every time.
    """

    seconds: float = math.inf
    work: int | None = None
    searchers: int | None = None

    def __post_init__(self) -> None:
        if math.isinf(self.seconds) and self.work is None:
            raise ValueError("a search needs a limit: seconds, work or both")
