"""Ends work with SIGKILL at a place between two changes of a folder, always at the same one.

The work runs in a process of its own, a fork, which cannot tidy up after it is killed.
"""

from __future__ import annotations

import os
import signal
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path

CHANGES = ("mkdir", "rename", "replace", "rmdir", "unlink")
"""Functions of ``os`` by which names come, move and go."""


def killed_at(
    step: int, work: Callable[[], object], begin: tuple[object, str] | None = None
) -> bool:
    """Do the work, killed before its change number ``step``, from 0; whether it came so far.

    With ``begin``, a function of a module, only changes from its call on are counted.
    """
    if begin is None:
        return killed_in(lambda: _count_down(step), work)
    return killed_in(lambda: _count_down_in(step, *begin), work)


def killed_in(trap: Callable[[], None], work: Callable[[], object]) -> bool:
    """Do the work after the trap was set, in a process of its own; whether it was killed."""
    child = os.fork()
    if child == 0:
        try:
            trap()
            work()
        except BaseException:
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return True
    assert os.WEXITSTATUS(status) == 0, "the work failed instead of being killed"
    return False


def kill_now(*_: object, **__: object) -> None:
    """What a function is replaced with that shall not be reached alive."""
    os.kill(os.getpid(), signal.SIGKILL)


def every_step(prepare: Callable[[], Callable[[], object]]) -> Iterator[int]:
    """Kill work before each of its changes in turn; ``prepare`` sets the scene for each anew."""
    step = 0
    while killed_at(step, prepare()):
        yield step
        step += 1


def files_of(folder: Path) -> dict[str, bytes]:
    """Everything in a folder that is no leftover of work, by its name within."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder)
        if path.is_file() and not any(part.startswith(".") for part in name.parts):
            found[name.as_posix()] = path.read_bytes()
    return found


def _count_down(step: int) -> None:
    left = [step]

    def counted(change: Callable[..., object]) -> Callable[..., object]:
        def made(*given: object, **named: object) -> object:
            if left[0] == 0:
                kill_now()
            left[0] -= 1
            return change(*given, **named)

        return made

    for name in CHANGES:
        setattr(os, name, counted(getattr(os, name)))


def _count_down_in(step: int, module: object, name: str) -> None:
    function = getattr(module, name)

    def called(*given: object, **named: object) -> object:
        _count_down(step)
        return function(*given, **named)

    setattr(module, name, called)
