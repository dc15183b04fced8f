"""Which part of an area is burned in which way: the division into cells of different ways.

Every box of a coarse grid first takes the angle at which the row through it costs least for what
it burns. Connected boxes of one angle become atoms: bars of a frame, teeth of a comb. Then atoms
and whole pieces change their label, one move at a time, as long as that saves time: an atom
takes another angle, a piece another angle, loops, or an angle of its own. The sum of all lines'
times is kept, with gaps crossed or turned at, whichever is faster, so pieces that lie well in one
row stay together.
The search starts from the boxes' own choice and from every angle for all, and the best end wins
(local search with restarts; the labels with a price for each seam are the Potts model: Boykov,
Veksler & Zabih 2001, *Fast approximate energy minimization via graph cuts*).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from shapely import MultiPolygon

from kerfwright.cores import at_once
from kerfwright.engraving.burn import Burn
from kerfwright.engraving.cell_grid import Grid, Sweep, grid_of, row_rates_of, sweep_of
from kerfwright.engraving.cells_kernel import (
    Atoms,
    Lines,
    Moves,
    improve_labels,
    uniform_s,
)
from kerfwright.engraving.contour_parallel import Loops
from kerfwright.engraving.grid_kernel import join_boxes
from kerfwright.engraving.loop_rates import loop_rates_of
from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine

SEAM_TRAVEL_MM = 30.0
"""A seam between two cells is taken to cost a travel of this length from rest to rest."""

ROUNDS = 8

MOST_MORE_ROWS = 1.6

WORTH_COUNTING = 1.03
"""With less than this many rows for each of the model's, the search is not done once more."""

CLEANING_ROUNDS = 12

MOST_ATOMS = 4000

UNTRIED_S = 1e30

WORTH_LOOPS_SHARE = 0.03
"""Cells in loops are searched for if boxes in loops seem to save this share of the rows' time."""

UNIFORM_STARTS = 3
"""Angles, the best ones, from which the search starts with all boxes alike."""


@dataclass(frozen=True, eq=False, slots=True)
class Division:
    """Labels of an area's boxes: numbers of ``angles_deg``, their count for pieces alone, or one
    more for cells in loops.

    ``label`` is by box of ``grid``; ``seconds`` is what the grid's model says of the whole,
    with ``more`` rows for each of its own.
    """

    grid: Grid
    angles_deg: tuple[float, ...]
    label: IntArray
    seconds: float
    more: float


def divide(
    area: MultiPolygon,
    angles_deg: Sequence[float],
    alone_s: FloatArray,
    rows_s: Mapping[float, float],
    burn: Burn,
    machine: Machine,
    *,
    seams: bool,
    loops: Loops | None = None,
) -> list[Division]:
    """Divide an area into cells: pieces kept whole, and, with ``seams``, pieces cut too.

    Both are done once with the rows as the model counts them and once with the rows between
    them that the whole area needs, as solid cells need none of these and small ones many.

    ``alone_s`` has the seconds of every polygon of ``area`` by itself, in loops or in rows of
    its own, infinite where that is not to be had. ``rows_s`` is what rows of the whole area take
    at some angles, which tells what the model leaves out. With ``loops``, all of the area in
    loops, cells of a cut piece may be burned in loops too, where these save enough. The first of
    ``angles_deg`` is the direction of the grid, the second across it. Seconds are the model's; the
    caller times real toolpaths.
    """
    grid = grid_of(area, angles_deg[0], burn.interval_mm)
    if len(grid.held_mm2) == 0:
        return []
    sweeps = [sweep_of(grid, angle, burn, machine) for angle in angles_deg]
    lines = _lines(sweeps)
    more = _rows_between(lines, sweeps, rows_s)
    in_loops = None
    if seams and loops is not None:
        in_loops = loop_rates_of(grid, loops.toolpath, loops.move_s)
    found = []
    for share in sorted({1.0, more if more > WORTH_COUNTING else 1.0}):
        search = _Search(grid, sweeps, lines, share, alone_s, burn, machine)
        whole = search.whole_pieces()
        found.append(whole)
        if seams:
            found += [cut for cut in (search.cut_pieces(whole.label),) if cut is not None]
        if in_loops is not None and search.loops_save(in_loops):
            looped = search.cut_pieces(whole.label, in_loops)
            found += [looped] if looped is not None else []
    return found


class _Search:
    """The tables that the search reads, made once for an area."""

    def __init__(
        self,
        grid: Grid,
        sweeps: list[Sweep],
        lines: Lines,
        more: float,
        alone_s: FloatArray,
        burn: Burn,
        machine: Machine,
    ) -> None:
        self.grid, self.sweeps, self.alone_s = grid, sweeps, alone_s
        self.more = more
        self.lines = lines._replace(rows=lines.rows * more)
        limits = machine.travel
        self.seam_s = (
            2.0 * float(np.sqrt(SEAM_TRAVEL_MM / min(limits.acceleration_mm_s2))) + machine.settle_s
        )
        rates = [row_rates_of(grid, sweep, burn) for sweep in sweeps]
        self.rates = more * np.array(rates)
        self.burn_mm = grid.held_mm2 / burn.interval_mm

    def whole_pieces(self) -> Division:
        """Every piece by one way."""
        _, atom_of = np.unique(self.grid.piece, return_inverse=True)
        atoms = _atoms(self.grid, atom_of.reshape(-1))
        sums = self._sums(atoms, self.rates)
        return self._best(atoms, [np.argmin(sums, axis=0)])

    def loops_save(self, rates: FloatArray) -> bool:
        """Whether boxes burned in loops at ``rates`` promise enough to search with them."""
        rows = self.rates.min(axis=0) * self.burn_mm
        saved = np.maximum(rows - rates * self.burn_mm, 0.0).sum()
        return bool(saved > WORTH_LOOPS_SHARE * rows.sum())

    def cut_pieces(self, whole: IntArray, loops: FloatArray | None = None) -> Division | None:
        """Pieces cut where another angle is faster; nothing if none is in the end.

        With ``loops``, the rates of loops in every box, cells in loops are tried too.

        Boxes choose among all angles, and once more only between those along and across the
        grid: fewer and larger atoms, which often end better.
        """
        found = []
        for angles in sorted({2, len(self.sweeps)}):
            label = self._cleaned(np.argmin(self._rates(angles, loops), axis=0), loops)
            atom_of = self._joined(label)
            atoms = _atoms(self.grid, atom_of)
            count = len(atoms.start) - 1
            if count > MOST_ATOMS:
                continue
            starts = [np.empty(count, dtype=np.int64) for _ in range(2)]
            starts[0][atom_of], starts[1][atom_of] = label, whole
            found.append(self._best(atoms, starts, loops))
        cut = [division for division in found if _is_cut(self.grid, division.label)]
        return min(cut, key=lambda division: division.seconds, default=None)

    def _rates(self, angles: int, loops: FloatArray | None) -> FloatArray:
        """Seconds for a mm of burn by label and box; labels not to be taken are infinite."""
        rates = np.full((len(self.sweeps) + 2, len(self.burn_mm)), np.inf)
        rates[:angles] = self.rates[:angles]
        if loops is not None:
            rates[-1] = loops
        return rates

    def _joined(self, label: IntArray) -> IntArray:
        grid = self.grid
        shape = (len(grid.y) - 1, len(grid.x) - 1)
        labels = np.full(shape, -1, dtype=np.int64)
        pieces = np.full(shape, -1, dtype=np.int64)
        labels[grid.row, grid.column] = label
        pieces[grid.row, grid.column] = grid.piece
        number: IntArray = join_boxes(labels, pieces)[grid.row, grid.column]
        return number

    def _sums(self, atoms: Atoms, rates: FloatArray) -> FloatArray:
        """Seconds of every atom at every label by the boxes' rates, shape (labels, atoms)."""
        count = len(atoms.start) - 1
        return np.array(
            [np.bincount(atoms.atom_of, rate * self.burn_mm, minlength=count) for rate in rates]
        )

    def _cleaned(self, label: IntArray, loops: FloatArray | None) -> IntArray:
        """Give atoms that save less than a seam costs to a neighbour, the smallest gains first."""
        rates = self._rates(len(self.sweeps), loops)
        for _ in range(CLEANING_ROUNDS):
            atom_of = self._joined(label)
            atoms = _atoms(self.grid, atom_of)
            count = len(atoms.start) - 1
            sums = self._sums(atoms, rates)
            own = np.empty(count, dtype=np.int64)
            own[atom_of] = label
            owner = np.repeat(np.arange(count), np.diff(atoms.near_start))
            loss = sums[own[atoms.near], owner] - sums[own[owner], owner]
            size = np.bincount(atom_of, self.grid.held_mm2, minlength=count)
            smaller = (size[owner] < size[atoms.near]) | (
                (size[owner] == size[atoms.near]) & (owner < atoms.near)
            )
            usable = np.flatnonzero(smaller & (loss < self.seam_s))
            if len(usable) == 0:
                break
            usable = usable[np.argsort(-loss[usable], kind="stable")]
            taken = own.copy()
            taken[owner[usable]] = own[atoms.near[usable]]
            label = taken[atom_of]
        return label

    def _best(
        self, atoms: Atoms, starts: list[IntArray], loops: FloatArray | None = None
    ) -> Division:
        count = len(atoms.start) - 1
        looped_s = np.full(count, UNTRIED_S)
        if loops is not None:
            looped_s = np.bincount(atoms.atom_of, loops * self.burn_mm, minlength=count)
        wholes_first, atoms_first = (
            _moves(self.grid, atoms, self.alone_s, self.seam_s, looped_s, wholes_first=first)
            for first in (True, False)
        )
        sums = self._sums(atoms, self.rates).sum(axis=1)
        alone = np.argsort(sums, kind="stable")[:UNIFORM_STARTS]
        # a piece that gets one label too early has no atoms left to differ, so that a start where
        # they differ is improved in both orders
        tried = [(start, wholes_first) for start in starts]
        tried += [(start, atoms_first) for start in starts if np.ptp(start) > 0]
        tried += [(np.full(count, k, dtype=np.int64), wholes_first) for k in alone.tolist()]
        ends = at_once(
            [
                partial(improve_labels, start.astype(np.int64), self.lines, atoms, moves, ROUNDS)
                for start, moves in tried
            ]
        )
        label_of, seconds = min(ends, key=lambda end: end[1])
        angles = tuple(sweep.angle_deg for sweep in self.sweeps)
        label: IntArray = label_of[atoms.atom_of]
        return Division(self.grid, angles, label, float(seconds), self.more)


def _rows_between(lines: Lines, sweeps: list[Sweep], rows_s: Mapping[float, float]) -> float:
    """Rows that the area takes for every row of the model.

    Rows between the even ones close what these leave at curved and slanted edges; how many there
    are shows where all of the area has been laid in rows.
    """
    shares = [
        rows_s[sweep.angle_deg] / uniform_s(lines, label)
        for label, sweep in enumerate(sweeps)
        if sweep.angle_deg in rows_s
    ]
    return float(np.clip(np.median(shares), 1.0, MOST_MORE_ROWS)) if shares else 1.0


def _is_cut(grid: Grid, label: IntArray) -> bool:
    labels = int(label.max()) + 1
    pairs = np.unique(grid.piece * labels + label)
    return len(pairs) > len(np.unique(grid.piece))


def _lines(sweeps: list[Sweep]) -> Lines:
    most = max(len(sweep.rows) for sweep in sweeps)

    def padded(start: IntArray) -> IntArray:
        return np.append(start, np.full(most + 1 - len(start), start[-1]))

    return Lines(
        order=np.array([sweep.order for sweep in sweeps]),
        start=np.array([padded(sweep.start) for sweep in sweeps]),
        line_of=np.array([sweep.line_of for sweep in sweeps]),
        at=np.array([sweep.at for sweep in sweeps]),
        half=np.array([sweep.half for sweep in sweeps]),
        rows=np.array([np.append(s.rows, np.zeros(most - len(s.rows))) for s in sweeps]),
        motion=np.array([sweep.motion for sweep in sweeps]),
    )


def _atoms(grid: Grid, atom_of: IntArray) -> Atoms:
    count = int(atom_of.max()) + 1
    boxes = np.argsort(atom_of, kind="stable")
    start = np.searchsorted(atom_of[boxes], np.arange(count + 1))
    number = np.full((len(grid.y) - 1, len(grid.x) - 1), -1, dtype=np.int64)
    piece = number.copy()
    number[grid.row, grid.column] = atom_of
    piece[grid.row, grid.column] = grid.piece
    pairs = []
    for one, other in (
        ((slice(None), slice(1, None)), (slice(None), slice(None, -1))),
        ((slice(1, None), slice(None)), (slice(None, -1), slice(None))),
    ):
        meet = (number[one] != number[other]) & (piece[one] == piece[other]) & (piece[one] >= 0)
        pairs.append(np.column_stack([number[one][meet], number[other][meet]]))
    both = np.vstack(pairs)
    keys = np.unique(np.concatenate([both @ [count, 1], both @ [1, count]]))
    near_start = np.searchsorted(keys, np.arange(count + 1) * count)
    return Atoms(
        atom_of.astype(np.int64),
        start.astype(np.int64),
        boxes.astype(np.int64),
        near_start.astype(np.int64),
        keys % count,
    )


def _moves(
    grid: Grid,
    atoms: Atoms,
    alone_s: FloatArray,
    seam_s: float,
    loops_s: FloatArray,
    *,
    wholes_first: bool,
) -> Moves:
    """Pieces as wholes and the atoms of pieces that have several, each the largest first."""
    count = len(atoms.start) - 1
    piece_of = np.empty(count, dtype=np.int64)
    piece_of[atoms.atom_of] = grid.piece
    size = np.bincount(atoms.atom_of, grid.held_mm2, minlength=count)
    order = np.lexsort([-size, piece_of])
    pieces, first = np.unique(piece_of[order], return_index=True)
    groups = np.split(order, first[1:])
    weight = [float(size[group].sum()) for group in groups]
    by_weight = np.argsort(-np.array(weight), kind="stable").tolist()
    members = [groups[k] for k in by_weight]
    whole = [int(pieces[k]) for k in by_weight]
    singles = [np.array([a]) for k in by_weight if len(groups[k]) > 1 for a in groups[k]]
    no_piece = [-1] * len(singles)
    members = members + singles if wholes_first else singles + members
    whole = whole + no_piece if wholes_first else no_piece + whole
    start = np.concatenate([[0], np.cumsum([len(group) for group in members])])
    return Moves(
        start.astype(np.int64),
        np.concatenate(members).astype(np.int64),
        np.array(whole, dtype=np.int64),
        np.where(np.isfinite(alone_s), alone_s, UNTRIED_S) + seam_s,
        seam_s,
        loops_s,
    )
