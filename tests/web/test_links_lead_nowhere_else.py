"""Nothing outside the workshop's folder is shown or changed (CWE-59, Link Following; CWE-22)."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from kerfwright.web.workshop import Workshop, slug_of
from small_workshop import SLUG, SmallWorkshop


@pytest.fixture
def shop(tmp_path: Path) -> SmallWorkshop:
    (tmp_path / "secret.html").write_text("a secret")
    return SmallWorkshop(tmp_path / "workshop")


def test_an_order_that_is_a_link_out_is_named_and_refused(shop: SmallWorkshop) -> None:
    elsewhere = shop.folder.parent / "elsewhere"
    shutil.move(shop.order, elsewhere)
    shop.order.symlink_to(elsewhere)
    client = shop.client()
    (line,) = client.get("/api/orders").json()
    assert "link leads out" in line["trouble"]
    for path in ("", "/files/order.toml", "/planning", "/sheets", "/items/0/drawing"):
        assert client.get(f"/api/orders/{SLUG}{path}").json()["code"] == "pages/leads-outside"
    assert client.delete(f"/api/orders/{SLUG}").json()["code"] == "pages/leads-outside"
    assert (elsewhere / "order.toml").is_file()


@pytest.mark.parametrize("linked", ["order.toml", "plan"])
def test_links_in_an_order_are_not_followed_out(shop: SmallWorkshop, linked: str) -> None:
    elsewhere = shop.folder.parent / "elsewhere"
    elsewhere.mkdir()
    if (shop.order / linked).exists():
        shutil.move(shop.order / linked, elsewhere)
    (shop.order / linked).symlink_to(elsewhere / linked)
    answer = shop.client().get(f"/api/orders/{SLUG}")
    assert answer.json()["code"] == "pages/leads-outside"


def test_a_plans_file_that_is_a_link_out_is_not_there(shop: SmallWorkshop) -> None:
    (shop.order / "plan").mkdir()
    (shop.order / "plan" / "own.html").write_text("own")
    (shop.order / "plan" / "ticket.html").symlink_to(shop.folder.parent / "secret.html")
    client = shop.client()
    assert client.get(f"/api/orders/{SLUG}/files/own.html").status_code == 200
    assert client.get(f"/api/orders/{SLUG}/files/ticket.html").status_code == 404


@pytest.mark.parametrize(
    ("at", "value"),
    [
        (["machine"], "/etc/machine.toml"),
        (["rates"], "../../../rates.toml"),
        (["items", 0, "drawing"], "../../../secret.svg"),
        (["items", 0, "batch"], {"rows": "../../../rows.csv"}),
        (["materials", 0], "../" * 20 + "etc/passwd"),
    ],
)
def test_no_change_names_files_outside(
    shop: SmallWorkshop, at: list[object], value: object
) -> None:
    before = (shop.order / "order.toml").read_bytes()
    change = {"changes": [{"at": at, "value": value}]}
    answer = shop.client().patch(f"/api/orders/{SLUG}", json=change)
    assert answer.json()["code"] == "pages/leads-outside"
    assert (shop.order / "order.toml").read_bytes() == before


def test_what_an_editor_named_outside_may_stay(shop: SmallWorkshop) -> None:
    shutil.move(shop.folder / "rates.toml", shop.folder.parent / "rates.toml")
    file = shop.order / "order.toml"
    file.write_text(file.read_text().replace("../../rates.toml", "../../../rates.toml"))
    change = {"changes": [{"at": ["title"], "value": "Other"}]}
    assert shop.client().patch(f"/api/orders/{SLUG}", json=change).status_code == 200


def test_orders_whose_names_would_be_one_in_addresses_are_all_there(tmp_path: Path) -> None:
    names = ["harbour-sign", "Harbour Sign", "harbour sign", "港", "標"]
    for name in names:
        (tmp_path / "orders" / name).mkdir(parents=True)
        (tmp_path / "orders" / name / "order.toml").touch()
    orders = Workshop(tmp_path).orders()
    assert sorted(one.folder.name for one in orders) == sorted(names)
    assert len({one.slug for one in orders}) == len(names)
    assert Workshop(tmp_path).order("harbour-sign").folder.name == "harbour-sign"
    assert all(one.slug == slug_of(one.slug) for one in orders)


@pytest.mark.parametrize("title", ["CON", "nul", "Com1", "LPT9"])
def test_no_order_gets_a_folder_that_windows_cannot_have(tmp_path: Path, title: str) -> None:
    assert Workshop(tmp_path).new_order_folder(title).folder.name == f"order-{title.lower()}"
