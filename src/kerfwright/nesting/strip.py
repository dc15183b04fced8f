"""Parts in a strip of fixed height, as short as a timed search finds.

Our own search (:mod:`kerfwright.nesting.strip_search`) has to know how each two outlines fit to one
another in each two turns; where that would take too long, the outside engine does it. Both watch
the clock, so the same seed need not give the same layout twice.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from kerfwright.nesting.footprint import ENGINE_POINTS, widened
from kerfwright.nesting.search.model import Stop
from kerfwright.nesting.search.separation import State
from kerfwright.nesting.strip_engine import engine_spots
from kerfwright.nesting.strip_model import Strip, StripError, StripPiece, StripSpot
from kerfwright.nesting.strip_search.no_fit import Turns, no_fits, turns_of
from kerfwright.nesting.strip_search.searcher import turns_of_copies
from kerfwright.nesting.strip_search.shortest import shortest

__all__ = ["Strip", "StripError", "StripPiece", "StripSpot", "solve_strip"]

KNOWING_SHARE = 0.2
"""No-fit polygons may take so much of the time."""

MOST_OUTLINES = 100
"""With more turned outlines their no-fit polygons would fill the memory."""

MOST_COPIES = 400
"""So would what is known of all pairs of more copies."""

Spots = list[StripSpot]


def solve_strip(
    pieces: Sequence[StripPiece],
    height_mm: float,
    *,
    spacing_mm: float,
    seconds: float,
    seed: int,
    stop: Stop | None = None,
    better: Callable[[Strip], None] | None = None,
) -> Strip:
    """Place all pieces in a strip; spacing is kept between pieces, none to the strip's edge.

    All cores work for ``seconds``, or until ``stop`` says so; ``better`` gets shorter strips as
    they are found, from the calling thread. Whoever needs exactness checks the places: the outside
    engine reckons in single precision. Raises :class:`StripError` when a piece does not fit in, or
    the search fails or is stopped before it has found anything.
    """

    def heard(spots: Spots) -> None:
        if better is not None:
            better(_from_corner(spots, pieces, height_mm))

    started_s = time.monotonic()
    turns = _turns(pieces, 0.5 * spacing_mm)
    is_few = len(turns.rings) <= MOST_OUTLINES and sum(p.quantity for p in pieces) <= MOST_COPIES
    find: Callable[..., Spots] = engine_spots
    if is_few and turns.seconds <= KNOWING_SHARE * seconds:
        find = partial(_own_spots, turns)
    spots = find(
        pieces,
        height_mm,
        spacing_mm=spacing_mm,
        seconds=seconds - (time.monotonic() - started_s),
        seed=seed,
        stop=stop or _never,
        better=heard,
    )
    return _from_corner(spots, pieces, height_mm)


def _never() -> bool:
    return False


def _turns(pieces: Sequence[StripPiece], around_mm: float) -> Turns:
    """Pieces about their middles, with room around them, in all their turns."""
    rings = [
        ring if around_mm <= 0.0 and len(ring) <= ENGINE_POINTS else widened(ring, around_mm)
        for ring in (piece.ring - piece.middle for piece in pieces)
    ]
    return turns_of(rings, [piece.turns_deg for piece in pieces])


def _own_spots(
    turns: Turns,
    pieces: Sequence[StripPiece],
    height_mm: float,
    *,
    spacing_mm: float,
    seconds: float,
    seed: int,
    stop: Stop,
    better: Callable[[Spots], None],
) -> Spots:
    def spots_of(state: State) -> Spots:
        return [
            StripSpot.about_middle(
                turns.kind[s], pieces[turns.kind[s]], turns.turn_deg[s], np.array([x, y])
            )
            for s, x, y in zip(state.shape, state.x, state.y, strict=True)
        ]

    started_s = time.monotonic()
    fits = no_fits(turns)
    across_mm = height_mm + spacing_mm
    quantities = [piece.quantity for piece in pieces]
    found = shortest(
        fits,
        turns_of_copies(turns.first, quantities),
        across_mm,
        least_mm=turns.least_mm(quantities, across_mm),
        seconds=seconds - (time.monotonic() - started_s),
        seed=seed,
        stop=stop,
        better=lambda state: better(spots_of(state)),
    )
    if found is None:
        raise StripError("a piece does not fit into the strip, or the search was stopped at once")
    return spots_of(found)


def _from_corner(spots: Spots, pieces: Sequence[StripPiece], height_mm: float) -> Strip:
    """Move everything so that it begins at (0, 0), and measure it exactly."""
    points = np.vstack([spot.ring(pieces[spot.piece]) for spot in spots])
    low, high = points.min(axis=0), points.max(axis=0)
    width_mm = float(high[0] - low[0])
    return Strip(
        width_mm=width_mm,
        height_mm=height_mm,
        spots=tuple(
            replace(s, x_mm=s.x_mm - float(low[0]), y_mm=s.y_mm - float(low[1])) for s in spots
        ),
        density=sum(piece.area_mm2 for piece in pieces) / (width_mm * height_mm),
    )
