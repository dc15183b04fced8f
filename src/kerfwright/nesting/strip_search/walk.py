"""From strip to strip, as long as none is much longer than the shortest.

Where a strip cannot be shortened, others of about its length often can. So a walk goes on from any
strip below a ceiling, which comes down: at first far off ones, in the end hardly longer ones
(threshold accepting, G. Dueck & T. Scheuer 1990, *Threshold accepting: a general purpose
optimization algorithm appearing superior to simulated annealing*, J. Comput. Phys. 90).
"""

from __future__ import annotations

import time

from kerfwright.nesting.strip_search.searcher import Searcher
from kerfwright.nesting.strip_search.trail import EXPLORING, STEP, Tell, Trail

CEILINGS = (0.01, 0.001)
"""By which share a strip may be longer than the shortest, at first and at last."""

DISTURBING_SHARE = 0.5
"""After a try in vain, share of those that look for another strip; the rest shortens this one."""

LEFT_BEHIND = 30
"""After so many tries in vain a walk above the ceiling goes on from the shortest strip."""


def walk(trail: Trail, search: Searcher, tell: Tell) -> None:
    """Walk from the shortest strip until the time is up; others may walk from it as well."""
    begun_s = time.monotonic()
    whole_s = max(search.limit.deadline_s - begun_s, 1e-3)
    here, vain, done = trail.best, 0, True
    while here is not None and not search.limit.is_reached(0):
        over = (time.monotonic() - begun_s) / whole_s
        ceiling_mm = (1.0 + falling(CEILINGS, over)) * trail.length_mm
        is_above = search.reach_mm(here) > ceiling_mm
        if is_above and vain >= LEFT_BEHIND:
            here, vain = trail.best, 0
            continue
        if is_above or done or search.random() >= DISTURBING_SHARE:
            goal_mm = (1.0 - STEP) * search.reach_mm(here)
            start = search.shortened(here, STEP * search.reach_mm(here))
        else:
            start, goal_mm = search.disturbed(here), ceiling_mm
        done, found, _ = search.drawn_apart(start, goal_mm, **EXPLORING)
        vain = 0 if done else vain + is_above
        if done:
            here = found
            trail.improve(search.reach_mm(found), found, tell)


def falling(ends: tuple[float, float], over: float) -> float:
    """From the first to the last by equal shares in equal times, as ``over`` goes from 0 to 1."""
    first, last = ends
    return float(first * (last / first) ** over)
