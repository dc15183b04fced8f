"""Orders, runs and stock on record by the interface: spoilt parts, schedule, report, labels."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from fastapi.testclient import TestClient

from kerfwright.output.writing import write_plan
from kerfwright.planner import plan_shop
from kerfwright.shop.backup import restore
from kerfwright.shop.database import Database
from kerfwright.shop.files import load_shop
from kerfwright.shop.orders import Orders
from kerfwright.shop.records import RunRecords
from kerfwright.web.planning.kept_files import write_for_pages
from kerfwright.web.stocked import stock_reader
from small_workshop import SLUG, SmallWorkshop

ORDER = f"/api/orders/{SLUG}"

MONDAY = datetime.date(2031, 5, 5)


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> SmallWorkshop:
    """The small order, planned from a sheet in stock."""
    made = SmallWorkshop(tmp_path_factory.mktemp("stocked"))
    file = made.order / "order.toml"
    text = file.read_text(encoding="utf-8").replace("[[stock]]", "[[unused]]")
    head, _, rest = text.partition("[[unused]]")
    settings = rest[rest.index("[settings]") :]
    file.write_text(f'stock_from = "records"\n{head}{settings}', encoding="utf-8")
    lot = {"material": "board", "size": "300x100", "count": 3, "price_per_m2": "30"}
    made.client().post("/api/stock", json=lot).raise_for_status()
    shop = load_shop(file, stock_reader(made.workshop))
    plan = plan_shop(shop)
    write_plan(plan, made.order / "plan")
    write_for_pages(shop, plan, made.order / "plan")
    return made


def took(client: TestClient) -> str:
    seconds = round(client.get(ORDER).json()["plan_document"]["sheets"][0]["time_s"])
    return f"{seconds // 60}:{seconds % 60:02d}"


def on_record(client: TestClient) -> int:
    (one,) = client.put(f"{ORDER}/on-record", json={}).raise_for_status().json()["orders"]
    return int(one["number"])


def test_a_plans_sheets_are_reserved_and_released(stocked: SmallWorkshop) -> None:
    client = stocked.client()
    (before,) = client.get(f"{ORDER}/reservation").json()["sheets"]
    assert before == {"label": "S-001", "wanted": 1, "reserved": 0}
    (held,) = client.put(f"{ORDER}/reservation").raise_for_status().json()["sheets"]
    assert held["reserved"] == 1
    (lot,) = client.get("/api/stock").json()["lots"]
    assert (lot["free"], lot["reserved"]) == (2, {"Small order": 1})
    (let_go,) = client.delete(f"{ORDER}/reservation").json()["sheets"]
    assert let_go["reserved"] == 0


def test_an_order_with_sheets_of_its_own_reserves_nothing(planned: SmallWorkshop) -> None:
    client = planned.client()
    assert client.get(f"{ORDER}/reservation").json()["sheets"] == []
    assert client.put(f"{ORDER}/reservation").json()["code"] == "stock/no-labels"


def test_a_run_names_its_spoilt_parts_and_its_offcut_comes_back(stocked: SmallWorkshop) -> None:
    client = stocked.client()
    parts = [
        f"{part['name']}#{part['instance']}"
        for part in client.get(ORDER).json()["plan_document"]["sheets"][0]["parts"]
    ]
    run = {"sheet": 1, "minutes": took(client), "note": "smoky", "scrapped": parts[1:3]}
    both = client.post(f"{ORDER}/runs", json=run | {"scrapped_parts": 2})
    assert both.json()["code"] == "records/unclear"
    told = client.post(f"{ORDER}/runs", json=run).raise_for_status().json()
    assert told["spoilt"] == parts[1:3]
    (offcut,) = told["offcuts"]
    assert offcut["cut_from"] == "S-001"
    assert any(offcut["label"] in one for one in told["words"])
    (kept,) = client.get("/api/runs").json()["runs"]
    assert kept["scrapped_parts"] == 2
    assert kept["note"] == f"smoky; scrapped {', '.join(parts[1:3])}"
    again = client.post(f"{ORDER}/sheets/1/excerpt", json={"part": told["spoilt"][0]})
    assert "proven" in again.raise_for_status().json()["words"]
    history = {"machine": "trial machine", "material": "board", "thickness_mm": 3, "process": "cut"}
    (version,) = client.get("/api/recipes/history", params=history).json()["versions"]
    assert version["version"]["source"] == "run", "what was burned is on record"


def test_a_part_that_is_not_on_the_sheet_is_not_recorded(planned: SmallWorkshop) -> None:
    client = planned.client()
    run = {"sheet": 1, "minutes": took(client), "scrapped": ["nothing#9"]}
    assert client.post(f"{ORDER}/runs", json=run).json()["code"] == "records/which-part"
    assert client.get("/api/runs").json()["runs"] == []


def test_sheets_are_laid_into_the_hours_of_the_rates_file(planned: SmallWorkshop) -> None:
    client = planned.client()
    number = on_record(client)
    due = (MONDAY - datetime.timedelta(days=3)).isoformat()
    changed = client.patch(f"/api/orders-on-record/{number}", json={"due": due, "customer": "quay"})
    (one,) = changed.raise_for_status().json()["orders"]
    assert (one["due"], one["customer"]) == (due, "quay")
    usual = client.get("/api/schedule", params={"begin": MONDAY.isoformat()}).json()
    assert usual["slots"][0]["begin"] == f"{MONDAY}T08:00:00"
    assert "Monday to Friday" in usual["hours"]
    rates = planned.folder / "rates.toml"
    before = rates.read_text(encoding="utf-8")
    hours = '\nsheet_minutes = 5\n[hours]\ntuesday = ["10:00-12:00"]\n'
    head, _, rest = before.partition("\n[[sheets]]")
    rates.write_text(f"{head}{hours}\n[[sheets]]{rest}", encoding="utf-8")
    own = client.get("/api/schedule", params={"begin": MONDAY.isoformat()}).json()
    rates.write_text(before, encoding="utf-8")
    assert own["slots"][0]["begin"] == f"{MONDAY + datetime.timedelta(days=1)}T10:00:00"
    assert own["slots"][0]["late_days"] == 4
    assert own["warnings"] == ["Small order will be late by 4 days."]
    assert "rates.toml, with 5 min between sheets" in own["hours"]
    cleared = client.patch(f"/api/orders-on-record/{number}", json={"due": None}).json()
    assert (cleared["orders"][0]["due"], cleared["orders"][0]["customer"]) == (None, "quay")


def test_an_order_on_record_leads_to_its_page(planned: SmallWorkshop) -> None:
    client = planned.client()
    on_record(client)
    (one,) = client.get("/api/orders-on-record").json()["orders"]
    assert (one["title"], one["slug"]) == ("Small order", SLUG)


def test_an_order_is_meant_by_its_number_even_if_that_is_another_ones_title(
    planned: SmallWorkshop,
) -> None:
    client = planned.client()
    number = on_record(client)
    database = Database(str(planned.folder / "records.sqlite"))
    Orders(database).add(str(number), by="keeper")
    database.close()
    state = {"state": "running"}
    told = client.put(f"/api/orders-on-record/{number}/state", json=state).json()
    assert told["orders"][0]["title"] == "Small order"
    assert client.put("/api/orders-on-record/999/state", json=state).status_code == 404


def test_the_report_sets_what_was_expected_beside_what_it_came_to(workshop: SmallWorkshop) -> None:
    workshop.plan()
    client = workshop.client()
    assert client.get("/api/report").json()["orders"] == []
    on_record(client)
    run = {"sheet": 1, "minutes": took(client), "ran_on": "2031-05-05"}
    client.post(f"{ORDER}/runs", json=run).raise_for_status()
    report = client.get("/api/report").json()
    (order,) = report["orders"]
    assert order["expected_s"] == pytest.approx(order["actual_s"], abs=0.51)
    net = float(client.get(f"{ORDER}/price").json()["quote"]["net"])
    assert float(order["an_hour"]) == pytest.approx(net * 3600 / order["actual_s"], abs=0.006)
    (material,) = report["materials"]
    assert (material["material"], material["sheets"]) == ("board", 1)
    assert material["sheets_mm2"] == pytest.approx(120.0 * 100.0)
    assert client.get("/api/report", params={"since": "2031-05-06"}).json()["orders"] == []


def test_labels_are_printed_for_the_chosen_lots(stocked: SmallWorkshop) -> None:
    client = stocked.client()
    wanted = {"labels": ["S-001"], "small_pages": True}
    answer = client.post("/api/stock/labels", json=wanted).raise_for_status()
    assert answer.headers["content-type"] == "application/pdf"
    text = pdfium.PdfDocument(answer.content)[0].get_textpage().get_text_range()
    assert "S-001" in text
    none = client.post("/api/stock/labels", json={"labels": ["X-9"]})
    assert none.json()["code"] == "stock/no-such-label"
    assert client.post("/api/stock/labels", json={"labels": []}).status_code == 422


def test_a_backup_from_the_pages_is_read_back(stocked: SmallWorkshop, tmp_path: Path) -> None:
    client = stocked.client()
    text = client.get("/api/records/backup.json").raise_for_status().text
    assert json.loads(text)["document"] == "kerfwright records"
    there = str(tmp_path / "other.sqlite")
    database = Database(there)
    restore(database, text, "backup.json")
    database.close()
    runs = RunRecords(there)
    kept = [one.run.order for one in runs.runs()]
    runs.close()
    assert kept == [one["order"] for one in client.get("/api/runs").json()["runs"]]
    assert str(stocked.folder) in client.get("/api/records").json()["place"]
