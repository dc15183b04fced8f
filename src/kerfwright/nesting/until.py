"""When a search for a layout ends: after a time, when nothing gets better, or when dense enough."""

from __future__ import annotations

import math
import re
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from kerfwright.errors import KerfwrightError
from kerfwright.nesting.model import Layouts

STALL_SHARE = 0.5
"""A search stalls when so large a share of its time has passed without a better layout."""

STALL_LEAST_S = 2.0
"""It is given at least so long for a better one."""

MOST_SECONDS = 3600.0
"""No search goes on for longer."""


@dataclass(frozen=True, slots=True)
class Until:
    """The end that is set for a search: ``seconds`` in all, ``density`` reached, or a stall.

    ``work`` is counted in tried positions, for each sheet; a search that ends by it never looks
    at the clock.
    """

    seconds: float | None = None
    density: float | None = None
    stall: bool = False
    work: int | None = None

    @property
    def is_open(self) -> bool:
        """Whether the end is something else than a time."""
        return self.stall or self.density is not None

    @property
    def most_seconds(self) -> float:
        """Longest that a search may last."""
        if self.seconds is not None:
            return self.seconds
        return MOST_SECONDS if self.is_open else math.inf


NO_END = Until()


def until_of(text: str) -> Until:
    """Read ``20s``, ``2min``, ``stall`` or ``density=0.8``.

    Raises:
        KerfwrightError: ``nesting/until-unclear``, it is none of these.
    """
    words = text.strip().lower().replace(" ", "")
    if words == "stall":
        return Until(stall=True)
    if found := re.fullmatch(r"([0-9]*\.?[0-9]+)(s|min)", words):
        seconds = float(found[1]) * (60.0 if found[2] == "min" else 1.0)
        if 0.0 < seconds <= MOST_SECONDS:
            return Until(seconds=seconds)
    if found := re.fullmatch(r"density=([0-9]*\.?[0-9]+)(%?)", words):
        density = float(found[1]) / (100.0 if found[2] else 1.0)
        if 0.0 < density <= 1.0:
            return Until(density=density)
    raise KerfwrightError(
        "nesting/until-unclear",
        file="--nest-until",
        thing=f'"{text}" is no end for a search.',
        remedy="Give a time up to an hour such as 20s or 5min, stall, or density=0.8.",
    )


def _never() -> bool:
    return False


def _say_nothing(_: str) -> None:
    return


Better = Callable[[Layouts], None]
"""Gets the best layouts so far. They have not passed the check: they are only to be looked at."""


@dataclass(frozen=True, slots=True)
class Control:
    """What a search listens to and tells: ``stop`` is asked often, ``progress`` gets its words.

    ``better`` gets the best layouts so far whenever they get better, about five times a second
    at most, and last of all those that are returned. It is called from the searching thread.
    """

    until: Until = NO_END
    stop: Callable[[], bool] = _never
    progress: Callable[[str], None] = _say_nothing
    better: Better | None = None


UNCONTROLLED = Control()


@dataclass(slots=True)
class Watch:
    """Tells a search when to end; ``better`` is to be called with every better layout."""

    until: Until
    by_hand: Callable[[], bool] = _never
    density: float = 0.0
    _started: float = field(default_factory=time.monotonic)
    _bettered: float = field(default_factory=time.monotonic)

    def better(self, density: float) -> None:
        """Take note of a better layout and of how much of the room in use it covers."""
        self.density = density
        self._bettered = time.monotonic()

    @property
    def seconds_left(self) -> float:
        """Time until the search must end."""
        return max(self._started + self.until.most_seconds - time.monotonic(), 0.0)

    def ended(self) -> bool:
        """Whether the search is to end now."""
        if self.by_hand() or self.seconds_left <= 0.0:
            return True
        if self.until.density is not None and self.density >= self.until.density:
            return True
        now = time.monotonic()
        waited_s = max(STALL_LEAST_S, STALL_SHARE * (now - self._started))
        return self.until.stall and now - self._bettered > waited_s
