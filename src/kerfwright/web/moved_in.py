"""Files that are moved into an order's folder just before its order file names them.

What is on its way is noted first. A server that was killed in between has told nobody that the
files came; the note lets the next one know for certain which they are, and put them aside.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from pydantic import BaseModel, ValidationError

from kerfwright.errors import KerfwrightError
from kerfwright.output.whole_file import whole_file
from kerfwright.shop.files import load_order
from kerfwright.shop.named_files import paths_of
from kerfwright.web.changing import AMONG_SERVERS, changing, digest_of
from kerfwright.web.uploads import free_name
from kerfwright.web.workshop import OrderFolder, Workshop

REPLACED = "replaced"
"""Folder in an order's folder for drawings that others took the place of, or that nothing names."""

NOTE = "moved-in.json"
"""Lies in the unfinished folder that the files come from, and goes with it."""

WAIT_S = 1.0


class OnTheWay(BaseModel):
    """What is moved into an order's folder."""

    order: str
    """The order's name in addresses."""
    sha256: dict[str, str]
    """Of each file, by its name in the order's folder."""


@contextmanager
def moved_in(order: OrderFolder, folder: Path, sent: Sequence[str]) -> Iterator[list[Path]]:
    """Move files out of an unfinished folder into an order's, under names that are free.

    Gives where they are. They go again if what is done with them fails. The order must be kept
    from other changes, :func:`kerfwright.web.changing.changing`, until the folder is gone.
    """
    taken = {path.name for path in order.folder.iterdir()}
    targets = []
    for name in sent:
        targets.append(order.folder / free_name(name, taken))
        taken.add(targets[-1].name)
    came = dict(zip(targets, sent, strict=True))
    note = OnTheWay(
        order=order.slug,
        sha256={target.name: digest_of(folder / name) for target, name in came.items()},
    )
    with whole_file(folder / NOTE) as file:
        file.write_text(note.model_dump_json(), encoding="utf-8")
    moved: list[Path] = []
    try:
        for target, name in came.items():
            (folder / name).rename(target)
            moved.append(target)
        yield moved
    except BaseException:
        for path in moved:
            path.unlink(missing_ok=True)
        raise


def put_strays_aside(workshop: Workshop, folder: Path) -> None:
    """Put aside what a killed server moved out of an unfinished folder, and no order file names.

    Nothing is done where another server is still at it, or somebody changed the file since.
    """
    if not AMONG_SERVERS:
        return
    try:
        note = OnTheWay.model_validate_json((folder / NOTE).read_bytes())
        order = workshop.order(note.order)
        with changing(order.folder, wait_s=WAIT_S):
            if not (folder / NOTE).exists():
                return
            named = {Path(path).name for path in paths_of(load_order(order.file))}
            for name, sha256 in note.sha256.items():
                stray = order.folder / Path(name).name
                if name not in named and digest_of(stray) == sha256:
                    _put_aside(order, stray)
            shutil.rmtree(folder, ignore_errors=True)
    except (OSError, ValidationError, KerfwrightError):
        return


def _put_aside(order: OrderFolder, stray: Path) -> None:
    aside = order.folder / REPLACED
    with suppress(OSError):
        aside.mkdir(exist_ok=True)
        stray.rename(aside / free_name(stray.name, {path.name for path in aside.iterdir()}))
