"""A photo's program is proven against the picture, and spoiled ones are found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from shapely import MultiPolygon, box

import planned_square as tile
from kerfwright.drawing.model import Picture
from kerfwright.engraving.photo import burn_photo
from kerfwright.engraving.photo_cells import PhotoPlace
from kerfwright.engraving.shoulder import engrave_shoulders
from kerfwright.geometry.affine import Affine
from kerfwright.output.gcode import gcode_lines
from kerfwright.plan import Intended, PlannedSheet
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.shop.machine import Dialect
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import BurnSource, MoveArray, Process, Toolpath

FRAME = (24.0, 12.0, 44.0, 30.0)


def picture() -> Picture:
    """Dark in one corner, light in the others."""
    grey = np.full((90, 100), 200, dtype=np.uint8)
    grey[:45, :50] = 30
    x0, y0, x1, y1 = FRAME
    return Picture("hull", grey, Affine(a=x1 - x0, d=y0 - y1, e=x0, f=y1))


def recipe(**keys: object) -> Recipe:
    settings = {
        "machine": "trial",
        "process": "photo",
        "speed_mm_s": 300.0,
        "power": 0.4,
        "interval_mm": 0.1,
        "method": "power",
        "power_min": 0.1,
        "gamma": 1.4,
    }
    return Recipe.model_validate({**settings, **keys})


def sheet(
    *, of: Recipe | None = None, change: Callable[[MoveArray], MoveArray] | None = None
) -> PlannedSheet:
    used = of or recipe()
    place = PhotoPlace(picture(), MultiPolygon([box(*FRAME)]))
    path = burn_photo(place, used, tile.machine(), source=0).toolpath
    moves = path.moves if change is None else change(path.moves.copy())
    return tile.sheet(
        toolpath=Toolpath(moves, path.start_mm),
        recipes={Process.PHOTO: used},
        sources=(BurnSource("tile", 1, Process.PHOTO, ("hull",)),),
        intended=Intended(cuts=(), scores=(), area=MultiPolygon(), photos=(place,)),
    )


def faults(of: PlannedSheet, dialect: Dialect = Dialect.GRBL_TYPE) -> tuple[str, ...]:
    machine = tile.machine(dialect)
    return verify(interpret(gcode_lines(of, machine), machine), of, machine)


@pytest.mark.parametrize("dialect", list(Dialect))
@pytest.mark.parametrize(
    "method",
    [
        "power",
        "floyd-steinberg",
        "jarvis-judice-ninke",
        "stucki",
        "atkinson",
        "ordered",
        "blue-noise",
    ],
)
def test_a_right_photo_has_no_faults(method: str, dialect: Dialect) -> None:
    assert faults(sheet(of=recipe(method=method)), dialect) == ()


def mirrored(moves: MoveArray) -> MoveArray:
    moves["x_mm"] = FRAME[0] + FRAME[2] - moves["x_mm"]
    return moves


def upside_down(moves: MoveArray) -> MoveArray:
    moves["y_mm"] = FRAME[1] + FRAME[3] - moves["y_mm"]
    return moves


def shifted(moves: MoveArray) -> MoveArray:
    moves["x_mm"] += 1.0
    return moves


def stronger(moves: MoveArray) -> MoveArray:
    moves["power"] = np.where(moves["power"] > 0.3, 0.45, moves["power"])
    return moves


def weaker(moves: MoveArray) -> MoveArray:
    moves["power"] = np.where(moves["power"] > 0.3, 0.15, moves["power"])
    return moves


def faster(moves: MoveArray) -> MoveArray:
    moves["speed_mm_s"] = np.where(moves["power"] > 0.0, 350.0, moves["speed_mm_s"])
    return moves


def half_left_out(moves: MoveArray) -> MoveArray:
    moves["power"][len(moves) // 2 :] = 0.0
    return moves


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (mirrored, "burned"),
        (upside_down, "burned"),
        (shifted, "where nothing is wanted"),
        (stronger, "the recipe says 10.0% to 40.0%"),
        (weaker, "dark instead of"),
        (faster, "350.00 mm/s"),
        (half_left_out, "dark instead of"),
    ],
)
def test_spoiled_photos_are_found(change: Callable[[MoveArray], MoveArray], told: str) -> None:
    assert told in " ".join(faults(sheet(change=change)))


def test_a_photo_burned_once_instead_of_twice_is_found() -> None:
    once = sheet()
    asked = replace(once, recipes={Process.PHOTO: recipe(passes=2)})
    assert "dark instead of" in " ".join(faults(asked))


def test_a_photo_without_a_recipe_or_a_burn_is_found() -> None:
    good = sheet()
    assert "no recipe" in " ".join(faults(replace(good, recipes={})))
    bare = replace(good, toolpath=Toolpath(good.toolpath.moves[:0]))
    assert "is burned 0% dark" in " ".join(faults(bare))


def stamp(change: Callable[[MoveArray], MoveArray]) -> PlannedSheet:
    """The ground round a square that stands on a shoulder of 2 mm."""
    used = Recipe(
        machine="trial",
        process="engrave",
        speed_mm_s=300.0,
        power=0.4,
        interval_mm=0.1,
        invert=True,
        shoulder_mm=2.0,
    )
    relief = MultiPolygon([box(30.0, 18.0, 36.0, 24.0)])
    ground = MultiPolygon([box(*FRAME).difference(relief)])
    path = engrave_shoulders(ground, relief, used, tile.machine(), source=0).toolpath
    return tile.sheet(
        toolpath=Toolpath(change(path.moves.copy()), path.start_mm),
        recipes={Process.ENGRAVE: used},
        intended=Intended(cuts=(), scores=(), area=ground, relief=relief),
    )


def even(moves: MoveArray) -> MoveArray:
    moves["power"] = np.where(moves["power"] > 0.0, 0.4, 0.0)
    return moves


def test_the_power_on_a_shoulder_is_proven() -> None:
    assert faults(stamp(lambda moves: moves)) == ()
    assert "does not fit the shoulder" in " ".join(faults(stamp(even)))
    assert "does not fit the shoulder" in " ".join(faults(stamp(mirrored)))
