"""Long searches of a strip find shorter ones for longer, and squeeze those no longer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from kerfwright.nesting.search.separation import State
from kerfwright.nesting.strip_search import shortest as shortest_module
from kerfwright.nesting.strip_search.no_fit import no_fits, turns_of
from kerfwright.nesting.strip_search.searcher import Searcher, turns_of_copies

SQUARE = 10.0 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


@pytest.mark.parametrize(
    ("seconds", "squeezing_s"),
    [(1.0, 0.1), (20.0, 2.0), (2000.0, 9.0)],
    ids=["one beginning: a tenth", "a tenth of the time", "15 pieces of 0.6 s"],
)
def test_squeezing_has_a_share_of_the_time_and_no_more_than_it_can_use(
    seconds: float, squeezing_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    explored_s, squeezed_s = [], []
    laid = State(np.zeros(15, dtype=np.int64), np.zeros(15), np.zeros(15))

    def follow(trails: list[Any], search: Searcher, tell: Callable[[State], None]) -> None:
        explored_s.append(search.limit.deadline_s)
        for trail in trails:
            trail.best = laid
        tell(laid)

    def squeeze(_trail: Any, search: Searcher, _tell: Callable[[State], None]) -> None:
        squeezed_s.append(search.limit.deadline_s)

    def walk(_trail: Any, search: Searcher, _tell: Callable[[State], None]) -> None:
        explored_s.append(search.limit.deadline_s)

    monkeypatch.setattr(shortest_module, "_follow", follow)
    monkeypatch.setattr(shortest_module, "walk", walk)
    monkeypatch.setattr(shortest_module, "_squeeze", squeeze)
    turns = turns_of([SQUARE], [(0.0,)])
    shortest_module.shortest(
        no_fits(turns),
        turns_of_copies(turns.first, [15]),
        60.0,
        least_mm=0.0,
        seconds=seconds,
        seed=1,
        stop=lambda: False,
        better=lambda _: None,
    )
    assert max(squeezed_s) - max(explored_s) == pytest.approx(squeezing_s)
