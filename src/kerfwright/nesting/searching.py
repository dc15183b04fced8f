"""The searches that go on from a constructive filling: strips, then sheets of any shape."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from kerfwright.nesting.board import Board
from kerfwright.nesting.by_strip import fill_by_strip, is_dense
from kerfwright.nesting.fill import Preference, fill_by_corners, fill_sheets, fill_these, placed_on
from kerfwright.nesting.fill_specially import fill_by_rectangles
from kerfwright.nesting.job import FilledSheet, Filling, Job, Pinned, Wanted
from kerfwright.nesting.mending import is_legal
from kerfwright.nesting.mixes import Choice, cost_in_view, density_of, in_order, mixes
from kerfwright.nesting.model import SheetSize
from kerfwright.nesting.own_search import Effort, improved
from kerfwright.nesting.rectangles import all_rectangles
from kerfwright.nesting.showing import Showing
from kerfwright.nesting.until import Watch

OWN_SECONDS_A_PIECE = 0.08
"""Our own search gets so much for each piece, up to its share of the time."""

STRIP_SHARE = 0.8
"""Share of the time for strips on the sheets of the best layout."""

CHEAPER_SHARE = 0.7
"""Share of the remaining time for fitting everything on cheaper sheets, where some might do."""

MOST_TRIES = 2
"""So many choices of cheaper sheets are tried."""

DENSER = 1.03
"""Parts may lie so much more densely on cheaper sheets than they do on the best."""

WORTH_IT = 0.98
"""Other sheets have to cost so little, by the view from here, against those in use."""

WORTH_A_TRY_S = 0.5
"""In less time nothing fits that did not fit at once."""

WORTH_A_TRY = 100_000
"""The same in tried positions."""

OPEN_STRIP_S = 4.0
"""A search without a limit in time gives a strip this long, as a rule."""

EXACTLY_S = 0.08
"""With less time for a sheet rectangles are not searched exactly."""

Progress = Callable[[str], None]


def searched(
    job: Job,
    built: Sequence[Filling],
    watch: Watch,
    seconds: float,
    seed: int,
    say: Progress,
    showing: Showing,
) -> list[Filling]:
    """The constructive fillings and what searches made of them, the best first.

    Limited by counted work, no search looks at the clock, and no strips are searched.
    """
    best = built[0]
    count = max(len(best.sheets), 1)
    work = watch.until.work
    if watch.until.seconds is not None:
        seconds = watch.until.seconds / count
    elif watch.until.is_open or work is not None:
        seconds = math.inf
    fillings = list(built)
    if _is_for_rectangles(job):
        exactly = seconds > EXACTLY_S
        packing = partial(fill_by_rectangles, seed=seed, stop=watch.ended, exactly=exactly)
        fillings.append(fill_sheets(job, _like(best), packing, say))
        # the stable sort lets the constructive filling, whose contacts are exact, win a tie
        fillings.sort(key=lambda filling: filling.rank)
        showing.offer(fillings[0])
        if all(is_dense(filled.board) for filled in fillings[0].sheets):
            return fillings
    with_strips = work is None and not any(body.kit for body in job.bodies)
    if with_strips and any(f.sheet.plain for f in best.sheets):
        strip_s = count * (OPEN_STRIP_S if math.isinf(seconds) else STRIP_SHARE * seconds)
        in_use = in_order([(filled.sheet, filled.pinned) for filled in best.sheets])
        fillings.append(_by_strips(job, in_use, watch, strip_s, seed, say, showing))
        fillings.sort(key=lambda filling: filling.rank)
        showing.offer(fillings[0])
    if watch.ended():
        return fillings
    if work is not None:
        effort = Effort(work=count * work)
    elif watch.until.is_open or watch.until.seconds is not None:
        effort = Effort(seconds=watch.seconds_left)
    else:
        most_s = OWN_SECONDS_A_PIECE * job.wanted.total()
        effort = Effort(seconds=count * min((1.0 - STRIP_SHARE) * seconds, most_s))
    begun = next((f for f in fillings if is_legal(job, f)), fillings[0])
    choices = _cheaper(job, begun) if effort.is_at_least(WORTH_A_TRY_S, WORTH_A_TRY) else []
    for choice in choices:
        share = effort.share(CHEAPER_SHARE / len(choices))
        tried = _on(job, choice, watch, share, seed, say, showing, with_strips=with_strips)
        if tried.rank < begun.rank and is_legal(job, tried):
            fillings.append(tried)
            begun = tried
            break
    rest = effort.share(1.0 - CHEAPER_SHARE) if choices else effort
    fillings.append(improved(job, begun, watch, rest, seed, say, showing))
    fillings.sort(key=lambda filling: filling.rank)
    showing.offer(fillings[0])
    return fillings


def _by_strips(
    job: Job,
    choice: Choice,
    watch: Watch,
    seconds: float,
    seed: int,
    say: Progress,
    showing: Showing,
) -> Filling:
    """Fill plain sheets from strips; each gets the time that its room asks for.

    What a sheet does not need is for those after it.
    """
    waiting_mm2 = math.fsum(job.room(sheet).area for sheet, _ in choice if sheet.plain)
    spent_s = 0.0
    done: list[FilledSheet] = []

    def fill(job: Job, sheet: SheetSize, wanted: Wanted, pinned: Pinned) -> Board:
        nonlocal waiting_mm2, spent_s
        started = time.monotonic()
        room_mm2 = job.room(sheet).area if sheet.plain else 0.0
        share = room_mm2 / waiting_mm2 if waiting_mm2 > 0.0 else 0.0
        waiting_mm2 -= room_mm2
        given_s = share * max(seconds - spent_s, 0.0)
        begun = tuple(done)

        def shown(board: Board) -> None:
            filled = FilledSheet(sheet, board, pinned)
            showing.offer_in_turn(lambda: _completed(job, (*begun, filled), choice))

        board = fill_by_strip(
            job, sheet, wanted, pinned, seconds=given_s, seed=seed, watch=watch, shown=shown
        )
        done.append(FilledSheet(sheet, board, pinned))
        spent_s += time.monotonic() - started
        return board

    return fill_these(job, choice, fill, say)


def _completed(job: Job, filled: Sequence[FilledSheet], choice: Choice) -> Filling:
    """The first sheets of a choice as they are filled, the others filled by corners."""
    placed = sum((placed_on(one.board) for one in filled), Counter[int]())
    # what is made to be looked at only must not stay in the job's memory
    rest = replace(job, wanted=job.wanted - placed, by_corners={})
    others = fill_these(rest, choice[len(filled) :], fill_by_corners)
    in_use = [one for one in filled if one.placements]
    return Filling.of(job, [*in_use, *others.sheets], others.left)


def _cheaper(job: Job, filling: Filling) -> list[Choice]:
    """Choices of sheets that may do at a somewhat higher density, and would then cost less.

    Less by a margin, also than the sheets in use would with what such a density leaves of them.
    """
    if filling.left.total():
        return []
    density = min(DENSER * density_of(filling), 1.0)
    in_use = in_order([(filled.sheet, filled.pinned) for filled in filling.sheets])
    cost = min(filling.cost, cost_in_view(job, in_use, density))
    return mixes(job, density, below=WORTH_IT * cost, most=MOST_TRIES)


def _on(
    job: Job,
    choice: Choice,
    watch: Watch,
    effort: Effort,
    seed: int,
    say: Progress,
    showing: Showing,
    *,
    with_strips: bool,
) -> Filling:
    """Search for a layout on just these sheets."""
    if with_strips and any(sheet.plain for sheet, _ in choice):
        seconds = OPEN_STRIP_S * len(choice) if math.isinf(effort.seconds) else effort.seconds
        return _by_strips(job, choice, watch, seconds, seed, say, showing)
    begun = fill_these(job, choice, fill_by_corners)
    return improved(job, begun, watch, effort, seed, say, showing)


def _is_for_rectangles(job: Job) -> bool:
    """Whether all that is wanted are rectangles, and none is urgent or must stay with another."""
    bodies = [job.bodies[kind.body] for kind in job.kinds]
    plain = not any(body.kit for body in bodies) and len({body.rank for body in bodies}) == 1
    return plain and all_rectangles(bodies)


def _like(filling: Filling) -> Preference:
    """The kinds of sheets in the order in which a filling uses them."""
    order = {filled.sheet: n for n, filled in reversed(list(enumerate(filling.sheets)))}
    return lambda _job, sheet, _board_for: (
        float(order.get(sheet, len(order))),
        -sheet.area_mm2,
    )
