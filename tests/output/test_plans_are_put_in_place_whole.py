"""A plan takes the place of another whole: whenever the process ends, the former or the new."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from kerfwright.output.in_place import NEW_PLAN, finished, put_in_place
from killed import every_step, files_of, killed_at

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="ends forks")

FORMER = {
    "plan.json": b"former",
    "sheet-01.nc": b"former 1",
    "sheet-02.nc": b"former 2",
    "quote.json": b"former quote",
    "pages/sheets.json": b"former sheets",
    "pages/sheet-02.moves": b"former moves",
    "help/order.html": b"help",
    "notes.txt": b"somebody's own",
}

GOES = ("sheet-01.nc", "sheet-02.nc", "quote.json", "pages")

NEW = {
    "plan.json": b"new",
    "sheet-01.nc": b"new 1",
    "pages/sheets.json": b"new sheets",
    "help/order.html": b"help anew",
}

BOTH = {**NEW, "notes.txt": b"somebody's own"}


def written(folder: Path, files: dict[str, bytes]) -> Path:
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


class Scenes:
    """A folder with the former plan, and the new one ready beside it, as often as asked."""

    def __init__(self, above: Path) -> None:
        self.above = above
        self.count = 0

    @property
    def folder(self) -> Path:
        return self.above / f"plan-{self.count}"

    def __call__(self) -> Callable[[], object]:
        self.count += 1
        folder = written(self.folder, FORMER)
        stage = written(folder / ".unfinished-x" / "plan", NEW)
        return lambda: put_in_place(stage, folder, GOES)


def test_it_is_the_former_plan_or_the_new_one_wherever_the_process_is_ended(
    tmp_path: Path,
) -> None:
    scene = Scenes(tmp_path)
    found = []
    for _ in every_step(scene):
        finished(scene.folder)
        found.append(files_of(scene.folder))
        assert not (scene.folder / NEW_PLAN).exists()
    assert found[0] == FORMER
    assert found[-1] == BOTH
    turned = found.index(BOTH)
    assert found == [FORMER] * turned + [BOTH] * (len(found) - turned)
    # most ends come after the new plan counts, with work left to do
    assert len(found) - turned > 10
    assert files_of(scene.folder) == BOTH


def test_finishing_may_be_ended_too(tmp_path: Path) -> None:
    scene = Scenes(tmp_path)
    first = 4
    assert killed_at(first, scene())
    for step in range(30):
        if not killed_at(step, lambda: finished(scene.folder)):
            break
    assert files_of(scene.folder) == BOTH


def test_half_moved_it_is_no_plan(tmp_path: Path) -> None:
    scene = Scenes(tmp_path)
    for _ in every_step(scene):
        there = files_of(scene.folder)
        if "plan.json" in there:
            assert there in (FORMER, BOTH)


def test_names_that_reach_out_of_the_folder_are_not_followed(tmp_path: Path) -> None:
    outside = tmp_path / "kept.txt"
    outside.write_text("kept")
    folder = written(tmp_path / "plan", FORMER)
    new = written(folder / NEW_PLAN, NEW)
    goes = ["../kept.txt", str(outside), "..", ".", "", 7, ".hidden"]
    (folder / ".hidden").touch()
    (new / ".goes.json").write_text(json.dumps(goes))
    assert finished(folder)
    assert outside.read_text() == "kept"
    assert (folder / ".hidden").exists()


def test_a_link_is_no_plan_to_be_finished(tmp_path: Path) -> None:
    elsewhere = written(tmp_path / "elsewhere", NEW)
    folder = written(tmp_path / "plan", FORMER)
    (folder / NEW_PLAN).symlink_to(elsewhere)
    assert not finished(folder)
    assert files_of(elsewhere) == NEW
