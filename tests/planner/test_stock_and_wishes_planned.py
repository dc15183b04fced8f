"""Sheets of any shape, wishes and prices of an order, from its file to the plan."""

from __future__ import annotations

from concurrent.futures import Future
from decimal import Decimal
from threading import Event
from typing import Any, get_args

import pytest
from shapely import Polygon, box

from kerfwright import planner
from kerfwright.nesting.model import LayoutSoFar
from kerfwright.planner import plan_order
from kerfwright.shop.files import load_shop
from kerfwright.shop.order import CompactTo
from small_shop import ITEM, STOCK, SmallShop, run, svg

SQUARES = """\
<g id="Outline" fill="none" stroke="black">
  <rect x="1" y="1" width="12" height="12"/><rect x="25" y="15" width="12" height="12"/>
</g>
"""
"""Two squares of 12 mm far from each other."""

CUT_OFF = [(0.0, 0.0), (120.0, 0.0), (60.0, 100.0), (0.0, 100.0)]

IRREGULAR = """
[[stock]]
material = "board"
name = "cut-off"
width_mm = 120
height_mm = 100
outline = [[0, 0], [120, 0], [60, 100], [0, 100]]
keep_out = [
  { x_mm = 0, y_mm = 0, width_mm = 25, height_mm = 20, why = "clamp" },
  { points = [[40, 60], [50, 60], [45, 75]], why = "knot" },
]
offcut = true
"""

PRICED = STOCK.replace("count = 1", "count = 9\nprice_per_m2 = 100")


def decision(document: dict[str, Any]) -> dict[str, Any]:
    (found,) = (one for one in document["decisions"] if one["code"] == "nesting/placing")
    assert isinstance(found, dict)
    return found


def test_better_layouts_are_shown_with_their_material(shop: SmallShop) -> None:
    shop.draw(SQUARES, item="quantity = 5", stock=IRREGULAR)
    seen: list[LayoutSoFar] = []
    plan = plan_order(shop.order_file, better=seen.append)
    assert {one.material for one in seen} == {"board"}
    last = seen[-1]
    placed = [last.bodies[p.body].name for sheet in last.layouts.sheets for p in sheet.placements]
    assert sorted(placed) == sorted(part.name for part in plan.sheets[0].parts)


def test_better_layouts_are_shown_with_what_their_sheets_cost(shop: SmallShop) -> None:
    shop.draw(SQUARES, item="quantity = 5", stock=PRICED)
    shop.change("order.toml", "[settings]\n", '[settings]\ncurrency = "EUR"\n')
    seen: list[LayoutSoFar] = []
    plan = plan_order(shop.order_file, better=seen.append)
    (placing,) = (one for one in plan.decisions if one.code == "nesting/placing")
    (taken,) = (one for one in placing.alternatives if one.way == placing.chosen)
    amounts = [Decimal(one.cost_in_words.removesuffix(" EUR")) for one in seen]
    assert amounts[-1] >= Decimal(taken.money or "") > 0
    assert amounts == sorted(amounts, reverse=True)


def test_layouts_on_sheets_without_a_price_are_shown_without_a_cost(shop: SmallShop) -> None:
    shop.draw(SQUARES, item="quantity = 5", stock=IRREGULAR)
    seen: list[LayoutSoFar] = []
    plan_order(shop.order_file, better=seen.append)
    assert {one.cost_in_words for one in seen} == {""}


def test_parts_lie_inside_the_outline_and_off_what_is_to_be_kept_free(shop: SmallShop) -> None:
    shop.draw(SQUARES, item="quantity = 5", stock=IRREGULAR)
    (sheet,) = shop.planned()["sheets"]
    assert sheet["from_offcut"]
    assert [one["why"] for one in sheet["kept_free"]] == ["clamp", "knot"]
    edge, clamp, knot = Polygon(CUT_OFF), box(0, 0, 25, 20), Polygon([(40, 60), (50, 60), (45, 75)])
    assert len(sheet["parts"]) == 10
    for part in sheet["parts"]:
        x, y = part["x_mm"], part["y_mm"]
        placed = box(x, y, x + part["width_mm"], y + part["height_mm"])
        assert edge.covers(placed)
        assert placed.distance(edge.boundary) >= 5.0 - 2e-3
        assert min(placed.distance(clamp), placed.distance(knot)) >= 1.0 - 2e-3


def test_the_used_fraction_is_of_the_material_there_is(shop: SmallShop) -> None:
    shop.draw(SQUARES, stock=IRREGULAR)
    (sheet,) = shop.planned()["sheets"]
    assert sheet["used_fraction"] == pytest.approx(2 * 144.0 / Polygon(CUT_OFF).area, abs=1e-4)


def test_the_plan_says_what_is_left_of_a_sheet(shop: SmallShop) -> None:
    """One square at the lower left corner: what is left beside it is known by hand."""
    square = '<rect x="1" y="1" width="20" height="20"/>'
    shop.draw(f'<g id="Outline" fill="none" stroke="black">{square}</g>')
    (sheet,) = shop.planned()["sheets"]
    left = sheet["left"]
    # margin 5, square 20, spacing 1: beside it 94 × 100 are left, above it 120 × 74
    assert left["rectangle"]["x_mm"] == pytest.approx(26.0, abs=0.1)
    assert left["rectangle"]["width_mm"] == pytest.approx(94.0, abs=0.1)
    assert left["rectangle"]["height_mm"] == pytest.approx(100.0)
    assert left["hull_fraction"] == pytest.approx(1.0, abs=1e-3)
    offcut = Polygon(left["offcut"][0], left["offcut"][1:])
    assert left["offcut_mm2"] == pytest.approx(offcut.area, rel=1e-4)


def test_prices_are_told_term_by_term(shop: SmallShop) -> None:
    settings = 'rate_per_hour = 36\ncurrency = "crowns"\noffcut_least_mm = 50'
    shop.draw(SQUARES, stock=PRICED, settings=settings)
    document = shop.planned()
    found = decision(document)
    (taken,) = (way for way in found["alternatives"] if way["way"] == found["chosen"])
    left = document["sheets"][0]["left"]["rectangle"]
    sheets = 100.0 * 0.012
    left_over = 0.5 * 100.0 * left["width_mm"] * left["height_mm"] / 1e6
    machine = 36.0 * document["totals"]["time_s"] / 3600.0
    assert float(taken["money"]) == pytest.approx(sheets - left_over + machine, abs=0.006)
    assert "sheets 1.20 crowns, less" in taken["note"]
    assert min(float(way["money"]) for way in found["alternatives"]) == float(taken["money"])


def test_what_the_sheets_do_not_take_is_told_and_not_planned(shop: SmallShop) -> None:
    shop.order(item="quantity = 9", settings='if_sheets_run_out = "leave-over"')
    document = shop.planned()
    (left,) = document["left_to_make"]
    placed = document["sheets"][0]["parts_placed"]
    assert (left["reason"], left["count"]) == ("out-of-sheets", 9 - placed)
    assert placed > 0
    (told,) = (f for f in document["findings"] if f["code"] == "nesting/left-over")
    assert told["severity"] == "warn"
    assert told["count"] == 9 - placed


def test_a_kit_that_is_left_over_is_told_to_belong_together(shop: SmallShop) -> None:
    tile = ITEM.format(drawing="tile.svg")
    items = f'{tile}name = "hull"\nquantity = 99\nkit = "dinghy"\n{tile}'
    shop.order(items=items, settings='if_sheets_run_out = "leave-over"')
    document = shop.planned()
    (left,) = document["left_to_make"]
    assert (left["count"], left["reason"]) == (99, "kit-too-big")
    (told,) = (f for f in document["findings"] if f["code"] == "nesting/left-over")
    assert '"dinghy" must lie on one sheet' in told["what"]


def test_what_is_due_sooner_is_made_when_sheets_run_out(shop: SmallShop) -> None:
    shop.write("other.svg", (shop.folder / "tile.svg").read_text("utf-8"))
    items = ITEM.format(drawing="tile.svg") + "quantity = 4\ndue = 2031-05-21\n"
    items += ITEM.format(drawing="other.svg") + "quantity = 4\ndue = 2031-05-20\n"
    shop.order(items=items, settings='if_sheets_run_out = "leave-over"')
    document = shop.planned()
    assert {one["name"] for one in document["left_to_make"]} == {"tile"}
    drawings = [part["drawing"] for part in document["sheets"][0]["parts"]]
    assert drawings.count("other.svg") == 4


def test_a_drawing_lies_where_the_order_has_it(shop: SmallShop) -> None:
    shop.draw(SQUARES, item="at_mm = [40, 30]")
    parts = shop.planned()["sheets"][0]["parts"]
    corners = sorted((part["x_mm"], part["y_mm"]) for part in parts)
    assert corners == [(40.0, 44.0), (64.0, 30.0)]


def test_compact_slides_a_drawing_together_without_turning(shop: SmallShop) -> None:
    shop.draw(SQUARES, item='place = "compact"')
    document = shop.planned()
    assert decision(document)["chosen"] == "compact"
    one, other = document["sheets"][0]["parts"]
    gap_mm = max(abs(one["x_mm"] - other["x_mm"]), abs(one["y_mm"] - other["y_mm"])) - 12.0
    assert gap_mm == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("what", ["parts", "drawing"])
@pytest.mark.parametrize("to", get_args(CompactTo))
def test_compact_lies_at_the_side_of_the_sheet(shop: SmallShop, to: str, what: str) -> None:
    """A sheet of 120 × 100 mm with a margin of 5 mm; the drawing's squares reach up to 31 mm."""
    item = f'place = "compact"\ncompact_to = "{to}"\ncompact_as = "{what}"\nturns_deg = [0]'
    shop.draw(SQUARES, item=item)
    parts = shop.planned()["sheets"][0]["parts"]
    low_x, low_y = (min(part[f"{axis}_mm"] for part in parts) for axis in "xy")
    high_x, high_y = (max(part[f"{axis}_mm"] for part in parts) + 12.0 for axis in "xy")
    words = set(to.split("-"))
    ends = {"left": (low_x, 5.0), "right": (high_x, 115.0)}
    ends |= {"bottom": (low_y, 5.0), "top": (high_y, 95.0)}
    for word in words:
        end, expected = ends[word]
        assert end == pytest.approx(expected, abs=2e-3)
    if what == "drawing":
        # drawn 24 and 14 mm apart
        assert (high_x - low_x, high_y - low_y) == pytest.approx((36.0, 26.0), abs=2e-3)
    if not words & {"bottom", "top"} and what == "drawing":
        # a drawing 32 mm high: its squares lie at 5 and 19 mm
        assert (low_y, high_y) == pytest.approx((5.0, 31.0), abs=2e-3)


def test_a_compact_drawing_keeps_its_height_on_the_way_to_the_left(shop: SmallShop) -> None:
    lone = (
        '<g id="Outline" fill="none" stroke="black"><rect x="25" y="2" width="12" height="9"/></g>'
    )
    shop.draw(lone, item='place = "compact"\ncompact_to = "left"\nturns_deg = [0]')
    (part,) = shop.planned()["sheets"][0]["parts"]
    assert (part["x_mm"], part["y_mm"]) == pytest.approx((5.0, 32.0 - 11.0), abs=2e-3)


TRIANGLE = '<g id="Outline" fill="none" stroke="black"><path d="M1 1H25L1 19Z"/></g>'


def test_edges_are_shared_where_that_is_quicker(shop: SmallShop) -> None:
    """Right triangles pair along their longest edge: that cut alone saves 30 mm a pair."""
    shop.draw(TRIANGLE, item="quantity = 6", settings='edges = "shared"')
    document = shop.planned()
    found = decision(document)
    assert found["chosen"] == "edge-to-edge"
    times = {way["way"]: way["time_s"] for way in found["alternatives"]}
    # the board's recipe cuts 16 mm/s: three pairs along the hypotenuse save 90 mm and more
    assert times["nest"] - times["edge-to-edge"] > 90.0 / 16.0 - 1.0
    (shared,) = (one for one in document["decisions"] if one["chosen"] == "cut once")
    assert shared["saved_s"] > 0.0


def test_edges_of_one_item_are_shared_and_those_of_another_are_not(shop: SmallShop) -> None:
    shop.write("alone.svg", svg(TRIANGLE))
    shop.write("drawn.svg", svg(TRIANGLE))
    items = ITEM.format(drawing="drawn.svg") + 'quantity = 4\nedges = "shared"\n'
    items += ITEM.format(drawing="alone.svg") + "quantity = 2\n"
    shop.order(items=items)
    document = shop.planned()
    assert decision(document)["chosen"] == "edge-to-edge"
    (shared,) = (one for one in document["decisions"] if one["chosen"] == "cut once")
    # two pairs along the hypotenuse of 30 mm at least, at 16 mm/s
    assert shared["saved_s"] > 2 * 30.0 / 16.0 - 1.0
    shop.order(items=items.replace('"shared"', '"apart"'), settings='edges = "shared"')
    document = shop.planned()
    assert "edge-to-edge" in [way["way"] for way in decision(document)["alternatives"]]


def test_counted_work_places_parts_the_same_every_time(shop: SmallShop) -> None:
    shop.draw(SQUARES, item="quantity = 5", settings="nest_work = 20_000")
    first = [sheet["parts_placed"] for sheet in shop.planned()["sheets"]]
    assert first == [sheet["parts_placed"] for sheet in shop.planned()["sheets"]]


def test_nest_can_be_asked_for(shop: SmallShop) -> None:
    shop.draw(SQUARES, item='place = "nest"')
    found = decision(shop.planned())
    assert (found["chosen"], found["why"]) == ("nest", "the order asks for it")


@pytest.mark.parametrize(
    ("stock", "item", "code", "words"),
    [
        ("outline = [[0, 0], [130, 0], [0, 90]]", "", "outline-beyond-sheet", "stock[1].outline"),
        ("outline = [[0, 0], [90, 90], [90, 0], [0, 90]]", "", "outline-crosses-itself", "outline"),
        ("keep_out = [{ x_mm = 1 }]", "", "keep-out-unclear", "stock[1].keep_out[1]"),
        ('cost = "dear"', "", "wrong-type", "stock[1].cost"),
        ("cost = -1", "", "out-of-range", "stock[1].cost"),
        ("", "at_most = 3", "wishes-contradict", "items[1].at_most"),
        ("", "fill = true\nquantity = 5\nat_most = 3", "wishes-contradict", "items[1].at_most"),
        ("", "at_mm = [5, 5]\nquantity = 2", "wishes-contradict", "items[1].at_mm"),
        ("", 'at_mm = [5, 5]\non_sheet = "ofcut"', "sheet-unknown", 'Did you mean "offcut"'),
        ("", 'on_sheet = "offcut"', "wishes-contradict", "items[1].on_sheet"),
        ("", "sheet_number = 2", "wishes-contradict", "items[1].sheet_number"),
        ("", 'place = "nest"\ncompact_to = "top"', "wishes-contradict", "items[1].compact_to"),
        ("", 'place = "nest"\ncompact_as = "drawing"', "wishes-contradict", "compact_as"),
        ("", 'at_mm = [5, 5]\nkit = "a"', "wishes-contradict", "items[1].at_mm"),
        ("", 'kit = "a"\none_sheet = true', "wishes-contradict", "items[1].kit"),
        ("", 'due = "tomorrow"', "wrong-type", "2031-05-20"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    shop: SmallShop, stock: str, item: str, code: str, words: str
) -> None:
    shop.order(item=item, stock=STOCK + stock)
    refused = run("plan", shop.order_file, "--out", shop.out)
    assert refused.exit_code == 2
    assert f"order/{code}" in refused.told
    assert words in refused.told


def test_a_place_beyond_the_sheet_is_refused(shop: SmallShop) -> None:
    shop.order(item="at_mm = [100, 5]")
    refused = run("plan", shop.order_file, "--out", shop.out)
    assert refused.exit_code == 2
    assert "nesting/place-taken" in refused.told


def test_money_is_exact(shop: SmallShop) -> None:
    shop.order(stock=STOCK + "cost = 0.1")
    assert str(load_shop(shop.order_file).order.stock[0].cost) == "0.1"


def test_an_end_of_the_search_that_is_none_is_refused(shop: SmallShop) -> None:
    refused = run("plan", shop.order_file, "--out", shop.out, "--nest-until", "soon")
    assert refused.exit_code == 2
    assert "nesting/until-unclear" in refused.told


# -- Ctrl-C -----------------------------------------------------------------------------------


class Interrupted(Future[None]):
    """Work during which Ctrl-C is pressed so many times."""

    def __init__(self, times: int) -> None:
        super().__init__()
        self.times = times

    def result(self, timeout: float | None = None) -> None:
        del timeout
        self.times -= 1
        if self.times >= 0:
            raise KeyboardInterrupt


def test_the_first_interrupt_ends_only_the_search() -> None:
    stopping, told = Event(), []
    planner._await(Interrupted(1), stopping, told.append)
    assert stopping.is_set()
    assert "best layout so far is kept" in told[0]


def test_the_second_interrupt_ends_all() -> None:
    with pytest.raises(KeyboardInterrupt):
        planner._await(Interrupted(2), Event(), lambda _: None)
