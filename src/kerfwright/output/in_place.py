"""Puts a written plan in the place of the one before: all of it, whatever ends the process.

A plan is put together in a folder of its own and that folder is then named :data:`NEW_PLAN`, in
one step. Until then the former plan is untouched; from then on the new one counts, and whoever
comes next finishes what is left to do. Each step can be done again: first what goes is removed,
then files are moved in, what makes a plan of them last.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from kerfwright.output.files import PLAN_FILE

try:
    import fcntl
except ImportError:  # not on Windows: there, nobody else may be at the same folder
    fcntl = None  # type: ignore[assignment]

NEW_PLAN = ".new-plan"
"""Folder in a plan's folder with a whole plan, from which it is moved into place."""

GOES_FILE = ".goes.json"
"""In :data:`NEW_PLAN` until it is done: names of what is to be removed first."""


def put_in_place(stage: Path, folder: Path, goes: Sequence[str]) -> None:
    """Move a whole plan from a folder in ``folder`` into it; ``goes`` names what is removed first.

    Raises:
        OSError: the folder cannot be written.
    """
    (stage / GOES_FILE).write_text(json.dumps(list(goes)), encoding="utf-8")
    with _alone(folder):
        _finish(folder)
        stage.rename(folder / NEW_PLAN)
        _finish(folder)


def finished(folder: Path) -> bool:
    """Finish what was left half done when the process ended; whether there was anything.

    What cannot be written now stays for later.
    """
    if not _is_begun(folder):
        return False
    with suppress(OSError), _alone(folder):
        _finish(folder)
    return not _is_begun(folder)


def _is_begun(folder: Path) -> bool:
    new = folder / NEW_PLAN
    return new.is_dir() and not new.is_symlink()


def _finish(folder: Path) -> None:
    if not _is_begun(folder):
        return
    new = folder / NEW_PLAN
    goes = new / GOES_FILE
    if goes.exists():
        # without what makes a plan of them, nobody takes files of two plans for one
        (folder / PLAN_FILE).unlink(missing_ok=True)
        for name in _names(goes):
            _remove(folder / name)
        goes.unlink()
    for path in sorted(new.rglob("*"), key=lambda path: (path == new / PLAN_FILE, path)):
        target = folder / path.relative_to(new)
        if path.is_dir():
            target.mkdir(exist_ok=True)
        else:
            path.replace(target)
    shutil.rmtree(new)


def _names(file: Path) -> list[str]:
    """Names of things in the folder itself: what was written by others must not reach further."""
    try:
        names = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    return [name for name in names if isinstance(name, str) and _is_plain(name)]


def _is_plain(name: str) -> bool:
    return bool(name) and Path(name).name == name and not name.startswith(".")


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep others from the same work (flock(2): the lock ends with the process that holds it)."""
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # some network file systems lock no folders
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
