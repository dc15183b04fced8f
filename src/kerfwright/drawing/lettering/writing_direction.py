"""In which order the characters of a line stand, where scripts run both ways.

The rules W1 to W7, N0 to N2, I1, I2 and L2 of the Unicode Bidirectional Algorithm (Unicode
Standard Annex 9). Codes that embed or override a direction are passed over.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

_BRACKETS = dict(
    zip("([{⟨༺༼᚛⁅⁽₍⌈⌊〈⦅「『【〔〖〘〚（［｛", ")]}⟩༻༽᚜⁆⁾₎⌉⌋〉⦆」』】〕〗〙〛）］｝", strict=True)
)
_CLOSING = {closing: opening for opening, closing in _BRACKETS.items()}

_NEUTRAL = frozenset(("B", "S", "WS", "ON", "BN"))

_PASSED_OVER = frozenset(
    ("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"),
)


def levels_of(text: str, *, rtl: bool) -> list[int]:
    """Return each character's embedding level: odd ones run from right to left."""
    kinds = [unicodedata.bidirectional(character) or "L" for character in text]
    base = 1 if rtl else 0
    if not rtl and not {"R", "AL", "AN"} & set(kinds):
        return [0] * len(text)
    kinds = ["BN" if kind in _PASSED_OVER else kind for kind in kinds]
    outside = "R" if rtl else "L"
    _weak(kinds, outside)
    _brackets(text, kinds, outside)
    _neutral(kinds, outside)
    return [base + _rise(kind, base) for kind in kinds]


def visual_order(levels: Sequence[int]) -> list[int]:
    """Return the order from left to right of pieces with the given levels (rule L2)."""
    order = list(range(len(levels)))
    for level in range(max(levels, default=0), 0, -1):
        start = 0
        while start < len(order):
            end = start
            while end < len(order) and levels[order[end]] >= level:
                end += 1
            order[start:end] = order[start:end][::-1]
            start = max(end, start + 1)
    return order


def _rise(kind: str, base: int) -> int:
    if base % 2 == 0:
        return {"R": 1, "AN": 2, "EN": 2}.get(kind, 0)
    return 1 if kind in {"L", "AN", "EN"} else 0


def _weak(kinds: list[str], outside: str) -> None:
    before, strong = outside, outside
    for i, kind in enumerate(kinds):
        if kind == "NSM":
            kinds[i] = before
        elif kind == "EN" and strong == "AL":
            kinds[i] = "AN"
        if kinds[i] in {"L", "R", "AL"}:
            strong = kinds[i]
        before = kinds[i]
    kinds[:] = ["R" if kind == "AL" else kind for kind in kinds]
    for i in range(1, len(kinds) - 1):
        left, kind, right = kinds[i - 1 : i + 2]
        if left == right and (kind == "CS" or (kind == "ES" and left == "EN")):
            kinds[i] = left if left in {"EN", "AN"} else kind
    _terminators(kinds)
    strong = outside
    for i, kind in enumerate(kinds):
        if kind in {"L", "R"}:
            strong = kind
        elif kind in {"ES", "ET", "CS"}:
            kinds[i] = "ON"
        elif kind == "EN" and strong == "L":
            kinds[i] = "L"


def _terminators(kinds: list[str]) -> None:
    start = 0
    while start < len(kinds):
        end = start
        while end < len(kinds) and kinds[end] == "ET":
            end += 1
        beside = (kinds[start - 1] if start else "", kinds[end] if end < len(kinds) else "")
        if end > start and "EN" in beside:
            kinds[start:end] = ["EN"] * (end - start)
        start = max(end, start + 1)


def _brackets(text: str, kinds: list[str], outside: str) -> None:
    open_at: list[int] = []
    pairs: list[tuple[int, int]] = []
    for i, character in enumerate(text):
        if kinds[i] != "ON":
            continue
        if character in _BRACKETS:
            open_at.append(i)
        elif character in _CLOSING:
            for depth in range(len(open_at) - 1, -1, -1):
                if text[open_at[depth]] == _CLOSING[character]:
                    pairs.append((open_at[depth], i))
                    del open_at[depth:]
                    break
    for first, last in sorted(pairs):
        inside = {_as_strong(kind) for kind in kinds[first + 1 : last]} - {""}
        if outside in inside:
            kinds[first] = kinds[last] = outside
        elif inside:
            earlier = [_as_strong(kind) for kind in kinds[:first]]
            before = next((kind for kind in reversed(earlier) if kind), outside)
            kinds[first] = kinds[last] = before if before in inside else outside


def _as_strong(kind: str) -> str:
    return "L" if kind == "L" else "R" if kind in {"R", "EN", "AN"} else ""


def _neutral(kinds: list[str], outside: str) -> None:
    start = 0
    while start < len(kinds):
        end = start
        while end < len(kinds) and kinds[end] in _NEUTRAL:
            end += 1
        if end > start:
            before = _as_strong(kinds[start - 1]) if start else outside
            after = _as_strong(kinds[end]) if end < len(kinds) else outside
            kinds[start:end] = [before if before == after else outside] * (end - start)
        start = max(end, start + 1)
