"""Photos burned in rows: where, how strong, in what order, and how long it takes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box

from axis_limits import limits
from kerfwright.drawing.model import Picture
from kerfwright.engraving.burn import Burn, row_motion
from kerfwright.engraving.photo import PhotoBurner, burn_photo
from kerfwright.engraving.photo_cells import PhotoPlace, burned_runs, cells_of, photo_places
from kerfwright.geometry.affine import Affine, rotation, translation
from kerfwright.geometry.paths import Path
from kerfwright.motion.timing import time_toolpath
from kerfwright.parts.model import EngraveMark, Part, PhotoMark
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Toolpath

V, INTERVAL = 200.0, 0.5
MACHINE = Machine(
    name="trial",
    bed_width_mm=300.0,
    bed_height_mm=200.0,
    power_w=40.0,
    spot_mm=0.5,
    junction_deviation_mm=1e-9,
    travel=limits(1000.0, 3000.0),
    cutting=limits(500.0, 3000.0),
    scanning=limits(500.0, 3000.0),
)


def recipe(**keys: Any) -> Recipe:
    settings = {
        "machine": "trial",
        "process": "photo",
        "speed_mm_s": V,
        "power": 0.6,
        "interval_mm": INTERVAL,
    }
    return Recipe.model_validate({**settings, **keys})


def picture(grey: np.ndarray[Any, Any], width: float = 20.0, height: float = 10.0) -> Picture:
    return Picture("p", grey.astype(np.uint8), Affine(a=width, d=-height, f=height))


def place(grey: np.ndarray[Any, Any], area: Polygon | None = None) -> PhotoPlace:
    return PhotoPlace(picture(grey), MultiPolygon([area or box(0.0, 0.0, 20.0, 10.0)]))


def burns(toolpath: Toolpath) -> np.ndarray[Any, Any]:
    points = toolpath.points
    return np.hstack([points[:-1], points[1:]])[toolpath.burning]


def slope(rows: int = 40, columns: int = 80) -> np.ndarray[Any, Any]:
    return np.tile(np.linspace(0, 255, columns), (rows, 1))


@given(
    grey=st.lists(st.integers(0, 255), min_size=12, max_size=12),
    method=st.sampled_from(["power", "floyd-steinberg", "atkinson", "ordered", "blue-noise"]),
    turn=st.sampled_from([0.0, 90.0, 30.0, 211.0]),
    radius=st.floats(2.0, 8.0),
    rows=st.sampled_from(["level", "upright", "fastest"]),
)
def test_nothing_burns_outside_the_part_nor_the_picture(
    grey: list[int], method: str, turn: float, radius: float, rows: Any
) -> None:
    dots = np.array(grey, dtype=np.uint8).reshape(3, 4)
    turned = picture(dots).transformed(rotation(turn))
    frame = Polygon(turned.corners_mm)
    ring = Point(frame.centroid).buffer(radius).difference(Point(frame.centroid).buffer(1.0))
    area = frame.intersection(ring)
    burned = burn_photo(
        PhotoPlace(turned, MultiPolygon([area])),
        recipe(method=method),
        MACHINE,
        rows=rows,
        source=3,
    ).toolpath
    lines = shapely.linestrings(burns(burned).reshape(-1, 2, 2))
    assert shapely.covers(area.buffer(1e-6), lines).all()
    moves = burned.moves
    assert (moves["power"] <= 0.6).all()
    assert set(moves["source"][moves["kind"] != MoveKind.TRAVEL]) <= {3}
    off = moves["kind"] != MoveKind.ROW
    assert (moves["power"][off] == 0.0).all()


@pytest.mark.parametrize("method", ["power", "stucki", "ordered"])
def test_black_is_burned_over_the_whole_width_and_white_not_at_all(method: str) -> None:
    for grey, width in ((0, 20.0), (255, 0.0)):
        cells = cells_of(place(np.full((3, 4), grey)), recipe(method=method), 0.0)
        runs = burned_runs(cells, recipe(method=method))
        length = np.bincount(runs.row, runs.b - runs.a, minlength=20)
        assert length == pytest.approx(np.full(20, width))


@given(shares=st.lists(st.integers(1, 30), min_size=1, max_size=6))
def test_runs_of_all_shades_add_up_to_the_width(shares: list[int]) -> None:
    # every shade is dark enough to be burned
    grey = np.repeat(np.arange(len(shares)) * 40 % 240, shares)[None, :]
    runs = burned_runs(cells_of(place(grey), recipe(method="power"), 0.0), recipe(method="power"))
    length = np.bincount(runs.row, runs.b - runs.a)
    assert length == pytest.approx(np.full(20, 20.0))
    same_row = runs.row[1:] == runs.row[:-1]
    assert runs.b[:-1][same_row] == pytest.approx(runs.a[1:][same_row])
    assert (runs.power[:-1][same_row] != runs.power[1:][same_row]).all()


def test_transparent_places_stay_bare_also_inverted() -> None:
    grey = np.full((10, 20), 255)
    alpha = np.full((10, 20), 255, dtype=np.uint8)
    alpha[:, 10:] = 0
    clear = Picture("p", grey.astype(np.uint8), picture(grey).to_mm, alpha=alpha)
    whole = PhotoPlace(clear, MultiPolygon([box(0.0, 0.0, 20.0, 10.0)]))
    burned = burn_photo(whole, recipe(invert=True), MACHINE, source=0).toolpath
    ends = burns(burned)
    assert ends[:, [0, 2]].max() <= 10.0 + INTERVAL
    assert np.hypot(*(ends[:, 2:] - ends[:, :2]).T).sum() == pytest.approx(
        100.0 / INTERVAL, rel=0.06
    )


def test_a_picture_lies_as_its_corners_say() -> None:
    # upper left quarter black: burned at small x and large y
    grey = np.full((20, 20), 255)
    grey[:10, :10] = 0
    for rows in ("level", "upright"):
        ends = burns(burn_photo(place(grey), recipe(), MACHINE, rows=rows, source=0).toolpath)
        assert ends[:, [0, 2]].max() <= 10.0 + 1e-9
        assert ends[:, [1, 3]].min() >= 5.0 - 1e-9
        assert np.abs(ends[:, 2:] - ends[:, :2]).sum() == pytest.approx(100.0, rel=0.02)


def test_rows_run_to_and_fro_and_the_clock_is_the_closed_form() -> None:
    """A black photo is the solid rectangle: a row costs L/v and a turn, see the trade's times."""
    burned = burn_photo(place(np.zeros((2, 2))), recipe(), MACHINE, rows="level", source=0)
    ends = burns(burned.toolpath)
    assert (np.sign(ends[:, 2] - ends[:, 0]) == np.tile([1, -1], 10)).all()
    motion = row_motion(MACHINE, Burn(V, 0.6, INTERVAL, 0.5, 0), 0.0)
    ramps = 2.0 * motion.run_up_mm / V
    expected = 20 * 20.0 / V + 19 * motion.turn_s + 2.0 * ramps
    real = time_toolpath(burned.toolpath, MACHINE).total_s
    assert real == pytest.approx(expected, rel=0.002)
    assert burned.times_s["level"] == pytest.approx(real)


def test_a_wide_gap_is_jumped_where_that_is_faster() -> None:
    grey = np.full((4, 60), 255)
    grey[:, :2] = grey[:, -2:] = 0
    wide = PhotoPlace(
        Picture("p", grey.astype(np.uint8), Affine(a=280.0, d=-2.0, f=2.0)),
        MultiPolygon([box(0.0, 0.0, 280.0, 2.0)]),
    )
    kinds = burn_photo(wide, recipe(), MACHINE, rows="level", source=0).toolpath.moves["kind"]
    assert (kinds == MoveKind.TRAVEL).sum() >= 4


def test_the_faster_direction_is_taken_and_both_are_told() -> None:
    tall = PhotoPlace(
        Picture("p", np.zeros((8, 2), dtype=np.uint8), Affine(a=5.0, d=-100.0, f=100.0)),
        MultiPolygon([box(0.0, 0.0, 5.0, 100.0)]),
    )
    burned = burn_photo(tall, recipe(), MACHINE, source=0)
    assert burned.rows == "upright"
    assert burned.times_s["upright"] < burned.times_s["level"]
    asked = burn_photo(tall, recipe(), MACHINE, rows="level", source=0)
    assert asked.rows == "level"


def test_every_pass_burns_the_same() -> None:
    once = burn_photo(place(slope()), recipe(), MACHINE, source=0).toolpath
    twice = burn_photo(place(slope()), recipe(passes=2), MACHINE, source=0).toolpath
    assert twice.burning.sum() == 2 * once.burning.sum()


def test_copies_are_burned_alike_and_run_ups_keep_on_the_bed() -> None:
    burner = PhotoBurner(recipe(), MACHINE)
    made = []
    for x in (0.0, 100.0):
        moved = PhotoPlace(
            picture(slope()).transformed(translation(x, 7.0)),
            MultiPolygon([box(x, 7.0, x + 20.0, 17.0)]),
        )
        made.append(burner.burn(moved, rows="level", source=1, same=("a",)))
    first, second = (burns(one.toolpath) for one in made)
    assert second == pytest.approx(first + np.array([100.0, 0.0, 100.0, 0.0]))
    assert made[0].toolpath.points[:, 0].min() >= -1e-9
    assert "engraving/short-run-up" in {finding.code for finding in made[0].findings}


def test_pictures_hide_what_lies_below_and_leave_engraved_areas_alone() -> None:
    outline = Path(np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 20.0], [0.0, 20.0]]), closed=True)
    below = Picture("below", np.zeros((1, 1), dtype=np.uint8), Affine(a=20.0, d=-20.0, f=20.0))
    above = below.transformed(translation(15.0, 0.0))
    mark = EngraveMark("rect", "", MultiPolygon([box(0.0, 0.0, 5.0, 20.0)]))
    part = Part("tag", "d", outline, engraves=(mark,), photos=(PhotoMark(below), PhotoMark(above)))
    areas = [one.area for one in photo_places(part)]
    assert [area.area for area in areas] == pytest.approx([200.0, 300.0])
    assert areas[0].intersection(areas[1]).area == 0.0


def test_a_bare_photo_and_unmeasured_tones_are_told() -> None:
    white = burn_photo(place(np.full((2, 2), 255)), recipe(gamma=1.0), MACHINE, source=0)
    assert [finding.code for finding in white.findings] == ["engraving/photo-bare"]
    assert len(white.toolpath) == 0
    plain = burn_photo(place(slope()), recipe(), MACHINE, source=0)
    assert [finding.code for finding in plain.findings] == ["engraving/tones-not-measured"]
    fine = burn_photo(place(slope()), recipe(gamma=1.0, dot_mm=0.1), MACHINE, source=0)
    assert [finding.code for finding in fine.findings] == ["engraving/dot-shorter-than-spot"]


def test_a_controller_that_cannot_keep_up_is_told() -> None:
    """Dots of 0.25 mm set and left in turn at 200 mm/s are 800 moves a second."""
    grey = np.tile([0, 255], (20, 40))
    for limit, told in ((700.0, True), (900.0, False)):
        controller = MACHINE.controller.model_copy(update={"moves_per_s": limit})
        slow = MACHINE.model_copy(update={"controller": controller})
        photo = recipe(gamma=1.0, dot_mm=0.25)
        burned = burn_photo(place(grey), photo, slow, rows="level", source=0)
        codes = {finding.code for finding in burned.findings}
        assert ("engraving/too-many-moves" in codes) is told
