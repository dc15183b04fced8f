"""A nest that is limited by counted work is the same every time, however busy the machine is."""

from __future__ import annotations

import numpy as np
from search_layouts import QUARTERS, star
from shapely import Point

from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.model import Body, Layouts, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.until import Control, Until

SHEETS = (
    SheetSize("half", 160.0, 110.0, 3),
    SheetSize("offcut", 120.0, 90.0, 1, offcut=True),
)


def bodies() -> list[Body]:
    rng = np.random.default_rng(8)
    stars = [Body(f"s{i}", (star(rng.uniform(8.0, 24.0, 9)),), 4, QUARTERS) for i in range(4)]
    washer = Point(0.0, 0.0).buffer(20.0).difference(Point(0.0, 0.0).buffer(14.0))
    return [*stars, Body("washer", (washer,), 3, (0.0,))]


def laid_out(work: int) -> Layouts:
    return nest(
        bodies(),
        SHEETS,
        spacing_mm=1.0,
        margin_mm=4.0,
        seconds=1e-9,
        seed=3,
        control=Control(Until(work=work)),
    )


def test_the_same_work_gives_the_same_layout_to_the_last_bit() -> None:
    first = laid_out(60_000)
    assert first == laid_out(60_000)
    assert check_layouts(bodies(), first, spacing_mm=1.0, margin_mm=4.0) == ()


def test_more_work_never_takes_more_sheets() -> None:
    little, much = laid_out(1_000), laid_out(200_000)
    assert much.area_mm2 <= little.area_mm2
    assert not much.unplaced
