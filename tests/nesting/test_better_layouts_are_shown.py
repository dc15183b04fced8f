"""Whoever asks sees the best layouts while places are searched for, and the returned ones last."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from search_layouts import QUARTERS, star

from kerfwright.nesting.model import Body, Kit, Layouts, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.until import Control, Until

SHEETS = [SheetSize("plate", 150.0, 120.0, 4), SheetSize("strip", 300.0, 60.0, 2, offcut=True)]


def stars(count: int) -> list[Body]:
    rng = np.random.default_rng(4)
    outlines = [star(rng.uniform(10.0, 30.0, 9)) for _ in range(count)]
    return [Body(f"star {n}", (one,), 3, QUARTERS) for n, one in enumerate(outlines)]


def shown(bodies: list[Body], until: Until) -> tuple[list[tuple[float, Layouts]], Layouts]:
    seen: list[tuple[float, Layouts]] = []
    control = Control(until, better=lambda layouts: seen.append((time.monotonic(), layouts)))
    layouts = nest(
        bodies, SHEETS, spacing_mm=2.0, margin_mm=3.0, seconds=1.0, seed=1, control=control
    )
    return seen, layouts


@pytest.mark.parametrize("until", [Until(seconds=1.5), Until(work=20_000)])
def test_every_layout_shown_is_complete_and_the_last_is_the_one_returned(until: Until) -> None:
    bodies = stars(5)
    seen, layouts = shown(bodies, until)
    assert len(seen) >= 2
    assert seen[-1][1] is layouts
    for _, one in seen:
        placed = sum(len(sheet.placements) for sheet in one.sheets)
        assert placed + sum(one.unplaced.values()) == sum(body.quantity for body in bodies)


def test_sheets_of_kits_are_shown_too() -> None:
    bodies = [replace(body, kit=Kit("stars", 3)) for body in stars(3)]
    seen, layouts = shown(bodies, Until(work=20_000))
    assert seen[-1][1] is layouts
    assert all(not one.unplaced for _, one in seen)


def test_looking_on_does_not_change_what_is_found() -> None:
    _, looked_at = shown(stars(4), Until(work=20_000))
    alone = nest(
        stars(4),
        SHEETS,
        spacing_mm=2.0,
        margin_mm=3.0,
        seconds=1.0,
        seed=1,
        control=Control(Until(work=20_000)),
    )
    assert looked_at == alone
