"""The interface takes a table for an item, shows its first rows, and the pockets of fixtures."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from kerfwright.shop.files import load_order
from kerfwright.web.app import make_app
from kerfwright.web.workshop import Workshop
from small_workshop import SmallWorkshop

EXAMPLES = Path(__file__).parents[2] / "examples"

TABLE = (
    "boat;berth;link\nMöwe;A 1;https://eiderwick.example/b/1\nAuk;;https://eiderwick.example/b/2\n"
)

BATCH = "/api/orders/batch/items/0/batch"


@pytest.fixture
def workshop(tmp_path: Path) -> Path:
    shutil.copytree(EXAMPLES / "batch", tmp_path / "orders" / "batch")
    return tmp_path


@pytest.fixture
def client(workshop: Path) -> TestClient:
    return TestClient(make_app(Workshop(workshop)))


def test_the_first_rows_are_shown_with_what_the_drawing_asks_for(client: TestClient) -> None:
    shown = client.get(BATCH).json()
    assert shown["headings"] == ["boat", "berth", "link"]
    assert (shown["count"], shown["table"]) == (8, "boats.csv")
    assert shown["rows"][0] == {
        "number": 2,
        "serial": 1,
        "cells": {"boat": "Möwe", "berth": "A 1", "link": "https://eiderwick.example/b/1"},
    }
    assert (shown["fields"], shown["missing"]) == (["boat", "berth", "link"], [])
    tags = client.get("/api/orders/batch/items/1/batch").json()
    assert (tags["fields"], tags["rows"][0]["serial"]) == (["boat", "n"], 17)


def test_an_uploaded_table_becomes_the_items(client: TestClient, workshop: Path) -> None:
    files = {"table": ("../Neue Boote.CSV", TABLE.encode("utf-8-sig"))}
    shown = client.post(BATCH, files=files).json()
    assert (shown["table"], shown["count"], shown["empty"]) == ("neue-boote.csv", 2, {"berth": [3]})
    order = workshop / "orders" / "batch"
    assert (order / "neue-boote.csv").read_bytes() == TABLE.encode("utf-8-sig")
    batch = load_order(order / "order.toml").items[0].batch
    assert batch is not None
    # what else was said of the batch stays, and so do comments
    assert (batch.rows, batch.least_text_mm) == ("neue-boote.csv", 4.0)
    assert "# codes come out cleanest" in (order / "order.toml").read_text("utf-8")


def test_an_upload_overwrites_no_other_file(client: TestClient, workshop: Path) -> None:
    order = workshop / "orders" / "batch"
    (order / "spare.csv").write_text("name\nkept\n", encoding="utf-8")
    shown = client.post(BATCH, files={"table": ("spare.csv", TABLE.encode())}).json()
    assert shown["table"] == "spare-2.csv"
    assert (order / "spare.csv").read_text("utf-8") == "name\nkept\n"


def test_a_table_that_cannot_be_read_changes_nothing(client: TestClient, workshop: Path) -> None:
    before = sorted((workshop / "orders" / "batch").iterdir())
    told = client.post(BATCH, files={"table": ("boats.csv", b"boat\n\xff\n")})
    assert (told.status_code, told.json()["code"]) == (422, "batch/wrong-table")
    assert told.json()["file"] == "boats.csv"
    assert sorted((workshop / "orders" / "batch").iterdir()) == before


def test_a_table_outside_of_the_workshop_is_not_shown(
    client: TestClient, workshop: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    secret = tmp_path_factory.mktemp("elsewhere") / "secret.csv"
    secret.write_text("boat;berth;link\nhidden;x;y\n", encoding="utf-8")
    order = workshop / "orders" / "batch" / "order.toml"
    text = order.read_text("utf-8")
    order.write_text(text.replace('"boats.csv"', f'"{secret}"'), encoding="utf-8")
    told = client.get(BATCH)
    assert told.json()["code"] == "pages/leads-outside"
    assert "hidden" not in told.text


def test_the_pockets_of_a_fixture_are_outlined(client: TestClient) -> None:
    (board,) = client.get("/api/orders/batch/fixtures").json()
    assert (board["name"], board["at_mm"]) == ("coaster board", [20, 10])
    assert [pocket["number"] for pocket in board["pockets"]] == [1, 2, 3, 4, 5, 6]
    first = board["pockets"][0]["outline"]
    assert min(x for x, _ in first) == pytest.approx(57 - 47.5, abs=0.05)
    assert max(y for _, y in first) == pytest.approx(165 + 47.5, abs=0.05)
    assert len(first) < 140


def test_a_fixture_that_is_wrong_says_why(client: TestClient, workshop: Path) -> None:
    board = workshop / "orders" / "batch" / "coaster-board.toml"
    text = board.read_text("utf-8").replace("pitch_mm = [108, 108]", "pitch_mm = [80, 108]")
    board.write_text(text, encoding="utf-8")
    (shown,) = client.get("/api/orders/batch/fixtures").json()
    assert "lie on one another: 1 and 2" in shown["trouble"]
    assert shown["pockets"] == []


@pytest.mark.parametrize("address", [BATCH.replace("/0/", "/9/"), BATCH.replace("/0/", "/-1/")])
def test_items_that_are_not_there_are_told(client: TestClient, address: str) -> None:
    assert client.get(address).status_code in {404, 422}


def test_a_new_table_makes_the_plan_out_of_date(client: TestClient, workshop: Path) -> None:
    shutil.copytree(EXAMPLES / "regatta", workshop / "orders" / "regatta")  # its machine
    folder = workshop / "orders" / "batch"
    (folder / "plan").mkdir()
    plan = folder / "plan" / "plan.json"
    plan.write_text("{}", encoding="utf-8")
    assert client.get("/api/orders/batch").json()["plan"] == "current"
    later = plan.stat().st_mtime_ns + 10**9
    os.utime(folder / "boats.csv", ns=(later, later))
    assert client.get("/api/orders/batch").json()["plan"] == "out-of-date"


def test_an_item_without_a_table_gets_its_first(client: TestClient, workshop: Path) -> None:
    file = workshop / "orders" / "batch" / "order.toml"
    text = file.read_text("utf-8")
    batch = text[text.index("[items.batch]") : text.index("[[items]]", text.index("[items.batch]"))]
    file.write_text(text.replace(batch, ""), encoding="utf-8")
    assert client.get(BATCH).status_code == 404
    shown = client.post(BATCH, files={"table": ("new.csv", TABLE.encode())})
    assert (shown.status_code, shown.json()["count"]) == (200, 2)
    first = load_order(file).items[0].batch
    assert first is not None
    assert first.rows == "new.csv"


def test_a_removed_table_can_be_brought_back(client: TestClient, workshop: Path) -> None:
    order = workshop / "orders" / "batch"
    before = (order / "order.toml").read_text("utf-8")
    removed = client.delete(BATCH).json()
    assert removed["page"]["order"]["items"][0]["batch"] is None
    assert (order / "boats.csv").is_file()
    assert client.delete(BATCH).status_code == 404
    back = client.post("/api/orders/batch/undo", json=removed["undo"]).json()
    assert back["order"]["items"][0]["batch"]["rows"] == "boats.csv"
    assert (order / "order.toml").read_text("utf-8") == before


def test_a_table_that_another_item_is_made_by_is_not_replaced(
    client: TestClient, workshop: Path
) -> None:
    order = workshop / "orders" / "batch"
    before = (order / "boats.csv").read_bytes()
    shown = client.post(BATCH, files={"table": ("boats.csv", TABLE.encode())}).json()
    assert (shown["table"], (order / "boats.csv").read_bytes()) == ("boats-2.csv", before)


def test_a_table_that_is_replaced_is_kept(client: TestClient, workshop: Path) -> None:
    order = workshop / "orders" / "batch"
    client.post(BATCH, files={"table": ("mine.csv", TABLE.encode())})
    newer = TABLE.replace("Auk", "Knot").encode()
    shown = client.post(BATCH, files={"table": ("mine.csv", newer)}).json()
    assert (shown["table"], (order / "mine.csv").read_bytes()) == ("mine.csv", newer)
    assert (order / "replaced" / "mine.csv").read_bytes() == TABLE.encode()


@pytest.mark.parametrize("name", ["machine.toml", "materials/board.toml", "rates.toml"])
def test_a_changed_file_of_the_workshop_makes_the_plan_out_of_date(
    tmp_path: Path, name: str
) -> None:
    workshop = SmallWorkshop(tmp_path)
    plan = workshop.order / "plan" / "plan.json"
    plan.parent.mkdir()
    plan.write_text("{}", encoding="utf-8")
    client = workshop.client()
    assert client.get("/api/orders/small").json()["plan"] == "current"
    later = plan.stat().st_mtime_ns + 10**9
    os.utime(tmp_path / name, ns=(later, later))
    assert client.get("/api/orders/small").json()["plan"] == "out-of-date"
