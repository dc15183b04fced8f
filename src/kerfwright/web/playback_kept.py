"""Where the playback of a plan is kept: two files a sheet in the folder ``pages`` of the plan.

::

    plan/pages/sheet-01.moves           the moves (playback_file.py), packed with gzip
    plan/pages/sheet-01.playback.json   what lies round them (playback_model.py)
    plan/pages/playback.json            which sheets there are, and of which plan they are
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from pydantic import BaseModel, ValidationError

from kerfwright.output.files import PLAN_FILE

PAGES_FOLDER = "pages"


def moves_file(plan_folder: Path, number: int) -> Path:
    """Where the moves of a sheet are, in the folder of its plan."""
    return plan_folder / PAGES_FOLDER / f"sheet-{number:02d}.moves"


def playback_file(plan_folder: Path, number: int) -> Path:
    """Where the rest of a sheet's playback is, in the folder of its plan."""
    return plan_folder / PAGES_FOLDER / f"sheet-{number:02d}.playback.json"


def index_file(plan_folder: Path) -> Path:
    """Where it is told which sheets can be played, in the folder of their plan."""
    return plan_folder / PAGES_FOLDER / "playback.json"


class SheetTime(BaseModel):
    """How long a sheet takes that can be played."""

    number: int
    time_s: float


class PlayedPlan(BaseModel):
    """The sheets that can be played, and the plan that they are of."""

    plan_sha256: str | None
    """Of ``plan.json``; ``None`` where there is none."""
    sheets: tuple[SheetTime, ...]


def sheet_times(folder: Path) -> tuple[SheetTime, ...]:
    """The sheets that can be played beside a plan in ``folder``; none of an older plan."""
    try:
        kept = PlayedPlan.model_validate_json(index_file(folder).read_bytes())
    except (OSError, ValidationError):
        return ()
    return kept.sheets if kept.plan_sha256 == plan_sha256(folder) else ()


def plan_sha256(folder: Path) -> str | None:
    """Tells one plan from another, by its ``plan.json``."""
    try:
        return hashlib.sha256((folder / PLAN_FILE).read_bytes()).hexdigest()
    except OSError:
        return None
