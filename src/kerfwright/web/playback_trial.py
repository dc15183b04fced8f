"""Has an order planned otherwise beside its plan, to be played beside it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from pydantic import BaseModel

from kerfwright.web.beside import Beside, Tell, tell_while
from kerfwright.web.order_file import Change
from kerfwright.web.playback_kept import SheetTime, sheet_times
from kerfwright.web.workshop import OrderFolder


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


class Trials:
    """The trial of the workshop: a new one takes the place of the last, once that is over."""

    def __init__(self, records: str | None = None) -> None:
        self._beside: Beside[tuple[Change, ...]] = Beside(run_trial, records)

    def start(self, order: OrderFolder, changes: Sequence[Change]) -> None:
        """Begin to plan an order otherwise.

        Raises:
            KerfwrightError: ``pages/trial-runs``: another one is not over.
        """
        self._beside.start(order, tuple(changes))

    def state(self, slug: str) -> TrialState:
        """How far the trial of an order is."""
        standing = self._beside.standing(slug)
        if standing is None:
            return TrialState()
        ready = standing.state == "ready"
        return TrialState(
            state=standing.state,
            words=standing.told.words,
            remedy=standing.told.remedy,
            changes=standing.about,
            sheets=sheet_times(standing.folder) if ready else (),
        )

    def folder(self, slug: str) -> Path | None:
        """Where the playback of an order's trial is, once it is ready."""
        standing = self._beside.standing(slug)
        return standing.folder if standing is not None and standing.state == "ready" else None

    def stop(self, slug: str | None = None) -> None:
        """End the trial of an order, or of any, and forget it."""
        self._beside.stop(slug)


def run_trial(
    order_file: str, changes: tuple[Change, ...], folder: str, records: str | None
) -> None:
    """Plan otherwise, and say in the folder's state file how far it is."""

    def work(tell: Tell) -> None:
        from kerfwright.web.playback_otherwise import planned_otherwise  # noqa: PLC0415

        planned_otherwise(Path(order_file), changes, Path(folder), records, tell)

    tell_while(work, Path(order_file), Path(folder))
