"""Reads drawings in processes of their own, so that no drawing can hang or end the server.

A drawing comes from a stranger. Whatever it makes of the libraries that read it, the process it is
read in is given a time and so much memory, and is ended when it passes them.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import queue
import signal
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, ParamSpec, TypeVar

from kerfwright.errors import KerfwrightError

READ_S = 60.0
"""Time for a drawing; those of ordinary orders take less than a second."""

START_S = 300.0
"""Time for a process to begin: on a new machine kernels are compiled first."""

MEMORY_BYTES = 3 * 2**30
"""What a drawing may take beyond what the libraries take by themselves."""

AT_ONCE = 2

_SIMPLER = "Make it simpler in the drawing program: fewer points, smaller pictures."

_log = logging.getLogger(__name__)

Given = ParamSpec("Given")
Got = TypeVar("Got")


class Readers:
    """A few processes that read drawings; each is begun when it is first needed.

    ``prepare``, a function of a module, loads in each of them what its work needs.
    """

    def __init__(
        self,
        *,
        at_once: int = AT_ONCE,
        seconds: float = READ_S,
        memory_bytes: int = MEMORY_BYTES,
        prepare: Callable[[], None] | None = None,
    ) -> None:
        self.seconds = seconds
        self._memory_bytes = memory_bytes
        self._prepare = prepare or _nothing
        # last in, first out: the process that read last remembers what it read
        self._free: queue.LifoQueue[_Reader | None] = queue.LifoQueue()
        for _ in range(at_once):
            self._free.put(None)

    def start(self) -> None:
        """Begin all processes in the background, so that the first drawings need not wait."""
        for _ in range(self._free.qsize()):
            threading.Thread(target=self._start, daemon=True).start()

    def ask(
        self, file: str, work: Callable[Given, Got], *args: Given.args, **named: Given.kwargs
    ) -> Got:
        """Run ``work``, a function of a module, in a reader; ``file`` names it in errors.

        Raises:
            KerfwrightError: what ``work`` raised, or ``pages/drawing-takes-too-long``,
                ``pages/drawing-needs-too-much``, ``pages/drawing-not-understood``.
        """
        reader = self._free.get()
        answered = False
        try:
            if reader is None or not reader.alive:
                reader = _Reader(self._memory_bytes, self._prepare)
                reader.await_ready()
            result: Got = reader.ask(file, self.seconds, (work, args, named))
            answered = True
            return result
        except KerfwrightError as error:
            answered = not error.code.startswith("pages/drawing-")
            raise
        finally:
            if not answered and reader is not None:
                reader.end()
            self._free.put(reader if answered else None)

    def close(self) -> None:
        """End all processes that are idle."""
        waiting = self._free.qsize()
        for _ in range(waiting):
            reader = self._free.get()
            if reader is not None:
                reader.end()
            self._free.put(None)

    def _start(self) -> None:
        self.ask("", _nothing)


class _Reader:
    """One process and the line to it."""

    def __init__(self, memory_bytes: int, prepare: Callable[[], None]) -> None:
        # a fork would copy the locks of the server's threads as they happen to be
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        self._process: BaseProcess = context.Process(
            target=_read_on, args=(theirs, memory_bytes, prepare), daemon=True
        )
        self._process.start()
        theirs.close()

    @property
    def alive(self) -> bool:
        return self._process.is_alive()

    def await_ready(self) -> None:
        self._answer("", START_S)

    def ask(self, file: str, seconds: float, asked: tuple[Any, ...]) -> Any:
        self._line.send(asked)
        return self._answer(file, seconds)

    def end(self) -> None:
        self._line.close()
        self._process.kill()
        self._process.join()

    def _answer(self, file: str, seconds: float) -> Any:
        if not self._line.poll(seconds):
            raise KerfwrightError(
                "pages/drawing-takes-too-long",
                file=file,
                thing=f"reading it took longer than {seconds:g} s and was stopped.",
                remedy=f"{_SIMPLER} The command kerfwright plan waits for as long as it takes.",
            )
        try:
            kind, answer = self._line.recv()
        except (EOFError, OSError):
            kind, answer = "memory", None
        if kind == "done":
            return answer
        if kind == "told":
            raise KerfwrightError(answer.pop("code"), **answer)
        if kind == "memory":
            raise KerfwrightError(
                "pages/drawing-needs-too-much",
                file=file,
                thing="reading it needs more memory than a drawing is given, or broke off.",
                remedy=_SIMPLER,
            )
        _log.error("%s: reading failed\n%s", file, answer["trace"])
        raise KerfwrightError(
            "pages/drawing-not-understood",
            file=file,
            thing=f"reading it failed in a way that nobody foresaw ({answer['kind']}).",
            remedy="Open it in the drawing program and save it again, or leave parts of it out.",
        )


def end_with_server() -> None:
    """Have this process end when its server does, however that ends, whatever it is at."""
    server = multiprocessing.parent_process()
    if server is None:
        return

    def watch() -> None:
        server.join()
        os._exit(0)

    threading.Thread(target=watch, name="watches the server", daemon=True).start()


def _nothing() -> None:
    """Where nothing is to be done, or only to be seen whether a process answers."""


def _read_on(line: Connection, memory_bytes: int, prepare: Callable[[], None]) -> None:
    """Answer what is asked until the server lets go of the line."""
    # Ctrl-C reaches every process of a terminal; the server ends this one
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    end_with_server()
    prepare()
    _limit_memory(memory_bytes)
    line.send(("done", None))
    while True:
        try:
            work, args, named = line.recv()
            line.send(_done(work, args, named))
        except (EOFError, OSError):
            return


def _done(
    work: Callable[..., Any], args: tuple[Any, ...], named: dict[str, Any]
) -> tuple[str, Any]:
    import traceback  # noqa: PLC0415

    try:
        return "done", work(*args, **named)
    except KerfwrightError as error:
        fields = {"file": error.file, "thing": error.thing, "remedy": error.remedy}
        return "told", {"code": error.code, **fields}
    except MemoryError:
        return "memory", None
    except Exception as error:  # a damaged drawing makes libraries raise nearly anything
        return "failed", {"kind": type(error).__name__, "trace": traceback.format_exc()}


def _limit_memory(more_bytes: int) -> None:
    """Bound the process's address space, where the system can (POSIX setrlimit, RLIMIT_AS)."""
    try:
        import resource  # noqa: PLC0415
        from pathlib import Path  # noqa: PLC0415

        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
        most = pages * resource.getpagesize() + more_bytes
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
    except (ImportError, OSError, ValueError):
        _log.info("memory cannot be bounded on this system; time is")


def _load() -> None:
    from kerfwright.web.drawn import warm_up  # noqa: PLC0415 (the server itself does without)

    warm_up()


READERS = Readers(prepare=_load)
"""Those of this server; none runs before the first drawing is asked for."""
