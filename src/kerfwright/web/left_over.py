"""What a server that was ended in the middle of its work left behind."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from kerfwright.output.in_place import finished
from kerfwright.web.moved_in import NOTE, put_strays_aside
from kerfwright.web.new_order import UNFINISHED
from kerfwright.web.workshop import Workshop, is_within

LEFT_S = 3600.0
"""What nobody has touched for so long is not being written any more, by another server neither."""


def clear_unfinished(workshop: Workshop) -> None:
    """Finish plans that were whole already, and remove what was begun and never moved in place."""
    for order in workshop.orders():
        if is_within(order.plan_folder, workshop.folder):
            finished(order.plan_folder)
    for note in workshop.folder.glob(f"{UNFINISHED}/*/{NOTE}"):
        if is_within(note, workshop.folder):
            put_strays_aside(workshop, note.parent)
    oldest_s = time.time() - LEFT_S
    for path in _unfinished(workshop):
        with suppress(OSError):
            if not is_within(path.parent, workshop.folder) or path.lstat().st_mtime > oldest_s:
                continue
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink()
    with suppress(OSError):
        (workshop.folder / UNFINISHED).rmdir()


def _unfinished(workshop: Workshop) -> Iterator[Path]:
    yield from workshop.folder.glob(f"{UNFINISHED}/*")
    for order in workshop.orders():
        yield from order.folder.glob(".unfinished-*")
        yield from order.plan_folder.glob(".unfinished-*")
        yield from order.plan_folder.glob("pages/.unfinished-*")
    yield from workshop.folder.glob("calibration/*/.unfinished-*")
