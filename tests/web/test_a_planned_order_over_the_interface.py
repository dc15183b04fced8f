"""A planned order by the interface: its sheets, price, programs, and what runs took."""

from __future__ import annotations

import json
import tomllib

import pytest
from shapely import Polygon

from kerfwright.output.plan_json import PlanDocument
from small_workshop import SLUG, SmallWorkshop

ORDER = f"/api/orders/{SLUG}"


def test_the_order_comes_with_its_plan(planned: SmallWorkshop) -> None:
    page = planned.client().get(ORDER).json()
    assert page["order"]["title"] == "Small order"
    assert page["plan"] == "current"
    assert PlanDocument.model_validate(page["plan_document"]).totals.parts == 4


def test_the_list_tells_what_is_planned(planned: SmallWorkshop, workshop: SmallWorkshop) -> None:
    (line,) = planned.client().get("/api/orders").json()
    assert (line["plan"], line["sheets"]) == ("current", 1)
    (line,) = workshop.client().get("/api/orders").json()
    assert (line["plan"], line["sheets"], line["time_s"]) == ("none", None, None)


def test_an_order_that_cannot_be_read_is_listed_with_why(workshop: SmallWorkshop) -> None:
    (workshop.order / "order.toml").write_text("title = ", encoding="utf-8")
    (line,) = workshop.client().get("/api/orders").json()
    assert line["trouble"]


def test_sheets_have_the_areas_of_their_parts(planned: SmallWorkshop) -> None:
    """Four tiles of 40 × 30 mm, each less a hole of 3 mm radius: areas by shapely."""
    (sheet,) = planned.client().get(f"{ORDER}/sheets").json()["sheets"]
    areas = [Polygon(part["rings"][0], part["rings"][1:]).area for part in sheet["parts"]]
    # the circle may be coarsened by 0.02 mm all round, of 18.8 mm
    assert areas == pytest.approx([1200.0 - 28.274] * 4, abs=0.4)
    assert {(part["item"], part["part"]) for part in sheet["parts"]} == {(0, 0)}
    assert (sheet["spacing_mm"], sheet["margin_mm"]) == (1.0, 5.0)
    assert sheet["stock"] == 0


def test_a_part_may_be_moved_where_there_is_room_only(planned: SmallWorkshop) -> None:
    client = planned.client()
    (sheet,) = client.get(f"{ORDER}/sheets").json()["sheets"]
    corners = [min(part["rings"][0]) for part in sheet["parts"]]
    where = {"part": 0, "x_mm": corners[1][0] + 1.0, "y_mm": corners[1][1] + 1.0}
    (told,) = client.post(f"{ORDER}/sheets/1/check", json={"moved": [where]}).json()[:1]
    assert "too near" in told["words"]
    where = {"part": 0, "x_mm": -2.0, "y_mm": 5.0}
    words = client.post(f"{ORDER}/sheets/1/check", json={"moved": [where]}).json()
    assert any("margin" in one["words"] for one in words)
    x, y = (min(point[axis] for point in sheet["parts"][0]["rings"][0]) for axis in (0, 1))
    stay = {"part": 0, "x_mm": x, "y_mm": y}
    assert client.post(f"{ORDER}/sheets/1/check", json={"moved": [stay]}).json() == []


def test_the_price_adds_up(planned: SmallWorkshop) -> None:
    quote = planned.client().get(f"{ORDER}/price").json()["quote"]
    costs = [float(line["amount"]) for line in (*quote["costs"], *quote["surcharges"])]
    assert sum(costs) == pytest.approx(float(quote["net"]), abs=1e-9)
    assert float(quote["total"]) == pytest.approx(float(quote["net"]) * 1.2, abs=0.005)


def test_without_a_plan_there_is_no_price_but_a_reason(workshop: SmallWorkshop) -> None:
    told = workshop.client().get(f"{ORDER}/price").json()
    assert told["quote"] is None
    assert told["why_not"]


def test_programs_are_handed_out_as_they_were_proven(planned: SmallWorkshop) -> None:
    client = planned.client()
    document = client.get(ORDER).json()["plan_document"]
    name = document["sheets"][0]["program"]
    answer = client.get(f"{ORDER}/files/{name}")
    assert answer.content == (planned.order / "plan" / name).read_bytes()
    assert "attachment" in answer.headers["content-disposition"]


def test_one_part_is_made_again(planned: SmallWorkshop) -> None:
    client = planned.client()
    parts = client.get(f"{ORDER}/sheets/1/parts").json()["parts"]
    assert len(parts) == 4
    again = client.post(f"{ORDER}/sheets/1/excerpt", json={"part": parts[2]}).json()
    assert "proven" in again["words"]
    assert parts[2].split("#")[0] in again["text"]
    answer = client.post(f"{ORDER}/sheets/1/excerpt", json={"part": "nothing#1"})
    assert answer.status_code == 422
    answer = client.post(f"{ORDER}/sheets/1/excerpt", json={})
    assert answer.json()["code"] == "program/what-to-write"


def test_a_run_is_recorded_once_and_can_be_taken_out(planned: SmallWorkshop) -> None:
    client = planned.client()
    planned_s = client.get(ORDER).json()["plan_document"]["sheets"][0]["time_s"]
    took = f"{int(planned_s // 60)}:{int(planned_s % 60):02d}"
    run = {"sheet": 1, "minutes": took, "note": "went well"}
    assert client.post(f"{ORDER}/runs", json=run).status_code == 201
    twice = client.post(f"{ORDER}/runs", json=run)
    assert twice.json()["code"] == "records/recorded-before"
    (kept,) = client.get("/api/runs").json()["runs"]
    assert (kept["sheet"], kept["note"]) == (1, "went well")
    client.delete(f"/api/runs/{kept['number']}").raise_for_status()
    assert client.get("/api/runs").json()["runs"] == []


def test_a_planned_order_waits_for_its_machine(planned: SmallWorkshop) -> None:
    client = planned.client()
    (kept,) = client.put(f"{ORDER}/on-record", json={}).json()["orders"]
    (sheet,) = client.get("/api/waiting").json()
    assert (sheet["machine"], sheet["order"]) == ("trial machine", "Small order")
    state = {"state": "cancelled"}
    client.put(f"/api/orders-on-record/{kept['number']}/state", json=state).raise_for_status()
    assert client.get("/api/waiting").json() == []


def changed(workshop: SmallWorkshop, *changes: dict[str, object]) -> dict[str, object]:
    answer = workshop.client().patch(ORDER, json={"changes": list(changes)})
    loaded: dict[str, object] = answer.raise_for_status().json()
    return loaded


def text_of(workshop: SmallWorkshop) -> str:
    return (workshop.order / "order.toml").read_text(encoding="utf-8")


def test_a_change_leaves_everything_else_in_the_file_as_it_was(workshop: SmallWorkshop) -> None:
    file = workshop.order / "order.toml"
    file.write_text("# mine\n" + text_of(workshop), encoding="utf-8")
    before = text_of(workshop)
    changed(workshop, {"at": ["items", 0, "quantity"], "value": 7})
    assert text_of(workshop) == before.replace("quantity = 4", "quantity = 7")


def test_blocks_are_added_and_taken_out(workshop: SmallWorkshop) -> None:
    before = tomllib.loads(text_of(workshop))
    pin = {"part": 1, "at_mm": [10.0, 20.0]}
    area = {"x_mm": 0, "y_mm": 0, "width_mm": 9, "height_mm": 9, "why": "clamp"}
    changed(
        workshop,
        {"at": ["items", 0, "pinned", 0], "value": pin},
        {"at": ["stock", 0, "keep_out", 0], "value": area},
        {"at": ["guides", 0], "value": {"sheet": "offcut", "x_mm": 60.0}},
    )
    read = tomllib.loads(text_of(workshop))
    assert read["items"][0]["pinned"] == [pin]
    assert read["stock"][0]["keep_out"] == [area]
    changed(
        workshop,
        {"at": ["items", 0, "pinned", 0]},
        {"at": ["stock", 0, "keep_out", 0]},
        {"at": ["guides", 0]},
    )
    after = tomllib.loads(text_of(workshop))
    for block in (after, after["items"][0], after["stock"][0]):
        for empty in [key for key, value in block.items() if value == []]:
            del block[empty]
    assert after == before


def test_areas_written_on_one_line_are_added_to(workshop: SmallWorkshop) -> None:
    file = workshop.order / "order.toml"
    one_line = 'keep_out = [{ x_mm = 0, y_mm = 0, width_mm = 5, height_mm = 5, why = "knot" }]\n'
    file.write_text(text_of(workshop).replace("count = 1\n", f"count = 1\n{one_line}"), "utf-8")
    area = {"x_mm": 50, "y_mm": 50, "width_mm": 9, "height_mm": 9}
    changed(workshop, {"at": ["stock", 0, "keep_out", 1], "value": area})
    areas = tomllib.loads(text_of(workshop))["stock"][0]["keep_out"]
    assert [one["width_mm"] for one in areas] == [5, 9]


@pytest.mark.parametrize(
    "change",
    [
        {"at": ["items", 0, "quantity"], "value": 0},
        {"at": ["items", 0, "quantity"], "value": "many"},
        {"at": ["items", 5, "quantity"], "value": 1},
        {"at": ["nothing", "here"], "value": 1},
        {"at": ["title", "here"], "value": 1},
        {"at": ["items"]},
    ],
)
def test_a_change_that_makes_no_order_is_refused_and_nothing_is_written(
    workshop: SmallWorkshop, change: dict[str, object]
) -> None:
    before = text_of(workshop)
    answer = workshop.client().patch(ORDER, json={"changes": [change]})
    assert answer.status_code == 422
    assert answer.json()["thing"]
    assert str(workshop.folder) not in json.dumps(answer.json())
    assert text_of(workshop) == before


def test_the_interface_says_what_it_takes(planned: SmallWorkshop) -> None:
    document = planned.client().get("/api/openapi.json").json()
    assert document["openapi"].startswith("3.")
    for path, ways in document["paths"].items():
        for way, told in ways.items():
            assert told.get("description") or told.get("summary"), (way, path)
