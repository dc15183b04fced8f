"""Fixtures are tried, added, changed and drawn over the interface, and items are laid into them."""

from __future__ import annotations

import io
from pathlib import Path

import ezdxf
import pytest
from fastapi.testclient import TestClient
from fixture_workshop import fobs
from lxml import etree

from kerfwright.shop.files import load_order
from small_shop import svg
from small_workshop import SmallWorkshop

ORDER = "/api/orders/small"

CIRCLE = {"centre_mm": [30, 30], "diameter_mm": 20}
SQUARE = {"centre_mm": [80, 30], "width_mm": 25, "height_mm": 25, "corner_mm": 2}


@pytest.fixture
def workshop(tmp_path: Path) -> SmallWorkshop:
    return fobs(tmp_path)


@pytest.fixture
def client(workshop: SmallWorkshop) -> TestClient:
    return workshop.client()


def change(client: TestClient, *changes: tuple[list[str | int], object]) -> None:
    sent = [{"at": at, "value": value} for at, value in changes]
    answer = client.patch(ORDER, json={"changes": sent})
    assert answer.status_code == 200, answer.text


def test_a_fixture_is_tried_before_it_is_saved(client: TestClient, workshop: SmallWorkshop) -> None:
    before = (workshop.order / "order.toml").read_bytes()
    tray = {"name": "tray", "width_mm": 110, "height_mm": 60, "placed": [CIRCLE, SQUARE]}
    shown = client.post(f"{ORDER}/fixtures/try", json={"fixture": tray}).json()
    assert (shown["count"], shown["trouble"]) == (2, "")
    assert shown["pockets"][1]["centre_mm"] == [80, 30]
    tray["placed"] = [CIRCLE, {**SQUARE, "centre_mm": [45, 30]}]
    shown = client.post(f"{ORDER}/fixtures/try", json={"fixture": tray}).json()
    assert "lie on one another: 1 and 2" in shown["trouble"]
    assert (workshop.order / "order.toml").read_bytes() == before


def test_a_grid_becomes_pockets_drawn_by_hand_and_comments_stay(
    client: TestClient, workshop: SmallWorkshop
) -> None:
    at: list[str | int] = ["fixtures", 0]
    hand = [CIRCLE, SQUARE]
    change(client, ([*at, "placed"], hand), ([*at, "grid"], None), ([*at, "out_of_use"], None))
    (shown,) = client.get(f"{ORDER}/fixtures").json()
    assert [pocket["number"] for pocket in shown["pockets"]] == [1, 2]
    assert (shown["own"], shown["file"], shown["trouble"]) == (0, None, "")
    assert "# lies against the stop" in (workshop.order / "order.toml").read_text("utf-8")
    (read,) = load_order(workshop.order / "order.toml").fixtures
    assert (read.grid, read.placed[0].diameter_mm, read.placed[1].corner_mm) == (None, 20, 2)


def test_a_fixture_drawn_by_hand_is_added_whole(client: TestClient) -> None:
    tray = {"name": "tray", "width_mm": 110, "height_mm": 60, "placed": [CIRCLE, SQUARE]}
    change(client, (["fixtures", 1], tray))
    first, second = client.get(f"{ORDER}/fixtures").json()
    assert (first["name"], second["name"], second["count"]) == ("fob board", "tray", 2)
    change(client, (["fixtures", 1, "placed"], [SQUARE]))
    assert client.get(f"{ORDER}/fixtures").json()[1]["count"] == 1


def test_a_drawing_of_pockets_becomes_a_fixture_as_large_as_its_page(
    client: TestClient, workshop: SmallWorkshop
) -> None:
    pockets = (
        '<g fill="none" stroke="#000"><path d="M5 5h20v20h-20z"/><path d="M35 5h20v20h-20z"/></g>'
    )
    files = {"files": ("fob.svg", svg(pockets, 60, 30).encode())}
    answer = client.post(f"{ORDER}/fixtures/drawn", files=files, data={"name": "tray"})
    assert answer.status_code == 200, answer.text
    shown = client.get(f"{ORDER}/fixtures").json()[1]
    assert (shown["width_mm"], shown["height_mm"], shown["count"]) == (60, 30, 2)
    # the item's drawing has that name already
    assert shown["described"]["drawing"] == "fob-2.svg"
    assert "rect" in (workshop.order / "fob.svg").read_text("utf-8")


def test_a_drawing_without_pockets_is_not_kept(client: TestClient, workshop: SmallWorkshop) -> None:
    before = sorted(workshop.order.iterdir())
    files = {"files": ("open.svg", svg('<path d="M5 5h20" stroke="#000"/>').encode())}
    told = client.post(f"{ORDER}/fixtures/drawn", files=files, data={"name": "tray"})
    assert (told.status_code, told.json()["code"]) == (422, "fixtures/pockets-unclear")
    assert sorted(workshop.order.iterdir()) == before


def test_a_drawing_outside_of_the_workshop_gives_no_pockets(
    client: TestClient, tmp_path_factory: pytest.TempPathFactory
) -> None:
    secret = tmp_path_factory.mktemp("elsewhere") / "secret.svg"
    secret.write_text(svg('<path d="M5 5h20v20h-20z" fill="none" stroke="#000"/>'), "utf-8")
    tried = {"name": "tray", "width_mm": 60, "height_mm": 60, "drawing": str(secret)}
    shown = client.post(f"{ORDER}/fixtures/try", json={"fixture": tried}).json()
    assert "outside the workshop" in shown["trouble"]
    assert shown["pockets"] == []


def test_marks_lie_in_the_middle_of_the_pockets_in_use(client: TestClient) -> None:
    laid = client.get(f"{ORDER}/items/0/pockets").json()
    assert (laid["copies"], laid["loads"], laid["filled"]) == (7, 3, [1, 2, 3])
    (marks,) = laid["marks"]
    corners = {tuple(map(float, one.split())) for one in marks["areas"].strip("M").split("L")}
    # a page of 40 × 18 on its pocket's middle, y upwards
    assert corners == {(-16, 5), (-4, 5), (-4, -2), (-16, -2)}


def test_marks_that_leave_the_blank_are_told_at_once(client: TestClient) -> None:
    change(client, (["items", 0, "turned_deg"], 60))
    laid = client.get(f"{ORDER}/items/0/pockets").json()
    assert [one["code"] for one in laid["findings"]] == ["fixtures/marks-leave-blank"]


def test_the_drawing_to_cut_a_fixture_from_comes_as_svg_and_dxf(client: TestClient) -> None:
    answer = client.get(f"{ORDER}/fixtures/0/board.svg?clearance_mm=0.5")
    assert 'filename="fob-board.svg"' in answer.headers["content-disposition"]
    drawn = etree.fromstring(answer.content)
    layers = {group.get("id"): len(group) for group in drawn.iter("{*}g")}
    assert (layers["Holes"], layers["Outline"]) == (4, 1)
    dxf = client.get(f"{ORDER}/fixtures/0/board.dxf?clearance_mm=0.5&marks=false")
    holes = ezdxf.read(io.StringIO(dxf.text)).modelspace().query('LWPOLYLINE[layer=="Holes"]')
    boxes = [[*zip(*hole.get_points("xy"), strict=True)] for hole in holes]
    assert [max(x) - min(x) for x, _ in boxes] == pytest.approx([41.0] * 4)
    assert client.get(f"{ORDER}/fixtures/7/board.svg").status_code == 404


def test_its_marks_are_told_where_they_lie_on_the_bed(client: TestClient) -> None:
    at: list[str | int] = ["fixtures", 0]
    change(client, ([*at, "width_mm"], 140), ([*at, "height_mm"], 90), ([*at, "at_mm"], [15, 20]))
    change(client, ([*at, "grid", "first_mm"], [45, 30]))
    (shown,) = client.get(f"{ORDER}/fixtures").json()
    # 6 mm from both edges of two opposite corners
    assert shown["marks_mm"] == [[15 + 6, 20 + 6], [15 + 140 - 6, 20 + 90 - 6]]
