"""What the pages need beside a plan, written into the folder ``pages`` of the plan."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from kerfwright.plan import Plan

PAGES_FOLDER = "pages"

Writer = Callable[[Plan, Path], None]

WRITERS: tuple[Writer, ...] = ()
"""Each gets the plan and its folder, and writes what it has into ``pages`` in there."""


def write_for_pages(plan: Plan, folder: Path) -> None:
    """Write what the pages need of a plan; what an earlier plan left for them goes first."""
    shutil.rmtree(folder / PAGES_FOLDER, ignore_errors=True)
    (folder / PAGES_FOLDER).mkdir()
    for write in WRITERS:
        write(plan, folder)
