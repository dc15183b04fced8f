"""Strips of few pieces are soon searched through, unless someone has set the time."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from shapely import Polygon

from kerfwright.nesting import by_strip
from kerfwright.nesting.model import Body, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.strip import StripError, StripPiece
from kerfwright.nesting.until import Control, Until

WEDGE = Polygon([(0.0, 0.0), (60.0, 0.0), (0.0, 40.0)])
SHEET = SheetSize("sheet", 600.0, 200.0, 1)


@pytest.mark.parametrize(
    ("until", "strip_s"),
    [(Until(), 0.2 * 10), (Until(seconds=4.0), 0.8 * 4.0), (Until(seconds=900.0), 5.0 * 10)],
    ids=["of itself: 0.2 s a piece", "0.8 of what was set", "5 s a piece at most"],
)
def test_a_strip_gets_longer_where_the_time_was_set_by_hand(
    until: Until, strip_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    given_s: list[float] = []

    def given_up(_: Sequence[StripPiece], __: float, *, seconds: float, **___: object) -> None:
        given_s.append(seconds)
        raise StripError("not searched here")

    def is_stripped() -> bool:
        return bool(given_s)

    monkeypatch.setattr(by_strip, "solve_strip", given_up)
    nest(
        [Body("wedge", (WEDGE,), 10, (0.0, 180.0))],
        [SHEET],
        spacing_mm=1.0,
        margin_mm=0.0,
        seconds=1000.0,
        seed=1,
        control=Control(until=until, stop=is_stripped),
    )
    assert given_s == pytest.approx([strip_s], rel=0.02)
