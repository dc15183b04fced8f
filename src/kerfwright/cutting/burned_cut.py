"""How a cut is burned once it is known where it begins: lead-in, pierce, passes, holding tabs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.cutting.lead_in import LeadIns
from kerfwright.cutting.overlaps import BoolArray
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveArray, MoveKind, Toolpath, join, moves_along

MOST_ENTRIES = 64
"""Vertices of a closed cut that are tried, where there is no room for a lead-in at its entry."""


@dataclass(frozen=True, eq=False, slots=True)
class BurnedCut:
    """Makes the moves of one cut; ``leads`` is ``None`` for one that begins on its line.

    ``gaps`` are where the beam is off for holding tabs: x and y of the middle, near the line, and
    the width; shape (k, 3), mm.
    """

    recipe: Recipe
    source: int
    closed: bool
    leads: LeadIns | None
    gaps: FloatArray

    def __call__(self, line: FloatArray) -> Toolpath:
        """Everything burned for the cut; ``line``, shape (n, 2), is one pass from its entry.

        A closed cut may begin elsewhere on its line if there is no room for a lead-in, or if a
        holding tab lies at its entry; an open one begins and ends where the beam is on.
        """
        if len(line) == 1:
            line = np.repeat(line, 2, axis=0)
        lead = None
        if self.closed:
            along, lead = self._entry(line)
            points, burns = self._with_gaps(from_along(line, along))
        else:
            points, burns = _from_burn_to_burn(*self._with_gaps(line))
            lead = self._lead_into(points, np.zeros(1))[1] if burns[0] else None
        pieces = [] if lead is None else [self._moves(lead, None, 0)]
        pieces += [
            self._moves(*self._pass(points, burns, number), number)
            for number in range(self.recipe.passes)
        ]
        if self.closed and self.recipe.overcut_mm > 0.0:
            beginning = _beginning(points, burns, self.recipe.overcut_mm)
            pieces.append(self._moves(beginning, None, self.recipe.passes - 1))
        moves = join(pieces)
        start = points[0] if lead is None else lead[0]
        if burns.any():
            moves["dwell_s"][(moves["power"] > 0.0).argmax()] = self.recipe.pierce_s
        return Toolpath(moves, (float(start[0]), float(start[1])))

    def has_room(self, line: FloatArray) -> bool:
        """Whether a lead-in leads into the cut anywhere, into an open one at either end."""
        if self.leads is None:
            return False
        if self.closed:
            return self._entry(line)[1] is not None
        return any(self._lead_into(way, np.zeros(1))[1] is not None for way in (line, line[::-1]))

    def _entry(self, line: FloatArray) -> tuple[float, FloatArray | None]:
        """How far along a closed line the cut begins, and its lead-in."""
        total_mm = float(_along(line)[-1])
        entries = _entries(line)
        middles = _nearest_along(line, self.gaps[:, :2])
        away = np.abs(entries[:, None] - middles[None, :])
        on_tab = np.minimum(away, total_mm - away) <= self.gaps[:, 2] / 2.0 + SAME_MM
        entries = entries[~on_tab.any(axis=1)]
        if len(entries) == 0:
            return 0.0, None
        if self.leads is None:
            return float(entries[0]), None
        return self._lead_into(line, entries)

    def _lead_into(self, line: FloatArray, entries: FloatArray) -> tuple[float, FloatArray | None]:
        """Lead-in at one of some entries along a line: the longest with room, then the first."""
        points, directions = _at(line, entries)
        lengths = () if self.leads is None else self.leads.lengths_mm()
        for length_mm in lengths:
            # mostly there is room at the first, which costs little to find out
            for some in (slice(0, 1), slice(1, None)):
                if self.leads is None or len(points[some]) == 0:
                    continue
                found = self.leads.first(points[some], directions[some], length_mm)
                if found is not None:
                    return float(entries[some][found[0]]), found[1]
        return float(entries[0]), None

    def _with_gaps(self, line: FloatArray) -> tuple[FloatArray, BoolArray]:
        """Return the line with the ends of gaps as points, and which of its pieces burn."""
        along = _along(line)
        middles, half = _nearest_along(line, self.gaps[:, :2]), self.gaps[:, 2] / 2.0
        ends = np.concatenate([middles - half, middles + half])
        ends = ends[(ends > SAME_MM) & (ends < along[-1] - SAME_MM)]
        ends = ends[np.abs(along[None, :] - ends[:, None]).min(axis=1) > SAME_MM]
        stops = np.sort(np.concatenate([along, ends]))
        points = np.column_stack([np.interp(stops, along, line[:, k]) for k in (0, 1)])
        between = (stops[:-1] + stops[1:]) / 2.0
        inside = np.abs(between[:, None] - middles[None, :]) < half
        return points, ~inside.any(axis=1)

    def _pass(
        self, points: FloatArray, burns: BoolArray, number: int
    ) -> tuple[FloatArray, BoolArray]:
        """Round and round, or back and forth."""
        if self.closed or number % 2 == 0:
            return points, burns
        return points[::-1], burns[::-1]

    def _moves(self, points: FloatArray, burns: BoolArray | None, number: int) -> MoveArray:
        """Moves along a line of the given pass."""
        moves = moves_along(
            points[1:],
            kind=MoveKind.CUT,
            speed_mm_s=self.recipe.speed_mm_s,
            power=self.recipe.power,
            source=self.source,
        )
        moves["z_mm"] = -number * self.recipe.focus_step_mm
        if burns is not None:
            moves["power"][~burns] = 0.0
        return moves


def _from_burn_to_burn(points: FloatArray, burns: BoolArray) -> tuple[FloatArray, BoolArray]:
    """Leave out what is not burned at the ends of an open line; all of it if nothing is."""
    burned = np.flatnonzero(burns)
    if len(burned) == 0:
        return np.repeat(points[:1], 2, axis=0), np.zeros(1, dtype=bool)
    first, last = int(burned[0]), int(burned[-1])
    return points[first : last + 2], burns[first : last + 1]


def _along(line: FloatArray) -> FloatArray:
    """How far along a line each of its points lies, shape (n,)."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(steps)])


def _at(line: FloatArray, along_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points so far along a line and the directions from there, shape (k, 2) each."""
    along = _along(line)
    points = np.column_stack([np.interp(along_mm, along, line[:, k]) for k in (0, 1)])
    real = np.flatnonzero(np.diff(along) > 0.0)
    piece = np.searchsorted(along[real], along_mm + SAME_MM, side="right") - 1
    piece = real[np.clip(piece, 0, len(real) - 1)] if len(real) else np.zeros(len(points), int)
    directions = line[piece + 1] - line[piece]
    standing = np.hypot(*directions.T) == 0.0
    directions[standing] = [1.0, 0.0]
    return points, directions


def _entries(line: FloatArray) -> FloatArray:
    """Where along a closed line a cut may begin: its first point, then whatever is near it."""
    along = _along(line)
    picked = np.unique(np.linspace(0, len(line) - 2, MOST_ENTRIES).astype(np.int64))
    middles = (along[:-1] + along[1:])[picked] / 2.0
    entries = np.unique(np.concatenate([along[picked], middles]))
    return np.asarray(entries[np.argsort(np.minimum(entries, along[-1] - entries), kind="stable")])


def _nearest_along(line: FloatArray, points: FloatArray) -> FloatArray:
    """How far along a line the place nearest to each of some points lies, shape (k,)."""
    along = _along(line)
    steps = np.diff(line, axis=0)
    square = np.maximum((steps**2).sum(axis=1), 1e-18)
    found = np.empty(len(points))
    for number, point in enumerate(points):
        share = np.clip(((point - line[:-1]) * steps).sum(axis=1) / square, 0.0, 1.0)
        away = np.hypot(*(line[:-1] + share[:, None] * steps - point).T)
        piece = int(away.argmin())
        found[number] = along[piece] + share[piece] * (along[piece + 1] - along[piece])
    return found


def from_along(line: FloatArray, along_mm: float) -> FloatArray:
    """Return a closed line, whose last point is its first, begun so far along it."""
    if along_mm <= 0.0:
        return line
    along = _along(line)
    start = _at(line, np.array([along_mm]))[0]
    after = line[(along > along_mm + SAME_MM / 2.0)]
    before = line[1:][along[1:] < along_mm - SAME_MM / 2.0]
    return np.vstack([start, after, before, start])


def _beginning(points: FloatArray, burns: BoolArray, length_mm: float) -> FloatArray:
    """The first so many mm of a line, at most up to where the beam is off."""
    along = _along(points)
    off = np.flatnonzero(~burns)
    length_mm = min(length_mm, float(along[off[0]] if len(off) else along[-1]))
    inner = points[(along > 0.0) & (along < length_mm - SAME_MM)]
    return np.vstack([points[:1], inner, _at(points, np.array([length_mm]))[0]])
