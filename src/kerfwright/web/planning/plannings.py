"""The orders that are planned or wait for it, and the process that plans them."""

from __future__ import annotations

import logging
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from threading import RLock, Timer

from kerfwright.errors import KerfwrightError
from kerfwright.output.in_place import finished
from kerfwright.web.planning.messages import (
    Break,
    Dropped,
    LayoutShown,
    Message,
    Outcome,
    Planned,
    PlanThis,
    Refused,
    Stopped,
    Words,
)
from kerfwright.web.planning.news import Event, Line, News
from kerfwright.web.planning.states import (
    Ended,
    LayoutNews,
    PlanningState,
    Progress,
    SheetShown,
    Told,
)
from kerfwright.web.planning.worker import Worker
from kerfwright.web.playback_kept import plan_sha256
from kerfwright.web.telling import told
from kerfwright.web.workshop import OrderFolder, Workshop

_log = logging.getLogger(__name__)

GRACE_S = 3.0
"""A planning that was dropped ends at its next step; after so long its process is ended."""

MOST_QUEUED = 200


class Plannings:
    """Plans orders one after the other in a process that is begun with the first.

    All methods may be called from any thread.
    """

    def __init__(self, workshop: Workshop) -> None:
        self.news = News()
        self._workshop = workshop
        self._lock = RLock()
        self._queue: list[OrderFolder] = []
        self._now: OrderFolder | None = None
        self._run = 0
        self._dropped_run = 0
        self._plan_before: str | None = None
        self._states: dict[str, PlanningState] = {}
        # counted on from the time of the start, so that a page knows what is newer after it too
        self._number_last = self._number_first = time.time_ns() // 1_000_000
        self._layouts: dict[str, LayoutNews] = {}
        self._worker: Worker | None = None
        self._closed = False

    @property
    def worker_pid(self) -> int | None:
        """Number of the process that plans, while there is one."""
        with self._lock:
            return None if self._worker is None else self._worker.pid

    def state(self, slug: str) -> PlanningState:
        """Where an order stands."""
        with self._lock:
            unknown = PlanningState(order=slug, number=self._number_first)
            return self._states.get(slug, unknown)

    def states(self) -> list[PlanningState]:
        """All orders that were asked for since the start."""
        with self._lock:
            return list(self._states.values())

    def ask(self, order: OrderFolder) -> PlanningState:
        """Plan an order after those that wait already; one that is being planned begins anew.

        Raises:
            KerfwrightError: ``pages/queue-full``.
        """
        with self._lock:
            if self._now is not None and self._now.slug == order.slug:
                self._queue = [order, *(one for one in self._queue if one.slug != order.slug)]
                self._drop_now()
            elif order.slug not in {one.slug for one in self._queue}:
                if len(self._queue) >= MOST_QUEUED:
                    raise KerfwrightError(
                        "pages/queue-full",
                        file=order.slug,
                        thing=f"{MOST_QUEUED} orders wait to be planned already.",
                        remedy="Wait until some are done, or take some out of the queue.",
                    )
                self._queue.append(order)
            self._set(order.slug, state="queued", words="", started=None)
            self._next()
            return self.state(order.slug)

    def stop(self, slug: str) -> PlanningState:
        """End the search for places and keep the best so far; what only waits is dropped."""
        with self._lock:
            if self._now is None or self._now.slug != slug:
                return self.drop(slug)
            if self._worker is not None and self.state(slug).state == "planning":
                self._worker.send(Break("stop", self._run))
                words = "Stopping the search; the best layout so far is kept"
                self._set(slug, state="stopping", words=words)
            return self.state(slug)

    def drop(self, slug: str) -> PlanningState:
        """Drop an order's planning whole; its plan stays as it was before."""
        with self._lock:
            waiting = [one for one in self._queue if one.slug == slug]
            self._queue = [one for one in self._queue if one.slug != slug]
            if self._now is not None and self._now.slug == slug:
                self._drop_now()
                self._set(slug, words="Dropping the planning")
            elif waiting:
                self._set(slug, state="idle", outcome="dropped", position=None)
            self._number()
            return self.state(slug)

    @contextmanager
    def listening(self) -> Iterator[Line]:
        """News for one page, in a running loop: first every state and layouts that improve."""
        with self._lock:  # whoever tells has it, so that nothing falls between
            states = [Event("state", (one.order,), one) for one in self._states.values()]
            layouts = [_layout_event(one) for one in self._layouts.values()]
            line = self.news.listen([*states, *layouts])
        try:
            yield line
        finally:
            self.news.leave(line)

    def hush(self) -> None:
        """Let go of the pages that listen."""
        self.news.close()

    def close(self) -> None:
        """End the process and forget what waits."""
        self.hush()
        with self._lock:
            self._closed = True
            self._queue.clear()
            worker, self._worker = self._worker, None
        if worker is not None:
            worker.kill()
            worker.join()

    def _next(self) -> None:
        """Hand the first that waits to the process, if it is idle."""
        if self._now is None and self._queue and not self._closed:
            order = self._now = self._queue.pop(0)
            self._run += 1
            self._plan_before = plan_sha256(order.plan_folder)
            self._layouts.clear()
            self._set(
                order.slug,
                state="planning",
                position=None,
                words="Beginning",
                started=datetime.now(UTC),
                findings=(),
                error=None,
            )
            if self._worker is None and not self._begun():
                return
            records = self._workshop.records
            asked = PlanThis(self._run, order.slug, order.file, order.plan_folder, records)
            assert self._worker is not None
            self._worker.send(asked)
        self._number()

    def _begun(self) -> bool:
        """Begin the process; where the system has none to give, the order hears of it."""
        try:
            self._worker = Worker(self._heard, self._ended)
        except (OSError, RuntimeError) as error:
            _log.exception("the process that plans could not be begun")
            assert self._now is not None
            self._came_to(
                self._now.slug,
                Refused(
                    "pages/planning-broke-off",
                    self._now.slug,
                    f"the process that plans could not be begun ({type(error).__name__}).",
                    "Close other programs and plan it again, or start the server again.",
                ),
            )
            return False
        return True

    def _number(self) -> None:
        for number, one in enumerate(self._queue, 1):
            if self.state(one.slug).position != number:
                self._set(one.slug, state="queued", position=number)

    def _drop_now(self) -> None:
        worker, run = self._worker, self._run
        if worker is None:
            return
        self._dropped_run = run
        worker.send(Break("drop", run))

        def insist() -> None:
            with self._lock:
                if self._worker is worker and self._now is not None and self._run == run:
                    worker.kill()

        timer = Timer(GRACE_S, insist)
        timer.daemon = True
        timer.start()

    def _heard(self, worker: Worker, message: Message) -> None:
        with self._lock:
            if worker is not self._worker or self._now is None:
                return
            slug = self._now.slug
            if isinstance(message, Words):
                if self._dropped_run != self._run:
                    self._tell_words(slug, message.words)
            elif isinstance(message, LayoutShown):
                sheets = tuple(SheetShown(**asdict(one)) for one in message.sheets)
                layout = LayoutNews(
                    order=slug,
                    material=message.material,
                    sheets=sheets,
                    left_over=message.left_over,
                    cost=message.cost,
                )
                self._layouts[message.material] = layout
                self.news.tell(_layout_event(layout))
            else:
                self._came_to(slug, message)

    def _tell_words(self, slug: str, words: str) -> None:
        changed = self._changed(slug, words=words)
        told_words = Progress(order=slug, number=changed.number, words=words)
        self.news.tell(Event("progress", (slug,), told_words))

    def _came_to(self, slug: str, outcome: Outcome) -> None:
        """Note how a planning ended, and begin the next."""
        self._now = None
        again = any(one.slug == slug for one in self._queue)
        self._layouts.clear()
        changes: dict[str, object] = {"words": "", "started": None}
        changes |= {"finished": datetime.now(UTC)}
        if isinstance(outcome, Planned):
            changes |= {"outcome": "planned", "took_s": outcome.took_s, "kept": outcome.kept}
        elif isinstance(outcome, Stopped):
            changes |= {"outcome": "stopped", "findings": outcome.findings}
        elif isinstance(outcome, Refused):
            error = KerfwrightError(
                outcome.code, file=outcome.file, thing=outcome.thing, remedy=outcome.remedy
            )
            shown = Told.model_validate(told(error, self._workshop))
            changes |= {"outcome": "refused", "error": shown}
        elif isinstance(outcome, Dropped) and not again:
            changes |= {"outcome": "dropped"}
        self._set(slug, state="queued" if again else "idle", **changes)
        if isinstance(outcome, Planned):
            self.news.tell(Event("planned", (slug,), Ended(order=slug)))
        elif isinstance(outcome, Stopped):
            ended = Ended(order=slug, findings=outcome.findings)
            self.news.tell(Event("stopped", (slug,), ended))
        self._next()

    def _ended(self, worker: Worker, exit_code: int | None) -> None:
        """The process is gone: say so of the order it was at, and go on with a new one."""
        with self._lock:
            if worker is not self._worker:
                return
            self._worker = None
            order = self._now
            if order is None or self._closed:
                return
            if self._is_new(order):
                # it was written, and only its last words were not heard
                self._came_to(order.slug, Planned(self._taken_s(order.slug), 0))
                return
            if self._dropped_run == self._run:
                self._came_to(order.slug, Dropped())
                return
            self._came_to(
                order.slug,
                Refused(
                    "pages/planning-broke-off",
                    order.slug,
                    f"planning it broke off: its process ended by itself or was ended from "
                    f"outside{_by(exit_code)}.",
                    "Its plan is as it was before. Plan it again; if that breaks off too, memory "
                    "may be short: close other programs or simplify the drawings.",
                ),
            )

    def _is_new(self, order: OrderFolder) -> bool:
        """Put right what a process left that was ended; whether the order has another plan now."""
        finished(order.plan_folder)
        for folder in order.plan_folder.glob(".unfinished-*"):
            shutil.rmtree(folder, ignore_errors=True)
        return plan_sha256(order.plan_folder) not in {None, self._plan_before}

    def _taken_s(self, slug: str) -> float:
        started = self.state(slug).started
        return 0.0 if started is None else (datetime.now(UTC) - started).total_seconds()

    def _set(self, slug: str, **changes: object) -> None:
        self.news.tell(Event("state", (slug,), self._changed(slug, **changes)))

    def _changed(self, slug: str, **changes: object) -> PlanningState:
        self._number_last += 1
        changed = self.state(slug).model_copy(update={**changes, "number": self._number_last})
        self._states[slug] = changed
        return changed


def _layout_event(layout: LayoutNews) -> Event:
    return Event("layout", (layout.order, layout.material), layout)


def _by(exit_code: int | None) -> str:
    return f" (signal {-exit_code})" if exit_code is not None and exit_code < 0 else ""
