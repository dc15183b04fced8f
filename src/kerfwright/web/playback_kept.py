"""Where the playback of a plan is kept: two files a sheet in the folder ``pages`` of the plan.

::

    plan/pages/sheet-01.moves           the moves (playback_file.py), packed with gzip
    plan/pages/sheet-01.playback.json   what lies round them (playback_model.py)
"""

from __future__ import annotations

from pathlib import Path

from pydantic import BaseModel

from kerfwright.web.playback_model import Playback

PAGES_FOLDER = "pages"


def moves_file(plan_folder: Path, number: int) -> Path:
    """Where the moves of a sheet are, in the folder of its plan."""
    return plan_folder / PAGES_FOLDER / f"sheet-{number:02d}.moves"


def playback_file(plan_folder: Path, number: int) -> Path:
    """Where the rest of a sheet's playback is, in the folder of its plan."""
    return plan_folder / PAGES_FOLDER / f"sheet-{number:02d}.playback.json"


class SheetTime(BaseModel):
    """How long a sheet takes that can be played."""

    number: int
    time_s: float


def sheet_times(folder: Path) -> tuple[SheetTime, ...]:
    """The sheets whose playback lies beside a plan in ``folder``."""
    files = sorted((folder / PAGES_FOLDER).glob("sheet-*.playback.json"))
    read = (Playback.model_validate_json(file.read_bytes()) for file in files)
    return tuple(SheetTime(number=one.number, time_s=one.time_s) for one in read)
