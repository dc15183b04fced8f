"""Stock by the interface: what comes in, goes out, and where it lies."""

from __future__ import annotations

from fastapi.testclient import TestClient

from small_workshop import SmallWorkshop

PLY = {"material": "birch plywood 3 mm", "size": "600x400", "count": 3, "price_per_m2": "20"}


def received(client: TestClient, **more: object) -> str:
    (lot,) = client.post("/api/stock", json=PLY | more).raise_for_status().json()
    return str(lot["label"])


def test_what_comes_in_is_listed_with_its_worth(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    received(client, location="rack 2")
    stock = client.get("/api/stock").json()
    (lot,) = stock["lots"]
    assert (lot["on_hand"], lot["free"], lot["location"]) == (3, 3, "rack 2")
    assert stock["worth"] == "14.40"  # 3 × 0.6 m × 0.4 m × 20


def test_a_piece_is_found_by_what_must_fit_in_it(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    received(client)
    corner = {"kind": "offcut", "count": 1, "size": "300x200", "outline": "0,0 300,0 0,200"}
    small = received(client, **corner)
    found = client.get("/api/stock", params={"at_least": "100x60"}).json()["lots"]
    assert next(lot["label"] for lot in found) == small
    found = client.get("/api/stock", params={"at_least": "250x150"}).json()["lots"]
    assert small not in [lot["label"] for lot in found]


def test_every_movement_is_on_the_ledger(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    label = received(client)
    for what, left in (("use", 2), ("scrap", 1), ("return", 2), ("more", 3)):
        move = {"what": what, "note": f"because of {what}"}
        lot = client.post(f"/api/stock/{label}/movements", json=move).raise_for_status().json()
        assert lot["on_hand"] == left
    lines = client.get(f"/api/stock/{label}/movements").json()
    assert [line["what"] for line in lines][:3] == ["received", "used", "scrapped"]
    assert lines[1]["note"] == "because of use"


def test_more_than_there_is_cannot_be_taken(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    label = received(client)
    answer = client.post(f"/api/stock/{label}/movements", json={"what": "scrap", "count": 4})
    assert answer.status_code == 422
    told = answer.json()
    assert told["code"].startswith("stock/")
    assert told["remedy"]
    assert told["help"].startswith("/help/stock#")


def test_a_table_saved_is_read_back_into_another_workshop(
    workshop: SmallWorkshop, planned: SmallWorkshop
) -> None:
    client = workshop.client()
    received(client)
    table = client.get("/api/stock/table.csv")
    assert table.headers["content-type"].startswith("text/csv")
    there = planned.client()
    lots = there.post("/api/stock/table", json={"text": table.text}).raise_for_status().json()
    assert [(lot["material"], lot["on_hand"]) for lot in lots] == [("birch plywood 3 mm", 3)]


def test_nothing_of_a_wrong_arrival_is_kept(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    for wrong in ({"size": "600"}, {"cost": "dear"}, {"outline": "0,0 1,1"}, {"count": 0}):
        assert client.post("/api/stock", json=PLY | wrong).status_code == 422
    assert client.get("/api/stock").json()["lots"] == []
