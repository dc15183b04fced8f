"""What the interface gives a page to play a sheet, and the same order tried otherwise.

Sources: RFC 9110, sections 8.4.1 (content codings), 8.8.3 (entity tags) and 15.4.5 (304).
"""

from __future__ import annotations

import gzip
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from kerfwright.plan import Plan
from kerfwright.planner import plan_order
from kerfwright.web.app import make_app
from kerfwright.web.playback_file import read_columns
from kerfwright.web.playback_model import Playback
from kerfwright.web.workshop import Workshop
from played_order import played_order

TRY = {"changes": [{"at": ["settings", "order_of_work"], "value": "part"}]}


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plan]:
    folder = tmp_path_factory.mktemp("shop") / "quay"
    folder.mkdir()
    return folder, played_order(folder)[1]


@pytest.fixture
def client(planned: tuple[Path, Plan]) -> Iterator[TestClient]:
    with TestClient(make_app(Workshop(planned[0], str(planned[0] / "r.sqlite")))) as opened:
        yield opened


def test_sheets_that_can_be_played_are_listed(
    client: TestClient, planned: tuple[Path, Plan]
) -> None:
    (sheet,) = planned[1].sheets
    assert client.get("/api/orders/quay/playback").json() == [
        {"number": 1, "time_s": pytest.approx(sheet.times.total_s)}
    ]


def test_a_sheet_comes_with_its_parts_and_sources(client: TestClient) -> None:
    told = Playback.model_validate(client.get("/api/orders/quay/sheets/1/playback").json())
    assert len(told.parts) == 3
    assert {one.process for one in told.sources} == {"engrave", "score", "cut"}
    assert {one.item for one in told.sources} == {"boards"}
    assert len(told.colours["light"]) == len(told.colours["dark"]) > 8


def test_moves_are_packed_only_for_those_who_unpack(
    client: TestClient, planned: tuple[Path, Plan]
) -> None:
    address = "/api/orders/quay/sheets/1/moves"
    packed = client.get(address, headers={"accept-encoding": "gzip"})
    plain = client.get(address, headers={"accept-encoding": "identity"})
    assert packed.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in plain.headers
    assert int(packed.headers["content-length"]) < int(plain.headers["content-length"])
    assert packed.content == plain.content, "the client unpacks by itself"
    kept = (planned[0] / "plan" / "pages" / "sheet-01.moves").read_bytes()
    assert gzip.decompress(kept) == plain.content
    assert len(read_columns(plain.content)["end_s"]) == len(planned[1].sheets[0].toolpath)


def test_moves_that_are_known_are_not_sent_again(client: TestClient) -> None:
    address = "/api/orders/quay/sheets/1/moves"
    tag = client.get(address).headers["etag"]
    again = client.get(address, headers={"if-none-match": tag})
    assert (again.status_code, again.content) == (304, b"")
    other = client.get(address, headers={"if-none-match": '"0-0"'})
    assert other.status_code == 200


@pytest.mark.parametrize("what", ["playback", "moves"])
def test_a_sheet_that_is_not_there_is_told(client: TestClient, what: str) -> None:
    answer = client.get(f"/api/orders/quay/sheets/9/{what}")
    assert answer.status_code == 404
    assert answer.json()["code"] == "pages/nothing-there"
    assert client.get(f"/api/orders/quay/sheets/0/{what}").status_code == 422
    assert client.get(f"/api/orders/quay/sheets/..%2F1/{what}").status_code in {404, 422}


@pytest.mark.parametrize(
    "at",
    [
        ["items", 0, "drawing"],
        ["machine"],
        ["materials", 0],
        ["settings", "nest_seconds"],
        ["items", "engrave"],
    ],
)
def test_only_the_beams_way_can_be_tried(client: TestClient, at: list[str | int]) -> None:
    answer = client.post(
        "/api/orders/quay/what-if", json={"changes": [{"at": at, "value": "../../secret"}]}
    )
    assert answer.status_code == 422
    assert answer.json()["code"] == "pages/not-to-try"
    assert client.get("/api/orders/quay/what-if").json()["state"] == "idle"


def test_nothing_tried_has_nothing_to_play(client: TestClient) -> None:
    answer = client.get("/api/orders/quay/what-if/sheets/1/moves")
    assert (answer.status_code, answer.json()["code"]) == (404, "pages/nothing-there")


def ended(client: TestClient, folder: Path) -> dict[str, object]:
    """Wait for the end of a trial; where the order lies is never told meanwhile."""
    until = time.monotonic() + 120
    while time.monotonic() < until:
        told: dict[str, object] = client.get("/api/orders/quay/what-if").json()
        assert str(folder) not in str(told["words"])
        if told["state"] != "planning":
            return told
        time.sleep(0.1)
    pytest.fail("the trial did not end")


def test_another_way_is_planned_and_the_order_stays(
    client: TestClient, planned: tuple[Path, Plan], tmp_path: Path
) -> None:
    folder = planned[0]
    before = {file: file.read_bytes() for file in folder.rglob("*") if file.is_file()}
    assert client.post("/api/orders/quay/what-if", json=TRY).status_code == 202
    second = client.post("/api/orders/quay/what-if", json=TRY)
    assert (second.status_code, second.json()["code"]) == (422, "pages/trial-runs")
    told = ended(client, folder)
    assert told["state"] == "ready", told
    after = {file: file.read_bytes() for file in folder.rglob("*") if file.is_file()}
    assert {file: after[file] for file in before} == before
    for name in ("machine.toml", "board.toml", "drawn.svg"):
        (tmp_path / name).write_bytes((folder / name).read_bytes())
    text = (folder / "order.toml").read_text(encoding="utf-8")
    changed = text.replace("[settings]", '[settings]\norder_of_work = "part"')
    (tmp_path / "order.toml").write_text(changed, encoding="utf-8")
    (sheet,) = plan_order(tmp_path / "order.toml").sheets
    assert told["sheets"] == [{"number": 1, "time_s": pytest.approx(sheet.times.total_s)}]
    played = client.get("/api/orders/quay/what-if/sheets/1/playback").json()
    processes = [one["process"] for one in played["stretches"]]
    assert processes.count("cut") > 1, "each part's cuts follow its marks"
    moves = client.get("/api/orders/quay/what-if/sheets/1/moves").content
    assert read_columns(moves)["end_s"][-1] == pytest.approx(sheet.times.total_s)
    assert client.delete("/api/orders/quay/what-if").status_code == 204
    assert client.get("/api/orders/quay/what-if").json()["state"] == "idle"


def test_a_way_that_cannot_be_planned_tells_why(
    client: TestClient, planned: tuple[Path, Plan]
) -> None:
    wrong = {"changes": [{"at": ["items", 0, "engrave"], "value": "sideways"}]}
    assert client.post("/api/orders/quay/what-if", json=wrong).status_code == 202
    told = ended(client, planned[0])
    assert told["state"] == "failed"
    assert "engrave" in str(told["words"])


def test_a_trial_can_be_stopped(client: TestClient) -> None:
    assert client.post("/api/orders/quay/what-if", json=TRY).status_code == 202
    trial = client.app.state.trials._beside._work  # type: ignore[attr-defined]
    process, folder = trial.process, Path(trial.folder.name)
    assert process.is_alive()
    assert client.delete("/api/orders/quay/what-if").status_code == 204
    assert not folder.exists()
    with pytest.raises(ValueError, match="closed"):
        process.is_alive()
