"""A server that is killed in the middle of its work loses nothing that it said was saved."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import threading
import time
import tomllib
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from kerfwright.web import uploads
from kerfwright.web.left_over import LEFT_S, clear_unfinished
from small_workshop import SLUG, SmallWorkshop

PATIENCE_S = 60.0

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

    def change(self, at: list[str | int], value: object) -> None:
        body = json.dumps({"changes": [{"at": at, "value": value}]}).encode()
        headers = {"content-type": "application/json", "x-kerfwright": "test"}
        asked = urllib.request.Request(
            f"{self.address}/api/orders/{SLUG}", body, headers, method="PATCH"
        )
        with urllib.request.urlopen(asked, timeout=PATIENCE_S) as answer:
            assert answer.status == 200

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
            except (urllib.error.URLError, OSError):
                killer.join()
        title = tomllib.loads((workshop.order / "order.toml").read_text(encoding="utf-8"))["title"]
        # the last one may have been made without being answered any more
        assert title in {f"Title {said}", f"Title {said + 1}"}
        said = number
        end_s = time.monotonic() + PATIENCE_S
        while served.others():
            assert time.monotonic() < end_s, served.others()
            time.sleep(0.05)


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


def test_a_plan_that_was_cut_off_is_none_and_leaves_no_program(
    workshop: SmallWorkshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = workshop.order / "plan"
    replace = Path.replace
    moved: list[str] = []

    def cut_off(path: Path, target: Path) -> Path:
        if len(moved) == 3:
            raise KeyboardInterrupt
        moved.append(Path(target).name)
        return replace(path, target)

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(Path, "replace", cut_off)
        workshop.plan()
    assert workshop.client().get(f"/api/orders/{SLUG}").json()["plan"] == "none"
    stray = [name for name in moved if (folder / name).is_file()]
    assert stray
    order = workshop.order / "order.toml"
    order.write_text(order.read_text().replace('"offcut"', '"other sheet"'))
    workshop.plan()
    listed = json.loads((folder / "plan.json").read_text())["sheets"]
    programs = {path.name for path in folder.glob("*.nc")}
    assert programs == {sheet["program"] for sheet in listed}
    assert not (folder / ".moving-plan.json").exists()


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
