"""Changes to files that several may change at once: one after the other, and none unseen.

Whoever changes a file says by its digest which state of it was looked at; a change to another
state is refused, so that nobody's work is overwritten unseen. Source: RFC 9110, sections 8.8.3
(ETag), 13.1.1 (If-Match, which is there "to prevent the lost update problem") and 15.5.13 (412).
"""

from __future__ import annotations

import hashlib
import os
import re
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from kerfwright.errors import KerfwrightError

try:
    import fcntl
except ImportError:  # not on Windows: there, only the changes of one server wait for each other
    fcntl = None  # type: ignore[assignment]

AMONG_SERVERS = fcntl is not None
"""Whether the changes of several servers wait for each other, and not only those of one."""

WAIT_S = 10.0
"""A change takes a fraction of a second; whoever waits longer is told so."""

_LOOK_S = 0.01

_TAG = re.compile(r'(?:W/)?"([^"]*)"')

_HELD: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)
_HOLDING = threading.Lock()


def digest_of(file: Path) -> str:
    """SHA-256 of a file, in hexadecimal digits; empty where it cannot be read."""
    try:
        return hashlib.sha256(file.read_bytes()).hexdigest()
    except OSError:
        return ""


@contextmanager
def changing(folder: Path, *, wait_s: float = WAIT_S) -> Iterator[None]:
    """Keep other threads and servers from changing what lies in a folder.

    The folder itself is locked, so that no lock file is left behind (flock(2): the lock ends with
    the process that holds it, however that ends).

    Raises:
        KerfwrightError: ``pages/busy``: somebody else holds it for longer than ``wait_s``.
    """
    end_s = time.monotonic() + wait_s
    with _HOLDING:
        held = _HELD[str(folder.resolve())]
    if not held.acquire(timeout=wait_s):
        raise _busy(folder)
    try:
        handle = _locked(folder, end_s)
        try:
            yield
        finally:
            if handle is not None:
                os.close(handle)
    finally:
        held.release()


def require_seen(file: Path, if_match: str | None) -> None:
    """Refuse to change a file that is no longer as whoever changes it has seen it.

    ``if_match`` is the header of that name; without it, any state will do.

    Raises:
        KerfwrightError: ``pages/changed-elsewhere``.
    """
    if if_match is None or if_match.strip() == "*":
        return
    if digest_of(file) not in _TAG.findall(if_match):
        raise changed_elsewhere(file.name)


def changed_elsewhere(name: str) -> KerfwrightError:
    """Make the error for a change to what is no longer as it was seen."""
    return KerfwrightError(
        "pages/changed-elsewhere",
        file=name,
        thing="it was changed elsewhere since this page loaded it, so your change was not made.",
        remedy="Load it anew, look at what is different, and make your change again.",
    )


def _locked(folder: Path, end_s: float) -> int | None:
    """Lock a folder against other processes, where the file system can."""
    if fcntl is None:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    except OSError:
        return None
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > end_s:
                os.close(handle)
                raise _busy(folder) from None
            time.sleep(_LOOK_S)
        except OSError:  # some network file systems lock no folders
            with suppress(OSError):
                os.close(handle)
            return None
        else:
            return handle


def _busy(folder: Path) -> KerfwrightError:
    return KerfwrightError(
        "pages/busy",
        file=folder.name,
        thing="somebody else is changing it right now.",
        remedy="Try again in a moment.",
    )
