"""Keeps the last answers that took long to make, up to a size."""

from __future__ import annotations

import threading
from collections import OrderedDict


class Remembered:
    """Answers by a key that changes with everything they depend on."""

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._kept: OrderedDict[str, bytes] = OrderedDict()
        self._size = 0
        self._lock = threading.Lock()

    def get(self, key: str) -> bytes | None:
        """Return an answer, if it is still kept."""
        with self._lock:
            answer = self._kept.get(key)
            if answer is not None:
                self._kept.move_to_end(key)
            return answer

    def keep(self, key: str, answer: bytes) -> None:
        """Keep an answer, and let go of those asked for longest ago."""
        with self._lock:
            self._size += len(answer) - len(self._kept.pop(key, b""))
            self._kept[key] = answer
            while self._size > self._most_bytes:
                _, old = self._kept.popitem(last=False)
                self._size -= len(old)
