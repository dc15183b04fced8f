"""An order is begun from drawings that are sent, wholly or not at all, and removed again."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
from drawn_shop import PLYWOOD, SQUARE, begun, client, sent
from fastapi.testclient import TestClient

from kerfwright.shop.files import load_order, load_shop


@pytest.fixture
def shop(tmp_path: Path) -> TestClient:
    return client(tmp_path)


def order_file(tmp_path: Path, slug: str) -> Path:
    return tmp_path / "orders" / slug / "order.toml"


def test_makes_an_order_of_its_drawings(shop: TestClient, tmp_path: Path) -> None:
    slug = begun(shop, ("a.svg", SQUARE), ("b.svg", SQUARE), due="2026-12-24")
    order = load_shop(order_file(tmp_path, slug)).order
    assert slug == "quay-names"
    assert [(item.drawing, item.material) for item in order.items] == [
        ("a.svg", PLYWOOD),
        ("b.svg", PLYWOOD),
    ]
    assert {item.due for item in order.items} == {datetime.date(2026, 12, 24)}
    assert (order_file(tmp_path, slug).parent / "a.svg").read_text() == SQUARE
    assert not (tmp_path / ".unfinished").exists()


def test_takes_sheets_of_the_size_that_was_given(shop: TestClient, tmp_path: Path) -> None:
    sizes = {"sheet_width_mm": "500", "sheet_height_mm": "280.5", "sheet_count": "3"}
    slug = begun(shop, ("a.svg", SQUARE), **sizes)
    (sheet,) = load_order(order_file(tmp_path, slug)).stock
    assert (sheet.width_mm, sheet.height_mm, sheet.count) == (500.0, 280.5, 3)


def test_offers_the_sheets_that_were_used_last(shop: TestClient) -> None:
    offered = {one["name"]: one for one in shop.get("/api/new-order").json()["materials"]}
    assert offered[PLYWOOD]["sheet"] == {"width_mm": 400.0, "height_mm": 300.0, "count": 4}


def test_titles_that_are_alike_get_folders_of_their_own(shop: TestClient) -> None:
    assert begun(shop, ("a.svg", SQUARE)) == "quay-names"
    assert begun(shop, ("a.svg", SQUARE)) == "quay-names-2"


def test_a_title_is_written_as_text(shop: TestClient, tmp_path: Path) -> None:
    title = 'Ends "here"\\ \n[settings]\x7f'
    slug = begun(shop, ("a.svg", SQUARE), title=title)
    assert load_order(order_file(tmp_path, slug)).title == 'Ends "here"\\  [settings]\ufffd'


@pytest.mark.parametrize(
    ("files", "fields", "code"),
    [
        (sent(("a.svg", SQUARE), ("b.txt", "words")), {}, "drawing/unknown-ending"),
        (sent(("a.svg", SQUARE), ("b.dxf", "%PDF-1.7")), {}, "drawing/not-what-it-says"),
        (sent(("a.svg", b"")), {}, "drawing/empty-file"),
        (sent(("a.svg", SQUARE)), {"material": "gopherwood"}, "order/material-unknown"),
        (sent(("a.svg", SQUARE)), {"machine": "../machine.toml"}, "pages/no-machine"),
        (
            sent(("a.svg", SQUARE)),
            {"sheet_width_mm": "5000", "sheet_height_mm": "100"},
            "order/sheet-too-big",
        ),
    ],
)
def test_nothing_is_made_where_anything_is_wrong(
    shop: TestClient, tmp_path: Path, files: list[object], fields: dict[str, str], code: str
) -> None:
    before = sorted(tmp_path.rglob("*"))
    data = {"title": "Quay", "material": PLYWOOD, **fields}
    answer = shop.post("/api/orders", files=files, data=data)  # type: ignore[arg-type]
    assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert ".unfinished" not in answer.text
    assert sorted(tmp_path.rglob("*")) == before


def test_a_removed_order_can_be_brought_back(shop: TestClient, tmp_path: Path) -> None:
    slug = begun(shop, ("a.svg", SQUARE))
    removed = shop.delete(f"/api/orders/{slug}").json()
    assert shop.get(f"/api/orders/{slug}").status_code == 404
    assert (tmp_path / "orders-removed" / removed["name"] / "a.svg").read_text() == SQUARE
    assert [one["title"] for one in shop.get("/api/orders-removed").json()] == ["Quay names"]
    again = begun(shop, ("b.svg", SQUARE))
    back = shop.post(f"/api/orders-removed/{removed['name']}").json()["slug"]
    assert (again, back) == ("quay-names", "quay-names-2")
    assert shop.get("/api/orders-removed").json() == []


@pytest.mark.parametrize("name", ["..", "%2e%2e%2forders%2fregatta", "nothing"])
def test_only_what_was_removed_is_brought_back(shop: TestClient, name: str) -> None:
    answer = shop.post(f"/api/orders-removed/{name}")
    assert answer.status_code in {404, 405}


def test_the_example_is_copied_into_an_empty_folder_only(tmp_path: Path) -> None:
    folder = tmp_path / "empty"
    folder.mkdir()
    (folder / "notes.txt").write_text("mine")
    shop = client(folder)
    assert shop.get("/api/new-order").json()["empty"] is True
    slug = shop.post("/api/example").json()["slug"]
    example = load_shop(folder / "orders" / slug / "order.toml")
    assert example.order.invented
    assert example.rates is not None
    assert shop.get("/api/new-order").json()["empty"] is False
    assert shop.post("/api/example").json()["code"] == "pages/not-empty"
    assert (folder / "notes.txt").read_text() == "mine"
