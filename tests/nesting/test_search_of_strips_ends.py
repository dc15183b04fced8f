"""A strip's search hands over what it has when told to stop, and ends at what cannot be beaten."""

from __future__ import annotations

import threading
import time
from itertools import pairwise

import numpy as np
import pytest
from search_layouts import QUARTERS, star
from shapely import Polygon, box

from kerfwright.nesting import strip as strip_module
from kerfwright.nesting.strip import Strip, StripError, StripPiece, solve_strip
from kerfwright.nesting.strip_search.shortest import rounds_in


@pytest.fixture(params=["ours", "engine"])
def strip_search(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both searches; the engine does what has too many different outlines for ours."""
    if request.param == "engine":
        monkeypatch.setattr(strip_module, "MOST_OUTLINES", 0)
    return str(request.param)


def stars(seed: int) -> list[StripPiece]:
    rng = np.random.default_rng(seed)
    rings = [np.array(star(rng.uniform(10.0, 30.0, 9)).exterior.coords)[:-1] for _ in range(5)]
    return [StripPiece(ring, 3, QUARTERS) for ring in rings]


def placed(pieces: list[StripPiece], strip: Strip) -> list[Polygon]:
    return [Polygon(spot.ring(pieces[spot.piece])) for spot in strip.spots]


@pytest.mark.usefixtures("strip_search")
def test_a_strip_without_any_time_left_is_complete() -> None:
    pieces = stars(3)
    strip = solve_strip(pieces, 120.0, spacing_mm=2.0, seconds=1e-6, seed=1)
    assert len(strip.spots) == 15


@pytest.mark.usefixtures("strip_search")
def test_a_strip_that_is_stopped_is_complete_and_keeps_its_spacing() -> None:
    pieces = stars(2)
    strip = solve_strip(pieces, 120.0, spacing_mm=2.0, seconds=3.0, seed=1, stop=lambda: True)
    lying = placed(pieces, strip)
    assert len(lying) == 15
    for i, one in enumerate(lying):
        # the engine's single precision falls short by less than this
        assert all(one.distance(other) > 2.0 - 1e-3 for other in lying[:i])


def test_strips_are_told_as_they_get_shorter_in_the_calling_thread(strip_search: str) -> None:
    pieces, heard, threads = stars(3), [], set()

    def better(strip: Strip) -> None:
        heard.append(strip)
        threads.add(threading.current_thread())

    # a busy machine gets there later
    strip = solve_strip(
        pieces,
        120.0,
        spacing_mm=1.0,
        seconds=60.0,
        seed=1,
        stop=lambda: len(heard) > 1,
        better=better,
    )
    assert len(heard) > 1
    assert threads == {threading.current_thread()}
    if strip_search == "ours":  # the engine's are drawn in, each by as much as it needs
        assert all(b.width_mm < a.width_mm for a, b in pairwise(heard))
        assert strip == heard[-1]
    for one in (heard[0], strip):
        lying = placed(pieces, one)
        assert len(lying) == 15
        assert all(0.0 - 1e-3 <= y <= 120.0 + 1e-3 for p in lying for y in p.bounds[1::2])


@pytest.mark.usefixtures("strip_search")
def test_a_piece_that_is_higher_than_the_strip_is_turned_if_it_may_be() -> None:
    ring = np.array(box(0.0, 0.0, 20.0, 80.0).exterior.coords)[:-1]
    strip = solve_strip([StripPiece(ring, 2, QUARTERS)], 50.0, spacing_mm=0.0, seconds=0.5, seed=1)
    assert {spot.turn_deg % 180.0 for spot in strip.spots} == {90.0}


def test_our_search_says_when_a_piece_does_not_fit() -> None:
    ring = np.array(box(0.0, 0.0, 20.0, 80.0).exterior.coords)[:-1]
    with pytest.raises(StripError, match="does not fit"):
        solve_strip([StripPiece(ring, 2, (0.0,))], 50.0, spacing_mm=0.0, seconds=0.5, seed=1)


def test_a_strip_that_cannot_be_shorter_ends_our_search() -> None:
    ring = np.array(box(0.0, 0.0, 20.0, 20.0).exterior.coords)[:-1]
    started = time.monotonic()
    solve_strip([StripPiece(ring, 6, (0.0,))], 40.0, spacing_mm=0.0, seconds=300.0, seed=1)
    assert time.monotonic() - started < 100.0


def test_time_for_judging_beginnings_decides_how_many_there_are() -> None:
    # a beginning needs 0.05 s for each piece: 40 pieces 2 s
    assert rounds_in(3.0, 40) == 1
    assert rounds_in(8.0, 40) == 2  # two beginnings of 2 s, the better one 4 s
    assert rounds_in(24.0, 40) == 3
    assert rounds_in(1e6, 40) == 4
    assert rounds_in(float("inf"), 40) == 1
