"""From stock on record to a plan, its run, and the offcut that comes back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from shapely import Polygon, box

from kerfwright.cli import BAD_INPUT
from small_shop import STOCK, Ran, SmallShop, run

SCHEMA = Path(__file__).resolve().parents[2] / "docs" / "schema" / "plan.schema.json"


@pytest.fixture(autouse=True)
def records_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "records" / "records.sqlite"
    monkeypatch.setenv("KERFWRIGHT_RECORDS", str(place))
    return place


@pytest.fixture
def shop(shop: SmallShop) -> SmallShop:
    """Its order takes sheets from the records, and has none of its own."""
    shop.order(stock="")
    shop.change("order.toml", 'machine = "m', 'stock_from = "records"\nmachine = "m')
    return shop


def done(*words: object) -> Ran:
    ran = run(*words)
    assert ran.exit_code == 0, ran.stderr
    return ran


def refused(*words: object) -> Ran:
    """A command that must be refused, and leaves the records as they were."""
    before = stock("--all")
    ran = run(*words)
    assert ran.exit_code == BAD_INPUT
    assert stock("--all") == before
    return ran


def receive(*words: object) -> None:
    done("stock", "receive", "board", *words)


def stock(*words: object) -> dict[str, dict[str, Any]]:
    lots: list[dict[str, Any]] = json.loads(done("stock", "list", "--json", *words).stdout)["lots"]
    return {one["label"]: one for one in lots}


def test_offcuts_are_taken_first_and_planning_changes_nothing(shop: SmallShop) -> None:
    receive("300x200", "--count", 4, "--location", "rack 2")
    receive("120x100", "--offcut", "--location", "box 7")
    before = stock()
    (sheet,) = shop.planned()["sheets"]
    assert (sheet["sheet"], sheet["label"], sheet["from_offcut"]) == ("E-001", "E-001", True)
    assert (sheet["width_mm"], sheet["height_mm"]) == (120.0, 100.0)
    assert stock() == before
    ticket = (shop.out / "ticket.html").read_text("utf-8")
    assert "E-001" in ticket
    assert "box 7" in ticket


def test_plan_json_is_as_its_schema_says_with_and_without_labels(shop: SmallShop) -> None:
    schema = Draft202012Validator(json.loads(SCHEMA.read_text("utf-8")))
    receive("300x200")
    document = shop.planned()
    assert list(schema.iter_errors(document)) == []
    shop.order(stock=STOCK)
    document = shop.planned()
    assert list(schema.iter_errors(document)) == []
    assert document["sheets"][0]["label"] is None


def test_an_odd_offcut_is_planned_within_its_outline(shop: SmallShop) -> None:
    receive("120x100", "--offcut", "--outline", "0,0 120,0 60,100 0,100; 5,80 15,80 15,90")
    (sheet,) = shop.planned()["sheets"]
    piece = Polygon([(0, 0), (120, 0), (60, 100), (0, 100)], [[(5, 80), (15, 80), (15, 90)]])
    for part in sheet["parts"]:
        x, y = part["x_mm"], part["y_mm"]
        assert piece.covers(box(x, y, x + part["width_mm"], y + part["height_mm"]))


def test_a_sheet_that_only_fits_turned_is_turned_and_a_larger_one_left_out(
    shop: SmallShop,
) -> None:
    receive("280x390")  # the bed has 400 × 300
    receive("900x900", "--count", 2)
    document = shop.planned()
    (sheet,) = document["sheets"]
    assert (sheet["label"], sheet["width_mm"], sheet["height_mm"]) == ("S-001", 390.0, 280.0)
    (note,) = (one for one in document["findings"] if one["code"] == "stock/too-big-for-bed")
    assert note["count"] == 2
    assert "S-002" in note["what"]


def test_nothing_in_stock_stops_the_plan_and_says_how_to_put_it_in(shop: SmallShop) -> None:
    done("stock", "receive", "other board", "300x200")
    ran = shop.plan()
    assert ran.exit_code == BAD_INPUT
    assert "kerfwright stock receive" in ran.stderr
    assert "order/stock-missing" in ran.stderr


def test_too_little_in_stock_says_where_more_is_put_in(shop: SmallShop) -> None:
    receive("40x40")
    shop.change("order.toml", "[[items]]", "[[items]]\nquantity = 99")
    ran = shop.plan()
    assert ran.exit_code == BAD_INPUT
    assert "nesting/" in ran.stderr
    assert "kerfwright stock receive" in ran.stderr


def test_the_choice_of_sheets_on_record_is_overruled_in_the_order(shop: SmallShop) -> None:
    receive("300x200", "--price-per-m2", "50")
    (placing,) = (one for one in shop.planned()["decisions"] if one["code"] == "nesting/placing")
    assert placing["override"] == "the sheets to use as [[stock]] blocks, without stock_from"


def test_a_sheet_of_the_order_may_not_have_the_label_of_one_in_stock(shop: SmallShop) -> None:
    receive("300x200", "--label", "offcut")
    shop.write("order.toml", (shop.folder / "order.toml").read_text("utf-8") + STOCK)
    ran = shop.plan()
    assert ran.exit_code == BAD_INPUT
    assert "order/sheet-twice" in ran.stderr


def test_a_run_uses_the_sheet_up_and_the_offcut_comes_back(shop: SmallShop) -> None:
    receive("300x200", "--count", 2, "--location", "rack 2", "--price-per-m2", "20")
    document = shop.planned()
    left = document["sheets"][0]["left"]
    assert left["worth_keeping"]
    done("stock", "reserve", shop.out, "--by", "keeper")
    assert stock()["S-001"]["reserved"] == {"Small order": 1}
    said = done("record", shop.out, "--minutes", "1:00", "--sure").stdout
    assert "Write E-001 on it" in said
    after = stock()
    assert (after["S-001"]["on_hand"], after["S-001"]["reserved"]) == (1, {})
    piece = after["E-001"]
    assert (piece["cut_from"], piece["location"]) == ("S-001", "rack 2")
    assert piece["price_per_m2"] == "20"
    assert piece["area_mm2"] == pytest.approx(left["offcut_mm2"], rel=1e-6)
    # the next plan takes the offcut
    (sheet,) = shop.planned()["sheets"]
    assert sheet["label"] == "E-001"
    placed = Polygon(piece["rings"][0], piece["rings"][1:])
    for part in sheet["parts"]:
        x, y = part["x_mm"], part["y_mm"]
        assert placed.covers(box(x, y, x + part["width_mm"], y + part["height_mm"]))


def test_what_is_too_narrow_to_keep_does_not_come_back(shop: SmallShop) -> None:
    receive("60x50")
    assert not shop.planned()["sheets"][0]["left"]["worth_keeping"]
    said = done("record", shop.out, "--seconds", "60", "--sure").stdout
    assert "no offcut was put into stock" in said
    assert list(stock("--all")) == ["S-001"]


def test_a_run_may_leave_the_stock_alone_or_take_another_piece(shop: SmallShop) -> None:
    receive("300x200")
    receive("300x200")
    shop.planned()
    done("record", shop.out, "--seconds", "60", "--sure", "--no-stock")
    assert stock()["S-001"]["on_hand"] == 1
    done("record", shop.out, "--seconds", "60", "--sure", "--again", "--laid-in", "s-002")
    assert sorted(stock()) == ["E-001", "S-001"]
    # one program, one sheet: what is used up cannot be used again
    again = ("record", shop.out, "--seconds", "60", "--sure", "--again", "--laid-in", "S-002")
    assert "stock/not-enough" in refused(*again).stderr
    assert len(json.loads(done("records", "--json").stdout)["runs"]) == 2


def test_a_forgotten_run_says_that_its_sheet_stays_used(shop: SmallShop) -> None:
    receive("300x200")
    shop.planned()
    done("record", shop.out, "--seconds", "60", "--sure")
    said = done("record", "--forget", 1).stdout
    assert "kerfwright stock return S-001" in said
    # what was put in as left of it would be there twice
    assert ("kerfwright stock scrap E-001" in said) == ("E-001" in stock())
    done("stock", "return", "S-001")
    assert stock()["S-001"]["on_hand"] == 1


def test_what_is_reserved_for_another_order_is_not_planned_on(shop: SmallShop) -> None:
    receive("300x200")
    receive("310x210")
    shop.planned()
    taken = shop.document()["sheets"][0]["label"]
    done("stock", "reserve", shop.out)
    # the same order planned again may have its own sheet
    assert shop.planned()["sheets"][0]["label"] == taken
    shop.change("order.toml", "Small order", "Another order")
    document = shop.planned()
    assert document["sheets"][0]["label"] != taken
    assert "stock/reserved-for-others" in {one["code"] for one in document["findings"]}
    done("stock", "release", "--order", "Small order")
    assert all(not one["reserved"] for one in stock().values())


def test_a_plan_on_its_own_sheets_has_nothing_to_reserve(shop: SmallShop) -> None:
    shop.order(stock=STOCK)
    shop.planned()
    assert "stock/no-labels" in refused("stock", "reserve", shop.out).stderr


def test_pieces_are_found_by_what_fits_in_the_smallest_first(shop: SmallShop) -> None:
    del shop
    receive("300x200", "--price-per-m2", "50")
    receive("160x110", "--offcut", "--price-per-m2", "50")
    receive("220x160", "--offcut", "--outline", "0,0 220,0 0,160")
    assert list(stock("--fits", "100x150")) == ["E-001", "S-001"]
    assert list(stock("--fits", "110x80")) == ["E-001", "E-002", "S-001"]
    assert stock("--material", "plywood") == {}
    said = done("stock", "list").stdout
    assert "Worth 3.44 in all" in said  # 0.06 m² and half of 0.0176 m², at 50
    assert "1 sheet without a price" in said


def test_stock_goes_through_a_table_and_all_records_through_a_backup(
    shop: SmallShop, tmp_path: Path
) -> None:
    receive("300x200", "--count", 3)
    shop.planned()
    done("record", shop.out, "--seconds", "60", "--sure")
    table, backup, new = tmp_path / "stock.csv", tmp_path / "all.json", tmp_path / "new.sqlite"
    done("stock", "export", table)
    done("stock", "import", table, "--records", tmp_path / "other.sqlite")
    done("backup", backup)
    done("restore", backup, "--records", new)
    assert stock("--records", new) == stock()
    for words in (("restore", backup), ("stock", "import", table)):
        refused(*words)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("receive", "board"), "unclear"),
        (("receive", "board", "6x4", "--offcut", "--count", "2"), "unclear"),
        (("receive", "board", "wide"), "wrong-size"),
        (("receive", "board", "6x4", "--cost", "much"), "wrong-amount"),
        (("receive", "board", "6x4", "--outline", "0,0 9,0 0,4"), "wrong-outline"),
        (("receive", "--more", "S-009"), "no-such-label"),
        (("use", "S-001", "--left", "900x900"), "unclear"),
        (("use", "S-001", "--count", "2", "--left", "9x9"), "unclear"),
        (("use", "S-001", "--left-outline", "0,0 9,9"), "unclear"),
        (("scrap", "S-001", "--count", "9"), "not-enough"),
        (("return", "S-001"), "more-than-went-out"),
        (("release",), "unclear"),
        (("release", "S-001"), "not-reserved"),
        (("show", "E-009"), "no-such-label"),
        (("import", "no-such.csv"), "wrong-table"),
        (("export", "no/such/folder.csv"), "table-not-written"),
    ],
)
def test_what_cannot_be_is_told_plainly(words: tuple[str, ...], code: str) -> None:
    receive("300x200", "--count", 3)
    ran = refused("stock", *words)
    assert f"stock/{code}" in ran.stderr


def test_use_by_hand_brings_back_what_is_left() -> None:
    receive("300x200", "--count", 2)
    done("stock", "receive", "--more", "S-001")
    done("stock", "use", "S-001", "--left", "150x100", "--order", "Regatta", "--note", "by hand")
    done("stock", "put", "E-001", "box 7")
    assert stock()["S-001"]["on_hand"] == 2
    assert stock()["E-001"]["location"] == "box 7"
    assert "Regatta, by hand" in done("stock", "show", "S-001").stdout.replace("\n", " ")


def test_a_material_without_a_file_is_told_although_there_is_stock_of_it(shop: SmallShop) -> None:
    done("stock", "receive", "bord", "300x200")
    shop.change("order.toml", 'material = "board"', 'material = "bord"')
    ran = shop.plan()
    assert ran.exit_code == BAD_INPUT
    assert "order/material-unknown" in ran.stderr


def test_a_material_written_almost_like_another_is_asked_about() -> None:
    receive("300x200")
    assert 'but of "board"' in done("stock", "receive", "bord", "300x200").stderr
    assert done("stock", "receive", "slate", "300x200").stderr == ""


def test_the_largest_prices_and_the_smallest_pieces_can_be_planned_on(shop: SmallShop) -> None:
    receive("300x200", "--cost", "99999999.9999")
    shop.planned()
    done("record", shop.out, "--seconds", "60", "--sure")
    receive("0.01x0.01", "--cost", "99999999")
    assert shop.planned()["sheets"][0]["label"] == "E-001"


def test_two_orders_of_one_title_do_not_share_their_sheets(shop: SmallShop) -> None:
    receive("300x200", "--count", 3)
    shop.planned()
    done("stock", "reserve", shop.out)
    shop.change("order.toml", "title =", 'reference = "R-2"\ntitle =')
    assert shop.planned()["reference"] == "R-2"
    done("stock", "reserve", shop.out)
    assert stock()["S-001"]["reserved"] == {"Small order": 1, "R-2": 1}
    done("record", shop.out, "--sheet", 1, "--seconds", 30, "--sure")
    assert stock()["S-001"]["reserved"] == {"Small order": 1}
    told = done("stock", "show", "S-001").stdout
    assert "Small order (R-2)" in " ".join(told.split())
    refused("stock", "release", "S-001", "--order", "R-2")
    done("stock", "release", "S-001", "--order", "Small order")
    assert stock()["S-001"]["reserved"] == {}
