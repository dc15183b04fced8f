"""What the words of a layer's name say about the process.

The words are those of the trade and of ordinary English (common practice, no source); what a
user calls a layer otherwise is for the rules of the order.
"""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import pairwise

from kerfwright.toolpath import Process

_WORDS = {
    Process.CUT: "cut cuts cutting cutout cutouts",
    Process.SCORE: "score scores scored scoring fold folds folding crease creases creasing",
    Process.ENGRAVE: "engrave engraves engraved engraving engravings etch etched etching etchings "
    "raster",
    Process.GUIDE: "guide guides construction reference references alignment dimension dimensions "
    "annotation annotations",
}

_PROCESS_OF_WORD = {word: process for process, text in _WORDS.items() for word in text.split()}

_OUTLINE_WORDS = frozenset(("outline", "outlines"))
"""Mean a cut where no stronger word stands beside them: "engraving outline" is an engraving."""

_BURN_WORDS = frozenset(("burn", "burned", "burning", "burnt")) | {
    word for word, process in _PROCESS_OF_WORD.items() if process is not Process.GUIDE
}

_NOT_WORDS = frozenset(("no", "non", "not", "never", "dont", "without"))

_FILLERS = frozenset(("be", "to", "t"))
"""Stand between a "not" and its verb: "not to be cut", "don't burn"."""

GROUP_SEPARATOR = "/"
"""Between an outer layer's name and that of one inside it."""


@lru_cache(maxsize=1024)
def process_of_layer(layer: str) -> tuple[Process | None, bool]:
    """Process that a layer's name asks for, and whether the name asks for more than one.

    Of nested layers the innermost with a telling word decides. Within a name "guide" and "do not
    burn" come first, since a line that is missing is noticed in time and a burned one is not.
    """
    for name in reversed(layer.split(GROUP_SEPARATOR)):
        found = _processes_named(re.findall(r"[^\W\d_]+", name.lower()))
        if found:
            return (found.pop(), False) if len(found) == 1 else (None, True)
    return None, False


def _processes_named(words: list[str]) -> set[Process]:
    if _forbids_burning(words):
        return {Process.GUIDE}
    found = {_PROCESS_OF_WORD[word] for word in words if word in _PROCESS_OF_WORD}
    if Process.GUIDE in found:
        return {Process.GUIDE}
    if not found and _OUTLINE_WORDS.intersection(words):
        return {Process.CUT}
    return found


def _forbids_burning(words: list[str]) -> bool:
    forbidding = False
    for word, following in pairwise([*words, ""]):
        if word in _NOT_WORDS or (word == "don" and following == "t"):
            forbidding = True
        elif forbidding and word in _BURN_WORDS:
            return True
        elif word not in _FILLERS:
            forbidding = False
    return False
