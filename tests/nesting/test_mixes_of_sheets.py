"""Choices of sheets are the cheapest that have room enough, as trying all of them shows."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, box

from kerfwright.nesting.board import kind_of
from kerfwright.nesting.cost import Prices
from kerfwright.nesting.job import Job
from kerfwright.nesting.mixes import mixes
from kerfwright.nesting.model import Body, SheetSize


def job_of(copies: int, sheets: tuple[SheetSize, ...], prices: Prices) -> Job:
    body = Body("plate", (box(0.0, 0.0, 10.0, 10.0),), copies, (0.0,))
    kind = kind_of(0, MultiPolygon(body.footprint), (0.0,), 0.0)
    return Job((body,), (kind,), Counter({0: copies}), sheets, 0.0, 0.0, prices)


kinds = st.lists(
    st.tuples(st.integers(3, 9), st.integers(3, 9), st.integers(1, 3), st.integers(1, 40)),
    min_size=1,
    max_size=4,
)


@settings(max_examples=40, deadline=None)
@given(kinds, st.integers(1, 120), st.sampled_from([0.6, 0.8, 1.0]))
def test_the_first_choice_is_the_cheapest_with_room_enough(
    drawn: list[tuple[int, int, int, int]], copies: int, density: float
) -> None:
    sheets = tuple(
        SheetSize(f"kind {n}", 10.0 * w, 10.0 * h, count, cost=Decimal(cost))
        for n, (w, h, count, cost) in enumerate(drawn)
    )
    # nothing that is left is wide enough to be worth anything
    job = job_of(copies, sheets, Prices(offcut_least_mm=1e6))
    enough = [
        sum(float(s.cost or 0) * n for s, n in zip(sheets, counts, strict=True))
        for counts in product(*(range(s.count + 1) for s in sheets))
        if sum(s.area_mm2 * n for s, n in zip(sheets, counts, strict=True)) * density
        >= 100.0 * copies
    ]
    found = mixes(job, density, below=1e9, most=3)
    costs = [sum(float(sheet.cost or 0) for sheet, _ in choice) for choice in found]
    assert costs == sorted(costs)
    assert bool(found) == bool(enough)
    if enough:
        assert costs[0] == pytest.approx(min(enough))


def test_what_is_left_of_the_largest_counts_for_a_choice() -> None:
    price = Decimal(1000)
    sheets = (
        SheetSize("large", 1000.0, 500.0, 1, price_per_m2=price),
        SheetSize("small", 500.0, 500.0, 1, price_per_m2=price + 100),
    )
    # 0.15 square metres: the large costs 500 less half of 350 left over, the small 275 less 55
    job = job_of(1500, sheets, Prices(offcut_share=0.5, offcut_least_mm=100.0))
    found = mixes(job, 1.0, below=1e9, most=2)
    assert [sheet.name for sheet, _ in found[0]] == ["small"]
    # worth as much as new, what is left makes the large the cheaper one: 500 - 350 below 275 - 110
    job = job_of(1500, sheets, Prices(offcut_share=1.0, offcut_least_mm=100.0))
    found = mixes(job, 1.0, below=1e9, most=2)
    assert [sheet.name for sheet, _ in found[0]] == ["large"]


def test_nothing_dearer_than_what_there_is_comes_back() -> None:
    sheets = (SheetSize("board", 100.0, 100.0, 5, cost=Decimal(7)),)
    job = job_of(150, sheets, Prices(offcut_least_mm=1e6))
    assert mixes(job, 1.0, below=14.0, most=3) == []
    assert len(mixes(job, 1.0, below=14.5, most=3)) == 1
