"""Writes a file wholly or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from kerfwright.errors import KerfwrightError


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a file beside ``path`` to write to, and move it there when it is done.

    Raises:
        KerfwrightError: ``program/cannot-write``.
    """
    beside: Path | None = None
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".unfinished-", suffix=path.suffix)
        os.close(handle)
        beside = Path(name)
        beside.chmod(0o666 & ~_umask())
        yield beside
        _sync(beside)
        beside.replace(path)
    except OSError as error:
        raise KerfwrightError(
            "program/cannot-write",
            file=str(path),
            thing=f"the file cannot be written ({error.strerror or error}).",
            remedy="Give a place in a folder that is there, is yours and has room.",
        ) from error
    finally:
        if beside is not None:
            with suppress(OSError):
                beside.unlink(missing_ok=True)


def write_new_files(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder, made if need be, where none of them may be yet.

    Raises:
        KerfwrightError: one of them is there already, or the folder cannot be written.
    """
    for name in files:
        if (folder / name).exists():
            raise KerfwrightError(
                "calibration/in-the-way",
                file=str(folder / name),
                thing="this file is there already, and readings may have been written in it.",
                remedy="Give another folder with --out.",
            )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise KerfwrightError(
            "calibration/cannot-write",
            file=str(folder),
            thing=f"nothing can be written here ({error.strerror}).",
            remedy="Give a folder with --out that is yours and has room.",
        ) from None
    for name, data in files.items():
        with whole_file(folder / name) as path:
            path.write_bytes(data)


def _sync(file: Path) -> None:
    """Have it on the disk before it takes its place: else a power cut may leave an empty file."""
    with file.open("rb+") as written:
        os.fsync(written.fileno())


def _umask() -> int:
    """What a file made in the ordinary way would be kept from."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
