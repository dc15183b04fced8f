"""Has an order planned otherwise in a process of its own, one at a time."""

from __future__ import annotations

import json
import multiprocessing
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Lock
from typing import Literal

from pydantic import BaseModel

from kerfwright.errors import KerfwrightError
from kerfwright.output.whole_file import whole_file
from kerfwright.web.order_file import Change
from kerfwright.web.playback_kept import SheetTime, sheet_times
from kerfwright.web.reading import end_with_server
from kerfwright.web.workshop import OrderFolder

STATE_FILE = "state.json"

GRACE_S = 5.0
"""How long a process that is told to end may take before it is ended."""


class Told(BaseModel):
    """What the process of a trial says of itself."""

    words: str = ""
    """How far it is, or why it failed."""
    remedy: str = ""
    done: bool = False
    failed: bool = False


class TrialState(BaseModel):
    """How far a trial of an order is."""

    state: Literal["idle", "planning", "ready", "failed"] = "idle"
    words: str = ""
    """How far it is, or why it failed."""
    remedy: str = ""
    """What can be done where it failed."""
    changes: tuple[Change, ...] = ()
    """What is tried."""
    sheets: tuple[SheetTime, ...] = ()
    """The sheets of the trial, once it is ready."""


@dataclass(eq=False, slots=True)
class _Trial:
    slug: str
    changes: tuple[Change, ...]
    folder: tempfile.TemporaryDirectory[str]
    process: BaseProcess


@dataclass(eq=False, slots=True)
class Trials:
    """The trial of the workshop: a new one takes the place of the last, once that is over."""

    records: str | None = None
    _trial: _Trial | None = None
    _lock: Lock = field(default_factory=Lock)

    def start(self, order: OrderFolder, changes: Sequence[Change]) -> None:
        """Begin to plan an order otherwise.

        Raises:
            KerfwrightError: ``pages/trial-runs``: another one is not over.
        """
        with self._lock:
            running = self._trial
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
                target=run_trial,
                args=(str(order.file), tuple(changes), folder.name, self.records),
                daemon=True,
            )
            try:
                process.start()
            except BaseException:
                folder.cleanup()
                raise
            self._trial = _Trial(order.slug, tuple(changes), folder, process)

    def state(self, slug: str) -> TrialState:
        """How far the trial of an order is."""
        with self._lock:
            trial = self._trial
            if trial is None or trial.slug != slug:
                return TrialState()
            ended = not trial.process.is_alive()
            folder = Path(trial.folder.name)
            told = _told(folder)
            if told.done:
                return TrialState(state="ready", changes=trial.changes, sheets=sheet_times(folder))
            if told.failed or ended:
                words = told.words if told.failed else "The process that planned it ended early."
                return TrialState(
                    state="failed", words=words, remedy=told.remedy, changes=trial.changes
                )
            return TrialState(state="planning", words=told.words, changes=trial.changes)

    def folder(self, slug: str) -> Path | None:
        """Where the playback of an order's trial is, once it is ready."""
        with self._lock:
            trial = self._trial
            if trial is None or trial.slug != slug or not _told(Path(trial.folder.name)).done:
                return None
            return Path(trial.folder.name)

    def stop(self, slug: str | None = None) -> None:
        """End the trial of an order, or of any, and forget it."""
        with self._lock:
            if self._trial is not None and slug in {None, self._trial.slug}:
                self._drop()

    def _drop(self) -> None:
        trial, self._trial = self._trial, None
        if trial is None:
            return
        trial.process.terminate()
        trial.process.join(GRACE_S)
        if trial.process.is_alive():
            trial.process.kill()
            trial.process.join()
        trial.process.close()
        trial.folder.cleanup()


def run_trial(
    order_file: str, changes: tuple[Change, ...], folder: str, records: str | None
) -> None:
    """Plan otherwise, and say in the folder's state file how far it is."""
    state = Path(folder) / STATE_FILE

    def tell(words: str, remedy: str = "", *, done: bool = False, failed: bool = False) -> None:
        for place in (folder, str(Path(order_file).parent.resolve())):
            words = words.replace(f"{place}/", "")
        told = Told(words=words, remedy=remedy, done=done, failed=failed)
        with whole_file(state) as path:
            path.write_text(told.model_dump_json(), encoding="utf-8")

    end_with_server()
    tell("Loading the planner")
    # the server's own process must not wait for the planner to be imported
    from kerfwright.planner import PlanStoppedError  # noqa: PLC0415
    from kerfwright.web.playback_otherwise import planned_otherwise  # noqa: PLC0415

    try:
        planned_otherwise(Path(order_file), changes, Path(folder), records, tell)
    except KerfwrightError as error:
        tell(error.thing, error.remedy, failed=True)
    except PlanStoppedError as stopped:
        tell(stopped.stops[0].what, stopped.stops[0].remedy, failed=True)
    else:
        tell("", done=True)


def _told(folder: Path) -> Told:
    with suppress(OSError, json.JSONDecodeError):
        return Told.model_validate(json.loads((folder / STATE_FILE).read_text(encoding="utf-8")))
    return Told(words="Starting")
