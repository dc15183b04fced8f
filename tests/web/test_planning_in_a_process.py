"""Orders are planned in a process of its own, one after the other, and always come to an end."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from planned_shop import PlannedShop, opened, searching

from kerfwright.web.planning import plannings


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PlannedShop]:
    with opened(tmp_path_factory.mktemp("shop")) as shop:
        yield shop


def test_nothing_runs_before_the_first_planning(tmp_path: Path) -> None:
    with opened(tmp_path) as shop:
        assert shop.state()["state"] == "idle"
        assert shop.client.get("/api/planning").json() == []
        assert shop.plannings.worker_pid is None


def test_an_order_is_planned(workshop: PlannedShop) -> None:
    workshop.shop.order()
    assert workshop.page()["plan"] == "none"
    assert workshop.ask()["state"] == "planning"
    state = workshop.wait()
    assert (state["outcome"], state["findings"], state["error"]) == ("planned", [], None)
    assert state["took_s"] > 0.0
    page = workshop.page()
    assert page["plan"] == "current"
    assert len(page["plan_document"]["sheets"]) == 1
    assert (workshop.folder / "plan" / "ticket.html").is_file()


def test_what_is_asked_again_is_taken_from_memory(workshop: PlannedShop) -> None:
    workshop.ask()
    state = workshop.wait()
    pid = workshop.plannings.worker_pid
    workshop.ask()
    again = workshop.wait()
    assert again["kept"] > 0
    assert again["outcome"] == state["outcome"] == "planned"
    assert workshop.plannings.worker_pid == pid


def test_a_change_while_planning_makes_the_plan_out_of_date(workshop: PlannedShop) -> None:
    shop = workshop.add("changed-meanwhile")
    workshop.search_long(shop)
    workshop.ask("changed-meanwhile")
    workshop.wait("changed-meanwhile", searching)
    shop.change("order.toml", 'title = "Small order"', 'title = "Another title"')
    workshop.client.delete("/api/orders/changed-meanwhile/planning")
    assert workshop.wait("changed-meanwhile")["outcome"] == "planned"
    assert workshop.page("changed-meanwhile")["plan"] == "out-of-date"


def test_a_stopped_search_keeps_the_best_layout(workshop: PlannedShop) -> None:
    workshop.search_long(workshop.add("stopped"))
    workshop.ask("stopped")
    workshop.wait("stopped", searching)
    answer = workshop.client.delete("/api/orders/stopped/planning").json()
    assert answer["state"] == "stopping"
    assert workshop.wait("stopped")["outcome"] == "planned"
    document = workshop.page("stopped")["plan_document"]
    assert "nesting/stopped" in {finding["code"] for finding in document["findings"]}
    assert document["totals"]["parts"] == 30


def test_orders_wait_for_one_another_and_can_be_taken_out(workshop: PlannedShop) -> None:
    workshop.search_long(workshop.add("first"))
    workshop.add("second")
    workshop.add("third")
    workshop.ask("first")
    workshop.wait("first", searching)
    assert [workshop.ask(slug)["position"] for slug in ("second", "third")] == [1, 2]
    workshop.client.post("/api/orders/second/planning/cancel")
    assert workshop.state("second")["outcome"] == "dropped"
    assert workshop.state("third")["position"] == 1
    workshop.client.post("/api/orders/first/planning/cancel")
    assert workshop.wait("first")["outcome"] == "dropped"
    assert not (workshop.folder / "orders" / "first" / "plan").exists()
    assert workshop.wait("third")["outcome"] == "planned"


def test_asked_again_while_it_is_planned_it_begins_anew(workshop: PlannedShop) -> None:
    shop = workshop.add("anew")
    workshop.search_long(shop)
    workshop.ask("anew")
    workshop.wait("anew", searching)
    shop.order()
    workshop.ask("anew")
    assert workshop.wait("anew")["outcome"] == "planned"
    assert workshop.page("anew")["plan_document"]["totals"]["parts"] == 1


def test_an_order_that_is_wrong_says_what_and_where(workshop: PlannedShop) -> None:
    shop = workshop.add("wrong")
    shop.change("order.toml", "tile.svg", "gone.svg")
    workshop.ask("wrong")
    state = workshop.wait("wrong")
    assert state["outcome"] == "refused"
    assert state["error"]["code"] == "order/drawing-missing"
    assert state["error"]["help"] == "/help/order#drawing-missing"
    assert not state["error"]["file"].startswith("/")


def test_a_drawing_that_cannot_be_made_leaves_its_findings(workshop: PlannedShop) -> None:
    shop = workshop.add("cannot-be-made")
    shop.draw('<g id="Cut" fill="none" stroke="black"><path d="M 1,1 H 30 V 20"/></g>')
    workshop.ask("cannot-be-made")
    state = workshop.wait("cannot-be-made")
    assert state["outcome"] == "stopped"
    assert "stop" in {finding["severity"] for finding in state["findings"]}


def test_a_process_that_is_killed_is_told_of_and_replaced(workshop: PlannedShop) -> None:
    workshop.search_long(workshop.add("killed"))
    workshop.ask("killed")
    workshop.wait("killed", searching)
    pid = workshop.plannings.worker_pid
    assert pid is not None
    os.kill(pid, signal.SIGKILL)
    state = workshop.wait("killed")
    assert state["outcome"] == "refused"
    assert state["error"]["code"] == "pages/planning-broke-off"
    assert "signal 9" in state["error"]["thing"]
    workshop.ask()
    assert workshop.wait()["outcome"] == "planned"
    assert workshop.plannings.worker_pid != pid


def test_where_no_process_can_be_begun_it_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError("no more processes")

    with opened(tmp_path) as shop:
        monkeypatch.setattr(plannings, "Worker", refuse)
        assert shop.ask()["outcome"] == "refused"
        monkeypatch.undo()
        shop.ask()
        assert shop.wait()["outcome"] == "planned"


def test_the_process_ends_with_the_server(tmp_path: Path) -> None:
    with opened(tmp_path) as shop:
        shop.ask()
        shop.add("waits")
        shop.ask("waits")
        pid = shop.plannings.worker_pid
        assert pid is not None
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_an_order_that_is_not_there_cannot_be_planned(workshop: PlannedShop) -> None:
    assert workshop.client.post("/api/orders/nowhere/planning").status_code == 404
