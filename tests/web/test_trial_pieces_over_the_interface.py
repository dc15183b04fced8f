"""Trial pieces by the interface: made, read, taken over."""

from __future__ import annotations

import pytest

from kerfwright.shop.files import load_material
from small_workshop import SmallWorkshop

INTERVAL = {
    "kind": "interval",
    "machine": "machine.toml",
    "material": "materials/board.toml",
    "intervals": [0.1, 0.4, 5],
}


def test_a_piece_is_made_read_and_taken_over(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    made = client.post("/api/calibration", json=INTERVAL).raise_for_status().json()
    name = made["piece"]["name"]
    assert {"interval.nc", "readings.toml", "sheet.pdf"} <= set(made["files"])
    path = f"/api/calibration/{name}"
    assert client.get(f"{path}/files/interval.nc").status_code == 200
    early = client.get(f"{path}/result")
    assert early.status_code == 422
    sheet = client.get(f"{path}/readings").json()["text"]
    filled = sheet.replace("coarsest_even = []", "coarsest_even = [4, 4, 4]")
    assert filled != sheet
    client.put(f"{path}/readings", json={"text": filled}).raise_for_status()
    told = client.get(f"{path}/result").json()
    assert told["lines"][0]["name"] == "interval"
    client.post(f"{path}/acceptance").raise_for_status()
    recipe = load_material(workshop.folder / "materials" / "board.toml").recipe(
        "trial machine", "engrave"
    )
    assert recipe is not None
    assert recipe.interval_mm == pytest.approx(0.283, abs=0.001)  # 0.1 × 4^(3/4)
    assert recipe.status == "tested"
    (listed,) = client.get("/api/calibration").json()
    assert listed["accepted_on"]


def test_timed_runs_need_no_material(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    made = client.post("/api/calibration", json={"kind": "motion", "machine": "machine.toml"})
    assert any(name.endswith(".nc") for name in made.raise_for_status().json()["files"])


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"machine": "../machine.toml"}, "pages/nothing-there"),
        ({"material": "rates.toml"}, "pages/nothing-there"),
        ({"intervals": None}, "calibration/unclear-trial"),
        ({"intervals": [0.4, 0.1, 5]}, "calibration/bad-range"),
    ],
)
def test_what_cannot_be_made_is_refused(
    workshop: SmallWorkshop, change: dict[str, object], code: str
) -> None:
    client = workshop.client()
    answer = client.post("/api/calibration", json=INTERVAL | change)
    assert answer.json()["code"] == code
    assert client.get("/api/calibration").json() == []


def test_readings_that_cannot_be_read_leave_the_sheet_as_it_was(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    name = client.post("/api/calibration", json=INTERVAL).json()["piece"]["name"]
    path = f"/api/calibration/{name}/readings"
    before = client.get(path).json()
    answer = client.put(path, json={"text": "coarsest_even = ["})
    assert answer.json()["code"] == "calibration/not-toml"
    assert client.get(path).json() == before
