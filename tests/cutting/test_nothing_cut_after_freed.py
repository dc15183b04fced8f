"""No burn in a piece that has already come loose: checked by cutting sheets up, move by move."""

from __future__ import annotations

import numpy as np
import pytest
from cut_parts import (
    KERF_MM,
    SHARING_SHEETS,
    burned_in_loose_pieces,
    circle,
    cut,
    frame,
    grid,
    machine,
    part,
    rectangle,
)
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from kerfwright.cutting.cuts import CutWork
from kerfwright.parts.model import Part
from kerfwright.sequence.order import sequence
from kerfwright.toolpath import Toolpath

MOUTH_CLOSES = [(0, 0), (30, 0), (30, 14.92), (20, 14.92), (20, 8), (6, 8), (6, 22), (20, 22)]
MOUTH_CLOSES += [(20, 15.08), (30, 15.08), (30, 30), (0, 30)]

SHEETS = {
    **SHARING_SHEETS,
    "frame with a part inside": [*frame(KERF_MM), part(rectangle(13.0, 13.0, 4.0))],
    "parts in holes in parts in holes": [
        part(rectangle(0, 0, 60), rectangle(5, 5, 50)),
        part(rectangle(8, 8, 40), circle(28, 28, 15.0, 40), rectangle(9, 9, 3)),
        part(circle(28, 28, 12.0, 40), rectangle(24, 24, 8)),
        part(rectangle(26, 26, 4)),
    ],
    "holes in parts that touch": [
        part(rectangle(x, y, 20), rectangle(x + 3, y + 3, 6), rectangle(x + 11, y + 3, 6))
        for x in (0, 20, 40)
        for y in (0, 20, 40)
    ],
    "touching parts in the hole of touching parts": [
        part(rectangle(0, 0, 40), rectangle(5, 5, 30)),
        part(rectangle(40, 0, 40), rectangle(45, 5, 30)),
        *(part(rectangle(x, y, 10)) for x in (8, 18) for y in (8, 18)),
    ],
    "a mouth that the kerf closes": [part(MOUTH_CLOSES), part(rectangle(9, 11, 6))],
    "a mouth that the kerf closes, beside another part": [
        part(MOUTH_CLOSES),
        part(rectangle(9, 11, 6)),
        part(rectangle(-30, 0, 30)),
    ],
}


def planned(work: CutWork) -> Toolpath:
    return sequence(work.strokes, work.before, machine())


APART = ["parts in holes in parts in holes", "a mouth that the kerf closes"]


@pytest.mark.parametrize(
    ("name", "shared_edges"),
    [*((name, True) for name in SHEETS), *((name, False) for name in APART)],
)
def test_nothing_is_burned_in_a_loose_piece(name: str, shared_edges: bool) -> None:
    work = cut(SHEETS[name], shared_edges=shared_edges)
    assert burned_in_loose_pieces(planned(work), KERF_MM) == 0


def test_the_check_sees_what_is_burned_in_a_loose_piece() -> None:
    work = cut(SHEETS["squares that touch"])
    wrong_way = CutWork(work.strokes, tuple((j, i) for i, j in work.before), (), 0.0, 0.0, 0.0)
    assert burned_in_loose_pieces(planned(wrong_way), KERF_MM) > 0


@pytest.mark.parametrize("name", SHEETS)
def test_any_order_that_keeps_the_pairs_will_do(name: str) -> None:
    work = cut(SHEETS[name])
    chance = np.random.default_rng(4)
    shuffled = chance.permutation(len(work.strokes))
    number = np.argsort(shuffled)
    mixed = CutWork(
        tuple(work.strokes[i] for i in shuffled),
        tuple((int(number[i]), int(number[j])) for i, j in work.before),
        (),
        0.0,
        0.0,
        0.0,
    )
    start = tuple(chance.uniform(0.0, 60.0, 2).tolist())
    toolpath = sequence(mixed.strokes, mixed.before, machine(), start)
    assert burned_in_loose_pieces(toolpath, KERF_MM) == 0


def test_holes_come_before_the_outline_and_parts_in_holes_first() -> None:
    work = cut(SHEETS["parts in holes in parts in holes"])
    moves = planned(work).moves
    sources = moves["source"][moves["source"] >= 0]
    last = {i: int(np.flatnonzero(sources == i).max()) for i in range(4)}
    first = {i: int(np.flatnonzero(sources == i).min()) for i in range(4)}
    assert last[3] < first[2]
    assert last[2] < first[1]
    assert last[1] < first[0]
    for stroke in work.strokes:
        assert stroke.phase >= 2


def test_pairs_grow_no_faster_than_pieces() -> None:
    small, large = (len(cut(grid(n, n, 10.0)).before) for n in (5, 20))
    assert large <= small * 16 * 1.5


def meets_at_a_corner_only(cells: list[tuple[int, int]], x: int, y: int) -> bool:
    return any(
        (x + side, y + 1) in cells and (x + side, y) not in cells and (x, y + 1) not in cells
        for side in (-1, 1)
    )


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(
    cells=st.lists(
        st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=2, max_size=12, unique=True
    ),
    apart=st.sampled_from([0.0, KERF_MM]),
    shifted=st.booleans(),
)
def test_any_pattern_of_squares_stays_held(
    cells: list[tuple[int, int]], apart: float, shifted: bool
) -> None:
    assume(shifted or not any(meets_at_a_corner_only(cells, x, y) for x, y in cells))
    pitch = 10.0 + apart
    parts: list[Part] = [
        part(rectangle((x + (0.4 * y if shifted else 0.0)) * pitch, y * pitch, 10.0))
        for x, y in cells
    ]
    assert burned_in_loose_pieces(planned(cut(parts)), KERF_MM) == 0
