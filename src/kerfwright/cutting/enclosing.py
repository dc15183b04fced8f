"""Parts and pockets that pieces border, and which strokes free them.

What is cut free must never be cut again. Makarovskikh & Panyukov ("ordered enclosing": the part
of the sheet that a trail's beginning encloses holds none of its rest; see their papers on
OE-chains in plane graphs) ask this of one trail; here it is asked of a set of strokes. Played
backwards, cutting takes strokes away from the finished pattern, each of which must border the
region that is open to the sheet by then. A stroke taken away opens the faces behind it. Hence
every stroke comes before the strokes that opened the faces it borders: at most one condition for
each piece, and any order that keeps them all is right.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.cutting.shared_edges import IntArray
from kerfwright.cutting.trails import Trail

OUTSIDE = -1
NOTHING = -1
"""Instead of a stroke: none is known to free this face."""


@dataclass(frozen=True, slots=True)
class Freeing:
    """Strokes with the order they must keep.

    ``before`` holds pairs (i, j): i is burned before j. ``opened_by`` names, for every face, the
    stroke that comes last of those that free it.
    """

    strokes: tuple[Trail, ...]
    before: tuple[tuple[int, int], ...]
    opened_by: tuple[int, ...]


def enclose_in_order(made: Sequence[Trail], beside: IntArray, faces: int) -> Freeing:
    """Find which strokes must come before which, splitting those that would have to do both.

    Args:
        made: strokes, each piece in one of them.
        beside: numbers of what lies on the two sides of each piece, shape (k, 2); a part, a
            pocket of waste, or :data:`OUTSIDE` for what stays with the sheet.
        faces: how many parts and pockets there are.

    """
    return _Peeling(made, beside.tolist(), faces).peel()


class _Peeling:
    """Takes strokes away from the finished pattern, from the outside inwards."""

    def __init__(self, made: Sequence[Trail], beside: list[list[int]], faces: int) -> None:
        self.beside = beside
        self.pieces_at: list[list[int]] = [[] for _ in range(faces)]
        for piece, sides in enumerate(self.beside):
            for face in set(sides) - {OUTSIDE}:
                self.pieces_at[face].append(piece)
        self.opened = {OUTSIDE: 0}
        """When each face was opened."""
        self.opened_by = [NOTHING] * faces
        self.strokes: list[Trail] = []
        self.stroke_of: dict[int, int] = {}
        self.closed_pieces: list[int] = []
        self.ready: deque[int] = deque()
        self.taken: list[int] = []
        self.gone: set[int] = set()
        for trail in made:
            self._add(trail)

    def peel(self) -> Freeing:
        before: set[tuple[int, int]] = set()
        while True:
            while self.ready:
                stroke = self.ready.popleft()
                before.update((stroke, later) for later in self._take(stroke))
            stuck = [s for s in range(len(self.strokes)) if s not in self.gone]
            if not stuck:
                break
            self._split(stuck)
        kept = sorted(self.taken)
        number = {stroke: i for i, stroke in enumerate(kept)}
        return Freeing(
            strokes=tuple(self.strokes[s] for s in kept),
            before=tuple(sorted((number[a], number[b]) for a, b in before)),
            opened_by=tuple(number.get(s, NOTHING) for s in self.opened_by),
        )

    def _add(self, trail: Trail) -> None:
        stroke = len(self.strokes)
        self.strokes.append(trail)
        for piece in trail.pieces:
            self.stroke_of[piece] = stroke
        self.closed_pieces.append(sum(not self._is_open(piece) for piece in trail.pieces))
        if self.closed_pieces[stroke] == 0:
            self.ready.append(stroke)

    def _is_open(self, piece: int) -> bool:
        return any(face in self.opened for face in self.beside[piece])

    def _take(self, stroke: int) -> set[int]:
        """Take a stroke away; return the strokes whose going it had to wait for."""
        after = set()
        for piece in self.strokes[stroke].pieces:
            through = min(
                (face for face in self.beside[piece] if face in self.opened),
                key=lambda face: self.opened[face],
                default=OUTSIDE,
            )
            if through != OUTSIDE:
                after.add(self.opened_by[through])
        self.gone.add(stroke)
        self.taken.append(stroke)
        for piece in self.strokes[stroke].pieces:
            for face in self.beside[piece]:
                if face not in self.opened:
                    self._open(face, stroke)
        return after

    def _open(self, face: int, stroke: int) -> None:
        newly = [piece for piece in self.pieces_at[face] if not self._is_open(piece)]
        self.opened[face] = len(self.opened)
        self.opened_by[face] = stroke
        for piece in newly:
            waiting = self.stroke_of[piece]
            self.closed_pieces[waiting] -= 1
            if self.closed_pieces[waiting] == 0 and waiting not in self.gone:
                self.ready.append(waiting)

    def _split(self, stuck: list[int]) -> None:
        """Split the stroke that is most nearly open."""
        partly = [s for s in stuck if self.closed_pieces[s] < len(self.strokes[s].pieces)]
        if not partly:
            # parts that lie on one another: nothing of them borders the sheet
            self.ready.append(stuck[0])
            return
        stroke = min(partly, key=lambda s: (self.closed_pieces[s] / len(self.strokes[s].pieces), s))
        self.gone.add(stroke)
        trail = self.strokes[stroke]
        for part in trail.cut_at([self._is_open(piece) for piece in trail.pieces]):
            self._add(part)
