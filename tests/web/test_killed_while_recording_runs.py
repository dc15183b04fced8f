"""Killed while a run is recorded, the server has it on record whole or not at all, and once."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import Engine, event

from kerfwright.errors import KerfwrightError
from kerfwright.output.writing import write_plan
from kerfwright.planner import plan_shop
from kerfwright.shop.files import load_shop
from kerfwright.web import kept
from kerfwright.web.api.runs import Finished, Recorded, record_run
from kerfwright.web.stocked import stock_reader
from killed import kill_now, killed_in
from small_workshop import SLUG, SmallWorkshop

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="ends forks")

SHEETS = 3

TOOK = Finished(sheet=1, minutes="1:00", sure=True)


@pytest.fixture
def stocked(tmp_path: Path) -> SmallWorkshop:
    """The small order, planned from sheets on record."""
    made = SmallWorkshop(tmp_path)
    file = made.order / "order.toml"
    text = file.read_text(encoding="utf-8")
    first, rest = text.index("[[stock]]"), text.index("[settings]")
    file.write_text(f'stock_from = "records"\n{text[:first]}{text[rest:]}', encoding="utf-8")
    lot = {"material": "board", "size": "300x100", "count": SHEETS}
    made.client().post("/api/stock", json=lot).raise_for_status()
    write_plan(plan_shop(load_shop(file, stock_reader(made.workshop))), made.order / "plan")
    return made


def record(made: SmallWorkshop, finished: Finished = TOOK) -> Recorded:
    return record_run(made.workshop, made.workshop.order(SLUG), finished)


def on_record(made: SmallWorkshop) -> tuple[int, int, int]:
    """How many runs there are, how many sheets are left, and how many offcuts came back."""
    with kept.runs(made.workshop) as records:
        count = len(records.runs())
    with kept.stock(made.workshop) as stock:
        lots = stock.lots(gone=True)
    sheets = sum(lot.on_hand for lot in lots if lot.cut_from is None)
    return count, sheets, sum(lot.on_hand for lot in lots if lot.cut_from is not None)


def before_it_counts() -> None:
    event.listen(Engine, "commit", kill_now)


def before_it_is_answered() -> None:
    sys.modules[record_run.__module__].run_in_words = kill_now


def in_the_middle() -> None:
    """The run is written, and the sheet not taken yet."""

    def kill(_connection: object, _cursor: object, said: str, *_: object) -> None:
        if said.startswith("INSERT INTO stock"):
            kill_now()

    event.listen(Engine, "before_cursor_execute", kill)


@pytest.mark.parametrize("where", [in_the_middle, before_it_counts])
def test_killed_before_it_counts_nothing_is_there_and_asking_again_records_once(
    stocked: SmallWorkshop, where: Callable[[], None]
) -> None:
    assert killed_in(where, lambda: record(stocked))
    assert on_record(stocked) == (0, SHEETS, 0)
    record(stocked)
    assert on_record(stocked) == (1, SHEETS - 1, 1)


def test_killed_before_the_answer_it_is_there_and_asking_again_is_refused(
    stocked: SmallWorkshop,
) -> None:
    assert killed_in(before_it_is_answered, lambda: record(stocked))
    assert on_record(stocked) == (1, SHEETS - 1, 1)
    with pytest.raises(KerfwrightError) as refused:
        record(stocked)
    assert refused.value.code == "records/recorded-before"
    assert on_record(stocked) == (1, SHEETS - 1, 1)
    # whoever did burn it twice says so
    record(stocked, TOOK.model_copy(update={"again": True}))
    assert on_record(stocked) == (2, SHEETS - 2, 2)
