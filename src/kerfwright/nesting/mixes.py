"""Which sheets to take: choices of them that should hold everything, what they cost in view.

The choice is the covering side of the cutting-stock problem (P. C. Gilmore & R. E. Gomory 1961, *A
linear programming approach to the cutting-stock problem*, Operations Research 9): how many of each
kind, at the least cost, with area enough. How densely parts will lie is taken from a layout that
is there already; whether they really fit is seen when the sheets are filled.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from kerfwright.nesting.cost import worth_left
from kerfwright.nesting.job import Filling, Job, Pinned
from kerfwright.nesting.model import SheetSize

MOST_LOOKED_AT = 20_000
"""Choices looked at; with few kinds of sheets that is all of them."""

Choice = list[tuple[SheetSize, Pinned]]
"""Sheets in the order of filling, with what is pinned to them."""


def density_of(filling: Filling) -> float:
    """How much of the room in use parts cover, over all sheets of a filling."""
    covered_mm2 = in_use_mm2 = 0.0
    for filled in filling.sheets:
        board = filled.board
        covered_mm2 += board.covered_mm2
        in_use_mm2 += board.area_mm2 * min(board.used_width_mm / max(board.width_mm, 1e-9), 1.0)
    return covered_mm2 / in_use_mm2 if in_use_mm2 > 0.0 else 1.0


def in_order(choice: Choice) -> Choice:
    """What has something pinned to it first, then offcuts, then new sheets, the largest last.

    Odd shapes of each come first, since no strip can be laid on them: they get the plates, which
    lie densely at once. What is left over is left of the largest.
    """
    return sorted(
        choice,
        key=lambda entry: (not entry[1], not entry[0].offcut, entry[0].plain, entry[0].area_mm2),
    )


def mixes(job: Job, density: float, *, below: float, most: int) -> list[Choice]:
    """Choices of sheets that hold everything at this density and cost less than ``below``.

    At most so many, the cheapest first: what the sheets cost less the worth of what should be
    left of the largest.
    """
    pinned = list(job.pinned)
    rooms = {sheet: job.room(sheet).area * density for sheet in job.sheets}
    there_mm2 = math.fsum(job.room(*entry).area * density for entry in pinned)
    needed_mm2 = job.area_mm2(job.wanted) - there_mm2
    # the best value first, so that a dear choice is seen to be dear early
    kinds = sorted(job.sheets, key=lambda s: (job.price(s) / max(rooms[s], 1e-9), s.name))
    taken = {sheet: sum(one == sheet for one, _ in pinned) for sheet in kinds}
    stock = [sheet.count - taken[sheet] for sheet in kinds]
    found: list[tuple[float, Choice]] = []
    for counts in _covers(
        [rooms[s] for s in kinds], [job.price(s) for s in kinds], stock, needed_mm2, 2.0 * below
    ):
        chosen = [(s, ()) for s, count in zip(kinds, counts, strict=True) for _ in range(count)]
        choice = in_order([*pinned, *chosen])
        cost = cost_in_view(job, choice, density)
        if cost < below:
            found.append((round(cost, 6), choice))
    found.sort(key=lambda entry: (entry[0], len(entry[1])))
    return [choice for _, choice in found[:most]]


def _covers(
    rooms: list[float], prices: list[float], stock: list[int], needed: float, most: float
) -> Iterator[list[int]]:
    """Counts of each kind that together hold what is needed and no sheet too many."""
    looked_at = 0
    waiting: list[tuple[list[int], float, float]] = [([], needed, most)]
    while waiting and looked_at < MOST_LOOKED_AT:
        counts, missing, money = waiting.pop()
        looked_at += 1
        kind = len(counts)
        if missing <= 0.0:
            yield counts + [0] * (len(rooms) - kind)
            continue
        if kind == len(rooms):
            continue
        enough = math.ceil(missing / rooms[kind]) if rooms[kind] > 0.0 else 0
        for count in range(min(stock[kind], enough) + 1):
            cost = count * prices[kind]
            if cost <= money:
                waiting.append(([*counts, count], missing - count * rooms[kind], money - cost))


def cost_in_view(job: Job, choice: Choice, density: float) -> float:
    """What a choice costs, less the worth of what such a density should leave of its last sheet.

    That is a rectangle beside everything, as high as the sheet.
    """
    cost = math.fsum(job.price(sheet) for sheet, _ in choice)
    if not job.priced or not choice:
        return cost
    room_mm2 = math.fsum(job.room(*entry).area for entry in choice)
    spare_mm2 = max(room_mm2 - job.area_mm2(job.wanted) / density, 0.0)
    last = choice[-1][0]
    width_mm = min(spare_mm2 / last.height_mm, last.width_mm)
    return cost - float(worth_left(last, width_mm, last.height_mm, job.prices))
