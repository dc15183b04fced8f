"""Compiled loops of the division into cells: the time of lines, and labels improved."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.engraving.rows_kernel import IntArray, along_s
from kerfwright.geometry.paths import FloatArray

LEAST_SAVED_S = 1e-6
"""A move that saves less is rounding and is not made."""


class Lines(NamedTuple):
    """Lines of every label: which boxes they pass, and what their rows cost."""

    order: IntArray
    """Boxes line by line, shape (labels, boxes)."""
    start: IntArray
    """First of every line, shape (labels, lines + 1)."""
    line_of: IntArray
    """Line of every box, shape (labels, boxes)."""
    at: FloatArray
    """Middle of every box along the rows, shape (labels, boxes)."""
    half: FloatArray
    """Half the length of every box along the rows, shape (labels, boxes)."""
    rows: FloatArray
    """Rows that a line stands for, shape (labels, lines)."""
    motion: FloatArray
    """:attr:`kerfwright.engraving.burn.RowMotion.closed_form` of every label, shape (labels, 5)."""


class Atoms(NamedTuple):
    """Connected boxes that keep one label: which they are, and which touch one another."""

    atom_of: IntArray
    """Atom of every box."""
    start: IntArray
    """Atom a has ``boxes[start[a]:start[a + 1]]``."""
    boxes: IntArray
    near_start: IntArray
    """Atom a touches ``near[near_start[a]:near_start[a + 1]]``."""
    near: IntArray


class Moves(NamedTuple):
    """Groups of atoms that change their label together."""

    start: IntArray
    """Move m changes ``atoms[start[m]:start[m + 1]]``."""
    atoms: IntArray
    piece: IntArray
    """Piece that a move is the whole of, or -1; only these may be burned by themselves."""
    alone_s: FloatArray
    """Seconds of every piece by itself."""
    seam_s: float
    """What the way from one cell to the next costs for a seam between two atoms."""
    loops_s: FloatArray
    """Seconds of every atom in loops of its own, infinite where they are not tried."""


class Work(NamedTuple):
    """Tables that the search writes on."""

    cost: FloatArray
    """Seconds of every line as the labels are now, shape (labels, lines)."""
    moved: IntArray
    """Token of the last move tried with every atom."""
    touched: IntArray
    """Token of the last move tried that touches a line, shape (labels, lines)."""
    stack: IntArray
    """Label and line of all lines that a move touches, shape (labels · lines, 2)."""
    left_s: FloatArray
    """What :func:`_left_s` says of the move that is being tried, shape (1,)."""


@njit(cache=True)
def _line_s(
    lines: Lines,
    label: int,
    line: int,
    atom_of: IntArray,
    label_of: IntArray,
    moved: IntArray,
    token: int,
    target: int,
) -> float:
    """Seconds of a line's rows at one label, atoms with ``moved == token`` taken as ``target``."""
    motion = lines.motion[label]
    seconds = 0.0
    begun = False
    # the row so far, and the boxes without a gap that may go on with it
    row_low, row_high, low, high = 0.0, -np.inf, 0.0, 0.0
    for i in range(lines.start[label, line], lines.start[label, line + 1]):
        box = lines.order[label, i]
        atom = atom_of[box]
        own = target if moved[atom] == token else label_of[atom]
        if own != label:
            continue
        box_low = lines.at[label, box] - lines.half[label, box]
        box_high = lines.at[label, box] + lines.half[label, box]
        if begun and box_low > high:
            ended, row_low = _row_ended(row_low, row_high, low, high, motion)
            seconds += ended
            row_high, low, high = high, box_low, box_high
        elif begun:
            high = max(high, box_high)
        else:
            low, high = box_low, box_high
            begun = True
    if begun:
        ended, row_low = _row_ended(row_low, row_high, low, high, motion)
        seconds += ended + motion[4] + along_s(high - row_low, motion)
    return float(seconds * lines.rows[label, line])


@njit(cache=True)
def _row_ended(
    row_low: float, row_high: float, low: float, high: float, motion: FloatArray
) -> tuple[float, float]:
    """Seconds of the row so far if it is worth ending before the next boxes, else none; and where
    the row begins that these belong to.
    """
    if row_high < row_low:
        return 0.0, low
    alone = motion[4] + along_s(row_high - row_low, motion)
    if along_s(high - row_low, motion) <= alone + along_s(high - low, motion):
        return 0.0, row_low
    return alone, low


@njit(cache=True)
def uniform_s(lines: Lines, label: int) -> float:
    """Seconds of the rows if all boxes have one label."""
    boxes = lines.order.shape[1]
    atom_of, moved = np.zeros(boxes, dtype=np.int64), np.zeros(1, dtype=np.int64)
    label_of = np.full(1, label)
    seconds = 0.0
    for line in range(lines.rows.shape[1]):
        seconds += _line_s(lines, label, line, atom_of, label_of, moved, -1, 0)
    return seconds


@njit(cache=True)
def _more_seams(
    atoms: Atoms, of_move: IntArray, label_of: IntArray, moved: IntArray, token: int, target: int
) -> float:
    """Seams more between atoms of different labels, once a move's atoms have another label."""
    more = 0.0
    for a in of_move:
        for k in range(atoms.near_start[a], atoms.near_start[a + 1]):
            b = atoms.near[k]
            before = 1.0 if label_of[b] != label_of[a] else 0.0
            if moved[b] == token:
                more -= 0.5 * before
            else:
                more += (1.0 if label_of[b] != target else 0.0) - before
    return more


@njit(cache=True, nogil=True)
def improve_labels(
    label_of: IntArray, lines: Lines, atoms: Atoms, moves: Moves, rounds: int
) -> tuple[IntArray, float]:
    """Give groups of atoms another label while that saves time; labels and seconds at the end.

    ``label_of`` has the label of every atom; the count of rows' labels stands for pieces burned
    by themselves, one more for atoms in loops.
    """
    labels, most = lines.rows.shape
    label_of = label_of.copy()
    work = Work(
        np.zeros((labels, most)),
        np.zeros(len(label_of), dtype=np.int64),
        np.zeros((labels, most), dtype=np.int64),
        np.empty((labels * most, 2), dtype=np.int64),
        np.zeros(1),
    )
    for label in range(labels):
        for line in range(most):
            work.cost[label, line] = _line_s(
                lines, label, line, atoms.atom_of, label_of, work.moved, -1, 0
            )
    token = 0
    for _ in range(rounds):
        changed = False
        for m in range(len(moves.start) - 1):
            whole = moves.piece[m] >= 0
            if label_of[moves.atoms[moves.start[m]]] == labels and not whole:
                continue
            least, best = -LEAST_SAVED_S, -1
            of_move = moves.atoms[moves.start[m] : moves.start[m + 1]]
            token += 1
            work.left_s[0] = _left_s(of_move, token, label_of, lines, atoms, moves, work)
            for target in range(labels + 2):
                if target == labels and not whole:
                    continue
                token += 1
                more = _more_s(m, target, token, label_of, lines, atoms, moves, work)
                if more < least:
                    least, best = more, target
            if best < 0:
                continue
            changed = True
            token += 1
            n = _touch(of_move, label_of, best, lines, atoms, token, work)
            label_of[of_move] = best
            for i in range(n):
                label, line = work.stack[i]
                work.cost[label, line] = _line_s(
                    lines, label, line, atoms.atom_of, label_of, work.moved, -1, 0
                )
        if not changed:
            break
    return label_of, work.cost.sum() + _beside_rows_s(label_of, labels, atoms, moves)


@njit(cache=True)
def _left_s(
    of_move: IntArray,
    token: int,
    label_of: IntArray,
    lines: Lines,
    atoms: Atoms,
    moves: Moves,
    work: Work,
) -> float:
    """Seconds more, mostly less than nothing, in the rows and loops that a move's atoms leave.

    They are the same wherever the atoms go, but for atoms that have the new label already.
    """
    labels = len(lines.rows)
    more = 0.0
    work.moved[of_move] = token
    n = _touch(of_move, label_of, labels, lines, atoms, token, work)
    for i in range(n):
        label, line = work.stack[i]
        more += _line_s(lines, label, line, atoms.atom_of, label_of, work.moved, token, labels)
        more -= work.cost[label, line]
    for a in of_move:
        if label_of[a] > labels:
            more -= moves.loops_s[a]
    return more


@njit(cache=True)
def _more_s(
    m: int,
    target: int,
    token: int,
    label_of: IntArray,
    lines: Lines,
    atoms: Atoms,
    moves: Moves,
    work: Work,
) -> float:
    """Seconds that move ``m`` to label ``target`` costs; less than nothing if it saves time.

    ``token`` is a number not used before, which marks what the move touches.
    """
    labels = len(lines.rows)
    of_move = moves.atoms[moves.start[m] : moves.start[m + 1]]
    same = 0
    for a in of_move:
        same += label_of[a] == target
    if same == len(of_move):
        return 0.0
    work.moved[of_move] = token
    more = moves.seam_s * _more_seams(atoms, of_move, label_of, work.moved, token, target)
    if label_of[of_move[0]] == labels:
        more -= moves.alone_s[moves.piece[m]]
    if target == labels:
        more += moves.alone_s[moves.piece[m]]
    if target > labels:
        for a in of_move:
            more += moves.loops_s[a]
    if same == 0:
        more += work.left_s[0]
        n = _touch_label(of_move, target, lines, atoms, token, work, 0)
    else:
        for a in of_move:
            if label_of[a] > labels:
                more -= moves.loops_s[a]
        n = _touch(of_move, label_of, target, lines, atoms, token, work)
    for i in range(n):
        label, line = work.stack[i]
        more += _line_s(lines, label, line, atoms.atom_of, label_of, work.moved, token, target)
        more -= work.cost[label, line]
    return float(more)


@njit(cache=True)
def _beside_rows_s(label_of: IntArray, labels: int, atoms: Atoms, moves: Moves) -> float:
    """Seconds of pieces burned by themselves and of the ways across seams."""
    total = 0.0
    for m in range(len(moves.start) - 1):
        if moves.piece[m] >= 0 and label_of[moves.atoms[moves.start[m]]] == labels:
            total += moves.alone_s[moves.piece[m]]
    for a in range(len(label_of)):
        if label_of[a] > labels:
            total += moves.loops_s[a]
        for k in range(atoms.near_start[a], atoms.near_start[a + 1]):
            if label_of[atoms.near[k]] != label_of[a]:
                total += 0.5 * moves.seam_s
    return total


@njit(cache=True)
def _touch(
    of_move: IntArray,
    label_of: IntArray,
    target: int,
    lines: Lines,
    atoms: Atoms,
    token: int,
    work: Work,
) -> int:
    """Put label and line of every line that a move changes on the stack; how many there are."""
    n = 0
    for k in range(len(of_move)):
        was = label_of[of_move[k]]
        if was == target:
            continue
        one = of_move[k : k + 1]
        n = _touch_label(one, was, lines, atoms, token, work, n)
        n = _touch_label(one, target, lines, atoms, token, work, n)
    return n


@njit(cache=True)
def _touch_label(
    of_move: IntArray, label: int, lines: Lines, atoms: Atoms, token: int, work: Work, n: int
) -> int:
    """Put the lines of one label that pass some atoms on a stack of ``n``; how many it has then."""
    if label >= len(lines.rows):
        return n
    for a in of_move:
        for k in range(atoms.start[a], atoms.start[a + 1]):
            line = lines.line_of[label, atoms.boxes[k]]
            if work.touched[label, line] != token:
                work.touched[label, line] = token
                work.stack[n, 0] = label
                work.stack[n, 1] = line
                n += 1
    return n
