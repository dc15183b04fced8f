"""Writes what the pages need beside a plan to play its beam."""

from __future__ import annotations

import gzip
from functools import partial
from pathlib import Path

from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.output.whole_file import whole_file
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.shop.machine import Machine
from kerfwright.web.playback_file import clocked_moves, moves_bytes, process_codes
from kerfwright.web.playback_kept import (
    PAGES_FOLDER,
    PlayedPlan,
    SheetTime,
    index_file,
    moves_file,
    plan_sha256,
    playback_file,
)
from kerfwright.web.playback_sheet import playback_of

GZIP_LEVEL = 1
"""Higher levels make the files a few percent smaller, and take longer."""


def write_playback(plan: Plan, folder: Path, kept: Kept = NOTHING_KEPT) -> None:
    """Write the playback of every sheet into the folder ``pages`` in the ``folder`` of a plan.

    The plan itself must have been written before. What was there of an earlier plan goes.

    Raises:
        KerfwrightError: the files cannot be written.
    """
    pages = folder / PAGES_FOLDER
    pages.mkdir(parents=True, exist_ok=True)
    index_file(folder).unlink(missing_ok=True)
    written: set[Path] = set()
    for sheet in plan.sheets:
        moves, about = kept.of(
            "playback", (sheet, plan.machine), partial(sheet_playback, sheet, plan.machine)
        )
        written |= {
            _written(moves_file(folder, sheet.number), moves),
            _written(playback_file(folder, sheet.number), about),
        }
    for pattern in ("sheet-*.moves", "sheet-*.playback.json"):
        for file in pages.glob(pattern):
            if file not in written:
                file.unlink(missing_ok=True)
    played = PlayedPlan(
        plan_sha256=plan_sha256(folder),
        sheets=tuple(
            SheetTime(number=sheet.number, time_s=sheet.times.total_s) for sheet in plan.sheets
        ),
    )
    _written(index_file(folder), played.model_dump_json().encode())


def _written(file: Path, data: bytes) -> Path:
    with whole_file(file) as path:
        path.write_bytes(data)
    return file


def sheet_playback(sheet: PlannedSheet, machine: Machine) -> tuple[bytes, bytes]:
    """Make the two files of one sheet."""
    clocked = clocked_moves(sheet.toolpath, machine)
    processes = process_codes(sheet.toolpath, sheet.sources)
    moves = moves_bytes(sheet.toolpath, clocked, processes)
    about = playback_of(sheet, machine, clocked)
    # without the time of writing in it, the same plan always gives the same bytes
    return gzip.compress(moves, GZIP_LEVEL, mtime=0), about.model_dump_json().encode()
