"""A server that is killed in the middle of its work loses nothing that it said was saved."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
import threading
import time
import tomllib
import urllib.request
from collections.abc import Callable
from functools import partial
from http.client import HTTPException
from pathlib import Path
from typing import Any

import pytest

from kerfwright.kept import Kept
from kerfwright.output import writing
from kerfwright.output.writing import write_plan
from kerfwright.planner import plan_shop
from kerfwright.shop.files import load_shop
from kerfwright.web import uploads
from kerfwright.web.left_over import LEFT_S, clear_unfinished
from kerfwright.web.planning.kept_files import write_for_pages
from killed import files_of, killed_at
from small_workshop import RATES, SLUG, SmallWorkshop

PATIENCE_S = 240.0
"""On a new machine kernels are compiled first."""

PLACING = (writing, "put_in_place")
"""From here on a plan takes the place of the former."""

LONG_SEARCH = {
    "quantity = 4\nturns_deg = [0]": "quantity = 30\nturns_deg = [0, 17, 90, 211]",
    "nest_seconds = 0.2": "nest_seconds = 3000",
    "count = 1": "count = 9",
    "width_mm = 120": "width_mm = 380",
}

pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks /proc")


class Served:
    """A server in a process of its own."""

    def __init__(self, folder: Path) -> None:
        words = ("-m", "kerfwright", "serve", str(folder), "--no-browser", "--port", "0")
        self.process = subprocess.Popen(
            [sys.executable, *words], stdout=subprocess.PIPE, text=True, start_new_session=True
        )
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().removeprefix("Open ").strip().rstrip("/")

    def __enter__(self) -> Served:
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    def ask(self, method: str, path: str, body: object = None) -> Any:
        headers = {"content-type": "application/json", "x-kerfwright": "test"}
        data = None if body is None else json.dumps(body).encode()
        asked = urllib.request.Request(f"{self.address}/api{path}", data, headers, method=method)
        with urllib.request.urlopen(asked, timeout=PATIENCE_S) as answer:
            return json.loads(answer.read())

    def change(self, at: list[str | int], value: object) -> None:
        self.ask("PATCH", f"/orders/{SLUG}", {"changes": [{"at": at, "value": value}]})

    def planning(self) -> dict[str, Any]:
        told: dict[str, Any] = self.ask("GET", f"/orders/{SLUG}/planning")
        return told

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()

    def others(self) -> list[int]:
        """Processes that it began, of which none may be left."""
        found = []
        for stat in Path("/proc").glob("[0-9]*/stat"):
            try:
                fields = stat.read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(fields[3]) == self.process.pid and fields[0] != "Z":
                found.append(int(stat.parent.name))
        return found


def wait(until: Callable[[], bool]) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while not until():
        assert time.monotonic() < end_s
        time.sleep(0.05)


def alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def lasting(folder: Path) -> dict[str, bytes]:
    """The files of a plan; of those that say when they were made only that they are there."""
    return {name: b"" if name.endswith(".pdf") else data for name, data in files_of(folder).items()}


def test_what_was_answered_is_there_and_files_are_whole(workshop: SmallWorkshop) -> None:
    said = 0
    for round_number in range(2):
        with Served(workshop.folder) as served:
            served.change(["title"], f"Title {said}")
            killer = threading.Timer(0.05 + 0.1 * round_number, served.process.kill)
            killer.start()
            number = said
            try:
                while True:
                    number += 1
                    served.change(["title"], f"Title {number}")
                    said = number
            except (OSError, HTTPException):  # not answered, or not to the end
                killer.join()
        title = tomllib.loads((workshop.order / "order.toml").read_text(encoding="utf-8"))["title"]
        # the last one may have been made without being answered any more
        assert title in {f"Title {said}", f"Title {said + 1}"}
        said = number
        wait(lambda: not served.others())


def test_what_was_begun_long_ago_is_cleared(workshop: SmallWorkshop) -> None:
    (workshop.order / "plan").mkdir()
    left = [
        workshop.order / ".unfinished-a.toml",
        workshop.order / "plan" / ".unfinished-b",
        workshop.folder / ".unfinished" / "c",
    ]
    for path in left:
        path.mkdir(parents=True)
    fresh = workshop.order / ".unfinished-fresh.toml"
    fresh.touch()
    long_ago = time.time() - 2 * LEFT_S
    for path in left:
        os.utime(path, (long_ago, long_ago))
    clear_unfinished(workshop.workshop)
    assert not any(path.exists() for path in left)
    assert fresh.exists()
    assert (workshop.order / "order.toml").exists()


def test_a_server_killed_while_it_plans_leaves_the_former_plan_and_an_idle_queue(
    workshop: SmallWorkshop,
) -> None:
    workshop.plan()
    former = files_of(workshop.order / "plan")
    order = workshop.order / "order.toml"
    text = order.read_text(encoding="utf-8")
    for short, long in LONG_SEARCH.items():
        assert short in text
        text = text.replace(short, long)
    order.write_text(text, encoding="utf-8")
    with Served(workshop.folder) as served:
        served.ask("POST", f"/orders/{SLUG}/planning")
        wait(lambda: served.planning()["words"].startswith("Placing parts"))
        workers = served.others()
        assert workers
        served.kill()
        wait(lambda: not any(alive(pid) for pid in workers))
    assert files_of(workshop.order / "plan") == former
    with Served(workshop.folder) as served:
        now = served.planning()
        assert (now["state"], now["outcome"], now["position"]) == ("idle", "none", None)
        assert served.ask("GET", f"/orders/{SLUG}")["plan"] == "out-of-date"


def test_killed_while_the_plan_is_written_it_is_the_former_or_the_new_one(
    workshop: SmallWorkshop,
) -> None:
    """The server finishes at its start what was whole already; the price goes with its plan."""
    workshop.plan()
    folder = workshop.order / "plan"
    former = lasting(folder)
    order = workshop.order / "order.toml"
    order.write_text(order.read_text().replace('"offcut"', '"other sheet"'))
    (workshop.folder / "rates.toml").write_text(RATES.replace("60.00", "90.00"))
    shop = load_shop(order)
    plan, kept = plan_shop(shop), Kept()
    write = partial(write_plan, plan, folder, None, kept)
    beside = partial(write_for_pages, shop, plan, kept=kept)
    untouched = workshop.folder / "untouched"
    shutil.copytree(folder, untouched)
    write(beside=beside)
    new = lasting(folder)
    assert former["quote.json"] != new["quote.json"]
    found = []
    for step, begin in ((3, None), *((step, PLACING) for step in (0, 1, 4, 9, 14, 30))):
        shutil.rmtree(folder)
        shutil.copytree(untouched, folder)
        assert killed_at(step, lambda: write(beside=beside), begin), step
        clear_unfinished(workshop.workshop)
        found.append(lasting(folder))
        assert found[-1] in (former, new), step
    assert found == [former] * 2 + [new] * 5


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EACCES])
def test_a_full_or_closed_disk_is_told_and_loses_nothing(
    workshop: SmallWorkshop, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    before = {path.name: path.read_bytes() for path in workshop.order.iterdir()}
    client = workshop.client()

    def full(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(Path, "write_bytes", full)
    monkeypatch.setattr(Path, "rename", full)
    monkeypatch.setattr(uploads, "_write", full)
    change = {"changes": [{"at": ["title"], "value": "Other"}]}
    files = [("files", ("a.svg", b"<svg/>"))]
    asked = [
        client.patch(f"/api/orders/{SLUG}", json=change),
        client.post(f"/api/orders/{SLUG}/items", data={"material": "board"}, files=files),
        client.post("/api/orders", data={"title": "New", "material": "board"}, files=files),
        client.delete(f"/api/orders/{SLUG}"),
    ]
    for answer in asked:
        assert answer.status_code == 422
        assert answer.json()["code"].endswith("/cannot-write")
        assert os.strerror(number) in answer.json()["thing"]
    assert {path.name: path.read_bytes() for path in workshop.order.iterdir()} == before
