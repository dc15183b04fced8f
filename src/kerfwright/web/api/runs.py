"""Runs on record: what sheets took, what was spoilt, what went out of stock and came back."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from kerfwright.errors import KerfwrightError
from kerfwright.output.planned_runs import Timed, WrittenPlan
from kerfwright.output.recorded_runs import RunRecords, run_in_words, run_records
from kerfwright.output.stock_list import LotRecord, stock_record, use_in_words
from kerfwright.shop.run_stock import record_with_stock
from kerfwright.shop.stock_records import whoever
from kerfwright.shop.stopwatch import seconds_of_minutes
from kerfwright.web import kept
from kerfwright.web.api.orders import Here, ThisOrder

router = APIRouter(tags=["runs"])


PartName = Annotated[str, Field(min_length=1, max_length=500)]


class Finished(BaseModel):
    """A run of a planned sheet, as whoever stood at the machine tells it."""

    model_config = ConfigDict(extra="forbid")

    sheet: Annotated[int, Field(ge=1, le=100_000)]
    minutes: Annotated[str, Field(min_length=1, max_length=20)]
    """What it took: 31:40, 1:02:30 or 31.5."""
    ran_on: datetime.date | None = None
    scrapped_parts: Annotated[int | None, Field(ge=0, le=1_000_000)] = None
    """How many parts were no good, where nobody says which."""
    scrapped: Annotated[tuple[PartName, ...], Field(max_length=10_000)] = ()
    """Which parts were no good, as in lid#2; they are counted by that."""
    note: Annotated[str, Field(max_length=500)] = ""
    again: bool = False
    """The same program was run another time."""
    sure: bool = False
    """Record it although it looks wrong."""
    laid_in: Annotated[str | None, Field(max_length=50)] = None
    """Label of the piece that was taken, if not the planned one."""


class Told(BaseModel):
    """What was done, in words."""

    words: list[str]


class Recorded(Told):
    """What was recorded of a run, and what can be done next."""

    spoilt: list[str] = []
    """Parts that can be made again, in full."""
    offcuts: list[LotRecord] = []
    """What came back into stock."""


@router.get("/runs")
def list_runs(
    workshop: Here,
    machine: Annotated[str, Query(max_length=200)] = "",
    forgotten: bool = False,
) -> RunRecords:
    """Recorded runs, oldest first."""
    with kept.runs(workshop) as records:
        return run_records(records.runs(machine or None, forgotten=forgotten))


@router.post("/orders/{slug}/runs", status_code=201)
def record_run(workshop: Here, order: ThisOrder, finished: Finished) -> Recorded:
    """Record what a run took; its sheet leaves the stock on record and its offcut comes in."""
    written = WrittenPlan(order.plan_folder)
    spoilt = written.parts_named(finished.sheet, finished.scrapped)
    run = written.run(_timed(finished, spoilt), sure=finished.sure)
    use = written.use(finished.sheet, laid_in=finished.laid_in)
    by = whoever()
    burned = written.burned(finished.sheet, by=by)
    with kept.runs(workshop) as records:
        (one,) = record_with_stock(
            records, [run], [use], by=by, again=finished.again, burned=burned
        )
    words = [run_in_words(one.recorded)]
    if one.taken is not None:
        words.append(use_in_words(one.taken, one.back))
    back = () if one.back is None else stock_record([one.back], 0.0).lots
    return Recorded(words=words, spoilt=list(spoilt), offcuts=list(back))


@router.delete("/runs/{number}")
def forget_run(workshop: Here, number: Annotated[int, Field(ge=1, lt=2**31)]) -> Told:
    """Take a run out: it stays on record, but nothing learns from it."""
    with kept.runs(workshop) as records:
        return Told(words=[run_in_words(records.forget(number))])


def _timed(finished: Finished, spoilt: Sequence[str]) -> Timed:
    if finished.scrapped_parts is not None and spoilt:
        raise KerfwrightError(
            "records/unclear",
            file=f"sheet {finished.sheet}",
            thing="parts are named that were no good, and their number is given too.",
            remedy="Name them, or give the number alone.",
        )
    count = len(spoilt) if spoilt else finished.scrapped_parts
    named = [f"scrapped {', '.join(spoilt)}"] if spoilt else []
    note = "; ".join([*([finished.note] if finished.note else []), *named])
    day = finished.ran_on or datetime.date.today()
    return Timed(seconds_of_minutes(finished.minutes), day, finished.sheet, note, count)
