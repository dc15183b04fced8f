"""Results of work kept in memory by what went into it, for planning again after a change.

A result is found again only if everything that its work reads is equal. Inputs are compared by a
digest of their content (SHA-256 over every field, number and byte), never by where they lie in
memory; where something cannot be digested exactly its result is not kept.
"""

from __future__ import annotations

import dataclasses
import hashlib
import struct
from collections import OrderedDict
from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from enum import Enum
from pathlib import PurePath
from threading import Lock
from typing import Any, TypeVar

import numpy as np
import shapely
from pydantic import BaseModel

T = TypeVar("T")

MOST_BYTES = 384 * 1024 * 1024
"""Of results kept for one order; what was not asked for longest is dropped first."""

LEAST_BYTES = 200
"""Reckoned for every object, however small."""


class Kept:
    """A memory of results, at most ``most_bytes`` of them; with 0 it keeps nothing."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most_bytes = most_bytes
        self._bytes = 0
        self._results: OrderedDict[bytes, tuple[Any, int]] = OrderedDict()
        self._lock = Lock()

    def __len__(self) -> int:
        return len(self._results)

    def of(
        self,
        work: str,
        inputs: object,
        make: Callable[[], T],
        *,
        found: Callable[[T], None] | None = None,
        worth_keeping: Callable[[T], bool] | None = None,
    ) -> T:
        """Return the result of ``work`` on ``inputs``: from memory, or else made now.

        ``inputs`` must be all that the work reads. ``found`` is called with what was in memory;
        what is not ``worth_keeping`` is made again the next time.
        """
        if self._most_bytes <= 0:
            return make()
        try:
            key = digest((work, inputs))
        except TypeError:
            return make()
        with self._lock:
            if key in self._results:
                self._results.move_to_end(key)
                result: T = self._results[key][0]
                known = True
            else:
                known = False
        if known:
            if found is not None:
                found(result)
            return result
        made = make()
        if worth_keeping is None or worth_keeping(made):
            self._keep(key, made)
        return made

    def _keep(self, key: bytes, result: object) -> None:
        size = _bytes_of(result)
        with self._lock:
            if key not in self._results:
                self._bytes += size
            self._results[key] = (result, size)
            while self._bytes > self._most_bytes and self._results:
                _, (_, dropped) = self._results.popitem(last=False)
                self._bytes -= dropped


NOTHING_KEPT = Kept(0)


def digest(value: object) -> bytes:
    """Return 32 bytes that are equal for equal content.

    Raises:
        TypeError: there is something in it whose content is not known.
    """
    said = hashlib.sha256()
    _say(value, said.update)
    return said.digest()


def _say(value: object, put: Callable[[bytes], None]) -> None:
    """Put a value's kind and content; lengths come first, so that nothing runs together."""
    plain = _plain(value)
    if plain is not None:
        name = type(value).__qualname__.encode()
        put(b"%d:%d:" % (len(name), len(plain)) + name + plain)
        return
    fields = _fields(value)
    head = f"{type(value).__module__}.{type(value).__qualname__}".encode()
    put(b"(%d:%d:" % (len(head), len(fields)) + head)
    for one in fields:
        _say(one, put)


def _plain(value: object) -> bytes | None:
    """Content of what has no parts, exactly; ``None`` for what has some."""
    if value is None or isinstance(value, Enum | str | bool | int | Decimal | date | PurePath):
        text = value.name if isinstance(value, Enum) else str(value)
        return text.encode("utf-8", "surrogatepass")
    if isinstance(value, bytes):
        return value
    if isinstance(value, float):
        return struct.pack("<d", value)
    if isinstance(value, np.ndarray | np.generic):
        if value.dtype.hasobject:
            raise TypeError("an array of objects cannot be compared by its content")
        return f"{value.dtype.descr}{value.shape}".encode() + value.tobytes()
    if isinstance(value, shapely.Geometry):
        return bytes(shapely.to_wkb(value, output_dimension=4, include_srid=True))
    return None


def _fields(value: object) -> list[object]:
    if isinstance(value, tuple | list):
        return list(value)
    if isinstance(value, set | frozenset):
        return sorted(digest(one) for one in value)  # type: ignore[return-value]
    if isinstance(value, Mapping):
        return [one for pair in value.items() for one in pair]
    if isinstance(value, BaseModel):
        # a field that nobody gave is equal to one that was given its usual value
        return [getattr(value, name) for name in type(value).model_fields]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return [getattr(value, field.name) for field in dataclasses.fields(value)]
    raise TypeError(f"{type(value).__qualname__} cannot be compared by its content")


def _bytes_of(value: object) -> int:
    """About how much memory a result takes."""
    if isinstance(value, np.ndarray):
        return int(value.nbytes) + LEAST_BYTES
    if isinstance(value, shapely.Geometry):
        return 16 * int(shapely.get_num_coordinates(value)) + LEAST_BYTES
    if isinstance(value, str | bytes):
        return len(value) + LEAST_BYTES
    try:
        return LEAST_BYTES + sum(_bytes_of(one) for one in _fields(value))
    except TypeError:
        return LEAST_BYTES
