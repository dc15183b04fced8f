"""Drawings of an order are added, replaced and removed; nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawn_shop import PLYWOOD, SQUARE, begun, client, drawn, sent
from fastapi.testclient import TestClient

from kerfwright.shop.files import load_order


@pytest.fixture
def shop(tmp_path: Path) -> TestClient:
    return client(tmp_path)


def order_file(tmp_path: Path, slug: str) -> Path:
    return tmp_path / "orders" / slug / "order.toml"


def names(tmp_path: Path, slug: str) -> list[str]:
    return [item.drawing for item in load_order(order_file(tmp_path, slug)).items]


def test_adds_drawings_under_names_that_are_free(shop: TestClient, tmp_path: Path) -> None:
    slug = begun(shop, ("a.svg", SQUARE))
    more = sent(("a.svg", SQUARE), ("b.svg", SQUARE))
    answer = shop.post(f"/api/orders/{slug}/items", files=more, data={"material": PLYWOOD})
    assert answer.status_code == 200
    assert names(tmp_path, slug) == ["a.svg", "a-2.svg", "b.svg"]


def test_adds_all_or_none(shop: TestClient, tmp_path: Path) -> None:
    slug = begun(shop, ("a.svg", SQUARE))
    before = sorted(tmp_path.rglob("*"))
    more = sent(("b.svg", SQUARE), ("c.exe", "MZ"))
    answer = shop.post(f"/api/orders/{slug}/items", files=more, data={"material": PLYWOOD})
    assert answer.json()["code"] == "drawing/unknown-ending"
    assert names(tmp_path, slug) == ["a.svg"]
    assert sorted(tmp_path.rglob("*")) == before


def test_removing_is_taken_back_to_the_letter(shop: TestClient, tmp_path: Path) -> None:
    before = order_file(tmp_path, "regatta").read_bytes()
    removed = shop.delete("/api/orders/regatta/items/2").json()
    assert "lantern.dxf" not in names(tmp_path, "regatta")
    assert (order_file(tmp_path, "regatta").parent / "lantern.dxf").is_file()
    assert shop.post("/api/orders/regatta/undo", json=removed["undo"]).status_code == 200
    assert order_file(tmp_path, "regatta").read_bytes() == before


def test_what_was_changed_since_is_not_overwritten(shop: TestClient, tmp_path: Path) -> None:
    undo = shop.delete("/api/orders/regatta/items/2").json()["undo"]
    change = {"at": ["items", 0, "quantity"], "value": 7}
    shop.patch("/api/orders/regatta", json={"changes": [change]})
    answer = shop.post("/api/orders/regatta/undo", json=undo)
    assert answer.json()["code"] == "pages/changed-meanwhile"
    assert load_order(order_file(tmp_path, "regatta")).items[0].quantity == 7


def test_the_last_drawing_stays(shop: TestClient, tmp_path: Path) -> None:
    slug = begun(shop, ("a.svg", SQUARE))
    assert shop.delete(f"/api/orders/{slug}/items/0").json()["code"] == "pages/last-item"
    assert names(tmp_path, slug) == ["a.svg"]


def test_a_replaced_drawing_keeps_its_name_and_the_former_file(
    shop: TestClient, tmp_path: Path
) -> None:
    slug = begun(shop, ("a.svg", SQUARE))
    smaller = SQUARE.replace("H50", "H40")
    address = f"/api/orders/{slug}/items/0/drawing"
    kept = shop.put(address, files=sent(("new name.svg", smaller))).json()["kept"]
    assert names(tmp_path, slug) == ["a.svg"]
    assert (tmp_path / kept).read_text() == SQUARE
    assert drawn(shop, slug)["alike"][0]["width_mm"] == 30.0


def test_a_drawing_of_another_kind_brings_its_name(shop: TestClient, tmp_path: Path) -> None:
    slug = begun(shop, ("a.svg", SQUARE))
    dxf = (tmp_path / "orders" / "regatta" / "lantern.dxf").read_bytes()
    shop.put(f"/api/orders/{slug}/items/0/drawing", files=sent(("b.dxf", dxf)))
    assert names(tmp_path, slug) == ["b.dxf"]
    assert drawn(shop, slug)["width_mm"] == 391.0


def test_comments_stay_where_they_belong(shop: TestClient, tmp_path: Path) -> None:
    slug = begun(shop, ("a.svg", SQUARE))
    file = order_file(tmp_path, slug)
    before = file.read_text()
    shop.post(
        f"/api/orders/{slug}/items", files=sent(("b.svg", SQUARE)), data={"material": PLYWOOD}
    )
    rule = {"process": "score", "layer": "x"}
    for at in (["items", 1, "rules", 0], ["items", 0, "rules", 0], ["rules", 0]):
        change = {"at": at, "value": rule}
        assert shop.patch(f"/api/orders/{slug}", json={"changes": [change]}).status_code == 200
    text = file.read_text()
    heads = ["What is to be made", "[[items.rules]]", '"b.svg"', "[[items.rules]]"]
    heads += ["Shapes that no rule", "The sheets that may", "[[stock]]", "How it is worked"]
    heads += ["[settings]", "[[rules]]"]
    places = []
    for head in heads:
        places.append(text.index(head, places[-1] + 1 if places else 0))
    for at in (["rules", 0], ["items", 0, "rules", 0]):
        shop.patch(f"/api/orders/{slug}", json={"changes": [{"at": at, "value": None}]})
    shop.delete(f"/api/orders/{slug}/items/1")
    assert file.read_text().split() == before.split()
