"""Rounds of moves keep the layout that overlaps least, and end when nothing overlaps or in vain."""

from __future__ import annotations

import numpy as np
import pytest
from search_layouts import star
from shapely import Polygon
from shapely.affinity import translate

from kerfwright.nesting.search.separation import random_state
from kerfwright.nesting.strip_search.field_kernel import Field, field_for, keep_inside, measure
from kerfwright.nesting.strip_search.line_kernel import Lying
from kerfwright.nesting.strip_search.no_fit import no_fits, turns_of
from kerfwright.nesting.strip_search.rounds_kernel import draw_apart, lay, room_for_ways

KINDS = [star([10, 4, 9, 6, 12]), star([5, 8, 5, 14, 6, 6]), star([7, 3, 9])]
TURNS = turns_of([np.array(kind.exterior.coords)[:-1] for kind in KINDS], [(0.0, 180.0)] * 3)
FITS = no_fits(TURNS)
MANY = 10**6
TOO_SHORT_MM = 0.9 * sum(4 * kind.area for kind in KINDS) / 50.0
"""A strip with less area than the pieces."""


def pile(length_mm: float, seed: int) -> Field:
    """Four of each kind anywhere in a strip."""
    rng = np.random.default_rng(seed)
    first = np.repeat(np.array(TURNS.first[:3]), 4)
    turns, room = np.column_stack([first, first + 2]), np.array([length_mm, 50.0])
    field = field_for(turns, room, random_state(seed))
    field.lying.x[:] = rng.uniform(0.0, length_mm, len(first))
    field.lying.y[:] = rng.uniform(0.0, 50.0, len(first))
    assert keep_inside(FITS, field)
    return field


def common_mm2(lying: Lying) -> float:
    where = zip(lying.shape, lying.x, lying.y, strict=True)
    areas = [translate(Polygon(TURNS.rings[shape]), x, y) for shape, x, y in where]
    return sum(a.intersection(b).area for n, a in enumerate(areas) for b in areas[:n])


@pytest.mark.parametrize("seed", range(4))
def test_a_pile_is_drawn_apart_where_there_is_room(seed: int) -> None:
    field, ways = pile(200.0, seed), room_for_ways(12)
    assert common_mm2(field.lying) > 1.0
    least, _ = draw_apart(FITS, field, ways, measure(FITS, field), 0, MANY, 2000)
    assert least == 0.0
    assert common_mm2(ways.least) < 1e-6


@pytest.mark.parametrize("seed", range(4))
def test_where_there_is_no_room_the_layout_is_kept_that_overlaps_least(seed: int) -> None:
    field, ways = pile(TOO_SHORT_MM, seed), room_for_ways(12)
    begun = measure(FITS, field)
    least, vain = draw_apart(FITS, field, ways, begun, 0, 25, MANY)
    assert vain == 25
    assert 0.0 < least < begun
    lay(field.lying, ways.least)
    assert measure(FITS, field) == pytest.approx(least)


def test_pairs_that_overlap_weigh_more_and_none_less_than_at_first() -> None:
    field, ways = pile(TOO_SHORT_MM, 1), room_for_ways(12)
    draw_apart(FITS, field, ways, measure(FITS, field), 0, MANY, 1)
    overlapping = field.loss > 0.0
    assert overlapping.any()
    assert (field.weight[overlapping] >= 1.2).all()
    assert field.weight[overlapping].max() == pytest.approx(2.0)
    assert (field.weight[~overlapping] == 1.0).all()


def test_no_more_rounds_are_moved_than_asked_for() -> None:
    field, ways = pile(TOO_SHORT_MM, 2), room_for_ways(12)
    _, vain = draw_apart(FITS, field, ways, 0.5 * measure(FITS, field) * 1e-9, 3, MANY, 7)
    assert vain == 10
