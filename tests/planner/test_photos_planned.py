"""A picture made of dots goes the whole way: from the order to a proven program and the ticket."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from PIL import Image

from kerfwright.planner import plan_order
from kerfwright.toolpath import MoveKind, Process
from small_shop import BOARD, OUTLINE, STOCK, SmallShop

PHOTO = """
[[recipes]]
machine = "trial machine"
process = "photo"
speed_mm_s = 400
power = 0.5
interval_mm = 0.2
"""

BY_POWER = 'method = "power"\npower_min = 0.1\ngrey_curve = [[0.1, 0], [0.2, 0.5], [0.5, 1]]\n'


def harbour(shop: SmallShop, name: str = "harbour.png") -> None:
    """Dark below, light above, with a dark hull on the left."""
    grey = np.tile(np.linspace(250, 90, 90)[:, None], (1, 120))
    grey[50:70, 10:60] = 10
    Image.fromarray(grey.astype(np.uint8)).save(shop.folder / name)


def with_picture(shop: SmallShop, recipe: str, **order: str) -> None:
    harbour(shop)
    shop.write("board.toml", BOARD + PHOTO + recipe)
    shop.draw(OUTLINE + '<image href="harbour.png" x="5" y="5" width="32" height="24"/>', **order)


@pytest.mark.parametrize(
    "recipe",
    [
        BY_POWER,
        'method = "stucki"\ngamma = 1.3\n',
        'method = "atkinson"\n',
        'method = "ordered"\npasses = 2\n',
        'method = "blue-noise"\ninvert = true\ndot_mm = 0.3\n',
    ],
)
def test_a_photo_is_planned_written_and_proven(shop: SmallShop, recipe: str) -> None:
    with_picture(shop, recipe)
    document = shop.planned()
    times = document["sheets"][0]["time_by_process_s"]
    assert set(times) == {"cut", "photo"}
    assert times["photo"] > 2.0
    assert "engraving/photo-rows" in {one["code"] for one in document["decisions"]}
    ticket = (shop.out / "ticket.html").read_text(encoding="utf-8")
    assert 'src="data:image/png;base64,' in ticket
    layout = next(shop.out.glob("*.svg")).read_text(encoding="utf-8")
    assert '<g id="photo">' in layout


def test_power_never_exceeds_the_recipe_and_dots_have_just_one(shop: SmallShop) -> None:
    for recipe, many in ((BY_POWER, True), ('method = "stucki"\n', False)):
        with_picture(shop, recipe)
        (sheet,) = plan_order(shop.order_file).sheets
        moves = sheet.toolpath.moves
        of_photo = [n for n, one in enumerate(sheet.sources) if one.process is Process.PHOTO]
        powers = moves["power"][np.isin(moves["source"], of_photo) & sheet.toolpath.burning]
        assert powers.max() <= 0.5
        assert powers.min() >= 0.1
        assert (len(np.unique(powers)) > 10) is many


def test_a_picture_file_alone_is_burned_on_a_blank(shop: SmallShop) -> None:
    harbour(shop)
    shop.write("board.toml", BOARD + PHOTO)
    shop.order("harbour.png", item="width_mm = 40\nblank = true\n")
    document = shop.planned()
    assert set(document["sheets"][0]["time_by_process_s"]) == {"photo"}


def test_without_a_photo_recipe_the_plan_stops_and_offers_what_to_do(shop: SmallShop) -> None:
    with_picture(shop, "")
    shop.write("board.toml", BOARD)
    ran = shop.plan()
    assert ran.exit_code != 0
    assert "no photo recipe" in ran.told
    assert "Burn a test piece" in ran.told
    assert 'pictures = "trace"' in ran.told
    assert not shop.out.exists()


def test_turned_copies_are_burned_and_proven(shop: SmallShop) -> None:
    with_picture(shop, BY_POWER, item="quantity = 3\nturns_deg = [90, 180]\n")
    document = shop.planned()
    assert document["sheets"][0]["parts_placed"] == 3


def test_a_mirrored_drawing_is_burned_mirrored(shop: SmallShop) -> None:
    """The hull is on the left; mirrored, the darkest burns are on the right of the part."""
    middles = []
    for mirror in ("false", "true"):
        with_picture(shop, BY_POWER, item=f"mirror = {mirror}\nturns_deg = [0]\n")
        (sheet,) = plan_order(shop.order_file).sheets
        moves, points = sheet.toolpath.moves, sheet.toolpath.points
        darkest = sheet.toolpath.burning & (moves["kind"] == MoveKind.ROW) & (moves["power"] > 0.4)
        left, _, right, _ = sheet.parts[0].outline.bounds_mm
        at = 0.5 * (points[:-1, 0] + points[1:, 0])[darkest]
        middles.append((np.mean(at) - left) / (right - left))
        assert sheet.parts[0].outline.signed_area_mm2 > 0.0
    assert middles[0] < 0.45
    assert middles[1] == pytest.approx(1.0 - middles[0], abs=0.02)


def engrave_with(shop: SmallShop, keys: str) -> None:
    shop.change("board.toml", "interval_mm = 0.25\n", f"interval_mm = 0.25\n{keys}")


STAMP = '<g id="Engrave"><rect x="10" y="8" width="20" height="14"/></g>'


def test_a_stamp_engraves_all_but_its_marks_inside_the_border(shop: SmallShop) -> None:
    shop.draw(OUTLINE + STAMP)
    shop.change(
        "board.toml", "interval_mm = 0.25\n", "interval_mm = 0.25\ninvert = true\nborder_mm = 2\n"
    )
    (sheet,) = plan_order(shop.order_file).sheets
    assert sheet.intended.area.area == pytest.approx(36.0 * 26.0 - 20.0 * 14.0, rel=1e-6)
    told = {one["code"]: one["severity"] for one in shop.planned()["findings"]}
    assert told["engraving/stamp-not-mirrored"] == "warn"
    shop.order("drawn.svg", item="mirror = true\n")
    told = {one["code"]: one["severity"] for one in shop.planned()["findings"]}
    assert told["engraving/stamp-mirrored"] == "note"


def test_a_shoulder_of_falling_power_carries_the_marks(shop: SmallShop) -> None:
    shop.draw(OUTLINE + STAMP, item="turns_deg = [0]\n")
    engrave_with(shop, "invert = true\nborder_mm = 2\nshoulder_mm = 3\n")
    shop.planned()
    (sheet,) = plan_order(shop.order_file).sheets
    moves, points = sheet.toolpath.moves, sheet.toolpath.points
    rows = sheet.toolpath.burning & (moves["kind"] == MoveKind.ROW)
    middles = shapely.points(0.5 * (points[:-1] + points[1:])[rows])
    away = shapely.distance(sheet.intended.relief, middles)
    power = moves["power"][rows]
    assert power.max() == pytest.approx(0.42)
    assert (power[away > 3.3] == power.max()).all()
    near = away < 3.0
    assert power[near] == pytest.approx(0.42 * away[near] / 3.0, abs=0.42 * 0.15)


def test_crossed_passes_are_planned_and_proven(shop: SmallShop) -> None:
    shop.change(
        "board.toml",
        "interval_mm = 0.25\n",
        "interval_mm = 0.25\npasses = 3\npass_angle_deg = 60\n",
    )
    shop.planned()
    (sheet,) = plan_order(shop.order_file).sheets
    burning = sheet.toolpath.burning & (sheet.toolpath.moves["kind"] == MoveKind.ROW)
    steps = np.diff(sheet.toolpath.points, axis=0)[burning]
    angles = np.degrees(np.arctan2(steps[:, 1], steps[:, 0])) % 180.0
    assert set(np.round(angles, 3) % 180.0) == {0.0, 60.0, 120.0}


@pytest.mark.parametrize(
    ("recipe", "code"),
    [
        ("gamma = 1.2\ngrey_curve = [[0.1, 0], [0.5, 1]]\n", "material/grey-curve"),
        ("grey_curve = [[0.5, 0], [0.1, 1]]\n", "material/grey-curve"),
        ("grey_curve = [[0.1, 1], [0.5, 0]]\n", "material/grey-curve"),
        ('method = "power"\ngrey_curve = [[0.6, 0], [0.9, 1]]\n', "material/grey-curve"),
        ('method = "power"\npower_min = 0.5\n', "material/out-of-range"),
        ("border_mm = 2\n", "material/key-of-other-process"),
        ("shoulder_mm = 1\n", "material/key-of-other-process"),
        ('method = "newsprint"\n', "material/wrong-choice"),
        ("grey_curve = [[0.1, 0, 3], [0.5, 1]]\n", "material/"),
    ],
)
def test_photo_recipes_that_contradict_themselves_are_refused(
    shop: SmallShop, recipe: str, code: str
) -> None:
    with_picture(shop, recipe)
    ran = shop.plan()
    assert ran.exit_code != 0
    assert code in ran.told
    assert "recipes[4]" in ran.told


def test_the_interval_cannot_be_left_out(shop: SmallShop) -> None:
    with_picture(shop, "")
    shop.change("board.toml", "interval_mm = 0.2\n", "")
    assert "material/interval-missing" in shop.plan().told


def test_a_sheet_of_copies_takes_the_time_of_each(shop: SmallShop) -> None:
    with_picture(shop, BY_POWER)
    (one,) = plan_order(shop.order_file).sheets
    shop.order("drawn.svg", item="quantity = 2\n", stock=STOCK)
    (two,) = plan_order(shop.order_file).sheets
    once, twice = (s.times_by_process_s[Process.PHOTO] for s in (one, two))
    assert twice == pytest.approx(2.0 * once, rel=0.15)


def test_the_svg_of_a_photo_with_a_hole_is_burned_round_the_hole(shop: SmallShop) -> None:
    harbour(shop)
    shop.write("board.toml", BOARD + PHOTO)
    hole = '<circle cx="20" cy="16" r="5" fill="none" stroke="black"/>'
    image = '<image href="harbour.png" x="5" y="5" width="32" height="24"/>'
    shop.draw(OUTLINE + hole + image, item="turns_deg = [0]\n")
    (sheet,) = plan_order(shop.order_file).sheets
    (place,) = sheet.intended.photos
    assert place.area.area == pytest.approx(32.0 * 24.0 - np.pi * 25.0, rel=1e-3)
