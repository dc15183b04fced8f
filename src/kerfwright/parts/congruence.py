"""Finds parts that are alike: the same after moving, turning or mirroring.

Sizes that no motion changes leave few pairs to look at. For those the turn comes from
:mod:`kerfwright.parts.turning`, and every line of the one part is then checked to lie on a line
of the other and the other way round (Hausdorff distance), so that nothing counts as alike by
chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely

from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import rings_of
from kerfwright.geometry.tolerances import JOIN_MM
from kerfwright.parts.gathered import gathered, names_of
from kerfwright.parts.model import Part, PhotoMark
from kerfwright.parts.turning import (
    FEW,
    MANY,
    ComplexArray,
    LineSet,
    harmonics,
    same_size,
    tells_turn,
    turns_rad,
)

BoolArray = npt.NDArray[np.bool_]
Geometries = npt.NDArray[np.object_]

ALIKE_MM = JOIN_MM
"""Lines of parts that are alike lie no further apart than this."""

LENGTHS_ALIKE = 0.02
"""Rough and smooth flattening of the same curve differ less in length."""

BRUTE_FORCE = 40_000
"""Up to so many pairs of corners are quicker compared one by one than with an index."""

TASTED = 12
"""Points of a candidate that are looked at before all of them are."""

STEPS_ROUND = 8
"""Straight pieces are looked at in steps of the part's radius over this, and in their middle."""

WEIGHTS = (1.0, 0.9, 1.3, 1.7, 0.6, 2.1)
"""For outline, holes, slits, scores, engraved areas, photos; unlike, so that none hides another."""


@dataclass(frozen=True, slots=True)
class AlikeParts:
    """Two parts or more that are alike.

    ``members`` are their places in the sequence that was searched, rising; ``mirrored`` says of
    each whether it is the first one's mirror image, and no turned copy of it.
    """

    members: tuple[int, ...]
    mirrored: tuple[bool, ...]


def alike_parts(parts: Sequence[Part], *, tolerance_mm: float = ALIKE_MM) -> tuple[AlikeParts, ...]:
    """Group parts whose outlines, holes, slits and marks lie on each other after a rigid motion.

    A part that is its own mirror image never counts as mirrored. Guides are not compared.
    """
    if len(parts) < 2:
        return ()
    return _Search(parts, tolerance_mm).groups()


def alike_findings(
    parts: Sequence[Part], groups: Sequence[AlikeParts], drawing: str
) -> list[Finding]:
    """Tell which parts are alike, and how many of them are mirrored."""
    return gathered([_alike(parts, group, drawing) for group in groups])


def _alike(parts: Sequence[Part], group: AlikeParts, drawing: str) -> Finding:
    names = [parts[member].name for member in group.members]
    mirrored = sum(group.mirrored)
    what = f"{len(names)} parts are alike"
    if mirrored:
        noun = "one of them is" if mirrored == 1 else f"{mirrored} of them are"
        what += f"; {noun} the mirror image of the other{'s' if len(names) > 2 else ''}"
    x0, y0, x1, y1 = parts[group.members[0]].outline.bounds_mm
    return Finding(
        Severity.NOTE,
        "parts/alike",
        f"{what}.",
        "Mirrored parts show their other face when they are turned over: mind the good side of "
        "the material."
        if mirrored
        else "",
        drawing=drawing,
        shape=names_of(names),
        x_mm=(x0 + x1) / 2.0,
        y_mm=(y0 + y1) / 2.0,
        count=len(names),
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Drawn:
    """A part's lines round the middle of its outline: one geometry a kind, ``None`` for none."""

    kinds: tuple[shapely.Geometry | None, ...]
    lines: LineSet
    sizes: FloatArray
    """Area, radius of gyration, largest radius, and length of each kind."""
    slack: FloatArray
    """How much each of ``sizes`` may differ between parts that are alike."""
    key: tuple[object, ...]


@dataclass(eq=False, slots=True)
class _Search:
    parts: Sequence[Part]
    tolerance_mm: float
    _drawn: list[_Drawn] = field(init=False)
    _kinds: Geometries = field(init=False)
    _waves: dict[tuple[int, int], ComplexArray] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._drawn = [_drawn(part, self.tolerance_mm) for part in self.parts]
        self._kinds = np.array([one.kinds for one in self._drawn], dtype=object)

    def groups(self) -> tuple[AlikeParts, ...]:
        by_key: dict[tuple[object, ...], list[int]] = {}
        for index, one in enumerate(self._drawn):
            by_key.setdefault(one.key, []).append(index)
        found = [group for same in by_key.values() if len(same) > 1 for group in self._among(same)]
        return tuple(sorted(found, key=lambda group: group.members))

    def _among(self, indices: list[int]) -> list[AlikeParts]:
        """Groups among parts that have as many holes and marks."""
        members = np.array(indices)
        sizes = np.array([self._drawn[index].sizes for index in indices])
        slack = np.array([self._drawn[index].slack for index in indices])
        order = np.lexsort((members, sizes[:, 0]))
        members, sizes, slack = members[order], sizes[order], slack[order]
        free = np.ones(len(members), dtype=bool)
        groups = []
        # the first part of a drawing leads its group
        for at in np.argsort(members):
            if not free[at]:
                continue
            free[at] = False
            reach = slack[at, 0]
            low, high = np.searchsorted(sizes[:, 0], [sizes[at, 0] - reach, sizes[at, 0] + reach])
            near = np.arange(low, high)[free[low:high]]
            near = near[(np.abs(sizes[near] - sizes[at]) <= slack[at]).all(axis=1)]
            if not len(near):
                continue
            same, mirrored = self._compared(int(members[at]), members[near])
            alike = same | mirrored
            free[near[alike]] = False
            if alike.any():
                found = [(int(members[at]), False)]
                found += zip(members[near[alike]].tolist(), mirrored[alike].tolist(), strict=True)
                found.sort()
                groups.append(AlikeParts(*map(tuple, zip(*found, strict=True))))
        return groups

    def _compared(self, first: int, others: npt.NDArray[np.intp]) -> tuple[BoolArray, BoolArray]:
        """Which of ``others`` are like the part ``first``, and which only its mirror image."""
        same = self._lie_on(first, others, np.zeros(len(others)), mirror=False)
        mirrored = np.zeros(len(others), dtype=bool)
        if same.all():
            return same, mirrored
        few = self._harmonics([first], FEW)[0]
        orders = FEW if tells_turn(few, self._drawn[first].lines.radius_mm) else MANY
        for mirror, found in ((False, same), (True, mirrored)):
            left = np.flatnonzero(~(same | mirrored))
            if len(left):
                found[left] = self._turned_on(first, others[left], orders, mirror=mirror)
        return same, mirrored

    def _turned_on(
        self, first: int, others: npt.NDArray[np.intp], orders: int, *, mirror: bool
    ) -> BoolArray:
        waves = self._harmonics([first], orders)[0]
        theirs = self._harmonics(others.tolist(), orders)
        found = np.zeros(len(others), dtype=bool)
        able = np.flatnonzero(same_size(waves, theirs, 2.0 * self.tolerance_mm))
        if not len(able):
            return found
        turns = turns_rad(waves, np.conj(theirs[able]) if mirror else theirs[able])
        for candidate in turns.T:
            left = np.flatnonzero(~found[able])
            if not len(left):
                break
            found[able[left]] = self._lie_on(
                first, others[able[left]], candidate[left], mirror=mirror
            )
        return found

    def _harmonics(self, indices: Sequence[int], orders: int) -> ComplexArray:
        new = [index for index in dict.fromkeys(indices) if (index, orders) not in self._waves]
        if new:
            waves = harmonics([self._drawn[index].lines for index in new], orders)
            self._waves.update({(i, orders): w for i, w in zip(new, waves, strict=True)})
        return np.array([self._waves[index, orders] for index in indices])

    def _lie_on(
        self, first: int, others: npt.NDArray[np.intp], turns: FloatArray, *, mirror: bool
    ) -> BoolArray:
        """Which of ``others``, turned by an angle in rad each, lie on the part ``first``."""
        found = np.ones(len(others), dtype=bool)
        for kind, lines in enumerate(self._drawn[first].kinds):
            if lines is None:
                continue
            left = np.flatnonzero(found)
            moved = _turned(self._kinds[others[left], kind], turns[left], mirror=mirror)
            found[left] = _within(lines, moved, self.tolerance_mm)
        return found


def _turned(geometries: Geometries, turns: FloatArray, *, mirror: bool) -> Geometries:
    """Geometries mirrored (y to -y) if asked for, then turned about (0, 0)."""
    if not mirror and not turns.any():
        return geometries
    points, owner = shapely.get_coordinates(geometries, return_index=True)
    x, y = points[:, 0], -points[:, 1] if mirror else points[:, 1]
    cos, sin = np.cos(turns)[owner], np.sin(turns)[owner]
    return np.asarray(
        shapely.set_coordinates(
            geometries.copy(), np.column_stack([x * cos - y * sin, x * sin + y * cos])
        )
    )


def _within(lines: shapely.Geometry, others: Geometries, tolerance_mm: float) -> BoolArray:
    """Which of ``others`` lie on ``lines``, and ``lines`` on them, up to a tolerance."""
    found = _point_by_point(lines, others, tolerance_mm)
    left = ~found
    left[left] = _tasted(lines, others[left], tolerance_mm)
    count = shapely.get_num_coordinates(lines)
    small = left & (shapely.get_num_coordinates(others) * count <= BRUTE_FORCE)
    found[small] = shapely.hausdorff_distance(lines, others[small]) <= tolerance_mm
    for index in np.flatnonzero(left & ~small):
        found[index] = _covered(lines, others[index], tolerance_mm) and _covered(
            others[index], lines, tolerance_mm
        )
    return found


def _point_by_point(lines: shapely.Geometry, others: Geometries, tolerance_mm: float) -> BoolArray:
    """Which of ``others`` have the points of ``lines`` in the same order, as copies have."""
    points = shapely.get_coordinates(lines)
    found = np.asarray(shapely.get_num_coordinates(others) == len(points))
    found &= np.abs(shapely.length(others) - shapely.length(lines)) <= tolerance_mm
    same = np.flatnonzero(found)
    if len(same):
        theirs = shapely.get_coordinates(others[same]).reshape(len(same), -1, 2)
        away = ((theirs - points) ** 2).sum(axis=2).max(axis=1)
        found[same] = away <= tolerance_mm**2
    return found


def _tasted(lines: shapely.Geometry, others: Geometries, tolerance_mm: float) -> BoolArray:
    """Which of ``others`` have a few of their points on ``lines``; most unlike ones have not."""
    counts = shapely.get_num_coordinates(others)
    if not len(counts):
        return np.zeros(0, dtype=bool)
    firsts = np.cumsum(counts) - counts
    spread = (np.arange(TASTED) * counts[:, None]) // TASTED
    points = shapely.points(shapely.get_coordinates(others)[firsts[:, None] + spread])
    shapely.prepare(lines)
    return np.asarray(shapely.dwithin(lines, points, tolerance_mm).all(axis=1))


def _covered(lines: shapely.Geometry, other: shapely.Geometry, tolerance_mm: float) -> bool:
    shapely.prepare(lines)
    corners = shapely.points(shapely.get_coordinates(other))
    return bool(shapely.dwithin(lines, corners, tolerance_mm).all())


def _drawn(part: Part, tolerance_mm: float) -> _Drawn:
    kinds: list[list[FloatArray]] = [
        [part.outline.line],
        [hole.line for hole in part.holes],
        [slit.line for slit in part.slits],
        [path.line for mark in part.scores for path in mark.paths],
        [np.vstack([r, r[:1]]) for mark in part.engraves for r in rings_of(mark.area)],
        [_as_lying(mark) for mark in part.photos],
    ]
    centre, area_mm2, gyration_mm = _middle(part.outline.points)
    moved = [[line - centre for line in lines] for lines in kinds]
    lines = LineSet(
        np.concatenate([line[:-1] for kind in moved for line in kind]),
        np.concatenate([line[1:] for kind in moved for line in kind]),
        np.concatenate(
            [
                np.full(sum(len(line) - 1 for line in kind), weight)
                for kind, weight in zip(moved, WEIGHTS, strict=True)
            ]
        ),
    )
    lengths = np.array([sum(_length(line) for line in kind) for kind in moved])
    sizes = np.array([area_mm2, gyration_mm, lines.radius_mm, *lengths])
    slack = np.array(
        [tolerance_mm * lengths[0], 2.0 * tolerance_mm, 2.0 * tolerance_mm]
        + [LENGTHS_ALIKE * length + 2.0 * tolerance_mm for length in lengths]
    )
    step_mm = lines.radius_mm / STEPS_ROUND
    return _Drawn(
        tuple(_lines(kind, step_mm, 4.0 * tolerance_mm) for kind in moved),
        lines,
        sizes,
        slack,
        (
            part.blank,
            len(part.holes),
            tuple(bool(kind) for kind in kinds),
            tuple(sorted(hash(mark.picture.grey.tobytes()) for mark in part.photos)),
        ),
    )


def _as_lying(mark: PhotoMark) -> FloatArray:
    """A line along a picture's edges that shows which way up it lies and whether it is mirrored."""
    upper_left, upper_right, lower_right, _ = mark.picture.corners_mm
    short = upper_left + 0.3 * (upper_right - upper_left)
    return np.array([upper_left, upper_right, lower_right, short])


def _lines(kind: list[FloatArray], step_mm: float, short_mm: float) -> shapely.Geometry | None:
    """Lines as one geometry, with points between their corners.

    Distances are measured at points only: two outlines with a notch on opposite sides may have
    all their corners on each other's lines.
    """
    if not kind:
        return None
    points = np.concatenate(kind)
    ends = np.cumsum([len(line) for line in kind])
    length = np.zeros(len(points))
    length[:-1] = np.sqrt(((points[1:] - points[:-1]) ** 2).sum(axis=1))
    length[ends - 1] = 0.0
    pieces = np.where(length > short_mm, np.ceil(length / step_mm).clip(2), 1).astype(np.intp)
    which = np.repeat(np.arange(len(points)), pieces)
    share = (np.arange(len(which)) - np.repeat(np.cumsum(pieces) - pieces, pieces)) / pieces[which]
    following = points[np.minimum(which + 1, len(points) - 1)]
    dense = points[which] + share[:, None] * (following - points[which])
    if len(kind) == 1:
        return shapely.linestrings(dense)
    owner = np.repeat(np.arange(len(kind)), [len(line) for line in kind])[which]
    return shapely.multilinestrings(shapely.linestrings(dense, indices=owner))


def _length(line: FloatArray) -> float:
    steps = line[1:] - line[:-1]
    return float(np.sqrt((steps * steps).sum(axis=1)).sum())


def _middle(points: FloatArray) -> tuple[FloatArray, float, float]:
    """Centroid, area and radius of gyration of a simple counter-clockwise polygon."""
    at = points - points[0]
    following = np.concatenate([at[1:], at[:1]])
    cross = at[:, 0] * following[:, 1] - at[:, 1] * following[:, 0]
    area = float(cross.sum()) / 2.0
    middle = (cross @ (at + following)) / (6.0 * area)
    second = float((cross @ (at * at + at * following + following * following)).sum()) / 12.0
    gyration = second / area - float(middle @ middle)
    return points[0] + middle, abs(area), float(np.sqrt(max(gyration, 0.0)))
