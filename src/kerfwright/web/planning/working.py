"""The process that plans: it stays, so that compiled kernels and what was planned stay at hand."""

from __future__ import annotations

import logging
import os
import signal
import time
from collections import OrderedDict
from collections.abc import Callable, Sequence
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path
from queue import SimpleQueue
from threading import Lock, Thread
from typing import TYPE_CHECKING

from kerfwright.errors import KerfwrightError
from kerfwright.kept import Kept
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

if TYPE_CHECKING:
    from kerfwright.nesting.model import LayoutSoFar
    from kerfwright.shop.files import Shop
    from kerfwright.shop.runs import RecordedRun, RunsOf
    from kerfwright.shop.stock_lots import StockedLot, StockOf

MOST_ORDERS = 6
"""Orders of which planning is remembered."""

LEAST_S_BETWEEN_LAYOUTS = 0.35

KEPT_WORDS = ("Kept ", "kept from before")

_log = logging.getLogger(__name__)


class DroppedError(Exception):
    """The planning that is going on is not wanted any more."""


def work(line: Connection) -> None:
    """Plan what is asked for until the server lets go of the line."""
    # Ctrl-C reaches every process of a terminal; the server ends this one
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(5)  # pages are answered first
    asked: SimpleQueue[PlanThis] = SimpleQueue()
    breaks = Breaks()
    Thread(target=_listen, args=(line, asked, breaks), daemon=True).start()
    lock = Lock()

    def send(message: Message) -> None:
        with lock, suppress(OSError):  # without a server nobody listens, and this process ends
            line.send(message)

    kept: OrderedDict[str, Kept] = OrderedDict()
    send(Words("Loading the planner; on a new computer this takes some minutes, once"))
    from kerfwright.warm import warm  # noqa: PLC0415 (takes seconds, and the line must be heard)

    warm()
    while True:
        order = asked.get()
        memory = kept.setdefault(order.slug, Kept())
        kept.move_to_end(order.slug)
        while len(kept) > MOST_ORDERS:
            kept.popitem(last=False)
        send(_told(order, memory, send, breaks))


class Breaks:
    """The last tries that were asked to end; one that comes too late ends no other try."""

    def __init__(self) -> None:
        self._last = {"stop": -1, "drop": -1}

    def ask(self, one: Break) -> None:
        """End the search for places of a try, or all of it."""
        self._last[one.what] = one.run

    def dropped(self, run: int) -> bool:
        """Whether a try is to end whole."""
        return self._last["drop"] == run

    def search_ends(self, run: int) -> bool:
        """Whether a try's search is to end."""
        return run in self._last.values()


def _listen(line: Connection, asked: SimpleQueue[PlanThis], breaks: Breaks) -> None:
    while True:
        try:
            message = line.recv()
        except (EOFError, OSError):
            os._exit(0)  # the server is gone; there is nobody left to plan for
        if isinstance(message, PlanThis):
            asked.put(message)
        else:
            breaks.ask(message)


def _told(order: PlanThis, kept: Kept, send: Callable[[Message], None], breaks: Breaks) -> Outcome:
    """Plan an order and say how it ended, whatever happens."""
    from kerfwright.output.plan_json import finding_record  # noqa: PLC0415
    from kerfwright.output.sheet_writing import UnprovenProgramError  # noqa: PLC0415
    from kerfwright.planner import PlanStoppedError  # noqa: PLC0415

    try:
        telling = Telling(send, lambda: breaks.dropped(order.run))
        return _planned(order, kept, telling, lambda: breaks.search_ends(order.run))
    except DroppedError:
        return Dropped()
    except KerfwrightError as error:
        return Refused(error.code, error.file, error.thing, error.remedy)
    except PlanStoppedError as stopped:
        return Stopped(tuple(finding_record(one) for one in stopped.findings))
    except UnprovenProgramError as unproven:
        return Refused(
            "verification/program-not-proven",
            unproven.program,
            f"the program failed verification and was not kept. {'; '.join(unproven.faults)}",
            "Nothing was written. Please report it with the order and its drawings.",
        )
    except MemoryError:
        return Refused(
            "pages/planning-broke-off",
            order.slug,
            "planning it took more memory than there is.",
            "Close other programs, plan fewer items at once, or simplify their drawings.",
        )
    except Exception as error:  # what nobody foresaw must not end the process for other orders
        _log.exception("%s: planning failed", order.slug)
        return Refused(
            "pages/planning-failed",
            order.slug,
            f"planning it failed in a way that nobody foresaw ({type(error).__name__}: {error}).",
            "Nothing was written. Please report it with the order and its drawings.",
        )


class Telling:
    """Hands on words and layouts while an order is planned, layouts not too often."""

    def __init__(self, send: Callable[[Message], None], dropped: Callable[[], bool]) -> None:
        self.kept = 0
        self._send = send
        self._dropped = dropped
        self._due_s = 0.0
        self._waiting: LayoutSoFar | None = None

    def say(self, words: str) -> None:
        """Tell what is being done; here a planning that was dropped ends."""
        if self._dropped():
            raise DroppedError
        self.kept += any(one in words for one in KEPT_WORDS)
        waiting, self._waiting = self._waiting, None
        if waiting is not None:
            self._send(_drawn(waiting))
        self._send(Words(words))

    def show(self, so_far: LayoutSoFar) -> None:
        """Show a better layout, or keep it until the next words where one was just shown."""
        now_s = time.monotonic()
        if now_s < self._due_s:
            self._waiting = so_far
            return
        self._waiting = None
        self._send(_drawn(so_far))
        self._due_s = time.monotonic() + LEAST_S_BETWEEN_LAYOUTS


def _drawn(so_far: LayoutSoFar) -> LayoutShown:
    from kerfwright.web.planning.shown_layout import shown  # noqa: PLC0415

    return shown(so_far)


def _planned(
    order: PlanThis, kept: Kept, telling: Telling, search_ends: Callable[[], bool]
) -> Planned:
    from kerfwright.output.files import PLAN_FILE  # noqa: PLC0415
    from kerfwright.output.writing import require_folder, write_plan  # noqa: PLC0415
    from kerfwright.planner import plan_shop  # noqa: PLC0415
    from kerfwright.shop.files import load_shop  # noqa: PLC0415
    from kerfwright.web.planning.kept_files import write_for_pages  # noqa: PLC0415

    begun_ns, begun_s = time.time_ns(), time.monotonic()
    require_folder(order.plan_folder)
    shop = load_shop(order.order_file, stock_reader(order.records))
    plan = plan_shop(
        shop,
        telling.say,
        runs_reader(order.records),
        better=telling.show,
        stop=search_ends,
        kept=kept,
    )

    def beside(folder: Path) -> Sequence[str]:
        _date(folder / PLAN_FILE, begun_ns)
        return write_for_pages(shop, plan, folder, kept)

    write_plan(plan, order.plan_folder, telling.say, kept, beside)
    _note_recipes(shop, order.records, telling)
    return Planned(time.monotonic() - begun_s, telling.kept)


def _note_recipes(shop: Shop, records: str | None, telling: Telling) -> None:
    """Note what recipes are now; where that cannot be, the plan stands all the same."""
    from kerfwright.recipe_book import note_shop  # noqa: PLC0415
    from kerfwright.shop.database import Database, records_place  # noqa: PLC0415
    from kerfwright.shop.stock_records import whoever  # noqa: PLC0415

    database = Database(records_place(records))
    try:
        note_shop(database, shop, by=whoever())
    except KerfwrightError as error:
        telling.say(f"The recipes were not noted in the records: {error.thing}")
    finally:
        database.close()


def _date(file: Path, read_ns: int) -> None:
    """Date a plan to when its order was read: a change since then makes it out of date."""
    os.utime(file, ns=(read_ns, read_ns))


def runs_reader(place: str | None) -> RunsOf:
    """Return what reads the past runs of a machine."""
    from kerfwright.shop.database import records_place  # noqa: PLC0415
    from kerfwright.shop.records import RunRecords  # noqa: PLC0415

    def runs_of(machine: str) -> Sequence[RecordedRun]:
        records = RunRecords(records_place(place))
        try:
            return records.runs(machine)
        finally:
            records.close()

    return runs_of


def stock_reader(place: str | None) -> StockOf:
    """Return what reads the stock on record."""
    from kerfwright.shop.database import Database, records_place  # noqa: PLC0415
    from kerfwright.shop.stock_records import Stock  # noqa: PLC0415

    def stock_of(materials: Sequence[str]) -> Sequence[StockedLot]:
        database = Database(records_place(place))
        try:
            return Stock(database).of_materials(materials)
        finally:
            database.close()

    return stock_of
