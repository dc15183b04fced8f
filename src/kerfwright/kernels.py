"""How kernels are compiled that are called so often that even holding an array costs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])


def borrowing(**options: Any) -> Callable[[F], F]:
    """Compile a kernel that makes and returns no array, but only uses those of its callers.

    numba counts, atomically, who holds an array, each time one is taken out of a tuple of them. In
    the searches for layouts and for orders that took two fifths of the time and more. A kernel that
    only borrows arrays needs no counts; numba refuses to compile one so that makes arrays, itself
    or in what it calls.
    """
    compiled: Any = njit  # the option is not in its type hints
    return cast(Callable[[F], F], compiled(cache=True, nogil=True, _nrt=False, **options))
