"""Two who change one order see each other's changes, or are told.

RFC 9110, section 13.1.1: If-Match is "most often used with state-changing methods to prevent
accidental overwrites when multiple user agents might be acting in parallel"; 412 where it fails.
"""

from __future__ import annotations

import threading
import tomllib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from kerfwright.errors import KerfwrightError
from kerfwright.web import order_file
from kerfwright.web.changing import changing
from kerfwright.web.order_file import Change, save_changes
from small_workshop import SLUG, SmallWorkshop

ORDER = f"/api/orders/{SLUG}"


def patched(client: TestClient, at: list[Any], value: object, seen: str | None = None) -> Any:
    headers = {} if seen is None else {"if-match": f'"{seen}"'}
    body = {"changes": [{"at": at, "value": value}]}
    return client.patch(ORDER, json=body, headers=headers)


def read(workshop: SmallWorkshop) -> dict[str, Any]:
    return tomllib.loads((workshop.order / "order.toml").read_text(encoding="utf-8"))


def test_the_second_of_two_changes_to_one_state_is_refused(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    page = client.get(ORDER)
    seen = page.json()["digest"]
    assert page.headers["etag"] == f'"{seen}"'
    first = patched(client, ["items", 0, "quantity"], 7, seen)
    second = patched(client, ["title"], "Mine", seen)
    assert (second.status_code, second.json()["code"]) == (412, "pages/changed-elsewhere")
    assert read(workshop)["title"] == "Small order"
    again = patched(client, ["title"], "Mine", first.json()["digest"])
    assert again.status_code == 200
    assert (read(workshop)["title"], read(workshop)["items"][0]["quantity"]) == ("Mine", 7)


def test_what_an_editor_wrote_is_not_overwritten(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    seen = client.get(ORDER).json()["digest"]
    file = workshop.order / "order.toml"
    file.write_text("# mine\n" + file.read_text(encoding="utf-8"), encoding="utf-8")
    headers = {"if-match": f'"{seen}"'}
    drawing = [("files", ("new.svg", b"<svg/>"))]
    asked = [
        patched(client, ["title"], "Other", seen),
        client.post(f"{ORDER}/items", data={"material": "board"}, files=drawing, headers=headers),
        client.put(f"{ORDER}/items/0/drawing", files=drawing, headers=headers),
        client.delete(f"{ORDER}/items/0", headers=headers),
        client.post(f"{ORDER}/items/0/batch", files={"table": b"a\n1\n"}, headers=headers),
        client.delete(ORDER, headers=headers),
    ]
    assert [one.status_code for one in asked] == [412] * 6
    assert file.read_text(encoding="utf-8").startswith("# mine\n")
    assert sorted(one.name for one in workshop.order.iterdir()) == ["order.toml", "tile.svg"]


def test_a_save_in_an_editor_between_reading_and_writing_is_seen(
    workshop: SmallWorkshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = workshop.order / "order.toml"
    changed_text = order_file.changed_text

    def slow(text: str, *others: Any) -> str:
        file.write_text("# mine\n" + text, encoding="utf-8")
        return changed_text(text, *others)

    monkeypatch.setattr(order_file, "changed_text", slow)
    with pytest.raises(KerfwrightError) as told:
        save_changes(file, [Change(at=("title",), value="Other")])
    assert told.value.code == "pages/changed-elsewhere"
    assert file.read_text(encoding="utf-8").startswith("# mine\n")


def test_changes_at_the_same_moment_are_all_made(workshop: SmallWorkshop) -> None:
    client = workshop.client()
    count = 12

    def add(number: int) -> int:
        guide = {"sheet": "offcut", "x_mm": float(number + 1)}
        while True:
            page = client.get(ORDER).json()
            at = ["guides", len(page["order"]["guides"])]
            answer = patched(client, at, guide, page["digest"])
            if answer.status_code != 412:
                return int(answer.status_code)

    with ThreadPoolExecutor(6) as threads:
        assert set(threads.map(add, range(count))) == {200}
    assert {one["x_mm"] for one in read(workshop)["guides"]} == {float(n + 1) for n in range(count)}


def test_who_waits_too_long_is_told(tmp_path: Path) -> None:
    held, done = threading.Event(), threading.Event()

    def hold() -> None:
        with changing(tmp_path):
            held.set()
            done.wait()

    holder = threading.Thread(target=hold)
    holder.start()
    held.wait()
    with pytest.raises(KerfwrightError) as told, changing(tmp_path, wait_s=0.01):
        pass
    done.set()
    holder.join()
    assert told.value.code == "pages/busy"
    with changing(tmp_path, wait_s=0.01):
        assert list(tmp_path.iterdir()) == []


def test_readings_of_another_are_not_overwritten(workshop: SmallWorkshop) -> None:
    piece = workshop.folder / "calibration" / "piece"
    piece.mkdir(parents=True)
    (piece / "made.json").write_text(
        '{"name": "piece", "kind": "kerf", "machine": "machine.toml", "material": "", '
        '"made_on": "2026-05-04"}'
    )
    (piece / "readings.toml").write_text("gap_mm = 0.1\n")
    client = workshop.client()
    address = "/api/calibration/piece/readings"
    seen = client.get(address).json()["digest"]
    headers = {"if-match": f'"{seen}"'}
    assert client.put(address, json={"text": "gap_mm = 0.2\n"}, headers=headers).status_code == 200
    late = client.put(address, json={"text": "gap_mm = 0.3\n"}, headers=headers)
    assert late.status_code == 412
    assert (piece / "readings.toml").read_text() == "gap_mm = 0.2\n"
