"""The search engine's front: better layouts from a legal one."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from kerfwright.cores import cores
from kerfwright.nesting.search.model import Budget, Piece, Report, Spot, Stop, Towards
from kerfwright.nesting.search.outlines import Outlines, outlines_of
from kerfwright.nesting.search.separation import Limit, Separation, State
from kerfwright.nesting.search.squeeze import squeeze
from kerfwright.nesting.search.workers import Crew

FITTING_SHARE = 0.6
"""Share of the time for fitting in what is left over or lies on the last board."""

ROUNDS = 8
"""So often all searchers go on from the best layout of any of them."""

TRIES = 3
"""So many searchers in a row may fail to fit a piece in before it is given up for a board."""

FITTING = {"patience": 40, "strikes": 2}

GAIN_MM = 1e-6
"""A layout has to be so much shorter to be better."""


def improve(  # noqa: PLR0913 – what is placed on what, and five wishes
    pieces: Sequence[Piece],
    boards: Sequence[BaseGeometry],
    spots: Sequence[Spot],
    *,
    spacing_mm: float,
    budget: Budget,
    seed: int,
    towards: Towards = "left",
    stop: Stop | None = None,
    progress: Report | None = None,
) -> tuple[Spot, ...]:
    """Place more, on fewer boards, on less of the last one; never give back anything worse.

    ``boards`` are the usable areas (polygons with holes or several of them: margins, no-go
    zones and other people's parts already taken off), the most wanted first. ``spots`` is a
    legal layout, possibly empty; copies that it lacks are left over. Pieces that come first are
    placed first. Three things are tried in turn:

    1. left-over copies are put on the boards in use, then on unused ones;
    2. copies from the last board in use go to the earlier ones;
    3. the last board in use is squeezed ``towards`` an edge, so that what remains is larger.

    Every layout returned or reported keeps ``spacing_mm`` between pieces and lies within its
    boards, to within 1e-6 mm. Repeatable for a given ``seed`` and a ``budget`` of
    work and searchers; a limit in seconds only cuts off.
    """
    if not pieces or not boards:
        return tuple(spots)
    started = time.monotonic()
    search = _Search(
        pieces=pieces,
        boards=boards,
        outlines=outlines_of(pieces, boards, spacing_mm),
        crew=Crew(budget.searchers or cores(), started + budget.seconds, stop or _never),
        seed=seed,
        report=progress or _say_nothing,
        spots=list(spots),
    )
    work = math.inf if budget.work is None else float(budget.work)
    axis = 0 if towards == "left" else 1
    spent = search.fit_in(FITTING_SHARE * work, started + FITTING_SHARE * budget.seconds)
    search.draw_together(axis, work - spent)
    return tuple(search.spots)


def _never() -> bool:
    return False


def _say_nothing(_: tuple[Spot, ...]) -> None:
    return


@dataclass(slots=True)
class _Search:
    pieces: Sequence[Piece]
    boards: Sequence[BaseGeometry]
    outlines: Outlines
    crew: Crew
    seed: int
    report: Report
    spots: list[Spot]
    _attempts: int = field(default=0)

    def on(self, board: int) -> list[Spot]:
        return [spot for spot in self.spots if spot.board == board]

    def left_over(self) -> Counter[int]:
        placed = Counter(spot.piece for spot in self.spots)
        return Counter(
            {
                number: piece.quantity - placed[number]
                for number, piece in enumerate(self.pieces)
                if piece.quantity > placed[number]
            }
        )

    def in_use(self) -> list[int]:
        return sorted({spot.board for spot in self.spots})

    def separation(
        self, board: int, lying: Sequence[Spot], number: int, limit: Limit
    ) -> Separation:
        """Return a searcher's own copy of a board with pieces on it."""
        outlines = self.outlines
        shape = [outlines.outline(spot) for spot in lying]
        return Separation(
            outlines,
            board,
            np.array(self.boards[board].bounds),
            [spot.piece for spot in lying],
            State(
                np.array(shape, dtype=np.int64),
                np.array([spot.x_mm for spot in lying]),
                np.array([spot.y_mm for spot in lying]),
            ),
            seed=self.seed * 1_000_003 + number,
            limit=limit,
        )

    def spots_of(self, board: int, lying: Sequence[Spot], state: State) -> list[Spot]:
        """Return the pieces of a board as a searcher left them."""
        poses = [self.outlines.poses[s] for s in state.shape]
        return [
            Spot(spot.piece, board, turn_deg, float(x), float(y), mirrored)
            for spot, (turn_deg, mirrored), x, y in zip(lying, poses, state.x, state.y, strict=True)
        ]

    # -- fitting in ------------------------------------------------------------------------

    def fit_in(self, work: float, until_s: float) -> float:
        """Put left-over copies, then those of the last board, where they fit; returns the work."""
        spent = 0.0
        for board in range(len(self.boards)):
            last = max(self.in_use(), default=-1)
            given_up: Counter[int] = Counter()
            while spent < work and time.monotonic() < until_s and not self.crew.is_over:
                wanted = self._wanted_on(board, last, given_up)
                if not wanted:
                    break
                spent += self._fit_round(board, wanted, given_up)
        return spent

    def _wanted_on(self, board: int, last: int, given_up: Counter[int]) -> list[int]:
        """Pieces that might go on a board, the most wanted first."""
        free_mm2 = self.boards[board].area - sum(
            self.pieces[spot.piece].area.area for spot in self.on(board)
        )
        left = self.left_over()
        later = {spot.piece for spot in self.spots if board < spot.board == last}
        return [
            number
            for wanted in (left, later)
            for number, piece in enumerate(self.pieces)
            if number in wanted
            and given_up[number] < TRIES
            and piece.area.area <= free_mm2
            and self._could_lie_on(board, number)
        ]

    def _could_lie_on(self, board: int, piece: int) -> bool:
        low_x, low_y, high_x, high_y = self.boards[board].bounds
        box = self.outlines.shapes.box[
            self.outlines.bare[self.outlines.first[piece] : self.outlines.first[piece + 1]]
        ]
        size = box[:, 2:] - box[:, :2]
        return bool(((size[:, 0] <= high_x - low_x) & (size[:, 1] <= high_y - low_y)).any())

    def _fit_round(self, board: int, wanted: Sequence[int], given_up: Counter[int]) -> float:
        """Every searcher tries to fit in a piece; the most wanted that succeeded stays."""
        lying = self.on(board)
        tried = [wanted[n % len(wanted)] for n in range(self.crew.searchers)]
        tasks = []
        for piece in tried:
            self._attempts += 1
            tasks.append(self._fit_task(board, lying, piece, self._attempts))
        results = self.crew.run(tasks, math.inf, math.inf, _say_nothing)
        for piece, (found, _) in zip(tried, results, strict=True):
            if found is None:
                given_up[piece] += 1
                continue
            self._adopt(board, piece, found)
            break
        return float(max(work for _, work in results))

    def _fit_task(
        self, board: int, lying: Sequence[Spot], piece: int, number: int
    ) -> Callable[[Limit, Callable[[tuple[Spot, ...]], None]], tuple[list[Spot] | None, int]]:
        def task(
            limit: Limit, _: Callable[[tuple[Spot, ...]], None]
        ) -> tuple[list[Spot] | None, int]:
            turn_deg = self.pieces[piece].turns_deg[0]
            box = self.outlines.shapes.box[self.outlines.bare[self.outlines.first[piece]]]
            bounds = self.boards[board].bounds
            search = self.separation(
                board, [*lying, Spot(piece, board, turn_deg, 0.0, 0.0)], number, limit
            )
            state = search.state()
            for at, axis in ((state.x, 0), (state.y, 1)):
                low, high = bounds[axis] - box[axis], bounds[2 + axis] - box[2 + axis]
                at[-1] = low + search.random() * (high - low)
            search.put(state)
            done, state, _least = search.separate(**FITTING)
            if not done:
                return None, search.work
            copies = [*lying, Spot(piece, board, turn_deg, 0.0, 0.0)]
            return self.spots_of(board, copies, state), search.work

        return task

    def _adopt(self, board: int, piece: int, found: list[Spot]) -> None:
        """Take over a board with one more copy, from what is left over or from the last board."""
        others = [spot for spot in self.spots if spot.board != board]
        if not self.left_over()[piece]:
            last = max(i for i, spot in enumerate(others) if spot.piece == piece)
            del others[last]
        self.spots = [*others, *found]
        self.report(tuple(self.spots))

    # -- drawing together ------------------------------------------------------------------

    def draw_together(self, axis: int, work: float) -> None:
        """Squeeze the last board in use by rounds of all searchers."""
        if not self.spots:
            return
        board = self.in_use()[-1]
        begun, deadline_s = time.monotonic(), self.crew.deadline_s
        for number in range(ROUNDS):
            if self.crew.is_over:
                return
            lying = self.on(board)
            share, until_s = number / ROUNDS, math.inf
            if deadline_s < math.inf:
                until_s = begun + (number + 1) / ROUNDS * (deadline_s - begun)
            tasks = []
            for _ in range(self.crew.searchers):
                self._attempts += 1
                tasks.append(self._squeeze_task(board, lying, axis, share, self._attempts))
            results = self.crew.run(
                tasks, work / ROUNDS, until_s, lambda news: self._hear(board, axis, news)
            )
            best = min(results, key=lambda spots: self._reach(spots, axis))
            others = [spot for spot in self.spots if spot.board != board]
            self.spots = [*others, *min(lying, best, key=lambda spots: self._reach(spots, axis))]

    def _squeeze_task(
        self, board: int, lying: list[Spot], axis: int, share: float, number: int
    ) -> Callable[[Limit, Callable[[list[Spot]], None]], list[Spot]]:
        def task(limit: Limit, tell: Callable[[list[Spot]], None]) -> list[Spot]:
            search = self.separation(board, lying, number, limit)
            begun = search.state()
            found = squeeze(
                search, axis, share, lambda state: tell(self.spots_of(board, lying, state))
            )
            return lying if found is begun else self.spots_of(board, lying, found)

        return task

    def _hear(self, board: int, axis: int, news: list[Spot]) -> None:
        if self._reach(news, axis) < self._reach(self.on(board), axis) - GAIN_MM:
            others = [spot for spot in self.spots if spot.board != board]
            self.spots = [*others, *news]
            self.report(tuple(self.spots))

    def _reach(self, spots: Sequence[Spot], axis: int) -> float:
        """How far the true outlines reach."""
        bounds = [_moved(self.pieces[spot.piece].area, spot).bounds[2 + axis] for spot in spots]
        return max(bounds, default=-math.inf)


def _moved(area: BaseGeometry, spot: Spot) -> BaseGeometry:
    t = spot.transform
    return affine_transform(area, [t.a, t.c, t.b, t.d, t.e, t.f])
