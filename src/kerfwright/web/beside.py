"""Work beside the server, in a process of its own and with a folder of its own, one at a time.

What the work says of itself lies in the folder's state file; what it finds, beside that.
"""

from __future__ import annotations

import json
import multiprocessing
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Lock
from typing import Any, Generic, Literal, Protocol, TypeVar

from pydantic import BaseModel

from kerfwright.errors import KerfwrightError
from kerfwright.output.whole_file import whole_file
from kerfwright.web.reading import end_with_server
from kerfwright.web.workshop import OrderFolder

STATE_FILE = "state.json"

GRACE_S = 5.0
"""How long a process that is told to end may take before it is ended."""

About = TypeVar("About")

Target = Callable[[str, Any, str, str | None], None]
"""What the process runs, with the order's file, what is asked, its folder, and the records' place;
a function of a module, since the process imports it."""

State = Literal["planning", "ready", "failed"]


class Told(BaseModel):
    """What the process says of itself."""

    words: str = ""
    """How far it is, or why it failed."""
    remedy: str = ""
    done: bool = False
    failed: bool = False


class Tell(Protocol):
    """Says how far the work is."""

    def __call__(self, words: str, /) -> None:
        """Say it."""


@dataclass(frozen=True, slots=True)
class Standing(Generic[About]):
    """How far the work for an order is, what was asked for, and where it lies."""

    state: State
    told: Told
    about: About
    folder: Path


@dataclass(eq=False, slots=True)
class _Work(Generic[About]):
    slug: str
    about: About
    folder: tempfile.TemporaryDirectory[str]
    process: BaseProcess


class Beside(Generic[About]):
    """One piece of work: a new one takes the place of the last, once that is over."""

    def __init__(self, target: Target, records: str | None = None) -> None:
        self._target = target
        self._records = records
        self._work: _Work[About] | None = None
        self._lock = Lock()

    def start(self, order: OrderFolder, about: About) -> None:
        """Begin the work for an order.

        Raises:
            KerfwrightError: ``pages/trial-runs``: another one is not over.
        """
        with self._lock:
            running = self._work
            if running is not None and running.process.is_alive():
                raise KerfwrightError(
                    "pages/trial-runs",
                    file=running.slug,
                    thing="another way is being worked out already.",
                    remedy="Wait until it is done, or stop it.",
                )
            self._drop()
            folder = tempfile.TemporaryDirectory(prefix="kerfwright-")
            process = multiprocessing.get_context("spawn").Process(
                target=self._target,
                args=(str(order.file), about, folder.name, self._records),
                daemon=True,
            )
            try:
                process.start()
            except BaseException:
                folder.cleanup()
                raise
            self._work = _Work(order.slug, about, folder, process)

    def standing(self, slug: str) -> Standing[About] | None:
        """How far the work for an order is; ``None`` where there is none."""
        with self._lock:
            work = self._work
            if work is None or work.slug != slug:
                return None
            # asked first: what a process said last is only there once it has ended
            ended = not work.process.is_alive()
            folder = Path(work.folder.name)
            told = _told(folder)
            state: State = "planning"
            if told.done:
                state = "ready"
            elif told.failed or ended:
                state = "failed"
                if not told.failed:
                    told = Told(words="The process that planned it ended early.")
            return Standing(state, told, work.about, folder)

    def stop(self, slug: str | None = None) -> None:
        """End the work for an order, or for any, and forget it."""
        with self._lock:
            if self._work is not None and slug in {None, self._work.slug}:
                self._drop()

    def _drop(self) -> None:
        work, self._work = self._work, None
        if work is None:
            return
        work.process.terminate()
        work.process.join(GRACE_S)
        if work.process.is_alive():
            work.process.kill()
            work.process.join()
        work.process.close()
        work.folder.cleanup()


def tell_while(work: Callable[[Tell], None], order_file: Path, folder: Path) -> None:
    """Do the work, and say in the folder's state file how far it is and how it ended.

    Where folders lie is left out of what is said.
    """
    state = folder / STATE_FILE
    places = (str(folder), str(order_file.parent.resolve()))

    def note(told: Told) -> None:
        for place in places:
            told.words = told.words.replace(f"{place}/", "")
        with whole_file(state) as path:
            path.write_text(told.model_dump_json(), encoding="utf-8")

    def tell(words: str) -> None:
        note(Told(words=words))

    end_with_server()
    tell("Loading the planner")
    # the server's own process must not wait for the planner to be imported
    from kerfwright.planner import PlanStoppedError  # noqa: PLC0415

    try:
        work(tell)
    except KerfwrightError as error:
        note(Told(words=error.thing, remedy=error.remedy, failed=True))
    except PlanStoppedError as stopped:
        first = stopped.stops[0]
        note(Told(words=first.what, remedy=first.remedy, failed=True))
    else:
        note(Told(done=True))


def _told(folder: Path) -> Told:
    with suppress(OSError, json.JSONDecodeError):
        return Told.model_validate(json.loads((folder / STATE_FILE).read_text(encoding="utf-8")))
    return Told(words="Starting")
