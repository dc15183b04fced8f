"""The server's end of the process that plans."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.process import BaseProcess
from threading import Thread

from kerfwright.web.planning.messages import Break, Message, PlanThis
from kerfwright.web.planning.working import work


class Worker:
    """A process that plans one order after the other.

    ``heard`` gets what it says, ``ended`` its exit code once it is gone, whatever ended it; both
    are called from a thread of the worker's own.
    """

    def __init__(
        self,
        heard: Callable[[Worker, Message], None],
        ended: Callable[[Worker, int | None], None],
    ) -> None:
        self._heard = heard
        self._ended = ended
        # a fork would copy the locks of the server's threads as they happen to be
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        self._process: BaseProcess = context.Process(
            target=work, args=(theirs,), name="kerfwright planning", daemon=True
        )
        self._process.start()
        theirs.close()
        self._listening = Thread(target=self._listen, name="planning heard", daemon=True)
        self._listening.start()

    @property
    def pid(self) -> int:
        """Number of the process."""
        return self._process.pid or 0

    def send(self, message: PlanThis | Break) -> None:
        """Ask for something; a process that is gone is told of by ``ended``."""
        with suppress(OSError):
            self._line.send(message)

    def kill(self) -> None:
        """End the process at once."""
        self._process.kill()

    def join(self) -> None:
        """Wait until process and thread are gone."""
        self._process.join()
        self._listening.join()

    def _listen(self) -> None:
        while True:
            try:
                message: Message = self._line.recv()
            except (EOFError, OSError):
                break
            self._heard(self, message)
        self._process.join()
        self._line.close()
        self._ended(self, self._process.exitcode)
