"""Independent pieces of work on all cores at once, within one process.

They are threads: compiled kernels let go of the interpreter's lock while they run, and nothing
has to be copied to other processes. However many callers there are and however they are nested,
no more threads than cores work for them: a caller does its own tasks and lets idle threads take
some of them.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache
from typing import TypeVar, cast

Result = TypeVar("Result")
First = TypeVar("First")
Second = TypeVar("Second")


def cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@cache
def _threads() -> ThreadPoolExecutor | None:
    beside = cores() - 1
    return ThreadPoolExecutor(beside, thread_name_prefix="at once") if beside else None


def at_once(tasks: Sequence[Callable[[], Result]]) -> list[Result]:
    """Results of tasks in their order; as one by one if no task changes what another reads.

    The calling thread begins with the first task, where the longest belongs, and goes on from
    the last; the other threads take the tasks from the second on. A task may call this too.

    Raises:
        Exception: what a task raised; tasks that nobody has begun are dropped.
    """
    threads = _threads()
    if threads is None or len(tasks) < 2:
        return [task() for task in tasks]
    waiting = [threads.submit(task) for task in tasks[1:]]
    try:
        first = tasks[0]()
        rest = [
            # one that nobody has begun is done here, so that no thread waits for an idle one
            task() if future.cancel() else future
            for task, future in zip(tasks[:0:-1], waiting[::-1], strict=True)
        ]
        return [first, *(one.result() if isinstance(one, Future) else one for one in rest[::-1])]
    finally:
        for future in waiting:
            future.cancel()


def both(one: Callable[[], First], other: Callable[[], Second]) -> tuple[First, Second]:
    """Results of two tasks, as :func:`at_once`; the longer one belongs first."""
    tasks: list[Callable[[], First | Second]] = [one, other]
    first, second = at_once(tasks)
    return cast(First, first), cast(Second, second)
