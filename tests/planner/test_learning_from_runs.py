"""From a plan to its runs on record, and from those to the next plan."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from kerfwright.cli import BAD_INPUT
from kerfwright.planner import plan_order
from small_shop import STOCK, SmallShop, run

SCHEMA = Path(__file__).resolve().parents[2] / "docs" / "schema" / "plan.schema.json"

PROGRAM = "01-board-offcut.nc"


@pytest.fixture(autouse=True)
def records_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "records" / "runs.sqlite"
    monkeypatch.setenv("KERFWRIGHT_RECORDS", str(place))
    return place


def clock_s(shop: SmallShop) -> float:
    seconds = shop.document()["sheets"][0]["time_s"]
    assert isinstance(seconds, float)
    return seconds


def record_slower(shop: SmallShop, times: int = 3, ratio: float = 1.1) -> None:
    for _ in range(times):
        ran = run("record", shop.out, "--seconds", f"{ratio * clock_s(shop):.3f}", "--again")
        assert ran.exit_code == 0, ran.stderr


def recorded() -> list[dict[str, Any]]:
    runs: list[dict[str, Any]] = json.loads(run("records", "--json", "--all").stdout)["runs"]
    return runs


def refused(*words: object) -> str:
    """What a command that must be refused says; nothing is recorded by it."""
    before = recorded()
    ran = run(*words)
    assert ran.exit_code == BAD_INPUT
    assert recorded() == before
    return ran.stderr


def test_three_slower_runs_make_the_next_plan_expect_it(planned: SmallShop) -> None:
    first = planned.document()
    assert first["sheets"][0]["expected"] is None
    record_slower(planned)
    second = planned.planned()
    (sheet,) = second["sheets"]
    assert sheet["time_s"] == first["sheets"][0]["time_s"], "the clock's time stays what it is"
    assert sheet["expected"]["time_s"] == pytest.approx(1.1 * sheet["time_s"], rel=1e-4)
    assert sheet["expected"]["low_s"] < sheet["expected"]["time_s"] < sheet["expected"]["high_s"]
    assert second["totals"]["expected"] == sheet["expected"]
    assert second["past_runs"]["runs"] == 3
    assert second["past_runs"]["median"] == pytest.approx(1.1, rel=1e-3)
    assert (
        list(Draft202012Validator(json.loads(SCHEMA.read_text("utf-8"))).iter_errors(second)) == []
    )
    (decision,) = (one for one in second["decisions"] if one["code"] == "records/learning")
    assert decision["chosen"] == "past runs"
    assert decision["override"] == "learn = false in [settings]"
    assert "3 recorded runs" in decision["why"]


def test_summary_and_ticket_show_range_and_runs(planned: SmallShop) -> None:
    record_slower(planned, ratio=1.25)
    ran = planned.plan()
    assert "from 3 recorded runs)" in ran.stdout
    assert "past runs took 1.25 times what it says" in ran.stdout
    assert "from 3 recorded runs)" in (planned.out / "ticket.html").read_text("utf-8")


def test_programs_and_other_decisions_go_by_the_clock_alone(shop: SmallShop) -> None:
    before, programs = shop.planned(), shop.programs()
    record_slower(shop, ratio=1.8)
    after = shop.planned()
    assert shop.programs() == programs
    assert [one for one in after["decisions"] if one["code"] != "records/learning"] == before[
        "decisions"
    ]


def test_without_runs_the_plan_says_that_there_are_none(shop: SmallShop) -> None:
    assert "No runs of trial machine recorded yet" in shop.plan().stdout
    record_slower(shop, times=2)
    ran = shop.plan()
    assert "2 runs of trial machine recorded so far" in ran.stdout
    assert shop.document()["totals"]["expected"] is None


def test_order_may_ask_for_the_clock_alone(planned: SmallShop) -> None:
    record_slower(planned)
    planned.order(settings="learn = false")
    document = planned.planned()
    assert document["sheets"][0]["expected"] is None
    assert document["past_runs"] is None
    (decision,) = (one for one in document["decisions"] if one["code"] == "records/learning")
    assert (decision["chosen"], decision["override"]) == (
        "clock alone",
        "learn = true in [settings]",
    )


def test_a_changed_machine_does_not_learn_from_runs_before_the_change(planned: SmallShop) -> None:
    record_slower(planned)
    planned.change("machine.toml", "settle_s = 0.02", "settle_s = 0.05")
    document = planned.planned()
    assert document["sheets"][0]["expected"] is None
    (finding,) = (one for one in document["findings"] if one["code"] == "records/other-clock")
    assert finding["count"] == 3


def test_a_forgotten_run_no_longer_counts(planned: SmallShop) -> None:
    record_slower(planned)
    ran = run("record", "--forget", 2)
    assert ran.exit_code == 0
    assert ran.stdout.startswith("Taken out. Run 2:")
    assert planned.planned()["sheets"][0]["expected"] is None
    assert [one["forgotten_at"] is None for one in recorded()] == [True, False, True]
    assert run("records").stdout.count("2 runs") == 1


def test_an_odd_run_is_named_with_how_to_take_it_out(planned: SmallShop) -> None:
    record_slower(planned, times=4)
    record_slower(planned, times=1, ratio=4.0)
    document = planned.planned()
    (finding,) = (one for one in document["findings"] if one["code"] == "records/far-off-run")
    assert finding["remedy"].endswith("kerfwright record --forget 5")
    assert document["past_runs"]["set_aside"] == [5]
    assert document["sheets"][0]["expected"]["time_s"] == pytest.approx(
        1.1 * clock_s(planned), rel=1e-3
    )


def test_planning_as_a_library_learns_from_nothing_unless_asked(planned: SmallShop) -> None:
    record_slower(planned)
    plan = plan_order(planned.order_file)
    assert plan.past_runs is None
    assert plan.expected is None


def test_records_that_cannot_be_read_do_not_stop_a_plan(
    shop: SmallShop, records_file: Path
) -> None:
    records_file.parent.mkdir()
    records_file.write_text("no database at all\n" * 200)
    document = shop.planned()
    (finding,) = (one for one in document["findings"] if one["code"] == "records/not-read")
    assert finding["severity"] == "warn"
    assert str(records_file) in finding["what"]
    assert document["sheets"][0]["expected"] is None


def test_planning_records_no_run(shop: SmallShop) -> None:
    shop.planned()
    assert json.loads(run("records", "--json", "--all").stdout)["runs"] == []


def test_record_holds_what_was_planned_and_what_was_said(planned: SmallShop) -> None:
    (sheet,) = planned.document()["sheets"]
    ran = run(
        *("record", planned.out / "plan.json", "--sheet", 1, "--minutes", "0:31", "--sure"),
        *("--date", "2026-05-04", "--note", "new lens", "--scrapped", 1),
    )
    assert ran.exit_code == 0, ran.stderr
    assert "2 more and plans learn from them" in ran.stdout
    (one,) = recorded()
    assert one["machine"] == "trial machine"
    assert one["material"] == "board"
    assert one["program"] == sheet["program"] == PROGRAM
    assert one["program_sha256"] == sheet["program_sha256"]
    assert one["computed_s"] == sheet["time_s"]
    assert one["by_process_s"] == sheet["time_by_process_s"]
    assert (one["actual_s"], one["ran_on"]) == (31.0, "2026-05-04")
    assert (one["note"], one["scrapped_parts"]) == ("new lens", 1)


def test_several_sheets_are_recorded_at_once(shop: SmallShop) -> None:
    shop.order(item="quantity = 8", stock=STOCK.replace("count = 1", "count = 5"))
    first, second = (sheet["time_s"] for sheet in shop.planned()["sheets"][:2])
    ran = run(
        *("record", shop.out, "--sheet", 2, "--seconds", f"{second * 1.2:.2f}"),
        *("--sheet", 1, "--seconds", f"{first:.2f}"),
    )
    assert ran.exit_code == 0, ran.stderr
    assert [(one["sheet"], round(one["ratio"], 2)) for one in recorded()] == [(2, 1.2), (1, 1.0)]


def test_the_expected_time_that_a_plan_showed_is_recorded_with_its_run(planned: SmallShop) -> None:
    record_slower(planned)
    expected = planned.planned()["sheets"][0]["expected"]["time_s"]
    record_slower(planned, times=1, ratio=1.2)
    assert [one["expected_s"] for one in recorded()] == [None, None, None, expected]
    assert recorded()[-1]["ratio"] == pytest.approx(1.2, abs=1e-3), "over the clock's own time"


def test_records_are_listed_for_people(shop: SmallShop) -> None:
    assert "No runs recorded yet" in run("records").stdout
    shop.planned()
    record_slower(shop, times=2)
    listed = run("records").stdout
    assert "trial machine: 2 runs" in listed
    assert "1.10" in listed
    assert "No runs recorded" in run("records", "--machine", "another").stdout


def test_another_place_for_the_records_may_be_named(planned: SmallShop, tmp_path: Path) -> None:
    other = ("--records", tmp_path / "other.sqlite")
    ran = run("record", planned.out, "--seconds", clock_s(planned), *other)
    assert ran.exit_code == 0, ran.stderr
    assert recorded() == []
    assert "trial machine: 1 run" in run("records", *other).stdout
    assert "1 run of trial machine recorded so far" in planned.plan(*other).stdout


def test_the_same_run_twice_is_refused(planned: SmallShop) -> None:
    words = ("record", planned.out, "--seconds", clock_s(planned))
    assert run(*words).exit_code == 0
    told = refused(*words)
    assert "--again" in told
    assert "kerfwright help records/recorded-before" in told


def test_a_time_that_cannot_be_right_needs_to_be_sure(planned: SmallShop) -> None:
    words = ("record", planned.out, "--seconds", f"{6 * clock_s(planned):.1f}")
    assert "is 6 times the" in refused(*words)
    assert run(*words, "--sure").exit_code == 0


def test_a_program_changed_since_it_was_planned_is_refused(planned: SmallShop) -> None:
    program = planned.out / PROGRAM
    program.write_text(program.read_text("ascii") + "(edited)\n", "ascii")
    words = ("record", planned.out, "--seconds", clock_s(planned))
    assert "not the one that was planned" in refused(*words)
    assert run(*words, "--sure").exit_code == 0


def test_a_plan_whose_program_was_taken_away_can_still_be_recorded(planned: SmallShop) -> None:
    (sheet,) = planned.document()["sheets"]
    (planned.out / PROGRAM).unlink()
    assert run("record", planned.out, "--seconds", sheet["time_s"]).exit_code == 0
    assert recorded()[0]["program_sha256"] == sheet["program_sha256"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--sheet", 9, "--seconds", 30], "there is no sheet 9; the plan has sheet 1"),
        (["--minutes", "soon"], '"soon" is no time'),
        (["--seconds", "0"], '"0" is no time'),
        (["--seconds", 30, "--minutes", 1], "minutes and seconds were given"),
        ([], "no time was given"),
        (["--sheet", 1, "--sheet", 1, "--seconds", 30], "2 sheets and 1 times"),
        (["--seconds", 30, "--date", "4.5.2026"], '"4.5.2026" is no day'),
        (["--seconds", 30, "--forget", 1], "--forget takes a run out"),
    ],
)
def test_what_cannot_be_recorded_is_told_with_its_remedy(
    planned: SmallShop, words: list[object], told: str
) -> None:
    assert told in refused("record", planned.out, *words)


@pytest.mark.parametrize("text", [None, "", "{}", "[]", '{"sheets": 3}', "no JSON"])
def test_what_is_no_plan_is_told(tmp_path: Path, text: str | None) -> None:
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    if text is not None:
        (folder / "plan.json").write_text(text, "utf-8")
    told = refused("record", folder, "--minutes", 3)
    assert "plan.json" in told
    assert "kerfwright help records/not-a-plan" in told


def test_parts_that_were_no_good_are_named_counted_and_can_be_made_again(shop: SmallShop) -> None:
    shop.order(item="quantity = 2")
    shop.planned()
    took = ("--seconds", clock_s(shop), "--note", "smoke")
    assert "tile#1" in refused("record", shop.out, *took, "--scrap", "tile")
    assert "records/which-part" in refused("record", shop.out, *took, "--scrap", "lid#1")
    assert "leave out" in refused("record", shop.out, *took, "--scrap", "tile#2", "--scrapped", 1)
    ran = run("record", shop.out, *took, "--scrap", "tile#2", "--scrap", "tile#2")
    assert ran.exit_code == 0, ran.stderr
    (one,) = recorded()
    assert (one["scrapped_parts"], one["note"]) == (1, "smoke; scrapped tile#2")
    line = next(line for line in ran.stdout.splitlines() if "again" in line)
    command = shlex.split(line.partition(": kerfwright ")[2])
    command[-1] = str(shop.folder / command[-1])
    again = run(*command)
    assert again.exit_code == 0, again.stderr
    assert (shop.folder / "tile-2.nc").is_file()
