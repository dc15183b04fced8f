"""Our own search, going on from a filling."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import shapely

from kerfwright.findings import number_of
from kerfwright.nesting.fill import placed_on
from kerfwright.nesting.footprint import material
from kerfwright.nesting.job import FilledSheet, Filling, Job, Wanted
from kerfwright.nesting.model import Body, Placement
from kerfwright.nesting.search.improve import improve
from kerfwright.nesting.search.model import Budget, Piece, Spot
from kerfwright.nesting.showing import Showing
from kerfwright.nesting.swaps import board_with
from kerfwright.nesting.until import Watch

COUNTED_SEARCHERS = 2
"""Searchers where work is counted: as many on every machine, so that all find the same."""

Progress = Callable[[str], None]
Made = Callable[[], Sequence[FilledSheet]]


@dataclass(frozen=True, slots=True)
class Effort:
    """How much a search may do: by the clock, or in tried positions if ``work`` is given."""

    seconds: float = math.inf
    work: float | None = None

    def share(self, share: float) -> Effort:
        """Part of it."""
        return Effort(share * self.seconds, None if self.work is None else share * self.work)

    def is_at_least(self, seconds: float, work: float) -> bool:
        """Whether it is so much, in whichever way it is counted."""
        return self.seconds >= seconds if self.work is None else self.work >= work

    @property
    def budget(self) -> Budget:
        """The same for the search."""
        if self.work is None:
            return Budget(seconds=self.seconds)
        return Budget(work=int(self.work), searchers=COUNTED_SEARCHERS)


def improved(
    job: Job,
    filling: Filling,
    watch: Watch,
    effort: Effort,
    seed: int,
    say: Progress,
    showing: Showing,
) -> Filling:
    """Let our own search go on from a filling; sheets that end up empty are given back."""
    sheets = filling.sheets
    if any(body.kit for body in job.bodies):
        # sets must stay whole: each sheet is drawn together by itself
        done = list(sheets)
        share = effort.share(1.0 / len(sheets))
        for number, filled in enumerate(sheets):

            def shown(made: Made, number: int = number) -> None:
                showing.offer_in_turn(
                    lambda: _filling(job, [*done[:number], *made(), *done[number + 1 :]])
                )

            done[number : number + 1] = _improved_together(
                job, [filled], Counter(), watch, share, seed, say, shown
            )
        return _filling(job, done)

    def shown_all(made: Made) -> None:
        showing.offer_in_turn(lambda: _filling(job, made()))

    return _filling(
        job,
        _improved_together(job, sheets, filling.left, watch, effort, seed, say, shown_all),
    )


def _filling(job: Job, sheets: Sequence[FilledSheet]) -> Filling:
    in_use = [filled for filled in sheets if filled.placements]
    placed = sum((placed_on(filled.board) for filled in in_use), Counter[int]())
    return Filling.of(job, in_use, job.wanted - placed)


def _improved_together(
    job: Job,
    sheets: Sequence[FilledSheet],
    left: Wanted,
    watch: Watch,
    effort: Effort,
    seed: int,
    say: Progress,
    shown: Callable[[Made], None],
) -> list[FilledSheet]:
    lying = [(n, p) for n, f in enumerate(sheets) for p in f.board.placements()]
    in_order = [kind.body for unit in job.units for kind, _ in unit.kinds]
    counts = Counter(p.body for _, p in lying) + left
    kinds = [number for number in in_order if counts[number]]
    pieces = [_piece(job.bodies[number], counts[number]) for number in kinds]
    spots = [
        Spot(kinds.index(p.body), board, p.turn_deg, p.x_mm, p.y_mm, p.mirrored)
        for board, p in lying
    ]

    said = ""

    def report(better: tuple[Spot, ...]) -> None:
        nonlocal said
        density = _density(job, sheets, better, pieces)
        watch.better(density)
        in_use = number_of(len({spot.board for spot in better}), "sheet")
        words = f"better layout: {in_use}, {density:.1%} of the width in use covered"
        if words != said:
            said = words
            say(words)
        shown(lambda: sheets_with(better))

    def sheets_with(spots: Sequence[Spot]) -> list[FilledSheet]:
        on_board: list[list[Placement]] = [[] for _ in sheets]
        for spot in spots:
            on_board[spot.board].append(
                Placement(kinds[spot.piece], spot.turn_deg, spot.x_mm, spot.y_mm, spot.mirrored)
            )
        return [board_with(job, f, tuple(p)) for f, p in zip(sheets, on_board, strict=True)]

    found = improve(
        pieces,
        [job.room(filled.sheet, filled.pinned) for filled in sheets],
        spots,
        spacing_mm=job.spacing_mm,
        budget=effort.budget,
        seed=seed,
        stop=watch.ended,
        progress=report,
    )
    return sheets_with(found)


def _piece(body: Body, quantity: int) -> Piece:
    return Piece(material(body), quantity, body.turns_deg, body.may_mirror)


def _density(
    job: Job, sheets: Sequence[FilledSheet], spots: Sequence[Spot], pieces: Sequence[Piece]
) -> float:
    """Parts' area over that of the boards' width in use."""
    in_use_mm2 = 0.0
    for number, filled in enumerate(sheets):
        x_low, y_low, _, y_high = job.room(filled.sheet, filled.pinned).bounds
        reach = max((_right(pieces[s.piece], s) for s in spots if s.board == number), default=x_low)
        in_use_mm2 += (reach - x_low) * (y_high - y_low)
    placed_mm2 = math.fsum(pieces[spot.piece].area.area for spot in spots)
    return placed_mm2 / in_use_mm2 if in_use_mm2 > 0.0 else 0.0


def _right(piece: Piece, spot: Spot) -> float:
    points = shapely.get_coordinates(piece.area)
    return float(spot.transform.apply(points)[:, 0].max())
