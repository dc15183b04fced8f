"""Finds the piece of material that a line or an area lies in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import JOIN_MM
from kerfwright.parts.containment import common, is_sliver, less


@dataclass(frozen=True, eq=False, slots=True)
class Laid:
    """Where something lies. ``shares`` are (piece, what of it lies there).

    ``whole`` says that all of it lies in the one piece of ``shares``, up to ``JOIN_MM``.
    ``outside`` is the length in mm or the area in mm² that lies in no piece, ``at_mm`` a point of
    that, ``fraction`` its share of the whole.
    """

    shares: tuple[tuple[int, BaseGeometry], ...]
    whole: bool = True
    outside: float = 0.0
    fraction: float = 0.0
    at_mm: tuple[float, float] | None = None


@dataclass(eq=False, slots=True)
class Ground:
    """Pieces of material, ready to be searched."""

    pieces: npt.NDArray[np.object_]
    _tree: STRtree = field(init=False)
    _wide: dict[int, BaseGeometry] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        shapely.prepare(self.pieces)
        self._tree = STRtree(self.pieces)

    def lay(self, things: Sequence[BaseGeometry]) -> list[Laid]:
        """Find where each line or polygon lies; of several pieces that hold it, in the first."""
        geometries = np.array(things, dtype=object)
        if not len(geometries):
            return []
        near_thing, near_piece = self._tree.query(
            geometries, predicate="dwithin", distance=JOIN_MM / 2
        )
        order = np.lexsort((near_piece, near_thing))
        near_thing, near_piece = near_thing[order], near_piece[order]
        covered = np.asarray(shapely.covers(self.pieces[near_piece], geometries[near_thing]))
        home: dict[int, int] = {}
        for thing, piece in zip(
            near_thing[covered].tolist(), near_piece[covered].tolist(), strict=True
        ):
            home.setdefault(thing, piece)
        near: dict[int, list[int]] = {}
        for thing, piece in zip(near_thing.tolist(), near_piece.tolist(), strict=True):
            near.setdefault(thing, []).append(piece)
        return [
            Laid(((home[index], geometry),))
            if index in home
            else self._lay_across(geometry, near.get(index, []))
            for index, geometry in enumerate(things)
        ]

    def edge_covers(self, piece: int, line: BaseGeometry) -> bool:
        """Whether a line runs along the edge of a piece all the way."""
        return bool(self.pieces[piece].boundary.buffer(JOIN_MM).covers(line))

    def _lay_across(self, thing: BaseGeometry, near: list[int]) -> Laid:
        for piece in near:
            if self._widened(piece).covers(thing):
                return Laid(((piece, thing),))
        shares = [(piece, common(thing, self.pieces[piece])) for piece in near]
        shares = [(piece, share) for piece, share in shares if not _is_nothing(share, thing)]
        outside = thing
        for piece, _ in shares:
            outside = less(outside, self.pieces[piece])
        if _is_nothing(outside, thing):
            return Laid(tuple(shares), whole=len(shares) == 1)
        size, left = _size(thing), _size(outside)
        point = outside.representative_point()
        return Laid(tuple(shares), False, left, left / size, (float(point.x), float(point.y)))

    def _widened(self, piece: int) -> BaseGeometry:
        if piece not in self._wide:
            self._wide[piece] = shapely.buffer(self.pieces[piece], JOIN_MM)
            shapely.prepare(self._wide[piece])
        return self._wide[piece]


def ground(pieces: Sequence[Polygon]) -> Ground:
    """Make pieces ready to be searched."""
    return Ground(np.array(pieces, dtype=object))


def line_of(path: Path) -> BaseGeometry:
    """A path as a line, closed ones back to their start."""
    return shapely.linestrings(path.line)


def paths_in(share: BaseGeometry) -> list[Path]:
    """Lines of a geometry as paths, joined where they meet end to end."""
    lines = [piece for piece in getattr(share, "geoms", [share]) if piece.length > 0.0]
    if not lines:
        return []
    merged = shapely.line_merge(shapely.multilinestrings(lines))
    return [_path(shapely.get_coordinates(line)) for line in getattr(merged, "geoms", [merged])]


def _path(points: FloatArray) -> Path:
    if len(points) > 3 and (points[0] == points[-1]).all():
        return Path(points[:-1], closed=True)
    return Path(points)


def _size(thing: BaseGeometry) -> float:
    return float(thing.area or thing.length)


def _is_nothing(share: BaseGeometry, thing: BaseGeometry) -> bool:
    if thing.area > 0.0:
        return is_sliver(share)
    return float(share.length) <= JOIN_MM
